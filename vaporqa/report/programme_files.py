"""The roll-up of a programme as files: a page, tables, and JSON, put in place together."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
import shutil
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from vaporqa.errors import OutputError, Problem, UsageError
from vaporqa.outcomes import Standing
from vaporqa.programme import Member, PooledDuplicates, PooledGroup, Programme
from vaporqa.report.aside import ASIDE
from vaporqa.report.machine import as_json
from vaporqa.report.programme_page import programme_page
from vaporqa.report.wording import defused, plain_number
from vaporqa.report.writing import told, undisturbed

#: Version of the shape of programme.json.
FORMAT = 1
#: An earlier roll-up is known by this file.
PROGRAMME_FILE = "programme.json"
PAGE = "programme.html"
_FOLDERS, _RULES = "programme.csv", "programme_rules.csv"
_LABORATORIES, _CREWS = "programme_laboratories.csv", "programme_crews.csv"
_DUPLICATES = "programme_duplicates.csv"
FILES = (PROGRAMME_FILE, PAGE, _FOLDERS, _RULES, _LABORATORIES, _CREWS, _DUPLICATES)
_STANDINGS = tuple(standing.word for standing in Standing)


def prepare(out: Path, names: Sequence[str]) -> None:
    """Make `out` ready: refuse what is not ours, see whether it can be written, and take an earlier roll-up away.

    A run that is cut short then leaves no roll-up beside reports that it does not count.

    Parameters
    ----------
    out : Path
    names : sequence of str
        Folders of the reports below it.

    Raises
    ------
    UsageError
        A folder is called as a file of the roll-up.
    OutputError
        `out` is a file, holds files of these names that no roll-up wrote, or cannot be written.
    """
    taken = sorted({name.split("/", 1)[0].casefold() for name in names} & set(FILES))
    if taken:
        raise UsageError(Problem("", 0, 0, f"a folder is called '{taken[0]}', as a file of the roll-up", "rename it"))
    if out.is_file():
        raise OutputError(Problem(str(out), 0, 0, "this is a file, not a folder", "name a new folder with --out"))
    there = [name for name in FILES if (out / name).exists()]
    if there and not _is_earlier(out):
        message = f"the folder holds a file '{there[0]}' that no earlier run wrote"
        raise OutputError(Problem(str(out), 0, 0, message, "name another folder with --out"))
    with told(out):
        out.mkdir(parents=True, exist_ok=True)
        for name in there:
            (out / name).unlink()
        Path(tempfile.mkdtemp(prefix=ASIDE, dir=out)).rmdir()


def _is_earlier(out: Path) -> bool:
    try:
        found = json.loads((out / PROGRAMME_FILE).read_bytes())
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(found, dict) and "format" in found and "folders" in found


def write_programme(programme: Programme, out: Path) -> None:
    """Write the roll-up into `out`, which `prepare` made ready.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    contents = {
        PROGRAMME_FILE: as_json(programme_json(programme)),
        _FOLDERS: _csv(FOLDER_COLUMNS, map(_folder_cells, programme.members)),
        _RULES: _csv(RULE_COLUMNS, (dataclasses.astuple(one) for one in programme.rules)),
        _LABORATORIES: _csv(_group_columns("laboratory"), map(_group_cells, programme.laboratories)),
        _CREWS: _csv(_group_columns("crew"), map(_group_cells, programme.crews)),
        _DUPLICATES: _csv(
            DUPLICATE_COLUMNS,
            (dataclasses.astuple(one) for one in (programme.duplicates, *programme.duplicates_by_analyte)),
        ),
        PAGE: programme_page(programme),
    }
    with told(out):
        aside = Path(tempfile.mkdtemp(prefix=ASIDE, dir=out))
        try:
            for name, content in contents.items():
                (aside / name).write_bytes(content)
            with undisturbed():
                for name in contents:
                    (aside / name).replace(out / name)
        finally:
            with undisturbed():
                shutil.rmtree(aside, ignore_errors=True)


FOLDER_COLUMNS = (
    "name", "folder", "end", "project", "profiles", "samples", "results", *_STANDINGS, "findings", "worst_of_any_row",
    "error",
)  # fmt: skip
RULE_COLUMNS = (
    "rule", "title", "folders_broken", "findings_broken", "results_under_broken", "folders_unproven",
    "findings_unproven",
)  # fmt: skip
#: The first line is over all analytes: its name and number are empty.
DUPLICATE_COLUMNS = (
    "analyte", "cas", "folders", "pairs", "both_detected", "neither_detected", "rejected", "largest_rpd_percent",
    "pooled_rsd_percent",
)  # fmt: skip


def _group_columns(word: str) -> tuple[str, ...]:
    return (word, "folders", "results", *_STANDINGS, "not_usable_as_reported", "failure_rate_percent", "few_results")


def _folder_cells(one: Member) -> tuple[Any, ...]:
    if one.summary is None:
        return (one.name, one.folder, one.end.value, *[""] * (len(FOLDER_COLUMNS) - 4), one.error)
    found = one.summary
    return (
        one.name, one.folder, one.end.value, found.project, " ".join(found.profiles), found.samples,
        sum(found.results), *found.results, found.findings, Standing(found.worst).word, one.error,
    )  # fmt: skip


def _group_cells(one: PooledGroup) -> tuple[Any, ...]:
    rate = 100.0 * one.rate
    return (one.name, one.folders, one.results, *one.counts, one.failed, rate, "yes" if one.few else "no")


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode("utf-8", "backslashreplace")


def _cell(value: Any) -> str:
    return plain_number(value) if isinstance(value, float) else defused(str(value))


def programme_json(programme: Programme) -> dict[str, Any]:
    """Return the roll-up as JSON values; the same for the same folders."""
    return {
        "format": FORMAT,
        "folders": [
            dict(zip(FOLDER_COLUMNS, _folder_values(one), strict=True)) for one in programme.members
        ],
        "results": dict(zip(_STANDINGS, programme.results, strict=True)),
        "rules": [dict(zip(RULE_COLUMNS, dataclasses.astuple(one), strict=True)) for one in programme.rules],
        "laboratories": [_group_json("laboratory", one) for one in programme.laboratories],
        "crews": [_group_json("crew", one) for one in programme.crews],
        "duplicates": {
            **_duplicates_json(programme.duplicates),
            "by_analyte": [_duplicates_json(one) for one in programme.duplicates_by_analyte],
        },
    }  # fmt: skip


def _folder_values(one: Member) -> list[Any]:
    return [None if cell == "" else cell for cell in _folder_cells(one)]


def _group_json(word: str, one: PooledGroup) -> dict[str, Any]:
    return {name: _known(cell) for name, cell in zip(_group_columns(word), _group_cells(one), strict=True)}


def _duplicates_json(one: PooledDuplicates) -> dict[str, Any]:
    return {name: _known(cell) for name, cell in zip(DUPLICATE_COLUMNS, dataclasses.astuple(one), strict=True)}


def _known(value: Any) -> Any:
    return None if isinstance(value, float) and math.isnan(value) else value

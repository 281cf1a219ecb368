"""`inspect`: a stranger's file looked at as a whole, and the mapping that is drafted from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from vaporqa.analytes import resolve
from vaporqa.errors import FolderError, Problem, UsageError, did_you_mean
from vaporqa.intake.grids import TextFile
from vaporqa.intake.headings import plain
from vaporqa.intake.inspect_columns import ColumnFacts, cellwise, describe_column, footer_rows, record_rows
from vaporqa.intake.inspect_draft import draft_mapping
from vaporqa.intake.inspect_entries import DraftMapping, Entry, Ground, JoinedTime, asked
from vaporqa.intake.inspect_files import OpenedFile, open_file
from vaporqa.intake.inspect_headers import HeaderPlace, find_header
from vaporqa.intake.inspect_matching import NEAR, TableMatch, match_tables
from vaporqa.intake.inspect_times import TimeFit, fit_times
from vaporqa.intake.mapping import Layout
from vaporqa.intake.notes import Notes
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.values import Bool, Int64

#: Columns described one by one; a file with more is a wide table, and the rest are named.
COLUMNS_AT_MOST = 300


@dataclass(frozen=True, slots=True)
class Inspection:
    """What a look at a file found.

    Attributes
    ----------
    opened : OpenedFile
    header : HeaderPlace
    file : TextFile
        The cells under the header.
    footer : tuple of int
        Physical rows at the end that hardly hold anything.
    facts : tuple of ColumnFacts
        One a header, `COLUMNS_AT_MOST` at most.
    remarks : tuple of str
        What the reader set aside, such as a repeated header.
    problems : tuple of Problem
        What would stop a run, such as two headers that are the same.
    tables : tuple of TableMatch
        Best first.
    chosen : TableMatch
    drafts : tuple of DraftMapping
        The table's own, and one that is derived from it where that helps.
    repeated_keys : int
        Rows of results whose sample and analyte stand in an earlier row too.
    """

    opened: OpenedFile
    header: HeaderPlace
    file: TextFile
    footer: tuple[int, ...]
    facts: tuple[ColumnFacts, ...]
    remarks: tuple[str, ...]
    problems: tuple[Problem, ...]
    tables: tuple[TableMatch, ...]
    chosen: TableMatch
    drafts: tuple[DraftMapping, ...]
    repeated_keys: int


def inspect_file(path: Path, *, table: str = "", sheet: str = "", header_row: int = 0) -> Inspection:
    """Look at a file and draft how it may be mapped; nothing is written.

    Parameters
    ----------
    path : Path
    table : str
        The table that it feeds; empty for the one that fits best.
    sheet : str
        Of a workbook; empty for the largest.
    header_row : int
        Physical row of the column names; 0 to look for it.

    Raises
    ------
    UsageError
        There is no such file, sheet or table, or no header there.
    FolderError
        The file cannot be read as what its name says.
    """
    if table and table not in TABLES:
        mend = did_you_mean(table, list(TABLES)) or "run `vaporqa tables` for all names"
        raise UsageError(Problem("", 0, 0, f"there is no table '{table}'", mend))
    opened = open_file(path, sheet)
    place = find_header(opened.top, header_row)
    if place is None:
        message = f"row {header_row} is empty, or it is not among the first {len(opened.top)} rows of the file"
        raise UsageError(Problem(str(path), 0, 0, message, "name the physical row of the column names"))
    notes = Notes()
    file = opened.read(Layout(header_row=place.row, skip_rows=place.units_rows), notes)
    if file is None:
        raise FolderError(Problem(str(path), one.line, one.column, one.message, one.mend) for one in notes.problems)
    footer = () if opened.sampled else footer_rows(file)
    kept = record_rows(file, footer)
    headers = file.headers[:COLUMNS_AT_MOST]
    facts = tuple(describe_column(file, at, kept) for at in range(len(headers)))
    tables = match_tables(headers, facts, [path.stem, opened.sheet])
    chosen = next((one for one in tables if one.table == table), tables[0])
    ground, repeats = _ground(file, facts, kept, place, chosen)
    drafts = [_with_layout(draft_mapping(chosen, ground), opened, place, footer)]
    if chosen.table == "results" and "sample_id" in chosen.matches:
        drafts.append(draft_mapping(_derived_samples(tables, chosen), ground, "results"))
    said = ("rows skipped, as declared", f"the header stands in row {place.row}, as declared")
    remarks = tuple(remark.text for remark in notes.remarks if not remark.text.startswith(said))
    return Inspection(opened, place, file, footer, facts, remarks, tuple(notes.problems), tables, chosen,
                      tuple(drafts), repeats)  # fmt: skip


#: Columns of results whose headers may say something of the sample too.
_OF_THE_SAMPLE = ("sample_id", "collected_at", "received_at", "laboratory")


def _derived_samples(tables: Sequence[TableMatch], results: TableMatch) -> TableMatch:
    """Return what the samples table would get from a file of results: of the headers that results do not take."""
    derived = next(one for one in tables if one.table == "samples")
    taken = {one.at for name, found in results.matches.items() if name not in _OF_THE_SAMPLE for one in found}
    matches = {"sample_id": results.matches["sample_id"]} | {
        name: free
        for name, found in derived.matches.items()
        if name != "sample_id" and (free := tuple(one for one in found if one.at not in taken and one.ground != NEAR))
    }
    return replace(derived, matches=matches, absent=())


def _with_layout(draft: DraftMapping, opened: OpenedFile, place: HeaderPlace, footer: tuple[int, ...]) -> DraftMapping:
    """Put before the entries of a draft where in the file the table stands."""
    layout: list[Entry] = []
    if opened.sheet:
        why = "the only sheet" if len(opened.sheets) == 1 else "the sheet that was looked at"
        layout.append(Entry(("sheet",), (opened.sheet,), False, why))
    first = next((row.row for row in opened.top if row.filled), 1)
    if opened.kind != "Parquet" and (place.row != first or not place.sure):
        others = ", ".join(str(one.row) for one in place.candidates[1:])
        text = str(place.row) if place.sure else asked(str(place.row))
        reason = (
            f"rows with content above it: {len(place.preamble)}"
            if place.sure
            else f"row {others} may be the header too"
        )
        layout.append(Entry(("header_row",), (text,), False, reason))
    if place.units_rows or footer:
        texts = [*map(str, place.units_rows), *(asked(str(row)) for row in footer)]
        words = ["units under the header"] * bool(place.units_rows) + ["hardly a cell filled at the end"] * bool(footer)
        layout.append(Entry(("skip_rows",), tuple(texts), True, "; ".join(words)))
    return DraftMapping(draft.table, draft.source, (*layout, *draft.entries), draft.unused)


def _ground(
    file: TextFile, facts: Sequence[ColumnFacts], kept: Bool, place: HeaderPlace, match: TableMatch
) -> tuple[Ground, int]:
    headers = file.headers[: len(facts)]
    row_units = {
        at: place.units[header.field - 1]
        for at, header in enumerate(headers)
        if header.field <= len(place.units) and place.units[header.field - 1]
    }
    repeats, longer = _repeated_keys(file, facts, kept, match)
    ground = Ground(
        headers, facts, row_units, _joined(file, facts, kept, match), _cas_of(file, facts, kept, match), longer
    )
    return ground, repeats


def _joined(file: TextFile, facts: Sequence[ColumnFacts], kept: Bool, match: TableMatch) -> Mapping[int, JoinedTime]:
    """Return dates and times of day that are read together, by the column that a heading gives to the table.

    That is the date's where both headings say the same (``Date Analyzed``, ``Time Analyzed``), and the clock's where
    one date serves several (``Date``, ``Start Time``, ``End Time``).
    """
    found: dict[int, JoinedTime] = {}
    asked_for = {found_at.at for matches in match.matches.values() for found_at in matches}
    dates = [at for at, one in enumerate(facts) if one.times.reads and (one.times.dates or one.times.together)]
    for clock in [at for at, one in enumerate(facts) if one.clock]:
        words = set(plain(facts[clock].header.name).split()) - {"time", "of", "day"}
        related = [at for at in dates if set(plain(facts[at].header.name).split()) - {"date"} == words]
        near = [at for at in dates if abs(at - clock) == 1]
        only = dates if len(dates) == 1 else []
        date = next(iter((*related, *near, *only)), -1)
        key = clock if clock in asked_for and not related else date
        if date < 0 or key in found:
            continue
        found[key] = JoinedTime(date, clock, bool(related), _read_together(file, date, clock, kept))
    return found


def _read_together(file: TextFile, date: int, clock: int, kept: Bool) -> TimeFit:
    import pyarrow as pa

    one, other = cellwise(file.columns[date]), cellwise(file.columns[clock])
    pairs = np.unique(np.stack([one.codes[kept], other.codes[kept]]), axis=1)
    texts = {f"{one.texts[a]} {other.texts[b]}".strip() for a, b in pairs.T.tolist() if one.texts[a]}
    return fit_times(pa.array(sorted(texts), pa.string()))


def _cas_of(file: TextFile, facts: Sequence[ColumnFacts], kept: Bool, match: TableMatch) -> Mapping[str, str]:
    """Return what the analyte's name says of each CAS number that a spreadsheet turned into something else."""
    if not {"cas", "analyte"} <= match.matches.keys():
        return {}
    at = match.matches["cas"][0].at
    numbers, names = cellwise(file.columns[at]), cellwise(file.columns[match.matches["analyte"][0].at])
    found = {}
    for text in facts[at].mangled:
        rows = kept & np.isin(numbers.codes, [code for code, other in enumerate(numbers.texts) if other == text])
        meant = {resolve(names.texts[code]) for code in np.unique(names.codes[rows]).tolist()}
        if len(meant) == 1 and (only := meant.pop()) is not None:
            found[text] = only
    return found


def _repeated_keys(file: TextFile, facts: Sequence[ColumnFacts], kept: Bool, match: TableMatch) -> tuple[int, str]:
    """Return rows of results whose key stands above, and the unmapped header that tells nearly all of them apart."""
    parts = [name for name in ("sample_id", "cas", "analyte", "method", "run_id", "fraction") if name in match.matches]
    if match.table != "results" or "sample_id" not in parts or not {"cas", "analyte"} & set(parts):
        return 0, ""
    key = np.zeros(int(kept.sum()), np.int64)
    for name in parts:
        key = _with_part(key, file.columns[match.matches[name][0].at], kept)
    repeats = len(key) - len(np.unique(key))
    if not repeats:
        return 0, ""
    samples = facts[match.matches["sample_id"][0].at].distinct
    used = {one.at for name, found in match.matches.items() if name in _NO_PART for one in found}
    best, left = "", repeats
    for at, one in enumerate(facts):
        # What tells samples apart names a place: a text that a few samples share and that no number or time is.
        if at in used or one.is_numeric or one.times.reads or not 1 < one.distinct <= max(samples, 2):
            continue
        longer = _with_part(key, file.columns[at], kept)
        still = len(longer) - len(np.unique(longer))
        if still < left and still * 10 <= repeats:
            best, left = one.header.text, still
    return repeats, best


#: Columns that no part of a sample's name stands in.
_NO_PART = ("sample_id", "cas", "analyte", "method", "run_id", "fraction", "unit", "lab_flag", "laboratory", "kind",
            "detected", "batch_id", "run_kind")  # fmt: skip


def _with_part(key: Int64, column: Any, kept: Bool) -> Int64:
    cells = cellwise(column)
    texts, where = np.unique(np.array(cells.texts, dtype=object).astype(str), return_inverse=True)
    joined = key * len(texts) + where[cells.codes[kept]]
    found: Int64 = np.unique(joined, return_inverse=True)[1].astype(np.int64)
    return found

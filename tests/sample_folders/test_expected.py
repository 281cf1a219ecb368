"""The program's flags and findings of each sample folder against what the fault lists say must come out."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path

import pyarrow.parquet as pq
import pytest
import yaml
from expected import Said, Verdict, expect
from faults import RULE_ORDER
from make import FOLDERS, SAMPLE_INPUTS, build

RULES = Path(__file__).resolve().parents[2] / "rules"
NUMBERS = ("final_value", "final_limit")
SHOWN = 40


def shipped() -> frozenset[str]:
    """Ids of the rules that exist."""
    files = [yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(RULES.glob("*.yaml"))]
    return frozenset(rule["id"] for file in files for rule in file.get("rules") or [])


def read(path: Path) -> list[dict[str, str]]:
    """Rows of a comma-separated file."""
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@pytest.fixture(scope="session", params=FOLDERS)
def checked(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Name of a folder and where its run was written."""
    name = str(request.param)
    out = tmp_path_factory.mktemp(name) / "run"
    command = [sys.executable, "-m", "vaporqa", "check", str(SAMPLE_INPUTS / name), "--out", str(out)]
    run = subprocess.run([*command, "--fail-on", "never"], capture_output=True, text=True, check=False, timeout=600)
    assert run.returncode == 0, run.stderr
    return name, out


def cell(name: str, text: str) -> str | float:
    """A cell as it is compared: numbers by value."""
    return float(text) if name in NUMBERS and text else text


def differences(table: str, wanted: list[Verdict], found: list[dict[str, str]]) -> Iterable[str]:
    """One line for each cell that is not as it must be."""
    if len(wanted) != len(found):
        yield f"{table}: {len(found)} rows, must be {len(wanted)}"
    for verdict, row in zip(wanted, found, strict=False):
        for place in fields(Verdict):
            if place.name.startswith("final_") and table != "results":
                continue
            must, got = getattr(verdict, place.name), row[place.name]
            if cell(place.name, must) != cell(place.name, got):
                yield f"{table}/{verdict.key} {place.name}: {got!r}, must be {must!r}"


def content_of(file: str, data: bytes) -> object:
    """What is compared of a file: packed files by what they hold, since another compressor packs otherwise."""
    if file.endswith(".xlsx"):
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            return {part: package.read(part) for part in package.namelist()}
    if file.endswith(".parquet"):
        table = pq.read_table(io.BytesIO(data))
        return table.schema.names, [str(kind) for kind in table.schema.types], table.to_pylist()
    return data


@pytest.mark.parametrize("name", FOLDERS)
def test_the_folders_are_what_the_generator_writes(name: str) -> None:
    folder, _ = build(name)
    place = SAMPLE_INPUTS / name
    found = {path.relative_to(place).as_posix(): path.read_bytes() for path in place.rglob("*") if path.is_file()}
    wanted = folder.files()
    assert {file: content_of(file, found[file]) for file in found} == {
        file: content_of(file, wanted[file]) for file in wanted
    }


def test_every_flag_is_as_the_fault_list_says(checked: tuple[str, Path]) -> None:
    name, out = checked
    verdicts, _ = expect(*build(name), shipped())
    lines = [
        line
        for table, wanted in verdicts.items()
        for line in differences(table, wanted, read(out / "flags" / f"{table}.csv"))
    ]
    assert not lines, "\n".join([f"{name}: {len(lines)} differences", *lines[:SHOWN]])


def test_the_findings_are_those_of_the_fault_list(checked: tuple[str, Path]) -> None:
    name, out = checked
    _, said = expect(*build(name), shipped())
    wanted = Counter(said)
    found = Counter(
        Said(row["rule"], row["table"], row["key"], row["outcome"], row["effect"])
        for row in read(out / "findings.csv")
        if row["effect"] != "caution"
    )
    lines = [f"missing ({n}x) {s}" for s, n in (wanted - found).items()]
    lines += [f"unexpected ({n}x) {s}" for s, n in (found - wanted).items()]
    assert not lines, "\n".join([f"{name}: {len(lines)} differences", *lines[:SHOWN]])


def test_nothing_is_wrong_with_larkspur_yard() -> None:
    verdicts, said = expect(*build("larkspur-yard"), RULE_ORDER)
    assert not said
    assert {v.standing for rows in verdicts.values() for v in rows} == {"usable"}

"""A whole run over a sample folder: what the flag files promise holds for every row of every table."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

import vaporqa
from vaporqa.report.flagged import own_columns

HOME = Path(__file__).parents[2] / "sample_inputs"


def read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[vaporqa.Checked, Path]:
    checked = vaporqa.check(HOME / "alder-crossing")
    return checked, checked.write(tmp_path_factory.mktemp("runs") / "out")


def test_every_row_that_is_not_usable_says_why(run: tuple[vaporqa.Checked, Path]) -> None:
    checked, out = run
    for name, table in checked.review.tables.tables.items():
        rows = read(out / "flags" / f"{name}.csv")
        assert len(rows) == table.rows
        for row in rows:
            assert row["standing"] in ("usable", "estimated", "unproven", "rejected")
            assert row["reasons"] or row["standing"] == "usable"
            assert bool(row["rules"]) == bool(row["findings"])


def test_every_finding_named_by_a_row_stands_in_findings(run: tuple[vaporqa.Checked, Path]) -> None:
    checked, out = run
    findings = {row["finding"]: row for row in read(out / "findings.csv")}
    assert len(findings) == len(checked.review.findings)
    for name in checked.review.tables.tables:
        for row in read(out / "flags" / f"{name}.csv"):
            named = [one for one in row["findings"].split("; ") if one]
            assert {findings[one]["rule"] for one in named} == {one for one in row["rules"].split("; ") if one}
            assert all(findings[one]["reason"] in row["reasons"] for one in named)


def test_the_files_own_cells_come_back_in_their_own_order(run: tuple[vaporqa.Checked, Path]) -> None:
    _, out = run
    source, flagged = read(HOME / "alder-crossing" / "results.csv"), read(out / "flags" / "results.csv")
    headers = [header for header in source[0] if header not in own_columns("results")]
    for before, after in zip(source, flagged, strict=True):
        assert [after[header] for header in headers] == [before[header] for header in headers]
    lines = (HOME / "alder-crossing" / "results.csv").read_text(encoding="utf-8").splitlines()
    for row in flagged[:: max(len(flagged) // 50, 1)]:
        assert row["sample_id"] in lines[int(row["source_line"]) - 1]


def test_frames_agree_with_the_files(run: tuple[vaporqa.Checked, Path]) -> None:
    checked, out = run
    for name, frame in checked.flags.items():
        rows = read(out / "flags" / f"{name}.csv")
        assert list(frame.columns) == list(rows[0])
        assert frame["findings"].tolist() == [row["findings"] for row in rows]

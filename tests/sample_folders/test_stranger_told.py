"""What a reader is told of the third party's delivery: the right names, the likeliest slip, every decision."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from make import SAMPLE_INPUTS

import vaporqa.cli as cli

FOLDER = SAMPLE_INPUTS / "bramblegate-dyeworks"


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("told") / "run"
    assert cli.run(["check", str(FOLDER), "--out", str(place)]) == 0  # nothing is rejected
    return place


@pytest.fixture(scope="module")
def reasons(out: Path) -> dict[tuple[str, str], str]:
    """Rule and key of each finding -> its reason."""
    with (out / "findings.csv").open(encoding="utf-8", newline="") as lines:
        return {(row["rule"], row["key"]): row["reason"] for row in csv.DictReader(lines)}


def test_a_misnamed_row_names_no_other_row(reasons: dict[tuple[str, str], str]) -> None:
    named = {key for (_, key), reason in reasons.items() if "Chloroform" in reason}
    assert named == {"BG/01/79-01-6/TO-15#2"}
    assert reasons["below-reporting-limit", "BG/06/79-01-6/TO-15#2"].startswith("Trichloroethene: 1.64 ug/m3")


def test_the_likeliest_slip_of_a_date_is_the_first_candidate(reasons: dict[tuple[str, str], str]) -> None:
    reason = reasons["dates-in-order", "BG/02/156-59-2/TO-15#2"]
    assert "candidates: analysed 2026-04-24 (year off by one), " in reason
    assert "..." not in reason


def test_the_steady_offset_names_the_temperature(reasons: dict[tuple[str, str], str]) -> None:
    # 24.465404 / 24.055117 = 1.01706: the molar volumes at 25 and at 20 degC.
    assert "1.7 %" in reasons["forms-agree", "*:Laboratory A"]
    assert "20.0 degC" in reasons["forms-agree", "*:Laboratory A"]


def test_the_number_that_was_meant_and_the_number_that_was_written_are_offered(
    reasons: dict[tuple[str, str], str],
) -> None:
    assert "75-01-4" in reasons["cas-number", "BG/01/2075-01-04/TO-15#2"]
    assert "the nearest reading is 0.034?" in reasons["readable-number", "BG-21/108-88-3/8260"]
    both = "2026-05-06 10:15:00 or 2026-06-05 10:15:00?"
    assert both in reasons["readable-time", "BG-23/108-88-3/8260"]


@pytest.mark.parametrize(
    "said",
    [
        "the header stands in row 6, as declared; the rows above it are not read",
        "rows skipped, as declared: 7, 45, 46",
        "the header stands again in line 32; set aside",
        "are of kind surrogate, as declared",
        "&#39;BG/05DL&#39; of &#39;BG/05&#39;",
        "cells end in a declared zone",
        "numbers are read as the workbook&#39;s serial days",
        "read as Windows-1252 (cp1252)",
        "read as dates, as declared",
        "3 rows became 6",
        "the format &#39;%m/%d/%y %H:%M&#39; reads",
        "rows without a key make no row of samples",
        "laboratory flags",
    ],
)
def test_every_decision_of_the_mapping_stands_in_the_report(said: str, out: Path) -> None:
    assert said in (out / "report.html").read_text(encoding="utf-8")

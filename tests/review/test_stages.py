"""The validation stage that can be claimed, on a sample folder and on what is left when evidence is taken away.

The content of the stages is that of EPA 540-R-08-005 (2009), from memory. C33 of the list of criteria: without
calibration checks the stage is 2A at most, and the check is said not to have been performed.
"""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest

import vaporqa
from vaporqa.review.stages import Done, ValidationStage, stage_of

HOME = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"


def folder(tmp_path: Path, stage: str, *, without: tuple[str, ...] = (), leave_out: str = "") -> Path:
    """Copy the sample folder, at another stage, without tables or kinds of control rows."""
    copy = tmp_path / "yard"
    shutil.copytree(HOME, copy)
    text = (copy / "project.yaml").read_text(encoding="utf-8").replace("stage: 2A", f"stage: {stage}")
    (copy / "project.yaml").write_text(text + leave_out, encoding="utf-8")
    for name in without:
        if "." in name:
            (copy / name).unlink()
            continue
        for table in ("lab_qc.csv", "results.csv"):
            with (copy / table).open(newline="", encoding="utf-8") as file:
                rows = list(csv.DictReader(file))
            with (copy / table).open("w", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, list(rows[0]))
                writer.writeheader()
                writer.writerows(row for row in rows if row["kind"] != name)
    return copy


def claimed(path: Path) -> ValidationStage:
    return stage_of(vaporqa.check(path).review)


@pytest.mark.parametrize("stage", ["1", "2A"])
def test_never_more_than_declared(tmp_path: Path, stage: str) -> None:
    assert claimed(folder(tmp_path, stage)).supported == stage


@pytest.mark.parametrize(
    "missing", [("control_sample", "control_sample_duplicate"), ("surrogate",), ("method_blank",)], ids="-".join
)
def test_without_a_part_of_2a_stage_1_is_left(tmp_path: Path, missing: tuple[str, ...]) -> None:
    found = claimed(folder(tmp_path, "2A", without=missing))
    assert (found.supported, found.in_part) == ("1", "1")


def test_without_custody_nothing_can_be_claimed_and_it_is_said_why(tmp_path: Path) -> None:
    found = claimed(folder(tmp_path, "2A", without=("custody.csv",)))
    assert (found.supported, found.in_part) == ("", "")
    part = next(one for one in found.checks if one.name == "receipt and custody")
    assert part.done is Done.NOT
    assert part.reason
    assert "custody-order" in [one.rule for one in found.not_performed]


def test_c33_without_calibration_checks_stage_2b_cannot_be_claimed(tmp_path: Path) -> None:
    copy = folder(tmp_path, "2B")
    assert "calibration_check" not in (copy / "lab_qc.csv").read_text(encoding="utf-8")
    found = claimed(copy)
    assert (found.supported, found.in_part) == ("2A", "2A")
    assert next(one for one in found.checks if one.name == "calibration checks").done is Done.NOT


def test_a_part_for_some_results_only_is_a_part(tmp_path: Path) -> None:
    copy = folder(tmp_path, "2A")
    text = (copy / "results.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    one = rows[0]["sample_id"]
    with (copy / "results.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(row for row in rows if not (row["sample_id"] == one and row["kind"] == "surrogate"))
    found = claimed(copy)
    part = next(check for check in found.checks if check.name == "surrogates")
    assert part.done is Done.IN_PART
    assert part.uncovered == sum(row["sample_id"] == one and row["kind"] in ("target", "") for row in rows)
    assert (found.supported, found.in_part) == ("1", "2A")


def test_what_is_left_out_is_not_performed(tmp_path: Path) -> None:
    found = claimed(folder(tmp_path, "2A", leave_out="leave_out: {holding_times: no dates were supplied}\n"))
    assert found.supported == ""
    reasons = {one.rule: one.reason for one in found.not_performed}
    assert reasons["holding-time"] == "no dates were supplied"

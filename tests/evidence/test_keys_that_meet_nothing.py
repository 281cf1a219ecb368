"""The key that is offered for one that meets nothing."""

from __future__ import annotations

import pytest

from vaporqa.evidence import Evidence
from vaporqa.evidence.read_faults import faults_of
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")


@pytest.mark.parametrize(
    ("written", "offered"),
    [
        ("CT-A1O", "CT-A10"),  # a letter for a nought comes before a key that merely shares as many signs
        ("ct-a21", "CT-A21"),
        ("CT-A101", "CT-A10"),
        ("entirely else", ""),
    ],
)
def test_the_nearest_key(written: str, offered: str) -> None:
    rows = {
        "samples": [{"sample_id": name} for name in ("CT-A10", "CT-A12", "CT-A21")],
        "purges": [{"purge_id": "U1", "sample_id": written}],
    }
    found = faults_of(Evidence(tables_from_text(rows, PROJECT), PROJECT, load_rulebook()), "keys-meet")
    assert [(one.table, one.column, one.detail.tolist()) for one in found] == [("purges", "sample_id", [offered])]


@pytest.mark.parametrize(("stage", "note"), [("1", True), ("2A", True), ("2B", False)])
def test_a_tune_that_is_nowhere_is_a_note_where_no_rule_of_the_stage_needs_it(stage: str, note: bool) -> None:
    project = Project(time_zone="UTC", lab_time_zone="UTC", stage=stage)
    rows = {
        "results": [{"sample_id": "A", "analyte": "benzene", "tune_id": "T9"}],
        "lab_qc": [{"qc_id": "T1", "kind": "tune"}],
    }
    found = faults_of(Evidence(tables_from_text(rows, project), project, load_rulebook()), "keys-meet")
    assert [(one.table, one.column, one.note) for one in found] == [("results", "tune_id", note)]

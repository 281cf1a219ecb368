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

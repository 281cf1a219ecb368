"""A leak test read by a meter that nobody checked: its sample is unproven, the laboratory's own tracer row is not.

The rulebook: a tracer's own result row is not qualified by its own test.
"""

from __future__ import annotations

from vaporqa.intake import tables_from_text
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project


def test_the_tracers_own_row_is_spared() -> None:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    rows = {
        "samples": [
            {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container": "canister",
             "started_at": "2025-06-05T10:00", "ended_at": "2025-06-05T10:06"},
        ],
        "tracer_tests": [
            {"test_id": "T1", "sample_id": "A", "at": "2025-06-05T09:40", "tracer": "helium", "approach": "shroud",
             "basis": "field", "shroud_low": "20 %v", "train_reading": "0.2 %v", "instrument_id": "M1"},
        ],
        "instrument_checks": [
            {"check_id": "C1", "instrument_id": "M2", "at": "2025-06-05T07:00", "gas": "helium", "expected": "10",
             "reading": "10", "unit": "%v"},
        ],
        "results": [
            {"sample_id": "A", "analyte": "helium", "cas": "7440-59-7", "result": "0.2", "unit": "%v"},
            {"sample_id": "A", "analyte": "benzene", "cas": "71-43-2", "result": "3", "unit": "ug/m3"},
        ],
    }  # fmt: skip
    review = review_folder(project, tables_from_text(rows, project), load_rulebook())

    def named(row: int) -> set[str]:
        return {review.rules[int(review.findings.rule[index])].id for index in review.findings_of("results", row)}

    assert "instrument-checked" not in named(0)
    assert "instrument-checked" in named(1)

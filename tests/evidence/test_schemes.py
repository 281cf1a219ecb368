"""Blank schemes applied cell by cell: at each edge, and where a number that a cell needs is missing."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.evidence import Evidence
from vaporqa.evidence.schemes import apply_scheme
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
BENZENE, TOLUENE = ("benzene", "71-43-2"), ("toluene", "108-88-3")
LIMITS = {"reporting_limit": "1", "limit_of_detection": "0.5"}


def apply(
    scheme: str, blank: float, result: str, limits: dict[str, str], analyte: tuple[str, str] = BENZENE
) -> tuple[Letter, float | None] | str:
    """Letter and where a U stands, or `open`."""
    row = {"sample_id": "S", "analyte": analyte[0], "cas": analyte[1], "result": result, "unit": "ug/m3", **limits}
    tables = tables_from_text({"samples": [{"sample_id": "S"}], "results": [row]}, PROJECT)
    evidence = Evidence(tables, PROJECT, RULEBOOK)
    applied = apply_scheme(evidence, RULEBOOK.schemes[scheme], np.array([0]), np.array([blank]))
    if applied.open[0]:
        return "open"
    at = float(applied.at[0])
    return Letter(int(applied.detect[0])), None if np.isnan(at) else at


NONE, HIGH, U = (Letter.NONE, None), (Letter.J_PLUS, None), Letter.U


@pytest.mark.parametrize(
    ("blank", "result", "limits", "expected"),
    [
        (2, "<1", LIMITS, NONE),  # a nondetect keeps its own limit
        (2, "10", LIMITS, HIGH),  # five times exactly
        (2, "10.01", LIMITS, NONE),
        (2, "0.5", LIMITS, (U, 0.5)),  # at the limit of detection exactly
        (2, "0.51", LIMITS, HIGH),
        (0.05, "0.4", LIMITS, NONE),  # over five times the blank comes first
        (2, "1", {"reporting_limit": "1"}, (U, 1.0)),  # the reporting limit serves where there is no other
        (2, "1.1", {"reporting_limit": "1"}, HIGH),
        (2, "0.4", {}, "open"),
        (2, "20", {}, NONE),  # no limit is needed for that
        (np.inf, "3", LIMITS, "open"),  # no unit in common
        (np.inf, "<1", LIMITS, NONE),
        (2, "0", LIMITS, "open"),  # nought is no result
    ],
)
def test_five_times(blank: float, result: str, limits: dict[str, str], expected: object) -> None:
    assert apply("five-times", blank, result, limits) == expected


@pytest.mark.parametrize(
    ("blank", "result", "limits", "analyte", "expected"),
    [
        (2, "<1", LIMITS, BENZENE, NONE),
        (2, "10", LIMITS, BENZENE, (U, 10.0)),
        (2, "10.01", LIMITS, BENZENE, NONE),
        (2, "0.7", LIMITS, BENZENE, (U, 1.0)),  # at its reporting limit, the higher of the two
        (2, "20", LIMITS, TOLUENE, (U, 20.0)),  # a common contaminant: ten times
        (2, "20.01", LIMITS, TOLUENE, NONE),
        (2, "3", {}, BENZENE, "open"),
        (2, "30", {}, BENZENE, NONE),
    ],
)
def test_multiples(
    blank: float, result: str, limits: dict[str, str], analyte: tuple[str, str], expected: object
) -> None:
    assert apply("multiples", blank, result, limits, analyte) == expected


@pytest.mark.parametrize(
    ("blank", "result", "limits", "expected"),
    [
        (2, "<1", LIMITS, NONE),
        (2, "0.99", LIMITS, (U, 1.0)),  # under its reporting limit
        (2, "1", LIMITS, (U, 1.0)),  # from there to under the blank, at its own number
        (2, "1.9", LIMITS, (U, 1.9)),
        (2, "2", LIMITS, HIGH),  # at the blank
        (2, "20", LIMITS, HIGH),  # ten times exactly
        (2, "20.1", LIMITS, NONE),
        (0.4, "1", LIMITS, HIGH),  # a blank under the reporting limit: from the reporting limit on
        (2, "3", {}, "open"),
    ],
)
def test_tiers(blank: float, result: str, limits: dict[str, str], expected: object) -> None:
    assert apply("tiers", blank, result, limits) == expected

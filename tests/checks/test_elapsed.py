"""Holding times where something is missing, unreadable or contradicts itself, and what their sentences are given."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Labels
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")


def judged(rule_id: str, analysed: str, analyte: str = "benzene", **sample: str) -> Judged:
    cells = {
        "sample_id": "S",
        "kind": "primary",
        "matrix": "soil_gas",
        "container": "canister",
        "ended_at": "2025-06-01T10:00",
    }
    rows = {
        "samples": [cells | sample],
        "results": [{"sample_id": "S", "analyte": analyte, "analyzed_at": analysed}],
    }
    rule = RULEBOOK.rule(rule_id)
    (found,) = CHECKS[rule.check].run(rule, Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK))
    return found


def fact(found: Judged, name: str) -> str:
    labels = found.facts[name]
    assert isinstance(labels, Labels)
    return str(labels.values[0])


WATER = {"matrix": "water", "container": "vial"}


@pytest.mark.parametrize(
    ("preserved", "analysed", "outcome", "hard"),
    [
        ("", "2025-06-08T09:00", Outcome.HOLDS, False),  # by both limits
        ("", "2025-06-09T09:00", Outcome.UNPROVEN, False),  # by one of the two
        ("", "2025-06-16T09:00", Outcome.BROKEN, False),  # by neither
        ("pickled", "2025-06-09T09:00", Outcome.UNPROVEN, True),  # something stands there
        ("acid", "2025-06-09T09:00", Outcome.HOLDS, False),
        ("none", "2025-06-09T09:00", Outcome.BROKEN, False),
    ],
)
def test_water_whose_preservation_is_not_known(preserved: str, analysed: str, outcome: Outcome, hard: bool) -> None:
    found = judged("holding-time", analysed, **WATER, preserved=preserved)
    assert found.state[0] == outcome
    if outcome is Outcome.UNPROVEN:
        assert found.wants[found.want[0]].phrase == "how the sample was preserved"
        assert found.hard[0] == hard


def test_soil_whose_preservation_is_not_known_is_never_in_time() -> None:
    """The table has a limit for preserved vials only: a vial that was not preserved may be anything."""
    for day in ("02", "20"):
        found = judged("holding-time", f"2025-06-{day}T10:00", matrix="soil", container="vial")
        assert found.state[0] == Outcome.UNPROVEN


@pytest.mark.parametrize(
    ("surrogate", "analysed", "outcome", "hard"),
    [
        ("2025-06-01T11:00", "2025-06-02T11:00", Outcome.HOLDS, False),
        ("2025-06-01T11:00", "2025-06-02T11:01", Outcome.BROKEN, False),
        ("", "2025-06-01T12:00", Outcome.UNPROVEN, False),
        ("yesterday", "2025-06-01T12:00", Outcome.UNPROVEN, True),
        ("2025-06-01T13:00", "2025-06-01T12:00", Outcome.UNPROVEN, True),  # added after the analysis
    ],
)
def test_a_bulb_without_a_true_time_of_its_surrogate(
    surrogate: str, analysed: str, outcome: Outcome, hard: bool
) -> None:
    found = judged("holding-time", analysed, container="glass_bulb", surrogate_added_at=surrogate)
    assert found.state[0] == outcome
    if outcome is Outcome.UNPROVEN:
        assert found.hard[0] == hard


def test_the_reason_names_the_shorter_limit_that_a_listed_compound_is_spared() -> None:
    late = judged("holding-time", "2025-07-02T10:00", "carbon disulfide")
    assert late.state[0] == Outcome.BROKEN
    assert "7 d" in fact(late, "exempt")
    for other in ("trichloroethene", "hydrogen sulfide"):
        assert fact(judged("holding-time", "2025-07-02T10:00", other), "exempt") == ""


def test_a_grossly_late_result_offers_the_slips_that_would_bring_it_inside_its_time() -> None:
    """A canister of 3 June that says analysed on 6 December for 12 June: day and month swapped."""
    found = judged("holding-time-gross", "2025-12-06T10:00", ended_at="2025-06-03T10:00")
    assert found.state[0] == Outcome.BROKEN
    assert "analysed 2025-06-12 (day and month swapped)" in fact(found, "candidates")
    np.testing.assert_allclose(found.measured, [186 / 30])


def test_nothing_outside_the_table_is_judged() -> None:
    for cells in ({"matrix": "water"}, {"matrix": "soil"}, {"matrix": "soil", "container": "core_sampler"}):
        assert judged("holding-time", "2025-12-06T10:00", "lead", **cells).state[0] == Outcome.NOT_CONCERNED

"""Levels and their spread, differences and their order, and the run between two checks."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporqa.evidence import Evidence
from vaporqa.evidence.calibrations import initial_calibrations, standards, unserved
from vaporqa.evidence.judged import Links
from vaporqa.evidence.recoveries import results_of_runs, surrogates
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Cells = dict[str, str]


def evidence(**rows: list[Cells]) -> Evidence:
    return Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)


def level(key: str, **cells: str) -> Cells:
    return {"qc_id": key, "kind": "initial_calibration", "calibration_id": "C1", "analyte": "benzene", **cells}


def check(key: str, **cells: str) -> Cells:
    return {"qc_id": key, "kind": "calibration_check", "calibration_id": "C1", "analyte": "benzene", **cells}


def result(key: str, **cells: str) -> Cells:
    return {"result_id": key, "sample_id": "A", "analyte": "benzene", "result": "3", "unit": "ppbv", **cells}


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0.01, 10).map(lambda f: round(f, 4)), min_size=2, max_size=8))
def test_spread_is_that_of_the_standard_library(factors: list[float]) -> None:
    rows = [level(f"L{n}", response_factor=repr(factor)) for n, factor in enumerate(factors)]
    found = initial_calibrations(evidence(lab_qc=rows))
    assert found.mean_factor.value[0] == pytest.approx(statistics.mean(factors))
    expected = 100 * statistics.stdev(factors) / statistics.mean(factors)
    assert found.spread.value[0] == pytest.approx(expected, abs=1e-9)


def test_one_response_factor_has_no_spread_and_the_stated_one_serves() -> None:
    found = initial_calibrations(evidence(lab_qc=[level("L", response_factor="1.2", rsd="8.5")]))
    assert found.spread.value[0] == 8.5
    assert found.mean_factor.value[0] == 1.2


def test_a_response_factor_that_cannot_be_read_leaves_the_spread_open() -> None:
    rows = [level("L1", response_factor="1.0"), level("L2", response_factor="1.1"), level("L3", response_factor="l.2")]
    found = initial_calibrations(evidence(lab_qc=[row | {"rsd": "9"} for row in rows]))
    assert not found.spread.known[0]
    assert found.spread.hard[0]


def test_a_level_that_failed_speaks_for_the_calibration() -> None:
    found = initial_calibrations(evidence(lab_qc=[level("L1", passed="yes"), level("L2", passed="no")]))
    assert found.passed.value[0] == 0


def test_calibrations_of_two_laboratories_under_one_id_stay_apart() -> None:
    rows = [
        level("L1", laboratory="Laboratory A", response_factor="1.0"),
        level("L2", laboratory="Laboratory B", response_factor="2.0"),
    ]
    assert sorted(initial_calibrations(evidence(lab_qc=rows)).mean_factor.value.tolist()) == [1.0, 2.0]


@pytest.mark.parametrize(
    ("cells", "difference"),
    [
        ({"result": "13", "spiked": "10", "unit": "ppbv", "recovery": "60", "difference": "-30"}, 30.0),
        ({"recovery": "60", "difference": "50"}, -40.0),
        ({"difference": "-12"}, -12.0),
    ],
)
def test_a_difference_is_worked_out_before_a_stated_one_is_taken(cells: Cells, difference: float) -> None:
    found = standards(evidence(lab_qc=[check("K", **cells)]), "calibration_check")
    assert found.difference.value[0] == pytest.approx(difference)


def test_results_without_their_kind_are_told_calibration_by_calibration() -> None:
    ev = evidence(
        lab_qc=[check("K", difference="1")],
        results=[
            result("served", calibration_id="C1"), result("toluene", calibration_id="C1", analyte="toluene"),
            result("other", calibration_id="C2"), result("bare"),
        ],
    )  # fmt: skip
    found = unserved(ev, ("calibration_check",), "calibration check", np.zeros(4, bool))
    table = ev.tables.tables["results"]
    told = {name: [str(table.keys[row]) for row in rows] for name, rows in zip(found.subject, found.rows, strict=True)}
    assert told == {"": ["bare"], "C1": ["toluene"], "C2": ["other"]}


def reached(links: Links, ev: Evidence) -> Sequence[str]:
    return sorted(str(ev.tables.tables["results"].keys[row]) for row in links.target)


def test_a_surrogate_without_a_run_id_is_not_tied_by_that_of_the_target() -> None:
    ev = evidence(
        results=[
            result("S", kind="surrogate", recovery="50", dilution="2"), result("T1", run_id="N1", dilution="2"),
            result("T2", run_id="N2", dilution="10", analyte="toluene"), result("T3", run_id="N3", analyte="styrene"),
        ]
    )  # fmt: skip
    # T3 states no dilution and the surrogate no run: nothing tells them apart.
    assert reached(results_of_runs(ev, surrogates(ev).row), ev) == ["T1", "T3"]

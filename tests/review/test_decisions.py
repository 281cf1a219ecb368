"""Decisions round a screening level of 10, by the project's decision language (its list of criteria, lab.md 11.2).

A15 and A17 are conversions at 25 degC and 1 atm (TO-15A, 2019); C23 is a nondetect at 5.0 against a level of 2.1.
"""

from __future__ import annotations

import pytest
from whole_data import Cells, reviewed

from vaporqa.outcomes import Standing
from vaporqa.review.decisions import Decision, Decisions, decisions_of

TCE, BENZENE = "79-01-6", "71-43-2"
CLEAN, J = (Standing.USABLE, "", ""), (Standing.ESTIMATED, "J", "unknown")
J_PLUS, J_MINUS = (Standing.ESTIMATED, "J+", "high"), (Standing.ESTIMATED, "J-", "low")
UJ_LOW, UJ_OPEN = (Standing.ESTIMATED, "UJ", "low"), (Standing.ESTIMATED, "UJ", "unknown")
UJ_HIGH, NJ = (Standing.ESTIMATED, "UJ", "high"), (Standing.ESTIMATED, "NJ", "")
UNPROVEN, REJECTED = (Standing.UNPROVEN, "", ""), (Standing.REJECTED, "R", "")


def decided(
    value: str, settled: tuple[Standing, str, str] = CLEAN, *, level: Cells | None = None,
    rpd_limit: float | None = 50.0, **cells: str,
) -> Decisions:  # fmt: skip
    row = {"sample_id": "A", "cas": BENZENE, "analyte": "benzene", "result": value, "unit": "ppbv", **cells}
    stated = {"cas": row["cas"], "analyte": row["analyte"], "matrix": "soil_gas", "level": "10", "unit": "ppbv"}
    rows = {
        "samples": [{"sample_id": "A", "kind": "primary", "matrix": "soil_gas"}], "results": [row],
        "screening_levels": [stated | (level or {})],
    }  # fmt: skip
    found = decisions_of(reviewed(rows, {0: settled}, rpd_limit=rpd_limit))
    assert found is not None
    return found


def only(found: Decisions) -> Decision:
    assert sum(found.overall.counts) == 1
    assert sum(found.situations) == 1
    return Decision(found.overall.counts.index(1))


@pytest.mark.parametrize(
    ("value", "settled", "expected"),
    [
        ("9", CLEAN, Decision.USABLE),
        ("11", CLEAN, Decision.USABLE),
        ("9", J_PLUS, Decision.WITH_LIMITS),  # cannot hide an exceedance
        ("10", J_PLUS, Decision.WITH_LIMITS),  # at the level is not over it
        ("11", J_PLUS, Decision.UNCERTAIN),
        ("11", J_MINUS, Decision.WITH_LIMITS),  # the exceedance stands
        ("10", J_MINUS, Decision.UNCERTAIN),
        ("0.5", J_MINUS, Decision.UNCERTAIN),
        # Within 25 % of the level, half the 50 % that a duplicate's RPD may be.
        ("7.5", J, Decision.UNCERTAIN),
        ("12.5", J, Decision.UNCERTAIN),
        ("7.4", J, Decision.WITH_LIMITS),
        ("12.6", J, Decision.WITH_LIMITS),
        ("1", NJ, Decision.UNCERTAIN),
        ("1", UNPROVEN, Decision.UNCERTAIN),
        ("1", REJECTED, Decision.GAP),
    ],
)
def test_a_detect(value: str, settled: tuple[Standing, str, str], expected: Decision) -> None:
    assert only(decided(value, settled)) is expected


@pytest.mark.parametrize(
    ("limit", "settled", "expected"),
    [
        ("10", CLEAN, Decision.USABLE),
        ("10.1", CLEAN, Decision.GAP),
        ("10.1", UJ_LOW, Decision.GAP),
        ("1", UJ_LOW, Decision.UNCERTAIN),  # what reads low may be there over its limit
        ("1", UJ_HIGH, Decision.WITH_LIMITS),
        ("9", UJ_OPEN, Decision.UNCERTAIN),
        ("1", UJ_OPEN, Decision.WITH_LIMITS),
        ("", CLEAN, Decision.GAP),  # no limit is recorded
        ("1", UNPROVEN, Decision.UNCERTAIN),
        ("1", REJECTED, Decision.GAP),
    ],
)
def test_a_nondetect(limit: str, settled: tuple[Standing, str, str], expected: Decision) -> None:
    assert only(decided("ND", settled, reporting_limit=limit)) is expected


def test_c23_a_nondetect_whose_limit_is_over_the_level_is_a_gap() -> None:
    assert only(decided("ND", reporting_limit="5.0", level={"level": "2.1"})) is Decision.GAP


def test_without_a_limit_for_duplicates_every_estimate_of_unknown_direction_is_uncertain() -> None:
    assert only(decided("0.1", J, rpd_limit=None)) is Decision.UNCERTAIN


@pytest.mark.parametrize(("level", "over"), [("10.7", 1), ("10.8", 0)])  # A15: 2.0 ppbv is 10.75 ug/m3
def test_a_level_by_mass_is_met_by_molar_mass(level: str, over: int) -> None:
    found = decided("2.0", cas=TCE, analyte="trichloroethene", level={"level": level, "unit": "ug/m3"})
    assert found.overall.over == over


@pytest.mark.parametrize(("level", "over"), [("312", 1), ("314", 0)])  # A17: 1000 ug/m3 is 313.0 to 313.2 ppbv
def test_a_level_by_volume_is_met_by_molar_mass(level: str, over: int) -> None:
    assert decided("1000", unit="ug/m3", level={"level": level}).overall.over == over


@pytest.mark.parametrize(
    ("cells", "level"),
    [
        ({"unit": "ug/kg"}, {}),
        ({"cas": "X1", "analyte": "a compound of no list", "unit": "ug/m3"}, {"cas": "X1"}),
        ({}, {"level": "1O"}),
        ({}, {"unit": "ppq"}),
        ({}, {"level": "0"}),
    ],
)
def test_a_level_that_cannot_be_compared_is_said(cells: Cells, level: Cells) -> None:
    found = decided("1", level=level, **cells)
    assert only(found) is Decision.NOT_COMPARABLE
    assert found.not_comparable


def test_two_levels_for_one_analyte_are_not_a_choice() -> None:
    rows = {
        "samples": [{"sample_id": "A", "kind": "primary", "matrix": "soil_gas"}],
        "results": [{"sample_id": "A", "cas": BENZENE, "analyte": "benzene", "result": "1", "unit": "ppbv"}],
        "screening_levels": [
            {"cas": BENZENE, "analyte": "benzene", "matrix": "soil_gas", "level": level, "unit": "ppbv"}
            for level in ("0.5", "10")
        ],
    }
    found = decisions_of(reviewed(rows))
    assert found is not None
    assert only(found) is Decision.NOT_COMPARABLE


@pytest.mark.parametrize(
    ("matrix", "expected"), [("", Decision.USABLE), ("soil_gas", Decision.USABLE), ("water", Decision.NO_LEVEL)]
)
def test_the_level_of_the_samples_matrix_counts_else_one_for_every_matrix(matrix: str, expected: Decision) -> None:
    assert only(decided("1", level={"matrix": matrix})) is expected


def test_without_levels_nothing_is_decided() -> None:
    rows = {"results": [{"sample_id": "A", "cas": BENZENE, "analyte": "benzene", "result": "1", "unit": "ppbv"}]}
    assert decisions_of(reviewed(rows)) is None

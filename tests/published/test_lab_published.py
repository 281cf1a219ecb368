"""Laboratory rules against numbers that documents print, and against arithmetic on their published criteria.

Codes (A01, B03, C17 ...) are those of the project's list of published criteria. Where a document printed the number it is
named beside the check; *arithmetic* means that the number is worked out from the inputs. Where that list and the rulebook
of this project differ the rulebook counts: in the scheme `five-times` a nondetect keeps its own limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.checks import CHECKS
from vaporqa.criteria import Rule, Rulebook
from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter, Outcome
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Rows = dict[str, list[dict[str, str]]]
BENZENE = {"analyte": "benzene", "cas": "71-43-2"}
ACETONE = {"analyte": "acetone", "cas": "67-64-1"}
TCE = {"analyte": "trichloroethene", "cas": "79-01-6"}
SULFIDE = {"analyte": "hydrogen sulfide", "cas": "7783-06-4"}
DISULFIDE = {"analyte": "carbon disulfide", "cas": "75-15-0"}


def said(rule: Rule, rows: Rows, rulebook: Rulebook = RULEBOOK) -> list[tuple[Outcome, str]]:
    """Outcome of each row of the rule's table, and the limit that broke."""
    evidence = Evidence(tables_from_text(rows, PROJECT), PROJECT, rulebook)
    judged = next(one for one in CHECKS[rule.check].run(rule, evidence) if (one.table or rule.row) == rule.row)
    limits = dict(zip(judged.row.tolist(), judged.limit.tolist(), strict=True))
    return [
        (Outcome(int(state)), rule.limits[limits[row]].name if state == Outcome.BROKEN else "")
        for row, state in enumerate(judged.state)
    ]


# -- relative percent difference --------------------------------------------------------------------------------------


def rpd(first: float, second: float) -> float:
    return float(relative_percent_difference(np.array([first]), np.array([second]))[0])


@pytest.mark.parametrize(
    ("first", "second", "percent"),
    [
        (12, 18, 40.0),  # A01: the definition of a site's quality assurance project plan, 200 (x2 - x1) / (x2 + x1)
        (100, 167, 50.187266),  # A03: arithmetic
        (100, 166.6, 49.962491),  # A04: arithmetic
        (43.6, 56.2, 25.250501),  # A05: arithmetic
    ],
)
def test_relative_percent_difference(first: float, second: float, percent: float) -> None:
    assert rpd(first, second) == pytest.approx(percent, abs=5e-7)


def test_a_printed_difference_was_cut_off_and_not_rounded() -> None:
    """A02: a laboratory's quality assurance plan of 1996 prints 2.0 % for 24.5 and 24; the exact value is 2.0619 %."""
    assert rpd(24.5, 24) == pytest.approx(2.0619, abs=5e-5)
    assert int(rpd(24.5, 24) * 10) / 10 == 2.0


@given(st.floats(1e-6, 1e9), st.floats(1e-6, 1e9), st.floats(1e-3, 1e3))
def test_the_difference_knows_neither_order_nor_unit(first: float, second: float, factor: float) -> None:
    """A07: properties of the definition."""
    assert rpd(first, second) == rpd(second, first)
    assert rpd(factor * first, factor * second) == pytest.approx(rpd(first, second), rel=1e-9, abs=1e-9)


# -- field duplicates -------------------------------------------------------------------------------------------------


def pair(first: str, second: str, first_limit: str = "1.0", second_limit: str = "1.0") -> Rows:
    kinds = ({"kind": "primary"}, {"kind": "field_duplicate", "parent_sample_id": "A"})
    return {
        "samples": [
            {"sample_id": name, "matrix": "soil_gas", **kind} for name, kind in zip("AB", kinds, strict=True)
        ],
        "results": [
            {"sample_id": name, **BENZENE, "result": result, "unit": "ppbv", "reporting_limit": limit}
            for name, result, limit in (("A", first, first_limit), ("B", second, second_limit))
        ],
    }


@pytest.mark.parametrize(
    ("rows", "outcome", "limit"),
    [
        (pair("100", "167"), Outcome.BROKEN, "rpd"),  # A03: 50.19 % against 50 %
        (pair("100", "166.6"), Outcome.HOLDS, ""),  # A04: 49.96 %
        (pair("0", "5"), Outcome.UNPROVEN, ""),  # A06: 200 % if nought were a result; it is none
        (pair("4.0", "7.0"), Outcome.BROKEN, "difference"),  # C17: both under five limits, 3.0 over 1.0
        (pair("4.0", "4.9"), Outcome.HOLDS, ""),  # C18: 0.9, though 20.2 %
        (pair("<1.0", "1.8"), Outcome.HOLDS, ""),  # C19: a nondetect counts as its limit, 0.8
        (pair("<1.0", "2.1"), Outcome.BROKEN, "difference"),  # C20: 1.1
        (pair("20", "34"), Outcome.BROKEN, "rpd"),  # C21: 51.85 %
        (pair("<4", "6", "4", "1"), Outcome.HOLDS, ""),  # C22: 2 against the higher limit, 4
    ],
)  # fmt: skip
def test_field_duplicates(rows: Rows, outcome: Outcome, limit: str) -> None:
    """Limit 50 % and the gate of five limits: a site's quality assurance project plan and a validation procedure."""
    assert said(RULEBOOK.rule("duplicate-agreement"), rows) == [(outcome, limit)] * 2


def test_a_profile_of_a_hundred_per_cent_passes_what_fifty_fails() -> None:
    """C21: another site's plan allows 100 % for vapour."""
    rule = RULEBOOK.rule("duplicate-agreement")
    wide = replace(rule, limits=tuple(replace(one, value=1.0) if one.name == "rpd" else one for one in rule.limits))
    assert said(wide, pair("20", "34")) == [(Outcome.HOLDS, "")] * 2


def test_a_detect_is_estimated_and_a_nondetect_too() -> None:
    """C17, C20: J for the detect, UJ for the nondetect."""
    letters = RULEBOOK.rule("duplicate-agreement").pair("difference")
    assert (letters.detect, letters.nondetect) == (Letter.J, Letter.UJ)


def test_a_laboratory_duplicate_just_over_a_quarter() -> None:
    """A05 against the 25 % of the Californian advisory (2015), Table 2: 25.25 % fails where nothing is rounded."""
    parent = {"qc_id": "P", "kind": "control_sample", **BENZENE, "result": "43.6", "unit": "ppbv", "reporting_limit": "1"}
    twin = {**parent, "qc_id": "D", "kind": "laboratory_duplicate", "parent_qc_id": "P", "result": "56.2"}
    rule = RULEBOOK.rule("laboratory-duplicate-agreement")
    assert said(rule, {"lab_qc": [parent, twin]})[1] == (Outcome.BROKEN, "rpd")
    assert said(rule, {"lab_qc": [parent, {**twin, "result": "56.0"}]})[1] == (Outcome.HOLDS, "")


# -- blanks -----------------------------------------------------------------------------------------------------------

NONE = (Letter.NONE, None)


def after_blank(
    scheme: str, blanks: tuple[str, ...], result: str, analyte: Mapping[str, str] = BENZENE, unit: str = "ppbv"
) -> tuple[Letter, float | None] | Outcome:
    """Letter of a result beside method blanks of its batch, and where a U stands; the outcome where it is open."""
    rulebook = replace(RULEBOOK, choose={**RULEBOOK.choose, "blanks.scheme": scheme})
    amount = {"unit": unit, "reporting_limit": "1.0", "limit_of_detection": "0.5"}
    rows: Rows = {
        "samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}],
        "results": [{"sample_id": "S", **analyte, "batch_id": "V1", "result": result, **amount}],
        "lab_qc": [
            {"qc_id": f"MB{number}", "kind": "method_blank", **analyte, "batch_id": "V1", "result": blank,
             "unit": "ppbv", "reporting_limit": "1.0"}
            for number, blank in enumerate(blanks)
        ],
    }  # fmt: skip
    rule = rulebook.rule("method-blank")
    evidence = Evidence(tables_from_text(rows, PROJECT), PROJECT, rulebook)
    (judged,) = CHECKS[rule.check].run(rule, evidence)
    state = Outcome(int(judged.state[0]))
    if state is Outcome.HOLDS:
        return NONE
    if state is not Outcome.BROKEN:
        return state
    letter = rule.pair(rule.limits[int(judged.limit[0])].name).detect
    assert judged.own_at is not None
    at = float(judged.own_at[0])
    return letter, None if np.isnan(at) else at


U, HIGH = Letter.U, (Letter.J_PLUS, None)


@pytest.mark.parametrize(
    ("blanks", "result", "analyte", "five_times", "multiples"),
    [
        (("<1.0",), "3", BENZENE, NONE, NONE),  # B01
        (("0.4",), "<1.0", BENZENE, NONE, NONE),  # B02; the departmental table sets U at 0.5, the rulebook does not
        (("0.4",), "0.7", BENZENE, HIGH, (U, 1.0)),  # B03
        (("0.4",), "1.5", BENZENE, HIGH, (U, 1.5)),  # B04
        (("0.4",), "2.0", BENZENE, HIGH, (U, 2.0)),  # B05: five times exactly
        (("0.4",), "2.01", BENZENE, NONE, NONE),  # B06
        (("2.0",), "0.7", BENZENE, HIGH, (U, 1.0)),  # B07
        (("2.0",), "1.5", BENZENE, HIGH, (U, 1.5)),  # B08: under its own blank
        (("2.0",), "2.0", BENZENE, HIGH, (U, 2.0)),  # B09
        (("2.0",), "9", BENZENE, HIGH, (U, 9.0)),  # B10
        (("2.0",), "10.5", BENZENE, NONE, NONE),  # B11
        (("2.0",), "15", ACETONE, NONE, (U, 15.0)),  # B12: a common contaminant, ten times
        (("0.1",), "0.45", BENZENE, (U, 0.5), (U, 1.0)),  # B13: at or under the limit of detection
        (("0.2", "0.6"), "2.5", BENZENE, HIGH, (U, 2.5)),  # B14: the highest blank counts
    ],
)  # fmt: skip
def test_blank_schemes(
    blanks: tuple[str, ...], result: str, analyte: Mapping[str, str], five_times: object, multiples: object
) -> None:
    """`five-times`: the departmental table of 9 February 2022. `multiples`: the older guidelines, from memory."""
    assert after_blank("five-times", blanks, result, analyte) == five_times
    assert after_blank("multiples", blanks, result, analyte) == multiples


def test_a_blank_in_a_unit_that_cannot_be_brought_to_the_result_s_is_refused() -> None:
    """B15: soil by mass beside a blank of gas."""
    for scheme in ("five-times", "multiples"):
        assert after_blank(scheme, ("0.4",), "3", unit="ug/kg") is Outcome.UNPROVEN


# -- holding times ----------------------------------------------------------------------------------------------------


def waited(container: str, hours: float, analyte: Mapping[str, str] = TCE) -> Rows:
    end = np.datetime64("2024-03-01T08:00") + np.timedelta64(round(hours * 60), "m")
    return {
        "samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas", "container": container,
                     "ended_at": "2024-03-01T08:00"}],
        "results": [{"sample_id": "S", **analyte, "analyzed_at": str(end)}],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("container", "hours", "analyte", "outcome", "limit"),
    [
        ("canister", 30 * 24, TCE, Outcome.HOLDS, ""),  # C01
        ("canister", 31 * 24, TCE, Outcome.BROKEN, "canister"),  # C02
        ("canister", 8 * 24, SULFIDE, Outcome.BROKEN, "canister_short"),  # C05: a sulfur gas, one week
        ("canister", 8 * 24, TCE, Outcome.HOLDS, ""),  # C05: the same canister
        ("canister", 8 * 24, DISULFIDE, Outcome.HOLDS, ""),  # C05 has it with the sulfur gases; the rulebook has not
    ],
)
def test_canisters(container: str, hours: float, analyte: Mapping[str, str], outcome: Outcome, limit: str) -> None:
    """Californian advisory (2015), Table 2: thirty days, one week for sulfur and nitrogen compounds."""
    assert said(RULEBOOK.rule("holding-time"), waited(container, hours, analyte)) == [(outcome, limit)]


def test_seven_hours_in_a_bag() -> None:
    """C04: late by the Californian advisory's six hours, in time by the 72 h of a laboratory guide."""
    rule = RULEBOOK.rule("holding-time")
    ((outcome, limit),) = said(rule, waited("bag", 7))
    assert outcome is Outcome.BROKEN
    longer = tuple(replace(one, value=72 * 3600.0) if one.name == limit else one for one in rule.limits)
    assert said(replace(rule, limits=longer), waited("bag", 7)) == [(Outcome.HOLDS, "")]


def test_twice_the_holding_time() -> None:
    """C03: sixty days estimate, sixty-one reject a nondetect (the factor of two is convention, from memory)."""
    gross = RULEBOOK.rule("holding-time-gross")
    assert said(gross, waited("canister", 60 * 24)) == [(Outcome.HOLDS, "")]
    assert said(gross, waited("canister", 61 * 24)) == [(Outcome.BROKEN, "gross")]
    late, grossly = RULEBOOK.rule("holding-time").pair("canister"), gross.pair("gross")
    assert (late.detect, late.nondetect) == (Letter.J_MINUS, Letter.UJ)
    assert (grossly.detect, grossly.nondetect) == (Letter.J_MINUS, Letter.R)

"""RPD, blank schemes, holding times and duplicates against worked cases of published criteria.

Codes (A01, B05, C17 ...) are those of the project's list of published criteria, which names where each was read:

- RPD: 200 |a - b| / (a + b), as several published texts print it; A02 is a printed pair (24.5 and 24, printed 2.0).
- Blanks: the revised table of the US Department of Defense's Environmental Data Quality Workgroup of 9 February 2022
  (read), and the five and ten times rule of the National Functional Guidelines of 1988 to 1999 (from memory).
- Holding times: Advisory - Active Soil Gas Investigations, California EPA 2015, table 2 (read); twice the limit as
  gross is a convention of project plans (from memory).
- Duplicates: gate, higher limit and the limit in place of a nondetect from a validation procedure (second hand);
  50 % for air from a site's quality assurance plan (second hand); one limit as difference from memory.

Where the project's rulebook decides otherwise than the list, the rulebook's answer stands and the case says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.checks import CHECKS
from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.schemes import apply_scheme
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter, Outcome
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Cells = dict[str, str]
Rows = dict[str, list[Cells]]
HOLDS, BROKEN, UNPROVEN = Outcome.HOLDS, Outcome.BROKEN, Outcome.UNPROVEN


def changed(rule_id: str, limits: Mapping[str, float]) -> Rule:
    """A rule with other limits, as a profile would have them (canonical numbers)."""
    rule = RULEBOOK.rule(rule_id)
    moved = (replace(one, value=limits.get(one.name, one.value)) for one in rule.limits)
    return replace(rule, limits=tuple(moved))


def said(rule: Rule, rows: Rows, scheme: str = "five-times") -> list[tuple[Outcome, str]]:
    """Outcome of each row of results, and the limit that broke."""
    book = replace(RULEBOOK, choose={**RULEBOOK.choose, "blanks.scheme": scheme})
    (judged,) = CHECKS[rule.check].run(rule, Evidence(tables_from_text(rows, PROJECT), PROJECT, book))
    limits = {
        int(row): rule.limits[int(limit)].name
        for row, limit in zip(judged.row, judged.limit, strict=True)
        if limit >= 0
    }
    return [(Outcome(int(state)), limits.get(row, "")) for row, state in enumerate(judged.state)]


# -- 15.1 arithmetic -------------------------------------------------------------------------------------------------


def rpd(first: float, second: float) -> float:
    return float(relative_percent_difference(np.array([first]), np.array([second]))[0])


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (12, 18, 40.000),  # A01
        (24.5, 24, 2.0619),  # A02: printed 2.0
        (100, 167, 50.187),  # A03
        (100, 166.6, 49.962),  # A04
        (43.6, 56.2, 25.2505),  # A05
    ],
)
def test_relative_percent_difference(first: float, second: float, expected: float) -> None:
    assert rpd(first, second) == pytest.approx(expected, abs=0.0005)


@given(st.floats(1e-6, 1e9), st.floats(1e-6, 1e9), st.floats(1e-3, 1e3))
def test_rpd_knows_neither_order_nor_unit(first: float, second: float, factor: float) -> None:
    """A07."""
    assert rpd(first, second) == rpd(second, first)
    assert rpd(factor * first, factor * second) == pytest.approx(rpd(first, second), rel=1e-9, abs=1e-9)


def pair(first: Cells, second: Cells) -> Rows:
    benzene = {"cas": "71-43-2", "analyte": "benzene", "unit": "ug/m3", "reporting_limit": "1"}
    return {
        "samples": [
            {"sample_id": "A", "kind": "primary", "matrix": "soil_gas"},
            {"sample_id": "D", "kind": "field_duplicate", "parent_sample_id": "A", "matrix": "soil_gas"},
        ],
        "results": [{"sample_id": "A", **benzene, **first}, {"sample_id": "D", **benzene, **second}],
    }


@pytest.mark.parametrize(
    ("first", "second", "limit", "outcome"),
    [
        ("100", "167", 0.50, BROKEN),  # A03, absolute
        ("100", "166.6", 0.50, HOLDS),  # A04
        ("43.6", "56.2", 0.25, BROKEN),  # A05, absolute
        ("0", "5", 0.50, UNPROVEN),  # A06: zero is never a result, and no RPD of 200 is made of it
    ],
)
def test_pairs_at_the_limit_of_their_rpd(first: str, second: str, limit: float, outcome: Outcome) -> None:
    found = said(changed("duplicate-agreement", {"rpd": limit}), pair({"result": first}, {"result": second}))
    assert [one for one, _ in found] == [outcome, outcome]


# -- 15.2 blanks: reporting limit 1.0, limit of detection 0.5 ----------------------------------------------------------

NONE, J_PLUS = (int(Letter.NONE), ""), (int(Letter.J_PLUS), "")


def u_at(limit: str) -> tuple[int, str]:
    return int(Letter.U), limit


BLANKS = [
    # code, blank, sample, analyte, by multiples (five and ten times), by five-times (DoD 2022)
    # B02: the list has U at 0.5 by five-times; in the rulebook a nondetect keeps its own limit.
    ("B02", 0.4, "ND", "benzene", NONE, NONE),
    ("B03", 0.4, "0.7", "benzene", u_at("1"), J_PLUS),
    ("B04", 0.4, "1.5", "benzene", u_at("1.5"), J_PLUS),
    ("B05", 0.4, "2.0", "benzene", u_at("2"), J_PLUS),
    ("B06", 0.4, "2.01", "benzene", NONE, NONE),
    ("B07", 2.0, "0.7", "benzene", u_at("1"), J_PLUS),
    ("B08", 2.0, "1.5", "benzene", u_at("1.5"), J_PLUS),
    ("B09", 2.0, "2.0", "benzene", u_at("2"), J_PLUS),
    ("B10", 2.0, "9", "benzene", u_at("9"), J_PLUS),
    ("B11", 2.0, "10.5", "benzene", NONE, NONE),
    ("B12", 2.0, "15", "acetone", u_at("15"), NONE),
    ("B13", 0.1, "0.45", "benzene", u_at("1"), u_at("0.5")),
]


@pytest.mark.parametrize(("code", "blank", "sample", "analyte", "multiples", "five_times"), BLANKS)
def test_blank_schemes(
    code: str, blank: float, sample: str, analyte: str, multiples: tuple[int, str], five_times: tuple[int, str]
) -> None:
    row = {"sample_id": "S", "analyte": analyte, "result": sample, "unit": "ug/m3"}
    rows = {"results": [row | {"reporting_limit": "1.0", "limit_of_detection": "0.5"}]}
    ev = Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)
    for scheme, (letter, at) in {"multiples": multiples, "five-times": five_times}.items():
        found = apply_scheme(ev, RULEBOOK.schemes[scheme], np.array([0]), np.array([blank]))
        assert (found.open[0], found.detect[0], found.nondetect[0]) == (False, letter, int(Letter.NONE)), (code, scheme)
        np.testing.assert_equal(found.at[0], float(at) if at else float("nan"))


def batch(sample: Cells, *blanks: Cells) -> Rows:
    cells = {
        "laboratory": "Laboratory A",
        "batch_id": "V1",
        "analyte": "benzene",
        "unit": "ug/m3",
        "reporting_limit": "1",
    }
    return {
        "samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}],
        "results": [{"sample_id": "S", **cells, "limit_of_detection": "0.5", **sample}],
        "lab_qc": [
            {"qc_id": f"MB{n}", "kind": "method_blank", **cells, **one} for n, one in enumerate(blanks, start=1)
        ],
    }


@pytest.mark.parametrize("scheme", ["five-times", "multiples", "tiers"])
def test_a_clean_blank_does_nothing(scheme: str) -> None:
    """B01."""
    assert said(RULEBOOK.rule("method-blank"), batch({"result": "3"}, {"result": "ND"}), scheme) == [(HOLDS, "")]


@pytest.mark.parametrize(("scheme", "becomes"), [("multiples", "nondetect"), ("five-times", "high")])
def test_the_highest_of_several_blanks_counts(scheme: str, becomes: str) -> None:
    """B14: blanks of 0.2 and 0.6, a sample of 2.5: over five times the lower, under five times the higher."""
    rule = RULEBOOK.rule("method-blank")
    assert said(rule, batch({"result": "2.5"}, {"result": "0.2"}, {"result": "0.6"}), scheme) == [(BROKEN, becomes)]
    assert said(rule, batch({"result": "2.5"}, {"result": "0.2"}, {"result": "0.3"}), scheme) == [(HOLDS, "")]


@pytest.mark.parametrize("scheme", ["five-times", "multiples", "tiers"])
def test_a_blank_in_another_unit_is_refused(scheme: str) -> None:
    """B15: a compound whose molar mass nobody knows, by volume in the blank and by mass in the sample."""
    odd = {"analyte": "unheard-of compound"}
    rows = batch({**odd, "result": "3"}, {**odd, "result": "0.4", "unit": "ppbv"})
    assert said(RULEBOOK.rule("blank-units"), rows, scheme)[0][0] in (BROKEN, UNPROVEN)
    assert said(RULEBOOK.rule("method-blank"), rows, scheme)[0][0] not in (HOLDS, BROKEN)


# -- 15.3 holding times ------------------------------------------------------------------------------------------------


def waited(container: str, begin: str, end: str, *analytes: str) -> Rows:
    return {
        "samples": [
            {"sample_id": "S", "kind": "primary", "matrix": "soil_gas", "container": container, "ended_at": begin}
        ],
        "results": [{"sample_id": "S", "analyte": name, "analyzed_at": end} for name in analytes],
    }


CANISTER = ("canister", "2025-06-01T08:00")


@pytest.mark.parametrize(
    ("end", "outcome", "gross"),
    [
        ("2025-07-01T08:00", HOLDS, HOLDS),  # C01: 30 d 0 h
        ("2025-07-02T08:00", BROKEN, HOLDS),  # C02: 31 d
        ("2025-07-31T08:00", BROKEN, HOLDS),  # C03: 60 d
        ("2025-08-01T08:00", BROKEN, BROKEN),  # C03: 61 d
    ],
)
def test_a_canister_has_thirty_days(end: str, outcome: Outcome, gross: Outcome) -> None:
    rows = waited(*CANISTER, end, "trichloroethene")
    assert [one for one, _ in said(RULEBOOK.rule("holding-time"), rows)] == [outcome]
    assert [one for one, _ in said(RULEBOOK.rule("holding-time-gross"), rows)] == [gross]


def test_what_late_results_become() -> None:
    """C02: J- and UJ. C03: after 61 days J- and R."""
    late = RULEBOOK.rule("holding-time").pair("canister")
    gross = RULEBOOK.rule("holding-time-gross").pair("gross")
    assert (late.detect, late.nondetect) == (Letter.J_MINUS, Letter.UJ)
    assert (gross.detect, gross.nondetect) == (Letter.J_MINUS, Letter.R)


@pytest.mark.parametrize(("hours", "outcome"), [(6, BROKEN), (72, HOLDS)])
def test_a_bag_of_seven_hours(hours: float, outcome: Outcome) -> None:
    """C04: late by the Californian six hours, in time by the 72 hours of a commercial laboratory's guide."""
    rows = waited("bag", "2025-06-05T10:00", "2025-06-05T17:00", "benzene", "trichloroethene", "oxygen")
    rule = changed("holding-time", {one.name: hours * 3600 for one in RULEBOOK.rule("holding-time").limits})
    assert [one for one, _ in said(rule, rows)] == [outcome] * 3


def test_sulfur_gases_in_a_canister_after_eight_days() -> None:
    """C05: hydrogen sulfide is late and trichloroethene is not; carbon disulfide, late in the list, stands on the
    canister method's own list and keeps its thirty days by the rulebook."""
    rows = waited(*CANISTER, "2025-06-09T08:00", "hydrogen sulfide", "trichloroethene", "carbon disulfide")
    assert [one for one, _ in said(RULEBOOK.rule("holding-time"), rows)] == [BROKEN, HOLDS, HOLDS]


# -- 15.3 duplicates ---------------------------------------------------------------------------------------------------

AGREE, RPD, APART = (HOLDS, ""), (BROKEN, "rpd"), (BROKEN, "difference")


@pytest.mark.parametrize(
    ("first", "second", "limits", "expected"),
    [
        ({"result": "4.0"}, {"result": "7.0"}, {}, APART),  # C17: 3.0 over one limit
        ({"result": "4.0"}, {"result": "7.0"}, {"difference": 2.0}, APART),  # C17: over two limits as well
        ({"result": "4.0"}, {"result": "4.9"}, {}, AGREE),  # C18: 0.9, although the RPD is 20.2
        ({"result": "4.0"}, {"result": "4.9"}, {"rpd": 0.2}, AGREE),  # C18: the RPD is not asked
        ({"result": "1.0 U"}, {"result": "1.8"}, {}, AGREE),  # C19
        ({"result": "1.0 U"}, {"result": "2.1"}, {}, APART),  # C20
        ({"result": "20"}, {"result": "34"}, {}, RPD),  # C21: 51.85 %
        ({"result": "20"}, {"result": "34"}, {"rpd": 1.0}, AGREE),  # C21: a plan that allows 100 %
        ({"result": "ND", "reporting_limit": "4"}, {"result": "6"}, {}, AGREE),  # C22: 2 is under the higher limit of 4
    ],
)
def test_duplicates(first: Cells, second: Cells, limits: dict[str, float], expected: tuple[Outcome, str]) -> None:
    assert said(changed("duplicate-agreement", limits), pair(first, second)) == [expected, expected]
    assert said(changed("duplicate-agreement", limits), pair(second, first)) == [expected, expected]


def test_what_disagreeing_duplicates_become() -> None:
    """C17: J and J; C20: UJ for the nondetect and J for the detect."""
    pair_of = RULEBOOK.rule("duplicate-agreement").pair("difference")
    assert (pair_of.detect, pair_of.nondetect) == (Letter.J, Letter.UJ)

"""Rules of reporting where an example of a rule file cannot reach: orders of rows, phases, two rows of one result."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.evidence.forms import half_figure, steady_ratio
from vaporqa.evidence.judged import Judged
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC", stage="1")
BENZENE = {"analyte": "benzene", "cas": "71-43-2", "unit": "ug/m3"}
Row = dict[str, str]


def evidence_of(**rows: list[Row]) -> Evidence:
    return Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)


def run(rule_id: str, evidence: Evidence, book=RULEBOOK) -> Judged:
    rule = book.rule(rule_id)
    (one,) = CHECKS[rule.check].run(rule, evidence)
    return one


def said(rule_id: str, evidence: Evidence) -> dict[str, tuple[str, str]]:
    """Outcome and limit by key; a finding on the whole table by its subject."""
    one = run(rule_id, evidence)
    rule = RULEBOOK.rule(rule_id)
    keys = evidence.tables.tables[rule.row].keys
    out = {str(key): (Outcome(int(state)).words, "") for key, state in zip(keys, one.state, strict=True)}
    for entry, row in enumerate(one.row.tolist()):
        subject = str(one.subject[entry]) if one.subject is not None else ""
        limit = rule.limits[one.limit[entry]].name if one.limit[entry] >= 0 else ""
        out[str(keys[row]) if row >= 0 else f"*:{subject}"] = (Outcome(int(one.outcome[entry])).words, limit)
    return out


# -- figures and offsets ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "half"),
    [("3.20", 0.005), ("3.2", 0.05), ("3", 0.5), ("30", 5.0), ("3000", 500.0), ("3050", 5.0), ("3000.", 0.5),
     ("<0.50 U", 0.005), ("12.5 J", 0.05), ("1.5E3", 50.0), ("1e-3", 0.0005), ("0", 0.5), (".25", 0.005),
     ("1,25", 0.005), ("ND", 0.0)],
)  # fmt: skip
def test_half_of_the_last_figure(text, half):
    assert half_figure(text) == pytest.approx(half)


def test_a_steady_offset_needs_enough_pairs_that_can_tell():
    ratio = np.array([1.017, 1.0171, 1.0169, 1.0])
    tight, loose = np.full(4, 0.003), np.full(4, 0.02)
    assert steady_ratio(ratio[:3], tight[:3], 3, 0.9) == pytest.approx(1.017)
    assert np.isnan(steady_ratio(ratio[:2], tight[:2], 3, 0.9))  # two show nothing
    assert np.isnan(steady_ratio(ratio, tight, 3, 0.9))  # a quarter of the pairs fits no offset
    assert np.isnan(steady_ratio(ratio, loose, 3, 0.9))  # rounding explains all of it
    assert np.isnan(steady_ratio(np.array([1.01, 1.05, 0.93, 1.2]), tight, 3, 0.9))  # no one offset


def test_two_rows_of_one_result_stand_on_the_mass_row():
    rows = [
        {"result_id": "M", "sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "result": "40.0", "unit": "ug/m3"},
        {"result_id": "V", "sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "result": "10.00", "unit": "ppbv"},
    ]  # fmt: skip
    evidence = evidence_of(results=rows)
    table = evidence.tables.tables["results"]
    paired = replace(table, form_of=np.array([-1, 0], np.int32))
    tables = replace(evidence.tables, tables={**evidence.tables.tables, "results": paired})
    evidence = Evidence(tables, PROJECT, RULEBOOK)
    assert evidence.in_use.tolist() == [1, 1]  # one value in two forms, not two values
    one = run("forms-agree", evidence)
    assert one.row.tolist() == [0]  # the review takes it to the other row
    assert one.measured[0] == pytest.approx(40.0 / 31.92745 - 1, rel=1e-4)  # 10 ppbv of benzene is 31.927 ug/m3


def test_several_laboratories_are_named_and_only_the_one_that_is_off():
    rows = [
        {"sample_id": f"S{n}", "analyte": "benzene", "cas": "71-43-2", "laboratory": f"Laboratory {name}",
         "result_mass": f"{mass} ug/m3", "result_volume": "20.00 ppbv"}
        for name, mass in (("A", "64.94"), ("B", "63.85")) for n in range(4)
    ]  # fmt: skip
    found = said("forms-agree", evidence_of(results=rows))
    assert found["*:Laboratory A"] == ("broken", "agree")
    assert "*:Laboratory B" not in found


# -- orders of rows --------------------------------------------------------------------------------------------------


def test_what_is_said_does_not_hang_on_the_order_of_rows():
    rng = np.random.default_rng(5)
    results = [
        {"result_id": f"R{n}", "sample_id": f"S{n // 3}", **BENZENE, "batch_id": f"V{n % 2}", "method": "TO-15",
         "result": f"{value:.1f}", "reporting_limit": f"{limit:.2f}", "dilution": str(dilution),
         "run_id": str(n), "lab_flag": "over_range" if n % 7 == 0 else "", "in_use": "no" if n % 11 == 0 else "",
         "run_kind": "dilution" if n % 3 == 1 else "", "detection_limit": "3"}
        for n, (value, limit, dilution) in enumerate(
            zip(rng.uniform(0.1, 9, 60), rng.choice([0.5, 1.0, 1.02, 2.0], 60), rng.choice([1, 2, 4], 60), strict=True)
        )
    ]  # fmt: skip
    for rule_id in ("below-reporting-limit", "over-range", "one-value-in-use", "limit-follows-dilution",
                    "result-consistent"):  # fmt: skip
        first = said(rule_id, evidence_of(results=results))
        assert "broken" in {outcome for outcome, _ in first.values()}
        for _ in range(3):
            order = rng.permutation(len(results))
            assert said(rule_id, evidence_of(results=[results[i] for i in order])) == first


# -- phases ----------------------------------------------------------------------------------------------------------


def test_a_run_set_aside_is_judged_by_no_other_rule_of_its_row():
    aside = {"result_id": "A", "sample_id": "S", "analyte": "toluene", "cas": "71-43-2", "unit": "ug/m3",
             "result": "900", "reporting_limit": "1000", "detection_limit": "5000", "lab_flag": "over_range",
             "dilution": "1", "run_id": "1"}  # fmt: skip
    counts = {"result_id": "B", "sample_id": "S", **BENZENE, "result": "850", "reporting_limit": "10", "dilution": "10",
              "run_id": "2", "run_kind": "dilution"}  # fmt: skip
    evidence = evidence_of(results=[aside, counts])
    assert evidence.in_use.tolist() == [0, 1]
    for rule in RULEBOOK.rules:
        if rule.topic == "reporting" and rule.row == "results":
            state = run(rule.id, evidence).state
            assert (state[0] == Outcome.BROKEN) == (rule.id in ("over-range", "one-value-in-use")), rule.id


def test_a_value_that_the_laboratory_sets_aside_for_nothing_is_not_lost():
    row = {"result_id": "A", "sample_id": "S", **BENZENE, "result": "9", "in_use": "no"}
    found = review_folder(PROJECT, tables_from_text({"results": [row]}, PROJECT), RULEBOOK)
    assert found.settled["results"].standing.tolist() == [2]  # unproven


def test_a_detect_that_a_blank_turned_is_held_against_the_level_at_its_new_limit():
    level = [{"cas": "71-43-2", "matrix": "soil_gas", "level": "4", "unit": "ug/m3"}]
    row = {"result_id": "A", "sample_id": "S", **BENZENE, "result": "5", "reporting_limit": "1", "detection_limit": "6"}
    before = evidence_of(
        samples=[{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}], results=[row], screening_levels=level
    )
    after = before.after_blanks(np.array([True]), np.array([5.0]))
    assert said("sensitivity", before) == {"A": ("not concerned", "")}
    assert said("sensitivity", after) == {"A": ("broken", "level")}
    assert said("below-reporting-limit", after) == {"A": ("not concerned", "")}
    # The laboratory reported a detect under its detection limit; the blank does not undo that contradiction.
    assert said("result-consistent", after) == {"A": ("broken", "under_detection_limit")}


def test_a_level_serves_its_own_matrix_and_an_unknown_matrix_is_said_elsewhere():
    samples = [{"sample_id": "A", "matrix": "soil_gas", "kind": "primary"}, {"sample_id": "B", "kind": "primary"}]
    results = [{"sample_id": name, **BENZENE, "result": "ND", "reporting_limit": "5"} for name in "AB"]
    level = [{"cas": "71-43-2", "matrix": "indoor_air", "level": "1", "unit": "ug/m3"}]
    found = said("sensitivity", evidence_of(samples=samples, results=results, screening_levels=level))
    assert found == {"A/71-43-2": ("unproven", ""), "B/71-43-2": ("unproven", ""), "*:benzene": ("unproven", "")}
    own = run("sensitivity", evidence_of(samples=samples, results=results, screening_levels=level)).own
    assert own is not None
    assert own.target.tolist() == [0]  # the finding is about the sample whose matrix is known


def test_numbers_that_share_an_unknown_unit_are_still_compared():
    row = {"sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "unit": "ug/rn3", "reporting_limit": "5"}
    assert said("below-reporting-limit", evidence_of(results=[{**row, "result": "4"}])) == {
        "S/71-43-2": ("broken", "limit")
    }
    assert said("below-reporting-limit", evidence_of(results=[{**row, "result": "6"}])) == {"S/71-43-2": ("holds", "")}
    other = {**row, "result": "4", "reporting_limit_unit": "ug/m3"}
    assert said("below-reporting-limit", evidence_of(results=[other])) == {"S/71-43-2": ("unproven", "")}


def test_a_profile_may_count_equality_with_the_level_as_a_breach():
    evidence = evidence_of(
        samples=[{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}],
        results=[{"sample_id": "S", **BENZENE, "result": "ND", "reporting_limit": "5"}],
        screening_levels=[{"cas": "71-43-2", "matrix": "soil_gas", "level": "5", "unit": "ug/m3"}],
    )
    rule = RULEBOOK.rule("sensitivity")
    strict = replace(rule, limits=(replace(rule.limits[0], sense=type(rule.limits[0].sense).UNDER),))
    assert CHECKS[rule.check].run(rule, evidence)[0].state.tolist() == [Outcome.HOLDS]
    assert CHECKS[rule.check].run(strict, evidence)[0].state.tolist() == [Outcome.BROKEN]


# -- the whole review ------------------------------------------------------------------------------------------------


def test_letters_of_reporting_rules():
    """A detect under its limit is J, a tentative one NJ, a nondetect keeps its U."""
    rows = [
        {"result_id": "J", "sample_id": "S", **BENZENE, "result": "4", "reporting_limit": "5"},
        {"result_id": "NJ", "sample_id": "S", "analyte": "alkane", "unit": "ug/m3", "kind": "tentative", "result": "4"},
        {"result_id": "U", "sample_id": "S", "analyte": "toluene", "cas": "108-88-3", "result": "<5", "unit": "ug/m3",
         "reporting_limit": "5"},
    ]  # fmt: skip
    samples = [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}]
    only = replace(RULEBOOK, rules=tuple(rule for rule in RULEBOOK.rules if rule.topic == "reporting"))
    found = review_folder(PROJECT, tables_from_text({"samples": samples, "results": rows}, PROJECT), only)
    assert [QUALIFIERS[code] for code in found.settled["results"].qualifier] == ["J", "NJ", "U"]


def test_cautions_touch_no_row_and_judge_none():
    rows = [{"result_id": "M", "sample_id": "S", "analyte": "methane", "cas": "74-82-8", "result": "2", "unit": "%v"},
            {"result_id": "N", "sample_id": "S", "analyte": "methane", "cas": "74-82-8", "result": "12", "unit": "%v",
             "method": "3C"}]  # fmt: skip
    only = replace(RULEBOOK, rules=tuple(rule for rule in RULEBOOK.rules if rule.topic == "cautions"))
    found = review_folder(PROJECT, tables_from_text({"results": rows}, PROJECT), only)
    assert [(one.rule, one.table, one.row) for one in found.cautions] == [("methane-explosive", "results", 1)]
    # A caution that holds shows nothing of the number: no rule that could judge it is left.
    assert {found.rules[number].id for number in found.findings.rule.tolist()} == {"result-judged"}
    assert len(found.findings) == 2


@pytest.mark.parametrize("cells", [{"result": ""}, {"result": "", "reporting_limit": "1"}, {"result": "0"}])
def test_a_result_that_says_nothing_is_never_usable(cells):
    """Nothing says whether it was detected: unproven, although its dates are in order and in time."""
    times = {"collected_at": "2025-06-03T10:00", "analyzed_at": "2025-06-10T10:00"}
    found = review_folder(
        PROJECT,
        tables_from_text(
            {"samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas", "container": "canister"}],
             "results": [{"sample_id": "S", **BENZENE, **times, **cells}]}, PROJECT,
        ),
        replace(RULEBOOK, rules=tuple(r for r in RULEBOOK.rules if r.topic in ("reporting", "holding_times"))),
    )  # fmt: skip
    assert found.settled["results"].standing.tolist() == [2]  # unproven


def test_the_number_that_a_spreadsheet_made_a_date_of_is_used():
    # The rulebook: "the number is named in the reason and used, and the row stays unproven until judged or mapped".
    row = {"batch_id": "V1", "method": "TO-15", "result": "3", "unit": "ug/m3", "reporting_limit": "1"}
    evidence = evidence_of(
        samples=[{"sample_id": "A", "kind": "primary", "matrix": "soil_gas"}],
        results=[{"result_id": "R1", "sample_id": "A", "cas": "2075-01-04", "analyte": "vinyl chloride", **row}],
        lab_qc=[
            {"qc_id": "MB1", "kind": "method_blank", "batch_id": "V1", "cas": "75-01-4", "analyte": "vinyl chloride",
             "result": "ND", "unit": "ug/m3", "reporting_limit": "1"},
        ],
        required_analytes=[{"cas": "75-01-4", "analyte": "vinyl chloride", "method": "TO-15"}],
    )  # fmt: skip
    assert said("method-blank", evidence) == {"R1": ("holds", "")}
    assert said("analytes-complete", evidence) == {"A": ("holds", "")}
    assert said("cas-number", evidence) == {"R1": ("broken", "spreadsheet_date")}

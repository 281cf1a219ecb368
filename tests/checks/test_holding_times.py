"""The check of elapsed times where examples cannot look: numbers, sentences' facts, candidates, profiles."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from vaporqa.checks import CHECKS
from vaporqa.criteria import Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.date_slips import slips
from vaporqa.evidence.judged import Amounts, Judged, Labels
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Row = dict[str, str]


def judge(rule_id: str, samples: list[Row], results: list[Row]) -> Judged:
    rule = RULEBOOK.rule(rule_id)
    tables = tables_from_text({"samples": samples, "results": results}, PROJECT)
    (judged,) = CHECKS[rule.check].run(rule, Evidence(tables, PROJECT, RULEBOOK))
    return judged


def canister(name: str, ended: str, **cells: str) -> Row:
    kind = {"kind": "primary", "matrix": "soil_gas", "container": "canister"}
    return {"sample_id": name, **kind, "ended_at": ended, **cells}


def result(sample_id: str, analysed: str, analyte: str = "benzene", cas: str = "71-43-2", **cells: str) -> Row:
    return {"sample_id": sample_id, "analyte": analyte, "cas": cas, "analyzed_at": analysed, **cells}


def text(judged: Judged, fact: str) -> list[str]:
    found = judged.facts[fact]
    assert isinstance(found, Labels)
    return [str(one) for one in found.values]


def test_the_measured_number_is_days_for_days_and_hours_for_hours() -> None:
    judged = judge("holding-time", [canister("S", "2024-05-01")], [result("S", "2024-06-04")])
    assert judged.measured.tolist() == [34 * 86_400.0]
    bag = canister("S", "2024-05-01T08:00", container="bag")
    assert judge("holding-time", [bag], [result("S", "2024-05-01T15:30")]).measured.tolist() == [7.5 * 3600]
    assert judge("holding-time", [bag], [result("S", "2024-05-02")]).measured.tolist() == [16 * 3600]  # at the least


def test_gross_is_said_as_a_multiple() -> None:
    judged = judge("holding-time-gross", [canister("S", "2024-05-01")], [result("S", "2024-07-15")])
    assert judged.measured.tolist() == [2.5]
    assert text(judged, "allowed") == ["30 d"]


def test_carbon_disulfide_names_both_limits() -> None:
    rows = [
        result("S", "2024-06-10", "carbon disulfide", "75-15-0"),
        result("S", "2024-06-10"),
        result("S", "2024-06-10", "hydrogen sulfide", "7783-06-4"),
    ]
    judged = judge("holding-time", [canister("S", "2024-05-01")], rows)
    disulfide, benzene, sulfide = text(judged, "exempt")
    assert "7 d" in disulfide
    assert (benzene, sulfide) == ("", "")


def test_what_is_missing_is_named() -> None:
    unpreserved = {"sample_id": "W", "matrix": "water", "container": "vial", "ended_at": "2024-05-01"}
    samples = [{"sample_id": "N", "matrix": "soil_gas"}, unpreserved, canister("T", ""), canister("B", "2024-05-01")]
    samples[3]["container"] = "bag"
    rows = [result("N", "2024-05-02"), result("W", "2024-05-10"), result("T", "2024-05-02"), result("B", "2024-05-01")]
    judged = judge("holding-time", samples, rows)
    said = {int(row): judged.wants[want].phrase for row, want in zip(judged.row, judged.want, strict=True)}
    assert said[0] == "the container"
    assert said[1] == "how the sample was preserved"
    assert said[2] == "the end of collection"
    assert "time of day" in said[3]


def test_a_profile_may_make_a_limit_exclusive() -> None:
    rule = RULEBOOK.rule("holding-time")
    under = replace(
        rule, limits=tuple(replace(one, sense=Sense.UNDER) if one.name == "canister" else one for one in rule.limits)
    )
    tables = tables_from_text(
        {"samples": [canister("S", "2024-05-01")], "results": [result("S", "2024-05-31")]}, PROJECT
    )
    (judged,) = CHECKS["elapsed"].run(under, Evidence(tables, PROJECT, RULEBOOK))
    assert judged.state[0] == Outcome.BROKEN


@pytest.mark.parametrize(
    ("written", "meant", "slip"),
    [
        (date(2024, 3, 9), date(2024, 9, 3), "day and month swapped"),
        (date(2024, 10, 13), date(2024, 10, 31), "two digits transposed"),
        (date(2024, 10, 2), date(2024, 11, 2), "month off by one"),
        (date(2024, 1, 5), date(2025, 1, 5), "year off by one"),
        (date(2024, 1, 31), date(2023, 12, 31), "month off by one"),
        (date(2024, 5, 7), date(2024, 5, 17), "one digit off"),
    ],
)
def test_slips_of_the_pen(written: date, meant: date, slip: str) -> None:
    assert dict(slips(written))[meant] == slip


def test_no_slip_is_a_date_that_does_not_exist_or_the_date_itself() -> None:
    offered = dict(slips(date(2024, 2, 29)))
    assert date(2024, 2, 29) not in offered
    assert date(2023, 2, 28) not in offered  # two edits
    assert all(isinstance(one, date) for one in offered)


def test_a_candidate_must_put_the_whole_batch_right() -> None:
    """The analysis of a batch is dated a month early; an edit of one sample's collection mends that sample only."""
    samples = [canister("A", "2024-10-08"), canister("B", "2024-10-12")]
    rows = [result(name, "2024-10-02", batch_id="V1") for name in "AB"]
    first, second = text(judge("dates-in-order", samples, rows), "candidates")
    assert "analysed 2024-11-02 (month off by one)" in first
    assert "collected" not in first
    assert first == second
    alone = text(judge("dates-in-order", samples[:1], rows[:1]), "candidates")[0]
    assert "analysed 2024-11-02 (month off by one)" in alone
    assert "collected 2024-09-08 (month off by one)" in alone


def test_two_faults_in_one_batch_do_not_hide_each_other() -> None:
    """One sample received on the 13th for the 31st, the other analysed a month early."""
    samples = [canister("A", "2024-10-29"), canister("B", "2024-10-30")]
    rows = [
        result("A", "2024-11-02", received_at="2024-10-13", batch_id="V1"),
        result("B", "2024-10-02", received_at="2024-10-31", batch_id="V1"),
    ]
    first, second = text(judge("dates-in-order", samples, rows), "candidates")
    assert "received 2024-10-31 (two digits transposed)" in first
    assert "analysed 2024-11-02 (month off by one)" in second


def test_where_no_single_slip_explains_it_that_is_said() -> None:
    """Three dates each before the one that it must follow."""
    row = result("S", "2013-04-26", received_at="2018-07-15")
    judged = judge("dates-in-order", [canister("S", "2024-10-31")], [row])
    assert text(judged, "candidates") == ["no single slip of one date explains it"]


def test_the_likeliest_slip_is_named_first() -> None:
    """September the third written American way for a sample of September the second."""
    judged = judge("dates-in-order", [canister("S", "2024-09-02")], [result("S", "2024-03-09")])
    assert text(judged, "candidates")[0].startswith("candidates: analysed 2024-09-03 (day and month swapped), ")


def test_gross_offers_slips_that_bring_it_inside_its_holding_time() -> None:
    judged = judge("holding-time-gross", [canister("S", "2024-05-01")], [result("S", "2024-09-05")])
    (said,) = text(judged, "candidates")
    assert said.startswith("candidates: analysed 2024-05-09 (day and month swapped)")
    assert "2024-08-05" not in said  # a month off is still late


def test_frequency_counts_by_group() -> None:
    rule = RULEBOOK.rule("duplicate-frequency")
    samples = [{"sample_id": f"S{n}", "kind": "primary", "matrix": "soil_gas", "shipment_id": "K"} for n in range(41)]
    samples += [{**samples[0], "sample_id": f"D{n}", "kind": "field_duplicate"} for n in range(2)]
    tables = tables_from_text({"samples": samples}, PROJECT)
    (judged,) = CHECKS[rule.check].run(rule, Evidence(tables, PROJECT, RULEBOOK))
    assert judged.subject is not None
    assert judged.subject.tolist() == ["K"]
    numbers = {}
    for name in ("found", "due", "served"):
        fact = judged.facts[name]
        assert isinstance(fact, Amounts)
        numbers[name] = fact.values.tolist()
    assert numbers == {"found": [2.0], "due": [3.0], "served": [41.0]}
    assert judged.measured.tolist() == pytest.approx([2 / 41])

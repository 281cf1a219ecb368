"""Blanks through the review: the pair on the row itself, where a U stands, and what stays silent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Standing
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC", stage="2A")
Rows = dict[str, list[dict[str, str]]]


def review(rows: Rows, *, scheme: str = "five-times") -> Review:
    rules = tuple(rule for rule in RULEBOOK.rules if rule.topic == "blanks")
    book = replace(RULEBOOK, rules=rules, choose={**RULEBOOK.choose, "blanks.scheme": scheme})
    return review_folder(PROJECT, tables_from_text(rows, PROJECT), book)


def result(key: str, value: str, **cells: str) -> dict[str, str]:
    common = {"analyte": "benzene", "cas": "71-43-2", "unit": "ppbv", "reporting_limit": "1.0", "batch_id": "V1"}
    return {"result_id": key, "sample_id": key, "result": value, **common, **cells}


def method_blank(key: str, value: str, **cells: str) -> dict[str, str]:
    common = {"kind": "method_blank", "analyte": "benzene", "cas": "71-43-2", "unit": "ppbv", "batch_id": "V1"}
    return {"qc_id": key, "result": value, **common, **cells}


def said(found: Review, rule: str) -> dict[str, tuple[str, str, str, str]]:
    """Key to outcome, effect and pair of the findings of a rule."""
    out = {}
    for index in range(len(found.findings)):
        if found.rules[found.findings.rule[index]].id == rule:
            pair = found.findings.letters(index)
            out[str(found.findings.key[index])] = (
                found.findings.outcome_word(index), found.findings.effect_word(index), *pair,
            )  # fmt: skip
    return out


def test_the_pair_is_that_of_the_cell_of_the_scheme_row_by_row() -> None:
    rows = {
        "results": [
            result("A", "0.45", limit_of_detection="0.5"), result("B", "0.7", limit_of_detection="0.5"),
            result("C", "5"), result("D", "ND"),
        ],
        "lab_qc": [method_blank("MB", "0.4")],
    }  # fmt: skip
    found = review(rows)
    assert said(found, "method-blank") == {"A": ("broken", "note", "U", ""), "B": ("broken", "estimate", "J+", "")}
    assert found.final is not None
    assert found.final.detected.tolist() == [0, 1, 1, 0]
    np.testing.assert_allclose(found.final.limit, [0.5, np.nan, np.nan, 1.0])
    assert not found.findings.reached.any()


def test_of_several_limits_of_a_u_the_highest_counts() -> None:
    containers = {
        "containers": [{"container_id": "C1", "cleaning_lot": "L1"}],
        "samples": [{"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container_id": "C1"}],
    }
    of_lot = {"qc_id": "CB", "kind": "container_blank", "cleaning_lot": "L1", "analyte": "benzene", "cas": "71-43-2"}
    rows: Rows = {
        **containers,
        "results": [result("A", "0.7", unit="ppbv")],
        "lab_qc": [method_blank("MB", "0.9"), {**of_lot, "result": "0.2", "unit": "ppbv"}],
    }
    found = review(rows, scheme="tiers")  # U at the reporting limit by both
    assert said(found, "method-blank")["A"] == ("broken", "note", "U", "")
    assert said(found, "container-blank")["A"] == ("broken", "note", "U", "")
    rows["results"] = [
        result("A", "1.5")
    ]  # method blank 2: U at 1.5; container blank 0.2: J+, which a nondetect is not
    rows["lab_qc"][0]["result"] = "2"
    found = review(rows, scheme="tiers")
    assert said(found, "container-blank")["A"] == ("broken", "note", "J+", "")
    assert found.final is not None
    assert found.final.limit[0] == 1.5
    assert found.settled["results"].standing[0] == Standing.USABLE


def test_a_table_without_control_samples_is_one_finding_on_the_whole_of_it() -> None:
    found = review({"results": [result("A", "3"), result("B", "ND")]})
    assert said(found, "method-blank") == {"*": ("unproven", "unproven", "unproven", "unproven")}
    assert said(found, "container-blank")["*"][1] == "note"
    assert found.settled["results"].standing.tolist() == [Standing.UNPROVEN] * 2


def test_only_tubes_and_passive_samplers_must_have_a_trip_blank() -> None:
    shipped = {"kind": "primary", "matrix": "soil_gas", "shipment_id": "S1"}
    kinds = ("canister", "sorbent_tube", "passive_sampler", "bag")
    rows = {
        "samples": [{"sample_id": kind, "container": kind, **shipped} for kind in kinds],
        "results": [result(kind, "3") for kind in kinds],
        "lab_qc": [method_blank("MB", "ND")],
    }
    found = review(rows)
    assert set(said(found, "trip-blank")) == {"sorbent_tube", "passive_sampler"}
    count = next(one for one in found.coverage.rules if one.rule == "trip-blank")
    assert (count.unproven, count.silent) == (4, 2)


def test_a_laboratory_that_one_side_does_not_state_keeps_nothing_apart() -> None:
    rows = {
        "results": [
            result("A", "0.7", laboratory="Laboratory A"), result("B", "0.7", laboratory="Laboratory B"),
            result("C", "0.7"),
        ],
        "lab_qc": [
            method_blank("M1", "0.3", laboratory="Laboratory A"), method_blank("M2", "ND", laboratory="Laboratory B"),
        ],
    }  # fmt: skip
    # A result that names no laboratory may hang on either blank: the dirty one counts.
    assert set(said(review(rows), "method-blank")) == {"A", "C"}
    rows["lab_qc"] = [method_blank("M1", "0.3")]
    assert set(said(review(rows), "method-blank")) == {"A", "B", "C"}


def test_the_scheme_makes_no_difference_to_where_a_row_stands_in_the_file() -> None:
    rows = [result(f"R{n}", value) for n, value in enumerate(("0.45", "0.7", "2.2", "9", "ND"))]
    blank = [method_blank("M1", "0.2"), method_blank("M2", "0.4")]
    forward = review({"results": rows, "lab_qc": blank})
    backward = review({"results": rows[::-1], "lab_qc": blank[::-1]})
    assert said(forward, "method-blank") == said(backward, "method-blank")
    assert forward.settled["results"].qualifier.tolist() == backward.settled["results"].qualifier.tolist()[::-1]


def test_scaling_every_number_changes_no_letter() -> None:
    def scaled(by: float) -> Rows:
        rows = [result(f"R{n}", f"{v * by:.9g}") for n, v in enumerate((0.45, 0.7, 2.0, 2.01, 9.0))]
        for row in rows:
            row |= {"reporting_limit": f"{by:.9g}", "limit_of_detection": f"{0.5 * by:.9g}"}
        return {"results": rows, "lab_qc": [method_blank("MB", f"{0.4 * by:.9g}")]}

    plain, large = said(review(scaled(1.0)), "method-blank"), said(review(scaled(1234.5)), "method-blank")
    assert plain == large
    assert set(plain) == {"R0", "R1", "R2"}

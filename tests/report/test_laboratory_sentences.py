"""Sentences on laboratory rules as a reviewer would read them: the right substance, status, number and unit."""

from __future__ import annotations

from dataclasses import replace

from vaporqa.intake import tables_from_text
from vaporqa.report.sentences import Sentences
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="America/Boise", lab_time_zone="America/Chicago", stage="2B")
Rows = dict[str, list[dict[str, str]]]


def said(rule_id: str, rows: Rows) -> dict[str, str]:
    """Key to sentence of the findings of one rule, by that rule alone."""
    book = replace(RULEBOOK, rules=(RULEBOOK.rule(rule_id),))
    found = review_folder(PROJECT, tables_from_text(rows, PROJECT), book)
    sentences = Sentences(found)
    return {
        str(found.findings.key[index]): sentences.one(index)
        for index in range(len(found.findings))
        if found.rules[found.findings.rule[index]].id == rule_id
    }


def result(key: str, value: str = "3", **cells: str) -> dict[str, str]:
    common = {"analyte": "Trichloroethene", "cas": "79-01-6", "unit": "ppbv", "reporting_limit": "1"}
    return {"result_id": key, "sample_id": key, "result": value, **common, **cells}


def test_a_row_that_misnames_its_number_leaves_the_sentences_of_the_others_alone() -> None:
    rows = {
        "results": [
            result("A", cas="71-43-2"), result("B", "0.5", analyte="Benzene", cas="71-43-2"),
            result("C", "0.5", analyte="Toluene", cas="108-88-3"),
        ],
    }  # fmt: skip
    found = said("below-reporting-limit", rows)
    assert found["B"].startswith("Benzene: 0.5 ppbv is 50 % of its reporting limit of 1 ppbv")
    assert found["C"].startswith("Toluene: ")


def test_a_nondetect_in_a_pair_is_not_said_to_be_a_value() -> None:
    rows = {
        "samples": [
            {"sample_id": "A", "kind": "primary", "matrix": "soil_gas"},
            {"sample_id": "B", "kind": "field_duplicate", "parent_sample_id": "A", "matrix": "soil_gas"},
        ],
        "results": [result("A", "ND"), result("B", "2.1")],
    }
    found = said("duplicate-agreement", rows)
    assert "was not detected at 1 ppbv here and found at 2.1 ppbv in its duplicate B" in found["A"]
    assert "was found at 2.1 ppbv here and not detected at 1 ppbv in its duplicate A" in found["B"]


def test_a_gross_internal_standard_has_its_number_where_only_the_window_was_printed() -> None:
    standard = {"result_id": "I", "sample_id": "A", "kind": "internal_standard", "analyte": "chlorobenzene-d5"}
    rows = {"results": [{**standard, "area": "15", "area_low": "60", "area_high": "140"}]}
    assert "has only 15 % of the area" in said("internal-standard-area", rows)["I"]


def test_a_core_is_preserved_by_the_clock_of_the_field() -> None:
    core = {"sample_id": "A", "kind": "primary", "matrix": "soil", "container": "core_sampler", "preserved": "frozen"}
    rows = {
        "samples": [{**core, "ended_at": "2025-06-03T10:05", "preserved_at": "2025-06-05T11:05"}],
        "results": [result("A", unit="ug/kg", analyzed_at="2025-06-08T09:00")],
    }
    assert (
        "preserved 49 h after the end of collection, on 2025-06-05 11:05 for 2025-06-03 10:05"
        in (said("holding-time", rows)["A"])
    )


def test_results_without_a_control_sample_are_called_by_their_batch() -> None:
    rows = {
        "results": [result("A", batch_id="V1")],
        "lab_qc": [
            {"qc_id": "CS", "kind": "control_sample", "batch_id": "V2", "analyte": "benzene", "recovery": "100"}
        ],
    }
    found = said("control-sample-recovery", rows)["*:V1"]
    assert "cannot be judged for V1; a control sample" in found


def test_a_check_that_the_laboratory_calls_failed_is_off_by_a_number_with_its_unit() -> None:
    check = {"qc_id": "K", "kind": "calibration_check", "analyte": "benzene", "difference": "5", "passed": "no"}
    assert "off by 5 %; by" in said("calibration-check", {"lab_qc": [check]})["K"]

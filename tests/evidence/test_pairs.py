"""Duplicate pairs: by pair number on results, by the parent that a sample names, by pair number on samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.pairs import compare
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Row = dict[str, str]
CAS = {"benzene": "71-43-2", "toluene": "108-88-3"}


def sample(name: str, kind: str = "primary", **cells: str) -> Row:
    return {"sample_id": name, "kind": kind, "matrix": "soil_gas", **cells}


def result(sample_id: str, analyte: str = "benzene", value: str = "10", **cells: str) -> Row:
    amount = {"result": value, "unit": "ug/m3", "reporting_limit": "1"}
    return {"sample_id": sample_id, "analyte": analyte, "cas": CAS[analyte], **amount, **cells}


def evidence(samples: list[Row], results: list[Row], rulebook: Rulebook = RULEBOOK) -> Evidence:
    return Evidence(tables_from_text({"samples": samples, "results": results}, PROJECT), PROJECT, rulebook)


def paired(samples: list[Row], results: list[Row]) -> tuple[list[tuple[int, int]], dict[int, int], list[int]]:
    """Pairs of rows, odd rows with the members of their pair number, and rows whose parent lacks the analyte."""
    pairs = evidence(samples, results).pairs
    both = sorted(zip(pairs.first.tolist(), pairs.second.tolist(), strict=True))
    return both, dict(zip(pairs.odd.tolist(), pairs.odd_members.tolist(), strict=True)), sorted(pairs.lone.tolist())


PARENT_AND_TWIN = [sample("A"), sample("D", "field_duplicate", parent_sample_id="A")]


def test_by_parent_within_one_analyte_method_and_fraction() -> None:
    rows = [
        result("D", "toluene"), result("A", "toluene"), result("A"), result("D"),
        result("A", method="TO-15"), result("D", method="8260"),
    ]  # fmt: skip
    assert paired(PARENT_AND_TWIN, rows) == ([(1, 0), (2, 3)], {}, [5])


def test_an_analyte_that_only_the_parent_has_is_no_pair() -> None:
    assert paired(PARENT_AND_TWIN, [result("A"), result("A", "toluene"), result("D")]) == ([(0, 2)], {}, [])


def test_by_pair_number_on_samples() -> None:
    samples = [sample("A", pair_id="7"), sample("D", "field_replicate", pair_id="7"), sample("B", pair_id="8")]
    assert paired(samples, [result("D"), result("A"), result("B")]) == ([(1, 0)], {}, [])


def test_one_member_matters_only_where_its_sample_is_a_duplicate() -> None:
    samples = [sample("A", pair_id="7"), sample("D", "field_duplicate", pair_id="8")]
    assert paired(samples, [result("A"), result("D")]) == ([], {1: 1}, [])


def test_three_members_leave_it_open() -> None:
    samples = [sample("A"), sample("B"), sample("C")]
    rows = [result(name, pair_id="Q") for name in "ABC"]
    assert paired(samples, rows) == ([], {0: 3, 1: 3, 2: 3}, [])


def test_a_pair_number_is_counted_within_one_analyte() -> None:
    samples = [sample("A"), sample("B")]
    rows = [result(name, analyte, pair_id="Q") for name in "AB" for analyte in CAS]
    assert paired(samples, rows) == ([(0, 2), (1, 3)], {}, [])


def test_rows_without_a_pair_number_in_a_sample_that_has_some_are_left_alone() -> None:
    rows = [result("A", pair_id="Q"), result("D", pair_id="Q"), result("A", "toluene"), result("D", "toluene")]
    assert paired(PARENT_AND_TWIN, rows) == ([(0, 1)], {}, [])


@pytest.mark.parametrize(
    ("first", "second", "numbers", "higher"),
    [
        ({"value": "10"}, {"value": "14"}, (10, 14), 1),
        ({"value": "10"}, {"value": "14", "reporting_limit": "4"}, (10, 14), 4),
        ({"value": "<3"}, {"value": "14"}, (3, 14), 1),  # a nondetect counts as the number beside its mark
        ({"value": "ND"}, {"value": "14"}, (1, 14), 1),  # else as its reporting limit
        ({"value": "ND", "reporting_limit": "0.002", "unit": "mg/m3"}, {"value": "14"}, (2, 14), 2),
    ],
)
def test_numbers_and_limits(first: Row, second: Row, numbers: tuple[float, float], higher: float) -> None:
    found = evidence(PARENT_AND_TWIN, [result("A", **first), result("D", **second)])
    both = compare(found, found.pairs.first, found.pairs.second)
    assert (both.first[0], both.second[0], both.higher[0]) == pytest.approx((*numbers, higher))
    assert both.known[0]
    assert both.limits_known[0]


def test_volume_and_mass_are_compared_by_mass() -> None:
    """100 ppbv of benzene are 319.28 ug/m3: 78.11 g/mol over 24.4654 L/mol, arithmetic."""
    found = evidence(PARENT_AND_TWIN, [result("A", value="100", unit="ppbv"), result("D", value="300")])
    both = compare(found, found.pairs.first, found.pairs.second)
    assert both.first[0] == pytest.approx(100 * 78.11 / 24.4654, rel=2e-4)
    assert both.second[0] == 300
    assert both.higher[0] == pytest.approx(78.11 / 24.4654, rel=2e-4)


def test_two_numbers_by_volume_need_no_molar_mass() -> None:
    other = {"analyte": "hydrocarbons", "unit": "ppbv", "reporting_limit": "1"}
    rows = [{"sample_id": "A", **other, "result": "ND"}, {"sample_id": "D", **other, "result": "9"}]
    found = evidence(PARENT_AND_TWIN, rows)
    both = compare(found, found.pairs.first, found.pairs.second)
    assert (both.first[0], both.second[0]) == (1, 9)


def test_the_limit_that_a_blank_gave_a_result_is_in_its_own_unit() -> None:
    """A detect of 2 ppbv that a blank made a nondetect at 3 ppbv counts as 9.578 ug/m3 beside a mass."""
    found = evidence(PARENT_AND_TWIN, [result("A", value="2", unit="ppbv"), result("D", value="14")])
    later = found.after_blanks(np.array([True, False]), np.array([3.0, np.nan]))
    both = compare(later, later.pairs.first, later.pairs.second)
    assert not both.both[0]
    assert both.first[0] == pytest.approx(3 * 78.11 / 24.4654, rel=2e-4)


def test_a_profile_may_take_the_detection_limit() -> None:
    chosen = replace(RULEBOOK, choose={**RULEBOOK.choose, "duplicates.basis": "detection_limit"})
    rows = [result("A", detection_limit="0.2"), result("D", detection_limit="0.3")]
    found = evidence(PARENT_AND_TWIN, rows, chosen)
    assert compare(found, found.pairs.first, found.pairs.second).higher[0] == 0.3

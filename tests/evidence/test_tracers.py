"""What a leak test found: which value counts, what bounds a nondetect, and whose result it qualifies."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.evidence import Evidence
from vaporqa.evidence.measures import MEASURES
from vaporqa.evidence.reported import DETECTED, NONDETECT, UNSTATED
from vaporqa.intake import tables_from_text
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
HELIUM, BENZENE, OXYGEN, NITROGEN = "7440-59-7", "71-43-2", "7782-44-7", "7727-37-9"


def sample_result(cas: str, result: str, unit: str = "%v", **cells: str) -> dict[str, str]:
    return {"sample_id": "S", "analyte": cas, "cas": cas, "result": result, "unit": unit, **cells}


def evidence(test: dict[str, str], *results: dict[str, str], more: tuple[dict[str, str], ...] = ()) -> Evidence:
    """One soil-gas sample with its leak test."""
    tests = [{"sample_id": "S", "approach": "shroud", "tracer": "helium", **one} for one in (test, *more)]
    rows = {"samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas"}]}
    rows["tracer_tests"] = [{"test_id": f"T{number}", **one} for number, one in enumerate(tests, 1)]
    if results:
        rows["results"] = list(results)
    return Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)


def value(ev: Evidence, measure: str) -> float:
    """The first entry's number; nan where it is not known or not concerned."""
    (found,) = ev.measure(MEASURES[measure])
    return float(found.value[0]) if found.concerned[0] else float("nan")


@pytest.mark.parametrize(
    ("cells", "detected"),
    [
        ({"train_reading": "1 %v"}, DETECTED),
        ({"train_reading": "0 %v"}, NONDETECT),
        ({"train_reading": "-0.1 %v"}, NONDETECT),
        ({"train_reading": "ND"}, NONDETECT),
        ({"train_reading": "< 0.1 %v"}, NONDETECT),
        ({"train_detected": "no"}, NONDETECT),
        ({"train_detected": "yes"}, DETECTED),
        ({"train_detected": "yes", "train_reading": "0 %v"}, UNSTATED),  # contradicts itself
        ({"train_detected": "no", "train_reading": "5 %v", "train_reporting_limit": "0.1 %v"}, UNSTATED),
        ({"train_detected": "no", "train_reading": "0.1 %v", "train_reporting_limit": "0.1 %v"}, NONDETECT),
        ({"train_detected": "maybe", "train_reading": "1 %v"}, UNSTATED),
        ({}, UNSTATED),
    ],
)
def test_whether_the_tracer_was_detected(cells: dict[str, str], detected: int) -> None:
    assert evidence({"shroud_low": "20 %v", **cells}).trains.detected.tolist() == [detected]


def test_units_meet_before_they_are_compared() -> None:
    ev = evidence({"shroud_low": "20 %v", "train_reading": "5000 ppmv"})
    assert value(ev, "leak_fraction") == pytest.approx(0.025, rel=1e-12)
    # 5000 ppmv of helium, 4.0026 g/mol, in 24.4654 L/mol are 818.0 mg/m3.
    by_mass = evidence({"shroud_low": "20 %v", "train_reading": "818.01 mg/m3"})
    assert value(by_mass, "leak_fraction") == pytest.approx(0.025, rel=2e-5)


def test_the_laboratory_outranks_the_meter_and_its_background() -> None:
    test = {"shroud_low": "20 %v", "train_reading": "2 %v", "background": "1 %v"}
    assert value(evidence(test), "leak_fraction") == pytest.approx(0.05)
    assert value(evidence(test, sample_result(HELIUM, "0.5")), "leak_fraction") == pytest.approx(0.025)
    assert value(evidence(test, sample_result(HELIUM, "1.6")), "leak_fraction") == pytest.approx(0.08)


def test_of_several_laboratory_values_the_highest_counts() -> None:
    ev = evidence(
        {"shroud_low": "20 %v", "train_reading": "0.1 %v"},
        sample_result(HELIUM, "0.2", method="A"), sample_result(HELIUM, "1.6", method="B"),
        sample_result(HELIUM, "ND", method="C", reporting_limit="0.1"),
    )  # fmt: skip
    assert value(ev, "leak_fraction") == pytest.approx(0.08)


def test_a_laboratorys_row_of_its_own_makes_the_meters_a_note() -> None:
    meter = {"shroud_low": "20 %v", "train_reading": "2 %v", "basis": "field"}
    laboratory = {"shroud_low": "20 %v", "train_reading": "0.6 %v", "background": "0.1 %v", "basis": "laboratory"}
    (found,) = evidence(meter, more=(laboratory,)).measure(MEASURES["leak_fraction"])
    assert found.value.tolist() == pytest.approx([0.1, 0.025])
    assert found.noted is not None
    assert found.noted.tolist() == [True, False]


def test_a_nondetect_of_the_laboratory_is_bounded_by_its_own_limit() -> None:
    test = {"shroud_low": "20 %v", "train_reading": "2 %v", "train_reporting_limit": "0.01 %v"}
    ev = evidence(test, sample_result(HELIUM, "ND", reporting_limit="1.1"))
    assert value(ev, "leak_bound") == pytest.approx(0.055)
    assert np.isnan(value(ev, "leak_fraction"))


def test_a_detect_that_a_blank_turned_into_a_nondetect_is_bounded_where_it_stands() -> None:
    ev = evidence(
        {"shroud_low": "20 %v", "train_reading": "0.1 %v"}, sample_result(HELIUM, "1.9", reporting_limit="0.1")
    )
    later = ev.after_blanks(np.array([True]), np.array([1.9e7]))  # 1.9 % by volume in ppbv
    assert value(later, "leak_bound") == pytest.approx(0.095)


def test_the_meters_limit_says_how_thin_a_shroud_may_be() -> None:
    test = {"shroud_low": "6 %v", "train_reading": "0.1 %v", "train_reporting_limit": "0.1 %v"}
    ev = evidence(test, sample_result(HELIUM, "0.06", reporting_limit="0.01"))
    assert value(ev, "shroud_over_reporting_limit") == pytest.approx(60)


def test_the_highest_shroud_reading_serves_only_where_no_lowest_one_stands() -> None:
    assert value(evidence({"shroud_high": "20 %v", "train_reading": "1 %v"}), "leak_fraction") == pytest.approx(0.05)
    unreadable = {"shroud_low": "l8", "shroud_low_unit": "%v", "shroud_high": "20 %v", "train_reading": "1 %v"}
    assert np.isnan(value(evidence(unreadable), "leak_fraction"))
    assert np.isnan(value(evidence({"shroud_low": "0 %v", "train_reading": "1 %v"}), "leak_fraction"))


@pytest.mark.parametrize(("limit", "ratio"), [("10 ug/m3", 10.0), ("1.2530 ppbv", 32.491)])
def test_a_cloth_tracer_is_brought_to_the_unit_of_each_limit(limit: str, ratio: float) -> None:
    # 100 ug/m3 of 2-propanol, 60.095 g/mol: x 24.4654 / 60.095 = 40.711 ppbv, over 1.2530 ppbv 32.491.
    number, unit = limit.split()
    ev = evidence(
        {"approach": "cloth", "tracer": "2-propanol"},
        sample_result("67-63-0", "100", "ug/m3", reporting_limit="5"),
        sample_result(BENZENE, "ND", unit, reporting_limit=number),
    )
    assert value(ev, "cloth_tracer_ratio") == pytest.approx(ratio, rel=1e-4)


def test_outside_air_raises_oxygen_and_nitrogen_and_the_tracer_is_spared() -> None:
    rows = {
        "samples": [{"sample_id": "S", "kind": "primary", "matrix": "soil_gas", "container": "canister"}],
        "tracer_tests": [
            {"test_id": "T", "sample_id": "S", "approach": "shroud", "tracer": "helium", "shroud_low": "20 %v",
             "train_reading": "1.6 %v"}
        ],
        "results": [
            sample_result(BENZENE, "3", "ug/m3"), sample_result("108-88-3", "ND", "ug/m3", reporting_limit="1"),
            sample_result(OXYGEN, "9"), sample_result(NITROGEN, "ND", reporting_limit="1"),
            sample_result(HELIUM, "1.6"),
        ],
    }  # fmt: skip
    project = Project(
        time_zone="UTC", lab_time_zone="UTC", stage="1",
        leave_out={rule.id: "a test of one rule" for rule in RULEBOOK.rules if rule.id != "leak-tracer-recovery"},
    )  # fmt: skip
    review = review_folder(project, tables_from_text(rows, project), RULEBOOK)
    given = [QUALIFIERS[code] for code in review.settled["results"].qualifier]
    assert given == ["J-", "UJ", "J+", "U", ""]
    gross = [{**rows["tracer_tests"][0], "train_reading": "4.2 %v"}]
    without = [row for row in rows["results"] if row["cas"] != HELIUM]
    review = review_folder(
        project, tables_from_text({**rows, "tracer_tests": gross, "results": without}, project), RULEBOOK
    )
    assert {QUALIFIERS[code] for code in review.settled["results"].qualifier} == {"R"}

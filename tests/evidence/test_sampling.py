"""Flows that add up, controllers, and what a piece of equipment met last."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.measures import MEASURES
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project

EMPTY = Rulebook((), (), (), {}, {}, {})
Row = dict[str, str]


def evidence(**tables: list[Row]) -> Evidence:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    return Evidence(tables_from_text(tables, project), project, EMPTY)


def drawn(sample_id: str, flow: str, begun: str, ended: str, **cells: str) -> Row:
    day = "2025-06-05T"
    return {
        "sample_id": sample_id, "kind": "primary", "matrix": "soil_gas", "probe_id": "P",
        "flow": f"{flow} mL/min" if flow else "", "started_at": day + begun if begun else "",
        "ended_at": day + ended if ended else "", **cells,
    }  # fmt: skip


def flows(*samples: Row) -> dict[str, tuple[float, float]]:
    ev = evidence(samples=list(samples))
    (found,) = ev.measure(MEASURES["sampling_flow"])
    (most,) = found.otherwise
    keys = ev.tables.tables["samples"].keys[found.row]
    return {
        key: (low, high) for key, low, high in zip(keys, found.value.tolist(), most.value.tolist(), strict=True)
    }  # fmt: skip


def test_samples_drawn_together_add_up():
    later = drawn("B", "80", "10:05", "10:15"), drawn("C", "70", "10:15", "10:20")
    found = flows(drawn("A", "90", "10:00", "10:10"), *later)
    assert found == {"A": (170, 170), "B": (170, 170), "C": (70, 70)}


def test_the_peak_and_not_the_sum_of_all_that_came_by():
    found = flows(
        drawn("A", "50", "10:00", "10:30"), drawn("B", "60", "10:00", "10:10"), drawn("C", "70", "10:10", "10:20"),
        drawn("D", "80", "10:20", "10:30"),
    )  # fmt: skip
    assert found == {"A": (130, 130), "B": (110, 110), "C": (120, 120), "D": (130, 130)}


def test_three_at_once():
    found = flows(*(drawn(name, "60", "10:00", "10:05") for name in "ABC"))
    assert set(found.values()) == {(180, 180)}


def test_an_unknown_end_may_overlap():
    found = flows(drawn("A", "90", "10:00", "10:10"), drawn("B", "80", "09:00", ""))
    assert found == {"A": (90, 170), "B": (80, 170)}


def test_a_duplicate_without_a_probe_draws_from_its_parents():
    duplicate = drawn("B", "80", "10:00", "10:10", kind="field_duplicate", parent_sample_id="A", probe_id="")
    assert flows(drawn("A", "90", "10:00", "10:10"), duplicate)["B"] == (170, 170)
    nowhere = drawn("A", "90", "10:00", "10:10", probe_id="")
    assert flows(nowhere, duplicate) == {"A": (170, 170), "B": (170, 170)}
    apart = drawn("C", "80", "10:00", "10:10", probe_id="")
    assert flows(nowhere, apart) == {"A": (90, 90), "C": (80, 80)}


def test_other_probes_and_other_samples_do_not_count():
    other = drawn("B", "80", "10:00", "10:10", probe_id="Q")
    air = drawn("C", "1000", "10:00", "10:10", kind="ambient_air", matrix="ambient_air")
    assert flows(drawn("A", "90", "10:00", "10:10"), other, air)["A"] == (90, 90)


def test_a_missing_flow_leaves_both_open():
    others = drawn("B", "", "10:00", "10:10"), drawn("C", "5", "11:00", "11:05")
    found = flows(drawn("A", "90", "10:00", "10:10"), *others)
    assert np.isnan([found["A"][0], found["B"][0]]).all()
    assert found["C"] == (5, 5)


@pytest.mark.parametrize(
    ("sample", "custody", "word"),
    [
        ({"controller_id": "F"}, None, "yes"),
        ({"controller_id": ""}, None, "no"),
        ({}, None, "unstated"),
        ({}, {"controller_id": "F"}, "yes"),
        ({"controller_id": ""}, {"controller_id": "F"}, "yes"),
        ({}, {"controller_id": ""}, "no"),
    ],
)
def test_whether_a_controller_was_on(sample, custody, word):
    row = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container": "canister", "vacuum_end": "1 inHg"}
    tables = {"samples": [{**row, **sample}]}
    if custody is not None:
        tables["custody"] = [{"custody_id": "C", "sample_id": "A", "step": "1", **custody}]
    (found,) = evidence(**tables).measure(MEASURES["canister_end"])
    assert found.cases["controller"].tolist() == [word]


def test_a_fill_needs_a_flow_above_nought():
    row = drawn("A", "0", "10:00", "10:05", container="canister", container_volume="1 L", barometer="30 inHg",
                vacuum_start="30 inHg", vacuum_end="5 inHg")  # fmt: skip
    (found,) = evidence(samples=[row]).measure(MEASURES["canister_fill"])
    assert np.isnan(found.value[0])
    assert found.want[0] >= 0


PROBES = [
    {"probe_id": "P1", "location_id": "L1", "tip_id": "T", "installed_at": "2025-06-05T08:00"},
    {"probe_id": "P2", "location_id": "L2", "tip_id": "T", "installed_at": "2025-06-05T12:00"},
]
TWO = [
    {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "probe_id": "P1", "started_at": "2025-06-05T10:00"},
    {"sample_id": "B", "kind": "primary", "matrix": "soil_gas", "probe_id": "P2", "started_at": "2025-06-05T14:00"},
]


def results(*cells: tuple[str, str, str, str]) -> list[Row]:
    return [
        {"sample_id": sample, "cas": cas, "analyte": cas, "result": result, "unit": unit, "reporting_limit": "1"}
        for sample, cas, result, unit in cells
    ]


@pytest.mark.parametrize(
    ("rows", "ratio"),
    [
        ([("A", "71-43-2", "10", "ug/m3"), ("B", "108-88-3", "5", "ug/m3")], 0.5),
        ([("A", "71-43-2", "10", "ug/m3"), ("B", "71-43-2", "ND", "ug/m3")], 0.0),
        # 10 ug/m3 of benzene (78.11 g/mol at 24.465 L/mol) is 3.132 ppbv.
        ([("A", "71-43-2", "10", "ug/m3"), ("B", "71-43-2", "3.132", "ppbv")], 1.0),
        # Neither the air's own gases nor the tracer make a place dirty.
        ([("A", "71-43-2", "10", "ug/m3"), ("A", "7727-37-9", "79", "%v"), ("B", "71-43-2", "20", "ug/m3"),
          ("B", "7440-59-7", "2", "%v")], 2.0),
    ],
)  # fmt: skip
def test_the_highest_detect_against_that_of_the_last_place(rows, ratio):
    (found,) = evidence(probes=PROBES, samples=TWO, results=results(*rows)).measure(MEASURES["over_last_place"])
    assert found.concerned.tolist() == [True]
    assert found.value[0] == pytest.approx(ratio, rel=1e-3)

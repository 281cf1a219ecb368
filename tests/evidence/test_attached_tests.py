"""Which test or purge belongs to which sample: by name, by probe and time, in the window, lent to a duplicate."""

from __future__ import annotations

import pytest

from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

Rows = list[dict[str, str]]
RULEBOOK = load_rulebook()
DAY = "2025-06-05T"


def sample(sample_id: str, begun: str = "", ended: str = "", **cells: str) -> dict[str, str]:
    """A soil-gas sample; times of day on 5 June, or whole stamps."""
    times = {"started_at": begun, "ended_at": ended}
    stamps = {name: text if "-" in text else DAY + text for name, text in times.items() if text}
    return {"sample_id": sample_id, "kind": "primary", "matrix": "soil_gas", **stamps, **cells}


def attached(table: str, rows: Rows, samples: Rows, **other: Rows) -> set[tuple[str, str]]:
    """Pairs (test, sample) that belong together."""
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    tables = tables_from_text({"samples": samples, table: rows, **other}, project)
    ev = Evidence(tables, project, RULEBOOK)
    found = {"tracer_tests": ev.tracer_tests, "purges": ev.purges, "shut_in_tests": ev.shut_in_tests}[table]
    keys, names = tables.tables[table].keys, ev.sample_ids.names
    return {(str(keys[row]), names[number]) for row, number in zip(found.row, found.sample, strict=True)}


def test_the_sample_that_a_row_names() -> None:
    rows = [{"test_id": "T1", "sample_id": "A"}, {"test_id": "T2", "sample_id": "B"}, {"test_id": "T3"}]
    assert attached("tracer_tests", rows, [sample("A"), sample("B")]) == {("T1", "A"), ("T2", "B")}


@pytest.mark.parametrize(
    ("at", "counts"),
    [
        ("2025-06-04T10:00", True),  # exactly 24 h before the start
        ("2025-06-04T09:59", False),
        (DAY + "10:06", True),  # exactly at the end
        (DAY + "10:07", False),
        ("2025-06-04", True),  # a date alone that lies partly inside
        ("2025-06-03", False),
        ("", True),  # without a time it counts for the sample that it names
    ],
)
def test_the_window_of_a_test(at: str, counts: bool) -> None:
    rows = [{"test_id": "T1", "sample_id": "A", "at": at}]
    found = attached("tracer_tests", rows, [sample("A", "10:00", "10:06")])
    assert found == ({("T1", "A")} if counts else set())


def test_a_purge_has_no_window() -> None:
    rows = [{"purge_id": "U1", "sample_id": "A", "ended_at": "2025-06-01T10:00"}]
    assert attached("purges", rows, [sample("A", "10:00", "10:06")]) == {("U1", "A")}


def test_the_window_is_elapsed_time_where_clocks_change() -> None:
    # 2 November 2025 has 25 hours in Denver: 10:30 the day before is 24.5 h before 10:00.
    project = Project(time_zone="America/Denver", lab_time_zone="America/Denver")
    tables = tables_from_text(
        {
            "samples": [sample("A", "2025-11-02T10:00", "2025-11-02T10:06")],
            "tracer_tests": [
                {"test_id": "T1", "sample_id": "A", "at": "2025-11-01T10:30"},
                {"test_id": "T2", "sample_id": "A", "at": "2025-11-01T11:00"},
            ],
        },
        project,
    )
    assert Evidence(tables, project, RULEBOOK).tracer_tests.row.tolist() == [1]


def test_a_row_that_names_a_probe_serves_until_the_next_one() -> None:
    samples = [
        sample("A", "10:00", "10:06", probe_id="P"), sample("B", "12:00", "12:06", probe_id="P"),
        sample("C", "09:00", "09:06", probe_id="P"), sample("D", "10:00", "10:06", probe_id="Q"),
    ]  # fmt: skip
    rows = [
        {"purge_id": "U1", "probe_id": "P", "started_at": DAY + "09:50"},
        {"purge_id": "U2", "probe_id": "P", "started_at": DAY + "11:50"},
        {"purge_id": "U3", "probe_id": "P"},  # without a time it cannot be told which sample came after it
    ]
    assert attached("purges", rows, samples) == {("U1", "A"), ("U2", "B")}


def test_a_row_begun_while_the_sample_was_drawn_counts_too() -> None:
    rows = [
        {"test_id": "T1", "probe_id": "P", "at": DAY + "09:50"}, {"test_id": "T2", "probe_id": "P", "at": DAY + "10:03"}
    ]  # fmt: skip
    samples = [sample("A", "10:00", "10:06", probe_id="P")]
    assert attached("tracer_tests", rows, samples) == {("T1", "A"), ("T2", "A")}


def test_a_row_that_names_a_sample_is_the_next_one_at_its_probe() -> None:
    samples = [sample("A", "10:00", "10:06", probe_id="P"), sample("B", "12:00", "12:06", probe_id="P")]
    rows = [
        {"purge_id": "U1", "probe_id": "P", "started_at": DAY + "09:50"},
        {"purge_id": "U2", "sample_id": "B", "started_at": DAY + "11:50"},
    ]
    assert attached("purges", rows, samples) == {("U1", "A"), ("U2", "B")}


def duplicate(begun: str, ended: str, **cells: str) -> dict[str, str]:
    return sample("AD", begun, ended, **{"kind": "field_duplicate", "parent_sample_id": "A", **cells})


@pytest.mark.parametrize(
    ("own", "lent"),
    [
        (duplicate("10:00", "10:06"), True),
        (duplicate("", ""), True),  # labelled as drawn together, and nothing says otherwise
        (duplicate("10:07", "10:13"), False),  # plainly drawn afterwards, whatever its label
        (duplicate("10:00", "10:06", kind="field_replicate"), False),
        (sample("AD", "10:00", "10:06", kind="field_duplicate"), False),  # of nobody
    ],
)
def test_a_simultaneous_duplicate_takes_its_parents_test(own: dict[str, str], lent: bool) -> None:
    rows = [{"test_id": "T1", "sample_id": "A", "at": DAY + "09:50"}]
    found = attached("tracer_tests", rows, [sample("A", "10:00", "10:06"), own])
    assert (("T1", "AD") in found) is lent


def test_a_parent_may_be_told_by_the_pair_id() -> None:
    samples = [
        sample("A", "10:00", "10:06", pair_id="1"),
        sample("AD", "10:00", "10:06", pair_id="1", kind="field_duplicate"),
    ]
    rows = [{"purge_id": "U1", "sample_id": "A"}]
    assert attached("purges", rows, samples) == {("U1", "A"), ("U1", "AD")}


def test_a_duplicate_with_a_test_of_its_own_borrows_none() -> None:
    rows = [{"purge_id": "U1", "sample_id": "A"}, {"purge_id": "U2", "sample_id": "AD"}]
    samples = [sample("A", "10:00", "10:06"), duplicate("10:00", "10:06")]
    assert attached("purges", rows, samples) == {("U1", "A"), ("U2", "AD")}


@pytest.mark.parametrize(
    "cells",
    [
        {"kind": "ambient_air", "matrix": "ambient_air"},
        {"kind": "trip_blank"},
        {"container": "passive_sampler"},
        {"matrix": "unknown"},
        {"kind": ""},
    ],
)
def test_rules_of_soil_gas_leave_other_samples_alone(cells: dict[str, str]) -> None:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    rows = {"samples": [sample("A", **cells)], "tracer_tests": [{"test_id": "T1", "sample_id": "A"}]}
    found = Evidence(tables_from_text(rows, project), project, RULEBOOK).tracer_tests
    assert (found.row.tolist(), found.elsewhere.tolist()) == ([], [True])


def test_a_row_whose_sample_nobody_knows_is_judged_by_itself() -> None:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    rows = {"samples": [sample("A")], "tracer_tests": [{"test_id": "T1", "sample_id": "AA"}]}
    found = Evidence(tables_from_text(rows, project), project, RULEBOOK).tracer_tests
    assert (found.row.tolist(), found.elsewhere.tolist()) == ([], [False])

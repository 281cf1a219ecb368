"""Elapsed time and calendar days: across a change of clocks, across zones, and where only a date is known."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.evidence import Evidence
from vaporqa.evidence.clocks import precedes
from vaporqa.evidence.measures import MEASURES
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
HOUR, DAY = 3600.0, 86_400.0


def evidence(collected: str, analysed: str, zone: str = "UTC", laboratory: str = "", **sample: str) -> Evidence:
    project = Project(time_zone=zone, lab_time_zone=laboratory or zone)
    kind = {"sample_id": "S", "kind": "primary", "matrix": "soil_gas", "container": "bag"}
    rows = {
        "samples": [{**kind, "ended_at": collected, **sample}],
        "results": [{"sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "analyzed_at": analysed}],
    }
    return Evidence(tables_from_text(rows, project), project, RULEBOOK)


def span(
    collected: str, analysed: str, zone: str = "UTC", laboratory: str = "", **sample: str
) -> tuple[float, float, float]:
    """Shortest and longest elapsed seconds, and calendar days."""
    (found,) = evidence(collected, analysed, zone, laboratory, **sample).measure(MEASURES["collection_to_analysis"])
    return tuple(float(found.extra[name][0]) for name in ("shortest", "longest", "days"))  # type: ignore[return-value]


@pytest.mark.parametrize(
    ("collected", "analysed", "hours"),
    [
        # The clocks of Denver went back at 2 o'clock on 3 November 2024 and forward at 2 o'clock on 10 March 2024.
        ("2024-11-03T00:30", "2024-11-03T05:30", 6),
        ("2024-11-02T12:00", "2024-11-03T12:00", 25),
        ("2024-03-10T00:30", "2024-03-10T07:30", 6),
        ("2024-03-09T12:00", "2024-03-10T12:00", 23),
        ("2024-05-01T12:00", "2024-05-02T12:00", 24),
    ],
)
def test_hours_over_a_change_of_clocks(collected: str, analysed: str, hours: float) -> None:
    shortest, longest, _ = span(collected, analysed, "America/Denver")
    assert shortest == longest == hours * HOUR


def test_calendar_days_are_local_dates_on_both_ends() -> None:
    late_evening = "2024-05-01T23:30"  # in Denver: the 2nd in New York and in UTC
    assert span(late_evening, "2024-05-31T23:59", "America/Denver", "America/New_York")[2] == 30
    assert span(late_evening, "2024-06-01T00:30", "America/Denver", "America/New_York")[2] == 31
    assert span("2024-05-02T05:30Z", "2024-06-01T03:59Z", "America/Denver", "America/New_York")[2] == 30


def test_a_day_on_which_clocks_change_is_still_one_day() -> None:
    assert span("2024-11-02", "2024-11-04", "America/Denver")[2] == 2
    assert span("2024-11-02T12:00", "2024-11-03T11:30", "America/Denver")[2] == 1


def test_a_date_alone_is_a_whole_local_day() -> None:
    shortest, longest, days = span("2024-05-01T08:00", "2024-05-02")
    assert shortest == 16 * HOUR
    assert longest == pytest.approx(40 * HOUR, abs=1e-3)
    assert days == 1
    shortest, longest, _ = span("2024-11-03", "2024-11-04", "America/Denver")
    assert shortest == pytest.approx(0.0, abs=1e-3)
    assert longest == pytest.approx(49 * HOUR, abs=1e-3)


def test_a_span_that_may_be_negative_is_at_least_nought() -> None:
    shortest, longest, days = span("2024-05-01T08:00", "2024-05-01")
    assert (shortest, days) == (0.0, 0.0)
    assert longest == pytest.approx(16 * HOUR, abs=1e-3)


def test_analysis_before_collection_is_not_measured() -> None:
    (found,) = evidence("2024-05-02T08:00", "2024-05-01T08:00").measure(MEASURES["collection_to_analysis"])
    assert not found.concerned[0]


@pytest.mark.parametrize(
    ("first", "second", "before"),
    [
        ("2024-05-01T08:00", "2024-05-01T08:01", True),
        ("2024-05-01T08:00", "2024-05-01T08:00", False),
        ("2024-05-01", "2024-05-01T08:00", False),
        ("2024-05-01", "2024-05-02T00:00", True),
        ("2024-05-01", "2024-05-02", True),
        ("2024-05-02", "2024-05-02", False),
    ],
)
def test_what_certainly_comes_before(first: str, second: str, before: bool) -> None:
    """Bare dates are compared as written, though the first is Eastern and the second Pacific."""
    times = evidence(first, second, "America/New_York", "America/Los_Angeles").result_times
    zoned = evidence(first, second).result_times
    if "T" in first or "T" in second:
        assert bool(precedes(zoned.collected, zoned.analysed)[0]) is before
    else:
        assert bool(precedes(times.collected, times.analysed)[0]) is before


def test_the_result_s_own_stamp_stands_in_only_where_the_sample_has_none() -> None:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    samples = [
        {"sample_id": "A", "ended_at": "2024-05-02T08:00"},
        {"sample_id": "B"},
        {"sample_id": "C", "ended_at": "?"},
    ]
    results = [
        {"sample_id": name, "analyte": "benzene", "cas": "71-43-2", "collected_at": "2024-05-01T08:00"}
        for name in "ABC"
    ]
    found = Evidence(tables_from_text({"samples": samples, "results": results}, project), project, RULEBOOK)
    collected = found.result_times.collected
    assert collected.known.tolist() == [True, True, False]
    assert collected.hard.tolist() == [False, False, True]
    assert np.diff(collected.low[:2]).tolist() == [-DAY * 1e6]

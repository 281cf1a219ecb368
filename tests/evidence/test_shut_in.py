"""Shut-in tests: how long they were held, what was lost, and whether the purge came after."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.measures import MEASURES
from vaporqa.intake import tables_from_text
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.project import Project

EMPTY = Rulebook((), (), (), {}, {}, {})
DAY = "2025-06-05T"
UNREADABLE = {"duration": "2O", "duration_unit": "s"}
SAMPLE = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "started_at": DAY + "10:00"}


def measured(name: str, test: dict[str, str], **tables: list[dict[str, str]]):
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    rows = {"shut_in_tests": [{"test_id": "T", "sample_id": "A", **test}], "samples": [SAMPLE], **tables}
    (found,) = Evidence(tables_from_text(rows, project), project, EMPTY).measure(MEASURES[name])
    return found


@pytest.mark.parametrize(
    ("cells", "seconds", "hard"),
    [
        ({"duration": "2 min"}, 120, False),
        ({"started_at": DAY + "09:50", "ended_at": DAY + "09:52:30"}, 150, False),
        ({"duration": "30 s", "started_at": DAY + "09:50", "ended_at": DAY + "09:55"}, 30, False),
        ({**UNREADABLE, "started_at": DAY + "09:50", "ended_at": DAY + "09:55"}, None, True),
        ({"started_at": "2025-06-04", "ended_at": "2025-06-05"}, None, False),
        ({"started_at": DAY + "09:50", "ended_at": DAY + "09:49"}, None, True),
        ({"started_at": DAY + "09:50"}, None, False),
    ],
)
def test_how_long_it_was_held(cells, seconds, hard):
    found = measured("shut_in_hold", cells)
    assert (None if np.isnan(found.value[0]) else found.value[0]) == seconds
    assert bool(found.hard[0]) is hard


def test_what_was_lost_in_two_units():
    found = measured("shut_in_decay", {"vacuum_start": "10 inHg", "vacuum_end": "135 inH2O"})
    assert found.value[0] / parse_unit("inH2O").factor == pytest.approx(135.951 - 135, abs=1e-3)
    assert found.facts["first"].values[0] == pytest.approx(135.951, abs=1e-3)


def test_a_vacuum_that_rose_lost_nothing():
    assert measured("shut_in_decay", {"vacuum_start": "100 inH2O", "vacuum_end": "101 inH2O"}).value[0] < 0


def purge(at: str) -> dict[str, list[dict[str, str]]]:
    return {"purges": [{"purge_id": "U", "sample_id": "A", "started_at": at}]}


@pytest.mark.parametrize(
    ("test", "purged", "seconds"),
    [
        ({"ended_at": DAY + "09:50"}, DAY + "09:55", 300),
        ({"started_at": DAY + "09:50", "duration": "2 min"}, DAY + "09:55", 180),
        ({"started_at": DAY + "09:50"}, DAY + "09:55", 300),
        ({"ended_at": DAY + "09:56"}, DAY + "09:55", -60),
        ({"ended_at": "2025-06-05"}, DAY + "09:55", None),  # the day alone leaves it open
        ({"ended_at": DAY + "09:50"}, "", None),
    ],
)
def test_from_the_end_of_the_test_to_the_purge(test, purged, seconds):
    found = measured("shut_in_to_purge", test, **purge(purged))
    assert (None if np.isnan(found.value[0]) else found.value[0]) == seconds


def test_the_first_purge_of_a_sample_counts():
    rows = [{"purge_id": f"U{m}", "sample_id": "A", "started_at": f"{DAY}09:{m}"} for m in (58, 51)]
    assert measured("shut_in_to_purge", {"ended_at": DAY + "09:50"}, purges=rows).value[0] == 60


def test_a_test_of_another_day_reaches_no_sample():
    found = measured("shut_in_vacuum", {"started_at": "2025-06-03T09:50", "vacuum_start": "50 inH2O"})
    assert found.row.tolist() == [0]
    assert not len(found.samples.target)


def test_a_test_without_a_time_says_so():
    assert measured("shut_in_vacuum", {"vacuum_start": "50 inH2O"}).facts["untimed"].values[0]
    assert not measured("shut_in_vacuum", {"started_at": DAY + "09:50"}).facts["untimed"].values[0]

"""Which barometer stands beside which gauge reading, and which of several receipts counts."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.pressures import ALTITUDE, OWN, WEATHER
from vaporqa.intake import tables_from_text
from vaporqa.quantities.pressures import standard_atmosphere
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.project import Project

EMPTY = Rulebook((), (), (), {}, {}, {})
Row = dict[str, str]


def canisters(sample: Row, altitude: float | None = None, lab_altitude: float | None = None, **tables: list[Row]):
    project = Project(time_zone="UTC", lab_time_zone="UTC", altitude_m=altitude, lab_altitude_m=lab_altitude)
    rows = {"samples": [{"sample_id": "A", "started_at": "2025-06-05T10:00", "ended_at": "2025-06-05T10:06", **sample}]}
    return Evidence(tables_from_text({**rows, **tables}, project), project, EMPTY).canisters


def inches(found) -> float | None:
    assert not (found.known[0] and found.hard[0])
    return round(float(found.value[0]) / parse_unit("inHg").factor, 6) if found.known[0] else None


def weather(*rows: tuple[str, str]) -> list[Row]:
    return [{"at": at, "barometer": f"{reading} inHg" if reading else ""} for at, reading in rows]


def test_own_then_weather_then_altitude():
    record = weather(("2025-06-05T08:00", "29.5"))
    own = canisters({"barometer": "29.1 inHg"}, 0.0, weather=record)
    assert (inches(own.start_barometer.pressure), own.start_barometer.source[0]) == (29.1, OWN)
    near = canisters({}, 0.0, weather=record)
    assert (inches(near.start_barometer.pressure), near.start_barometer.source[0]) == (29.5, WEATHER)
    high = canisters({}, 1500.0)
    assert high.end_barometer.pressure.value[0] == pytest.approx(float(standard_atmosphere(1500.0)))
    assert high.end_barometer.source[0] == ALTITUDE
    none = canisters({"vacuum_start": "29 inHg"})
    assert inches(none.start_pressure) is None
    assert not none.start_pressure.hard[0]
    assert none.start_barometer.source[0] == ""


@pytest.mark.parametrize(
    ("at", "used"),
    [("2025-06-04T22:00", True), ("2025-06-04T21:59", False), ("2025-06-05T22:00", True), ("2025-06-05T22:01", False)],
)
def test_a_weather_row_stands_for_twelve_hours(at, used):
    assert inches(canisters({}, weather=weather((at, "29.5"))).start_barometer.pressure) == (29.5 if used else None)


def test_the_nearest_row_and_of_two_the_earlier():
    rows = (("2025-06-05T07:00", "29.1"), ("2025-06-05T11:00", "29.2"), ("2025-06-05T09:00", "29.3"))
    for order in ((0, 1, 2), (2, 1, 0), (1, 2, 0)):
        found = canisters({}, weather=weather(*(rows[i] for i in order)))
        assert inches(found.start_barometer.pressure) == 29.3  # an hour before, and an hour after: the earlier
        assert inches(found.end_barometer.pressure) == 29.2  # 10:06 lies nearer to eleven


def test_nothing_steps_in_for_what_cannot_be_read():
    unreadable = {"barometer": "2B.1", "barometer_unit": "inHg"}
    for found in (
        canisters(unreadable, 0.0, weather=weather(("2025-06-05T10:00", "29.5"))),
        canisters({}, 0.0, weather=[{"at": "2025-06-05T10:00", **unreadable}]),
        canisters({}, 0.0, weather=weather(("2025-06-05T10:00", "29.5"), ("2025-06-05T10:00", "29.6"))),
        canisters({"started_at": "2025-06-05T1O:00"}, 0.0, weather=weather(("2025-06-05T10:00", "29.5"))),
    ):
        assert inches(found.start_barometer.pressure) is None
        assert found.start_barometer.pressure.hard[0]


def test_an_empty_barometer_is_passed_over():
    rows = weather(("2025-06-05T10:00", ""), ("2025-06-05T14:00", "29.5"))
    assert inches(canisters({}, 0.0, weather=rows).start_barometer.pressure) == 29.5


def test_a_date_stands_at_its_noon():
    sample = {"started_at": "2025-06-05", "ended_at": ""}
    near = canisters(sample, weather=weather(("2025-06-06T00:00", "29.5")))
    assert inches(near.start_barometer.pressure) == 29.5
    far = canisters(sample, weather=weather(("2025-06-06T00:01", "29.5")))
    assert inches(far.start_barometer.pressure) is None


def test_the_laboratory_has_its_own_altitude():
    found = canisters({"vacuum_receipt": "5 inHg", "barometer": "24 inHg"}, 1600.0, 0.0)
    assert found.receipt_pressure.value[0] == pytest.approx(101.325 - 5 * parse_unit("inHg").factor)
    assert inches(canisters({"vacuum_receipt": "5 inHg"}, 0.0).receipt_pressure) is None


def custody(*rows: tuple[str, str]) -> list[Row]:
    return [
        {"custody_id": f"C{n}", "sample_id": "A", "step": step, "vacuum_receipt": reading}
        for n, (step, reading) in enumerate(rows)
    ]


@pytest.mark.parametrize(
    ("rows", "own", "receipt"),
    [
        ([("1", ""), ("2", "5 inHg")], "4 inHg", 5),
        ([("10", "6 inHg"), ("9", "5 inHg")], "", 6),  # steps sort as numbers
        ([("1", "5 inHg"), ("2", "")], "", 5),  # the last row with a value
        ([("1", "")], "4 inHg", 4),
        ([], "4 inHg", 4),
        ([("2", "5 inHg"), ("2", "5 inHg")], "", 5),
    ],
)
def test_the_last_custody_row_with_a_value_else_the_sample(rows, own, receipt):
    found = canisters({"vacuum_receipt": own}, custody=custody(*rows)) if rows else canisters({"vacuum_receipt": own})
    assert inches(found.receipt) == receipt


@pytest.mark.parametrize("rows", [[("2", "5 inHg"), ("2", "6 inHg")], [("x", "5 inHg"), ("1", "5 inHg")]])
def test_two_last_receipts_are_ambiguous(rows):
    found = canisters({"vacuum_receipt": "4 inHg"}, custody=custody(*rows))
    assert inches(found.receipt) is None
    assert found.receipt.hard[0]


def test_the_stock_tells_the_vacuum_at_dispatch():
    stock = [{"container_id": "K", "vacuum_dispatch": "29 inHg"}]
    assert inches(canisters({"container_id": "K"}, containers=stock).dispatch) == 29
    assert inches(canisters({"container_id": "K", "vacuum_dispatch": "28 inHg"}, containers=stock).dispatch) == 28
    assert inches(canisters({"container_id": "L"}, containers=stock).dispatch) is None


def test_nothing_at_all():
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    found = Evidence(tables_from_text({}, project), project, EMPTY).canisters
    assert not len(found.start.value)
    assert not np.any(found.end_pressure.known)

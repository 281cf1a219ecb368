"""Rain in any 24 hours, by hand: rows as written up to an hour, longer ones spread evenly."""

from __future__ import annotations

import math

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.weather import RainGauge, rain_record
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project

EMPTY = Rulebook((), (), (), {}, {}, {})
INCH = 0.0254
HOUR = 3_600_000_000
TWO_DAYS = 48 * 3600.0


def at(text: str) -> int:
    return int(np.datetime64(text, "us").astype(np.int64))


def record(*rows: tuple[str, str, str]):
    project = Project(time_zone="UTC")
    cells = [
        {"at": when, "rain": f"{rain} in" if rain.replace(".", "").isdigit() else rain, "rain_unit": "in",
         "rain_period": f"{hours} h" if hours else ""}
        for when, rain, hours in rows
    ]  # fmt: skip
    return rain_record(Evidence(tables_from_text({"weather": cells}, project), project, EMPTY))


def gauge(*rows: tuple[str, str, str], heavy: float = 0.5) -> RainGauge:
    return RainGauge(record(*rows), heavy * INCH * (1 - 1e-9))


def hours(found) -> float:
    return found.seconds / 3600


DRY = ("2025-06-01T00:00", "0", "240")


def test_a_long_row_is_spread_evenly():
    rain = gauge(DRY, ("2025-06-03T00:00", "0.48", "48"))
    for when, inches in (("2025-06-02T00:00", 0.24), ("2025-06-02T06:00", 0.24), ("2025-06-03T12:00", 0.12)):
        assert rain.fallen(np.array([at(when)]))[0] / INCH == pytest.approx(inches)


def test_hourly_rows_count_as_written_and_leave_after_exactly_a_day():
    rain = gauge(DRY, ("2025-06-01T01:00", "0.3", "1"), ("2025-06-02T00:00", "0.3", "1"))
    assert rain.fallen(np.array([at("2025-06-02T00:59"), at("2025-06-02T01:00")])) / INCH == pytest.approx([0.6, 0.3])


def test_rows_an_hour_apart_need_no_period_and_lonely_ones_do():
    placed = record(DRY, ("2025-06-01T01:00", "0.3", ""), ("2025-06-01T03:00", "0.3", "")).placed
    assert placed.tolist() == [True, True, False]


def test_the_wait_begins_with_the_end_of_the_last_wet_row():
    rain = gauge(DRY, ("2025-06-02T01:00", "0.5", "1"), ("2025-06-02T06:00", "0.01", "1"))
    assert hours(rain.wait(at("2025-06-04T00:00"), TWO_DAYS)) == 42
    dry_between = gauge(DRY, ("2025-06-02T01:00", "0.5", "1"), ("2025-06-03T02:00", "0.01", "1"))
    assert hours(dry_between.wait(at("2025-06-04T01:00"), TWO_DAYS)) == 48  # a day and an hour later is another day


def test_rain_that_still_falls_leaves_no_wait():
    rain = gauge(DRY, ("2025-06-02T00:00", "0.6", "12"))
    assert hours(rain.wait(at("2025-06-01T23:00"), TWO_DAYS)) == 0  # 11 of 12 h: 0.55 in
    assert math.isnan(rain.wait(at("2025-06-01T20:00"), TWO_DAYS).seconds)  # 8 of 12 h: 0.4 in


def test_just_under_is_no_heavy_rain_and_a_sum_of_tenths_is_half_an_inch():
    tenths = [(f"2025-06-01T0{hour}:00", "0.1", "1") for hour in range(1, 6)]
    assert hours(gauge(DRY, *tenths).wait(at("2025-06-03T05:00"), TWO_DAYS)) == 48
    under = [*tenths[:4], ("2025-06-01T05:00", "0.099", "1")]
    assert math.isnan(gauge(DRY, *under).wait(at("2025-06-03T05:00"), TWO_DAYS).seconds)


def test_the_later_of_two_storms():
    rain = gauge(DRY, ("2025-06-01T06:00", "1", "1"), ("2025-06-03T06:00", "1", "1"))
    assert hours(rain.wait(at("2025-06-04T06:00"), TWO_DAYS)) == 24
    assert hours(rain.wait(at("2025-06-03T05:00"), TWO_DAYS)) == 47  # what came after the sample does not count


@pytest.mark.parametrize(
    ("rows", "complete"),
    [
        ([("2025-06-05T00:00", "0", "48")], True),
        ([("2025-06-05T00:00", "0", "47")], False),
        ([("2025-06-04T23:00", "0", "48")], False),  # an hour is missing before the sample
        ([("2025-06-04T00:00", "0", "24"), ("2025-06-05T12:00", "0", "36")], True),
        ([("2025-06-04T00:00", "0", "24"), ("2025-06-05T00:00", "0", "12")], False),
        # A shower within the wait: the day before it must be on record as well.
        ([("2025-06-04T00:00", "0.1", "24"), ("2025-06-05T00:00", "0", "24")], False),
        ([("2025-06-03T00:00", "0", "24"), ("2025-06-04T00:00", "0.1", "24"), ("2025-06-05T00:00", "0", "24")], True),
        # How much fell is written down, and not over what time.
        ([("2025-06-05T00:00", "0", "48"), ("2025-06-04T12:00", "0.3", "")], False),
    ],
)
def test_whether_the_record_would_have_shown_it(rows, complete):
    found = gauge(*rows).wait(at("2025-06-05T00:00"), TWO_DAYS)
    assert math.isnan(found.seconds)
    assert found.complete is complete


def test_an_unreadable_row_leaves_a_hole():
    found = gauge(("2025-06-04T00:00", "O.1", "24"), ("2025-06-05T00:00", "0", "24")).wait(
        at("2025-06-05T00:00"), TWO_DAYS
    )
    assert (found.complete, found.hard) == (False, True)


def test_the_order_of_rows_is_nothing():
    rows = [DRY, ("2025-06-02T01:00", "0.3", "1"), ("2025-06-02T09:00", "0.25", "6"), ("2025-06-03T00:00", "0", "15")]
    one, other = (gauge(*some).wait(at("2025-06-03T00:00"), TWO_DAYS) for some in (rows, rows[::-1]))
    assert one == other
    assert hours(one) == 15

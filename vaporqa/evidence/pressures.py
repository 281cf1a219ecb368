"""Canister pressures: four gauge readings of each sample and the barometer beside them, once for every rule. kPa.

Absolute pressure is the local barometer less the gauge vacuum. The barometer is the row's own, else that of the nearest
weather row within twelve hours, else the standard atmosphere at the declared altitude; at receipt it is the standard
atmosphere at the laboratory's altitude. With none of these the pressure is unknown, never assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import Known, Moment, known_number, missing_numbers, moments, numbers
from vaporqa.evidence.drawing import US_PER_H
from vaporqa.quantities.pressures import standard_atmosphere
from vaporqa.tables.values import Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: How far from a reading a weather row may lie to stand for its barometer (tables.md, Conventions).
_NEAR = 12 * US_PER_H
OWN, WEATHER, ALTITUDE = "the sample's own barometer", "the weather record", "the standard atmosphere of the altitude"


@dataclass(frozen=True, slots=True)
class Barometer:
    """Air pressure round a gauge, (n,), and where it comes from (empty where it is unknown)."""

    pressure: Known
    source: Texts


@dataclass(frozen=True, slots=True)
class CanisterPressures:
    """Readings by row of the samples table, (n,): gauge vacua, positive downward, and absolute pressures.

    Attributes
    ----------
    dispatch, start, end, receipt : Known
        Gauge vacuum as the laboratory sent it, in the field before and after the draw, and at the laboratory again.
    start_barometer, end_barometer : Barometer
        In the field, at either reading.
    receipt_barometer : Known
        Of the laboratory's altitude.
    start_pressure, end_pressure, receipt_pressure : Known
        Absolute. A nominal 30 inHg on a low barometer leaves less than nothing, and is kept so.
    """

    dispatch: Known
    start: Known
    end: Known
    receipt: Known
    start_barometer: Barometer
    end_barometer: Barometer
    receipt_barometer: Known
    start_pressure: Known
    end_pressure: Known
    receipt_pressure: Known


def canister_pressures(ev: Evidence) -> CanisterPressures:
    """Gather the readings and work out every absolute pressure."""
    table = ev.tables.get("samples")
    rows = table.rows if table is not None else 0
    began, ended = moments(table, "started_at"), moments(table, "ended_at")
    stock_row = _stock_rows(ev, table)
    dispatch = numbers(table, "vacuum_dispatch").or_else(
        numbers(ev.tables.get("containers"), "vacuum_dispatch").take(stock_row)
    )
    start, end = numbers(table, "vacuum_start"), numbers(table, "vacuum_end")
    receipt = last_receipt(ev, table).or_else(numbers(table, "vacuum_receipt"))
    at_start = barometers(ev, table, began.or_else(ended))
    at_end = barometers(ev, table, ended.or_else(began))
    at_receipt = _of_altitude(ev.project.lab_altitude_m, rows)
    return CanisterPressures(
        dispatch=dispatch, start=start, end=end, receipt=receipt, start_barometer=at_start, end_barometer=at_end,
        receipt_barometer=at_receipt, start_pressure=absolute(at_start.pressure, start),
        end_pressure=absolute(at_end.pressure, end), receipt_pressure=absolute(at_receipt, receipt),
    )  # fmt: skip


def absolute(barometer: Known, vacuum: Known) -> Known:
    """Barometer less gauge vacuum."""
    known = barometer.known & vacuum.known
    return Known(np.where(known, barometer.value - vacuum.value, np.nan), known, barometer.hard | vacuum.hard)


def barometers(ev: Evidence, table: Table | None, at: Moment) -> Barometer:
    """Barometer of each row: its own, else the nearest weather row's, else the standard atmosphere's."""
    return barometers_beside(ev, numbers(table, "barometer"), at)


def barometers_beside(ev: Evidence, own: Known, at: Moment) -> Barometer:
    """Barometer at each of several times (n,), where `own` (n,) holds what was read beside the gauge."""
    rows = len(at.low)
    near = nearest_weather(ev.tables.get("weather"), at)
    standard = _of_altitude(ev.project.altitude_m, rows)
    found = own.or_else(near).or_else(standard)
    source = np.select([own.known, near.known, standard.known], [OWN, WEATHER, ALTITUDE], default="").astype(object)
    return Barometer(found, np.where(found.known, source, ""))


def _of_altitude(altitude_m: float | None, rows: int) -> Known:
    return known_number(float(standard_atmosphere(altitude_m)) if altitude_m is not None else np.nan, rows)


def nearest_weather(weather: Table | None, at: Moment) -> Known:
    """Barometer of the weather row nearest to each time, within twelve hours; of two equally near ones the earlier.

    A date without a time stands at its noon. Weather rows of one instant that differ are ambiguous, and an unreadable
    barometer in the nearest row is one: nothing steps in for either.
    """
    size = len(at.low)
    if weather is None:
        return missing_numbers(size)
    reading, when = numbers(weather, "barometer"), moments(weather, "at")
    use = np.flatnonzero(weather.counts & when.known & (reading.known | reading.hard))
    if not use.size or not size:
        return Known(np.full(size, np.nan), np.zeros(size, bool), np.zeros(size, bool))
    times, group = np.unique(_middle(when)[use], return_inverse=True)
    low, high = np.full(len(times), np.inf), np.full(len(times), -np.inf)
    hard = np.zeros(len(times), bool)
    value = np.where(reading.known, reading.value, 0.0)[use]
    np.minimum.at(low, group.reshape(-1), value)
    np.maximum.at(high, group.reshape(-1), value)
    np.logical_or.at(hard, group.reshape(-1), reading.hard[use])
    hard |= low != high
    middle = _middle(at)
    right = np.clip(np.searchsorted(times, middle), 0, len(times) - 1)
    left = np.clip(right - 1, 0, len(times) - 1)
    nearest = np.where(np.abs(times[left] - middle) <= np.abs(times[right] - middle), left, right)
    within = at.known & (np.abs(times[nearest] - middle) <= _NEAR)
    known = within & ~hard[nearest]
    return Known(np.where(known, low[nearest], np.nan), known, (within & hard[nearest]) | at.hard)


def _middle(moment: Moment) -> Int64:
    return moment.low + (moment.high - moment.low + 1) // 2  # a date ends a microsecond before midnight


def _stock_rows(ev: Evidence, table: Table | None) -> Int64:
    rows = table.rows if table is not None else 0
    return ev.container_ids.rows_of(ev.container_ids.of("samples", "container_id", rows))


def container_volumes(ev: Evidence, table: Table | None) -> Known:
    """Volume of each sample's container, mL: its own row's, else the stock's."""
    stock = numbers(ev.tables.get("containers"), "container_volume").take(_stock_rows(ev, table))
    return numbers(table, "container_volume").or_else(stock)


def last_receipt(ev: Evidence, table: Table | None) -> Known:
    """Vacuum at receipt by row of samples: of the custody rows that state one, that of the last step.

    Two rows of one step that differ, or several rows of which one has no readable step, are ambiguous.
    """
    rows = table.rows if table is not None else 0
    custody = ev.tables.get("custody")
    if custody is None or not rows:
        return missing_numbers(rows)
    stated, step = numbers(custody, "vacuum_receipt"), numbers(custody, "step")
    number = ev.sample_ids.of("custody", "sample_id", custody.rows)
    use = np.flatnonzero(custody.counts & (number >= 0) & (stated.known | stated.hard))
    sample, count = number[use], ev.sample_count
    at = np.where(step.known, step.value, np.inf)[use]
    top = np.full(count, -np.inf)
    np.maximum.at(top, sample, at)
    last = at == top[sample]
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, sample[last], stated.value[use][last])
    np.maximum.at(high, sample[last], stated.value[use][last])
    hard, known = np.zeros(count, bool), np.zeros(count, bool)
    known[sample] = True
    hard[sample[last & stated.hard[use]]] = True
    several = np.bincount(sample, minlength=count) > 1
    hard[sample[~step.known[use] & several[sample]]] = True
    hard |= known & (low != high)
    known &= ~hard
    own = ev.sample_ids.of("samples", "sample_id", rows)
    return Known(np.where(known, low, np.nan), known, hard).take(own)

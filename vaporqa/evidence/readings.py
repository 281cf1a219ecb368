"""Quantities of the field readings: single gases, gases side by side, and their sum."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, words
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.instruments import (
    ARGON,
    BALANCE,
    CARBON_DIOXIDE,
    HELIUM,
    HYDROGEN_SULFIDE,
    METHANE,
    NITROGEN,
    OXYGEN,
    beside,
    meters,
    number_of,
)
from vaporqa.evidence.joins import group_numbers
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured
from vaporqa.evidence.reported import DETECTED, in_family
from vaporqa.quantities.units import BY_VOLUME
from vaporqa.tables.values import Float, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_PPBV_PER_PERCENT = 1e7
#: What the sum is made of; nitrogen or, where it is not read, what the meter calls the balance.
_PARTS = (METHANE, CARBON_DIOXIDE, OXYGEN, NITROGEN, BALANCE, ARGON, HELIUM)
_NEEDED = ((0, "the methane"), (1, "the carbon dioxide"), (2, "the oxygen"))
_PLACES = (("field_readings", "gas"),)


def _nothing() -> Measured:
    return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))


def _percent(value: Float) -> Amounts:
    return Amounts(value / _PPBV_PER_PERCENT, "%v")


def where_read(ev: Evidence, table: Table, rows: Int64) -> Labels:
    """Probe, else location, of field readings, as a person calls it."""
    probe, _ = words(table, "probe_id")
    location, _ = words(table, "location_id")
    named = np.where(
        probe != "", "probe " + probe, np.where(location != "", "location " + location, "a place that is not named")
    )
    return Labels(named[rows].astype(object))


def _one_gas(ev: Evidence, gas: str) -> Measured:
    table = ev.tables.get("field_readings")
    if table is None:
        return _nothing()
    met = meters(ev, table)
    rows = np.flatnonzero(table.counts & (met.analyte == number_of(ev, gas))).astype(np.int64)
    asked = Asked(rows, np.ones(len(rows), bool))
    reading = met.reading.take(rows)
    asked.need(reading, "the reading with its unit", ("field_readings", "reading"))
    return asked.measured(
        reading.value,
        facts={"place": where_read(ev, table, rows)},
        cases={"setting": words(table, "setting")[0][rows]},
        table="field_readings",
    )


def oxygen_reading(ev: Evidence) -> Measured:
    """Oxygen, ppbv, of each field reading of it."""
    return _one_gas(ev, OXYGEN)


def hydrogen_sulfide_reading(ev: Evidence) -> Measured:
    """Hydrogen sulfide, ppbv, of each field reading of it."""
    return _one_gas(ev, HYDROGEN_SULFIDE)


def methane_found(ev: Evidence) -> tuple[Measured, ...]:
    """Methane, ppbv, of each field reading and of each laboratory result that detected it."""
    return (_one_gas(ev, METHANE), *_methane_results(ev))


def _methane_results(ev: Evidence) -> tuple[Measured, ...]:
    results, table = ev.results, ev.tables.get("results")
    if results is None or table is None:
        return ()
    mine = judged_results(ev) & (results.detected == DETECTED) & (results.analyte == number_of(ev, METHANE))
    rows = np.flatnonzero(mine).astype(np.int64)
    value = in_family(
        results.result.take(rows), np.full(len(rows), BY_VOLUME, np.int8), ev.molar_mass(results.analyte[rows]),
        ev.molar_volume,
    )  # fmt: skip
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(Known(value.value, value.known, value.hard), "a result by volume", ("results", "result"))
    sample = results.sample[rows]
    matrix = np.append(ev.samples.matrix, "")[sample]
    names = np.array([*ev.sample_ids.names, ""], dtype=object)[sample]
    return (
        asked.measured(
            value.value,
            facts={"place": Labels(("sample " + names).astype(object))},
            cases={"setting": np.where(matrix == "indoor_air", "structure", "").astype(object)},
            table="results",
        ),
    )


def _side_by_side(ev: Evidence, own: str, other: str, phrase: str, *, shown: bool) -> Measured:
    """Entries of one gas that need the other at the same probe and time; the value is the one that is `shown`."""
    table = ev.tables.get("field_readings")
    if table is None:
        return _nothing()
    met = meters(ev, table)
    rows = np.flatnonzero(table.counts & (met.analyte == number_of(ev, own))).astype(np.int64)
    mine, theirs = met.reading.take(rows), beside(ev, met, other, rows)
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(theirs, phrase, *_PLACES)
    if shown:
        asked.need(mine, "the reading with its unit", ("field_readings", "reading"))
    facts: Facts = {
        "place": where_read(ev, table, rows), "own": _percent(mine.value), "other": _percent(theirs.value),
    }  # fmt: skip
    return asked.measured(mine.value if shown else theirs.value, facts=facts)


def oxygen_at_meter(ev: Evidence) -> Measured:
    """Oxygen, ppbv, where carbon dioxide was read at the same probe and time."""
    return _side_by_side(ev, OXYGEN, CARBON_DIOXIDE, "the carbon dioxide at the same probe and time", shown=True)


def carbon_dioxide_at_meter(ev: Evidence) -> Measured:
    """Carbon dioxide, ppbv, at the probe and time of each oxygen reading."""
    measured = oxygen_at_meter(ev)
    other = measured.facts.get("other")
    if not isinstance(other, Amounts):
        return measured
    asked = Asked(measured.row, measured.concerned)
    asked.need(measured.want < 0, "the carbon dioxide at the same probe and time", *_PLACES)
    return asked.measured(other.values * _PPBV_PER_PERCENT, facts=measured.facts)


def oxygen_beside_methane(ev: Evidence) -> Measured:
    """Oxygen, ppbv, at the probe and time of each methane reading."""
    return _side_by_side(ev, METHANE, OXYGEN, "the oxygen at the same probe and time", shown=False)


def gas_balance(ev: Evidence) -> Measured:
    """Sum of the gases of one probe and time, as a share of the whole; each reading in the sum is an entry.

    Readings of one probe and time are taken meter by meter where a gas was read twice. A mark of nondetection counts
    as nought.
    """
    table = ev.tables.get("field_readings")
    if table is None:
        return _nothing()
    met = meters(ev, table)
    part = np.full(table.rows, -1, np.int64)
    for index, gas in enumerate(_PARTS):
        part[met.analyte == number_of(ev, gas)] = index
    rows = np.flatnonzero(table.counts & (part >= 0)).astype(np.int64)
    moment, timed = met.moment[rows], met.moment[rows] >= 0
    group, count = group_numbers(moment)
    twice = _counts(group, part[rows], count).max(axis=1, initial=0) > 1
    group, count = group_numbers(group, np.where(twice[group], met.instrument[rows], -1))
    found, of = _counts(group, part[rows], count), part[rows]
    reading = met.reading.take(rows)
    use = ~((of == 4) & (found[group, 3] > 0))  # nitrogen itself makes the balance idle
    total = np.zeros(count)
    np.add.at(total, group[use], reading.value[use])
    unread, hard = np.zeros(count, bool), np.zeros(count, bool)
    np.logical_or.at(unread, group[use], ~reading.known[use])
    np.logical_or.at(hard, group[use], reading.hard[use])
    asked = Asked(rows, use)
    asked.need(timed, "the probe and the time", ("field_readings", "at"))
    asked.need(~met.at.date_only[rows], "the time of day", ("field_readings", "at"))
    for index, phrase in _NEEDED:
        asked.need(found[group, index] > 0, f"{phrase} at the same probe and time", *_PLACES)
    asked.need(found[group, 3] + found[group, 4] > 0, "the nitrogen or balance at the same probe and time", *_PLACES)
    asked.need(
        Known(total[group], ~unread[group], hard[group]), "the reading with its unit", ("field_readings", "reading")
    )
    again = found.max(axis=1, initial=0)[group] > 1
    asked.need(~again, "which of two readings of one gas counts")
    asked.hard_where(again & timed)
    return asked.measured(total[group] / (100 * _PPBV_PER_PERCENT), facts={"place": where_read(ev, table, rows)})


def _counts(group: Int64, part: Int64, count: int) -> Int64:
    out = np.zeros((count, len(_PARTS)), np.int64)
    np.add.at(out, (group, part), 1)
    return out

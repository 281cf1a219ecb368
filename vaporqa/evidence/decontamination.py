"""Carry-over and equipment blanks: what an uncleaned move or a dirty blank taints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import moments, words
from vaporqa.evidence.collected import GAS_MATRICES
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured
from vaporqa.evidence.reported import DETECTED, NONDETECT, in_family
from vaporqa.evidence.time_order import FIRST, LAST
from vaporqa.evidence.uses import samples_of_use
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Float, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Units in which water is reported; a gas blank is reported by volume or per cubic metre.
_WATER_UNITS = ("ug/l", "µg/l", "μg/l", "mg/l", "ng/l")


def carried_share(ev: Evidence) -> Measured:
    """A detect over the highest detect of that analyte at the equipment's last location, after an uncleaned move."""
    results = ev.results
    rows: list[Int64] = []
    highest: list[Float] = []
    places: list[str] = []
    if results is not None:
        for move in ev.moves:
            if move.outcome is not Outcome.BROKEN or move.same_location:
                continue
            drawn = samples_of_use(ev, move.use, ev.uses_of_equipment[move.use.equipment])
            tainted = ev.results_of_samples(drawn)
            tainted = tainted[(results.detected[tainted] == DETECTED) & (ev.in_use[tainted] != 0)]
            rows.append(tainted)
            highest.append(_highest_at(ev, move.before.location, tainted))
            places.extend(
                [ev.location_ids.names[move.before.location] if move.before.location >= 0 else ""] * len(tainted)
            )
    row = np.concatenate(rows) if rows else np.empty(0, np.int64)
    top = np.concatenate(highest) if highest else np.empty(0)
    asked = Asked(row, np.isfinite(top) & (top > 0))
    asked.need(
        results.result.known[row] if results is not None else np.zeros(0, bool), "the result", ("results", "result")
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (results.result.value[row] if results is not None else top) / top
    facts: Facts = {
        "analyte": Labels(ev.analyte_names(row)),
        "last_location": Labels(np.array(places, dtype=object)),
        "highest": ev.shown(top, results.result.family[row]) if results is not None else Amounts(top),
        "result": ev.shown(results.result.value[row], results.result.family[row])
        if results is not None
        else Amounts(top),
    }
    return asked.measured(share, facts=facts)


def _highest_at(ev: Evidence, location: int, rows: Int64) -> Float:
    """Highest detect at a location of the analyte of each row, in the row's family; nan where none."""
    results = ev.results
    assert results is not None
    out = np.full(len(rows), np.nan)
    there = ev.drawn_at_location.get(location)
    if there is None or not len(rows):
        return out
    source = ev.results_of_samples(there)
    source = source[(results.detected[source] == DETECTED) & (ev.in_use[source] != 0)]
    for family in np.unique(results.result.family[rows]).tolist():
        wanted = np.full(len(source), family, np.int8)
        mass = ev.molar_mass(results.analyte[source])
        values = in_family(results.result.take(source), wanted, mass, ev.molar_volume)
        top = np.full(len(ev.analytes.cas) + 1, np.nan)
        for analyte, value in zip(results.analyte[source].tolist(), values.value.tolist(), strict=True):
            top[analyte] = np.fmax(top[analyte], value)
        mine = results.result.family[rows] == family
        out[mine] = top[results.analyte[rows[mine]]]
    return out


@dataclass(frozen=True, slots=True)
class EquipmentBlank:
    """One blank of one piece of equipment: its log row, sample, and result rows."""

    row: int
    equipment: int
    at: tuple[int, int]
    timed: bool
    sample: int
    results: Int64
    water: bool


@dataclass(frozen=True, slots=True)
class Taint:
    """Results tainted by one blank event, (k,): the blank's value in the result's family; nan for water blanks."""

    blank: EquipmentBlank
    rows: Int64
    level: Float
    source: Int64


def equipment_blanks(ev: Evidence) -> list[EquipmentBlank]:
    """Every blank event of the log, in time order."""
    log, results = ev.tables.get("equipment_log"), ev.results
    if log is None:
        return []
    event, _ = words(log, "event")
    at = moments(log, "at")
    equipment = ev.equipment_ids.of("equipment_log", "equipment_id", log.rows)
    sample = ev.sample_ids.of("equipment_log", "sample_id", log.rows)
    out = []
    for row in np.flatnonzero(log.counts & (event == "blank") & (equipment >= 0)).tolist():
        number = int(sample[row])
        rows = ev.results_of_samples(np.array([number])) if number >= 0 else np.empty(0, np.int64)
        if results is not None:
            rows = rows[ev.in_use[rows] != 0]
        out.append(
            EquipmentBlank(
                row=row, equipment=int(equipment[row]), at=(int(at.low[row]), int(at.high[row])),
                timed=bool(at.known[row]), sample=number, results=rows, water=is_water(ev, number, rows),
            )
        )  # fmt: skip
    return sorted(out, key=lambda blank: (blank.at, blank.row))


def is_water(ev: Evidence, sample: int, rows: Int64) -> bool:
    """Water blanks tell presence or absence only; of unknown matrix the unit decides."""
    matrix = str(ev.samples.matrix[sample]) if sample >= 0 else ""
    if matrix == "water":
        return True
    if matrix in GAS_MATRICES or not len(rows):
        return False
    table, results = ev.tables.get("results"), ev.results
    assert table is not None
    assert results is not None
    amount = table.amount(f"result{results.form}")
    units = {amount.unit_at(int(row)).casefold().replace(" ", "") for row in rows} if amount is not None else set()
    return bool(units & set(_WATER_UNITS))


def taints(ev: Evidence) -> list[Taint]:
    """What each blank with a detect taints, analyte by analyte, between the clean blanks on either side."""
    results = ev.results
    if results is None:
        return []
    out = []
    for blank in ev.equipment_blanks:
        dirty = blank.results[results.detected[blank.results] == DETECTED]
        if not dirty.size:
            continue
        tainted, of = hanging_on(ev, blank, dirty)
        out.append(Taint(blank, tainted, _level(ev, blank, of, tainted), of))
    return out


def hanging_on(ev: Evidence, blank: EquipmentBlank, blank_rows: Int64) -> tuple[Int64, Int64]:
    """Results that hang on some results of a blank, analyte by analyte, and which of these each hangs on."""
    results = ev.results
    assert results is not None
    rows: list[Int64] = [np.empty(0, np.int64)]
    source: list[Int64] = [np.empty(0, np.int64)]
    for row in blank_rows.tolist():
        analyte = int(results.analyte[row])
        after, before = _window(ev, blank, analyte)
        hit = ev.results_of_samples(_drawn_between(ev, blank.equipment, after, before))
        hit = hit[(results.analyte[hit] == analyte) & (ev.in_use[hit] != 0)]
        rows.append(hit)
        source.append(np.full(len(hit), row, np.int64))
    return np.concatenate(rows), np.concatenate(source)


def _window(ev: Evidence, blank: EquipmentBlank, analyte: int) -> tuple[int, int]:
    """From the last clean blank of this analyte before the blank to the next clean one after it."""
    results = ev.results
    assert results is not None
    after, before = FIRST, LAST
    if not blank.timed:
        return after, before
    for other in ev.equipment_blanks:
        if other.equipment != blank.equipment or other is blank or not other.timed:
            continue
        same = other.results[results.analyte[other.results] == analyte]
        if not same.size or np.any(results.detected[same] != NONDETECT):
            continue
        if other.at[1] <= blank.at[0]:
            after = max(after, other.at[0])
        elif other.at[0] >= blank.at[1]:
            before = min(before, other.at[1])
    return after, before


def _drawn_between(ev: Evidence, equipment: int, after: int, before: int) -> Int64:
    """Samples drawn with a piece of equipment that may have been begun between two instants."""
    drawn = ev.samples_drawn_with(equipment)
    when = ev.drawn_when
    return drawn[~when.known[drawn] | ((when.high[drawn] >= after) & (when.low[drawn] <= before))]


def _level(ev: Evidence, blank: EquipmentBlank, source: Int64, rows: Int64) -> Float:
    """Blank values in the family of the results they taint; nan for water, infinite where no unit is shared."""
    results = ev.results
    assert results is not None
    if blank.water:
        return np.full(len(rows), np.nan)
    values = results.result.take(source)
    family = results.result.family[rows]
    limit = results.reporting_limit.family[rows]
    family = np.where(family > 0, family, limit).astype(np.int8)
    level = in_family(values, family, ev.molar_mass(results.analyte[source]), ev.molar_volume)
    return np.where(level.known, level.value, np.inf)


def samples_with_blank_unknown(ev: Evidence, blank: EquipmentBlank) -> Int64:
    """Samples drawn with the equipment of a blank that has no results, between the blanks on either side of it."""
    after, before = FIRST, LAST
    for other in ev.equipment_blanks:
        if (
            other.equipment == blank.equipment
            and other is not blank
            and other.results.size
            and blank.timed
            and other.timed
        ):
            if other.at[1] <= blank.at[0]:
                after = max(after, other.at[0])
            elif other.at[0] >= blank.at[1]:
                before = min(before, other.at[1])
    return _drawn_between(ev, blank.equipment, after, before)

"""Meters at the probe: what they read at one probe and time, and the checks against known gas around each reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, moments, words
from vaporqa.evidence.joins import group_numbers, ids_of, pairs_by_group
from vaporqa.evidence.judged import Amounts, Labels, Links, Measured, Stamps
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.evidence.reported import in_family
from vaporqa.evidence.reported import values_of as amounts_of
from vaporqa.quantities.units import BY_VOLUME
from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Int8, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

METHANE, CARBON_DIOXIDE, OXYGEN, NITROGEN = "74-82-8", "124-38-9", "7782-44-7", "7727-37-9"
ARGON, HELIUM, HYDROGEN_SULFIDE = "7440-37-1", "7440-59-7", "7783-06-4"
#: What is left to the whole: the meter reckons it from its other gases, and there is no such gas to check it with.
BALANCE = "balance"

_GAS_PLACES = {"field_readings": ("field_readings", "gas"), "tracer_tests": ("tracer_tests", "tracer")}
_CHECK_COLUMNS = ("instrument_checks", "*")


@dataclass(frozen=True, slots=True)
class Checks:
    """Checks of meters against known gas, (k,): rows whose expected reading is nought say nothing per cent."""

    row: Int64
    instrument: Int64
    analyte: Int64
    at: Moment
    expected: Float
    found: Float
    family: Int8
    off: Known
    #: Place of the key among the keys: it decides between equals, so that the order of the file does not.
    rank: Int64
    #: Instrument and gas, (2, j), of checks whose time cannot be read: which readings they stand beside is open.
    adrift: Int64


def _checks(ev: Evidence) -> Checks | None:
    table = ev.tables.get("instrument_checks")
    if table is None:
        return None
    at = moments(table, "at")
    analyte = ev.analytes.of["instrument_checks"]
    expected = amounts_of(table.amount("expected"), table.rows)
    mass = ev.molar_mass(analyte)
    found = in_family(amounts_of(table.amount("reading"), table.rows), expected.family, mass, ev.molar_volume)
    instrument = ids_of(ev.tables, "instruments").of("instrument_checks", "instrument_id", table.rows)
    zero = expected.known & (expected.value == 0)
    row = np.flatnonzero(table.counts & (instrument >= 0) & (analyte >= 0) & at.known & ~zero).astype(np.int64)
    lost = table.counts & (instrument >= 0) & (analyte >= 0) & at.hard & ~at.known & ~zero
    known = expected.known & found.known
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.where(known, (found.value - expected.value) / expected.value, np.nan)
    return Checks(
        row, instrument[row], analyte[row], at.take(row), expected.value[row], found.value[row], expected.family[row],
        Known(off[row], known[row], (expected.hard | found.hard)[row]),
        np.unique(table.keys[row].astype(str), return_inverse=True)[1].astype(np.int64),
        np.stack([instrument[lost], analyte[lost]]).astype(np.int64),
    )  # fmt: skip


def check_before(ev: Evidence) -> tuple[Measured, ...]:
    """How far off the meter was at the last check of that gas that day before each reading, by table."""
    return _around(ev, later=False)


def check_after(ev: Evidence) -> tuple[Measured, ...]:
    """How far off the meter was at the next later check of that gas after each reading, by table."""
    return _around(ev, later=True)


def _around(ev: Evidence, *, later: bool) -> tuple[Measured, ...]:
    checks = _checks(ev)
    found = [
        _around_rows(ev, table, checks, later=later)
        for name in ("field_readings", "tracer_tests")
        if (table := ev.tables.get(name)) is not None
    ]
    return tuple(found) or (Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0)),)


def _around_rows(ev: Evidence, table: Table, checks: Checks | None, *, later: bool) -> Measured:
    n = table.rows
    rows = np.arange(n, dtype=np.int64)
    instrument = ids_of(ev.tables, "instruments").of(table.name, "instrument_id", n)
    analyte, at = ev.analytes.of[table.name], moments(table, "at")
    read = _read_by_meter(table, instrument) & (analyte != number_of(ev, BALANCE))
    asked = Asked(rows, table.counts & read)
    asked.need(instrument >= 0, "the instrument", (table.name, "instrument_id"))
    asked.need(at, "the time of the reading", (table.name, "at"))
    asked.need(analyte >= 0, "the gas", _GAS_PLACES[table.name])
    what = "a later check of that gas" if later else "a check of that gas that day before the reading"
    asked.need(np.full(n, checks is not None), what, _CHECK_COLUMNS)
    if checks is not None and checks.adrift.size:
        adrift = _stand_beside(checks.adrift, instrument, analyte)
        asked.need(Known(np.zeros(n), ~adrift, adrift), "the time of a check of that gas", ("instrument_checks", "at"))
    if checks is None or not len(checks.row):
        asked.need(np.zeros(n, bool), what)
        chosen = np.full(n, -1, np.int64)
    else:
        chosen, undecided = _choose(checks, instrument, analyte, at, later=later)
        asked.need(~undecided, "the time of day of the check or of the reading")
        asked.need(chosen >= 0, what)
    off = _taken(checks.off, chosen) if checks is not None else Known(np.full(n, np.nan), chosen >= 0, chosen >= 0)
    asked.need(
        off, "what the meter read in the check and should have read", ("instrument_checks", "expected"),
        ("instrument_checks", "reading"), rows=chosen >= 0,
    )  # fmt: skip
    samples = samples_of_rows(ev, table) if table.name == "tracer_tests" else Links.none()
    names = np.array([*ev.analytes.name, "the gas"], dtype=object)
    ids = np.array([*ids_of(ev.tables, "instruments").names, "the meter"], dtype=object)
    return asked.measured(
        off.value,
        facts={"gas": Labels(names[analyte]), "instrument": Labels(ids[instrument]), **_facts(ev, checks, chosen)},
        cases={"on": np.full(n, table.name, object)},
        samples=samples,
        table=table.name,
    )


def _stand_beside(adrift: Int64, instrument: Int64, analyte: Int64) -> Bool:
    """Readings of a meter and gas of which there is a check at a time that cannot be read."""
    count = adrift.shape[1]
    both, _ = group_numbers(np.concatenate([adrift[0], instrument]), np.concatenate([adrift[1], analyte]))
    return np.isin(both[count:], both[:count])


def _read_by_meter(table: Table, instrument: Int64) -> Bool:
    """Every field reading; a tracer test unless it names no meter and its tracer is the laboratory's affair."""
    if table.name != "tracer_tests":
        return np.ones(table.rows, bool)
    basis, _ = words(table, "basis")
    approach, _ = words(table, "approach")
    return np.asarray((instrument >= 0) | ((basis != "laboratory") & (approach != "cloth")))


def _taken(part: Known, row: Int64) -> Known:
    return part.take(row) if len(part.value) else Known(np.full(row.shape, np.nan), row >= 0, row >= 0)


def _facts(ev: Evidence, checks: Checks | None, chosen: Int64) -> dict[str, Amounts | Labels | Stamps]:
    n, nothing = len(chosen), np.full(len(chosen), np.nan)
    table = ev.tables.get("instrument_checks")
    if checks is None or table is None or not len(checks.row):
        blank = Labels(np.full(n, "", object))
        zero = np.zeros(n, np.int64)
        return {"check": blank, "expected": Amounts(nothing), "found": Amounts(nothing),
                "checked_at": Stamps(zero, np.zeros(n, bool))}  # fmt: skip
    safe, met = np.maximum(chosen, 0), chosen >= 0
    family = checks.family[safe]
    at = checks.at.take(chosen)
    return {
        "check": Labels(np.where(met, table.keys[checks.row[safe]], "").astype(object)),
        "expected": _as_percent(np.where(met, checks.expected[safe], np.nan), family, ev),
        "found": _as_percent(np.where(met, checks.found[safe], np.nan), family, ev),
        "checked_at": Stamps(at.low, at.date_only),
    }


def _as_percent(value: Float, family: Int8, ev: Evidence) -> Amounts:
    """Parts by volume from one per mille up are read in per cent, smaller ones in ppmv, as on the meter."""
    shown = ev.shown(value, family)
    if isinstance(shown.unit, str):
        return Amounts(shown.values, shown.unit, digits=5)
    large, small = (family == BY_VOLUME) & (value >= 1e6), (family == BY_VOLUME) & (value < 1e6)
    unit = np.where(large, "%v", np.where(small, "ppmv", shown.unit)).astype(object)
    return Amounts(np.where(large, value / 1e7, np.where(small, value / 1e3, value)), unit, digits=5)


def _choose(checks: Checks, instrument: Int64, analyte: Int64, at: Moment, *, later: bool) -> tuple[Int64, Bool]:
    """Index into `checks` of the check that counts for each reading (-1 none), and where stamps leave it open.

    Of several checks at one instant the one that is furthest off counts.
    """
    n = len(instrument)
    both, _ = group_numbers(np.concatenate([checks.instrument, instrument]), np.concatenate([checks.analyte, analyte]))
    of_check, of_reading = both[: len(checks.row)], both[len(checks.row) :]
    usable = (instrument >= 0) & (analyte >= 0) & at.known
    days, day_count = group_numbers(both, np.concatenate([checks.at.day, np.where(usable, at.day, -1)]))
    entry, check = pairs_by_group(np.where(usable, days[len(checks.row) :], -1), days[: len(checks.row)], day_count)
    sure = checks.at.high[check] <= at.low[entry]
    open_pair = ~sure & (checks.at.low[check] <= at.high[entry])
    undecided = np.zeros(n, bool)
    undecided[entry[open_pair]] = True
    far = np.where(checks.off.known, np.abs(checks.off.value), np.inf)
    chosen = np.full(n, -1, np.int64)
    if not later:
        entry, check = entry[sure], check[sure]
        order = np.lexsort((checks.rank[check], far[check], checks.at.high[check], entry))
        chosen[entry[order]] = check[order]
        return chosen, undecided
    times, rank = np.unique(np.concatenate([checks.at.low, np.where(usable, at.high, 0)]), return_inverse=True)
    width = len(times) + 1
    place = of_check * width + rank[: len(checks.row)]
    order = np.lexsort((-checks.rank, -far, place))
    at_most = np.searchsorted(place[order], of_reading * width + rank[len(checks.row) :], side="right")
    inside = usable & (at_most < len(order))
    following = order[np.minimum(at_most, len(order) - 1)]
    inside &= of_check[following] == of_reading
    chosen[inside] = following[inside]
    return chosen, undecided


@dataclass(frozen=True, slots=True)
class Meters:
    """Field readings in the terms of the rules, (n,) by row.

    Attributes
    ----------
    place : int64
        Number of the probe, else of the location; -1 where neither is named.
    moment : int64
        Number of the place and time together; -1 where one of them is not known.
    instrument, analyte : int64
    reading : Known
        ppbv; a bare mark of nondetection counts as nought.
    at : Moment
    """

    place: Int64
    moment: Int64
    instrument: Int64
    analyte: Int64
    reading: Known
    at: Moment


def meters(ev: Evidence, table: Table) -> Meters:
    """Read the field readings."""
    n = table.rows
    probe = ev.probe_ids.of("field_readings", "probe_id", n)
    location = ev.location_ids.of("field_readings", "location_id", n)
    place = np.where(probe >= 0, 2 * probe, np.where(location >= 0, 2 * location + 1, -1))
    at = moments(table, "at")
    group, _ = group_numbers(place, np.unique(at.low, return_inverse=True)[1], at.date_only.astype(np.int64))
    analyte = ev.analytes.of["field_readings"]
    amount = table.amount("reading")
    given = amounts_of(amount, n)
    volume = in_family(given, np.full(n, BY_VOLUME, np.int8), ev.molar_mass(analyte), ev.molar_volume)
    mark = np.zeros(n, bool) if amount is None else amount.nondetect & (amount.state != READ)
    unread = np.zeros(n, bool) if amount is None else amount.state == UNREADABLE
    reading = Known(np.where(mark, 0.0, volume.value), volume.known | mark, volume.hard | unread)
    return Meters(
        place, np.where((place >= 0) & at.known & table.counts, group, -1),
        ids_of(ev.tables, "instruments").of("field_readings", "instrument_id", n), analyte, reading, at,
    )  # fmt: skip


def number_of(ev: Evidence, gas: str) -> int:
    """Number of a gas; -2 where no table names it (-1 is a row that names none)."""
    found = ev.analytes.number(gas, ev.names)
    return found if found >= 0 else -2


def beside(ev: Evidence, met: Meters, gas: str, rows: Int64) -> Known:
    """The reading of another gas at the same probe and time: of the same meter first, else of any.

    Two different readings that nothing tells apart are hard.
    """
    source = np.flatnonzero((met.analyte == number_of(ev, gas)) & (met.moment >= 0))
    out = Known(np.full(len(rows), np.nan), np.zeros(len(rows), bool), np.zeros(len(rows), bool))
    for split in (met.instrument, np.zeros(len(met.instrument), np.int64)):
        both, count = group_numbers(
            np.concatenate([met.moment[source], met.moment[rows]]), np.concatenate([split[source], split[rows]])
        )
        of, here = both[: len(source)], both[len(source) :]
        low, high = np.full(count, np.inf), np.full(count, -np.inf)
        unread = np.zeros(count, bool)
        np.logical_or.at(unread, of, ~met.reading.known[source])
        np.minimum.at(low, of, np.where(met.reading.known[source], met.reading.value[source], np.inf))
        np.maximum.at(high, of, np.where(met.reading.known[source], met.reading.value[source], -np.inf))
        known = (met.moment[rows] >= 0) & (low == high)[here] & ~unread[here]
        hard = (met.moment[rows] >= 0) & ((low < high) | unread)[here]
        value = np.where(known, low[here], np.nan)
        if split is met.instrument:
            hard = np.zeros(len(rows), bool)  # another meter may still tell
        out = out.or_else(Known(value, known, hard))
    return out


__all__ = ["Checks", "Meters", "beside", "check_after", "check_before", "meters", "number_of"]

"""What blanks hold, and the highest of them beside each result, brought to the unit of the result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import pick
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.judged import Measured
from vaporqa.evidence.reported import DETECTED, NONDETECT, Results, Values, in_family
from vaporqa.tables.values import BY_VOLUME, NO_FAMILY, READ, Bool, Float, Int8, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_NONE = np.empty(0, np.int64)
#: What a blank is known to hold: nothing, a number, something that cannot be read, a number in no known unit.
CLEAN, FOUND, UNREAD, WITHOUT_UNIT = 0, 1, 2, 3


@dataclass(frozen=True, slots=True)
class Blanks:
    """Results of blanks of one kind, wherever they stand, (m,), with what ties them to samples.

    Attributes
    ----------
    name : object
        Key of the control sample, or id of the sample.
    analyte, tie, laboratory : int64
        `tie` is the number of the batch, lot, shipment or day; -1 none. `laboratory` is -1 where it does not matter.
    state : int8
        CLEAN, FOUND, UNREAD or WITHOUT_UNIT.
    value, family
        Canonical: what a FOUND blank holds; where a CLEAN one stands, nan where it does not say.
    water : bool
    """

    name: Texts
    analyte: Int64
    tie: Int64
    laboratory: Int64
    state: Int8
    value: Float
    family: Int8
    water: Bool

    def __add__(self, other: Blanks) -> Blanks:
        return Blanks(
            np.concatenate([self.name, other.name]), np.concatenate([self.analyte, other.analyte]),
            np.concatenate([self.tie, other.tie]), np.concatenate([self.laboratory, other.laboratory]),
            np.concatenate([self.state, other.state]), np.concatenate([self.value, other.value]),
            np.concatenate([self.family, other.family]), np.concatenate([self.water, other.water]),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside each result that a kind of blank concerns, (m,).

    Attributes
    ----------
    base : Measured
        Rows of results, and what was missing up to the blank itself; no number.
    found : bool
        A blank with the analyte stands beside it.
    unread, without_unit, apart : bool
        One of them cannot be read, is in no known unit, or cannot be brought to the unit of the result.
    level : float64
        The highest detect in the family of the result; nan where there is none.
    blank : object
        Name of that blank; of several things wrong, of the one that could not be used.
    clean_to : float64
        Where the clean blank with the lowest limit stands, in the family of the result; nan where there is none or it
        does not say.
    in_water : object
        Name of a water blank that holds the analyte of a result that is not water; empty for none.
    family : int8
        In which the result and `level` stand.
    """

    base: Measured
    found: Bool
    unread: Bool
    without_unit: Bool
    apart: Bool
    level: Float
    blank: Texts
    clean_to: Float
    in_water: Texts
    family: Int8


def blanks_of(
    table: Table | None, results: Results | None, rows: Int64, name: Texts, tie: Int64, laboratory: Int64, water: Bool
) -> Blanks:
    """Blanks of the given rows of a table (none where there is no table), tied as stated."""
    if table is None or results is None:
        none = np.empty(0, np.int8)
        return Blanks(np.empty(0, object), _NONE, _NONE, _NONE, none, np.empty(0), none, np.zeros(0, bool))
    detected, value = results.detected[rows], results.result.take(rows)
    state = np.full(len(rows), UNREAD, np.int8)
    state[without_unit(table, results)[rows]] = WITHOUT_UNIT
    state[(detected == DETECTED) & value.known] = FOUND
    state[detected == NONDETECT] = CLEAN
    found, clean, stands = state == FOUND, state == CLEAN, results.ceiling.take(rows)
    number = np.where(found, value.value, np.where(clean & stands.known, stands.value, np.nan))
    family = np.where(found, value.family, np.where(clean & stands.known, stands.family, NO_FAMILY)).astype(np.int8)
    return Blanks(name, results.analyte[rows], tie, laboratory, state, number, family, water)


def without_unit(table: Table, results: Results) -> Bool:
    """Rows whose result is a number in no unit or in an unknown one, (n,)."""
    amount = table.amount(f"result{results.form}")
    if amount is None:
        return np.zeros(table.rows, bool)
    return np.asarray((amount.state == READ) & np.isfinite(amount.written) & (amount.family == NO_FAMILY))


def pairs_of(
    ev: Evidence, rows: Int64, tie: Int64, blanks: Blanks, laboratory: Int64 | None = None
) -> tuple[Int64, Int64]:
    """Pairs (entry, blank) of one tie and analyte; a laboratory that one side does not state keeps nothing apart."""
    if ev.results is None or not len(blanks.analyte):
        return _NONE, _NONE
    few = highest_of_each(blanks)
    analyte = ev.results.analyte[rows]
    groups, count = group_numbers(
        np.concatenate([tie, blanks.tie[few]]), np.concatenate([analyte, blanks.analyte[few]])
    )
    left = np.where((tie >= 0) & (analyte >= 0), groups[: len(rows)], -1)
    right = np.where((blanks.tie[few] >= 0) & (blanks.analyte[few] >= 0), groups[len(rows) :], -1)
    entry, pair = pairs_by_group(left, right, count)
    blank = few[pair]
    if laboratory is not None:
        here, there = laboratory[entry], blanks.laboratory[blank]
        same = np.asarray((here == there) | (here < 0) | (there < 0))
        entry, blank = entry[same], blank[same]
    return entry, blank


def highest_of_each(blanks: Blanks) -> Int64:
    """Of blanks alike in everything but their number the highest alone, of clean ones that with the lowest limit.

    Indices in rising order.
    """
    group, count = group_numbers(
        blanks.tie, blanks.analyte, blanks.laboratory, blanks.state.astype(np.int64), blanks.family.astype(np.int64),
        blanks.water.astype(np.int64),
    )  # fmt: skip
    rank = np.where(blanks.state == CLEAN, -blanks.value, blanks.value)
    order = np.lexsort((np.nan_to_num(rank, nan=-np.inf), group))
    last = np.zeros(count, np.int64)
    last[group[order]] = order
    return np.sort(last)


def beside_of(ev: Evidence, asked: Asked, blanks: Blanks, pairs: list[tuple[Int64, Int64]], phrase: str) -> Beside:
    """Bring every blank to the unit of the result beside it, and keep the highest."""
    size = len(asked.row)
    no = np.zeros(size, bool)
    level, names, in_water = np.full(size, np.nan), np.full(size, "", object), np.full(size, "", object)
    clean_to = np.full(size, np.nan)
    found, unread, bare, apart = no.copy(), no.copy(), no.copy(), no.copy()
    family = np.zeros(size, np.int8)
    results = ev.results
    if results is not None and size:
        family = _family(results, asked.row)
        entry = np.concatenate([e for e, _ in pairs])
        blank = np.concatenate([b for _, b in pairs])
        found[entry] = True
        state = blanks.state[blank]
        unread[entry[state == UNREAD]] = True
        bare[entry[state == WITHOUT_UNIT]] = True
        names[entry[state != CLEAN]] = blanks.name[blank[state != CLEAN]]
        _stand_clean(ev, asked.row, family, blanks, entry[state == CLEAN], blank[state == CLEAN], clean_to)
        entry, blank = entry[state == FOUND], blank[state == FOUND]
        water = pick(ev.samples.matrix == "water", results.sample[asked.row], False)[entry]
        only_presence = blanks.water[blank] & ~water
        in_water[entry[only_presence]] = blanks.name[blank[only_presence]]
        entry, blank, water = entry[~only_presence], blank[~only_presence], water[~only_presence]
        # Where the result has no unit of its own (ND, without any limit) there is nothing to bring together.
        entry, blank, water = (a[family[entry] != NO_FAMILY] for a in (entry, blank, water))
        own = Values(blanks.value[blank], blanks.family[blank], np.ones(len(blank), bool), np.zeros(len(blank), bool))
        mass = ev.molar_mass(results.analyte[asked.row[entry]])
        there = in_family(own, family[entry], mass, ev.molar_volume)
        # Micrograms in a litre of water are no micrograms in a cubic metre of gas.
        strange = ~there.known | (water & (own.family == BY_VOLUME))
        apart[entry[strange]] = True
        entry, blank, value = entry[~strange], blank[~strange], there.value[~strange]
        order = np.lexsort((value, entry))
        level[entry[order]], names[entry[order]] = value[order], blanks.name[blank[order]]
    asked.need(found, phrase)
    return Beside(
        asked.measured(np.full(size, np.nan)), found, unread, bare, apart, level, names, clean_to, in_water, family
    )


def _stand_clean(
    ev: Evidence, rows: Int64, family: Int8, blanks: Blanks, entry: Int64, blank: Int64, clean_to: Float
) -> None:
    """Fill in the lowest limit of the clean blanks beside each result, in the family of the result."""
    assert ev.results is not None
    use = np.isfinite(blanks.value[blank]) & ~blanks.water[blank] & (family[entry] != NO_FAMILY)
    entry, blank = entry[use], blank[use]
    no = np.zeros(len(blank), bool)
    own = Values(blanks.value[blank], blanks.family[blank], ~no, no)
    there = in_family(own, family[entry], ev.molar_mass(ev.results.analyte[rows[entry]]), ev.molar_volume)
    np.fmin.at(clean_to, entry[there.known], there.value[there.known])


def _family(results: Results, rows: Int64) -> Int8:
    """Family in which a result stands: its own, else that of its limits."""
    family = results.result.family[rows]
    for other in (results.nondetect_at, results.reporting_limit, results.limit_of_detection):
        family = np.where(family == NO_FAMILY, other.family[rows], family)
    return family.astype(np.int8)

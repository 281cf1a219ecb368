"""When gas first moved through a line, and the soil-gas samples that hang on a row: shared by rules of the field."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, missing_moments, moments
from vaporqa.evidence.collected import YES
from vaporqa.evidence.judged import Links, Measured
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import Bool, Float, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

US_PER_S = 1e6
US_PER_H = 3_600_000_000
_INHG = parse_unit("inHg", "pressure")


def is_soil_gas(ev: Evidence) -> Bool:
    """Soil-gas samples, passive samplers included, by sample number."""
    return np.asarray(ev.samples.soil_gas == YES)


def soil_gas_of_rows(ev: Evidence, table: Table) -> Links:
    """Pairs (row, sample number) of the soil-gas samples, passive samplers apart, that hang on the rows of a table."""
    links = samples_of_rows(ev, table)
    if not len(links.target):
        return links
    keep = is_soil_gas(ev)[links.target] & ~ev.samples.passive[links.target]
    return Links(links.entry[keep], links.target[keep])


def soil_gas_rows(ev: Evidence) -> tuple[Int64, Int64]:
    """Rows of the samples table that are soil-gas samples, passive samplers included, and their sample numbers."""
    home = ev.tables.get("samples")
    if home is None:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    number = ev.sample_ids.of("samples", "sample_id", home.rows)
    rows = np.flatnonzero(home.counts & (number >= 0)).astype(np.int64)
    rows = rows[is_soil_gas(ev)[number[rows]]]
    return rows, number[rows]


def own_sample(number: Int64, keep: Bool | None = None) -> Links:
    """Each entry reaches its own sample; with `keep`, those entries only."""
    entry = np.flatnonzero(number >= 0 if keep is None else keep & (number >= 0)).astype(np.int64)
    return Links(entry, number[entry])


def nothing() -> Measured:
    """No entries: the table that the quantity sits on is not there."""
    return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))


def difference(first: Known, second: Known) -> Known:
    """First less second; sizes that are equal but for rounding (8 ft and 96 in) differ by exactly nought."""
    value = first.value - second.value
    with np.errstate(invalid="ignore"):
        same = np.abs(value) <= RELATIVE_TOLERANCE * np.maximum(np.abs(first.value), np.abs(second.value))
    known = first.known & second.known
    return Known(np.where(known, np.where(same, 0.0, value), np.nan), known, first.hard | second.hard)


def exact_span(began: Moment, ended: Moment) -> Known:
    """Seconds from one instant to another; unknown where a date alone is given, hard where the end comes first."""
    instants = began.known & ended.known & ~began.date_only & ~ended.date_only
    value = (ended.low - began.low) / US_PER_S
    backwards = instants & (value < 0)
    known = instants & ~backwards
    return Known(np.where(known, value, np.nan), known, began.hard | ended.hard | backwards)


def purge_begun(ev: Evidence) -> Moment:
    """When the first purge of each sample number began (else ended); hard where such a time cannot be read."""
    count = ev.sample_count
    table = ev.tables.get("purges")
    if table is None or not count:
        return missing_moments(count)
    attached = ev.purges
    began = moments(table, "started_at").or_else(moments(table, "ended_at")).take(attached.row)
    return earliest(began, attached.sample, count)


def earliest(moment: Moment, group: Int64, count: int) -> Moment:
    """The earliest of the times of each group; hard where one of them cannot be read."""
    far = np.iinfo(np.int64).max
    low, high, day = (np.full(count, far) for _ in range(3))
    date_only, known, hard = (np.zeros(count, bool) for _ in range(3))
    use = moment.known & (group >= 0)
    at = group[use]
    np.minimum.at(low, at, moment.low[use])
    np.minimum.at(high, at, moment.high[use])
    np.minimum.at(day, at, moment.day[use])
    known[at] = True
    date_only[:] = known & (low != high)
    hard[group[moment.hard & (group >= 0)]] = True
    zero = np.where(known, 1, 0)
    return Moment(low * zero, high * zero, day * zero, date_only, known & ~hard, hard)


def labels(values: list[str]) -> Texts:
    """Texts as an object array."""
    out: Texts = np.empty(len(values), dtype=object)
    out[:] = values
    return out


def in_inhg(kilopascals: Float) -> Float:
    """Bring kPa to inches of mercury, in which the gauges of canisters are read."""
    assert _INHG is not None
    return np.asarray(_INHG.from_canonical(kilopascals))

"""Purges: volumes purged, flow, vacuum, arithmetic, and the pause before the sample. Volumes mL, times s."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, Known, moments, numbers, pick
from vaporqa.evidence.dead_volume import DeadVolume, Purged, dead_volumes, product, purged_volumes
from vaporqa.evidence.judged import Amounts, Facts, Labels, Links, Measured
from vaporqa.tables.values import Float, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_US_PER_S = 1e6
_S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True)
class Purging:
    """Purges by entry (a purge and a sample it counts for; a purge that counts for none has one of its own), (m,)."""

    table: Table
    row: Int64
    sample: Int64
    minutes: Known
    purged: Purged
    dead: DeadVolume | None
    probe_row: Int64


def purgings(ev: Evidence) -> Purging | None:
    """Gather the purges of the folder, or None where it has no such table."""
    table = ev.tables.get("purges")
    if table is None:
        return None
    attached = ev.purges
    lone = table.counts & ~attached.elsewhere
    lone[attached.row] = False
    alone = np.flatnonzero(lone)
    row = np.concatenate([attached.row, alone])
    sample = np.concatenate([attached.sample, np.full(len(alone), -1, np.int64)])
    order = np.lexsort((sample, row))
    row, sample = row[order].astype(np.int64), sample[order].astype(np.int64)
    named_probe = ev.probe_ids.of("purges", "probe_id", table.rows)[row]
    named_sample = ev.sample_ids.of("purges", "sample_id", table.rows)[row]
    of_sample = np.where(sample >= 0, sample, named_sample)
    through = pick(ev.samples.probe, of_sample, NO_ROW)
    probe = np.where(named_probe >= 0, named_probe, through)
    probe_row = np.where(probe == TWO_ROWS, TWO_ROWS, ev.probe_ids.rows_of(probe))
    minutes = _minutes(table)
    probes = ev.tables.get("probes")
    return Purging(
        table=table,
        row=row,
        sample=sample,
        minutes=minutes,
        purged=purged_volumes(table, minutes),
        dead=dead_volumes(probes) if probes is not None else None,
        probe_row=probe_row,
    )


def _minutes(table: Table) -> Known:
    """Minutes from start to end; unknown where only dates are given or the end lies before the start."""
    began, ended = moments(table, "started_at"), moments(table, "ended_at")
    exact = began.known & ended.known & ~began.date_only & ~ended.date_only
    value = (ended.low - began.low) / _US_PER_S / _S_PER_MIN
    known = exact & (value > 0)
    return Known(np.where(known, value, np.nan), known, began.hard | ended.hard)


def _links(sample: Int64) -> Links:
    entry = np.flatnonzero(sample >= 0).astype(np.int64)
    return Links(entry, sample[entry])


def _empty(table: str = "") -> Measured:
    asked = Asked(np.empty(0, np.int64), np.zeros(0, bool))
    return asked.measured(np.empty(0), table=table)


def purge_volumes(ev: Evidence) -> Measured:
    """Purged volume over dead volume."""
    purging = ev.purging
    if purging is None:
        return _empty()
    asked = Asked(purging.row, np.ones(len(purging.row), bool))
    volume = purging.purged.volume.take(purging.row)
    asked.need(
        volume, "the purged volume (volume, strokes or flow and time)", ("purges", "volume"), ("purges", "strokes"),
        ("purges", "flow"),
    )  # fmt: skip
    dead, facts = _dead(ev, purging, asked)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = volume.value / dead
    facts = {**facts, "purged": Amounts(volume.value, "mL"), "by": Labels(purging.purged.by[purging.row])}
    return asked.measured(value, facts=facts, samples=_links(purging.sample))


def _dead(ev: Evidence, purging: Purging, asked: Asked) -> tuple[Float, Facts]:
    """Dead volume of each entry with train and glass bulb, asking for what it needs."""
    probe_row = purging.probe_row
    met = probe_row >= 0
    asked.need(met, "the probe", ("probes", "*"), ("purges", "probe_id"))
    asked.hard_where(probe_row == TWO_ROWS)
    size = len(purging.row)
    if purging.dead is None:
        nothing = np.full(size, "", object)
        return np.full(size, np.nan), {"dead": Amounts(np.full(size, np.nan), "mL"), "assumed": Labels(nothing)}
    safe = np.maximum(probe_row, 0)
    dead = purging.dead
    asked.need_each(
        np.where(met, dead.want[safe], ""), "probes", np.where(met, dead.place[safe], ""), met & dead.hard[safe]
    )
    train = numbers(purging.table, "train_volume").take(purging.row)
    total = swept_volumes(ev, dead, probe_row, purging.sample, train, asked).total
    assumed = np.where(met, dead.assumed[safe], "")
    said = np.where(assumed != "", " (taking " + assumed + " for granted)", "").astype(object)
    return total, {"dead": Amounts(total, "mL"), "assumed": Labels(said)}


@dataclass(frozen=True, slots=True)
class Swept:
    """What a purge must sweep, (m,): mL in all, and of it the train and a glass bulb that was not evacuated."""

    total: Float
    train: Float
    bulb: Float


def swept_volumes(ev: Evidence, dead: DeadVolume, probe_row: Int64, sample: Int64, train: Known, asked: Asked) -> Swept:
    """Dead volume of the probe with the train and a glass bulb, asking for what it needs; made or still to be made.

    Parameters
    ----------
    dead : DeadVolume
        By row of probes.
    probe_row, sample : int64 (m,)
        Row of probes and sample number of each entry, negative for none.
    train : Known
        Train volume of each entry, mL.
    asked : Asked
        Of m entries.
    """
    met = probe_row >= 0
    asked.need(Known(train.value, ~train.hard, train.hard), "the train volume", ("purges", "train_volume"))
    bulb = _bulb(ev, sample, asked)
    own = np.where(train.known, train.value, 0.0)
    return Swept(np.where(met, dead.value[np.maximum(probe_row, 0)], np.nan) + own + bulb, own, bulb)


def _bulb(ev: Evidence, sample: Int64, asked: Asked) -> Float:
    """Volume of a glass bulb that was not evacuated: gas drawn through it must sweep it too."""
    samples, table = ev.samples, ev.tables.get("samples")
    safe = np.maximum(sample, 0)
    if table is None or not len(samples.row):
        return np.zeros(len(sample))
    row = np.where(sample >= 0, samples.row[safe], NO_ROW)
    container = np.where(sample >= 0, samples.container[safe], "")
    vacuum = numbers(table, "vacuum_start").take(row)
    bulb = (container == "glass_bulb") & ~(vacuum.known & (vacuum.value > 0))
    asked.need(
        Known(vacuum.value, ~vacuum.hard, vacuum.hard),
        "the vacuum of the glass bulb",
        ("samples", "vacuum_start"),
        rows=container == "glass_bulb",
    )
    stated = numbers(table, "container_volume").take(row)
    stock = ev.container_ids
    number = stock.of("samples", "container_id", table.rows)
    stock_row = stock.rows_of(pick(number, row, -1))
    volume = stated.or_else(numbers(ev.tables.get("containers"), "container_volume").take(stock_row))
    asked.need(volume, "the volume of the glass bulb", ("samples", "container_volume"), rows=bulb)
    return np.where(bulb & volume.known, volume.value, 0.0)


def _by_purge(
    ev: Evidence, value: Known, phrase: str, *places: tuple[str, str], facts: Facts | None = None
) -> Measured:
    purging = ev.purging
    assert purging is not None
    asked = Asked(purging.row, np.ones(len(purging.row), bool))
    taken = value.take(purging.row)
    asked.need(taken, phrase, *places)
    return asked.measured(taken.value, facts=facts or {}, samples=_links(purging.sample))


def purge_flow(ev: Evidence) -> Measured:
    """Flow, else purged volume over the time it took, mL/min."""
    purging = ev.purging
    if purging is None:
        return _empty()
    stated = numbers(purging.table, "flow")
    volume = numbers(purging.table, "volume").or_else(
        product(numbers(purging.table, "strokes"), numbers(purging.table, "stroke_volume"))
    )
    known = volume.known & purging.minutes.known
    worked = Known(
        np.where(known, volume.value / purging.minutes.value, np.nan), known,
        (volume.hard | purging.minutes.hard) & ~known,
    )  # fmt: skip
    return _by_purge(
        ev, stated.or_else(worked), "the purge flow (or volume and time)", ("purges", "flow"),
        ("purges", "volume"), ("purges", "strokes"),
    )  # fmt: skip


def purge_vacuum(ev: Evidence) -> Measured:
    """Highest vacuum while purging, kPa gauge."""
    if ev.purging is None:
        return _empty()
    return _by_purge(
        ev, numbers(ev.purging.table, "vacuum_highest"), "the highest purge vacuum", ("purges", "vacuum_highest")
    )


def purge_arithmetic(ev: Evidence) -> Measured:
    """Largest relative gap between the stated volume and strokes x stroke volume, and flow x minutes."""
    purging = ev.purging
    if purging is None:
        return _empty()
    table = purging.table
    stated = numbers(table, "volume")
    pumped = product(numbers(table, "strokes"), numbers(table, "stroke_volume"))
    drawn = product(numbers(table, "flow"), purging.minutes)
    with np.errstate(divide="ignore", invalid="ignore"):
        gaps = [np.where(stated.known & o.known, np.abs(o.value / stated.value - 1.0), np.nan) for o in (pumped, drawn)]
    value = np.fmax(gaps[0], gaps[1])
    other = np.where(np.nan_to_num(gaps[1], nan=-1.0) > np.nan_to_num(gaps[0], nan=-1.0), drawn.value, pumped.value)
    known = np.isfinite(value)
    hard = stated.hard | pumped.hard | drawn.hard
    facts: Facts = {
        "stated": Amounts(stated.value[purging.row], "mL"),
        "worked": Amounts(other[purging.row], "mL"),
    }
    return _by_purge(
        ev, Known(value, known, hard & ~known), "a second record of the purged volume", ("purges", "strokes"),
        ("purges", "flow"), facts=facts,
    )  # fmt: skip


def purge_to_sample(ev: Evidence) -> Measured:
    """Seconds from the end of the purge to the start of the sample; negative where the sample came first.

    Date-only stamps: the shortest and the longest pause are both possible. Where even the longest is negative the
    order is wrong; where even the shortest is not, the pause is known to be at least that; else nothing is known.
    """
    purging = ev.purging
    if purging is None:
        return _empty()
    paired = purging.sample >= 0
    named = ev.sample_ids.of("purges", "sample_id", purging.table.rows)[purging.row] >= 0
    asked = Asked(purging.row, paired | named)
    ended = moments(purging.table, "ended_at").take(purging.row)
    start = ev.samples.start.take(np.where(paired, purging.sample, NO_ROW))
    asked.need(ended, "the end of the purge", ("purges", "ended_at"))
    asked.need(start, "the start of the sample", ("samples", "started_at"))
    shortest = (start.low - ended.high) / _US_PER_S
    longest = (start.high - ended.low) / _US_PER_S
    exact = ~ended.date_only & ~start.date_only
    asked.need(exact | (longest < 0) | (shortest >= 0), "the time of day of purge and sample")
    value = np.where(exact | (longest < 0), longest, shortest)
    return asked.measured(value, samples=_links(purging.sample), only_at_least=~exact & (shortest >= 0))

"""Hand to hand: the order of custody records of each sample, and what they say of the container."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, moments, numbers, take_words
from vaporqa.evidence.joins import group_numbers
from vaporqa.evidence.judged import Labels, Links, Measured
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.tables.values import Bool, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Containers whose contents suffer from the wrong storage temperature.
KEPT_COOL_OR_WARM = ("sorbent_tube", "canister", "vial")


@dataclass(frozen=True, slots=True)
class Steps:
    """Custody records in the order of sample and step.

    Attributes
    ----------
    order : int64 (k,)
        Rows that count and name a sample and a step, by sample, then step.
    before : int64 (n,)
        Row of the step before, by row; -1 where there is none.
    sample : int64 (n,)
        Sample number by row, -1 where none.
    tied : bool (n,)
        Another record of the sample has the same step.
    placed : bool (n,)
        The row names a sample and a step.
    unread : bool (n,)
        The step stands there and cannot be read.
    """

    order: Int64
    before: Int64
    sample: Int64
    tied: Bool
    placed: Bool
    unread: Bool


def steps_of(ev: Evidence, table: Table) -> Steps:
    """Put the records of each sample in order."""
    n = table.rows
    sample = ev.sample_ids.of("custody", "sample_id", n)
    step = numbers(table, "step")
    placed = table.counts & (sample >= 0) & step.known
    rows = np.flatnonzero(placed)
    # Between two records of one step their release, then their keys decide, so that the order of the file does not.
    keys, released = table.keys[rows].astype(str), moments(table, "released_at").low[rows]
    order = rows[np.lexsort((keys, released, step.value[rows], sample[rows]))].astype(np.int64)
    before = np.full(n, -1, np.int64)
    tied = np.zeros(n, bool)
    same = sample[order][1:] == sample[order][:-1]
    before[order[1:][same]] = order[:-1][same]
    level = same & (step.value[order][1:] == step.value[order][:-1])
    tied[order[1:][level]] = True
    tied[order[:-1][level]] = True
    return Steps(order, before, sample, tied, placed, step.hard)


@dataclass(frozen=True, slots=True)
class Stamped:
    """Stamps of a chain, in its order, (k,).

    Attributes
    ----------
    chain : int64
        Number of the sample.
    row : int64
        Row of custody; -1 for the end of collection, which leads the chain.
    received : bool
        The stamp is a receipt; otherwise a release (or the collection).
    at : Moment
    latest : int64
        Place in these arrays of the latest known stamp before this one in its chain; -1 none.
    """

    chain: Int64
    row: Int64
    received: Bool
    at: Moment
    latest: Int64


def stamps_of(ev: Evidence, table: Table, steps: Steps) -> Stamped:
    """Lay out each sample's stamps: collected, then released and received at each step."""
    rows = steps.order
    chain = np.unique(steps.sample[rows])
    place = np.arange(len(rows), dtype=np.int64)
    of = np.concatenate([chain, steps.sample[rows], steps.sample[rows]])
    row = np.concatenate([np.full(len(chain), -1, np.int64), rows, rows])
    turn = np.concatenate([np.full(len(chain), -1, np.int64), 2 * place, 2 * place + 1])
    order = np.lexsort((turn, of))
    collected = ev.samples.end.take(chain) if len(chain) else moments(None, "ended_at")
    released, received = moments(table, "released_at").take(rows), moments(table, "received_at").take(rows)
    at = _joined(collected, released, received).take(order.astype(np.int64))
    return Stamped(
        of[order], row[order], (turn[order] >= 0) & (turn[order] % 2 == 1), at, _latest_before(of[order], at)
    )


def _joined(*parts: Moment) -> Moment:
    return Moment(
        np.concatenate([p.low for p in parts]), np.concatenate([p.high for p in parts]),
        np.concatenate([p.day for p in parts]), np.concatenate([p.date_only for p in parts]),
        np.concatenate([p.known for p in parts]), np.concatenate([p.hard for p in parts]),
    )  # fmt: skip


def _latest_before(chain: Int64, at: Moment) -> Int64:
    """Place of the latest known stamp that stands earlier in the same chain."""
    size = len(chain)
    if not size:
        return np.empty(0, np.int64)
    group, _ = group_numbers(chain)
    # A running maximum that starts afresh with each chain: times as ranks, each chain above the one before.
    order = np.lexsort((-np.arange(size), at.low))
    rank = np.empty(size, np.int64)
    rank[order] = np.arange(1, size + 1)
    height = group * (size + 1) + np.where(at.known, rank, 0)
    highest = np.maximum.accumulate(height)
    before = np.concatenate([[-1], highest[:-1]])
    inside = before // (size + 1) == group
    found = np.where(inside, before % (size + 1), 0)
    by_rank = np.full(size + 1, -1, np.int64)
    by_rank[rank] = np.arange(size)
    return by_rank[found]


def custody_temperature(ev: Evidence) -> Measured:
    """Temperature at each custody record of a container that must be kept cool, or must not be chilled; degC."""
    table = ev.tables.get("custody")
    if table is None:
        return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
    rows = np.arange(table.rows, dtype=np.int64)
    sample = ev.sample_ids.of("custody", "sample_id", table.rows)
    samples = ev.samples
    container, container_hard = take_words(samples.container, samples.container_hard, sample)
    matrix, _ = take_words(samples.matrix, samples.matrix_hard, sample)
    open_word = container == ""
    asked = Asked(rows, table.counts & (open_word | np.isin(container.astype(str), KEPT_COOL_OR_WARM)))
    asked.need(Known(np.zeros(table.rows), ~open_word, container_hard), "the container of the sample",
               ("samples", "container"), ("containers", "container"))  # fmt: skip
    temperature = numbers(table, "temperature")
    asked.need(temperature, "the temperature", ("custody", "temperature"))
    # `np.char.replace` refuses a table without rows.
    spelled = np.array([str(word).replace("_", " ") for word in container], dtype=object)
    return asked.measured(
        temperature.value,
        facts={"container": Labels(spelled)},
        cases={"container": container, "matrix": matrix},
        samples=samples_of_rows(ev, table),
    )


def custody_records_of_samples(ev: Evidence) -> Measured:
    """How many custody records each sample has; blanks made in the laboratory itself apart."""
    home = ev.tables.get("samples")
    if home is None:
        return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
    number = ev.sample_ids.of("samples", "sample_id", home.rows)
    rows = np.flatnonzero(home.counts & (number >= 0)).astype(np.int64)
    of = number[rows]
    asked = Asked(rows, ev.samples.kind[of] != "laboratory_blank")
    asked.need(np.full(len(rows), "custody" in ev.tables), "a custody record", ("custody", "*"))
    count = np.zeros(ev.sample_count)
    table = ev.tables.get("custody")
    if table is not None:
        named = ev.sample_ids.of("custody", "sample_id", table.rows)
        np.add.at(count, named[table.counts & (named >= 0)], 1.0)
    return asked.measured(count[of], samples=Links(np.arange(len(rows), dtype=np.int64), of))

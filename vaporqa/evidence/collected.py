"""Samples as evidence sees them: one entry a sample number, whether or not the samples table has the row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, Moment, missing_moments, moments, pick, take_words, words
from vaporqa.evidence.joins import Ids
from vaporqa.tables.values import Bool, Int8, Int64, Tables, Texts

#: Kinds and matrices of a soil-gas sample.
SOIL_GAS_KINDS = ("primary", "field_duplicate", "field_replicate")
SOIL_GAS_MATRICES = ("soil_gas", "subslab_gas")
GAS_MATRICES = ("soil_gas", "subslab_gas", "ambient_air", "indoor_air")
GAS_CONTAINERS = ("canister", "bag", "glass_bulb", "syringe", "plastic_syringe", "sorbent_tube", "passive_sampler")
YES, NO, UNKNOWN = 1, 0, -1


@dataclass(frozen=True, slots=True)
class Samples:
    """What is known of each sample, (k,) by sample number.

    Attributes
    ----------
    row : int64
        Row of the samples table, NO_ROW or TWO_ROWS.
    kind, matrix, container : object
        Words; empty where none (kind and matrix then count as unknown).
    kind_hard, matrix_hard, container_hard : bool
        The cell is unreadable, or two different rows stand under the id.
    soil_gas : int8
        YES, NO or UNKNOWN: whether the rules of sampling soil gas concern it.
    passive : bool
        A passive sampler: no purge, leak, shut-in, depth or flow rules.
    probe, location : int64
        Probe and location numbers; -1 none, -2 two different rows.
    start, end : Moment
        `started_at` and `ended_at`; `end` falls back to the collection time of its results.
    parent, parent_hard
        Sample number of the sample it names as its parent, -1 none.
    """

    row: Int64
    kind: Texts
    kind_hard: Bool
    matrix: Texts
    matrix_hard: Bool
    container: Texts
    container_hard: Bool
    soil_gas: Int8
    passive: Bool
    probe: Int64
    location: Int64
    start: Moment
    end: Moment
    parent: Int64


def samples_of(tables: Tables, samples: Ids, probes: Ids, locations: Ids, containers: Ids) -> Samples:
    """Gather what is known of each sample number."""
    table = tables.get("samples")
    row = samples.row
    count = len(row)
    kind, kind_hard = take_words(*words(table, "kind"), row)
    matrix, matrix_hard = take_words(*words(table, "matrix"), row)
    container, container_hard = take_words(*words(table, "container"), row)
    container = _container_from_stock(tables, container, container_hard, row, containers)
    probe = _pointer(table is not None, samples, probes, "probe_id", row, count)
    probe_row = _rows(probes, probe)
    location = _pointer(table is not None, samples, locations, "location_id", row, count)
    probe_table = tables.get("probes")
    if probe_table is not None:
        at_probe = locations.of("probes", "location_id", probe_table.rows)
        through = pick(at_probe, probe_row, NO_ROW)
        location = np.where(location == -1, through, location)
    probe_kind, _ = take_words(*words(probe_table, "kind"), probe_row)
    soil_gas = _both(
        _is_one_of(kind, kind_hard | (row == NO_ROW), SOIL_GAS_KINDS),
        _is_one_of(matrix, matrix_hard | (row == NO_ROW), SOIL_GAS_MATRICES),
    )
    parent = np.full(count, -1, np.int64)
    if table is not None:
        stated = samples.of("samples", "parent_sample_id", table.rows)
        parent = pick(stated, row, -1)
    start = moments(table, "started_at").take(row)
    end = moments(table, "ended_at").take(row)
    end = end.or_else(_collected(tables, samples, count))
    return Samples(
        row=row,
        kind=kind,
        kind_hard=kind_hard,
        matrix=matrix,
        matrix_hard=matrix_hard,
        container=container,
        container_hard=container_hard,
        soil_gas=soil_gas,
        # The container says what was drawn; the probe speaks only where no container does.
        passive=(container == "passive_sampler") | ((probe_kind == "passive") & (container == "") & ~container_hard),
        probe=probe,
        location=location,
        start=start,
        end=end,
        parent=parent,
    )


def _pointer(has_table: bool, samples: Ids, home: Ids, column: str, row: Int64, count: int) -> Int64:
    if not has_table:
        return np.full(count, -1, np.int64)
    stated = home.columns.get(("samples", column))
    if stated is None:
        return np.where(row == TWO_ROWS, TWO_ROWS, -1).astype(np.int64)
    return np.where(row >= 0, stated[np.maximum(row, 0)], np.where(row == TWO_ROWS, TWO_ROWS, -1)).astype(np.int64)


def _rows(ids: Ids, number: Int64) -> Int64:
    return np.where(number == TWO_ROWS, TWO_ROWS, ids.rows_of(number))


def _container_from_stock(tables: Tables, container: Texts, hard: Bool, row: Int64, containers: Ids) -> Texts:
    """A sample that names a container but not its type takes the type from the containers table."""
    stock, table = tables.get("containers"), tables.get("samples")
    if stock is None or table is None:
        return container
    number = containers.of("samples", "container_id", table.rows)
    stock_row = containers.rows_of(pick(number, row, -1))
    kind, _ = take_words(*words(stock, "container"), stock_row)
    return np.where((container == "") & ~hard, kind, container)


def _is_one_of(word: Texts, hard: Bool, wanted: tuple[str, ...]) -> Int8:
    unknown = hard | (word == "") | (word == "unknown")
    return np.where(unknown, UNKNOWN, np.isin(word.astype(str), wanted)).astype(np.int8)


def _both(left: Int8, right: Int8) -> Int8:
    """Three-valued and: one known no decides."""
    no = (left == NO) | (right == NO)
    unknown = (left == UNKNOWN) | (right == UNKNOWN)
    return np.where(no, NO, np.where(unknown, UNKNOWN, YES)).astype(np.int8)


def _collected(tables: Tables, samples: Ids, count: int) -> Moment:
    """Span of the collection times that result rows give for each sample."""
    results = tables.get("results")
    if results is None or "collected_at" not in results:
        return missing_moments(count)
    number = samples.of("results", "sample_id", results.rows)
    stated = moments(results, "collected_at")
    use = stated.known & (number >= 0)
    low = np.full(count, np.iinfo(np.int64).max)
    high = np.full(count, np.iinfo(np.int64).min)
    day = np.full(count, np.iinfo(np.int64).max)
    date_only = np.zeros(count, bool)
    np.minimum.at(low, number[use], stated.low[use])
    np.maximum.at(high, number[use], stated.high[use])
    np.minimum.at(day, number[use], stated.day[use])
    np.logical_or.at(date_only, number[use], stated.date_only[use])
    known = np.zeros(count, bool)
    known[number[use]] = True
    hard = np.zeros(count, bool)
    hard[number[stated.hard & (number >= 0)]] = True
    return Moment(
        np.where(known, low, 0), np.where(known, high, 0), np.where(known, day, 0), date_only, known, hard & ~known
    )

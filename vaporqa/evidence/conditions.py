"""Structured conditions on rows: met, not met, or unknown because a needed cell is empty or unreadable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Option
from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, numbers, pick, take_words, words, yes_no
from vaporqa.evidence.judged import Want
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.values import Bool, Float, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Met:
    """Whether each row of a table meets every condition, (n,).

    Attributes
    ----------
    yes : bool
        Every condition is met.
    unknown : bool
        None is known to fail, but at least one cannot be told.
    want : int16
        Which of `wants` cannot be told, -1 where all can.
    wants : tuple of Want
    hard : bool
        The cell is unreadable or ambiguous rather than empty.
    """

    yes: Bool
    unknown: Bool
    want: Int64
    wants: tuple[Want, ...]
    hard: Bool


def conditions(ev: Evidence, table: Table, where: Mapping[str, Option]) -> Met:
    """Judge structured conditions (equality, lists, yes/no, ranges in the canonical unit) on every row of a table."""
    n = table.rows
    fails, unknown, hard = np.zeros(n, bool), np.zeros(n, bool), np.zeros(n, bool)
    want = np.full(n, -1, np.int64)
    wants: list[Want] = []
    for name, wanted in where.items():
        owner, _, column = name.rpartition(".")
        home = owner or table.name
        met, known, unreadable = _one(ev, table, home, column, wanted)
        fails |= known & ~met
        spec = TABLES[home].column(column)
        silent = spec is not None and spec.empty_is_no
        lacks = ~known & (unreadable if silent else True)
        fails |= ~known & ~lacks
        wants.append(Want(f"the {column.replace('_', ' ')}", ((home, column),)))
        want[lacks & (want < 0)] = len(wants) - 1
        unknown |= lacks
        hard |= lacks & unreadable
    unknown &= ~fails
    return Met(~fails & ~unknown, unknown, np.where(unknown, want, -1), tuple(wants), hard & unknown)


def _one(ev: Evidence, table: Table, home: str, column: str, wanted: Option) -> tuple[Bool, Bool, Bool]:
    """Whether the condition is met, whether that is known, and whether an unreadable cell is why not."""
    other = ev.tables.get(home)
    row = None if home == table.name else rows_elsewhere(ev, table, home)
    source = table if home == table.name else other
    if isinstance(wanted, bool):
        answer = yes_no(source, column)
        answer = answer if row is None else answer.take(row)
        return answer.value == float(wanted), answer.known, answer.hard
    if isinstance(wanted, Mapping):
        number = numbers(source, column)
        number = number if row is None else number.take(row)
        return _in_range(number.value, wanted), number.known, number.hard
    listed = wanted if isinstance(wanted, tuple) else (wanted,)
    value, hard = words(source, column)
    if row is not None:
        value, hard = take_words(value, hard, row)
    known = value != ""
    if column in ("kind", "matrix"):
        known = known & ((value != "unknown") | ("unknown" in listed))
    return np.isin(value.astype(str), [str(word) for word in listed]), known & ~hard, hard


def _in_range(value: Float, wanted: Mapping[str, Option]) -> Bool:
    met = np.ones(value.shape, bool)
    for sense, bound in wanted.items():
        limit = float(bound)  # type: ignore[arg-type]  # the loader lets only numbers through
        slack = abs(limit) * RELATIVE_TOLERANCE
        if sense == "at_least":
            met &= value >= limit - slack
        elif sense == "at_most":
            met &= value <= limit + slack
        elif sense == "under":
            met &= value < limit - slack
        else:
            met &= value > limit + slack
    return met


def rows_elsewhere(ev: Evidence, table: Table, home: str) -> Int64:
    """Row of another table that each row of `table` points to, directly or through its sample and probe."""
    n = table.rows
    none = np.full(n, NO_ROW, np.int64)
    samples = ev.sample_ids.of(table.name, "sample_id", n)
    if home == "samples":
        return ev.sample_ids.rows_of(samples)
    if home == "probes":
        stated = ev.probe_ids.of(table.name, "probe_id", n)
        through = pick(ev.samples.probe, samples, -1) if ev.sample_count else none
        number = np.where(stated >= 0, stated, through)
        return np.where(number == TWO_ROWS, TWO_ROWS, ev.probe_ids.rows_of(number))
    if home == "locations":
        stated = ev.location_ids.of(table.name, "location_id", n)
        through = pick(ev.samples.location, samples, -1) if ev.sample_count else none
        return ev.location_ids.rows_of(np.where(stated >= 0, stated, through))
    if home == "containers":
        stated = ev.container_ids.of(table.name, "container_id", n)
        if table.name in ("samples", "custody"):
            return ev.container_ids.rows_of(stated)
        sample_row = ev.sample_ids.rows_of(samples)
        home_table = ev.tables.get("samples")
        of_sample = ev.container_ids.of("samples", "container_id", home_table.rows if home_table is not None else 0)
        through = pick(of_sample, sample_row, -1) if len(of_sample) else none
        return ev.container_ids.rows_of(through)
    return none

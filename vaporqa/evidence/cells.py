"""Columns as evidence reads them: a value, whether it is known, and whether it is unknown the hard way.

An absent column and an empty cell are *missing*. An unreadable cell and a key that meets two different rows are *hard*:
something stands there, so nothing else may step in for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Int64, Table, Texts

_Value = TypeVar("_Value", bound=np.generic)

#: Row numbers that point nowhere: the key meets no row, or two different ones.
NO_ROW, TWO_ROWS = -1, -2


@dataclass(frozen=True, slots=True)
class Known:
    """Numbers with what is known of them, (n,) each; `value` is nan where not `known`."""

    value: Float
    known: Bool
    hard: Bool

    def take(self, row: Int64) -> Known:
        """Gather by row; NO_ROW is missing, TWO_ROWS is hard."""
        if not self.value.size:
            return Known(np.full(row.shape, np.nan), np.zeros(row.shape, bool), row == TWO_ROWS)
        safe = np.maximum(row, 0)
        met = row >= 0
        return Known(
            np.where(met, self.value[safe], np.nan),
            met & self.known[safe],
            (met & self.hard[safe]) | (row == TWO_ROWS),
        )

    def or_else(self, other: Known) -> Known:
        """Take `other` where this is missing; where this is hard nothing steps in."""
        missing = ~self.known & ~self.hard
        return Known(
            np.where(missing, other.value, self.value),
            np.where(missing, other.known, self.known),
            np.where(missing, other.hard, self.hard),
        )

    def only(self, rows: Bool) -> Known:
        """Keep the values of `rows`; the others become missing."""
        return Known(np.where(rows, self.value, np.nan), self.known & rows, self.hard & rows)


@dataclass(frozen=True, slots=True)
class Moment:
    """Times with what is known of them, (n,) each: `low` and `high` microseconds UTC, `day` the local date."""

    low: Int64
    high: Int64
    day: Int64
    date_only: Bool
    known: Bool
    hard: Bool

    def take(self, row: Int64) -> Moment:
        """Gather by row; NO_ROW is missing, TWO_ROWS is hard."""
        if not self.low.size:
            zero = np.zeros(row.shape, np.int64)
            no = np.zeros(row.shape, bool)
            return Moment(zero, zero, zero, no, no, row == TWO_ROWS)
        if row.size == self.low.size and np.array_equal(row, np.arange(row.size)):
            return self
        safe = np.maximum(row, 0)
        met = row >= 0
        return Moment(
            np.where(met, self.low[safe], 0),
            np.where(met, self.high[safe], 0),
            np.where(met, self.day[safe], 0),
            met & self.date_only[safe],
            met & self.known[safe],
            (met & self.hard[safe]) | (row == TWO_ROWS),
        )

    def or_else(self, other: Moment) -> Moment:
        """Take `other` where this is missing; where this is hard nothing steps in."""
        missing = ~self.known & ~self.hard
        return Moment(
            np.where(missing, other.low, self.low),
            np.where(missing, other.high, self.high),
            np.where(missing, other.day, self.day),
            np.where(missing, other.date_only, self.date_only),
            np.where(missing, other.known, self.known),
            np.where(missing, other.hard, self.hard),
        )


def missing_numbers(size: int) -> Known:
    """Nothing known of `size` rows."""
    no = np.zeros(size, bool)
    return Known(np.full(size, np.nan), no, no)


def missing_moments(size: int) -> Moment:
    """Nothing known of `size` rows."""
    zero = np.zeros(size, np.int64)
    no = np.zeros(size, bool)
    return Moment(zero, zero, zero, no, no, no)


def known_number(value: float, size: int) -> Known:
    """The same number for every row, or nothing where it is nan."""
    return Known(np.full(size, value), np.full(size, not np.isnan(value)), np.zeros(size, bool))


def numbers(table: Table | None, column: str) -> Known:
    """A numeric column in its canonical unit; an absent one is missing throughout."""
    if table is None:
        return missing_numbers(0)
    found = table.number(column)
    if found is None:
        return missing_numbers(table.rows)
    return Known(found.values, found.state == READ, found.state == UNREADABLE)


def moments(table: Table | None, column: str) -> Moment:
    """A time column; an absent one is missing throughout."""
    if table is None:
        return missing_moments(0)
    found = table.time(column)
    if found is None:
        return missing_moments(table.rows)
    return Moment(
        found.low,
        found.high,
        found.day.astype(np.int64),
        found.date_only,
        found.state == READ,
        found.state == UNREADABLE,
    )


def yes_no(table: Table | None, column: str) -> Known:
    """A yes/no column as 1 and 0."""
    if table is None:
        return missing_numbers(0)
    found = table.yes_no(column)
    if found is None:
        return missing_numbers(table.rows)
    known = found.values >= 0
    return Known(np.where(known, found.values, np.nan).astype(np.float64), known, found.values == -2)


def words(table: Table | None, column: str) -> tuple[npt.NDArray[np.object_], Bool]:
    """Words or texts of a column as objects (empty where none), and where a cell is unreadable."""
    if table is None:
        return np.empty(0, object), np.zeros(0, bool)
    closed = table.word(column)
    if closed is not None:
        known: Texts = np.array(["", *closed.words], dtype=object)
        return known[np.maximum(closed.codes, -1) + 1], closed.codes == -2
    text = table.text(column)
    if text is None:
        return np.full(table.rows, "", object), np.zeros(table.rows, bool)
    known = np.empty(len(text.words) + 1, dtype=object)
    known[0] = ""
    known[1:] = text.words
    hard = np.asarray(text.state == UNREADABLE)
    return np.where(hard, "", known[text.codes + 1]) if hard.any() else known[text.codes + 1], hard


def take_words(values: Texts, hard: Bool, row: Int64) -> tuple[Texts, Bool]:
    """Gather words by row; NO_ROW gives an empty word, TWO_ROWS a hard one."""
    if not values.size:
        return np.full(row.shape, "", object), row == TWO_ROWS
    safe = np.maximum(row, 0)
    return np.where(row >= 0, values[safe], ""), ((row >= 0) & hard[safe]) | (row == TWO_ROWS)


def first_missing(parts: Sequence[tuple[Known | Moment, int]], size: int) -> tuple[npt.NDArray[np.int16], Bool]:
    """Which want is the first unknown of several needed parts, and whether it is hard.

    Parameters
    ----------
    parts : sequence of (part, want)
        In the order in which a person would ask for them.
    size : int

    Returns
    -------
    want : int16 (size,)
        -1 where every part is known.
    hard : bool (size,)
        Some part that is needed is hard.
    """
    want = np.full(size, -1, dtype=np.int16)
    hard = np.zeros(size, bool)
    for part, index in parts:
        unknown = ~part.known
        want = np.where((want < 0) & unknown, index, want).astype(np.int16)
        hard |= part.hard
    return want, hard


def pick(values: npt.NDArray[_Value], index: Int64, default: float | str | bool) -> npt.NDArray[_Value]:
    """Gather `values` by index, `default` where it is negative; works on an empty array of values too."""
    if not len(values):
        return np.full(index.shape, default, dtype=values.dtype)
    out = values[np.maximum(index, 0)]
    out[index < 0] = default
    return out

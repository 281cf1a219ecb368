"""Rows of one key made one: which row stands for them, which cells agree, and what becomes of those that do not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.tables.values import (
    EMPTY,
    UNREADABLE,
    Amount,
    Bool,
    Column,
    FlagBits,
    Float,
    Int64,
    Number,
    Span,
    Table,
    Text,
    Texts,
    Time,
    Word,
    YesNo,
)

if TYPE_CHECKING:
    from vaporqa.tables.dictionary import TableSpec

#: Numbers that differ by less are the same number in two units.
_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Groups:
    """Rows by key: `of` (n,) is the derived row of each source row, -1 for an empty key; `first` (m,) its first row."""

    of: Int64
    first: Int64

    @classmethod
    def by_key(cls, table: Table, spec: TableSpec) -> Groups:
        """Number the keys of a table in the order of their first rows."""
        empty = np.ones(table.rows, np.bool_)
        combined = np.zeros(table.rows, np.int64)
        for name in spec.keys:
            column = table.columns.get(name)
            if column is None:
                continue
            codes, state = _coded(column)
            empty &= state == EMPTY
            _, combined = np.unique(combined * (int(codes.max(initial=0)) + 2) + codes + 1, return_inverse=True)
        of = np.full(table.rows, -1, np.int64)
        rows = np.flatnonzero(~empty)
        _, first, group = np.unique(combined[rows], return_index=True, return_inverse=True)
        order = np.argsort(first, kind="stable")
        number = np.empty(len(order), np.int64)
        number[order] = np.arange(len(order))
        of[rows] = number[group]
        return cls(of, rows[first[order]].astype(np.int64))

    def differ(self, equal_to_first: Bool) -> Bool:
        """Derived rows of which some source row is not equal to the first, (m,)."""
        found = np.zeros(len(self.first), np.bool_)
        found[self.of[(self.of >= 0) & ~equal_to_first]] = True
        return found

    @property
    def first_of(self) -> Int64:
        """First row of each row's key, (n,); of a row without a key itself."""
        return np.where(self.of >= 0, self.first[np.maximum(self.of, 0)], np.arange(len(self.of))).astype(np.int64) if (
            len(self.first)) else np.arange(len(self.of))  # fmt: skip


def _coded(column: Column) -> tuple[Int64, Any]:
    """Return a number for each distinct value of a key column, and the states."""
    if isinstance(column, Text | Word):
        return column.codes.astype(np.int64), column.state
    values = column.low if isinstance(column, Time | Span) else column.values
    _, codes = np.unique(values, return_inverse=True)
    return codes.astype(np.int64), column.state


def _close(values: Float, first: Int64) -> Bool:
    other = values[first]
    with np.errstate(invalid="ignore"):
        found: Bool = (
            (values == other)
            | (np.isnan(values) & np.isnan(other))
            | (np.abs(values - other) <= _TOLERANCE * np.maximum(np.abs(values), np.abs(other)))
        )
    return found


def equal_cells(column: Column, first: Int64) -> Bool:
    """Rows whose cell, as read, is that of the row `first` (n,); an empty cell is not a filled one."""
    state: Any = column.state
    equal: Bool = state == state[first]
    if isinstance(column, Text | Word):
        equal &= column.codes == column.codes[first]
    elif isinstance(column, YesNo):
        equal &= column.values == column.values[first]
    elif isinstance(column, Time):
        equal &= (column.low == column.low[first]) & (column.high == column.high[first])
    elif isinstance(column, Span):
        equal &= _close(column.low, first) & _close(column.high, first)
    elif isinstance(column, Amount):
        # Numbers in a unit that is not known are compared as they are written.
        equal &= _close(column.values, first) & (column.family == column.family[first])
        equal &= (column.nondetect == column.nondetect[first]) & (column.marked == column.marked[first])
        equal &= ~np.isnan(column.values) | _close(column.written, first)
    elif isinstance(column, FlagBits):
        equal &= column.values == column.values[first]
    else:
        equal &= _close(column.values, first)
    return equal


def collapsed(column: Column, groups: Groups, differ: Bool) -> Column:
    """Return the column of the first rows, ambiguous where source rows differ."""
    first = groups.first
    if isinstance(column, Text):
        codes, words = column.codes[first].copy(), list(column.words)
        for at in np.flatnonzero(differ):
            codes[at] = len(words)
            words.append(_several(column, groups, int(at)))
        found: Texts = np.empty(len(words), dtype=object)
        found[:] = words
        return Text(codes, found, differ if differ.any() else None)
    if isinstance(column, Word):
        return Word(np.where(differ, -2, column.codes[first]).astype(np.int16), column.words)
    if isinstance(column, YesNo):
        return YesNo(np.where(differ, -2, column.values[first]).astype(np.int8))
    if isinstance(column, FlagBits):
        bits = np.zeros(len(first), np.int64)
        held = groups.of >= 0
        np.bitwise_or.at(bits, groups.of[held], column.values[held])
        return FlagBits(bits)
    state = np.where(differ, UNREADABLE, column.state[first]).astype(np.uint8)
    if isinstance(column, Time):
        return Time(
            np.where(differ, 0, column.low[first]), np.where(differ, 0, column.high[first]),
            np.where(differ, 0, column.day[first]).astype(np.int32), column.date_only[first] & ~differ, state,
        )  # fmt: skip
    if isinstance(column, Span):
        return Span(np.where(differ, np.nan, column.low[first]), np.where(differ, np.nan, column.high[first]), state)
    if isinstance(column, Number):
        return Number(np.where(differ, np.nan, column.values[first]), state)
    return Amount(
        np.where(differ, np.nan, column.values[first]), np.where(differ, np.nan, column.written[first]),
        np.where(differ, 0, column.family[first]).astype(np.int8), column.unit_codes[first], column.units, state,
        column.nondetect[first] & ~differ, column.marked[first] & ~differ,
    )  # fmt: skip


def _several(column: Text, groups: Groups, at: int) -> str:
    """Return the different texts of one derived row, joined so that they equal none of them."""
    rows = np.flatnonzero(groups.of == at)
    return " | ".join(sorted({column.at(int(row)) or "(empty)" for row in rows}))

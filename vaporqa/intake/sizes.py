"""Typed numbers: plain ones, percentages, fractions, coordinates, and quantities with a dimension."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.intake.numbers import offers, read_numbers
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import EMPTY, READ, UNREADABLE, Float, Number, UInt8

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn
    from vaporqa.intake.units import RowUnits, UnitFaults


def by_row(raw: RawColumn, table: str, notes: Notes, *, percent: bool = False) -> tuple[Float, UInt8]:
    """Return the numbers of a column as written, and their states; what is no number is noted."""
    read, signed = read_numbers(raw.texts, percent=percent)
    if read.wrong.any():
        rows = raw.rows(read.wrong)
        notes.reading("readable-number", table, raw.spec.name, rows, offers(raw.texts, read.wrong)[raw.codes[rows]])
    if signed.any() and len(raw.rows(signed)):
        notes.remark_on_table(
            table, f"column '{raw.header}': a percent sign after a number is read, the column is a percentage"
        )
    return np.append(read.values, np.nan)[raw.codes], np.append(read.state, EMPTY).astype(np.uint8)[raw.codes]


def plain_number(raw: RawColumn, table: str, notes: Notes) -> Number:
    """Return a column without a dimension."""
    values, state = by_row(raw, table, notes, percent=raw.spec.kind == "percent")
    return Number(values, state)


def coordinate(raw: RawColumn, crs: RawColumn | None, table: str, notes: Notes) -> Number:
    """Return `x` or `y`: in metres where a unit of length is declared, else in degrees or in the unit of `crs`.

    A cell whose row has neither a `crs` nor a declared unit has no reading.
    """
    values, state = by_row(raw, table, notes)
    without = np.zeros(len(values), np.bool_)
    for part in raw.parts:
        rows = slice(part.start, part.stop)
        length = parse_unit(part.unit, "length") if part.unit else None
        if length is not None:
            values[rows] = length.to_canonical(values[rows])
        elif not part.unit:
            without[rows] = True if crs is None else crs.codes[rows] < 0
    at = np.flatnonzero(without & (state == READ))
    if len(at):
        nothing = np.full(len(at), "", dtype=object)
        notes.reading("known-unit", table, raw.spec.name, at.astype(np.int64), nothing)
        values[at], state[at] = np.nan, UNREADABLE
    return Number(values, state)


def quantity(raw: RawColumn, units: RowUnits, faults: UnitFaults, table: str, notes: Notes) -> Number:
    """Return a column with a dimension in its canonical unit; vacua as positive gauge vacuum."""
    values, state = by_row(raw, table, notes)
    read = state == READ
    known = np.array([*(unit is not None for unit in units.units), False], np.bool_)[units.codes]
    at = np.flatnonzero(read & ~known)
    faults.add(units, at.astype(np.int64), raw.spec.dimension)
    values[at], state[at] = np.nan, UNREADABLE
    in_use = np.unique(units.codes[read]) if len(units.units) > 1 else np.arange(len(units.units))
    for code in in_use:
        unit = units.units[int(code)] if code >= 0 else None
        if unit is not None:
            here = slice(None) if len(in_use) == 1 else units.codes == code
            values[here] = unit.to_canonical(values[here])
    if raw.spec.name.startswith("vacuum_"):
        _positive_downward(raw, values, state, table, notes)
    return Number(values, state)


def _positive_downward(raw: RawColumn, values: Float, state: UInt8, table: str, notes: Notes) -> None:
    """Settle the sign of a vacuum column in place: magnitudes where all are negative, a finding where mixed."""
    with np.errstate(invalid="ignore"):
        under, over = values < 0, values > 0
    if not under.any():
        return
    if not over.any():
        np.negative(values, out=values, where=under)
        notes.remark_on_table(
            table, f"column '{raw.header}': all numbers are negative or zero; their magnitudes are meant as vacuum"
        )
        return
    counts = int(under.sum()), int(over.sum())
    rarer = (under | over) if counts[0] == counts[1] else under if counts[0] < counts[1] else over
    detail: Mapping[bool, str] = {
        True: "as many cells of this column are negative as positive",
        False: f"{min(counts):,} of the column's {sum(counts):,} cells have this sign",
    }
    rows = np.flatnonzero(rarer).astype(np.int64)
    words = np.full(len(rows), detail[counts[0] == counts[1]], dtype=object)
    notes.reading("units-as-declared", table, raw.spec.name, rows, words)
    values[rarer] = np.nan
    state[rarer] = UNREADABLE
    if counts[0] > counts[1]:
        np.negative(values, out=values, where=under)

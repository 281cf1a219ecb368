"""Typed concentrations: numbers or marks of nondetection, in the unit of the row."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa import analytes
from vaporqa.intake.flagged_cells import take_flags_off
from vaporqa.intake.nondetects import offers, read_amounts
from vaporqa.quantities.units import NO_FAMILY
from vaporqa.tables.values import EMPTY, READ, Amount, Bool, Int32

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn
    from vaporqa.intake.units import RowUnits, UnitFaults

#: Flags of each row: codes (n,), -1 for none, into texts.
Flags = tuple[Int32, Any]

#: Columns that name the substance of a row, the first that is filled counts.
SUBSTANCE = ("cas", "analyte", "gas", "tracer")


def amount(
    raw: RawColumn,
    units: RowUnits,
    faults: UnitFaults,
    table: str,
    notes: Notes,
    *,
    text_rows: Bool,
    percent_rows: Bool,
    substance: Mapping[str, RawColumn],
    names: Mapping[str, str],
    flags: Set[str] | None = None,
) -> tuple[Amount, Flags | None]:
    """Return a column of concentrations, and the laboratory flags that stand beside its numbers.

    Parameters
    ----------
    text_rows : bool (n,)
        Rows whose cell is text by contract (observations): left EMPTY, nothing is found on them.
    percent_rows : bool (n,)
        Rows whose number may be a recovery (surrogates, internal standards): `%` there is no concentration and
        no fault.
    substance : mapping
        Raw columns that name the row's substance, for units that have a meaning for one only.
    names : mapping
        Spellings of this project to CAS numbers.
    flags : set of str, optional
        Declared flags; None where cells of the column carry none.

    Returns
    -------
    amount : Amount
    beside : Flags or None
    """
    read = read_amounts(raw.texts)
    codes = np.where(text_rows, -1, raw.codes) if text_rows.any() else raw.codes
    beside: Flags | None = None
    if flags is not None and read.wrong.any():
        split = take_flags_off(raw.texts, read.wrong, flags)
        if split is not None:
            read = read_amounts(split[0])
            of = np.array([*(at if text else -1 for at, text in enumerate(split[1].to_pylist())), -1], np.int32)
            beside = of[codes], split[1]
    if read.wrong.any():
        rows = np.flatnonzero(np.append(read.wrong, False)[codes]).astype(np.int64)
        notes.reading("readable-number", table, raw.spec.name, rows, offers(raw.texts, read.wrong)[codes[rows]])
    negative = int(np.append(read.negative, False)[codes].sum()) if read.negative.any() else 0
    if negative:
        notes.remark_on_table(table, f"column '{raw.header}': {negative:,} negative numbers, read as nondetects")
    written = np.append(read.values, np.nan)[codes]
    state = np.append(read.state, EMPTY).astype(np.uint8)[codes]
    nondetect = np.append(read.nondetect, False)[codes]
    marked = np.append(read.marked, False)[codes]
    # A known unit needs a number beside it before its absence is worth saying.
    numbered = state == READ
    family_of = np.array([*((unit.family if unit else NO_FAMILY) for unit in units.units), NO_FAMILY], np.int8)
    factor_of = np.array([*((unit.factor if unit else np.nan) for unit in units.units), np.nan])
    family = family_of[units.codes]
    wrong = numbered & ((family == NO_FAMILY) | units.contradicted)
    wrong |= numbered & _of_another_substance(units, substance, names)
    values = written * factor_of[units.codes]
    if percent_rows.any():
        recovery = percent_rows & _percent(units)
        wrong &= ~recovery
        values[recovery] = np.nan
        family = np.where(recovery, np.int8(NO_FAMILY), family)
    if wrong.any():
        faults.add(units, np.flatnonzero(wrong).astype(np.int64), "amount")
        values[wrong] = np.nan
        family = np.where(wrong, np.int8(NO_FAMILY), family)
    return Amount(
        values, written, family, units.codes.astype(np.int16), units.spellings, state, nondetect, marked
    ), beside


def _percent(units: RowUnits) -> Bool:
    from vaporqa.quantities.units import parse_unit

    flags = [*(parse_unit(text, "percent") is not None for text in units.spellings), False]
    found: Bool = np.array(flags, np.bool_)[units.codes]
    return found


def _of_another_substance(units: RowUnits, substance: Mapping[str, RawColumn], names: Mapping[str, str]) -> Bool:
    """Rows with a unit that has a meaning for one substance only, and which is not theirs or not known to be."""
    n = len(units.codes)
    wrong = np.zeros(n, np.bool_)
    for code, unit in enumerate(units.units):
        if unit is None or not unit.only_for:
            continue
        rows = units.codes == code
        right = np.zeros(n, np.bool_)
        open_rows = np.ones(n, np.bool_)
        for name in SUBSTANCE:
            raw = substance.get(name)
            if raw is None:
                continue
            same = [*(analytes.resolve(text, names) == unit.only_for for text in raw.texts.to_pylist()), False]
            stated = open_rows & (raw.codes >= 0)
            right |= stated & np.array(same, np.bool_)[raw.codes]
            open_rows &= ~stated
        wrong |= rows & ~right
    return wrong

"""Laboratory results as evidence sees them: detected or not, values and limits in one unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.evidence.cells import words
from vaporqa.evidence.joins import group_numbers, number_texts
from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.values import (
    NO_FAMILY,
    READ,
    UNREADABLE,
    Amount,
    Bool,
    Float,
    Int8,
    Int64,
    Table,
    Text,
    Texts,
    YesNo,
)

DETECTED, NONDETECT, UNSTATED = 1, 0, -1


@dataclass(frozen=True, slots=True)
class Values:
    """Amounts of rows, canonical in each family, (n,)."""

    value: Float
    family: Int8
    known: Bool
    hard: Bool

    def take(self, row: Int64) -> Values:
        """Gather by row; a negative row is missing."""
        if not self.value.size:
            no = np.zeros(row.shape, bool)
            return Values(np.full(row.shape, np.nan), np.zeros(row.shape, np.int8), no, no)
        safe, met = np.maximum(row, 0), row >= 0
        return Values(
            np.where(met, self.value[safe], np.nan),
            np.where(met, self.family[safe], NO_FAMILY).astype(np.int8),
            met & self.known[safe],
            met & self.hard[safe],
        )

    def or_else(self, other: Values) -> Values:
        """Take `other` where this is missing; where this is hard nothing steps in."""
        missing = ~self.known & ~self.hard
        return Values(
            np.where(missing, other.value, self.value),
            np.where(missing, other.family, self.family).astype(np.int8),
            np.where(missing, other.known, self.known),
            np.where(missing, other.hard, self.hard),
        )


def missing_values(size: int) -> Values:
    """Nothing known of `size` rows."""
    no = np.zeros(size, bool)
    return Values(np.full(size, np.nan), np.zeros(size, np.int8), no, no)


def values_of(amount: Amount | None, size: int) -> Values:
    """Readable amounts with a known unit; a number without a known unit is hard (it cannot be compared)."""
    if amount is None:
        return missing_values(size)
    read = (amount.state == READ) & np.isfinite(amount.written)
    known = read & (amount.family != NO_FAMILY)
    return Values(amount.values, amount.family, known, (amount.state == UNREADABLE) | (read & ~known))


def counted(detected: Bool, result: Values, ceiling: Values) -> Values:
    """Return the number of a detect and the ceiling of everything else."""
    return Values(
        np.where(detected, result.value, ceiling.value),
        np.where(detected, result.family, ceiling.family).astype(np.int8),
        np.where(detected, result.known, ceiling.known),
        np.where(detected, result.hard, ceiling.hard),
    )


def in_family(values: Values, family: Int8, molar_mass: Float, molar_volume: float) -> Values:
    """Bring amounts into a wanted family, by molar mass between volume and mass; elsewhere they become unknown.

    A pair that cannot be brought to one unit is hard: both numbers stand there and cannot be compared.
    """
    from vaporqa.quantities.units import BY_MASS, BY_VOLUME

    same = values.family == family
    if (same | ~values.known).all():
        kept = np.where(values.known, family, NO_FAMILY).astype(np.int8)
        return Values(np.where(values.known, values.value, np.nan), kept, values.known, values.hard)
    to_mass = (values.family == BY_VOLUME) & (family == BY_MASS)
    to_volume = (values.family == BY_MASS) & (family == BY_VOLUME)
    factor = molar_mass / molar_volume
    value = np.where(
        same, values.value, np.where(to_mass, values.value * factor, np.where(to_volume, values.value / factor, np.nan))
    )
    known = values.known & np.isfinite(value)
    return Values(
        np.where(known, value, np.nan), np.where(known, family, NO_FAMILY).astype(np.int8), known,
        values.hard | (values.known & ~known),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Results:
    """The results table (or lab_qc) in the terms of the rules, (n,) by row.

    Attributes
    ----------
    sample, analyte : int64
        Sample and analyte numbers.
    kind : object
        Word of the row's kind.
    target : bool
        Target or tentative, no exact copy of another row, and not the form by volume of a result by mass: rules judge
        these rows.
    form_of : int64
        For a row by volume that is the other form of a result: the row by mass, else -1. It is detected where that is.
    opposed : bool
        Rows by mass whose form by volume says the opposite of whether it was detected.
    detected : int8
        DETECTED, NONDETECT or UNSTATED (unproven, never a nondetect).
    result, reporting_limit, detection_limit, limit_of_detection, nondetect_at : Values
    form : str
        `""`, `_mass` or `_volume`: the form in which the result stands.
    flags : uint16
        Declared meanings of the laboratory's flags, bit i for FLAG_MEANINGS[i].
    batch, group, method, fraction, run : int64
        Laboratory and batch together, delivery group, and texts as numbers; -1 where empty.
    """

    sample: Int64
    analyte: Int64
    kind: Texts
    target: Bool
    form_of: Int64
    opposed: Bool
    detected: Int8
    result: Values
    reporting_limit: Values
    detection_limit: Values
    limit_of_detection: Values
    nondetect_at: Values
    form: str
    flags: Int64
    batch: Int64
    method: Int64
    fraction: Int64
    #: By row: the limit at which a U by a blank stands (canonical, in the result's family); nan where none.
    blank_limit: Float

    def flagged(self, meaning: str) -> Bool:
        """Rows with a declared flag of this meaning."""
        return np.asarray((self.flags >> FLAG_MEANINGS.index(meaning)) & 1 == 1)

    @property
    def reachable(self) -> Bool:
        """Rows that what reaches a sample reaches: targets, and the other forms of targets."""
        return np.asarray(self.target | ((self.form_of >= 0) & self.target[self.form_of]))

    @property
    def other_form(self) -> Int64:
        """The other row of each row that is one of two forms, either way; -1 elsewhere."""
        out = self.form_of.copy()
        rows = np.flatnonzero(self.form_of >= 0)
        out[self.form_of[rows]] = rows
        return out

    @property
    def ceiling(self) -> Values:
        """What a nondetect counts as: the limit a blank gave it, else the number beside its mark, else its limit."""
        own = self.nondetect_at.or_else(self.reporting_limit)
        blank = np.isfinite(self.blank_limit)
        return Values(
            np.where(blank, self.blank_limit, own.value),
            np.where(blank, self.result.family, own.family).astype(np.int8),
            own.known | blank,
            own.hard & ~blank,
        )

    def after_blanks(self, nondetect: Bool, at: Float, molar_mass: Float, molar_volume: float) -> Results:
        """The same results once blanks have turned some detects into nondetects at a stated limit.

        Parameters
        ----------
        nondetect : bool (n,)
        at : float64 (n,)
            Canonical, in the family of each result.
        molar_mass : float64 (n,)
            g/mol by row; a form by volume is turned with its form by mass, at the same limit. Where the molar mass is
            not known that limit is infinite: it cannot be stated.
        molar_volume : float
            L/mol.
        """
        rows = np.flatnonzero(self.form_of >= 0)
        rows = rows[nondetect[self.form_of[rows]]]
        nondetect, at = nondetect.copy(), at.copy()
        nondetect[rows] = True
        by_volume = at[self.form_of[rows]] * molar_volume / molar_mass[rows]
        at[rows] = np.where(np.isfinite(by_volume), by_volume, np.inf)
        detected = np.where(nondetect, NONDETECT, self.detected).astype(np.int8)
        return replace(self, detected=detected, blank_limit=at)


def text_numbers(table: Table, *columns: str) -> Int64:
    """One number for each distinct tuple of texts; -1 where all of them are empty."""
    codes = []
    empty = np.ones(table.rows, bool)
    for column in columns:
        text = table.text(column)
        code = text.codes.astype(np.int64) if text is not None else np.full(table.rows, -1, np.int64)
        empty &= code < 0
        codes.append(code)
    numbers, _ = group_numbers(*codes)
    return np.where(empty, -1, numbers).astype(np.int64)


def joint_numbers(columns: Mapping[tuple[str, str], Text]) -> dict[tuple[str, str], Int64]:
    """Numbers of texts that mean the same in several tables (laboratory, batch, lot)."""
    return number_texts(columns)[1]


def flag_bits(table: Table) -> Int64:
    """Declared meanings of the laboratory flags by row, as bits; words of the closed list speak for themselves."""
    declared = table.columns.get("flag_meanings")
    if declared is not None and hasattr(declared, "values"):
        return np.asarray(declared.values, dtype=np.int64)
    text = table.text("lab_flag")
    if text is None:
        return np.zeros(table.rows, np.int64)
    bits = np.zeros(len(text.words) + 1, np.int64)
    for code, word in enumerate(text.words):
        for part in str(word).replace(";", " ").replace(",", " ").split():
            if part in FLAG_MEANINGS:
                bits[code] |= 1 << FLAG_MEANINGS.index(part)
    return bits[text.codes]


def results_of(table: Table, sample: Int64, analyte: Int64, batch: Int64) -> Results:
    """Read a results (or lab_qc) table in the terms of the rules.

    Zero is never a result: a zero neither detects nor clears (UNSTATED) unless the row itself says which. A negative
    number is a nondetect.
    """
    form = ""
    if "result" not in table:
        form = "_mass" if "result_mass" in table else "_volume" if "result_volume" in table else ""
    amount = table.amount(f"result{form}")
    kind, _ = words(table, "kind")
    flags = flag_bits(table)
    limits = {
        name: values_of(table.amount(f"{name}{form}"), table.rows)
        for name in ("reporting_limit", "detection_limit", "limit_of_detection")
    }
    beside = values_of(table.amount("nondetect_at"), table.rows)
    result = values_of(amount, table.rows)
    if amount is not None:
        marked = amount.marked & result.known
        beside = beside.or_else(
            Values(np.where(marked, result.value, np.nan), result.family, marked, ~result.known & False)
        )
    form_of = table.form_of.astype(np.int64) if table.form_of is not None else np.full(table.rows, -1, np.int64)
    detected, opposed = _as_by_mass(_detected(table, amount, flags), form_of)
    return Results(
        sample=sample,
        analyte=analyte,
        kind=kind,
        target=table.counts & _is_target(table) & (form_of < 0),
        form_of=form_of,
        opposed=opposed,
        detected=detected,
        result=result,
        nondetect_at=beside,
        form=form,
        flags=flags,
        batch=batch,
        method=text_numbers(table, "method"),
        fraction=text_numbers(table, "fraction"),
        blank_limit=np.full(table.rows, np.nan),
        **limits,
    )


def _as_by_mass(detected: Int8, form_of: Int64) -> tuple[Int8, Bool]:
    """Status of each row, a form by volume as its form by mass; and rows by mass whose other form says otherwise."""
    opposed = np.zeros(len(detected), bool)
    rows = np.flatnonzero(form_of >= 0)
    opposed[form_of[rows]] = detected[rows] != detected[form_of[rows]]
    out = detected.copy()
    out[rows] = detected[form_of[rows]]
    return out, opposed


def _is_target(table: Table) -> Bool:
    closed = table.word("kind")
    if closed is None or "target" not in closed.words:
        return np.ones(table.rows, bool)
    # An empty kind is a target; an unreadable one is treated as one, so that nothing slips past unjudged.
    return np.asarray(closed.is_in("target", "tentative") | (closed.codes < 0))


def _detected(table: Table, amount: Amount | None, flags: Int64) -> Int8:
    """In order: the `detected` column; a nondetect mark or flag; a readable number; else nothing is stated."""
    column = table.columns.get("detected")
    stated = column.values if isinstance(column, YesNo) else np.full(table.rows, -1, np.int8)
    flagged = (flags >> FLAG_MEANINGS.index("nondetect")) & 1 == 1
    if amount is None:
        cell = np.where(flagged, NONDETECT, UNSTATED)
    else:
        number = (amount.state == READ) & np.isfinite(amount.written)
        below = amount.nondetect | flagged | (number & (amount.written < 0))
        positive = number & (amount.written > 0)
        cell = np.where(below, NONDETECT, np.where(positive, DETECTED, UNSTATED))
    said = np.select([stated == 1, stated == 0, stated == -2], [DETECTED, NONDETECT, UNSTATED], default=cell)
    return said.astype(np.int8)

"""Laboratory results as evidence sees them: analyte numbers, detected or not, values and limits in one unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from vaporqa import analytes
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
    Tables,
    Text,
    Texts,
    YesNo,
)

DETECTED, NONDETECT, UNSTATED = 1, 0, -1


@dataclass(frozen=True, slots=True)
class Analytes:
    """Every analyte that stands anywhere in the folder, numbered once over all tables.

    Attributes
    ----------
    cas : tuple of str
        CAS number, or empty where only a name that the lists do not know is given.
    name : tuple of str
        By which sentences call it: a spelling of the folder that means this number, whatever the order of rows.
    of : mapping
        Table to analyte number by row; -1 where the row names none.
    """

    cas: tuple[str, ...]
    name: tuple[str, ...]
    of: Mapping[str, Int64]

    def number(self, text: str, extra: Mapping[str, str]) -> int:
        """Number of the analyte that `text` (a CAS number or a name) means; -1 where no table has it."""
        cas = analytes.resolve(text, extra)
        for number, known in enumerate(self.cas):
            if (cas and known == cas) or (not cas and not known and self.name[number].casefold() == text.casefold()):
                return number
        return -1

    def in_class(self, name: str) -> Bool:
        """Analytes of a class of the shipped list, (k,)."""
        return np.array([bool(cas) and analytes.has_class(cas, name) for cas in self.cas], dtype=bool)

    @property
    def molar_mass(self) -> Float:
        """g/mol, (k,); nan where the shipped list does not know the analyte."""
        found = [analytes.by_cas(cas) if cas else None for cas in self.cas]
        return np.array([a.molar_mass if a is not None else np.nan for a in found], dtype=np.float64)


#: Tables and the columns that name their analyte: (CAS column, name column).
_NAMED = {
    "results": ("cas", "analyte"),
    "lab_qc": ("cas", "analyte"),
    "screening_levels": ("cas", "analyte"),
    "required_analytes": ("cas", "analyte"),
    "tracer_tests": ("", "tracer"),
    "field_readings": ("", "gas"),
    "instrument_checks": ("", "gas"),
}


def project_names(tables: Tables) -> dict[str, str]:
    """Spellings of this project: name to CAS number."""
    table = tables.get("analyte_names")
    if table is None:
        return {}
    name, _ = words(table, "name")
    cas, _ = words(table, "cas")
    return {str(n): str(c) for n, c in zip(name, cas, strict=True) if n and c}


def analytes_of(tables: Tables, extra: Mapping[str, str]) -> Analytes:
    """Number the analytes of all tables: by CAS number, else by the CAS number of the name, else by the name."""
    numbers: dict[str, int] = {}
    cas_out: list[str] = []
    names_out: list[set[str]] = []
    of: dict[str, Int64] = {}
    for table_name, (cas_column, name_column) in _NAMED.items():
        table = tables.get(table_name)
        if table is None:
            continue
        cas_text, name_text = table.text(cas_column) if cas_column else None, table.text(name_column)
        minus = np.full(table.rows, -1, np.int64)
        cas_code = cas_text.codes.astype(np.int64) if cas_text is not None else minus
        name_code = name_text.codes.astype(np.int64) if name_text is not None else minus
        group, count = group_numbers(cas_code, name_code)
        first = np.zeros(count, np.int64)
        first[group[::-1]] = np.arange(table.rows - 1, -1, -1)
        lookup = np.full(count, -1, np.int64)
        for index, row in enumerate(first.tolist() if table.rows else []):
            cas = str(cas_text.words[cas_code[row]]) if cas_text is not None and cas_code[row] >= 0 else ""
            name = str(name_text.words[name_code[row]]) if name_text is not None and name_code[row] >= 0 else ""
            lookup[index] = _number(cas, name, extra, numbers, cas_out, names_out)
        of[table_name] = lookup[group] if table.rows else minus
    names = tuple(_called(cas, written, extra) for cas, written in zip(cas_out, names_out, strict=True))
    return Analytes(tuple(cas_out), names, of)


def _number(
    cas: str,
    name: str,
    extra: Mapping[str, str],
    numbers: dict[str, int],
    cas_out: list[str],
    names_out: list[set[str]],
) -> int:
    if not cas and not name:
        return -1
    known = (analytes.resolve(cas, extra) or analytes.cas_from_spreadsheet(cas)) if cas else None
    if known is None and not cas:
        known = analytes.resolve(name, extra)
    key = known or cas or f"name:{name.casefold()}"
    if key not in numbers:
        numbers[key] = len(cas_out)
        cas_out.append(known or cas)
        names_out.append(set())
    if name:
        names_out[numbers[key]].add(name)
    return numbers[key]


def _called(cas: str, written: set[str], extra: Mapping[str, str]) -> str:
    """Name by which sentences call an analyte, whatever the order of rows.

    Of the spellings in the folder the one of the shipped list, else one that means this number, else one that the list
    does not know; a name that belongs to another number is never taken for it.
    """
    listed = analytes.by_cas(cas) if cas else None
    if listed is None:
        return min(written, default=cas)
    ranked = []
    for name in written:
        meant = analytes.resolve(name, extra)
        if meant in (cas, None):
            ranked.append((name.casefold() != listed.name.casefold(), meant is None, name))
    return min(ranked)[2] if ranked else listed.name


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
        Target or tentative, and no exact copy of another row.
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

    def after_blanks(self, nondetect: Bool, at: Float) -> Results:
        """The same results once blanks have turned some detects into nondetects at a stated limit."""
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
    return Results(
        sample=sample,
        analyte=analyte,
        kind=kind,
        target=table.counts & _is_target(table),
        detected=_detected(table, amount, flags),
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

"""What the cells of each column of a stranger's file look like, counted; nothing is decided here."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from vaporqa.analytes import by_cas, cas_format_ok, cas_from_spreadsheet, check_digit_ok, resolve
from vaporqa.intake.flagged_cells import split_flags
from vaporqa.intake.grids import TextFile
from vaporqa.intake.headers import Header
from vaporqa.intake.headings import NOTHING
from vaporqa.intake.inspect_headers import is_two_units
from vaporqa.intake.inspect_times import NO_TIMES, TimeFit, clock_times, fit_times
from vaporqa.intake.nondetects import read_amounts
from vaporqa.intake.numbers import offer_number
from vaporqa.intake.words import read_spans, read_yes_no
from vaporqa.intake.workbook_times import serial_times
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import EMPTY, READ, Bool, Int32, Int64

SAMPLES = 4
#: Distinct texts read one by one in Python; a column with more is no column of flags, units or CAS numbers.
ONE_BY_ONE_AT_MOST = 5_000
#: Distinct texts that are kept; a column with more is no column of words or flags.
WORDS_AT_MOST = 200
_COMMA = re.compile(r"[<]?\s*[+-]?[0-9]+,[0-9]+(?:\s*[A-Z]{1,2})?")
_THOUSANDS = re.compile(r"[<]?\s*[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?(?:\s*[A-Z]{1,2})?")


@dataclass(frozen=True, slots=True)
class ColumnFacts:
    """One column as counted, cells of rows that are no records left aside.

    Attributes
    ----------
    header : Header
    filled, rows : int
        Cells with content, and all cells.
    distinct : int
        Different texts.
    samples : tuple of str
        The most frequent ones, as written.
    nothing : mapping
        Text such as ``--`` that laboratories write where there is nothing, to cells.
    cells : int
        Filled cells without those: what the counts below are of.
    numbers, points : int
        Plain numbers, and those of them that have a decimal point.
    marks : mapping
        Mark of nondetection (``ND``, ``<x``, ``x U``) to cells.
    flags : mapping
        Letters stuck to a number or a mark, to cells; under the empty text, cells that are counted nowhere else.
    comma, thousands : int
        Numbers with a comma that can only be a decimal mark, and those in which it may be a thousands mark.
    misread : tuple of (str, str)
        Texts that are no number and the number that each may be.
    times : TimeFit
    serial : bool
        In a workbook: every cell is a number that is a day of its calendar, if these are times.
    clock : bool
        Times of day without dates.
    cas : int
        CAS numbers whose check digit fits.
    wrong_cas : tuple of str
        Texts written as CAS numbers whose check digit does not fit.
    mangled : mapping
        Text that a spreadsheet made of a CAS number, to that number.
    analytes, analyte_names : int
        Different texts that the shipped list of analytes knows by name, and texts looked up.
    analytes_inside : int
        The same where a short mark after a comma is left aside, as in ``Toluene, wf``.
    unknown_names : tuple of str
        Texts that it does not know, where it knows most.
    surrogates : tuple of str
        Names of surrogates and internal standards among them.
    units : mapping
        Unit as written to cells, where every cell is one.
    two_units : tuple of str
        Texts among them that can be read as more than one unit.
    yes_no, spans : int
        Cells that say yes or no; ranges.
    words : mapping
        Text to cells, where there are few.
    """

    header: Header
    filled: int
    rows: int
    distinct: int
    samples: tuple[str, ...] = ()
    nothing: Mapping[str, int] = field(default_factory=dict)
    cells: int = 0
    numbers: int = 0
    points: int = 0
    marks: Mapping[str, int] = field(default_factory=dict)
    flags: Mapping[str, int] = field(default_factory=dict)
    comma: int = 0
    thousands: int = 0
    misread: tuple[tuple[str, str], ...] = ()
    times: TimeFit = NO_TIMES
    serial: bool = False
    clock: bool = False
    cas: int = 0
    wrong_cas: tuple[str, ...] = ()
    mangled: Mapping[str, str] = field(default_factory=dict)
    analytes: int = 0
    analyte_names: int = 0
    analytes_inside: int = 0
    unknown_names: tuple[str, ...] = ()
    surrogates: tuple[str, ...] = ()
    units: Mapping[str, int] = field(default_factory=dict)
    two_units: tuple[str, ...] = ()
    yes_no: int = 0
    spans: int = 0
    words: Mapping[str, int] = field(default_factory=dict)

    @property
    def amounts(self) -> int:
        """Cells that hold a number or a mark of nondetection, flags and decimal commas included."""
        return self.numbers + sum(self.marks.values()) + self.flagged + self.comma + self.thousands

    @property
    def flagged(self) -> int:
        """Cells with letters stuck to a number without a comma."""
        return self.flags.get("", 0)

    @property
    def is_numeric(self) -> bool:
        """At least nine of ten cells are numbers or marks."""
        return bool(self.cells) and self.amounts * 10 >= self.cells * 9

    @property
    def is_unit(self) -> bool:
        """Every cell is a unit."""
        return bool(self.units)


@dataclass(frozen=True, slots=True)
class Cellwise:
    """The cells of one column as codes into its distinct texts, blanks at their ends removed."""

    codes: Int32
    texts: tuple[str, ...]


def record_rows(file: TextFile, left_out: Sequence[int]) -> Bool:
    """Return which records of a file are looked at: not those in physical rows `left_out`, (n,)."""
    kept: Bool = ~np.isin(file.lines, np.asarray(left_out, np.int64))
    return kept


def footer_rows(file: TextFile) -> tuple[int, ...]:
    """Return physical rows at the end in which next to nothing is filled, where the rows above are full."""
    if len(file.lines) < 3 or len(file.columns) < 3:
        return ()
    filled = np.zeros(len(file.lines), np.int64)
    for column in file.columns:
        some = np.array([bool(text.strip()) for text in column.dictionary.to_pylist()], np.bool_)
        filled += np.append(some, False)[column.indices.to_numpy()]
    usual = float(np.median(filled))
    last = len(filled)
    while last > 0 and filled[last - 1] <= max(1, usual / 3) and filled[last - 1] < usual:
        last -= 1
    found: Int64 = file.lines[last:]
    # A table of half-empty rows has no footer.
    return tuple(int(line) for line in found) if len(found) * 3 <= len(filled) else ()


def cellwise(column: Any) -> Cellwise:
    """Return a column of a file as codes into texts."""
    return Cellwise(
        np.asarray(column.indices.to_numpy(), np.int32), tuple(text.strip() for text in column.dictionary.to_pylist())
    )


def describe_column(file: TextFile, at: int, kept: Bool) -> ColumnFacts:
    """Return the column at position `at` of a file as counted, over the records `kept` (n,)."""
    import pyarrow as pa

    cells = cellwise(file.columns[at])
    counts: Counter[str] = Counter()
    for text, count in zip(cells.texts, np.bincount(cells.codes[kept], minlength=len(cells.texts)).tolist(),
                           strict=True):  # fmt: skip
        if count and text:
            counts[text] += count
    filled = sum(counts.values())
    header = file.headers[at]
    if not filled:
        return ColumnFacts(header, 0, int(kept.sum()), 0)
    nothing = {text: count for text, count in counts.items() if text.casefold() in NOTHING}
    rest = {text: count for text, count in counts.items() if text not in nothing}
    if not rest:
        return ColumnFacts(header, filled, int(kept.sum()), len(counts), tuple(counts)[:SAMPLES], nothing)
    texts = list(rest)
    weights = np.array(list(rest.values()), np.int64)
    array = pa.array(texts, pa.string())
    found = {
        **_as_amounts(array, texts, weights),
        **_as_cas(texts, rest),
        **_as_words(array, texts, rest, weights),
    }
    numeric = found["numbers"] == sum(rest.values()) and not any(re.fullmatch(r"[0-9]{8}", text) for text in texts[:50])
    times = NO_TIMES if numeric else fit_times(_with_serial_days(array, file, at))
    return ColumnFacts(
        header=header,
        filled=filled,
        rows=int(kept.sum()),
        distinct=len(counts),
        samples=tuple(text for text, _ in counts.most_common(SAMPLES)),
        nothing=nothing,
        cells=int(weights.sum()),
        times=times,
        serial=bool(file.numeric) and numeric and _is_serial(array, file.from_1904),
        clock=not times.reads and clock_times(array),
        **found,
    )


def _with_serial_days(array: Any, file: TextFile, at: int) -> Any:
    """Return texts with the numbers of a workbook's column turned into days, as a run reads them among true dates."""
    import pyarrow as pa

    if not file.numeric or not file.numeric[at] or len(array) > ONE_BY_ONE_AT_MOST:
        return array
    return pa.array(serial_times(array, from_1904=file.from_1904, times_alone=False)[0], pa.string())


def _is_serial(array: Any, from_1904: bool) -> bool:
    return len(array) <= ONE_BY_ONE_AT_MOST and bool(
        serial_times(array, from_1904=from_1904, times_alone=False)[1].all()
    )


def _as_amounts(array: Any, texts: Sequence[str], weights: Int64) -> dict[str, Any]:
    read = read_amounts(array)
    marks: Counter[str] = Counter()
    plain = (read.state == READ) & ~read.marked
    for place in np.flatnonzero(read.marked | (read.state == EMPTY)).tolist():
        text = texts[place]
        mark = "<x" if text.startswith("<") else "x U" if read.marked[place] else text
        marks[mark] += int(weights[place])
    flags: Counter[str] = Counter()
    comma = thousands = 0
    misread = []
    wrong = np.flatnonzero(read.wrong)
    if len(wrong) <= ONE_BY_ONE_AT_MOST:
        for at in wrong.tolist():
            text, weight = texts[at], int(weights[at])
            with_comma = _THOUSANDS.fullmatch(text) or _COMMA.fullmatch(text)
            if with_comma:
                thousands += weight * (with_comma.re is _THOUSANDS)
                comma += weight * (with_comma.re is _COMMA)
                if beside := re.search(r"[A-Z]{1,2}$", text):
                    flags[beside[0]] += weight
            elif (split := split_flags(_apart(text), set())) is not None and split[1]:
                flags[""] += weight
                for flag in split[1].split():
                    flags[flag] += weight
            elif offer := offer_number(text):
                misread.append((text, offer))
    numbers = int(weights[plain].sum())
    # Dates and names hold numbers too: only in a column of numbers is the rest worth a reading.
    if numbers + sum(marks.values()) + flags.get("", 0) + comma + thousands < int(weights.sum()) / 2:
        misread = []
    points = sum(int(weights[at]) for at in np.flatnonzero(plain) if "." in texts[int(at)])
    return {"numbers": numbers, "points": points, "marks": dict(marks), "flags": dict(flags), "comma": comma,
            "thousands": thousands, "misread": tuple(misread)}  # fmt: skip


def _apart(text: str) -> str:
    """Set letters that touch a number apart from it: here they are counted, a run reads them only where declared."""
    return re.sub(r"(?<=[0-9.])(?=[A-Z*+]{1,2}$)", " ", text)


def _as_cas(texts: Sequence[str], rest: Mapping[str, int]) -> dict[str, Any]:
    cas, wrong, mangled = 0, [], {}
    if len(texts) <= ONE_BY_ONE_AT_MOST:
        for text in texts:
            if cas_format_ok(text):
                if check_digit_ok(text):
                    cas += rest[text]
                else:
                    wrong.append(text)
            elif (number := cas_from_spreadsheet(text)) is not None:
                mangled[text] = number
    # A column of dates holds some that would make a CAS number; beside true CAS numbers they were such numbers.
    if not cas:
        mangled = {text: number for text, number in mangled.items() if by_cas(number) is not None}
        if len(mangled) < len(texts):
            mangled = {}
    return {"cas": cas, "wrong_cas": tuple(wrong) if cas else (), "mangled": mangled}


def _as_words(array: Any, texts: Sequence[str], rest: Mapping[str, int], weights: Int64) -> dict[str, Any]:
    if len(texts) > ONE_BY_ONE_AT_MOST:
        return {}
    yes, _ = read_yes_no(array)
    low, _, _ = read_spans(array)
    names = [text for text in texts if re.search(r"[A-Za-z]{2}", text)]
    known = {text: number for text in names if (number := resolve(text)) is not None and not cas_format_ok(text)}
    listed = len(known) * 2 > len(texts)
    surrogates = [
        text for text, number in known.items()
        if (analyte := by_cas(number)) is not None and analyte.classes & {"surrogate", "internal_standard"}
    ]  # fmt: skip
    inside = 0 if listed else sum(resolve(re.sub(r",\s*[a-z]{1,3}$", "", text)) is not None for text in names)
    unit = [text for text in texts if parse_unit(text) is not None or is_two_units(text)]
    is_unit = len(unit) == len(texts)
    return {
        "yes_no": int(weights[yes >= 0].sum()) if bool((yes >= 0).all()) else 0,
        "spans": int(weights[~np.isnan(low)].sum()),
        "analytes": len(known) if listed else 0,
        "analyte_names": len(texts) if listed else 0,
        "analytes_inside": inside if inside * 2 > len(texts) else 0,
        "unknown_names": tuple(text for text in names if text not in known) if listed else (),
        "surrogates": tuple(surrogates) if listed else (),
        "units": dict(rest) if is_unit else {},
        "two_units": tuple(text for text in unit if is_two_units(text)) if is_unit else (),
        "words": dict(rest) if len(texts) <= WORDS_AT_MOST else {},
    }

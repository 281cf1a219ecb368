"""Raw columns of one table turned into typed ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.amounts import SUBSTANCE, Flags, amount
from vaporqa.intake.clocks import TimeReader
from vaporqa.intake.flagged_cells import is_flagged_column
from vaporqa.intake.lab_flags import typed_flags
from vaporqa.intake.numbers import offer_number
from vaporqa.intake.plausible import look_for_other_units
from vaporqa.intake.sizes import coordinate, plain_number, quantity
from vaporqa.intake.units import UnitFaults, row_units
from vaporqa.intake.words import read_spans, read_words, read_yes_no, with_blanks
from vaporqa.tables.shapes import FLAG_COLUMN, FLAGGED_TABLES
from vaporqa.tables.values import EMPTY, READ, Amount, Bool, Column, Span, Text, Texts, Word, YesNo

if TYPE_CHECKING:
    from vaporqa.intake.cells import Cells
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn
    from vaporqa.tables.dictionary import TableSpec
    from vaporqa.tables.project import Project

#: An empty cell of these says the word.
EMPTY_WORDS = {("samples", "kind"): "unknown", ("results", "kind"): "target"}

#: Limits that, on rows of surrogates and internal standards, may hold the range of an accepted recovery.
LIMITS = ("reporting_limit", "detection_limit", "limit_of_detection")


@dataclass(frozen=True, slots=True)
class Typing:
    """What typing one table needs.

    Attributes
    ----------
    spec : TableSpec
    raw : mapping
        Contract columns and unit columns, as raw text.
    rows : int
    cells : Cells
    mappings : sequence of FileMapping
        One a file.
    project : Project
    names : mapping
        Spellings of this project to CAS numbers.
    in_files : bool
        The rows stand in files (False: made in memory).
    """

    spec: TableSpec
    raw: Mapping[str, RawColumn]
    rows: int
    cells: Cells
    mappings: Sequence[FileMapping]
    project: Project
    names: Mapping[str, str]
    in_files: bool


def type_table(given: Typing, notes: Notes) -> dict[str, Column]:
    """Return the typed columns of a table; what cannot be read is noted and hides nothing else."""
    table = given.spec.name
    columns: dict[str, Column] = {}
    raw_of = {column.name: given.raw[column.name] for column in given.spec.columns if column.name in given.raw}
    for name, raw in raw_of.items():
        if raw.spec.kind == "word":
            columns[name] = _word(raw, table, notes)
    text_rows, percent_rows = _special_rows(columns.get("kind"), given)
    faults = UnitFaults(table)
    beside: dict[str, Flags] = {}
    declared = {flag for mapping in given.mappings for flag in mapping.flags.flags}
    times = TimeReader(given, notes)
    for name, raw in raw_of.items():
        kind = raw.spec.kind
        if kind in ("id", "text", "unit"):
            columns[name] = _text(raw, table, notes)
        elif kind == "yes_no":
            columns[name] = _yes_no(raw, table, notes)
        elif kind == "span":
            columns[name] = _span(raw, table, notes)
        elif kind in ("number", "percent", "fraction"):
            columns[name] = plain_number(raw, table, notes)
        elif kind == "coordinate":
            columns[name] = coordinate(raw, raw_of.get("crs"), table, notes)
        elif kind == "quantity":
            columns[name] = quantity(raw, row_units(raw, given.raw, given.mappings), faults, table, notes)
        elif kind == "amount":
            limit_of_recovery = percent_rows if raw.spec.name in LIMITS else np.zeros(given.rows, np.bool_)
            columns[name], flags = amount(
                raw,
                row_units(raw, given.raw, given.mappings),
                faults,
                table,
                notes,
                text_rows=text_rows | limit_of_recovery,
                percent_rows=percent_rows,
                substance={one: raw_of[one] for one in SUBSTANCE if one in raw_of},
                names=given.names,
                flags=declared if table in FLAGGED_TABLES and is_flagged_column(name) else None,
            )
            if flags is not None:
                beside[name] = flags
    for name, raw in raw_of.items():
        if raw.spec.kind == "time":
            columns[name] = times.column(raw, columns)
    faults.tell(notes)
    if percent_rows.any():
        _recovery_ranges(columns, raw_of, percent_rows, given.rows)
    lab = typed_flags(table, raw_of, beside, given.cells, given.mappings, notes) if table in FLAGGED_TABLES else None
    if lab is not None:
        columns[FLAG_COLUMN] = lab.bits
        if lab.text is not None:
            columns["lab_flag"] = lab.text
        found = columns.get("result")
        if lab.nondetect.any() and isinstance(found, Amount):
            columns["result"] = _marked_by_flag(found, lab.nondetect)
    _required(raw_of, table, notes)
    look_for_other_units(table, columns, notes)
    order = [*(column.name for column in given.spec.columns), FLAG_COLUMN]
    return {name: columns[name] for name in order if name in columns}


def _word(raw: RawColumn, table: str, notes: Notes) -> Word:
    codes, offers, folded = read_words(raw.texts, raw.spec.words)
    wrong = codes == -2
    rows = raw.rows(wrong)
    notes.reading("known-word", table, raw.spec.name, rows, offers[raw.codes[rows]] if len(rows) else offers)
    if folded:
        shown = ", ".join(f"'{text}'" for text in sorted(folded)[:5])
        notes.remark_on_table(
            table, f"column '{raw.header}': letter case and blanks at the ends of {shown} are not counted"
        )
    empty = EMPTY_WORDS.get((table, raw.spec.name))
    default = raw.spec.words.index(empty) if empty else -1
    return Word(np.append(codes, default).astype(np.int16)[raw.codes], raw.spec.words)


def _text(raw: RawColumn, table: str, notes: Notes) -> Text:
    used = raw.used()
    if raw.spec.kind == "id":
        spaced = with_blanks(raw.texts, used)
        if spaced:
            shown = ", ".join(f"'{text}'" for text in spaced[:5])
            notes.remark_on_table(
                table, f"column '{raw.header}': blanks at the ends of {shown} are kept; matching is exact"
            )
    words: Texts = np.asarray(raw.texts.to_numpy(zero_copy_only=False), dtype=object)
    if used.all():
        return Text(raw.codes, words)
    remap = np.append(np.cumsum(used) - 1, -1).astype(np.int32)
    return Text(remap[raw.codes], words[used])


def _yes_no(raw: RawColumn, table: str, notes: Notes) -> YesNo:
    values, offers = read_yes_no(raw.texts)
    rows = raw.rows(values == -2)
    notes.reading("known-word", table, raw.spec.name, rows, offers[raw.codes[rows]] if len(rows) else offers)
    return YesNo(np.append(values, -1).astype(np.int8)[raw.codes])


def _span(raw: RawColumn, table: str, notes: Notes) -> Span:
    low, high, state = read_spans(raw.texts)
    wrong = np.isnan(low)
    rows = raw.rows(wrong)
    if len(rows):
        detail: Texts = np.empty(len(raw.texts), dtype=object)
        detail[:] = [offer_number(text) if bad else "" for text, bad in zip(raw.texts.to_pylist(), wrong, strict=True)]
        notes.reading("readable-number", table, raw.spec.name, rows, detail[raw.codes[rows]])
    return Span(
        np.append(low, np.nan)[raw.codes],
        np.append(high, np.nan)[raw.codes],
        np.append(state, EMPTY).astype(np.uint8)[raw.codes],
    )


def _special_rows(kind: Column | None, given: Typing) -> tuple[Bool, Bool]:
    """Rows whose result is text (observations), and rows whose result may be a recovery."""
    none = np.zeros(given.rows, np.bool_)
    if given.spec.name != "results" or not isinstance(kind, Word):
        return none, none
    return kind.is_in("observation"), kind.is_in("surrogate", "internal_standard")


def _recovery_ranges(columns: dict[str, Column], raw_of: Mapping[str, RawColumn], rows: Bool, count: int) -> None:
    """Fill `recovery_range` of surrogates and internal standards from a limit cell that holds a range."""
    known = columns.get("recovery_range")
    if isinstance(known, Span):
        low, high, state = known.low.copy(), known.high.copy(), known.state.copy()
    else:
        low, high, state = np.full(count, np.nan), np.full(count, np.nan), np.zeros(count, np.uint8)
    found = False
    for name in LIMITS:
        raw = raw_of.get(name)
        if raw is None:
            continue
        span_low, span_high, span_state = read_spans(raw.texts)
        here = rows & (state == EMPTY) & (np.append(span_state, EMPTY)[raw.codes] == READ)
        if here.any():
            found = True
            low[here], high[here] = span_low[raw.codes[here]], span_high[raw.codes[here]]
            state[here] = READ
    if found:
        columns["recovery_range"] = Span(low, high, state)


def _marked_by_flag(found: Amount, rows: Bool) -> Amount:
    return Amount(
        found.values, found.written, found.family, found.unit_codes, found.units, found.state,
        found.nondetect | rows, found.marked | (rows & (found.state == READ)),
    )  # fmt: skip


def _required(raw_of: Mapping[str, RawColumn], table: str, notes: Notes) -> None:
    """Note empty cells in columns that must be filled, and empty parts of joined keys."""
    for name, raw in raw_of.items():
        empty = np.flatnonzero(raw.codes < 0) if raw.spec.required else np.empty(0, np.int64)
        partly = [part.incomplete for part in raw.parts if len(part.incomplete)]
        rows = np.unique(np.concatenate([empty, *partly])).astype(np.int64)
        if len(rows):
            notes.reading("required-filled", table, name, rows, np.full(len(rows), "", dtype=object))


def located(raw: RawColumn, row: int, cells: Cells, message: str, mend: str) -> Problem:
    """Return a problem at the cell of `row` in a raw column."""
    index = cells.file_of(row)
    file = cells.files[index]
    line = int(file.lines[row - cells.starts[index]]) if len(file.lines) else 0
    return Problem(file.name, line, cells.column_number(row, raw.spec.name), message, mend)

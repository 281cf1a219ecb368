"""Contract columns as raw text: codes into distinct texts over all files of a table, missing cells told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.intake.cells import Cells, joined_header
from vaporqa.intake.declared_times import FormatUse
from vaporqa.intake.translations import recoded, translated, with_points, without_missing
from vaporqa.intake.workbook_times import serial_times
from vaporqa.tables.dictionary import ColumnSpec, TableSpec
from vaporqa.tables.values import Bool, Int32, Int64

if TYPE_CHECKING:
    from vaporqa.intake.grids import TextFile
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes
    from vaporqa.tables.project import Project

#: Codes (n,), -1 where empty, and the distinct texts that they point into.
Coded = tuple[Int32, Any]

_NUMERIC_KINDS = ("number", "percent", "fraction", "quantity", "amount", "coordinate", "span")
#: Translations named in one remark.
_TOLD_AT_MOST = 30


@dataclass(frozen=True, slots=True)
class Part:
    """The rows of one file in a raw column.

    Attributes
    ----------
    start, stop : int
        Table rows.
    header : str
        Empty where the file lacks the column.
    unit : str
        Unit that the header, the mapping or the project declares for the whole column; empty where none.
    incomplete : int64 (k,)
        Table rows in which part of a joined key is empty.
    """

    start: int
    stop: int
    header: str
    unit: str
    incomplete: Int64


@dataclass(frozen=True, slots=True)
class RawColumn:
    """One contract column as text.

    Attributes
    ----------
    spec : ColumnSpec
    codes : int32 (n,)
        Into `texts`; -1 where the cell is empty, missing, or its file lacks the column.
    texts : pyarrow.StringArray (k,)
        Distinct texts as they are read, declared values put in; some may be unused.
    parts : tuple of Part
    written : Coded or None
        The same as the cells have it, for keys that are made; None where that is no different.
    """

    spec: ColumnSpec
    codes: Int32
    texts: Any
    parts: tuple[Part, ...]
    written: Coded | None = None

    @property
    def header(self) -> str:
        """Header in the first file that has the column."""
        return next((part.header for part in self.parts if part.header), self.spec.name)

    @property
    def as_written(self) -> Coded:
        """Codes and texts as the cells have it."""
        return self.written if self.written is not None else (self.codes, self.texts)

    def rows(self, wrong: Bool) -> Int64:
        """Rows whose text is among `wrong` (k,); empty cells never are."""
        if not wrong.any():
            return np.empty(0, np.int64)
        return np.flatnonzero(np.append(wrong, False)[self.codes]).astype(np.int64)

    def used(self) -> Bool:
        """Which of the distinct texts stand in a cell, (k,)."""
        used = np.zeros(len(self.texts) + 1, np.bool_)
        used[self.codes] = True
        found: Bool = used[:-1]
        return found


@dataclass(frozen=True, slots=True)
class RawReader:
    """Reads the raw columns of one table."""

    table: TableSpec
    cells: Cells
    mappings: Sequence[FileMapping]
    project: Project
    notes: Notes

    def column(self, spec: ColumnSpec, units: Sequence[str]) -> RawColumn | None:
        """Return one contract column over all files of the table; None where no file has it.

        Parameters
        ----------
        units : sequence of str
            Declared unit a file; empty where none.
        """
        pieces: list[Coded] = []
        written: list[Coded] = []
        parts = []
        found = False
        formats = FormatUse(self.table.name, spec.name)
        for index, (file, mapping) in enumerate(zip(self.cells.files, self.mappings, strict=True)):
            start, stop = self.cells.starts[index], self.cells.starts[index + 1]
            places = self.cells.fields[index].get(spec.name, ())
            incomplete: Int64 = np.empty(0, np.int64)
            header = ""
            piece = as_cells = self._made(spec, index)
            if piece is not None:
                found = True
                header = spec.name if spec.name not in mapping.fixed else ""
            elif places:
                found = True
                header = joined_header(file, places)
                piece, as_cells, incomplete = self._from_columns(spec, index, places, header)
            else:
                piece = as_cells = _constant("", stop - start)
            if spec.kind == "time" and spec.name not in mapping.fixed:
                piece = formats.read(piece, mapping, file.place, header)
            pieces.append(piece)
            written.append(as_cells if as_cells is not None else piece)
            parts.append(Part(start, stop, header, units[index], incomplete + start))
        if not found:
            return None
        formats.tell(self.notes, self.project.document)
        codes, texts = merged(pieces)
        changed = any(one is not other for one, other in zip(pieces, written, strict=True))
        return RawColumn(spec, codes, texts, tuple(parts), merged(written) if changed else None)

    def _made(self, spec: ColumnSpec, index: int) -> Coded | None:
        """Return a column that no header of its own feeds: one text for all rows, or headers that became rows."""
        import pyarrow as pa

        file, mapping = self.cells.files[index], self.mappings[index]
        if spec.name in mapping.fixed:
            return _constant(mapping.fixed[spec.name], len(file.lines))
        unpivoted = file.unpivoted
        if unpivoted is None or spec.name not in (unpivoted.to, unpivoted.value):
            return None
        if spec.name == unpivoted.to:
            names = pa.array([file.headers[place].name for place in unpivoted.places], pa.string())
            piece: Coded = (unpivoted.which.astype(np.int32), names)
        else:
            sources = [_plain(file.columns[place]) for place in unpivoted.places]
            texts = pa.concat_arrays([words.cast(pa.string()) for _, words in sources]).dictionary_encode()
            remap = texts.indices.to_numpy().astype(np.int32)
            codes = np.zeros(len(file.lines), np.int32)
            offset = 0
            for at, (column, words) in enumerate(sources):
                here = unpivoted.which == at
                codes[here] = remap[column[here] + offset]
                offset += len(words)
            piece = without_missing(codes, texts.dictionary, self._spellings(spec, mapping))
        return self._translated(spec, piece, index, spec.name)

    def _spellings(self, spec: ColumnSpec, mapping: FileMapping) -> set[str]:
        return {*self.project.missing, *mapping.missing, *mapping.column_missing.get(spec.name, ())}

    def _from_columns(
        self, spec: ColumnSpec, index: int, places: Sequence[int], header: str
    ) -> tuple[Coded, Coded, Int64]:
        """Return a column out of the file's own: as read, as written, and rows in which part of a key is empty."""
        file, mapping = self.cells.files[index], self.mappings[index]
        spellings = self._spellings(spec, mapping)
        self._tell_numbers(spec, file, places, header)
        columns = [self._times(file, place, places) if spec.kind == "time" else _plain(file.columns[place])
                   for place in places]  # fmt: skip
        incomplete: Int64 = np.empty(0, np.int64)
        if len(columns) == 1:
            piece = columns[0]
            as_cells = without_missing(*piece, spellings)
            if spec.name in mapping.values:
                piece = self._translated(spec, piece, index, header)
            else:
                piece = as_cells
        else:
            blank = spec.kind == "time"
            *joined, part_empty = _joined([without_missing(*column, spellings) for column in columns], blank=blank)
            piece = as_cells = (joined[0], joined[1])
            incomplete = np.flatnonzero(part_empty).astype(np.int64)
            if spec.name in mapping.values:
                piece = self._translated(spec, piece, index, header)
        if mapping.decimal == "," and spec.kind in _NUMERIC_KINDS:
            piece = (piece[0], with_points(piece[1]))
            self.notes.remark(file.place, f"column '{header}': a comma is the decimal mark, as declared")
        unpivoted = file.unpivoted
        if unpivoted is not None and spec.key and spec.kind == "id" and self.table.column(unpivoted.to) != spec:
            headers = pa_texts([file.headers[place].name for place in unpivoted.places])
            piece = as_cells = _joined([piece, (unpivoted.which.astype(np.int32), headers)], blank=False)[:2]
            self.notes.remark(
                file.place, f"column '{header}': the header of the cell is added to the key, as one row became several"
            )
        return piece, as_cells, incomplete

    def _translated(self, spec: ColumnSpec, piece: Coded, index: int, header: str) -> Coded:
        file, mapping = self.cells.files[index], self.mappings[index]
        values = mapping.values.get(spec.name)
        if not values:
            return piece
        codes, texts, counts = translated(*piece, values, self._spellings(spec, mapping))
        told = [
            f"'{text}' as {repr(values[text]) if values[text] else 'missing'} ({count:,} rows)"
            for text, count in counts.items()
            if count
        ]
        unmet = [f"'{text}'" for text, count in counts.items() if not count]
        if told:
            more = f" and {len(told) - _TOLD_AT_MOST:,} more" if len(told) > _TOLD_AT_MOST else ""
            shown = ", ".join(told[:_TOLD_AT_MOST])
            self.notes.remark(file.place, f"column '{header}' for {spec.name}: read {shown}{more}")
        if unmet:
            shown = ", ".join(unmet[:_TOLD_AT_MOST])
            self.notes.remark(file.place, f"column '{header}' for {spec.name}: {shown} declared and met in no cell")
        return codes, texts

    def _times(self, file: TextFile, place: int, places: Sequence[int]) -> Coded:
        """Return a column of times, the serial days of a workbook turned into dates."""
        codes, texts = _plain(file.columns[place])
        if not file.numeric or not file.numeric[place]:
            return codes, texts
        iso, read = serial_times(texts, from_1904=file.from_1904, times_alone=len(places) > 1)
        if read.any():
            at = int(np.flatnonzero(read)[0])
            count = int(np.append(read, False)[codes].sum())
            header = file.headers[place].text
            self.notes.remark(
                file.place,
                f"column '{header}': {count:,} numbers are read as the workbook's serial days, "
                f"{texts[at].as_py()} as {iso[at]}",
            )
        return recoded(codes, iso)

    def _tell_numbers(self, spec: ColumnSpec, file: TextFile, places: Sequence[int], header: str) -> None:
        numbers = sum(file.numeric[place] for place in places) if file.numeric and spec.kind == "id" else 0
        if numbers:
            self.notes.remark(
                file.place, f"column '{header}': {numbers:,} ids are stored as numbers; leading zeros may be lost"
            )


def pa_texts(texts: Sequence[str]) -> Any:
    """Return texts as a pyarrow array."""
    import pyarrow as pa

    return pa.array(texts, pa.string())


def _plain(column: Any) -> Coded:
    return np.asarray(column.indices.to_numpy(), np.int32), column.dictionary


def _constant(text: str, rows: int) -> Coded:
    if not text.strip():
        return np.full(rows, -1, np.int32), pa_texts([])
    return np.zeros(rows, np.int32), pa_texts([text])


def _joined(columns: Sequence[Coded], *, blank: bool) -> tuple[Int32, Any, Bool]:
    """Join several columns: keys by `/`, times by a blank with empty parts left out."""
    import pyarrow as pa

    rows = len(columns[0][0])
    combined = np.zeros(rows, np.int64)
    for codes, words in columns:
        # Encoded at each step, so that the product of the column sizes cannot outgrow the integer.
        coded = pa.array(combined * (len(words) + 1) + codes + 1).dictionary_encode()
        combined = np.asarray(coded.indices.to_numpy(), np.int64)
    first = np.zeros(int(combined.max(initial=-1)) + 1, np.int64)
    first[combined[::-1]] = np.arange(rows)[::-1]
    parts = [
        words.cast(pa.string()).take(pa.array(codes[first], mask=codes[first] < 0)).fill_null("").to_pylist()
        for codes, words in columns
    ]
    texts: list[str] = []
    empty, partly = [], []
    for cells in zip(*parts, strict=True):
        texts.append(" ".join(cell.strip() for cell in cells if cell) if blank else "/".join(cells))
        empty.append(not any(cells))
        partly.append(any(cells) and not all(cells))
    codes = np.where(np.asarray(empty, np.bool_), -1, np.arange(len(texts)))[combined].astype(np.int32)
    part_empty: Bool = np.asarray(partly, np.bool_)[combined]
    enc = pa.array(texts, pa.string()).dictionary_encode()
    remap = np.append(enc.indices.to_numpy(), -1).astype(np.int32)
    return remap[codes], enc.dictionary, part_empty if not blank else np.zeros(len(codes), np.bool_)


def merged(pieces: Sequence[Coded]) -> Coded:
    """Return the pieces one under the other, over one list of distinct texts."""
    import pyarrow as pa

    if len(pieces) == 1:
        return pieces[0]
    together = pa.concat_arrays([texts.cast(pa.string()) for _, texts in pieces]).dictionary_encode()
    remap = np.append(together.indices.to_numpy(), -1).astype(np.int32)
    offset = 0
    codes = []
    for piece, texts in pieces:
        codes.append(remap[np.where(piece < 0, -1, piece + offset)])
        offset += len(texts)
    return np.concatenate(codes) if codes else np.empty(0, np.int32), together.dictionary

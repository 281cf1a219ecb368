"""Contract columns as raw text: codes into distinct texts over all files of a table, missing cells told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.intake.cells import Cells, joined_header
from vaporqa.tables.dictionary import ColumnSpec
from vaporqa.tables.values import Bool, Int32, Int64

if TYPE_CHECKING:
    from vaporqa.intake.files import TextFile
    from vaporqa.intake.mapping import FileMapping


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
        Distinct texts as written; some may be unused.
    parts : tuple of Part
    """

    spec: ColumnSpec
    codes: Int32
    texts: Any
    parts: tuple[Part, ...]

    @property
    def header(self) -> str:
        """Header in the first file that has the column."""
        return next((part.header for part in self.parts if part.header), self.spec.name)

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


def raw_column(
    spec: ColumnSpec,
    cells: Cells,
    mappings: Sequence[FileMapping],
    units: Sequence[str],
    missing: Sequence[str],
) -> RawColumn | None:
    """Return one contract column over all files of its table; None where no file has it.

    Parameters
    ----------
    units : sequence of str
        Declared unit a file; empty where none.
    missing : sequence of str
        Spellings of a missing value that hold for the project.
    """
    pieces: list[tuple[Int32, Any]] = []
    parts = []
    found = False
    for index, (file, mapping) in enumerate(zip(cells.files, mappings, strict=True)):
        start, stop = cells.starts[index], cells.starts[index + 1]
        places = cells.fields[index].get(spec.name, ())
        spellings = {*missing, *mapping.missing, *mapping.column_missing.get(spec.name, ())}
        incomplete: Int64 = np.empty(0, np.int64)
        header = ""
        if spec.name in mapping.fixed:
            codes, texts = _constant(mapping.fixed[spec.name], stop - start)
            found = True
        elif places:
            found = True
            header = joined_header(file, places)
            if len(places) == 1:
                column = file.columns[places[0]]
                codes, texts = _without_missing(column.indices.to_numpy(), column.dictionary, spellings)
            else:
                codes, texts, part_empty = _joined(file, places, spellings, blank=spec.kind == "time")
                incomplete = np.flatnonzero(part_empty).astype(np.int64) + start
        else:
            codes, texts = _constant("", stop - start)
        pieces.append((codes, texts))
        parts.append(Part(start, stop, header, units[index], incomplete))
    if not found:
        return None
    codes, texts = merged(pieces)
    return RawColumn(spec, codes, texts, tuple(parts))


def _constant(text: str, rows: int) -> tuple[Int32, Any]:
    import pyarrow as pa

    if not text.strip():
        return np.full(rows, -1, np.int32), pa.array([], pa.string())
    return np.zeros(rows, np.int32), pa.array([text], pa.string())


def _without_missing(codes: Any, texts: Any, spellings: set[str]) -> tuple[Int32, Any]:
    """Turn codes of empty cells and of missing spellings into -1."""
    import pyarrow as pa
    import pyarrow.compute as pc

    trimmed = pc.utf8_trim_whitespace(texts)
    wanted = pa.array(sorted({"", *(spelling.strip() for spelling in spellings)}), pa.string())
    absent = np.asarray(pc.is_in(trimmed, wanted).to_numpy(zero_copy_only=False), np.bool_)
    codes = np.asarray(codes, np.int32)
    if absent.any():
        codes = np.where(absent, -1, np.arange(len(absent))).astype(np.int32)[codes]
    return codes, texts


def _joined(file: TextFile, places: Sequence[int], spellings: set[str], *, blank: bool) -> tuple[Int32, Any, Bool]:
    """Join several columns: keys by `/`, times by a blank with empty parts left out."""
    import pyarrow as pa

    columns = [
        _without_missing(file.columns[place].indices.to_numpy(), file.columns[place].dictionary, spellings)
        for place in places
    ]
    combined = np.zeros(len(file.lines), np.int64)
    for codes, words in columns:
        # Encoded at each step, so that the product of the column sizes cannot outgrow the integer.
        coded = pa.array(combined * (len(words) + 1) + codes + 1).dictionary_encode()
        combined = np.asarray(coded.indices.to_numpy(), np.int64)
    first = np.zeros(int(combined.max(initial=-1)) + 1, np.int64)
    first[combined[::-1]] = np.arange(len(combined))[::-1]
    texts: list[str] = []
    empty, partly = [], []
    for row in first:
        cells = [str(words[int(codes[row])]) if codes[row] >= 0 else "" for codes, words in columns]
        texts.append(" ".join(cell.strip() for cell in cells if cell) if blank else "/".join(cells))
        empty.append(not any(cells))
        partly.append(any(cells) and not all(cells))
    codes = np.where(np.asarray(empty, np.bool_), -1, np.arange(len(texts)))[combined].astype(np.int32)
    part_empty: Bool = np.asarray(partly, np.bool_)[combined]
    enc = pa.array(texts, pa.string()).dictionary_encode()
    remap = np.append(enc.indices.to_numpy(), -1).astype(np.int32)
    return remap[codes], enc.dictionary, part_empty if not blank else np.zeros(len(codes), np.bool_)


def merged(pieces: Sequence[tuple[Int32, Any]]) -> tuple[Int32, Any]:
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


def columns_by_name(columns: Mapping[str, RawColumn | None]) -> dict[str, RawColumn]:
    """Return only the columns that some file has."""
    return {name: column for name, column in columns.items() if column is not None}

"""Records of delimited text: a fast road, and a careful one that counts every physical line.

The fast road reads by column in parallel. It is taken only where the newline count proves that each record is one
physical line: then line = row + constant. Blank lines, quoted line breaks, lone carriage returns and ragged rows
take the careful road, where `csv.reader` keeps the line of each record.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.mapping import ANYWHERE, Layout
from vaporqa.tables.values import Int64

#: Rows held as Python objects at a time on the careful road.
_BATCH = 50_000
_BLOCK = 1 << 24


@dataclass(frozen=True, slots=True)
class HeaderRecord:
    """The first record that is not blank: its cells, its first physical line, and where the next record begins."""

    cells: tuple[str, ...]
    line: int
    lines: int
    end: int


@dataclass(frozen=True, slots=True)
class Records:
    """The records under the header.

    Attributes
    ----------
    columns : list of pyarrow.DictionaryArray
        One a field of the header, (n,).
    lines : int64 (n,)
    short, padded : list of int
        Lines of rows with too few cells, and of rows whose surplus cells are all empty.
    long : list of (int, int)
        Line and cell count of rows with surplus content.
    open_quote : int
        Line of a last record whose quotation mark is never closed; else 0.
    """

    columns: Sequence[Any]
    lines: Int64
    short: list[int]
    padded: list[int]
    long: list[tuple[int, int]]
    open_quote: int = 0


def header_record(text: bytes, delimiter: str, layout: Layout = ANYWHERE) -> HeaderRecord | None:
    """Return the header of `text` (UTF-8), or None where there is no line with content.

    With a declared header row only that row is looked at; without one it is the first row with content that is not
    skipped.
    """
    start, above = 0, max(layout.header_row - 1, 0)
    for _ in range(above):
        if start >= len(text):
            return None
        start = _line_end(text, start)
    consumed = start

    def lines() -> Iterator[str]:
        nonlocal consumed
        begin = start
        while begin < len(text):
            end = _line_end(text, begin)
            consumed = end
            yield text[begin:end].decode()
            begin = end

    reader = csv.reader(lines(), delimiter=delimiter)
    before = above
    for cells in reader:
        skipped = not layout.header_row and before + 1 in layout.skip_rows
        if any(cell.strip() for cell in cells) and not skipped:
            return HeaderRecord(tuple(cells), before + 1, above + reader.line_num, consumed)
        if layout.header_row:
            return None
        before = above + reader.line_num
    return None


def _line_end(text: bytes, start: int) -> int:
    newline = text.find(b"\n", start)
    stop = len(text) if newline < 0 else newline + 1
    lone = text.find(b"\r", start, stop)
    if lone >= 0 and text[lone + 1 : lone + 2] != b"\n":
        return lone + 1
    return stop


def count_lines(text: bytes, start: int) -> int:
    """Return the number of physical lines from `start` on, or -1 where lone carriage returns make it doubtful."""
    returns = text.count(b"\r", start)
    if returns and returns != text.count(b"\r\n", start):
        return -1
    newlines = text.count(b"\n", start)
    return newlines + (start < len(text) and not text.endswith(b"\n"))


def read_fast(text: bytes, head: HeaderRecord, delimiter: str) -> Records | None:
    """Read the records by column; None where a record may not be exactly one line with the header's cells."""
    import pyarrow as pa
    import pyarrow.csv as arrow

    physical = count_lines(text, head.end)
    quotes = text.count(b'"', head.end)
    if quotes % 2:
        # A quotation mark that the last line leaves open makes one record of it all the same.
        return None
    if physical == 0:
        return Records([_encode([]) for _ in head.cells], np.empty(0, np.int64), [], [], [])
    if physical < 0:
        return None
    names = [str(number) for number in range(len(head.cells))]
    coded = pa.dictionary(pa.int32(), pa.string())
    try:
        table = arrow.read_csv(
            pa.BufferReader(pa.py_buffer(memoryview(text)[head.end :])),
            read_options=arrow.ReadOptions(column_names=names, block_size=_BLOCK),
            parse_options=arrow.ParseOptions(delimiter=delimiter, newlines_in_values=quotes > 0),
            convert_options=arrow.ConvertOptions(
                column_types=dict.fromkeys(names, coded), strings_can_be_null=False, quoted_strings_can_be_null=False
            ),
        )
    except pa.ArrowInvalid:
        return None
    if table.num_rows != physical:
        return None
    columns = [_one_piece(table.column(number)) for number in range(len(names))]
    lines = np.arange(head.lines + 1, head.lines + 1 + physical, dtype=np.int64)
    return Records(columns, lines, [], [], [])


def read_carefully(text: bytes, head: HeaderRecord, delimiter: str) -> Records:
    """Read the records one by one, with the first physical line of each."""
    width = len(head.cells)
    stream = io.TextIOWrapper(io.BytesIO(text[head.end :]), encoding="utf-8", newline="")
    reader = csv.reader(stream, delimiter=delimiter)
    pieces: list[list[Any]] = [[] for _ in range(width)]
    batch: list[list[str]] = []
    lines: list[int] = []
    short: list[int] = []
    padded: list[int] = []
    long: list[tuple[int, int]] = []
    before = 0
    last = 0
    for cells in _until_broken(reader):
        first, before = before + 1, reader.line_num
        if not cells:
            continue
        line = last = head.lines + first
        if len(cells) < width:
            if any(cell.strip() for cell in cells):
                short.append(line)
            cells.extend([""] * (width - len(cells)))
        elif len(cells) > width:
            if any(cell.strip() for cell in cells[width:]):
                long.append((line, len(cells)))
            else:
                padded.append(line)
            del cells[width:]
        lines.append(line)
        batch.append(cells)
        if len(batch) == _BATCH:
            _encode_batch(batch, pieces)
            batch = []
    if batch or not pieces or not pieces[0]:
        _encode_batch(batch, pieces)
    import pyarrow as pa

    columns = [_one_piece(pa.chunked_array(piece)) for piece in pieces]
    open_quote = 0
    if reader.line_num > before:
        open_quote = head.lines + before + 1
    elif last and _ends_open(text, head, last, delimiter):
        open_quote = last
    return Records(columns, np.asarray(lines, np.int64), short, padded, long, open_quote)


def _until_broken(reader: Any) -> Iterator[list[str]]:
    """Yield records; a field that outgrows the reader (an open quotation mark swallows the rest) ends them."""
    try:
        yield from reader
    except csv.Error:
        return


def _ends_open(text: bytes, head: HeaderRecord, line: int, delimiter: str) -> bool:
    """Whether the last record, which starts at `line`, leaves a quotation mark open."""
    stream = io.TextIOWrapper(io.BytesIO(text[head.end :]), encoding="utf-8", newline="")
    tail = [physical for number, physical in enumerate(stream, head.lines + 1) if number >= line]
    try:
        list(csv.reader(tail, delimiter=delimiter, strict=True))
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _encode_batch(batch: list[list[str]], pieces: list[list[Any]]) -> None:
    by_column = zip(*batch, strict=True) if batch else (() for _ in pieces)
    for piece, cells in zip(pieces, by_column, strict=True):
        piece.append(_encode(cells))


def _encode(cells: Sequence[str]) -> Any:
    import pyarrow as pa

    return pa.array(cells, pa.string()).dictionary_encode()


def _one_piece(column: Any) -> Any:
    """Return a chunked dictionary column as one array over one dictionary."""
    import pyarrow as pa

    if column.num_chunks == 1:
        return column.chunk(0)
    whole = column.unify_dictionaries().combine_chunks()
    return whole if isinstance(whole, pa.DictionaryArray) else whole.chunk(0)

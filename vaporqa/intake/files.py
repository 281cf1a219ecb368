"""One file as cells: every field as text, by column, with the physical row of each record."""

from __future__ import annotations

import codecs
import csv
import hashlib
from collections.abc import Callable
from pathlib import Path

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.grids import Grid, TextFile, as_file
from vaporqa.intake.mapping import ANYWHERE, Layout
from vaporqa.intake.notes import NAMED_AT_MOST, Notes, named
from vaporqa.intake.records import Records, header_record, read_carefully, read_fast

#: A text file is read whole. Six million results of 18 columns are 1 GB.
TEXT_LIMIT = 1 << 30
DELIMITERS = {".csv": ",", ".tsv": "\t"}
_POINTER = b"version https://git-lfs.github.com/spec/"
#: First bytes of files that are no text, whatever their name says.
_MAGIC = (
    (b"PK\x03\x04", "a workbook or archive"),
    (b"PAR1", "a Parquet file"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
    (b"%PDF", "a PDF document"),
    (b"\x1f\x8b", "a compressed file"),
)


def pointer_fault(data: bytes) -> tuple[str, str] | None:
    """Return what to say of a large-file pointer that stands where the table should; None where it is none."""
    if not data.startswith(_POINTER):
        return None
    mend = "fetch the file itself (`git lfs pull`)"
    return "this is a large-file pointer that stands in for the table; the table itself is not here", mend


#: Says what is wrong with a part of a mapping: its key, the message, how to mend it.
Declared = Callable[[str, str, str], None]


def read_text_file(
    path: Path, name: str, notes: Notes, layout: Layout = ANYWHERE, declared: Declared | None = None
) -> TextFile | None:
    """Read `path`; what stops the run goes to `notes`, and None is returned.

    Parameters
    ----------
    path : Path
        A regular file with the ending ``.csv`` or ``.tsv``.
    name : str
        Relative to the project folder.
    layout : Layout
    declared : callable, optional
        Takes what is wrong with the layout that a mapping declares.
    """
    size = path.stat().st_size
    if size > TEXT_LIMIT:
        message = f"the file has {size:,} bytes; at most {TEXT_LIMIT:,} are read"
        notes.problem(Problem(name, 0, 0, message, "split it, and name the parts under `tables:` in project.yaml"))
        return None
    return read_text(path.read_bytes(), name, notes, layout, declared)


def read_text(
    data: bytes, name: str, notes: Notes, layout: Layout = ANYWHERE, declared: Declared | None = None
) -> TextFile | None:
    """Read the bytes of a text file; as `read_text_file`, and the ending of `name` says what separates the cells."""
    import pyarrow as pa

    size = len(data)
    sha256 = hashlib.sha256(data).hexdigest()
    fault = no_table(data)
    if fault:
        notes.problem(Problem(name, 0, 0, *fault))
        return None
    text = as_utf8(data, name, notes)
    if text is None:
        return None
    del data
    delimiter = DELIMITERS[Path(name).suffix.lower()]
    try:
        head = header_record(text, delimiter, layout)
    except csv.Error:
        message = f"a cell of the header has more than {csv.field_size_limit():,} characters"
        notes.problem(Problem(name, layout.header_row, 1, message, "close the quotation mark that opens in it"))
        return None
    if head is None:
        tell_no_header(name, layout, notes, declared)
        return None
    records = read_fast(text, head, delimiter)
    if records is None:
        records = read_carefully(text, head, delimiter)
    del text
    pa.default_memory_pool().release_unused()
    records = _without_skipped(records, layout)
    tell_skipped(name, layout, head.line, notes)
    if not _shape_is_right(records, len(head.cells), head.line, name, notes):
        return None
    return as_file(Grid(name, sha256, size, head.cells, head.line, records.columns, records.lines), notes)


def tell_no_header(name: str, layout: Layout, notes: Notes, declared: Declared | None) -> None:
    """Say that the header does not stand where it should."""
    if layout.header_row and declared is not None:
        message = f"row {layout.header_row} of {name}, the declared header row, is empty"
        declared("header_row", message, "write the physical row of the column names")
    else:
        message = "the file has no header line"
        notes.problem(Problem(name, 0, 0, message, "write the column names in the first line"))


def tell_skipped(name: str, layout: Layout, header_line: int, notes: Notes) -> None:
    """Say which rows a mapping leaves out."""
    if layout.header_row > 1:
        notes.remark(name, f"the header stands in row {header_line}, as declared; the rows above it are not read")
    if layout.skip_rows:
        rows = ", ".join(str(row) for row in layout.skip_rows)
        notes.remark(name, f"rows skipped, as declared: {rows}")


def no_table(data: bytes) -> tuple[str, str] | None:
    """Return what the bytes are instead of a table, and how to mend it; None where they may be text."""
    if not data[:4096].strip(b"\xef\xbb\xbf \t\r\n") and not data.strip(b"\xef\xbb\xbf \t\r\n"):
        return "the file is empty", "write a header line, or remove the file"
    pointer = pointer_fault(data)
    if pointer:
        return pointer
    for magic, words in _MAGIC:
        if data.startswith(magic):
            return f"this is {words}, not the text that its name says", "save the table as CSV in UTF-8"
    if not data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) and b"\0" in data:
        at = data.index(b"\0")
        return f"the file is no text: a NUL byte stands at byte {at + 1:,}", "save the table as CSV in UTF-8"
    return None


def as_utf8(data: bytes, name: str, notes: Notes) -> bytes | None:
    """Return the file as UTF-8 without a byte-order mark, or None where it is in no encoding that is read."""
    if data.startswith(codecs.BOM_UTF8):
        data = data[3:]
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError:
            notes.problem(Problem(name, 0, 0, "the file starts as UTF-16 and does not go on so", "save it as UTF-8"))
            return None
        if "\0" in text:
            notes.problem(Problem(name, 0, 0, "the file is no text: it holds NUL characters", "save it as UTF-8"))
            return None
        notes.remark(name, "read as UTF-16")
        return text.encode()
    if data.isascii():
        return data
    try:
        data.decode()
    except UnicodeDecodeError as error:
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError as other:
            line = data.count(b"\n", 0, other.start) + 1
            message = f"the file is neither UTF-8 nor Windows-1252 text (byte 0x{data[other.start]:02x})"
            notes.problem(Problem(name, line, 0, message, "save it as UTF-8"))
            return None
        line = data.count(b"\n", 0, error.start) + 1
        notes.remark(name, f"read as Windows-1252 (cp1252): the bytes of line {line} cannot be UTF-8", urgent=True)
        return text.encode()
    return data


def _without_skipped(records: Records, layout: Layout) -> Records:
    """Leave out the records that start in a skipped row."""
    import pyarrow as pa

    if not layout.skip_rows:
        return records
    skipped = set(layout.skip_rows)
    keep = np.flatnonzero(~np.isin(records.lines, layout.skip_rows))
    columns = records.columns
    if len(keep) < len(records.lines):
        columns = [column.take(pa.array(keep)) for column in columns]
    return Records(
        columns,
        records.lines[keep],
        [line for line in records.short if line not in skipped],
        [line for line in records.padded if line not in skipped],
        [(line, cells) for line, cells in records.long if line not in skipped],
        records.open_quote,
    )


def _shape_is_right(records: Records, width: int, header_line: int, name: str, notes: Notes) -> bool:
    """Note short and long rows; False where a row has more cells than the header names."""
    if records.open_quote:
        message = "a quotation mark that opens in this record is never closed"
        notes.problem(
            Problem(name, records.open_quote, 1, message, 'close it, or write "" for a quotation mark inside')
        )
    if records.short:
        some = f"{len(records.short):,} row{'s' if len(records.short) > 1 else ''}"
        notes.remark(name, f"{some} with fewer cells than the header, filled with empty cells: {named(records.short)}")
    if records.padded:
        some = f"{len(records.padded):,} row{'s' if len(records.padded) > 1 else ''}"
        notes.remark(name, f"{some} with more cells than the header, all of them empty: {named(records.padded)}")
    for line, cells in records.long[:NAMED_AT_MOST]:
        message = f"the row has {cells} cells and the header {width}"
        notes.problem(
            Problem(name, line, width + 1, message, "quote a cell that holds the separator, or name the column")
        )
    if len(records.long) > NAMED_AT_MOST:
        message = (
            f"{len(records.long):,} rows in all have more cells than the header; the first {NAMED_AT_MOST} are named"
        )
        notes.problem(Problem(name, header_line, 0, message))
    return not records.long and not records.open_quote

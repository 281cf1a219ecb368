"""A stranger's file opened for a look: what it is, how it begins, and its cells under a header that is chosen later.

Of a large file only the first rows are looked at, and that is said. Nothing is read twice in two ways: the cells come
from the readers that a run uses.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from vaporqa.errors import FolderError, Problem, UsageError, did_you_mean, nearest
from vaporqa.intake.files import DELIMITERS, TEXT_LIMIT, as_utf8, no_table, pointer_fault, read_text
from vaporqa.intake.grids import TextFile
from vaporqa.intake.mapping import Layout
from vaporqa.intake.notes import Notes
from vaporqa.intake.plan import ENDINGS
from vaporqa.intake.workbooks import SheetTop, read_workbook, sheet_tops

#: Physical rows and bytes looked at. A person needs the shape of the file, not the last of its rows.
ROWS_AT_MOST = 200_000
BYTES_AT_MOST = 1 << 27
#: Rows in which the header is looked for, and sheets of a workbook that are opened.
TOP_ROWS = 60
SHEETS_AT_MOST = 20

_CHUNK = 1 << 20
_CLOSE = "close the quotation mark that opens in it"
_WORDS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "vertical bars"}
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


@dataclass(frozen=True, slots=True)
class TopRow:
    """One row near the top of a file: its first physical row, and its cells."""

    row: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> int:
        """Cells with content."""
        return sum(bool(cell.strip()) for cell in self.cells)


@dataclass(frozen=True, slots=True)
class OpenedFile:
    """A file as it begins.

    Attributes
    ----------
    path : Path
    kind : str
        Such as ``CSV`` or ``workbook``.
    size : int
        Bytes on the disk.
    facts : tuple of str
        Encoding, line ends, separators: what a person wants to know before the cells.
    sampled : bool
        Only the first rows were looked at.
    sheets : tuple of SheetTop
        Of a workbook.
    sheet : str
        The sheet looked at.
    top : tuple of TopRow
        The first rows; of a Parquet file its names.
    read : callable
        Reads the cells under a header: takes a Layout and Notes, returns a TextFile or None.
    """

    path: Path
    kind: str
    size: int
    facts: tuple[str, ...]
    sampled: bool
    sheets: tuple[SheetTop, ...]
    sheet: str
    top: tuple[TopRow, ...]
    read: Callable[[Layout, Notes], TextFile | None]


def open_file(path: Path, sheet: str = "") -> OpenedFile:
    """Return a file as it begins.

    Parameters
    ----------
    path : Path
    sheet : str
        Of a workbook; empty for the one that holds most.

    Raises
    ------
    UsageError
        There is no such file or sheet, or it is of a kind that is not read.
    FolderError
        The file is not what its name says.
    """
    _is_a_file(path)
    ending = path.suffix.lower()
    if sheet and ending != ".xlsx":
        raise UsageError(Problem(str(path), 0, 0, f"this is no workbook and has no sheet '{sheet}'", "leave it out"))
    if ending in DELIMITERS:
        return _open_text(path)
    if ending == ".xlsx":
        return _open_workbook(path, sheet)
    return _open_parquet(path)


def _is_a_file(path: Path) -> None:
    def refuse(message: str, mend: str) -> None:
        raise UsageError(Problem(str(path), 0, 0, message, mend))

    if path.is_dir():
        inside = sorted(item.name for item in path.iterdir() if item.suffix.lower() in ENDINGS)
        shown = ", ".join(inside[:5]) + (", ..." if len(inside) > 5 else "")
        refuse("this is a folder", f"name one file in it: {shown}" if inside else "name one file")
    if not path.exists():
        names = sorted(item.name for item in path.parent.iterdir()) if path.parent.is_dir() else []
        refuse("there is no such file", did_you_mean(path.name, names) or "name a file")
    if not path.is_file():
        refuse("this is no regular file", "save the table as a file")
    ending = path.suffix.lower()
    if ending in (".xlsm", ".xlsb", ".xltm", ".xlam"):
        refuse("a workbook with macros is not opened", "save it as .xlsx without macros, or as CSV in UTF-8")
    if ending not in ENDINGS:
        what = f"a file with the ending '{ending}'" if ending else "a file without an ending"
        near = nearest(ending, ENDINGS) if ending else []
        some = f"; did you mean {near[0]}?" if near and ending not in (".xls", ".txt") else ""
        refuse(f"{what} is not read", f"save the table as one of {', '.join(ENDINGS)}{some}")


def _open_text(path: Path) -> OpenedFile:
    notes = Notes()
    size = path.stat().st_size
    data, sampled = _beginning(path)
    fault = no_table(data)
    if fault:
        raise FolderError(Problem(str(path), 0, 0, *fault))
    text = as_utf8(data, str(path), notes)
    notes.stop()
    assert text is not None
    if sampled:
        text = _whole_records(text)
    delimiter = DELIMITERS[path.suffix.lower()]
    rows = _first_rows(text, delimiter)
    if not any(row.filled for row in rows):
        message, mend = "the file holds no cell with content", "write a header line"
        if text.find(b'"') >= 0:
            message, mend = f"a cell has more than {csv.field_size_limit():,} characters", _CLOSE
        raise FolderError(Problem(str(path), 0, 0, message, mend))
    _is_separated(path, text, delimiter, rows)
    facts = [_encoding(data, notes), f"cells separated by {_WORDS[delimiter]}", _line_ends(text)]
    if size > TEXT_LIMIT:
        facts.append(f"too large for a run, which reads at most {TEXT_LIMIT:,} bytes of a file: split it")

    def read(layout: Layout, into: Notes) -> TextFile | None:
        return read_text(text, path.name, into, layout)

    kind = path.suffix[1:].upper()
    return OpenedFile(path, kind, size, tuple(facts), sampled, (), "", tuple(rows), read)


def _beginning(path: Path) -> tuple[bytes, bool]:
    """Return the first rows of a file as bytes, and whether it goes on."""
    pieces: list[bytes] = []
    rows = size = 0
    with path.open("rb") as stream:
        while rows < ROWS_AT_MOST and size < BYTES_AT_MOST:
            piece = stream.read(_CHUNK)
            if not piece:
                return b"".join(pieces), False
            pieces.append(piece)
            rows += piece.count(b"\n")
            size += len(piece)
        rest = stream.read(1)
    data = b"".join(pieces)
    if not rest and rows <= ROWS_AT_MOST:
        return data, False
    if data.startswith(_UTF16):
        text = data[: len(data) // 2 * 2].decode("utf-16", errors="ignore")
        return "".join(text.splitlines(keepends=True)[:ROWS_AT_MOST]).encode("utf-16"), True
    end = 0
    for _ in range(min(rows, ROWS_AT_MOST)):
        end = data.find(b"\n", end) + 1
    return (data[:end] if end else data), True


def _whole_records(text: bytes) -> bytes:
    """Cut the text after the last line that leaves no quotation mark open."""
    end = text.rfind(b"\n") + 1
    quotes = text.count(b'"', 0, end)
    while quotes % 2 and end > 0:
        before = text.rfind(b"\n", 0, end - 1) + 1
        quotes -= text.count(b'"', before, end)
        end = before
    return text[:end] or text


def _first_rows(text: bytes, delimiter: str) -> list[TopRow]:
    found: list[TopRow] = []
    stream = io.TextIOWrapper(io.BytesIO(text[:_CHUNK]), encoding="utf-8", errors="replace", newline="")
    reader = csv.reader(stream, delimiter=delimiter)
    before = 0
    try:
        for cells in reader:
            found.append(TopRow(before + 1, tuple(cells)))
            before = reader.line_num
            if len(found) >= TOP_ROWS:
                break
    except csv.Error:
        pass
    return found


def _widths(rows: list[TopRow]) -> tuple[int, bool]:
    """Return the usual number of cells of a row, and whether every row has that many."""
    widths = Counter(len(row.cells) for row in rows if row.filled)
    return max(widths, key=lambda width: (widths[width], width), default=0), len(widths) == 1


def _is_separated(path: Path, text: bytes, delimiter: str, rows: list[TopRow]) -> None:
    """Refuse a file whose cells another mark separates: with the wrong one, rows fall apart at the wrong places."""
    width, even = _widths(rows)
    others = {other: _widths(_first_rows(text, other)) for other in _WORDS if other != delimiter}
    best = max(others, key=lambda other: (others[other][1], others[other][0]))
    # A decimal comma cuts rows of a file with semicolons into uneven ones.
    if others[best][0] < 2 or (width > 1 and (even or not others[best][1])):
        return
    message = f"the cells are separated by {_WORDS[best]}, and a {path.suffix.lower()} file is read with"
    mend = "save it with commas (a number with a decimal comma in quotation marks), or with tabs as .tsv"
    if best in DELIMITERS.values():
        mend = f"rename it to {next(ending for ending, mark in DELIMITERS.items() if mark == best)}"
    raise FolderError(Problem(str(path), rows[0].row, 1, f"{message} {_WORDS[delimiter]}", mend))


def _encoding(data: bytes, notes: Notes) -> str:
    if data.startswith(codecs.BOM_UTF8):
        return "UTF-8 with a byte-order mark"
    if data.startswith(_UTF16):
        return "UTF-16"
    if any("cp1252" in remark.text for remark in notes.remarks):
        return "no UTF-8: read as Windows-1252 (cp1252)"
    return "ASCII" if data.isascii() else "UTF-8"


def _line_ends(text: bytes) -> str:
    both, newlines, returns = text.count(b"\r\n"), text.count(b"\n"), text.count(b"\r")
    found = [
        name
        for name, count in (("CRLF", both), ("LF", newlines - both), ("CR", returns - both))
        if count
    ]  # fmt: skip
    return f"lines end in {' and '.join(found)}" if found else "one line without an end"


def _open_workbook(path: Path, sheet: str) -> OpenedFile:
    notes = Notes()
    tops = sheet_tops(path, str(path), notes, TOP_ROWS, SHEETS_AT_MOST)
    notes.stop()
    names = [top.name for top in tops]
    if not tops:
        raise FolderError(Problem(str(path), 0, 0, "the workbook has no sheet of cells", "save the table as CSV"))
    if sheet and sheet not in names:
        mend = did_you_mean(sheet, names) or "its sheets: " + ", ".join(f"'{name}'" for name in names)
        raise UsageError(Problem(str(path), 0, 0, f"the workbook has no sheet '{sheet}'", mend))
    chosen = next((top for top in tops if top.name == sheet), None) or max(tops, key=lambda top: top.rows * top.columns)
    if sheet and not chosen.rows and len(tops) > SHEETS_AT_MOST:
        message = f"only the first {SHEETS_AT_MOST} sheets of a workbook are looked at, and '{sheet}' is a later one"
        raise UsageError(Problem(str(path), 0, 0, message, "save the sheet as CSV"))
    rows = tuple(TopRow(number, cells) for number, cells in enumerate(chosen.first, 1))
    if not any(row.filled for row in rows):
        message = f"the first {TOP_ROWS} rows of the sheet '{chosen.name}' are empty"
        raise FolderError(Problem(str(path), 0, 0, message, "name another one with --sheet"))

    def read(layout: Layout, into: Notes) -> TextFile | None:
        there = Layout(chosen.name, layout.header_row, layout.skip_rows)
        return read_workbook(path, path.name, into, there, "", at_most=ROWS_AT_MOST)

    sampled = chosen.rows > ROWS_AT_MOST
    return OpenedFile(path, "workbook", path.stat().st_size, (), sampled, tuple(tops), chosen.name, rows, read)


def _open_parquet(path: Path) -> OpenedFile:
    # Start-up time: no other file needs it.
    import pyarrow as pa
    import pyarrow.parquet as pq

    from vaporqa.intake.parquet_files import read_parquet

    with path.open("rb") as stream:
        start = stream.read(200)
    fault = pointer_fault(start) or (("the file is empty", "save the table again") if not start else None)
    if fault:
        raise FolderError(Problem(str(path), 0, 0, *fault))
    try:
        schema, rows = pq.read_schema(path), pq.read_metadata(path).num_rows
    except (pa.ArrowException, OSError, ValueError) as error:
        message = f"this is no Parquet file that can be read ({str(error).splitlines()[0]})"
        raise FolderError(Problem(str(path), 0, 0, message, "save the table as CSV in UTF-8")) from error
    facts = (f"{rows:,} rows, {len(schema.names):,} columns", "the names stand in no row; records count from row 2")

    def read(layout: Layout, into: Notes) -> TextFile | None:
        return read_parquet(path, path.name, into, Layout(skip_rows=layout.skip_rows), ROWS_AT_MOST)

    top = (TopRow(1, tuple(schema.names)),)
    return OpenedFile(path, "Parquet", path.stat().st_size, facts, rows > ROWS_AT_MOST, (), "", top, read)

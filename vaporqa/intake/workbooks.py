"""Sheets of .xlsx workbooks as text cells, true row numbers kept.

Every number of a workbook is a float: whole ones lose their point, so that an id stored as a number is ``1`` and no
``1.0``. True dates become ISO 8601; a date at midnight is a date alone, which is what a workbook means by it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from vaporqa.errors import Problem, did_you_mean
from vaporqa.intake.files import Declared, pointer_fault, tell_no_header, tell_skipped
from vaporqa.intake.grids import Grid, TextFile, as_file
from vaporqa.intake.mapping import Layout
from vaporqa.intake.notes import Notes, named
from vaporqa.intake.workbook_guard import Package, Refused, SheetFacts

#: Bytes of a workbook as it lies on the disk.
WORKBOOK_LIMIT = 1 << 28
_DAY = dt.timedelta(days=1)


def sheet_names(path: Path, name: str, notes: Notes) -> list[str]:
    """Return the sheets of a workbook; none where it cannot be opened, which is then a problem."""
    package = _package(path, name, notes)
    if package is None:
        return []
    try:
        return list(package.sheets()[0])
    except Refused as refused:
        notes.problem(Problem(name, 0, 0, refused.message, refused.mend))
        return []


def read_workbook(
    path: Path,
    name: str,
    notes: Notes,
    layout: Layout,
    table: str,
    declared: Declared | None = None,
    at_most: int = 0,
) -> TextFile | None:
    """Read one sheet of a workbook; what stops the run goes to `notes`, and None is returned.

    Parameters
    ----------
    path : Path
        A regular file with the ending ``.xlsx``.
    name : str
        Relative to the project folder.
    layout : Layout
        Without a sheet the one called after `table` is read, else the first.
    table : str
    declared : callable, optional
        Takes what is wrong with the sheet or layout that a mapping declares.
    at_most : int
        Physical rows looked at; 0 for all.
    """
    package = _package(path, name, notes)
    if package is None:
        return None
    try:
        sheets, from_1904 = package.sheets()
        if not sheets:
            raise Refused("the workbook has no sheet of cells")
        sheet = layout.sheet or (table if table in sheets else next(iter(sheets)))
        if sheet not in sheets:
            mend = did_you_mean(sheet, list(sheets)) or "its sheets: " + ", ".join(f"'{known}'" for known in sheets)
            if declared is None:
                raise Refused(f"the workbook has no sheet '{sheet}'", mend)
            declared("sheet", f"{name} has no sheet '{sheet}'", mend)
            return None
        facts = package.facts(sheets[sheet])
        grid = _grid(package.data, name, sheet, facts, from_1904, layout, notes, declared, at_most)
    except Refused as refused:
        notes.problem(Problem(name, 0, 0, refused.message, refused.mend))
        return None
    if grid is None:
        return None
    if not layout.sheet and len(sheets) > 1:
        others = ", ".join(f"'{other}'" for other in sheets if other != sheet)
        notes.remark(name, f"the sheet '{sheet}' is read; the workbook also holds {others}")
    return as_file(grid, notes)


@dataclass(frozen=True, slots=True)
class SheetTop:
    """A sheet as it begins: its extent, and its first rows as texts, from row 1 and column 1."""

    name: str
    rows: int
    columns: int
    first: tuple[tuple[str, ...], ...]


def sheet_tops(path: Path, name: str, notes: Notes, first: int, at_most: int) -> list[SheetTop]:
    """Return the sheets of a workbook as they begin; none where it cannot be opened, which is then a problem.

    Parameters
    ----------
    first : int
        Rows of each sheet.
    at_most : int
        Sheets opened; of the others only the names are known, and no rows are returned.
    """
    import python_calamine

    package = _package(path, name, notes)
    if package is None:
        return []
    found = []
    try:
        sheets, _ = package.sheets()
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(package.data))
        for at, (sheet, part) in enumerate(sheets.items()):
            if at >= at_most:
                found.append(SheetTop(sheet, 0, 0, ()))
                continue
            facts = package.facts(part)
            cells = book.get_sheet_by_name(sheet)
            left = cells.start[1] if cells.start is not None else 0
            top = [(*[""] * left, *(_text(cell) for cell in row)) for row in itertools.islice(cells.iter_rows(), first)]
            found.append(SheetTop(sheet, facts.rows, facts.columns, tuple(top)))
    except python_calamine.CalamineError as error:
        notes.problem(Problem(name, 0, 0, f"the workbook cannot be read ({error})", "save it again, or as CSV"))
        return []
    except Refused as refused:
        notes.problem(Problem(name, 0, 0, refused.message, refused.mend))
        return []
    return found


def _package(path: Path, name: str, notes: Notes) -> Package | None:
    size = path.stat().st_size
    if size > WORKBOOK_LIMIT:
        message = f"the workbook has {size:,} bytes; at most {WORKBOOK_LIMIT:,} are read"
        notes.problem(Problem(name, 0, 0, message, "save its sheets as CSV in UTF-8"))
        return None
    data = path.read_bytes()
    fault = pointer_fault(data) or (
        ("the file is empty", "save the workbook again, or remove it") if not data else None
    )
    if fault:
        notes.problem(Problem(name, 0, 0, *fault))
        return None
    try:
        return Package(data)
    except Refused as refused:
        notes.problem(Problem(name, 0, 0, refused.message, refused.mend))
        return None


@dataclass(slots=True)
class _Columns:
    """Cells gathered by column: codes into distinct texts, and how many were numbers."""

    codes: list[list[int]]
    words: list[dict[str, int]]
    numeric: list[int]

    @classmethod
    def of(cls, width: int) -> _Columns:
        return cls([[] for _ in range(width)], [{} for _ in range(width)], [0] * width)

    def add(self, cells: Sequence[Any], texts: Sequence[str]) -> None:
        for at, (cell, text) in enumerate(zip(cells, texts, strict=True)):
            words = self.words[at]
            self.codes[at].append(words.setdefault(text, len(words)))
            if isinstance(cell, float | int) and not isinstance(cell, bool):
                self.numeric[at] += 1

    def arrays(self) -> list[Any]:
        import pyarrow as pa

        return [
            pa.DictionaryArray.from_arrays(pa.array(codes, pa.int32()), pa.array(list(words), pa.string()))
            for codes, words in zip(self.codes, self.words, strict=True)
        ]


def _grid(
    data: bytes,
    name: str,
    sheet: str,
    facts: SheetFacts,
    from_1904: bool,
    layout: Layout,
    notes: Notes,
    declared: Declared | None,
    at_most: int,
) -> Grid | None:
    import python_calamine

    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(data))
        cells = book.get_sheet_by_name(sheet)
    except python_calamine.CalamineError as error:
        raise Refused(f"the sheet '{sheet}' cannot be read ({error})", "save the workbook again, or as CSV") from error
    left = cells.start[1] if cells.start is not None else 0
    width = max(facts.columns, left + cells.width)
    head: tuple[str, ...] = ()
    header_row = 0
    columns = _Columns.of(width)
    lines: list[int] = []
    skipped = set(layout.skip_rows)
    rows = iter(cells.iter_rows())
    silent_rows = {row for row, _ in facts.silent}
    height = max(facts.rows, cells.total_height)
    for line in range(1, min(height, at_most or height) + 1):
        found = next(rows, None)
        row = [""] * width if found is None else [*[""] * left, *found]
        row += [""] * (width - len(row))
        texts = [_text(cell) for cell in row]
        if line in silent_rows:
            for at in range(width):
                texts[at] = texts[at] or facts.silent.get((line, at + 1), "")
        if not header_row:
            wanted = line == layout.header_row if layout.header_row else line not in skipped
            if wanted and any(text.strip() for text in texts):
                head, header_row = tuple(texts), line
            elif layout.header_row and line >= layout.header_row:
                break
        elif line not in skipped and any(text.strip() for text in texts):
            columns.add(row, texts)
            lines.append(line)
    if not header_row:
        tell_no_header(f"{name} ({sheet})", layout, notes, declared)
        return None
    tell_skipped(name, layout, header_row, notes)
    _tell_silent(name, sheet, facts, notes)
    last = max((at for at, text in enumerate(head) if text.strip()), default=-1)
    last = max([last, *(at for at, words in enumerate(columns.words) if any(word.strip() for word in words))])
    return Grid(
        name=name,
        sha256=hashlib.sha256(data).hexdigest(),
        size=len(data),
        head=head[: last + 1],
        header_line=header_row,
        columns=columns.arrays()[: last + 1],
        lines=np.asarray(lines, np.int64),
        sheet=sheet,
        numeric=tuple(columns.numeric[: last + 1]),
        from_1904=from_1904,
    )


def _tell_silent(name: str, sheet: str, facts: SheetFacts, notes: Notes) -> None:
    if not facts.silent:
        return
    rows = sorted({row for row, _ in facts.silent})
    where = named(rows).replace("line", "row")
    count = f"{len(facts.silent):,} cell{'s hold' if len(facts.silent) > 1 else ' holds'}"
    notes.remark(f"{name} ({sheet})", f"{count} an error or a formula without a computed value: {where}")


def _text(cell: Any) -> str:
    """Return the text that a cell means."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float | int):
        return number_text(float(cell))
    if isinstance(cell, dt.datetime):
        return _nearest_second(cell).isoformat(sep=" ")
    if isinstance(cell, dt.timedelta):
        # A duration format ([h]:mm) on a time of day; a longer one is no time and stays readable for a person.
        return str((dt.datetime.min + cell).time()) if dt.timedelta(0) <= cell < _DAY else str(cell)
    return str(cell)


def number_text(number: float) -> str:
    """Return a number as a person writes it: whole ones without a point.

    Examples
    --------
    >>> number_text(7.0), number_text(0.1), number_text(1e20)
    ('7', '0.1', '1e+20')
    """
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def _nearest_second(moment: dt.datetime) -> dt.datetime:
    """Round what a serial day lost: within two milliseconds of a whole second it is that second."""
    off = moment.microsecond
    if off >= 998_000:
        return moment.replace(microsecond=0) + dt.timedelta(seconds=1)
    return moment.replace(microsecond=0) if off <= 2_000 else moment

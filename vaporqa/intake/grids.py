"""A file as text cells, whatever its format: repeated headers are refused, repeated and empty rows set aside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.headers import Header, read_header, repeated
from vaporqa.intake.notes import Notes, named
from vaporqa.tables.values import Bool, Int16, Int64


@dataclass(frozen=True, slots=True)
class Unpivoted:
    """Which column of its file a row stands for, where columns became rows.

    Attributes
    ----------
    to, value : str
        Contract columns that hold the header and the cell.
    places : tuple of int
        Positions of the columns among the headers.
    which : int16 (n,)
        Into `places`.
    origin : int64 (n,)
        Record of the file, from 0.
    """

    to: str
    value: str
    places: tuple[int, ...]
    which: Int16
    origin: Int64


@dataclass(frozen=True, slots=True)
class TextFile:
    """A file, or one sheet of a workbook, as text cells.

    Attributes
    ----------
    name : str
        Relative to the project folder.
    sha256 : str
    size : int
    headers : tuple of Header
        In file order, columns that are wholly empty and have no header left out.
    columns : tuple of pyarrow.DictionaryArray
        One a header, (n,) strings as written; an empty cell is an empty string.
    lines : int64 (n,)
        First physical line of each record; in a workbook its row.
    header_line : int
    sheet : str
        Empty for files without sheets.
    numeric : tuple of int
        In a workbook: how many cells of each column are numbers; empty elsewhere.
    from_1904 : bool
        The workbook counts its days from 1904.
    unpivoted : Unpivoted or None
    """

    name: str
    sha256: str
    size: int
    headers: tuple[Header, ...]
    columns: tuple[Any, ...]
    lines: Int64
    header_line: int
    sheet: str = ""
    numeric: tuple[int, ...] = ()
    from_1904: bool = False
    unpivoted: Unpivoted | None = None

    @property
    def place(self) -> str:
        """Name with the sheet, as a person writes it."""
        return f"{self.name} ({self.sheet})" if self.sheet else self.name


@dataclass(frozen=True, slots=True)
class Grid:
    """What a reader of one format hands over: the cells under the header, and where they stand."""

    name: str
    sha256: str
    size: int
    head: tuple[str, ...]
    header_line: int
    columns: Sequence[Any]
    lines: Int64
    sheet: str = ""
    numeric: tuple[int, ...] = ()
    from_1904: bool = False


def as_file(grid: Grid, notes: Notes) -> TextFile | None:
    """Return the cells under the header as a file; None where two headers are the same."""
    headers = [read_header(cell, number) for number, cell in enumerate(grid.head, 1)]
    for first, second in repeated(headers):
        message = f"two headers are the same: '{second.text}' in fields {first.field} and {second.field}"
        notes.problem(Problem(grid.name, grid.header_line, second.field, message, "rename one of them"))
    columns, lines = _without_header_rows(grid, notes)
    columns, lines = _without_empty_rows(columns, lines, grid.name, notes)
    kept = [at for at, header in enumerate(headers) if header.text or not _is_blank(columns[at])]
    for at in kept:
        if not headers[at].text:
            message = f"field {headers[at].field} holds cells but has no header"
            notes.problem(
                Problem(
                    grid.name, grid.header_line, headers[at].field, message, "write its column name in the header line"
                )
            )
    return TextFile(
        name=grid.name,
        sha256=grid.sha256,
        size=grid.size,
        headers=tuple(headers[at] for at in kept),
        columns=tuple(columns[at] for at in kept),
        lines=lines,
        header_line=grid.header_line,
        sheet=grid.sheet,
        numeric=tuple(grid.numeric[at] for at in kept) if grid.numeric else (),
        from_1904=grid.from_1904,
    )


def _without_header_rows(grid: Grid, notes: Notes) -> tuple[list[Any], Int64]:
    """Set rows aside that repeat the header."""
    import pyarrow as pa

    columns, lines = list(grid.columns), grid.lines
    same: Bool | None = None
    for column, text in zip(columns, grid.head, strict=True):
        code = column.dictionary.index(pa.scalar(text, pa.string())).as_py()
        if code < 0:
            return columns, lines
        equal = column.indices.to_numpy() == code
        same = equal if same is None else same & equal
        if not same.any():
            return columns, lines
    if same is None or not same.any() or not any(grid.head):
        return columns, lines
    again = [int(line) for line in lines[same]]
    notes.remark(grid.name, f"the header stands again in {named(again)}; set aside")
    keep = np.flatnonzero(~same)
    return [column.take(pa.array(keep)) for column in columns], lines[keep]


def _without_empty_rows(columns: list[Any], lines: Int64, name: str, notes: Notes) -> tuple[list[Any], Int64]:
    """Set rows aside in which every cell is empty: the tail of a sheet, or a line of blanks."""
    import pyarrow as pa
    import pyarrow.compute as pc

    empty: Bool | None = None
    for column in columns:
        blank = np.asarray(
            pc.equal(pc.utf8_trim_whitespace(column.dictionary), "").to_numpy(zero_copy_only=False), bool
        )
        if not blank.any():
            return columns, lines
        here = blank[column.indices.to_numpy()]
        empty = here if empty is None else empty & here
        if not empty.any():
            return columns, lines
    if empty is None or not empty.any():
        return columns, lines
    set_aside = [int(line) for line in lines[empty]]
    notes.remark(name, f"{len(set_aside):,} rows without any content, ignored: {named(set_aside)}")
    keep = np.flatnonzero(~empty)
    return [column.take(pa.array(keep)) for column in columns], lines[keep]


def _is_blank(column: Any) -> bool:
    import pyarrow.compute as pc

    return not len(column) or not pc.any(pc.not_equal(pc.utf8_trim_whitespace(column.dictionary), "")).as_py()

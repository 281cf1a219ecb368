"""Where a row stands: file, physical line, and the header over a column, as people and files write them."""

from __future__ import annotations

from vaporqa.review.values import Review
from vaporqa.tables.values import Table


def line_text(table: Table, row: int) -> str:
    """Return the physical line of a row; in a workbook ``sheet!row``."""
    sheet = table.sheets[int(table.file_of[row])] if table.sheets else ""
    line = str(int(table.line_of[row]))
    return f"{sheet}!{line}" if sheet else line


def file_name(table: Table, row: int) -> str:
    """Return the file of a row, relative to the project folder; empty for a table made in memory."""
    return table.files[int(table.file_of[row])] if table.files else ""


def row_place(table: Table, row: int) -> str:
    """Return ``file:line`` of a row."""
    return f"{file_name(table, row)}:{line_text(table, row)}"


def header_of(table: Table, row: int, column: str) -> str:
    """Return the file's header over a contract column, parts of a joined one by `/`; the column's own name if none."""
    if not column:
        return ""
    header = ""
    if table.cells is not None and row >= 0:
        header = str(table.cells.header(row, column))
    return header or table.headers.get(column, column)


def finding_place(review: Review, index: int) -> tuple[str, str, str]:
    """Return file, line and header of a finding; line is empty for one on a whole table."""
    found = review.findings
    table = review.tables.get(found.tables[int(found.table[index])])
    row, column = int(found.row[index]), str(found.column[index])
    if table is None:
        return "", "", ""
    if row < 0:
        return "; ".join(dict.fromkeys(table.files)), "", header_of(table, row, column)
    return file_name(table, row), line_text(table, row), header_of(table, row, column)


def shown_place(review: Review, index: int) -> str:
    """Return ``file:line:column`` of a finding, as much of it as there is; the column is the field's number."""
    found = review.findings
    file, line, _ = finding_place(review, index)
    table = review.tables.get(found.tables[int(found.table[index])])
    row, column = int(found.row[index]), str(found.column[index])
    parts = [part for part in (file, line) if part]
    if table is not None and table.cells is not None and column and row >= 0:
        number = int(table.cells.column_number(row, column))
        if number:
            parts.append(str(number))
    return ":".join(parts) or found.tables[int(found.table[index])]

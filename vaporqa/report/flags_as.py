"""The flag files in two more forms: Parquet for programs, and a workbook with a sheet a table for people."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa

from vaporqa.errors import OutputError, Problem, UsageError
from vaporqa.report.flagged import flag_table
from vaporqa.report.sentences import Sentences
from vaporqa.review.values import Review

if TYPE_CHECKING:
    import xlsxwriter

#: Forms that ``--flags-as`` knows, and the file that each table's flags go to.
FORMS = ("parquet", "xlsx")
WORKBOOK = "flags.xlsx"
#: What a sheet and a cell of a workbook hold at most.
SHEET_ROWS, CELL_LETTERS = 1_048_576, 32_767
_CUT = " ... (cut here; the text files hold the whole)"
_WIDEST, _NARROWEST, _LOOKED_AT = 60, 8, 500
#: A workbook states when it was made; ours must not differ from run to run.
_MADE = dt.datetime(2000, 1, 1)
_NUMBERS = ("final_value", "final_limit")


def as_arrow(review: Review, table: str, sentences: Sentences) -> pa.Table:
    """Return one flag file as a pyarrow table: texts as in the files, `final_value` and `final_limit` as float64
    (null where there is none), `final_detected` and `final_in_use` as booleans (null where undecided).

    Nothing is defused: typed text is never run.
    """
    columns = {name: column.decoded() for name, column in flag_table(review, table, sentences).items()}
    final = review.final
    if table == "results" and final is not None:
        for name, values in (("final_value", final.value), ("final_limit", final.limit)):
            columns[name] = pa.array(values, pa.float64(), from_pandas=True)
        for name, codes in (("final_detected", final.detected), ("final_in_use", final.in_use)):
            columns[name] = pa.array(codes == 1, pa.bool_(), mask=codes < 0)
    return pa.table(columns)


def parquet_file(review: Review, table: str, sentences: Sentences) -> bytes:
    """Return one flag file as Parquet."""
    from pyarrow import parquet

    out = io.BytesIO()
    parquet.write_table(as_arrow(review, table, sentences), out, compression="zstd")
    return out.getvalue()


def workbook_file(review: Review, sentences: Sentences) -> bytes:
    """Return every flag file as a sheet of one workbook: frozen header, widths, filters, texts as texts, no formulas.

    Raises
    ------
    OutputError
        A table has more rows than a sheet holds.
    UsageError
        The library that writes workbooks is not installed.
    """
    check_forms(["xlsx"])
    import xlsxwriter

    tables = review.tables.tables
    long = [name for name, table in tables.items() if table.rows >= SHEET_ROWS]
    if long:
        message = f"a sheet holds {SHEET_ROWS:,} rows, and {', '.join(long)} has more"
        raise OutputError(Problem(WORKBOOK, 0, 0, message, "use --flags-as parquet, or the text files"))
    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(out, options)
    book.set_properties({"created": _MADE})
    head = book.add_format({"bold": True, "bottom": 1, "valign": "top"})
    for name in tables:
        _fill(book.add_worksheet(name[:31]), as_arrow(review, name, sentences), head)
    if not tables:
        book.add_worksheet("flags")
    book.close()
    return out.getvalue()


def check_forms(forms: Sequence[str]) -> None:
    """Refuse a form that cannot be written here, before anything is judged.

    Raises
    ------
    UsageError
        With how to install what is missing.
    """
    if "xlsx" in forms and find_spec("xlsxwriter") is None:
        message = "workbooks are written with the library xlsxwriter, which is not installed"
        raise UsageError(Problem("", 0, 0, message, "install `vaporqa[xlsx]`"))


def _fill(sheet: Any, table: pa.Table, head: xlsxwriter.format.Format) -> None:
    names = table.column_names
    for place, name in enumerate(names):
        cells = table[name].to_pylist()
        sheet.write_string(0, place, _cut(name), head)
        sheet.set_column(place, place, _width(name, cells[:_LOOKED_AT]))
        write = sheet.write_number if name in _NUMBERS and pa.types.is_floating(table.schema.field(name).type) else None
        for row, cell in enumerate(cells, start=1):
            if cell is None or cell == "":
                continue
            if isinstance(cell, bool):
                sheet.write_boolean(row, place, cell)
            elif write is not None and np.isfinite(cell):
                write(row, place, cell)
            else:
                sheet.write_string(row, place, _cut(str(cell)))
    sheet.freeze_panes(1, 1)
    if table.num_rows:
        sheet.autofilter(0, 0, table.num_rows, len(names) - 1)


def _cut(text: str) -> str:
    return text if len(text) <= CELL_LETTERS else text[: CELL_LETTERS - len(_CUT)] + _CUT


def _width(name: str, cells: Sequence[Any]) -> int:
    longest = max((len(str(cell)) for cell in cells if cell is not None), default=0)
    return int(min(_WIDEST, max(_NARROWEST, longest, len(name)) + 2))

"""Forms to fill in on a screen: a workbook a table, which the intake reads as it stands once it is filled in."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Mapping, Sequence
from typing import Any

from vaporqa.report.flags_as import check_forms
from vaporqa.report.form_columns import Form, FormColumn

#: Rows in which cells are checked while they are typed.
CHECKED_ROWS = 1000
_UNITS = ("ppbv", "ppmv", "%v", "%LEL", "ug/m3", "mg/m3")
_FIRST_DAY = dt.date(1990, 1, 1)
#: What a drop-down's note holds at most.
_TITLE, _NOTE = 32, 255
#: A workbook states when it was made; ours must not differ from run to run.
_MADE = dt.datetime(2000, 1, 1)
_FORMATS = {"time": "yyyy-mm-dd hh:mm", "id": "@", "text": "@", "word": "@", "yes_no": "@", "unit": "@"}
_PLAIN_NUMBERS = ("number", "quantity", "coordinate", "percent")


def form_book(form: Form, safety: Sequence[str]) -> bytes:
    """Return a form as a workbook: header frozen, units in it, drop-down words, dates and numbers checked.

    The first sheet is named after the table. What it has no words for (ids, free text) is text, so that ``007`` stays.

    Raises
    ------
    UsageError
        The library that writes workbooks is not installed.
    """
    check_forms(["xlsx"])
    import xlsxwriter

    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(out, options)
    book.set_properties({"created": _MADE})
    sheet = book.add_worksheet(form.table.name)
    first = book.add_worksheet("before you start")
    lists = book.add_worksheet("words")
    lists.hide()
    heads = {needed: book.add_format({"bold": True, "bottom": 1, "valign": "top", "italic": not needed})
             for needed in (True, False)}  # fmt: skip
    for place, column in enumerate(form.columns):
        shown = _FORMATS.get(column.spec.kind, "General")
        sheet.set_column(place, place, max(12, len(column.heading) + 2), book.add_format({"num_format": shown}))
        sheet.write_string(0, place, column.heading, heads[column.supplier == "field crew"])
        rule = _validation(column, lists, place)
        if rule:
            sheet.data_validation(1, place, CHECKED_ROWS, place, {**rule, **_note(column)})
    for line, row in enumerate(form.rows, start=1):
        for place, column in enumerate(form.columns):
            if row.get(column.spec.name):
                text = book.add_format({"num_format": "@"})
                sheet.write_string(line, place, row[column.spec.name], text)
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.repeat_rows(0)
    _explain(first, form, safety, heads[True], book.add_format({"text_wrap": True, "valign": "top"}))
    book.close()
    return out.getvalue()


def _validation(column: FormColumn, lists: Any, place: int) -> Mapping[str, Any]:
    """Return the check of a column's cells while they are typed; words stand in a hidden sheet, however many."""
    spec = column.spec
    words = spec.words or {"yes_no": ("yes", "no"), "unit": _UNITS}.get(spec.kind, column.known)
    if words:
        for row, word in enumerate(words):
            lists.write_string(row, place, word)
        from xlsxwriter.utility import xl_range_abs

        closed = bool(spec.words) or spec.kind == "yes_no"
        return {
            "validate": "list", "source": f"=words!{xl_range_abs(0, place, len(words) - 1, place)}",
            "error_type": "stop" if closed else "information", "error_title": "Not in the list",
            "error_message": "Choose a word of the list." if closed else "This is not in the list. Keep it?",
        }  # fmt: skip
    if spec.kind == "time":
        return {
            "validate": "date", "criteria": ">=", "value": _FIRST_DAY, "error_title": "Not a date",
            "error_message": "Write date and time, such as 2026-12-01 08:30.",
        }  # fmt: skip
    if spec.kind == "fraction":
        return {
            "validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 1, "error_title": "Not a fraction",
            "error_message": "A fraction from 0 to 1.",
        }  # fmt: skip
    if spec.kind in _PLAIN_NUMBERS:
        return {
            "validate": "decimal", "criteria": "between", "minimum": -1e12, "maximum": 1e12,
            "error_title": "Not a number", "error_message": "A number alone; its unit stands in the heading.",
        }  # fmt: skip
    return {"validate": "any"}


def _note(column: FormColumn) -> Mapping[str, str]:
    parts = [column.spec.about, "needed" if column.spec.required else ""]
    parts.append(f"by the {column.supplier}" if column.supplier != "field crew" else "")
    parts.append(
        f"in {column.unit}; where the instrument shows another unit, change the heading" if column.unit else ""
    )
    parts.append("date and local time, such as 2026-12-01 08:30" if column.spec.kind == "time" else "")
    text = ". ".join(part for part in parts if part)
    return {"input_title": column.spec.name[:_TITLE], "input_message": text[:_NOTE]} if text else {}


def _explain(sheet: Any, form: Form, safety: Sequence[str], head: Any, wrapped: Any) -> None:
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 1, 90)
    sheet.write_string(0, 0, "Before anything is driven", head)
    line = 1
    for sentence in safety:
        sheet.write_string(line, 1, sentence, wrapped)
        line += 1
    sheet.write_string(line + 1, 0, f"Columns of {form.table.name}", head)
    line += 2
    for column in form.columns:
        sheet.write_string(line, 0, column.heading)
        said = _note(column).get("input_message", "")
        words = f"one of: {', '.join(column.spec.words)}" if column.spec.words else ""
        sheet.write_string(line, 1, ". ".join(one for one in (said, words) if one), wrapped)
        line += 1
    sheet.write_string(line + 1, 1, f"Filled in, it goes into the project folder as {form.table.name}.xlsx.", wrapped)

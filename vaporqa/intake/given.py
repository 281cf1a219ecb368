"""Tables made in memory: rule examples and tests, where a cell carries its own unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from vaporqa.errors import FolderError, Problem, did_you_mean
from vaporqa.intake.assembly import build_table, gather
from vaporqa.intake.folder import project_names
from vaporqa.intake.grids import TextFile
from vaporqa.intake.headers import Header
from vaporqa.intake.mapping import FileMapping, has_unit, own_names, unit_column
from vaporqa.intake.notes import Notes
from vaporqa.intake.numbers import NUMBER
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.dictionary import TABLES, TableSpec
from vaporqa.tables.project import Project
from vaporqa.tables.values import Table, Tables

_WITH_UNIT = re.compile(rf"(?P<number><?\s*{NUMBER})\s*(?P<mark>U\b)?\s*(?P<unit>\S.*)?")


def tables_from_text(rows: Mapping[str, Sequence[Mapping[str, str]]], project: Project) -> Tables:
    """Return typed tables from rows of column to text.

    A cell of a column with a dimension may carry its unit (``20 %v``, ``30 min``, ``< 5 ppbv``); a bare number needs
    a cell ``<column>_unit`` or ``unit`` in its row. Columns that a row does not name are empty in it. Columns
    that must be there may be absent. A row's line is its place in the list, from 1.

    Parameters
    ----------
    rows : mapping
        Table name to rows.
    project : Project

    Raises
    ------
    FolderError
        A table or column is not in the data dictionary, or a number has no unit.
    """
    notes = Notes()
    tables: dict[str, Table] = {}
    names: dict[str, str] = {}
    for table in sorted(rows, key=lambda name: name != "analyte_names"):
        spec = TABLES.get(table)
        if spec is None:
            notes.problem(Problem(table, 0, 0, f"there is no table '{table}'", did_you_mean(table, list(TABLES))))
            continue
        file = _as_file(spec, rows[table], notes)
        mapping = FileMapping(table)
        cells = gather(spec, [(file, mapping)], project, notes, in_files=False)
        built = build_table(spec, cells, [mapping], project, names, notes, in_files=False)
        if built is not None:
            tables[table] = built
            if table == "analyte_names":
                names = project_names(built)
    if notes.problems:
        raise FolderError(notes.problems)
    return Tables(
        {name: tables[name] for name in TABLES if name in tables}, tuple(notes.readings), tuple(notes.remarks), ()
    )


def _as_file(spec: TableSpec, rows: Sequence[Mapping[str, str]], notes: Notes) -> TextFile:
    """Return rows as the cells of a file, units split off into `<column>_unit` columns."""
    import pyarrow as pa

    known = own_names(spec)
    names = list(dict.fromkeys(name for row in rows for name in row))
    for name in names:
        if name not in known:
            notes.problem(
                Problem(spec.name, 0, 0, f"the table {spec.name} has no column '{name}'", did_you_mean(name, known))
            )
    columns: dict[str, list[str]] = {name: [row.get(name, "") for row in rows] for name in names}
    for column in spec.columns:
        if column.name in columns and has_unit(column):
            beside = unit_column(column)
            shared = columns.get(column.unit_column, [""] * len(rows)) if column.unit_column else [""] * len(rows)
            units = columns.get(beside, [""] * len(rows))
            for at, text in enumerate(columns[column.name]):
                dimension = "amount" if column.kind == "amount" else column.dimension
                number, unit = split_unit(text, dimension)
                if unit:
                    columns[column.name][at] = number
                    units = [*units[:at], unit, *units[at + 1 :]]
                elif re.search(r"\d", text) and not units[at] and not shared[at]:
                    message = f"'{text}' in column '{column.name}' has no unit"
                    notes.problem(
                        Problem(
                            spec.name,
                            at + 1,
                            0,
                            message,
                            f"write it after the number, such as {text.strip()} {_example(dimension)}",
                        )
                    )
            columns[beside] = units
    arrays = [pa.array(cells, pa.string()).dictionary_encode() for cells in columns.values()]
    headers = tuple(Header(name, name, None, number) for number, name in enumerate(columns, 1))
    lines = np.arange(1, len(rows) + 1, dtype=np.int64)
    return TextFile(spec.name, "", 0, headers, tuple(arrays), lines, 0)


def _example(dimension: str) -> str:
    return {"amount": "ug/m3", "length": "ft", "volume": "mL", "flow": "mL/min", "pressure": "inHg",
            "duration": "min", "temperature": "degC"}.get(dimension, "")  # fmt: skip


def split_unit(text: str, dimension: str) -> tuple[str, str]:
    """Return the number of a cell, marks included, and its unit; the unit is empty where none stands there.

    Examples
    --------
    >>> split_unit("< 5 ppbv", "amount"), split_unit("5 U", "amount"), split_unit("20 %v", "amount")
    (('< 5', 'ppbv'), ('5 U', ''), ('20', '%v'))
    """
    match = _WITH_UNIT.fullmatch(text.strip())
    if match is None or not match["unit"]:
        return text, ""
    unit = match["unit"].strip()
    if parse_unit(unit, dimension) is None and not re.search(r"[A-Za-z%]", unit):
        return text, ""
    mark = f" {match['mark']}" if match["mark"] else ""
    return match["number"].strip() + mark, unit

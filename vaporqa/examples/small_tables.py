"""An example of a rule as typed tables: what a single row inherits, and the cells that are made up for it."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from vaporqa.criteria import Example, Option, Rule
from vaporqa.errors import FolderError, Problem
from vaporqa.intake import tables_from_text
from vaporqa.quantities.units import CANONICAL, parse_number_with_unit
from vaporqa.tables.dictionary import POINTERS, TABLES, TableSpec
from vaporqa.tables.project import Project
from vaporqa.tables.values import Tables

Rows = dict[str, list[dict[str, str]]]

#: What a results row of an example is about, where it does not say.
BENZENE = ("benzene", "71-43-2")
SAMPLE = "S"
#: Zone of local times in an example that declares none.
ZONE = "UTC"


def tables_of(rule: Rule, example: Example, project: Project) -> Tables:
    """Return the typed tables of an example.

    A single row (`row:`) takes the rule's conditions as its cells, and so do the rows of other tables that dotted
    conditions reach, where the example does not give these tables itself. Key cells that are missing are made up;
    any other column may be left out. A results row without sample or analyte is benzene in sample S.

    Raises
    ------
    FolderError
        A cell has no unit, or a table or column is not in the data dictionary.
    """
    rows: Rows = {name: [dict(row) for row in given] for name, given in example.tables.items()}
    if rule.row not in rows and "" in example.expect:
        rows[rule.row] = [dict(example.row)]
        _inherit(rule, rows, set(example.tables))
    for name, given in rows.items():
        for number, row in enumerate(given, start=1):
            _make_up_keys(TABLES[name], row, number)
    return tables_from_text(rows, project)


def _inherit(rule: Rule, rows: Rows, given: set[str]) -> None:
    own = rows[rule.row][0]
    for name, condition in rule.where.items():
        table, _, column = name.rpartition(".")
        if not table or table == rule.row:
            _set_where_missing(own, rule.row, column, condition)
        elif table not in given:
            reached = _row_pointed_to(rule.row, table, rows, given)
            if reached is not None:
                _set_where_missing(reached, table, column, condition)


def _set_where_missing(row: dict[str, str], table: str, column: str, condition: Option) -> None:
    if column not in row:
        cell = _cell(table, column, condition)
        if cell:
            row[column] = cell


def _cell(table: str, column: str, condition: Option) -> str:
    """Return a cell that meets an equality condition; empty for a range, which the example must meet itself."""
    if isinstance(condition, bool):
        return "yes" if condition else "no"
    if isinstance(condition, tuple):
        return _cell(table, column, condition[0])
    if isinstance(condition, Mapping):
        return ""
    if isinstance(condition, float):
        spec = TABLES[table].column(column)
        unit = CANONICAL.get(spec.dimension, "") if spec is not None else ""
        return f"{condition!r} {unit}".strip()
    return condition


def _row_pointed_to(start: str, wanted: str, rows: Rows, given: set[str]) -> dict[str, str] | None:
    """Return the row of `wanted` that the first row of `start` points to, made with all rows on the way."""
    came_from: dict[str, tuple[str, str]] = {}
    waiting = deque([start])
    while waiting and wanted not in came_from:
        table = waiting.popleft()
        for pointer, target in POINTERS.get(table, {}).items():
            if target not in came_from and target != start:
                came_from[target] = (table, pointer)
                waiting.append(target)
    if wanted not in came_from:
        return None
    steps = [wanted]
    while steps[0] != start:
        steps.insert(0, came_from[steps[0]][0])
    row = rows[start][0]
    for target in steps[1:]:
        if target in given:
            return None
        pointer = came_from[target][1]
        key = TABLES[target].keys[0]
        there = rows.setdefault(target, [{}])[0]
        name = row.get(pointer) or there.get(key) or f"{target}-1"
        row[pointer] = there[key] = name
        row = there
    return row


def _make_up_keys(table: TableSpec, row: dict[str, str], number: int) -> None:
    if table.name == "results":
        row.setdefault("sample_id", SAMPLE)
        if "analyte" not in row and "cas" not in row:
            row["analyte"], row["cas"] = BENZENE
        return
    for key in table.keys:
        if key in row:
            continue
        kind = table.column(key)
        if key == "cas":
            row[key] = BENZENE[1]
        elif key == "sample_id":
            row[key] = SAMPLE if number == 1 else f"{SAMPLE}{number}"
        elif kind is not None and kind.kind == "time":
            row[key] = f"2024-05-{number:02d}T00:00Z"
        elif kind is not None and kind.kind == "id":
            row[key] = f"{table.name}-{number}"


def project_of(example: Example) -> Project:
    """Return the project that an example describes; local times are UTC where it declares no zone.

    Raises
    ------
    FolderError
        A quantity cannot be read.
    """
    said = example.project
    reference = said.get("reference", {})
    if not isinstance(reference, Mapping):
        raise FolderError(Problem(example.file, example.line, 0, "reference is a mapping of temperature and pressure"))
    units = said.get("units", {})
    missing = said.get("missing", ())
    return Project(
        name=str(said.get("project", "")),
        purpose=str(said.get("purpose", "")),
        time_zone=str(said.get("time_zone", ZONE)),
        lab_time_zone=str(said.get("lab_time_zone", said.get("time_zone", ZONE))),
        altitude_m=_quantity(said, "altitude", "length", example),
        lab_altitude_m=_quantity(said, "lab_altitude", "length", example),
        reference_temperature=_or_else(_quantity(reference, "temperature", "temperature", example), 25.0),
        reference_pressure=_or_else(_quantity(reference, "pressure", "pressure", example), 101.325),
        stage=str(said.get("stage", "2B")),
        missing=tuple(map(str, missing)) if isinstance(missing, tuple) else (str(missing),),
        units={str(name): str(unit) for name, unit in units.items()} if isinstance(units, Mapping) else {},
    )


def _or_else(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _quantity(said: Mapping[str, Option], key: str, dimension: str, example: Example) -> float | None:
    if key not in said:
        return None
    try:
        number, unit = parse_number_with_unit(str(said[key]), dimension)
    except ValueError as error:
        raise FolderError(Problem(example.file, example.line, 0, f"{key}: {error}")) from None
    return float(unit.to_canonical(number))

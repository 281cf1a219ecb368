"""The unit of every cell of a column with a dimension: from its header, the project, or a cell beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.mapping import has_unit, unit_column
from vaporqa.intake.notes import UNIT_OFFERS_AT_MOST
from vaporqa.intake.project import unit_dimension, unit_fault
from vaporqa.quantities.units import Unit, nearest_units, parse_unit
from vaporqa.tables.values import Bool, Int32, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.intake.cells import Cells
    from vaporqa.intake.headers import Header
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn
    from vaporqa.tables.dictionary import ColumnSpec, TableSpec
    from vaporqa.tables.project import Project

#: Columns whose header unit and the row's `unit` speak of the same number: if they differ, one of them is wrong.
SPOKEN_TWICE = ("result", "result_mass", "result_volume", "reading", "level")
#: More distinct spellings than this in one column are no units; the rest share one code.
_SPELLINGS_AT_MOST = 32_000


def declared_units(
    spec: TableSpec, column: ColumnSpec, cells: Cells, mappings: Sequence[FileMapping], project: Project, notes: Notes
) -> list[str]:
    """Return the unit that each file declares for a whole column, empty where it declares none.

    A column that needs a unit and has none anywhere is a problem, and so is a unit that is not known.
    """
    found = []
    own = project.units.get(f"{spec.name}.{column.name}", "")
    for index, (file, mapping) in enumerate(zip(cells.files, mappings, strict=True)):
        places = cells.fields[index].get(column.name, ())
        wide = file.unpivoted if file.unpivoted is not None and column.name == file.unpivoted.value else None
        if not places and column.name not in mapping.fixed and wide is None:
            found.append("")
            continue
        header = file.headers[places[0]] if places else None
        given = mapping.units.get(column.name, "")
        written = _in_header(header, column, declared=bool(given or own)) if header is not None else None
        if wide is not None:
            header = file.headers[wide.places[0]]
            written = header.unit
        line, number = file.header_line, header.field if header else 0

        def wrong(message: str, mend: str = "", name: str = file.name, line: int = line, number: int = number) -> None:
            notes.problem(Problem(name, line, number, f"column '{column.name}': {message}", mend))

        if wide is not None and len({file.headers[place].unit for place in wide.places}) > 1:
            shown = ", ".join(f"'{file.headers[place].text}'" for place in wide.places[:5])
            wrong(f"the headers that become rows have different units: {shown}", "map them in several entries")
        pointed = given if spec.column(given) or given in cells.fields[index] else ""
        candidates = [unit for unit in (written, "" if pointed else given, own) if unit]
        found.append(candidates[0] if candidates else "")
        if written is not None and not (has_unit(column) or column.kind in ("percent", "coordinate")):
            wrong(
                f"a column of kind {column.kind} takes no unit, and its header gives '{written}'",
                f"write {column.name}",
            )
            continue
        for unit in candidates:
            fault = unit_fault(unit, column)
            if fault:
                wrong(*fault)
        if len({_same(unit, column) for unit in candidates}) > 1:
            wrong(f"two units are declared for it: {' and '.join(dict.fromkeys(candidates))}", "keep one of them")
        beside = [name for name in (unit_column(column), pointed, column.unit_column) if name]
        has_beside = any(name in cells.fields[index] or name in mapping.fixed for name in beside)
        if candidates and (unit_column(column) in cells.fields[index]):
            wrong(
                f"its unit is declared ({candidates[0]}) and stands in a column '{unit_column(column)}' too", "keep one"
            )
        if has_unit(column) and not candidates and not has_beside:
            wrong("it has no unit", ways_to_mend(spec, column))
    return found


def _in_header(header: Header, column: ColumnSpec, *, declared: bool) -> str | None:
    """Return the unit that a header gives for a column, None where it gives none.

    Brackets in a stranger's header may hold anything. They count as a unit where they can be one, and where nothing
    else declares one, so that a misspelt unit is named as such.
    """
    if header.unit is None or header.name == column.name:
        return header.unit
    if column.kind in ("percent", "coordinate"):
        return header.unit if unit_fault(header.unit, column) is None else None
    return header.unit if has_unit(column) and not (declared and unit_fault(header.unit, column)) else None


def ways_to_mend(spec: TableSpec, column: ColumnSpec) -> str:
    """Return the ways in which a column without a unit gets one."""
    example = {"amount": "ug/m3", "length": "ft", "volume": "mL", "flow": "mL/min", "pressure": "inHg",
               "duration": "min", "temperature": "degC"}[unit_dimension(column)]  # fmt: skip
    ways = [f"write it in the header, `{column.name} [{example}]`"]
    ways.append(f"or in project.yaml, `units: {{{spec.name}.{column.name}: {example}}}`")
    beside = f"`{column.unit_column}` or `{unit_column(column)}`" if column.unit_column else f"`{unit_column(column)}`"
    ways.append(f"or add a column {beside}")
    return ", ".join(ways)


def _same(unit: str, column: ColumnSpec) -> object:
    if column.kind == "coordinate":
        return parse_unit(unit)
    return parse_unit(unit, unit_dimension(column)) or unit


@dataclass(frozen=True, slots=True)
class RowUnits:
    """The unit of each row of one column.

    Attributes
    ----------
    codes : int32 (n,)
        Into `spellings`; -1 where a row has no unit.
    spellings : tuple of str
        As written.
    units : tuple of Unit or None
        What each spelling means; None where it is not known.
    from_column : tuple of str
        For each code of `origin`: the contract column that holds the unit.
    origin : int32 (n,)
        Which of `from_column` the unit of a row comes from.
    contradicted : bool (n,)
        The declared unit of the column and the row's own differ.
    """

    codes: Int32
    spellings: tuple[str, ...]
    units: tuple[Unit | None, ...]
    from_column: tuple[str, ...]
    origin: Int32
    contradicted: Bool


def row_units(raw: RawColumn, columns: Mapping[str, RawColumn], mappings: Sequence[FileMapping]) -> RowUnits:
    """Return the unit of each row of `raw`; `columns` are the raw columns of its table."""
    column = raw.spec
    dimension = unit_dimension(column)
    n = len(raw.codes)
    codes = np.full(n, -1, np.int32)
    origin = np.zeros(n, np.int32)
    contradicted = np.zeros(n, np.bool_)
    spellings: dict[str, int] = {}
    shared_name = column.unit_column or unit_column(column)
    origins = [shared_name, unit_column(column), column.name]

    def add(texts: Sequence[str]) -> Int32:
        return np.array(
            [*(spellings.setdefault(text, min(len(spellings), _SPELLINGS_AT_MOST)) for text in texts), -1], np.int32
        )

    shared = columns.get(column.unit_column) if column.unit_column else None
    if shared is not None:
        codes = add([text.strip() for text in shared.texts.to_pylist()])[shared.codes]
    for part, mapping in zip(raw.parts, mappings, strict=True):
        pointed = columns.get(mapping.units.get(column.name, ""))
        if pointed is not None:
            rows = slice(part.start, part.stop)
            codes[rows] = add([text.strip() for text in pointed.texts.to_pylist()])[pointed.codes[rows]]
            if pointed.spec.name not in origins:
                origins.append(pointed.spec.name)
            origin[rows] = origins.index(pointed.spec.name)
    own = columns.get(unit_column(column))
    if own is not None:
        stated = own.codes >= 0
        codes = np.where(stated, add([text.strip() for text in own.texts.to_pylist()])[own.codes], codes)
        origin = np.where(stated | (shared is None), 1, origin).astype(np.int32)
    for part in raw.parts:
        if part.unit:
            rows = slice(part.start, part.stop)
            code = int(add([part.unit])[0])
            if column.name in SPOKEN_TWICE:
                contradicted[rows] = _differs(codes[rows], spellings, part.unit, dimension)
            codes[rows] = code
            origin[rows] = 2
    names = tuple(spellings)[: _SPELLINGS_AT_MOST + 1]
    units = tuple(parse_unit(name, dimension) for name in names)
    return RowUnits(codes.astype(np.int32), names, units, tuple(origins), origin, contradicted)


def _differs(codes: Int32, spellings: Mapping[str, int], unit: str, dimension: str) -> Bool:
    declared = parse_unit(unit, dimension)
    other = np.array([*(parse_unit(text, dimension) != declared for text in spellings), False], np.bool_)
    found: Bool = other[codes]
    return found


class UnitFaults:
    """Rows whose unit cell is empty or not known, gathered by the column that should hold it."""

    def __init__(self, table: str) -> None:
        self.table = table
        self.rows: dict[str, list[Int64]] = {}
        self.details: dict[str, list[Texts]] = {}

    def add(self, units: RowUnits, rows: Int64, dimension: str) -> None:
        """Note `rows` of a column, whose unit cells are at fault."""
        if not len(rows):
            return
        offer: Texts = np.empty(len(units.spellings) + 1, dtype=object)
        few = sum(unit is None for unit in units.units) <= UNIT_OFFERS_AT_MOST
        for at, text in enumerate(units.spellings):
            near = nearest_units(text, dimension) if units.units[at] is None and few else []
            offer[at] = f"{' or '.join(near)}?" if near else ""
        offer[-1] = ""
        for at, column in enumerate(units.from_column):
            here = rows[units.origin[rows] == at]
            if len(here):
                self.rows.setdefault(column, []).append(here)
                self.details.setdefault(column, []).append(offer[units.codes[here]])

    def tell(self, notes: Notes) -> None:
        """Hand the faults to `notes`, one a row and unit column."""
        for column, pieces in self.rows.items():
            rows, first = np.unique(np.concatenate(pieces), return_index=True)
            notes.reading("known-unit", self.table, column, rows, np.concatenate(self.details[column])[first])

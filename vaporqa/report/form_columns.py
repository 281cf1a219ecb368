"""Blank field forms as values: a form a field table, with the columns that the rules in force judge by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from vaporqa.criteria import Rule, Rulebook
from vaporqa.examples.running import judge_by_check, try_case
from vaporqa.report.book import columns_judged_by
from vaporqa.report.digest import SAFETY
from vaporqa.report.plan_parts import CLEARANCE, ON_THE_DAY, WARNINGS
from vaporqa.tables.dictionary import POINTERS, TABLES, ColumnSpec, TableSpec
from vaporqa.tables.project import Project
from vaporqa.tables.values import Tables

FORM_TABLES = (
    "locations", "probes", "equipment_log", "shut_in_tests", "tracer_tests", "purges", "samples", "custody", "weather",
    "instrument_checks", "field_readings",
)  # fmt: skip
#: On every form of its table, whether or not a rule in force judges by it.
_SAFETY = {"probes": ("services_cleared_at",)}
#: Units in which a reading is written where project.yaml declares none; they stand in the heading, where a crew whose
#: instrument shows another changes them.
_UNITS = {
    "length": "m", "volume": "mL", "flow": "mL/min", "pressure": "kPa", "duration": "min", "temperature": "degC",
}  # fmt: skip
_UNITS_OF = {"rain": "mm", "rain_period": "h", "container_volume": "L", "shroud_low": "%v", "shroud_high": "%v"}
_ENDINGS = {"_diameter": "mm"}
_AMOUNT = "ppmv"


@dataclass(frozen=True, slots=True)
class FormColumn:
    """A column of a form: its meaning, its unit ("" where it has none) and the ids that are known for it."""

    spec: ColumnSpec
    unit: str
    supplier: str
    known: tuple[str, ...] = ()

    @property
    def heading(self) -> str:
        """The heading as the tables of a folder have it, ``depth_top [m]``."""
        return f"{self.spec.name} [{self.unit}]" if self.unit else self.spec.name


@dataclass(frozen=True, slots=True)
class Form:
    """A form: its table, its columns, and the cells of each row that is filled in already, by column."""

    table: TableSpec
    columns: tuple[FormColumn, ...]
    rows: tuple[Mapping[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Forms:
    """Every form, and what they were made for."""

    project: str
    folder: Path | None
    profiles: tuple[str, ...]
    safety: tuple[str, ...]
    forms: tuple[Form, ...]


def forms_of(project: Project, tables: Tables, rulebook: Rulebook) -> Forms:
    """Lay out the forms of a folder by the rules in force; ids of its locations and probes stand on them."""
    needed: dict[str, set[str]] = {name: set() for name in FORM_TABLES}
    for rule in rulebook.rules:
        if not rule.off:
            for table, columns in needed_columns(rule, rulebook).items():
                if table in needed:
                    needed[table] |= columns
    ids = {name: _ids(tables, name) for name in ("locations", "probes")}
    made = tuple(_form(TABLES[name], needed[name], project, tables, ids) for name in FORM_TABLES)
    return Forms(project.name, project.folder, rulebook.profiles, _safety(rulebook), made)


def _safety(rulebook: Rulebook) -> tuple[str, ...]:
    """Return what stands on every form; the readings at which work stops are the limits in force."""
    told = [
        f"{rule.title}: {', '.join(limit.written for limit in rule.limits)}"
        for rule in rulebook.rules if rule.id in WARNINGS and not rule.off
    ]  # fmt: skip
    _, traffic, lifting, codes = ON_THE_DAY
    gas = "Read methane and oxygen at each hole before work and while it is open, and write the readings down"
    gas += f"; stop where one is outside its limit ({'; '.join(told)})." if told else "."
    # No reading makes a place safe: the sentence of every report.
    gas = f"{gas} {SAFETY[1]}"
    cleared = "Write down when buried services were located and cleared (services_cleared_at) before the first hole."
    return (codes, f"{cleared} {CLEARANCE}", gas, traffic, lifting)


def needed_columns(rule: Rule, rulebook: Rulebook) -> dict[str, set[str]]:
    """Return the columns that a rule judges by, by table.

    Its conditions and worked cases name them; so does what those of its cases lack that are unproven (the place to ask
    for first). A rule on the reading of cells needs no column of its own: it looks at whichever are there.
    """
    if rule.check == "reading":
        return {}
    found = {table: set(columns) for table, columns in columns_judged_by(rule).items()}
    for table, column in _lacked(rule, rulebook):
        if table in TABLES and TABLES[table].column(column) is not None:  # not where the whole table is lacking
            found.setdefault(table, set()).add(column)
    return found


def _lacked(rule: Rule, rulebook: Rulebook) -> Iterable[tuple[str, str]]:
    for example in rule.examples:
        if not any(outcome == "unproven" for outcome, _ in example.expect.values()):
            continue
        case = try_case(rule, example, rulebook)
        if case is None:
            continue
        for said in judge_by_check(rule, case.tables, case.evidence):
            for number in {int(one) for one in said.want if one >= 0}:
                yield from said.wants[number].places[:1]


def _form(
    spec: TableSpec, needed: set[str], project: Project, tables: Tables, ids: Mapping[str, tuple[str, ...]]
) -> Form:
    asked = {one.unit_column for one in spec.columns if one.name in needed or one.required} - {""}
    # A test or a reading belongs to a probe; without the pointer it would belong to nothing.
    pointers = {name for name, of in POINTERS.get(spec.name, {}).items() if of in ("probes", "samples")} & needed
    wanted = needed | asked | pointers | set(_SAFETY.get(spec.name, ()))
    columns = []
    for one in spec.columns:
        if one.key or one.required or one.name in wanted:
            target = spec.name if one.key else POINTERS.get(spec.name, {}).get(one.name, "")
            known = () if one.key else ids.get(target, ())
            unit = _unit(spec.name, one, project)
            columns.append(FormColumn(one, unit, one.supplier or spec.supplier, known))
    return Form(spec, tuple(columns), _rows(spec.name, tables, ids))


def _rows(name: str, tables: Tables, ids: Mapping[str, tuple[str, ...]]) -> tuple[Mapping[str, str], ...]:
    if name == "locations":
        return tuple({"location_id": one} for one in ids["locations"])
    if name != "probes" or not ids["probes"]:
        return ()
    where = dict(zip(_texts(tables, name, "probe_id"), _texts(tables, name, "location_id"), strict=True))
    return tuple({"probe_id": one, "location_id": where[one]} for one in ids["probes"])


def _texts(tables: Tables, table: str, column: str) -> list[str]:
    found = tables.get(table)
    cells = found.text(column) if found is not None else None
    return [] if found is None or cells is None else [cells.at(row) for row in range(found.rows)]


def _ids(tables: Tables, name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one for one in _texts(tables, name, TABLES[name].keys[0]) if one))


def _unit(table: str, column: ColumnSpec, project: Project) -> str:
    if column.kind not in ("quantity", "amount", "coordinate") or column.unit_column:
        return ""
    declared = project.units.get(f"{table}.{column.name}")
    if declared:
        return declared
    if column.kind == "coordinate":
        return ""  # in the unit of the reference system, which stands beside it
    if column.name in _UNITS_OF:
        return _UNITS_OF[column.name]
    ending = next((unit for end, unit in _ENDINGS.items() if column.name.endswith(end)), "")
    return ending or _UNITS.get(column.dimension, _AMOUNT)

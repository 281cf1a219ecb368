"""Which files of a project folder feed which table, and how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from vaporqa.errors import Problem, did_you_mean, nearest
from vaporqa.intake.mapping import FileMapping, Layout
from vaporqa.intake.mapping_nodes import read_mappings
from vaporqa.intake.notes import Notes
from vaporqa.intake.workbooks import sheet_names
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.project import Project

TEXT_ENDINGS = (".csv", ".tsv")
ENDINGS = (*TEXT_ENDINGS, ".xlsx", ".parquet")
#: A workbook with a sheet for each table.
ALL_TABLES = "tables.xlsx"
_MACROS = (".xlsm", ".xlsb", ".xltm", ".xlam")


@dataclass(frozen=True, slots=True)
class Source:
    """One file that feeds a table: its name, how it is read, and the table that it feeds of itself (`home`)."""

    name: str
    mapping: FileMapping
    home: str

    @property
    def layout(self) -> Layout:
        """Where in the file the table stands."""
        return self.mapping.layout


@dataclass(slots=True)
class _Planner:
    folder: Path
    project: Project
    notes: Notes
    files: dict[str, list[Source]] = field(default_factory=dict)
    derived: dict[str, list[FileMapping]] = field(default_factory=dict)
    done: dict[str, list[Source]] = field(default_factory=dict)
    #: Tables with an entry that was not understood: what is derived from them would miss files that are named well.
    incomplete: set[str] = field(default_factory=set)

    def wrong(self, mapping: FileMapping, key: str, message: str, mend: str = "") -> None:
        if self.project.document is not None:
            self.notes.problem(self.project.document.problem(mapping.place(key), message, mend))


def plan_folder(folder: Path, project: Project, notes: Notes) -> dict[str, list[Source]]:
    """Return, for each table, the files that feed it and how; what cannot be is a problem."""
    planner = _Planner(folder, project, notes)
    mapped: set[str] = set()
    if project.tables is not None and project.document is not None:
        for table, node in project.tables.values.items():
            if table not in TABLES:
                continue
            mapped.add(table)
            before = len(notes.problems)
            for mapping in read_mappings(node, TABLES[table], project.document, notes):
                if mapping.source:
                    planner.derived.setdefault(table, []).append(mapping)
                else:
                    _add_files(planner, table, mapping)
            if len(notes.problems) > before:
                planner.incomplete.add(table)
    _add_own_files(planner, mapped)
    for table in [*planner.files, *planner.derived]:
        _resolve(planner, table, ())
    return {table: planner.done[table] for table in TABLES if planner.done.get(table)}


def _add_files(planner: _Planner, table: str, mapping: FileMapping) -> None:
    for name in _matches(planner, mapping):
        there = planner.files.setdefault(table, [])
        if any(name == other.name and mapping.layout.sheet == other.layout.sheet for other in there):
            planner.wrong(mapping, "file", f"'{name}' feeds {table} twice", "name each file once")
            continue
        if mapping.layout.sheet and not name.lower().endswith(".xlsx"):
            message = f"'{name}' is no workbook and has no sheet '{mapping.layout.sheet}'"
            planner.wrong(mapping, "sheet", message, "leave `sheet` out")
        there.append(Source(name, mapping, table))


def _add_own_files(planner: _Planner, mapped: set[str]) -> None:
    """Add the files that are called after their table, for tables that no mapping names."""
    folder, notes = planner.folder, planner.notes
    in_one: list[str] = []
    if (folder / ALL_TABLES).exists() and may_be_read(folder, ALL_TABLES, notes):
        used = {source.name for sources in planner.files.values() for source in sources}
        in_one = sheet_names(folder / ALL_TABLES, ALL_TABLES, notes)
        for sheet in in_one:
            if sheet not in TABLES and ALL_TABLES not in used:
                near = did_you_mean(sheet.strip().casefold().replace(" ", "_"), list(TABLES))
                notes.remark(ALL_TABLES, f"the sheet '{sheet}' feeds no table" + (f"; {near}" if near else ""))
    for table in TABLES:
        if table in mapped:
            continue
        names = [table + ending for ending in ENDINGS]
        there = [name for name in names if (folder / name).exists() or (folder / name).is_symlink()]
        if table in in_one:
            there.append(ALL_TABLES)
        if len(there) > 1:
            message = f"the table {table} stands in {len(there)} files: {', '.join(there)}"
            notes.problem(Problem(there[0], 0, 0, message, "keep one, or name both under `tables:` in project.yaml"))
        for name in there[:1]:
            sheet = table if name == ALL_TABLES else ""
            if name == ALL_TABLES or may_be_read(folder, name, notes):
                planner.files[table] = [Source(name, FileMapping(table, layout=Layout(sheet)), table)]


def _resolve(planner: _Planner, table: str, path: tuple[str, ...]) -> list[Source]:
    """Return the sources of a table, those of the tables that it is derived from included."""
    if table in planner.done:
        return planner.done[table]
    found = list(planner.files.get(table, []))
    for mapping in planner.derived.get(table, []):
        if mapping.source in (*path, table):
            round_trip = " from ".join([*path[path.index(mapping.source) if mapping.source in path else 0 :], table])
            planner.wrong(
                mapping, "from", f"the table {mapping.source} is derived from itself (by {round_trip})",
                "name a table that has a file of its own",
            )  # fmt: skip
            continue
        of = _resolve(planner, mapping.source, (*path, table))
        if mapping.source in planner.incomplete:
            planner.incomplete.add(table)
            planner.done[table] = []
            return []
        if not of and not planner.notes.problems:
            known = [name for name in planner.files if name != table]
            mend = did_you_mean(mapping.source, known) or "map a file to it, or add one"
            planner.wrong(
                mapping, "from", f"no file feeds the table {mapping.source}, from which {table} is derived", mend
            )
        for source in of:
            found.append(Source(source.name, _derived(mapping, source.mapping), source.home))
    planner.done[table] = found
    return found


def _derived(mapping: FileMapping, source: FileMapping) -> FileMapping:
    """Return the mapping of a derived table for one file of its source: how the file is read is the source's."""
    return replace(
        mapping,
        layout=source.layout,
        missing=source.missing,
        rerun_suffixes=source.rerun_suffixes,
        decimal=mapping.decimal if "decimal" in mapping.nodes else source.decimal,
    )


def _matches(planner: _Planner, mapping: FileMapping) -> list[str]:
    """Return the files that a mapping names, sorted."""
    folder = planner.folder
    if Path(mapping.file).is_absolute() or ".." in Path(mapping.file).parts:
        planner.wrong(mapping, "file", f"'{mapping.file}' leaves the project folder", "copy the file into the folder")
        return []
    if (folder / mapping.file).exists():
        found = [mapping.file]
    else:
        try:
            paths = [path for path in folder.glob(mapping.file) if not path.is_dir()]
        except (ValueError, NotImplementedError):
            paths = []
        found = sorted(path.relative_to(folder).as_posix() for path in paths if not path.name.startswith("~$"))
    if not found:
        names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
        message = f"no file '{mapping.file}' in the project folder, which feeds {mapping.table}"
        planner.wrong(mapping, "file", message, did_you_mean(mapping.file, names))
    return [name for name in found if may_be_read(folder, name, planner.notes)]


def may_be_read(folder: Path, name: str, notes: Notes) -> bool:
    """Whether a file is regular, inside the folder, and of a format that is read; what it is not is a problem."""
    path = folder / name
    ending = path.suffix.lower()
    if path.is_symlink() and not path.exists():
        notes.problem(Problem(name, 0, 0, "the link leads nowhere", "copy the file into the folder"))
    elif not path.resolve().is_relative_to(folder.resolve()):
        notes.problem(Problem(name, 0, 0, "the link leaves the project folder", "copy the file into the folder"))
    elif not path.is_file():
        notes.problem(Problem(name, 0, 0, "this is not a regular file", "put the table itself there"))
    elif ending in _MACROS:
        message = f"a workbook that may hold macros ('{ending}') is not opened"
        notes.problem(Problem(name, 0, 0, message, "save it as .xlsx, or its sheets as CSV in UTF-8"))
    elif ending not in ENDINGS:
        message = f"a table cannot be read from a file that ends in '{ending}'"
        notes.problem(Problem(name, 0, 0, message, "save it as .csv, .tsv, .xlsx or .parquet"))
    else:
        return True
    return False


def near_miss(path: Path, tables: Mapping[str, object]) -> str:
    """Return the file name that was probably meant, as a question; empty where none is near."""
    near = nearest(path.stem.replace(" ", "_").replace("-", "_"), [table for table in TABLES if table not in tables])
    if not near:
        return ""
    ending = path.suffix.lower() if path.suffix.lower() in ENDINGS else ".csv"
    return f"; did you mean '{near[0]}{ending}'?"

"""A project folder: its files read, its tables built, and the files that feed none."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

from vaporqa.errors import FolderError, Problem
from vaporqa.intake.assembly import build_table, gather, tell_no_header
from vaporqa.intake.derived import build_derived
from vaporqa.intake.files import read_text_file
from vaporqa.intake.grids import TextFile
from vaporqa.intake.mapping import FileMapping, Layout
from vaporqa.intake.notes import Notes
from vaporqa.intake.plan import ENDINGS, TEXT_ENDINGS, Source, near_miss, plan_folder
from vaporqa.intake.project import PROJECT_FILE
from vaporqa.intake.unpivoting import unpivoted
from vaporqa.intake.workbooks import read_workbook
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.project import Project
from vaporqa.tables.values import InputFile, Table, Tables, Text

#: Files of the folder that are no tables and have a reader of their own.
OWN_FILES = (PROJECT_FILE, "judgements.yaml")
#: An earlier run's folder is known by this file.
RUN_FILE = "review.json"
_TABLE_ENDINGS = (*ENDINGS, ".xls", ".xlsm", ".txt", ".ods")

#: A file as it is read: its name, and where in it the table stands.
_Read = dict[tuple[str, Layout], TextFile | None]


def read_folder(folder: Path, project: Project) -> Tables:
    """Return the typed tables of a project folder, and what reading them found.

    Parameters
    ----------
    folder : Path
    project : Project
        As `load_project` returns it.

    Raises
    ------
    FolderError
        A table cannot be read as what it says it is; every problem of every file is named.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise FolderError(Problem(str(folder), 0, 0, "there is no such folder", "name a project folder"))
    notes = Notes()
    for note in project.notes:
        notes.remark(PROJECT_FILE, note)
    plan = plan_folder(folder, project, notes)
    _tell_the_rest(folder, project, plan, notes)
    if not plan and not notes.problems:
        near = [f"{remark.file} {remark.text}" for remark in notes.remarks if remark.urgent]
        mend = near[0] if near else "add at least one, such as results.csv or samples.csv"
        notes.problem(Problem(str(folder), 0, 0, "the folder holds no table", mend))
    read: _Read = {}
    # What is wrong with a file is said where the file is named, and not where a table is derived from it.
    every = [source for sources in plan.values() for source in sources]
    for source in sorted(every, key=lambda source: bool(source.mapping.source)):
        key = (source.name, _layout(source))
        if key not in read:
            before = (folder / source.name).stat()
            read[key] = _read_file(folder, source, project, notes)
            _tell_changed(folder / source.name, before, read[key], notes)
    tables = _build(plan, read, project, notes)
    notes.stop()
    feeds: dict[str, list[str]] = {}
    for table, sources in plan.items():
        for source in sources:
            if table not in feeds.setdefault(source.name, []):
                feeds[source.name].append(table)
    files = [InputFile(PROJECT_FILE, project.sha256, _size(folder / PROJECT_FILE), ())] if project.sha256 else []
    by_name = {name: file for (name, _), file in read.items() if file is not None}
    for name, file in sorted(by_name.items()):
        files.append(InputFile(name, file.sha256, file.size, tuple(feeds[name])))
    return Tables(tables, tuple(notes.readings), tuple(notes.remarks), tuple(files))


def _tell_changed(path: Path, before: os.stat_result, file: TextFile | None, notes: Notes) -> None:
    """Refuse what was read while somebody else wrote it: the beginning of one file and the end of another."""
    try:
        after = path.stat()
        same = (after.st_size, after.st_mtime_ns, after.st_ino) == (before.st_size, before.st_mtime_ns, before.st_ino)
        if file is None or same or hashlib.sha256(path.read_bytes()).hexdigest() == file.sha256:
            return
    except OSError:
        if file is None:
            return
    message = "the file changed while it was read"
    notes.problem(Problem(file.name, 0, 0, message, "run again when nobody writes it"))


def _size(path: Path) -> int:
    return path.stat().st_size if path.is_file() else 0


def _layout(source: Source) -> Layout:
    """Return where the table stands; without a sheet that is decided by the table whose file it is."""
    layout = source.layout
    if source.name.lower().endswith(".xlsx") and not layout.sheet:
        return Layout(f"\0{source.home}", layout.header_row, layout.skip_rows)
    return layout


def _read_file(folder: Path, source: Source, project: Project, notes: Notes) -> TextFile | None:
    path = folder / source.name
    document, mapping = project.document, source.mapping

    def declared(key: str, message: str, mend: str) -> None:
        """Say what is wrong with a part of the mapping, where it stands."""
        if document is not None:
            notes.problem(document.problem(mapping.place(key), message, mend))

    ending = path.suffix.lower()
    if ending in TEXT_ENDINGS:
        return read_text_file(path, source.name, notes, source.layout, declared)
    if ending == ".xlsx":
        return read_workbook(path, source.name, notes, source.layout, source.home, declared)
    # Start-up time: a folder of text files never needs it.
    from vaporqa.intake.parquet_files import read_parquet

    return read_parquet(path, source.name, notes, source.layout)


def _build(plan: Mapping[str, list[Source]], read: _Read, project: Project, notes: Notes) -> dict[str, Table]:
    tables: dict[str, Table] = {}
    names: dict[str, str] = {}
    # A table that is derived needs its sources first, and every table the project's own spellings.
    order = sorted(
        plan,
        key=lambda table: (
            table != "analyte_names",
            any(source.mapping.source for source in plan[table]),
            list(TABLES).index(table),
        ),
    )
    for table in order:
        spec = TABLES[table]
        files = [
            (source, file, source.mapping)
            for source in plan[table]
            if (file := read[source.name, _layout(source)]) is not None
        ]
        if len(files) < len(plan[table]):
            continue
        if any(mapping.source for _, _, mapping in files):
            if not all(mapping.source for _, _, mapping in files):
                _tell_mixed(table, [mapping for _, _, mapping in files], project, notes)
                continue
            built = build_derived(
                spec, [(source.home, file, mapping) for source, file, mapping in files], project, names, tables, notes
            )
        else:
            wide = [(_unpivot(spec.name, file, mapping, project, notes), mapping) for _, file, mapping in files]
            whole = [(file, mapping) for file, mapping in wide if file is not None]
            if len(whole) < len(wide):
                continue
            cells = gather(spec, whole, project, notes)
            built = build_table(spec, cells, [mapping for _, mapping in whole], project, names, notes)
        if built is not None:
            tables[table] = built
            if table == "analyte_names":
                names = project_names(built)
    return {table: tables[table] for table in TABLES if table in tables}


def _unpivot(table: str, file: TextFile, mapping: FileMapping, project: Project, notes: Notes) -> TextFile | None:
    found, absent = unpivoted(file, mapping, project.missing, notes)
    for text in absent:
        value = mapping.wide.value if mapping.wide else ""
        tell_no_header(text, f"{table}.{value}", "wide.from", file, mapping, project, notes)
    return None if absent else found


def _tell_mixed(table: str, mappings: list[FileMapping], project: Project, notes: Notes) -> None:
    mapping = next(mapping for mapping in mappings if mapping.source)
    if project.document is not None:
        message = f"the table {table} has a file of its own and is derived from {mapping.source} too"
        notes.problem(project.document.problem(mapping.place("from"), message, "keep one of the two"))


def project_names(table: Table) -> dict[str, str]:
    """Return the project's own spellings of analytes: name to CAS number."""
    name, cas = table.columns.get("name"), table.columns.get("cas")
    if not isinstance(name, Text) or not isinstance(cas, Text):
        return {}
    return {name.at(row): cas.at(row) for row in range(table.rows) if name.codes[row] >= 0 and cas.codes[row] >= 0}


def _tell_the_rest(folder: Path, project: Project, plan: Mapping[str, list[Source]], notes: Notes) -> None:
    """Remark on the files that feed no table; a near miss is named."""
    used = {source.name for sources in plan.values() for source in sources} | {
        problem.file for problem in notes.problems
    }
    rules = {rule.rstrip("/") for rule in project.rules}
    for path in sorted(folder.iterdir()):
        name = path.name
        if name.startswith((".", "~")) or name in used or name in OWN_FILES or name in rules:
            continue
        if path.is_dir():
            _tell_folder(path, folder, used, notes)
            continue
        near = near_miss(path, plan) if path.suffix.lower() in _TABLE_ENDINGS else ""
        notes.remark(name, f"feeds no table{near}", urgent=bool(near))


def _tell_folder(path: Path, folder: Path, used: set[str], notes: Notes) -> None:
    if (path / RUN_FILE).exists() or path.is_symlink():
        return
    inside = [
        item.relative_to(folder).as_posix() for item in sorted(path.rglob("*")) if item.suffix.lower() in _TABLE_ENDINGS
    ]
    loose = [name for name in inside if name not in used]
    if loose:
        shown = ", ".join(loose[:5]) + (f" and {len(loose) - 5:,} more" if len(loose) > 5 else "")
        notes.remark(
            f"{path.name}/", f"{len(loose):,} file{'s feed' if len(loose) > 1 else ' feeds'} no table: {shown}"
        )

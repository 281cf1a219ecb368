"""A project folder: which of its files feed which table, and which feed none."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from vaporqa.errors import FolderError, Problem, did_you_mean, nearest
from vaporqa.intake.assembly import build_table, gather
from vaporqa.intake.files import TextFile, read_text_file
from vaporqa.intake.mapping import FileMapping, read_mappings
from vaporqa.intake.notes import Notes
from vaporqa.intake.project import PROJECT_FILE
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.project import Project
from vaporqa.tables.values import InputFile, Table, Tables, Text

TEXT_ENDINGS = (".csv", ".tsv")
#: Formats of the contract whose reading is not built yet: never passed over in silence.
OTHER_ENDINGS = (".xlsx", ".parquet")
#: Files of the folder that are no tables and have a reader of their own.
OWN_FILES = (PROJECT_FILE, "judgements.yaml")
#: An earlier run's folder is known by this file.
RUN_FILE = "review.json"
_TABLE_ENDINGS = (*TEXT_ENDINGS, *OTHER_ENDINGS, ".xls", ".txt", ".ods")


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
    plan = _plan(folder, project, notes)
    _tell_the_rest(folder, project, plan, notes)
    if not plan and not notes.problems:
        near = [f"{remark.file} {remark.text}" for remark in notes.remarks if "did you mean" in remark.text]
        mend = near[0] if near else "add at least one, such as results.csv or samples.csv"
        notes.problem(Problem(str(folder), 0, 0, "the folder holds no table", mend))
    read: dict[str, TextFile | None] = {}
    for sources in plan.values():
        for name, _ in sources:
            if name not in read:
                read[name] = read_text_file(folder / name, name, notes)
    tables = _build(plan, read, project, notes)
    notes.stop()
    feeds: dict[str, list[str]] = {}
    for table, sources in plan.items():
        for name, _ in sources:
            feeds.setdefault(name, []).append(table)
    files = [InputFile(PROJECT_FILE, project.sha256, _size(folder / PROJECT_FILE), ())] if project.sha256 else []
    for name, file in sorted(read.items()):
        if file is not None:
            files.append(InputFile(name, file.sha256, file.size, tuple(feeds[name])))
    return Tables(tables, tuple(notes.readings), tuple(notes.remarks), tuple(files))


def _size(path: Path) -> int:
    return path.stat().st_size if path.is_file() else 0


def _build(
    plan: Mapping[str, list[tuple[str, FileMapping]]],
    read: Mapping[str, TextFile | None],
    project: Project,
    notes: Notes,
) -> dict[str, Table]:
    tables: dict[str, Table] = {}
    names: dict[str, str] = {}
    order = sorted(plan, key=lambda table: (table != "analyte_names", list(TABLES).index(table)))
    for table in order:
        spec = TABLES[table]
        files = [(file, mapping) for name, mapping in plan[table] if (file := read[name]) is not None]
        if len(files) < len(plan[table]):
            continue
        cells = gather(spec, files, notes)
        built = build_table(spec, cells, [mapping for _, mapping in files], project, names, notes)
        if built is not None:
            tables[table] = built
            if table == "analyte_names":
                names = project_names(built)
    return {table: tables[table] for table in TABLES if table in tables}


def project_names(table: Table) -> dict[str, str]:
    """Return the project's own spellings of analytes: name to CAS number."""
    name, cas = table.columns.get("name"), table.columns.get("cas")
    if not isinstance(name, Text) or not isinstance(cas, Text):
        return {}
    return {name.at(row): cas.at(row) for row in range(table.rows) if name.codes[row] >= 0 and cas.codes[row] >= 0}


def _plan(folder: Path, project: Project, notes: Notes) -> dict[str, list[tuple[str, FileMapping]]]:
    """Return, for each table, the files that feed it and how."""
    plan: dict[str, list[tuple[str, FileMapping]]] = {}
    mapped: set[str] = set()
    if project.tables is not None and project.document is not None:
        for table, node in project.tables.values.items():
            if table not in TABLES:
                continue
            mapped.add(table)
            for mapping in read_mappings(node, TABLES[table], project.document, notes):
                for name in _matches(folder, mapping, project, notes):
                    if any(name == other for other, _ in plan.get(table, [])):
                        notes.problem(
                            project.document.problem(
                                mapping.node, f"'{name}' feeds {table} twice", "name each file once"
                            )
                        )
                        continue
                    plan.setdefault(table, []).append((name, mapping))
    for table in TABLES:
        if table in mapped:
            continue
        names = [table + ending for ending in (*TEXT_ENDINGS, *OTHER_ENDINGS)]
        there = [name for name in names if (folder / name).exists() or (folder / name).is_symlink()]
        if len(there) > 1:
            message = f"the table {table} stands in {len(there)} files: {', '.join(there)}"
            notes.problem(Problem(there[0], 0, 0, message, "keep one, or name both under `tables:` in project.yaml"))
        for name in there[:1]:
            if _may_be_read(folder, name, notes):
                plan[table] = [(name, FileMapping(table))]
    if (folder / "tables.xlsx").exists() and not project.tables:
        _may_be_read(folder, "tables.xlsx", notes)
    return plan


def _matches(folder: Path, mapping: FileMapping, project: Project, notes: Notes) -> list[str]:
    """Return the files that a mapping names, sorted."""
    document = project.document
    if document is None:
        return []
    if Path(mapping.file).is_absolute() or ".." in Path(mapping.file).parts:
        message = f"'{mapping.file}' leaves the project folder"
        notes.problem(document.problem(mapping.node, message, "copy the file into the folder"))
        return []
    exact = folder / mapping.file
    if exact.exists():
        found = [mapping.file]
    else:
        found = sorted(path.relative_to(folder).as_posix() for path in folder.glob(mapping.file) if not path.is_dir())
    if not found:
        names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
        message = f"no file '{mapping.file}' in the project folder, which feeds {mapping.table}"
        notes.problem(document.problem(mapping.node, message, did_you_mean(mapping.file, names)))
    return [name for name in found if _may_be_read(folder, name, notes)]


def _may_be_read(folder: Path, name: str, notes: Notes) -> bool:
    """Whether a file is regular, inside the folder, and of a format that is read; what it is not is a problem."""
    path = folder / name
    ending = path.suffix.lower()
    if path.is_symlink() and not path.exists():
        notes.problem(Problem(name, 0, 0, "the link leads nowhere", "copy the file into the folder"))
    elif not path.resolve().is_relative_to(folder.resolve()):
        notes.problem(Problem(name, 0, 0, "the link leaves the project folder", "copy the file into the folder"))
    elif not path.is_file():
        notes.problem(Problem(name, 0, 0, "this is not a regular file", "put the table itself there"))
    elif ending in OTHER_ENDINGS:
        notes.problem(
            Problem(
                name, 0, 0, f"tables of the format {ending} are not read by this version", "save it as CSV in UTF-8"
            )
        )
    elif ending not in TEXT_ENDINGS:
        notes.problem(
            Problem(
                name, 0, 0, f"a table cannot be read from a file that ends in '{ending}'", "save it as .csv or .tsv"
            )
        )
    else:
        return True
    return False


def _tell_the_rest(
    folder: Path, project: Project, plan: Mapping[str, list[tuple[str, FileMapping]]], notes: Notes
) -> None:
    """Remark on the files that feed no table; a near miss is named."""
    used = {name for sources in plan.values() for name, _ in sources} | {problem.file for problem in notes.problems}
    rules = {rule.rstrip("/") for rule in project.rules}
    for path in sorted(folder.iterdir()):
        name = path.name
        if name.startswith((".", "~")) or name in used or name in OWN_FILES or name in rules:
            continue
        if path.is_dir():
            _tell_folder(path, folder, used, notes)
            continue
        text = "feeds no table"
        if path.suffix.lower() in _TABLE_ENDINGS:
            text += _near_miss(path, plan)
        notes.remark(name, text)


def _near_miss(path: Path, plan: Mapping[str, list[tuple[str, FileMapping]]]) -> str:
    near = nearest(path.stem.replace(" ", "_").replace("-", "_"), [table for table in TABLES if table not in plan])
    if not near:
        return ""
    ending = path.suffix.lower() if path.suffix.lower() in TEXT_ENDINGS else ".csv"
    return f"; did you mean '{near[0]}{ending}'?"


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

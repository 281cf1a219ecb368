"""One table out of the files that feed it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import Problem, nearest
from vaporqa.intake.cells import Cells
from vaporqa.intake.keys import Keys, make_keys
from vaporqa.intake.mapping import FileMapping, has_unit, own_names, sources, unit_column
from vaporqa.intake.raw import RawColumn, RawReader
from vaporqa.intake.row_kinds import with_kinds, with_reruns
from vaporqa.intake.two_forms import paired_forms
from vaporqa.intake.typed import Typing, type_table
from vaporqa.intake.units import declared_units
from vaporqa.tables.dictionary import ColumnSpec, TableSpec
from vaporqa.tables.shapes import check_shape
from vaporqa.tables.values import Amount, Column, Int32, Table

if TYPE_CHECKING:
    from vaporqa.intake.grids import TextFile
    from vaporqa.intake.notes import Notes
    from vaporqa.tables.project import Project


def gather(
    spec: TableSpec,
    files: Sequence[tuple[TextFile, FileMapping]],
    project: Project,
    notes: Notes,
    *,
    in_files: bool = True,
) -> Cells:
    """Return the cells of a table, its columns found; headers that are not there are problems."""
    starts = [0]
    for file, _ in files:
        starts.append(starts[-1] + len(file.lines))
    met = [sources(spec, mapping, file.headers) for file, mapping in files]
    cells = Cells(tuple(file for file, _ in files), tuple(starts), tuple(found for found, _ in met))
    if in_files:
        # What one entry of project.yaml names must be fed by some file of that entry.
        fed: dict[int, set[str]] = {}
        for (_, mapping), (found, _) in zip(files, met, strict=True):
            fed.setdefault(id(mapping.node), set()).update(found)
        speakers = _speakers(files, [absent for _, absent in met])
        for index, ((file, mapping), (found, absent)) in enumerate(zip(files, met, strict=True)):
            elsewhere = fed[id(mapping.node)] if mapping.source else set(found)
            silent = {name for name in absent if speakers.get((id(mapping.node), name), index) != index}
            _tell_absent(spec, file, mapping, found, absent, elsewhere, silent, project, notes)
        for (file, mapping), _ in zip(files, met, strict=True):
            _tell_idle(spec, file, mapping, fed[id(mapping.node)], project, notes)
    return cells


def _speakers(
    files: Sequence[tuple[TextFile, FileMapping]], absent: Sequence[Mapping[str, tuple[str, ...]]]
) -> dict[tuple[int, str], int]:
    """Return, for each entry that derives a table and each of its columns, the file of which an absent header is said.

    Such an entry speaks of all files of its source at once: one misspelt header is one mistake, told where a near
    header stands.
    """
    found: dict[tuple[int, str], int] = {}
    near: set[tuple[int, str]] = set()
    for index, ((file, mapping), columns) in enumerate(zip(files, absent, strict=True)):
        for name, texts in columns.items() if mapping.source else ():
            key = id(mapping.node), name
            close = any(nearest(text, [header.text for header in file.headers]) for text in texts)
            if key not in found or (close and key not in near):
                found[key] = index
            if close:
                near.add(key)
    return found


def _tell_absent(
    spec: TableSpec,
    file: TextFile,
    mapping: FileMapping,
    found: Mapping[str, tuple[int, ...]],
    absent: Mapping[str, tuple[str, ...]],
    elsewhere: set[str],
    silent: set[str],
    project: Project,
    notes: Notes,
) -> None:
    """Name the headers that a mapping wants and a file lacks, and the columns that the table needs."""
    unpivoted = (mapping.wide.to, mapping.wide.value) if mapping.wide else ()
    taken = {place for places in found.values() for place in places}
    if file.unpivoted is not None:
        taken.update(file.unpivoted.places)
    loose = [header for at, header in enumerate(file.headers) if at not in taken]
    for name, texts in absent.items():
        if name in elsewhere:
            shown = " and ".join(f"'{text}'" for text in texts)
            notes.remark(file.place, f"has no {shown}: {spec.name}.{name} is empty for its rows")
            continue
        for text in texts if name not in silent else ():
            tell_no_header(text, f"{spec.name}.{name}", f"columns.{name}", file, mapping, project, notes)
    for column in spec.columns:
        # A unit may be declared instead; an amount without any has a problem of its own.
        if (
            column.kind != "unit"
            and column.required
            and column.name not in (*found, *mapping.fixed, *absent, *elsewhere, *unpivoted)
        ):
            near = nearest(column.name, [header.name for header in loose])
            mend = f"the nearest header is '{near[0]}'" if near else "its headers: " + _shown(file)
            if len(file.headers) == 1 and any(mark in file.headers[0].text for mark in (";", "\t", "|", ",")):
                mend = "the header line seems to use another separator than the file's ending says"
            message = f"the table {spec.name} needs a column '{column.name}'"
            if mapping.source and project.document is not None:
                # The file is right as it is: only the entry that derives a table from it can be mended.
                notes.problem(
                    project.document.problem(mapping.node, message, f"name its header under `columns`; {mend}")
                )
            else:
                notes.problem(Problem(file.name, file.header_line, 0, message, mend))
    if mapping.source:
        return
    for header in loose:
        near = nearest(header.name, [name for name in own_names(spec) if name not in found])
        if near and header.name != near[0] and _close(header.name, near[0]):
            notes.remark(
                file.place, f"column '{header.text}' is passed through and not read; did you mean '{near[0]}'?"
            )


def tell_no_header(
    text: str, feeds: str, key: str, file: TextFile, mapping: FileMapping, project: Project, notes: Notes
) -> None:
    """Say that a file lacks a header that its mapping names."""
    near = nearest(text, [header.text for header in file.headers])
    mend = f"the nearest header is '{near[0]}'" if near else "its headers: " + _shown(file)
    message = f"in {file.place} there is no header '{text}', which feeds {feeds}"
    if project.document is not None:
        notes.problem(project.document.problem(mapping.place(key), message, mend))


def _tell_idle(
    spec: TableSpec, file: TextFile, mapping: FileMapping, fed: set[str], project: Project, notes: Notes
) -> None:
    """Name the parts of a mapping that speak of a column which nothing feeds, and say what the mapping decides."""
    if mapping.node is None or project.document is None:
        return
    unpivoted = (mapping.wide.to, mapping.wide.value) if mapping.wide else ()
    there = {*fed, *mapping.fixed, *mapping.columns, *unpivoted}
    parts = {
        "values": mapping.values,
        "formats": mapping.formats,
        "missing": mapping.column_missing,
        "units": mapping.units,
        "date_only": mapping.date_only,
    }
    for key, names in parts.items():
        for name in names:
            if name not in there:
                message = f"`{key}` speaks of {spec.name}.{name}, which no header of {file.place} feeds"
                node = mapping.place(f"{key}.{name}", key)
                notes.problem(project.document.problem(node, message, f"name its header under `columns.{name}`"))
    by = mapping.flags.by
    if by and by not in there and not any(by in (header.text, header.name) for header in file.headers):
        tell_no_header(by, "lab_flags.by", "lab_flags.by", file, mapping, project, notes)
    told = [f"{name} from '{'/'.join(headers)}'" for name, headers in mapping.columns.items()]
    told += [f"{name} is '{text}' throughout" for name, text in mapping.fixed.items()]
    told += [f"unit of {name}: {unit}" for name, unit in mapping.units.items()]
    if told:
        origin = f"{spec.name}, derived from {mapping.source}" if mapping.source else spec.name
        notes.remark(file.place, f"feeds {origin}: " + ", ".join(told))


def _shown(file: TextFile) -> str:
    texts = [f"'{header.text}'" for header in file.headers[:12]]
    return ", ".join(texts) + (", ..." if len(file.headers) > len(texts) else "")


def _close(header: str, name: str) -> bool:
    """Whether a header is another spelling of a column rather than a column of its own."""
    fold = str.maketrans("", "", " _-.()")
    plain = header.casefold().translate(fold)
    wanted = name.translate(fold)
    with_unit = plain.startswith(wanted) and len(plain) - len(wanted) <= 4
    return with_unit or SequenceMatcher(None, plain, wanted).ratio() >= 0.85


def build_table(
    spec: TableSpec,
    cells: Cells,
    mappings: Sequence[FileMapping],
    project: Project,
    names: Mapping[str, str],
    notes: Notes,
    *,
    in_files: bool = True,
    one_a_key: bool = False,
) -> Table | None:
    """Return a table, typed; None where a problem with its columns stops the run.

    With `one_a_key` rows of one key are about to become one row: they are not compared.
    """
    before = len(notes.problems)
    notes.files_of[spec.name] = ", ".join(dict.fromkeys(file.place for file in cells.files))
    raw: dict[str, RawColumn] = {}
    reader = RawReader(spec, cells, mappings, project, notes)
    for column in (*spec.columns, *_unit_columns(spec)):
        is_unit_column = spec.column(column.name) is None
        units = (
            [""] * len(cells.files) if is_unit_column else declared_units(spec, column, cells, mappings, project, notes)
        )
        found = reader.column(column, units)
        if found is not None:
            raw[column.name] = found
    if len(notes.problems) > before:
        return None
    if spec.name == "results":
        raw = with_kinds(spec, raw, cells, mappings, notes)
    raw = with_reruns(spec, raw, cells, mappings, notes)
    rows = cells.starts[-1]
    given = Typing(spec, raw, rows, cells, mappings, project, names, in_files)
    columns = type_table(given, notes)
    keys = make_keys(spec, raw, cells, rows, compare=not one_a_key)
    form_of = _forms(columns, keys, cells, mappings)
    sizes = np.diff(np.asarray(cells.starts))
    fixed = dict(mappings[0].fixed) if mappings else {}
    table = Table(
        name=spec.name,
        rows=rows,
        columns=columns,
        headers={name: raw[name].header for name in columns if name in raw},
        files=tuple(file.name for file in cells.files),
        file_of=np.repeat(np.arange(len(sizes), dtype=np.int16), sizes),
        line_of=np.concatenate([file.lines for file in cells.files]) if cells.files else np.empty(0, np.int64),
        keys=keys.keys,
        key_stated=keys.stated,
        copy_of=keys.copy_of,
        conflicted=keys.conflicted,
        cells=cells,
        sheets=tuple(file.sheet for file in cells.files),
        fixed={
            name: text for name, text in fixed.items() if all(mapping.fixed.get(name) == text for mapping in mappings)
        },
        form_of=form_of,
    )
    check_shape(table)
    return table


def _forms(columns: Mapping[str, Column], keys: Keys, cells: Cells, mappings: Sequence[FileMapping]) -> Int32 | None:
    """Pair the two forms of results where a mapping declares them; they are no conflict."""
    result = columns.get("result")
    if not isinstance(result, Amount) or not any(mapping.two_forms for mapping in mappings):
        return None
    sizes = np.diff(np.asarray(cells.starts))
    declared = np.repeat(np.array([mapping.two_forms for mapping in mappings], np.bool_), sizes)
    found = paired_forms(keys.groups, keys.copy_of < 0, result, declared)
    paired = np.flatnonzero(found >= 0)
    keys.conflicted[paired] = False
    keys.conflicted[found[paired]] = False
    return found


def _unit_columns(spec: TableSpec) -> list[ColumnSpec]:
    known = {column.name for column in spec.columns}
    return [
        ColumnSpec(unit_column(column), "unit")
        for column in spec.columns
        if has_unit(column) and unit_column(column) not in known
    ]

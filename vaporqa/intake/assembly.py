"""One table out of the files that feed it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import Problem, nearest
from vaporqa.intake.cells import Cells
from vaporqa.intake.keys import make_keys
from vaporqa.intake.mapping import FileMapping, has_unit, own_names, sources, unit_column
from vaporqa.intake.raw import RawColumn, raw_column
from vaporqa.intake.typed import Typing, type_table
from vaporqa.intake.units import declared_units
from vaporqa.tables.dictionary import ColumnSpec, TableSpec
from vaporqa.tables.shapes import check_shape
from vaporqa.tables.values import Table

if TYPE_CHECKING:
    from vaporqa.intake.files import TextFile
    from vaporqa.intake.notes import Notes
    from vaporqa.tables.project import Project


def gather(
    spec: TableSpec, files: Sequence[tuple[TextFile, FileMapping]], notes: Notes, *, in_files: bool = True
) -> Cells:
    """Return the cells of a table, its columns found; headers that are not there are problems."""
    starts = [0]
    fields = []
    for file, mapping in files:
        starts.append(starts[-1] + len(file.lines))
        found, absent = sources(spec, mapping, file.headers)
        fields.append(found)
        if in_files:
            _tell_absent(spec, file, mapping, found, absent, notes)
    return Cells(tuple(file for file, _ in files), tuple(starts), tuple(fields))


def _tell_absent(
    spec: TableSpec,
    file: TextFile,
    mapping: FileMapping,
    found: Mapping[str, tuple[int, ...]],
    absent: Mapping[str, tuple[str, ...]],
    notes: Notes,
) -> None:
    taken = {place for places in found.values() for place in places}
    loose = [header for at, header in enumerate(file.headers) if at not in taken]
    for name, texts in absent.items():
        for text in texts:
            near = nearest(text, [header.text for header in file.headers])
            mend = f"the nearest header is '{near[0]}'" if near else "its headers: " + _shown(file)
            notes.problem(
                Problem(
                    file.name, file.header_line, 0, f"there is no header '{text}', which feeds {spec.name}.{name}", mend
                )
            )
    for column in spec.columns:
        if (
            column.required
            and column.name not in found
            and column.name not in mapping.fixed
            and column.name not in absent
        ):
            near = nearest(column.name, [header.name for header in loose])
            mend = f"the nearest header is '{near[0]}'" if near else "its headers: " + _shown(file)
            if len(file.headers) == 1 and any(mark in file.headers[0].text for mark in (";", "\t", "|", ",")):
                mend = "the header line seems to use another separator than the file's ending says"
            notes.problem(
                Problem(file.name, file.header_line, 0, f"the table {spec.name} needs a column '{column.name}'", mend)
            )
    for header in loose:
        near = nearest(header.name, [name for name in own_names(spec) if name not in found])
        if near and header.name != near[0] and _close(header.name, near[0]):
            notes.remark(file.name, f"column '{header.text}' is passed through and not read; did you mean '{near[0]}'?")


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
) -> Table | None:
    """Return a table, typed; None where a problem with its columns stops the run."""
    before = len(notes.problems)
    notes.files_of[spec.name] = ", ".join(file.name for file in cells.files)
    raw: dict[str, RawColumn] = {}
    for column in (*spec.columns, *_unit_columns(spec)):
        is_unit_column = spec.column(column.name) is None
        units = (
            [""] * len(cells.files) if is_unit_column else declared_units(spec, column, cells, mappings, project, notes)
        )
        found = raw_column(column, cells, mappings, units, project.missing)
        if found is not None:
            raw[column.name] = found
    if len(notes.problems) > before:
        return None
    rows = cells.starts[-1]
    given = Typing(spec, raw, rows, cells, mappings, project, names, in_files)
    columns = type_table(given, notes)
    keys = make_keys(spec, raw, cells, rows)
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
        sheets=("",) * len(cells.files),
        fixed={
            name: text for name, text in fixed.items() if all(mapping.fixed.get(name) == text for mapping in mappings)
        },
    )
    check_shape(table)
    return table


def _unit_columns(spec: TableSpec) -> list[ColumnSpec]:
    known = {column.name for column in spec.columns}
    return [
        ColumnSpec(unit_column(column), "unit")
        for column in spec.columns
        if has_unit(column) and unit_column(column) not in known
    ]

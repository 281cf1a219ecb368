"""Tables derived from the files of another: one row a key, and where its source rows differ the value is ambiguous."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.intake.assembly import build_table, gather
from vaporqa.intake.cells import Cells
from vaporqa.intake.collapsing import Groups, collapsed, equal_cells
from vaporqa.intake.notes import Notes
from vaporqa.intake.raw import pa_texts
from vaporqa.tables.shapes import check_shape
from vaporqa.tables.values import Bool, Column, Int64, Reading, Table, Texts

if TYPE_CHECKING:
    from vaporqa.intake.grids import TextFile
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.tables.dictionary import TableSpec
    from vaporqa.tables.project import Project

#: Values named in one finding.
_SHOWN_AT_MOST = 4


def build_derived(
    spec: TableSpec,
    sources: Sequence[tuple[str, TextFile, FileMapping]],
    project: Project,
    names: Mapping[str, str],
    tables: Mapping[str, Table],
    notes: Notes,
) -> Table | None:
    """Return a table with one row a key, out of the files of other tables.

    Parameters
    ----------
    sources : sequence of (str, TextFile, FileMapping)
        The table that a file feeds, the file as it feeds it, and how this table is made from it.
    tables : mapping
        The tables built so far, the sources among them.
    """
    files = [(file, mapping) for _, file, mapping in sources]
    before = len(notes.problems)
    own = Notes()
    own.problems = notes.problems
    own.files_of = notes.files_of
    cells = gather(spec, files, project, own)
    if len(notes.problems) > before:
        return None
    every = build_table(spec, cells, [mapping for _, mapping in files], project, names, own, one_a_key=True)
    if every is None:
        return None
    for remark in own.remarks:
        notes.remark(remark.file, remark.text)
    groups = Groups.by_key(every, spec)
    columns: dict[str, Column] = {}
    ambiguous: dict[str, Bool] = {}
    for name, column in every.columns.items():
        differ = groups.differ(equal_cells(column, groups.first_of))
        columns[name] = collapsed(column, groups, differ)
        if differ.any() and name not in spec.keys:
            ambiguous[name] = differ
    for reading in own.readings:
        _keep_reading(reading, groups, notes)
    for name, differ in ambiguous.items():
        _tell(name, differ, groups, every, cells, sources, tables, notes)
    joined = {
        place: differ
        for name, differ in ambiguous.items()
        for index in range(len(cells.files))
        for place in [(index, at) for at in cells.fields[index].get(name, ())]
    }
    chosen = _cells_of(cells, groups, joined)
    empty_keys = int((groups.of < 0).sum())
    if empty_keys:
        notes.remark_on_table(spec.name, f"{empty_keys:,} rows without a key make no row of {spec.name}")
    notes.remark_on_table(spec.name, f"{len(groups.first):,} rows of {spec.name} are derived from {every.rows:,} rows")
    kept = [index for index in range(len(cells.files)) if len(chosen[index].lines)]
    starts = np.cumsum([0, *(len(chosen[index].lines) for index in kept)])
    number = {index: at for at, index in enumerate(kept)}
    file_of = np.array([number[int(index)] for index in every.file_of[groups.first]], np.int16)
    table = replace(
        every,
        rows=len(groups.first),
        columns=columns,
        files=tuple(every.files[index] for index in kept),
        file_of=file_of,
        line_of=every.line_of[groups.first],
        keys=every.keys[groups.first],
        copy_of=np.full(len(groups.first), -1, np.int32),
        conflicted=np.zeros(len(groups.first), np.bool_),
        cells=Cells(
            tuple(chosen[index] for index in kept),
            tuple(int(start) for start in starts),
            tuple(_fields(cells, index, chosen[index]) for index in kept),
        ),
        sheets=tuple(every.sheets[index] for index in kept),
        form_of=None,
    )
    check_shape(table)
    return table


def _keep_reading(reading: Reading, groups: Groups, notes: Notes) -> None:
    """Pass on what was found in source rows, once a derived row."""
    rows = groups.of[reading.rows]
    held = np.flatnonzero(rows >= 0)
    unique, first = np.unique(rows[held], return_index=True)
    if not len(unique) and not (reading.whole and not len(reading.rows)):
        return
    detail = reading.detail
    if len(detail) == len(reading.rows) and not reading.whole:
        detail = detail[held][first]
    notes.readings.append(replace(reading, rows=unique.astype(np.int64), detail=detail))


def _tell(
    name: str,
    differ: Bool,
    groups: Groups,
    every: Table,
    cells: Cells,
    sources: Sequence[tuple[str, TextFile, FileMapping]],
    tables: Mapping[str, Table],
    notes: Notes,
) -> None:
    """Note an ambiguous column on the derived rows, and on each row that they were made from."""
    rows = np.flatnonzero(differ)
    texts: Texts = np.full(len(differ), "", dtype=object)
    members = np.flatnonzero((groups.of >= 0) & differ[np.maximum(groups.of, 0)])
    order = members[np.argsort(groups.of[members], kind="stable")]
    codes = _cell_codes(every, cells, name)
    for piece in np.split(order, np.flatnonzero(np.diff(groups.of[order])) + 1):
        seen = [_cell_text(cells, name, int(row)) for row in _different(codes, piece)]
        seen = list(dict.fromkeys(seen))
        more = f" and {len(seen) - _SHOWN_AT_MOST:,} more" if len(seen) > _SHOWN_AT_MOST else ""
        texts[int(groups.of[piece[0]])] = " | ".join(seen[:_SHOWN_AT_MOST]) + more
    notes.reading("one-value-a-key", every.name, name, rows.astype(np.int64), texts[rows])
    found: dict[tuple[str, str], list[tuple[Int64, Texts]]] = {}
    for index, (source, file, _) in enumerate(sources):
        table = tables.get(source)
        if table is None:
            continue
        start, stop = cells.starts[index], cells.starts[index + 1]
        here = members[(members >= start) & (members < stop)]
        places = cells.fields[index].get(name, ())
        at, in_source = _source_rows(table, file, every.line_of[here])
        if len(in_source):
            column = _source_column(table, int(in_source[0]), places) or "/".join(
                file.headers[place].text for place in places
            )
            found.setdefault((source, column), []).append((in_source, texts[groups.of[here[at]]]))
    for (source, column), pieces in found.items():
        numbers = np.concatenate([numbers for numbers, _ in pieces])
        detail = np.concatenate([detail for _, detail in pieces])
        ordered = np.argsort(numbers, kind="stable")
        notes.reading("one-value-a-key", source, column, numbers[ordered].astype(np.int64), detail[ordered])


def _cell_codes(every: Table, cells: Cells, name: str) -> Int64:
    """Return a number for each different cell of a column, (n,), as the files have it."""
    codes = np.zeros(every.rows, np.int64)
    for index, fields in enumerate(cells.fields):
        part = slice(cells.starts[index], cells.starts[index + 1])
        combined = np.zeros(cells.starts[index + 1] - cells.starts[index], np.int64)
        for place in fields.get(name, ()):
            column = cells.files[index].columns[place]
            numbers = combined * (len(column.dictionary) + 1) + np.asarray(column.indices.to_numpy(), np.int64) + 1
            _, combined = np.unique(numbers, return_inverse=True)
        codes[part] = combined * len(cells.fields) + index
    return codes


def _different(codes: Int64, rows: Int64) -> Int64:
    """Return the first of `rows` with each code, in their order."""
    _, first = np.unique(codes[rows], return_index=True)
    return rows[np.sort(first)]


def _cell_text(cells: Cells, name: str, row: int) -> str:
    """Return a cell as a person sees it in the file."""
    text = cells.cell(row, cells.header(row, name)).strip()
    return text if text.strip("/ ") else "(empty)"  # every part of a joined cell is empty


def _source_rows(table: Table, file: TextFile, lines: Int64) -> tuple[Int64, Int64]:
    """Return the rows of `table` that stand at physical `lines` of a file: places in `lines`, and table rows."""
    at: list[Int64] = []
    rows: list[Int64] = []
    for index, other in enumerate(table.cells.files):
        if (other.name, other.sheet) != (file.name, file.sheet):
            continue
        start, stop = table.cells.starts[index], table.cells.starts[index + 1]
        place = np.searchsorted(lines, table.line_of[start:stop])
        place = np.minimum(place, max(len(lines) - 1, 0))
        hit = np.flatnonzero(lines[place] == table.line_of[start:stop]) if len(lines) else np.empty(0, np.int64)
        at.append(place[hit].astype(np.int64))
        rows.append((hit + start).astype(np.int64))
    none = np.empty(0, np.int64)
    return (np.concatenate(at), np.concatenate(rows)) if rows else (none, none)


def _source_column(table: Table, row: int, places: Sequence[int]) -> str:
    """Return the contract column of the source that the same headers feed; empty where there is none."""
    index = table.cells.file_of(row)
    fields: Mapping[str, tuple[int, ...]] = table.cells.fields[index]
    same = [name for name, others in fields.items() if others == tuple(places)]
    part = [name for name, others in fields.items() if set(places) & set(others)]
    return next(iter([*same, *part]), "")


def _cells_of(cells: Cells, groups: Groups, ambiguous: Mapping[tuple[int, int], Bool]) -> list[TextFile]:
    """Return the files with the first row of each key and the columns that feed the table.

    An ambiguous cell shows every text that stands for it.
    """
    import pyarrow as pa

    found = []
    for index, file in enumerate(cells.files):
        start, stop = cells.starts[index], cells.starts[index + 1]
        numbers = np.flatnonzero((groups.first >= start) & (groups.first < stop))
        rows = groups.first[numbers] - start
        used = sorted({place for places in cells.fields[index].values() for place in places})
        columns = []
        for place in used:
            column = file.columns[place].take(pa.array(rows))
            differ = ambiguous.get((index, place))
            if differ is not None and differ[numbers].any():
                texts = column.to_pylist()
                header = file.headers[place].text
                for at in np.flatnonzero(differ[numbers]):
                    members = np.flatnonzero(groups.of == numbers[at])
                    texts[at] = " | ".join(dict.fromkeys(cells.cell(int(row), header) or "(empty)" for row in members))
                column = pa_texts(texts).dictionary_encode()
            columns.append(column)
        found.append(
            replace(
                file,
                headers=tuple(file.headers[place] for place in used),
                columns=tuple(columns),
                lines=file.lines[rows],
                numeric=tuple(file.numeric[place] for place in used) if file.numeric else (),
            )
        )
    return found


def _fields(cells: Cells, index: int, file: TextFile) -> dict[str, tuple[int, ...]]:
    """Return the columns of a derived table's file by their new positions."""
    where = {header.field: at for at, header in enumerate(file.headers)}
    before = cells.files[index].headers
    return {name: tuple(where[before[place].field] for place in places) for name, places in cells.fields[index].items()}

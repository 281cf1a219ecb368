"""The shape of a typed table: one dtype a column, keys unique where they are made.

Bad data never reaches this: a breach means that intake itself is wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.values import Amount, FlagBits, Number, Span, Table, Text, Time, Word, YesNo

#: A column that intake adds: what the laboratory's flags mean, row by row.
FLAG_COLUMN = "flag_meanings"
FLAGGED_TABLES = ("results", "lab_qc")


class ShapeError(AssertionError):
    """A typed table is not what the data dictionary says: an internal fault, never bad data."""


def check_shape(table: Table) -> None:
    """Check that a typed table has the columns, dtypes and lengths of the data dictionary.

    Raises
    ------
    ShapeError
        Naming every column that is wrong.
    """
    spec = TABLES[table.name]
    kinds = {column.name: column.kind for column in spec.columns}
    if table.name in FLAGGED_TABLES:
        kinds[FLAG_COLUMN] = "flags"
    unknown = [name for name in table.columns if name not in kinds]
    wrong = [
        name
        for name, column in table.columns.items()
        if name in kinds and not isinstance(column, _CLASSES[kinds[name]])
    ]
    if unknown or wrong:
        raise ShapeError(f"{table.name}: unknown columns {unknown}, columns of another kind {wrong}")
    found = list(_arrays(table))
    lengths = {name: len(values) for name, values, _ in found if len(values) != table.rows}
    if lengths or len(table.keys) != table.rows:
        raise ShapeError(f"{table.name}: {table.rows} rows, and columns of other lengths: {lengths}")
    other = {name: str(values.dtype) for name, values, dtype in found if values.dtype != dtype}
    if other:
        raise ShapeError(f"{table.name}: columns of another dtype: {other}")
    _check_places(table)


_CLASSES: dict[str, type] = {
    "id": Text, "text": Text, "unit": Text, "word": Word, "yes_no": YesNo, "time": Time, "number": Number,
    "percent": Number, "fraction": Number, "quantity": Number, "coordinate": Number, "amount": Amount, "span": Span,
    "flags": FlagBits,
}  # fmt: skip


def _arrays(table: Table) -> Iterator[tuple[str, Any, str]]:
    """Every array of a table with its name and the dtype that it must have."""
    yield from (("line", table.line_of, "int64"), ("copy_of", table.copy_of, "int32"))
    yield "conflicted", table.conflicted, "bool"
    for name, column in table.columns.items():
        if isinstance(column, Text | Word):
            yield name, column.codes, "int32" if isinstance(column, Text) else "int16"
            if len(column.codes) and not -2 <= int(column.codes.min()) <= int(column.codes.max()) < len(column.words):
                raise ShapeError(f"{table.name}.{name}: a code points outside its words")
        elif isinstance(column, YesNo):
            yield name, column.values, "int8"
        elif isinstance(column, FlagBits):
            yield name, column.values, "int64"
        elif isinstance(column, Time | Span):
            yield name, column.low, "int64" if isinstance(column, Time) else "float64"
        else:
            yield name, column.values, "float64"
        yield f"{name} state", column.state, "uint8"


def _check_places(table: Table) -> None:
    """A row is known by its file and first physical line: no two share them, but for columns that became rows."""
    if getattr(table.cells, "unpivots", False):
        return
    place = (table.file_of.astype(np.int64) << 40) + table.line_of
    if not (np.diff(place) > 0).all() and len(np.unique(place)) != table.rows:
        raise ShapeError(f"{table.name}: two rows stand in one place")

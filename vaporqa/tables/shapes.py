"""The shape of a typed table: one dtype a column, keys unique where they are made.

Bad data never reaches this: a breach means that intake itself is wrong.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from vaporqa.tables.values import Amount, FlagBits, Number, Span, Table, Text, Time, Word, YesNo

if TYPE_CHECKING:
    import pandas as pd


#: A column that intake adds: what the laboratory's flags mean, row by row.
FLAG_COLUMN = "flag_meanings"
FLAGGED_TABLES = ("results", "lab_qc")


class ShapeError(AssertionError):
    """A typed table is not what the data dictionary says: an internal fault, never bad data."""


def check_shape(table: Table) -> None:
    """Check that a typed table has the columns, dtypes and lengths of the data dictionary.

    The frame that is checked holds codes and states rather than decoded texts: the same columns, none of the cost.

    Raises
    ------
    ShapeError
        Naming every column that is wrong.
    """
    import pandera.errors
    import pandera.pandas as pa

    from vaporqa.tables.dictionary import TABLES

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
    frame, columns = _dense(table)
    schema = pa.DataFrameSchema(columns, index=pa.Index("int64", unique=True), strict=True, name=table.name)
    try:
        schema.validate(frame, lazy=True, inplace=True)
    except pandera.errors.SchemaErrors as errors:
        raise ShapeError(f"{table.name}: {errors}") from errors


_CLASSES: dict[str, type] = {
    "id": Text, "text": Text, "unit": Text, "word": Word, "yes_no": YesNo, "time": Time, "number": Number,
    "percent": Number, "fraction": Number, "quantity": Number, "coordinate": Number, "amount": Amount, "span": Span,
    "flags": FlagBits,
}  # fmt: skip


def _dense(table: Table) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Return the arrays of a table as a frame without copying, and the schema of each."""
    import pandas as pd
    import pandera.pandas as pa

    data: dict[str, Any] = {"line": table.line_of, "copy_of": table.copy_of, "conflicted": table.conflicted}
    columns = {"line": pa.Column("int64"), "copy_of": pa.Column("int32"), "conflicted": pa.Column("bool")}
    for name, column in table.columns.items():
        state = column.state
        if isinstance(column, Text | Word):
            data[name], columns[name] = column.codes, pa.Column("int32" if isinstance(column, Text) else "int16")
            if len(column.codes) and not -2 <= int(column.codes.min()) <= int(column.codes.max()) < len(column.words):
                raise ShapeError(f"{table.name}.{name}: a code points outside its words")
        elif isinstance(column, YesNo):
            data[name], columns[name] = column.values, pa.Column("int8")
        elif isinstance(column, FlagBits):
            data[name], columns[name] = column.values, pa.Column("int64")
        elif isinstance(column, Time):
            data[name], columns[name] = column.low, pa.Column("int64")
        elif isinstance(column, Span):
            data[name], columns[name] = column.low, pa.Column("float64", nullable=True)
        else:
            data[name], columns[name] = column.values, pa.Column("float64", nullable=True)
        data[f"{name} state"], columns[f"{name} state"] = state, pa.Column("uint8")
    lengths = {name: len(values) for name, values in {**data, "key": table.keys}.items() if len(values) != table.rows}
    if lengths:
        raise ShapeError(f"{table.name}: {table.rows} rows, and columns of other lengths: {lengths}")
    # A row is known by its file and first physical line: no two rows of a table share them, but for the columns of one
    # row that became rows.
    place = pd.Index((table.file_of.astype("int64") << 40) + table.line_of)
    if getattr(table.cells, "unpivots", False):
        place = pd.RangeIndex(table.rows).astype("int64")
    return pd.DataFrame(data, index=place, copy=False), columns

"""Parquet files as text cells: each typed column becomes the text that it means."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.files import pointer_fault, tell_no_header, tell_skipped
from vaporqa.intake.grids import Grid, TextFile, as_file
from vaporqa.intake.mapping import Layout
from vaporqa.intake.notes import Notes
from vaporqa.intake.workbooks import number_text

#: Bytes of all columns once they are unpacked, and cells: a few bytes of a packed column can stand for a billion rows.
UNPACKED_AT_MOST = 1 << 32
CELLS_AT_MOST = 400_000_000


def read_parquet(path: Path, name: str, notes: Notes, layout: Layout, at_most: int = 0) -> TextFile | None:
    """Read `path`; what stops the run goes to `notes`, and None is returned.

    The first record stands in row 2, as if the names were a header in row 1.

    Parameters
    ----------
    path : Path
        A regular file with the ending ``.parquet``.
    name : str
        Relative to the project folder.
    layout : Layout
        Rows may be skipped; the names of a Parquet file stand in no row.
    at_most : int
        Records looked at; 0 for all.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    def wrong(message: str, mend: str) -> None:
        notes.problem(Problem(name, 0, 0, message, mend))

    size = path.stat().st_size
    if size > UNPACKED_AT_MOST:
        wrong(
            f"the file has {size:,} bytes; at most {UNPACKED_AT_MOST:,} are read",
            "split it, and name the parts under `tables:` in project.yaml",
        )
        return None
    data = path.read_bytes()  # once: what is judged is what the hash is of, even where the file changes meanwhile
    fault = pointer_fault(data)
    if fault:
        wrong(*fault)
        return None
    if layout.header_row > 1:
        wrong(f"a Parquet file has its names in no row, and `header_row` is {layout.header_row}", "leave it out")
        return None
    try:
        meta = pq.read_metadata(pa.BufferReader(data))
        unpacked = sum(meta.row_group(at).total_byte_size for at in range(meta.num_row_groups))
        cells = meta.num_rows * meta.num_columns
        if unpacked > UNPACKED_AT_MOST or cells > CELLS_AT_MOST:
            wrong(
                f"the file unpacks to {unpacked:,} bytes and {cells:,} cells; "
                f"at most {UNPACKED_AT_MOST:,} bytes and {CELLS_AT_MOST:,} cells are read",
                "split it, and name the parts under `tables:` in project.yaml",
            )
            return None
        table = _first_records(data, at_most) if at_most else pq.read_table(pa.BufferReader(data))
    except (pa.ArrowException, OSError, ValueError) as error:
        wrong(
            f"this is no Parquet file that can be read ({str(error).splitlines()[0]})", "save the table as CSV in UTF-8"
        )
        return None
    if not table.column_names:
        tell_no_header(name, Layout(), notes, None)
        return None
    columns = []
    for at, (header, column) in enumerate(zip(table.column_names, table.columns, strict=True), 1):
        texts = _texts(column)
        if texts is None:
            message = f"column '{header}' is of type {column.type}, which is no text, number, time, or yes and no"
            notes.problem(Problem(name, 1, at, message, "save it as text"))
        else:
            columns.append(texts)
    if len(columns) < len(table.column_names):
        return None
    lines = np.arange(2, 2 + table.num_rows, dtype=np.int64)
    if layout.skip_rows:
        keep = np.flatnonzero(~np.isin(lines, layout.skip_rows))
        columns, lines = [column.take(pa.array(keep)) for column in columns], lines[keep]
        tell_skipped(name, Layout(skip_rows=layout.skip_rows), 1, notes)
    sha256 = hashlib.sha256(data).hexdigest()
    return as_file(Grid(name, sha256, len(data), tuple(table.column_names), 1, columns, lines), notes)


def _first_records(data: bytes, at_most: int) -> Any:
    import pyarrow as pa
    import pyarrow.parquet as pq

    file = pq.ParquetFile(pa.BufferReader(data))
    batches, rows = [], 0
    for batch in file.iter_batches(batch_size=min(at_most, 1 << 16)):
        batches.append(batch)
        rows += batch.num_rows
        if rows >= at_most:
            break
    return pa.Table.from_batches(batches, file.schema_arrow).slice(0, at_most)


def _texts(column: Any) -> Any:
    """Return a column as dictionary-encoded text, empty where it is null; None for a type that means no text."""
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.types as kind

    whole = column.combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = whole.chunk(0) if whole.num_chunks else pa.array([], column.type)
    if kind.is_dictionary(whole.type):
        whole = whole.dictionary_decode()
    if kind.is_null(whole.type):
        return pa.array([""] * len(whole), pa.string()).dictionary_encode()
    if kind.is_nested(whole.type):
        return None
    # What each distinct value means is asked once.
    coded = whole.dictionary_encode() if not kind.is_boolean(whole.type) else whole.cast(pa.int8()).dictionary_encode()
    values = coded.dictionary
    if kind.is_boolean(whole.type):
        texts = ["true" if value else "false" for value in values.to_pylist()]
    elif kind.is_string(whole.type) or kind.is_large_string(whole.type) or kind.is_string_view(whole.type):
        texts = values.to_pylist()
    elif kind.is_integer(whole.type) or kind.is_decimal(whole.type):
        texts = [_plain(str(value)) for value in values.to_pylist()]
    elif kind.is_floating(whole.type):
        # A column of 32 bits holds the shortest number that reads back as the same 32 bits.
        narrow = not kind.is_float64(whole.type)
        texts = [_float_text(value, narrow) for value in values.to_pylist()]
    elif kind.is_timestamp(whole.type):
        texts = _stamps(values)
    elif kind.is_date(whole.type):
        texts = values.cast(pa.date32()).cast(pa.string()).to_pylist()
    elif kind.is_time(whole.type):
        texts = [str(value) for value in values.to_pylist()]
    else:
        return None
    where = pc.fill_null(coded.indices.cast(pa.int32()), len(texts))
    again = pa.array([*texts, ""], pa.string()).dictionary_encode()
    return pa.DictionaryArray.from_arrays(again.indices.take(where), again.dictionary)


def _float_text(value: float, narrow: bool) -> str:
    if value != value:  # noqa: PLR0124 - not a number is what other tools write for an empty cell
        return ""
    return _plain(str(np.float32(value))) if narrow else number_text(value)


def _plain(text: str) -> str:
    """Return a decimal text without the zeros that a fixed scale adds."""
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text.casefold() else text


def _stamps(values: Any) -> list[str]:
    """Return timestamps in ISO 8601, with Z where they have a zone: they are instants in UTC then."""
    import pyarrow as pa

    zoned = values.type.tz is not None
    local = values.cast(pa.timestamp("us", "UTC")).cast(pa.timestamp("us")) if zoned else values.cast(
        pa.timestamp("us"), safe=False)  # fmt: skip
    found = []
    for text in local.cast(pa.string()).to_pylist():
        whole, _, fraction = text.partition(".")
        found.append((f"{whole}.{fraction}" if fraction.strip("0") else whole) + ("Z" if zoned else ""))
    return found

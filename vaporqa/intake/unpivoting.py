"""Columns that become rows: one row of a file for each of its declared columns that holds a value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.intake.grids import TextFile, Unpivoted
from vaporqa.intake.mapping import FileMapping, positions
from vaporqa.intake.translations import without_missing

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes


def unpivoted(
    file: TextFile, mapping: FileMapping, missing: Sequence[str], notes: Notes
) -> tuple[TextFile, tuple[str, ...]]:
    """Return a file with the columns of `wide` turned into rows, and the headers that it does not have.

    A cell that is empty, or that holds a spelling of a missing value, makes no row, unless `values` says what an empty
    cell means.
    """
    import pyarrow as pa

    wide = mapping.wide
    if wide is None:
        return file, ()
    places = positions(wide.headers, file.headers)
    absent = tuple(text for text, place in zip(wide.headers, places, strict=True) if place < 0)
    if absent:
        return file, absent
    rows = len(file.lines)
    filled = np.ones((rows, len(places)), np.bool_)
    if "" not in mapping.values.get(wide.value, {}):
        spellings = {*missing, *mapping.missing, *mapping.column_missing.get(wide.value, ())}
        for at, place in enumerate(places):
            column = file.columns[place]
            codes, _ = without_missing(column.indices.to_numpy(), column.dictionary, spellings)
            filled[:, at] = codes >= 0
    origin, which = np.nonzero(filled)
    taken = pa.array(origin)
    notes.remark(
        file.place,
        f"{len(places):,} columns are turned into rows of '{wide.to}' and '{wide.value}': {rows:,} rows became "
        f"{len(origin):,}; {filled.size - len(origin):,} empty cells make none",
    )
    return replace(
        file,
        columns=tuple(column.take(taken) for column in file.columns),
        lines=file.lines[origin],
        unpivoted=Unpivoted(wide.to, wide.value, places, which.astype(np.int16), origin.astype(np.int64)),
    ), ()

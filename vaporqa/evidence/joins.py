"""Ids as integers: each id that stands anywhere in the folder gets one number, once, for all tables.

The number of an id exists whether or not its home table has the row: a leak test that names a sample reaches the
results that name the same sample even where the samples table lacks it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, pick
from vaporqa.tables.values import Int64, Table, Tables, Text

#: Columns that hold ids of each home table, besides its own key.
_COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "samples": (
        ("samples", "sample_id"), ("samples", "parent_sample_id"), ("results", "sample_id"),
        ("tracer_tests", "sample_id"), ("shut_in_tests", "sample_id"), ("purges", "sample_id"),
        ("custody", "sample_id"), ("equipment_log", "sample_id"), ("lab_qc", "sample_id"),
    ),
    "probes": (
        ("probes", "probe_id"), ("probes", "replaces_probe_id"), ("samples", "probe_id"),
        ("tracer_tests", "probe_id"), ("shut_in_tests", "probe_id"), ("purges", "probe_id"),
        ("equipment_log", "probe_id"), ("field_readings", "probe_id"),
    ),
    "locations": (
        ("locations", "location_id"), ("probes", "location_id"), ("samples", "location_id"),
        ("equipment_log", "location_id"), ("field_readings", "location_id"),
    ),
    "containers": (("containers", "container_id"), ("samples", "container_id"), ("custody", "container_id")),
    "lab_qc": (("lab_qc", "qc_id"), ("lab_qc", "parent_qc_id"), ("results", "tune_id")),
    "equipment": (("equipment_log", "equipment_id"), ("probes", "tip_id")),
    "instruments": (
        ("instrument_checks", "instrument_id"), ("field_readings", "instrument_id"),
        ("tracer_tests", "instrument_id"),
    ),
}  # fmt: skip
_HOME_KEY = {
    "samples": "sample_id",
    "probes": "probe_id",
    "locations": "location_id",
    "containers": "container_id",
    "lab_qc": "qc_id",
}


@dataclass(frozen=True, slots=True)
class Ids:
    """The ids of one home table.

    Attributes
    ----------
    names : tuple of str
        Number to id text.
    row : int64 (k,)
        Number to row of the home table; NO_ROW where it has none, TWO_ROWS where two different rows stand there.
    columns : mapping
        (table, column) to numbers by row, -1 where the cell is empty.
    """

    names: tuple[str, ...]
    row: Int64
    columns: Mapping[tuple[str, str], Int64]

    def of(self, table: str, column: str, rows: int) -> Int64:
        """Numbers by row of a column; -1 throughout where no file has it."""
        found = self.columns.get((table, column))
        return found if found is not None else np.full(rows, -1, np.int64)

    def rows_of(self, number: Int64) -> Int64:
        """Home rows of numbers; -1 (no id) gives NO_ROW."""
        if not self.row.size:
            return np.full(number.shape, NO_ROW, np.int64)
        return pick(self.row, number, NO_ROW)


def number_texts(columns: Mapping[tuple[str, str], Text]) -> tuple[tuple[str, ...], dict[tuple[str, str], Int64]]:
    """Give each distinct text of several columns one number; -1 for empty cells."""
    numbers: dict[str, int] = {}
    out: dict[tuple[str, str], Int64] = {}
    for place, text in columns.items():
        used = np.unique(text.codes[text.codes >= 0])
        lookup = np.full(len(text.words) + 1, -1, np.int64)
        for code in used.tolist():
            lookup[code] = numbers.setdefault(str(text.words[code]), len(numbers))
        out[place] = lookup[text.codes]  # -1 picks the last entry, which is -1
    return tuple(numbers), out


def ids_of(tables: Tables, home: str) -> Ids:
    """Number the ids of `home` over every table of the folder."""
    texts: dict[tuple[str, str], Text] = {}
    for table_name, column in _COLUMNS[home]:
        table = tables.get(table_name)
        text = table.text(column) if table is not None else None
        if text is not None:
            texts[(table_name, column)] = text
    names, columns = number_texts(texts)
    row = np.full(len(names), NO_ROW, np.int64)
    key = _HOME_KEY.get(home)
    table = tables.get(home)
    if key is not None and table is not None and (home, key) in columns:
        row = _home_rows(table, columns[(home, key)], len(names))
    return Ids(names, row, columns)


def _home_rows(table: Table, number: Int64, count: int) -> Int64:
    row = np.full(count, NO_ROW, np.int64)
    rows = np.flatnonzero(table.counts & (number >= 0))
    hits = np.bincount(number[rows], minlength=count)
    row[number[rows]] = rows
    row[hits > 1] = TWO_ROWS
    return row


def group_numbers(*codes: Int64) -> tuple[Int64, int]:
    """Number the distinct tuples of several integer columns, 0 .. k-1, in order of value.

    Values must be at least -1. Returns the numbers, (n,), and k.
    """
    if not codes:
        raise ValueError("at least one column is needed")
    combined = codes[0].astype(np.int64) + 1
    for code in codes[1:]:
        width = int(code.max(initial=-1)) + 2
        if combined.size and int(combined.max()) > (2**62) // max(width, 1):
            _, combined = np.unique(combined, return_inverse=True)
        combined = combined * width + (code.astype(np.int64) + 1)
    most = int(combined.max(initial=-1))
    if 0 <= most < 4 * combined.size + 1024:
        # Few enough values to be counted: no sorting, the same numbers.
        met = np.zeros(most + 1, np.int64)
        met[combined] = 1
        number = np.cumsum(met) - 1
        return number[combined], int(number[-1]) + 1
    distinct, inverse = np.unique(combined, return_inverse=True)
    return inverse.astype(np.int64), len(distinct)


def pairs_by_group(left_group: Int64, right_group: Int64, count: int) -> tuple[Int64, Int64]:
    """All pairs (left index, right index) that share a group number in 0..count-1; -1 pairs with nothing.

    Runs in time proportional to the number of pairs.
    """
    right = np.flatnonzero(right_group >= 0)
    order = right[np.argsort(right_group[right], kind="stable")]
    sizes = np.bincount(right_group[right], minlength=count)
    starts = np.concatenate([[0], np.cumsum(sizes)])
    left = np.flatnonzero(left_group >= 0)
    per_left = sizes[left_group[left]] if left.size else np.empty(0, np.int64)
    left_out = np.repeat(left, per_left)
    offsets = np.arange(len(left_out)) - np.repeat(np.cumsum(per_left) - per_left, per_left)
    right_out = order[np.repeat(starts[left_group[left]], per_left) + offsets] if left.size else np.empty(0, np.int64)
    return left_out.astype(np.int64), right_out.astype(np.int64)

"""Keys of rows, exact copies, and different rows under one stated key.

Only rows whose key repeats are compared cell by cell; order among them is that of their full cell text, so that a
key does not depend on the order of the file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.tables.values import Bool, Int32, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.intake.cells import Cells
    from vaporqa.intake.raw import RawColumn
    from vaporqa.tables.dictionary import TableSpec

#: What a made key of a result is made of; the first that is filled of the two in the second place.
RESULT_PARTS = (("sample_id",), ("cas", "analyte"), ("method",), ("run_id",), ("fraction",))


@dataclass(frozen=True, slots=True)
class Keys:
    """Keys of a table: see `vaporqa.tables.values.Table`; `groups` numbers the keys before repeats are told apart."""

    keys: Texts
    stated: bool
    copy_of: Int32
    conflicted: Bool
    groups: Int64


_ROWS_AT_A_TIME = 1 << 17

#: A key part: codes (n,), -1 where empty, and the distinct texts.
_Part = tuple[Int32, Any]


def make_keys(
    spec: TableSpec, columns: Mapping[str, RawColumn], cells: Cells, rows: int, *, compare: bool = True
) -> Keys:
    """Return the key of each row, which rows are later exact copies, and which keys are held by different rows."""
    import pyarrow.compute as pc

    stated = [(columns[name].codes, columns[name].texts) for name in spec.keys if name in columns]
    is_made = np.full(rows, True)
    for codes, _ in stated:
        is_made &= codes < 0
    made: list[_Part] = []
    if spec.name == "results" and (is_made.any() or not stated):
        made = [_first_filled([columns[name] for name in names if name in columns], rows) for names in RESULT_PARTS]
    if not is_made.any() or is_made.all():
        parts = made if rows and is_made.all() else stated or made
        keys, groups = _composed(parts, rows), _groups(parts, rows)
    else:
        import pyarrow as pa

        whole = pc.if_else(pa.array(is_made), _joined(made, rows), _joined(stated, rows))
        keys, groups = np.asarray(whole.to_numpy(zero_copy_only=False), dtype=object), _encoded(whole)
    copy_of = np.full(rows, -1, np.int32)
    conflicted = np.zeros(rows, np.bool_)
    counts = np.bincount(groups) if rows else np.empty(0, np.int64)
    if compare and rows and counts.max() > 1:
        members = np.flatnonzero(counts[groups] > 1)
        _compare(members, groups, cells, is_made, keys, copy_of, conflicted)
    return Keys(keys, bool(stated), copy_of, conflicted, groups)


def _compare(
    members: Int64, groups: Int64, cells: Cells, is_made: Bool, keys: Texts, copy_of: Int32, conflicted: Bool
) -> None:
    """Compare the rows of repeated keys; fill `keys`, `copy_of` and `conflicted` of these rows in place."""
    ranks = [_ranks(cells, header, members) for header in cells.all_headers]
    ranks = [rank for rank in ranks if rank.any()]
    of = groups[members]
    order = np.lexsort((*reversed(ranks), of))
    in_order, group = members[order], of[order]
    same_group = np.append(False, group[1:] == group[:-1])
    same_row = same_group.copy()
    for rank in ranks:
        ordered = rank[order]
        same_row[1:] &= ordered[1:] == ordered[:-1]
    starts = np.flatnonzero(~same_group)
    first_equal = np.maximum.accumulate(np.where(~same_row, np.arange(len(order)), 0))
    copy_of[in_order[same_row]] = in_order[first_equal[same_row]]
    sizes = np.diff(np.append(starts, len(order)))
    distinct = np.add.reduceat(~same_row, starts) if len(starts) else np.empty(0, np.int64)
    several = np.repeat(distinct > 1, sizes)
    conflicted[in_order[several]] = True
    number = np.arange(len(order)) - np.repeat(starts, sizes)
    made = is_made[in_order]
    conflicted[in_order[made]] = False
    for at in np.flatnonzero(made & (number > 0)):
        keys[in_order[at]] = f"{keys[in_order[at]]}#{number[at] + 1}"


def _ranks(cells: Cells, header: str, members: Int64) -> Int64:
    """Rank of each member's cell among the distinct texts of its column, by code point; 0 for no cell at all."""
    import pyarrow as pa

    codes, texts = cells.codes(header)
    chosen = codes[members]
    used = np.unique(chosen[chosen >= 0])
    ordered = np.argsort(
        np.asarray(texts.take(pa.array(used)).to_numpy(zero_copy_only=False), dtype=object), kind="stable"
    )
    rank = np.zeros(len(texts) + 1, np.int64)
    rank[used[ordered]] = np.arange(1, len(used) + 1)
    rank[-1] = 0
    found: Int64 = rank[chosen]
    return found if len(used) > 1 or (chosen < 0).any() else np.zeros(len(chosen), np.int64)


def _first_filled(columns: Sequence[RawColumn], rows: int) -> _Part:
    """Return one part out of columns that stand in for each other: the first that is filled counts."""
    import pyarrow as pa

    from vaporqa.intake.raw import merged

    if not columns:
        return np.full(rows, -1, np.int32), pa.array([], pa.string())
    codes, texts = columns[0].as_written
    for other in columns[1:]:
        both, texts = merged([(codes, texts), other.as_written])
        codes = np.where(both[:rows] >= 0, both[:rows], both[rows:])
    return codes, texts


def _composed(parts: Sequence[_Part], rows: int) -> Texts:
    """Compose keys some rows at a time, so that the texts of all parts never stand in memory together."""
    keys: Texts = np.empty(rows, dtype=object)
    for start in range(0, rows, _ROWS_AT_A_TIME):
        stop = min(start + _ROWS_AT_A_TIME, rows)
        piece = _joined([(codes[start:stop], texts) for codes, texts in parts], stop - start)
        keys[start:stop] = piece.to_numpy(zero_copy_only=False)
    return keys


def _groups(parts: Sequence[_Part], rows: int) -> Int64:
    """Return a number for each distinct key, (n,), without composing the keys where that is not needed."""
    import pyarrow.compute as pc

    if len(parts) == 1:
        groups: Int64 = parts[0][0].astype(np.int64) + 1
        return groups
    if any(pc.any(pc.match_substring(texts, "/")).as_py() for _, texts in parts):
        # A slash inside a cell lets different cells compose one key.
        return _encoded(_joined(parts, rows))
    combined = np.zeros(rows, np.int64)
    size = 1
    for codes, texts in parts:
        if size * (len(texts) + 1) >= 2**62:
            combined = _encoded_numbers(combined)
            size = rows
        combined = combined * (len(texts) + 1) + codes + 1
        size *= len(texts) + 1
    return _encoded_numbers(combined)


def _encoded(texts: Any) -> Int64:
    return np.asarray(texts.dictionary_encode().indices.to_numpy(zero_copy_only=False), np.int64)


def _encoded_numbers(numbers: Int64) -> Int64:
    import pyarrow as pa

    return _encoded(pa.array(numbers))


def _joined(parts: Sequence[_Part], rows: int) -> Any:
    """Join the parts of each row by `/`, empty parts at its end dropped; a pyarrow string array (n,)."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not parts:
        return pa.array([""] * rows, pa.string())
    kept = np.zeros(rows, np.int64)
    for at, (codes, _) in enumerate(parts, 1):
        kept[codes >= 0] = at
    used = [(at, part) for at, part in enumerate(parts, 1) if at <= kept.max(initial=1)]
    cut = []
    for at, (codes, texts) in used:
        # One text more than the column has: the empty one, for an empty part that stands before a filled one.
        filled = pa.concat_arrays([texts.cast(pa.string()), pa.array([""], pa.string())])
        places = np.where(codes < 0, len(texts), codes).astype(np.int32)
        dropped = kept < at
        cut.append(filled.take(pa.array(places, mask=dropped) if at > 1 and dropped.any() else pa.array(places)))
    return cut[0] if len(cut) == 1 else pc.binary_join_element_wise(*cut, "/", null_handling="skip")

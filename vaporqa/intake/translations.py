"""Cells translated before they are read: missing spellings, declared values, and the decimal comma.

Everything here works on the distinct texts of a column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from vaporqa.tables.values import Bool, Int32

_MARK = re.compile(r"[.,](?=[0-9])|(?<=[0-9])[.,](?![0-9,.])")


def without_missing(codes: Any, texts: Any, spellings: set[str]) -> tuple[Int32, Any]:
    """Turn codes of empty cells and of missing spellings into -1."""
    import pyarrow as pa
    import pyarrow.compute as pc

    trimmed = pc.utf8_trim_whitespace(texts)
    wanted = pa.array(sorted({"", *(spelling.strip() for spelling in spellings)}), pa.string())
    absent = np.asarray(pc.is_in(trimmed, wanted).to_numpy(zero_copy_only=False), np.bool_)
    codes = np.asarray(codes, np.int32)
    if absent.any():
        codes = np.where(absent, -1, np.arange(len(absent))).astype(np.int32)[codes]
    return codes, texts


def recoded(codes: Int32, texts: Sequence[str | None], empty: str | None = None) -> tuple[Int32, Any]:
    """Return codes over new texts, one for each old one; None is an empty cell, `empty` what an empty cell means."""
    import pyarrow as pa

    coded = pa.array([*texts, empty], pa.string()).dictionary_encode()
    remap = np.asarray(coded.indices.fill_null(-1).to_numpy(), np.int32)
    return remap[codes], coded.dictionary


def translated(
    codes: Int32, texts: Any, values: Mapping[str, str], spellings: set[str]
) -> tuple[Int32, Any, dict[str, int]]:
    """Look the cells of a column up in the declared `values`.

    A text that is listed comes first, as written or without blanks at its ends; then the missing spellings; then ``*``.

    Parameters
    ----------
    codes : int32 (n,)
        Into `texts`; -1 for an empty cell.
    values : mapping
        Text to meaning; an empty meaning is a missing cell, the key ``""`` the empty cell.
    spellings : set of str
        Of a missing value.

    Returns
    -------
    codes, texts
        As given, translated.
    counts : dict
        Rows a listed text was met in.
    """
    missing = {"", *(spelling.strip() for spelling in spellings)}
    size = len(texts)
    rows = np.bincount(codes + 1, minlength=size + 1)
    counts = dict.fromkeys(values, 0)
    meant: list[str | None] = []
    for at, text in enumerate(texts.to_pylist()):
        key = _listed(text, values, missing)
        if key is None:
            meant.append(None if text.strip() in missing else text)
            continue
        counts[key] += int(rows[at + 1])
        meant.append(values[key] or None)
    empty = values.get("") or None
    if "" in values:
        counts[""] += int(rows[0])
    new_codes, new_texts = recoded(codes, meant, empty)
    return new_codes, new_texts, counts


def _listed(text: str, values: Mapping[str, str], missing: set[str]) -> str | None:
    """Return the key under which `text` is listed, or None."""
    plain = text.strip()
    if text in values and text != "*":
        return text
    if plain in values and plain != "*":
        return plain
    if plain in missing:
        return "" if "" in values else None
    return "*" if "*" in values else None


def with_points(texts: Any) -> Any:
    """Exchange point and comma in numbers of a file whose decimal mark is the comma.

    A cell with a point stays none: after the exchange it holds a comma, and both its readings are offered.
    """
    import pyarrow as pa

    return pa.array(
        [_MARK.sub(lambda match: "." if match[0] == "," else ",", text) for text in texts.to_pylist()], pa.string()
    )


def used_of(codes: Int32, size: int) -> Bool:
    """Which of `size` distinct texts stand in a cell."""
    used = np.zeros(size + 1, np.bool_)
    used[codes] = True
    found: Bool = used[:-1]
    return found

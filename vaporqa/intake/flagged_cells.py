"""Laboratory flags that stand before or after a number in its own cell.

``1.2 J`` is the number 1.2 with the flag J. A flag that is declared may touch the number; one that is not must stand
apart from it and look like a flag, or the cell is not read: ``I5`` and ``5B`` may be digits that a scanner misread.
"""

from __future__ import annotations

import re
from collections.abc import Set
from typing import Any

import numpy as np

from vaporqa.intake.nondetects import BARE_MARKS
from vaporqa.intake.numbers import NUMBER
from vaporqa.tables.values import Bool

_LENGTH_LIMIT = 300
_SEPARATORS = re.compile(r"[;,\s]+")
_CELL = re.compile(
    rf"(?P<before>[^<]*?)(?P<gap_before>[;,\s]*)(?P<number><\s*{NUMBER}|{NUMBER})(?P<gap_after>[;,\s]*)(?P<after>.*)"
)
_BARE = re.compile(r"(?P<number>ND|N\.D\.)[;,\s]+(?P<after>.*)")
_LIKE_A_FLAG = re.compile(r"[A-Z]{1,2}|[*#@^+&]")


def is_flagged_column(name: str) -> bool:
    """Whether cells of a column may carry flags: results and their limits.

    Examples
    --------
    >>> is_flagged_column("reporting_limit_mass"), is_flagged_column("spiked")
    (True, False)
    """
    return name.startswith(("result", "nondetect_at", "reporting_limit", "detection_limit", "limit_of_detection"))


def take_flags_off(texts: Any, wrong: Bool, declared: Set[str]) -> tuple[Any, Any] | None:
    """Split the texts marked `wrong` into the number with its mark, and the flags beside it.

    Parameters
    ----------
    texts : pyarrow.StringArray (k,)
    wrong : bool (k,)
        Texts that are neither a number nor a mark of nondetection.

    Returns
    -------
    numbers, flags : pyarrow.StringArray (k,), or None
        None where no text carries a flag. Flags of a text are joined by one blank.
    """
    import pyarrow as pa

    at = np.flatnonzero(wrong)
    found = {}
    for place, text in zip(at.tolist(), texts.take(pa.array(at)).to_pylist(), strict=True):
        split = split_flags(text, declared)
        if split is not None:
            found[place] = split
    if not found:
        return None
    numbers = texts.to_pylist()
    flags = [""] * len(numbers)
    for place, (number, beside) in found.items():
        numbers[place], flags[place] = number, beside
    return pa.array(numbers, pa.string()), pa.array(flags, pa.string())


def split_flags(text: str, declared: Set[str]) -> tuple[str, str] | None:
    """Return the number of a cell with its mark of nondetection, and its flags; None where that is not what it holds.

    Examples
    --------
    >>> split_flags("1.2 J", set()), split_flags("5.0UJ", {"J"}), split_flags("I5", set())
    (('1.2', 'J'), ('5.0 U', 'J'), None)
    """
    plain = text.strip()
    # No number with its flags is longer; the pattern takes the square of the length.
    match = (_CELL.fullmatch(plain) or _BARE.fullmatch(plain)) if len(plain) <= _LENGTH_LIMIT else None
    if match is None:
        return None
    parts = match.groupdict()
    before, after = parts.get("before") or "", parts["after"]
    touching_before = bool(before) and not parts.get("gap_before")
    touching_after = match.re is _CELL and not parts.get("gap_after")
    number = parts["number"]
    left = _flags(before, declared, touching=touching_before)
    right = _flags(after, declared, touching=touching_after)
    if left is None or right is None:
        return None
    flags = [*left, *right]
    beside = [flag for flag in flags if flag != "U"]
    if len(beside) < len(flags) and number not in BARE_MARKS:
        number += " U"
    return number, " ".join(dict.fromkeys(beside))


def _flags(text: str, declared: Set[str], *, touching: bool) -> list[str] | None:
    found: list[str] = []
    for token in filter(None, _SEPARATORS.split(text)):
        # U in a result cell marks a nondetect, declared or not.
        if token in declared or token == "U":  # noqa: S105 - a flag, no password
            found.append(token)
        elif all(letter in declared or letter == "U" for letter in token):
            found.extend(token)
        elif touching or any(letter.isdigit() for letter in token) or not _LIKE_A_FLAG.fullmatch(token):
            return None
        elif "U" in token:
            found.extend(token)
        else:
            found.append(token)
    return found

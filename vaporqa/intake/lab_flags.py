"""What the laboratory's own flags mean: only what is declared.

A letter means one thing in one laboratory and another in the next. The words of the closed list mean themselves;
any other flag that no mapping declares is a finding, one a flag.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.values import Bool, Text, Texts

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn

#: Findings of their own; a column with more different flags than this holds remarks, and the rest share one finding.
FLAGS_AT_MOST = 100

_SEPARATORS = re.compile(r"[;,\s]+")


def flags_in(text: str, key: Mapping[str, str]) -> list[str]:
    """Return the flags of one cell: whole, else split at `;`, `,` and blanks, else by letter if each is listed.

    Examples
    --------
    >>> key = {"J": "estimated", "B": "in_blank", "J+": "estimated"}
    >>> flags_in("J+", key), flags_in("JB", key), flags_in("J; X", key), flags_in("JX", key)
    (['J+'], ['J', 'B'], ['J', 'X'], ['JX'])
    """
    plain = text.strip()
    if plain in key:
        return [plain]
    found: list[str] = []
    for part in filter(None, _SEPARATORS.split(plain)):
        if part not in key and part not in FLAG_MEANINGS and all(letter in key for letter in part):
            found.extend(part)
        else:
            found.append(part)
    return list(dict.fromkeys(found))


def typed_flags(raw: RawColumn, table: str, notes: Notes, key: Mapping[str, str]) -> tuple[Text, Bool]:
    """Return the flags of each row, and the rows whose flags say nondetect.

    Returns
    -------
    flags : Text
        Known meanings and undeclared flags of a row, each once, joined by one blank.
    nondetect : bool (n,)
    """
    used = raw.used()
    texts = [text if here else "" for text, here in zip(raw.texts.to_pylist(), used, strict=True)]
    # A declared flag becomes its meaning; an undeclared one stays as it is and is a finding.
    split = [list(dict.fromkeys(key.get(flag, flag) for flag in flags_in(text, key))) for text in texts]
    holders: dict[str, list[int]] = {}
    for at, flags in enumerate(split):
        for flag in dict.fromkeys(flags):
            if flag not in FLAG_MEANINGS:
                holders.setdefault(flag, []).append(at)
    undeclared = sorted(holders)
    for flag in undeclared[:FLAGS_AT_MOST]:
        notes.on_column("known-flag", table, raw.spec.name, flag, "", rows=raw.rows(_marked(holders[flag], len(split))))
    rest = undeclared[FLAGS_AT_MOST:]
    if rest:
        places = [at for flag in rest for at in holders[flag]]
        rows = raw.rows(_marked(places, len(split)))
        notes.on_column("known-flag", table, raw.spec.name, "others", f"{len(rest):,} further flags", rows=rows)
    distinct: dict[str, int] = {}
    codes = np.array(
        [*(distinct.setdefault(" ".join(dict.fromkeys(f)), len(distinct)) if f else -1 for f in split), -1]
    )
    words: Texts = np.empty(len(distinct), dtype=object)
    words[:] = list(distinct)
    nondetect = np.array([*("nondetect" in flags for flags in split), False], np.bool_)
    return Text(codes.astype(np.int32)[raw.codes], words), nondetect[raw.codes]


def _marked(places: list[int], size: int) -> Bool:
    found = np.zeros(size, np.bool_)
    found[places] = True
    return found

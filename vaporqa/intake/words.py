"""Words of closed lists, yes and no, and ranges."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from vaporqa.errors import nearest
from vaporqa.intake.notes import WORD_OFFERS_AT_MOST
from vaporqa.intake.numbers import NUMBER
from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Int8, Int16, Texts, UInt8

YES = ("true", "yes", "y", "1")
NO = ("false", "no", "n", "0")
_UNSIGNED = NUMBER.removeprefix("[+-]?")
_SPAN_LENGTH = 300
_SPAN = re.compile(rf"({_UNSIGNED})\s*%?\s*[-–]\s*({_UNSIGNED})\s*%?")


def read_words(texts: Any, words: tuple[str, ...]) -> tuple[Int16, Texts, list[str]]:
    """Read distinct texts as words of a closed list.

    Returns
    -------
    codes : int16 (k,)
        Into `words`; -2 where the text is none of them.
    offers : object (k,)
        The nearest word of what is none, with a question mark.
    folded : list of str
        Texts that differ from their word in letter case or by blanks at the ends.
    """
    codes = np.full(len(texts), -2, np.int16)
    offers: Texts = np.full(len(texts), "", dtype=object)
    folded = []
    wrong: list[tuple[int, str]] = []
    for at, text in enumerate(texts.to_pylist()):
        plain = text.strip().casefold()
        if plain in words:
            codes[at] = words.index(plain)
            if text != plain:
                folded.append(text)
        else:
            wrong.append((at, plain))
    if len(wrong) <= WORD_OFFERS_AT_MOST:
        for at, plain in wrong:
            near = nearest(re.sub(r"[\s\-]+", "_", plain), words)
            offers[at] = f"{near[0]}?" if near else ""
    return codes, offers, folded


def read_yes_no(texts: Any) -> tuple[Int8, Texts]:
    """Read distinct texts as yes (1) and no (0), in any letter case; -2 where a text is neither."""
    values = np.full(len(texts), -2, np.int8)
    offers: Texts = np.full(len(texts), "", dtype=object)
    for at, text in enumerate(texts.to_pylist()):
        plain = text.strip().casefold()
        if plain in YES:
            values[at] = 1
        elif plain in NO:
            values[at] = 0
        else:
            offers[at] = "yes or no?"
    return values, offers


def read_spans(texts: Any) -> tuple[Float, Float, UInt8]:
    """Read distinct texts as ranges such as ``70-130`` or ``70 - 130 %``; low, high and state, (k,) each."""
    low = np.full(len(texts), np.nan)
    high = np.full(len(texts), np.nan)
    for at, text in enumerate(texts.to_pylist()):
        match = _SPAN.fullmatch(text.strip()) if len(text) <= _SPAN_LENGTH else None
        if match and float(match[1]) <= float(match[2]):
            low[at], high[at] = float(match[1]), float(match[2])
    state = np.where(np.isnan(low), UNREADABLE, READ).astype(np.uint8)
    return low, high, state


def with_blanks(texts: Any, used: Bool) -> list[str]:
    """Return the texts that have blanks at the ends, those that stand in a cell only."""
    import pyarrow.compute as pc

    spaced = np.asarray(pc.not_equal(pc.utf8_trim_whitespace(texts), texts).to_numpy(zero_copy_only=False), np.bool_)
    return [texts[int(at)].as_py() for at in np.flatnonzero(spaced & used)]

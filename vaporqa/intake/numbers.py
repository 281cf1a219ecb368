"""Numbers as text: what is read, and what is offered where it is not.

Read are plain decimal numbers with sign and exponent. Thousands marks, decimal commas, letters that a scanner put
for digits, full-width digits and a typographic minus are offered, never used.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.notes import OFFERS_AT_MOST
from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Texts, UInt8

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_PLAIN = re.compile(NUMBER)
_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}(?:[, '\u00a0\u202f][0-9]{3})+(?:\.[0-9]+)?")
_CONTINENTAL = re.compile(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})*,[0-9]+")
_INSIDE = re.compile(r"(?<![A-Za-z0-9.])" + NUMBER + r"(?![0-9.xX])")
_SCANNED = str.maketrans({"I": "1", "l": "1", "|": "1", "O": "0", "o": "0", "S": "5", "B": "8", "Z": "2"})
_MINUS = str.maketrans({"−": "-", "–": "-", "—": "-", "﹣": "-"})


@dataclass(frozen=True, slots=True)
class ReadNumbers:
    """Distinct texts read as numbers, (k,) each.

    Attributes
    ----------
    values : float64
        nan unless READ.
    state : uint8
        READ or UNREADABLE.
    """

    values: Float
    state: UInt8

    @property
    def wrong(self) -> Bool:
        """Texts that are no number."""
        found: Bool = self.state == UNREADABLE
        return found


def trimmed(texts: Any) -> Any:
    """Return a pyarrow string array without blanks at the ends."""
    import pyarrow.compute as pc

    return pc.utf8_trim_whitespace(texts)


def matching(texts: Any, pattern: str) -> Bool:
    """Return which of the texts match the whole of `pattern`, (k,)."""
    import pyarrow.compute as pc

    return np.asarray(pc.match_substring_regex(texts, rf"\A(?:{pattern})\z").to_numpy(zero_copy_only=False), np.bool_)


def cast_numbers(texts: Any, plain: Bool) -> Float:
    """Return the texts marked `plain` as float64, nan elsewhere and where a number overflows."""
    import pyarrow as pa

    values = np.full(len(texts), np.nan)
    if plain.any():
        chosen = texts if plain.all() else texts.filter(pa.array(plain))
        signless = _without_plus(chosen)
        values[plain] = signless.cast(pa.float64()).to_numpy(zero_copy_only=False)
        values[np.isinf(values)] = np.nan
    return values


def _without_plus(texts: Any) -> Any:
    import pyarrow.compute as pc

    return pc.utf8_ltrim(texts, "+")


def read_numbers(texts: Any, *, percent: bool = False) -> tuple[ReadNumbers, Bool]:
    """Read distinct texts as numbers.

    Parameters
    ----------
    texts : pyarrow.StringArray (k,)
    percent : bool
        A percent sign after the number is accepted: the column is a percentage by definition.

    Returns
    -------
    numbers : ReadNumbers
    signed : bool (k,)
        Texts read with a percent sign.
    """
    bare = trimmed(texts)
    plain = matching(bare, NUMBER)
    values = cast_numbers(bare, plain)
    signed = np.zeros(len(texts), np.bool_)
    if percent and not plain.all():
        import pyarrow.compute as pc

        signed = matching(bare, NUMBER + r"\s*%")
        if signed.any():
            values = np.where(signed, cast_numbers(trimmed(pc.utf8_rtrim(bare, "%")), signed), values)
    state = np.where(np.isnan(values), UNREADABLE, READ).astype(np.uint8)
    return ReadNumbers(values, state), signed


def offers(texts: Any, wrong: Bool) -> Texts:
    """Return the nearest reading of each text marked `wrong`, with a question mark; empty where there is none."""
    return each_offer(texts, wrong, offer_number)


def each_offer(texts: Any, wrong: Bool, offer: Callable[[str], str]) -> Texts:
    """Return `offer` of each text marked `wrong`; empty texts elsewhere, and for all where they are too many."""
    found: Texts = np.full(len(texts), "", dtype=object)
    chosen = np.flatnonzero(wrong)
    if len(chosen) <= OFFERS_AT_MOST:
        for at in chosen:
            found[at] = offer(texts[int(at)].as_py())
    return found


def offer_number(text: str) -> str:
    """Return the number that `text` was probably meant to be, with a question mark; empty where none is near.

    Examples
    --------
    >>> offer_number("1,200"), offer_number("I5"), offer_number("1,5"), offer_number("inf")
    ('1200?', '15?', '1.5?', '')
    """
    plain = unicodedata.normalize("NFKC", text.translate(_MINUS)).translate(_MINUS).strip()
    if _PLAIN.fullmatch(plain):
        return f"{plain}?" if math.isfinite(float(plain)) else ""
    if _THOUSANDS.fullmatch(plain):
        return re.sub(r"[, '\u00a0\u202f]", "", plain) + "?"
    if _CONTINENTAL.fullmatch(plain):
        return plain.replace(".", "").replace(",", ".") + "?"
    if any(letter.isdigit() for letter in plain) and _PLAIN.fullmatch(plain.translate(_SCANNED)):
        return plain.translate(_SCANNED) + "?"
    inside = _INSIDE.findall(plain)
    return f"{inside[0]}?" if len(inside) == 1 else ""


def numbered(plain: str) -> re.Match[str] | None:
    """Return the match of a plain number at the start of a text, or None."""
    return _PLAIN.match(plain)

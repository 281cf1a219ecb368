"""Concentrations as laboratories write them: a number, or a mark that it was not found.

Marks of nondetection are ``ND``, ``N.D.``, ``<x``, ``x U`` and ``U``, in these letters. Any other mark beside a
number is a laboratory flag, which means nothing until the project declares it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.numbers import NUMBER, cast_numbers, each_offer, matching, offer_number, trimmed
from vaporqa.tables.values import EMPTY, READ, UNREADABLE, Bool, Float, Texts, UInt8

BARE_MARKS = ("ND", "N.D.", "U")
_MARKED = rf"(?:<\s*{NUMBER}(?:\s*U)?|{NUMBER}\s*U)"
_MARK_BUT_NOT_READ = re.compile(
    r"(?i)\b(?:b[dm]?[dlq]l?|bdl|bql|bmdl|brl|nd|n\.d\.?|non[- ]?detect(?:ed)?|not detected|u)\b|<"
)


@dataclass(frozen=True, slots=True)
class ReadAmounts:
    """Distinct texts read as concentrations, (k,) each.

    Attributes
    ----------
    values : float64
        The number in the cell; nan where there is none.
    state : uint8
        READ where a number was read, EMPTY for a bare mark, else UNREADABLE.
    nondetect : bool
        A mark of nondetection, or a negative number.
    marked : bool
        A number beside a mark.
    """

    values: Float
    state: UInt8
    nondetect: Bool
    marked: Bool

    @property
    def wrong(self) -> Bool:
        """Texts that are neither a number nor a mark."""
        found: Bool = self.state == UNREADABLE
        return found

    @property
    def negative(self) -> Bool:
        """Numbers under zero."""
        with np.errstate(invalid="ignore"):
            found: Bool = self.values < 0
        return found


def read_amounts(texts: Any) -> ReadAmounts:
    """Read distinct texts (a pyarrow string array of k) as concentrations."""
    import pyarrow as pa
    import pyarrow.compute as pc

    bare = trimmed(texts)
    plain = matching(bare, NUMBER)
    values = cast_numbers(bare, plain)
    marked = np.zeros(len(texts), np.bool_)
    only_mark = np.zeros(len(texts), np.bool_)
    if not plain.all():
        marked = matching(bare, _MARKED)
        if marked.any():
            values = np.where(marked, cast_numbers(trimmed(pc.utf8_trim(bare, "<U \t")), marked), values)
        only_mark = np.asarray(pc.is_in(bare, pa.array(BARE_MARKS)).to_numpy(zero_copy_only=False), np.bool_)
    read = ~np.isnan(values)
    state = np.where(read, READ, np.where(only_mark, EMPTY, UNREADABLE)).astype(np.uint8)
    with np.errstate(invalid="ignore"):
        nondetect = (marked & read) | only_mark | (values < 0)
    return ReadAmounts(values, state, nondetect, marked & read)


def offers(texts: Any, wrong: Bool) -> Texts:
    """Return the nearest reading of each text marked `wrong`; empty where there is none."""
    return each_offer(texts, wrong, offer_amount)


def offer_amount(text: str) -> str:
    """Return what a cell was probably meant to be: a number, or a mark that is read.

    Examples
    --------
    >>> offer_amount("BDL"), offer_amount("5 u"), offer_amount("1.2 J"), offer_amount("nd")
    ('ND?', '5 U?', '1.2?', 'ND?')
    """
    number = offer_number(text)
    if not _MARK_BUT_NOT_READ.search(re.sub(r"(?<=[0-9])(?=[uU]$)", " ", text.strip())):
        return number
    if not number:
        return "ND?"
    if "<" in text:
        return f"<{number}"
    return f"{number[:-1]} U?"

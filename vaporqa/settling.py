"""Letters to one standing, one qualifier and one bias: once, for all rows together, in whatever order.

Findings of a row combine by OR of their letter bits, detects and nondetects apart, so that settling is associative,
commutative and idempotent. The order of precedence is that of the published validation guidelines: R over everything;
a nondetect is UJ or U; a detect is NJ if tentative, J+ or J- if all its letters agree, else J.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Letter, Standing
from vaporqa.tables.values import Int8, Int16, UInt8

#: Final qualifiers; codes of `Settlement.qualifier` point here.
QUALIFIERS = ("", "U", "UJ", "J", "J+", "J-", "NJ", "R")
#: Biases; codes of `Settlement.bias` point here.
BIASES = ("", "high", "low", "unknown")

_ESTIMATES = Letter.J | Letter.J_PLUS | Letter.J_MINUS
_ANY_ESTIMATE = _ESTIMATES | Letter.UJ | Letter.NJ


@dataclass(frozen=True, slots=True)
class Masks:
    """Letters that count for each row, as OR-ed bits, (n,) int16 each.

    Attributes
    ----------
    detect, nondetect : int16
        Letters for the case that the row is a detect or a nondetect.
    leaning : int16
        Detect letters of the findings that have a letter for a nondetect: the bias of a UJ is read from them.
    """

    detect: Int16
    nondetect: Int16
    leaning: Int16

    @staticmethod
    def none(rows: int) -> Masks:
        """No letter on any row."""
        return Masks(np.zeros(rows, np.int16), np.zeros(rows, np.int16), np.zeros(rows, np.int16))

    def __or__(self, other: Masks) -> Masks:
        return Masks(self.detect | other.detect, self.nondetect | other.nondetect, self.leaning | other.leaning)


@dataclass(frozen=True, slots=True)
class Settlement:
    """Standing, qualifier and bias of each row, (n,): codes of `Standing`, `QUALIFIERS` and `BIASES`."""

    standing: UInt8
    qualifier: Int8
    bias: Int8


def masks_of(detect: Int16, nondetect: Int16) -> Masks:
    """Masks of single findings: one row a finding."""
    counts = (nondetect & int(Letter.UJ | Letter.R)) != 0
    leaning = np.where(counts, detect & int(_ESTIMATES), 0).astype(np.int16)
    return Masks(detect.astype(np.int16), nondetect.astype(np.int16), leaning)


def standing_of(mask: Int16) -> UInt8:
    """Standing by the gravest effect of the letters, (n,)."""
    out = np.full(mask.shape, Standing.USABLE, np.uint8)
    out[(mask & int(_ANY_ESTIMATE)) != 0] = Standing.ESTIMATED
    out[(mask & int(Letter.UNPROVEN)) != 0] = Standing.UNPROVEN
    out[(mask & int(Letter.R)) != 0] = Standing.REJECTED
    return out


def settle(masks: Masks, detected: Int8) -> Settlement:
    """Settle result rows.

    Parameters
    ----------
    masks : Masks
        Letters of all findings that count for each row, (n,).
    detected : int8 (n,)
        Status after blanks: 1 detect, 0 nondetect, -1 not stated. An unstated row is as bad as the worse of the two,
        and has no qualifier but R.
    """
    detect, nondetect, unstated = detected == 1, detected == 0, detected < 0
    mask = np.where(detect, masks.detect, masks.nondetect)
    mask = np.where(unstated, masks.detect | masks.nondetect, mask).astype(np.int16)
    rejected = (mask & int(Letter.R)) != 0
    letters = np.where(detect, masks.detect, masks.leaning) & int(_ESTIMATES)
    tentative = detect & ((masks.detect & int(Letter.NJ)) != 0)
    qualifier = np.zeros(mask.shape, np.int8)
    qualifier[detect & (letters != 0)] = QUALIFIERS.index("J")
    qualifier[detect & (letters == int(Letter.J_PLUS))] = QUALIFIERS.index("J+")
    qualifier[detect & (letters == int(Letter.J_MINUS))] = QUALIFIERS.index("J-")
    qualifier[tentative] = QUALIFIERS.index("NJ")
    qualifier[nondetect] = QUALIFIERS.index("U")
    qualifier[nondetect & ((masks.nondetect & int(Letter.UJ)) != 0)] = QUALIFIERS.index("UJ")
    qualifier[rejected] = QUALIFIERS.index("R")
    bias = np.zeros(mask.shape, np.int8)
    bias[letters != 0] = BIASES.index("unknown")
    bias[letters == int(Letter.J_PLUS)] = BIASES.index("high")
    bias[letters == int(Letter.J_MINUS)] = BIASES.index("low")
    bias[rejected | tentative | unstated] = 0
    return Settlement(standing_of(mask), qualifier, bias)

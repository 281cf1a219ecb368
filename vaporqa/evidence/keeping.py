"""Whether a number keeps a limit, and how far it is on the wrong side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Rule, Sense
from vaporqa.tables.values import Bool, Float

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: How measured numbers are compared: as they are, or rounded to the last digit of the limit as written.
EXACT, ROUNDED = "exact", "rounded"


def comparison(evidence: Evidence) -> str:
    """Return the comparison that the profile chose: `exact` or `rounded`."""
    return evidence.rulebook.choose.get("compare", EXACT)


def keeps_limit(limit: Limit, value: Float, compare: str = EXACT) -> Bool:
    """Rows that keep a limit, equality decided with the relative tolerance of the design.

    Parameters
    ----------
    limit : Limit
    value : float64 (m,)
        In the unit of `limit.value`.
    compare : str
        `exact`, or `rounded`: the number is rounded to the last digit of the limit before it is compared.
    """
    if compare == ROUNDED:
        value = rounded(limit, value)
    slack = abs(limit.value) * RELATIVE_TOLERANCE
    with np.errstate(invalid="ignore"):
        if limit.sense is Sense.AT_MOST:
            return np.asarray(value <= limit.value + slack)
        if limit.sense is Sense.AT_LEAST:
            return np.asarray(value >= limit.value - slack)
        if limit.sense is Sense.UNDER:
            return np.asarray(value < limit.value - slack)
        if limit.sense is Sense.OVER:
            return np.asarray(value > limit.value + slack)
        if limit.sense is Sense.WITHIN:
            return np.asarray(np.abs(value) <= limit.value + slack)
        upper = abs(limit.upper) * RELATIVE_TOLERANCE
        return np.asarray((value >= limit.value - slack) & (value <= limit.upper + upper))


def rounded(limit: Limit, value: Float) -> Float:
    """Round measured numbers to the last digit of a limit as written, halves to the even digit.

    A limit of `50 %` rounds to whole per cent, one of `0.5 inH2O` to tenths of an inch. Counts and plain factors
    (`2 x`) have no last digit: numbers held against them stay as they are.

    Parameters
    ----------
    limit : Limit
    value : float64 (m,)
        In the unit of `limit.value`; nan stays nan.

    Notes
    -----
    The rounding method of ASTM E29, halves to even (the convention from memory). Whether a number is halfway is decided
    with the relative tolerance of the design: 0.505 - 0.5 is not quite 0.005.
    """
    if not limit.last_digit:
        return value
    size = np.abs(value) if limit.sense is Sense.WITHIN else value
    with np.errstate(invalid="ignore"):
        # Counted from the limit: a unit that does not begin at nought (degF) keeps its own digits.
        digits = limit.digits + (size - limit.value) / limit.last_digit
        below = np.floor(digits)
        part = digits - below
        slack = RELATIVE_TOLERANCE * np.maximum(np.abs(digits), 1.0)
        half = np.abs(part - 0.5) <= slack
        up = np.where(half, below % 2 == 1, part > 0.5)
    return np.asarray(limit.value + (below + up - limit.digits) * limit.last_digit)


def badness(limit: Limit, value: Float) -> Float:
    """How far a value is on the wrong side, for choosing which of several entries to name."""
    if limit.sense in (Sense.AT_LEAST, Sense.OVER):
        return -value
    if limit.sense is Sense.WITHIN:
        return np.abs(value)
    if limit.sense is Sense.BETWEEN:
        return np.maximum(limit.value - value, value - limit.upper)
    return value


def reaches_gate(rule: Rule, value: Float, higher: Float) -> Bool:
    """Whether numbers are high enough to be judged by RPD: at the gate and above it."""
    gate = float(str(rule.options["gate"])) * higher
    with np.errstate(invalid="ignore"):
        return np.asarray(value >= gate * (1.0 - RELATIVE_TOLERANCE))

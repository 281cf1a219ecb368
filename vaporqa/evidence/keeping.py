"""Whether a number keeps a limit, and how far it is on the wrong side."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Rule, Sense
from vaporqa.tables.values import Bool, Float


def keeps_limit(limit: Limit, value: Float) -> Bool:
    """Rows that keep a limit, equality decided with the relative tolerance of the design."""
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

"""Measured numbers in the unit of the limit that they broke, as outputs print them."""

from __future__ import annotations

import numpy as np

from vaporqa.checks import CHECKS
from vaporqa.criteria import Limit, Rule
from vaporqa.evidence.measures import MEASURES
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import Float, Int16


def in_unit_of_limit(rule: Rule, limit: Int16, measured: Float) -> Float:
    """Bring canonical numbers into the unit of each entry's limit; nan where no limit broke."""
    out = np.full(measured.shape, np.nan)
    for index, one in enumerate(rule.limits):
        mine = limit == index
        if mine.any():
            out[mine] = _from_canonical(dimension_of(rule, one), one.unit, measured[mine])
    return out


def dimension_of(rule: Rule, limit: Limit) -> str:
    """Dimension of the numbers that a limit is held against."""
    for name in (limit.measure, rule.measure):
        if name:
            return MEASURES[name].dimension
    return CHECKS[rule.check].dimension


def _from_canonical(dimension: str, unit: str, value: Float) -> Float:
    if dimension == "ratio":
        return value * 100.0 if unit == "%" else value
    if dimension in ("percent", "count", "words", ""):
        return value
    known = parse_unit(unit, dimension)
    return np.asarray(known.from_canonical(value)) if known is not None else value


def unit_of(rule: Rule, limit: int) -> str:
    """Return the unit in which a finding's number stands: that of its limit, empty where none broke."""
    return rule.limits[limit].unit if limit >= 0 else ""

"""`canister_held`: outside air that a canister let in between the field and the laboratory, by absolute pressure.

What the pressure rose by, less what two gauges may differ by (the rule's limit `gauges`), over the pressure at receipt
is the share of outside air. A pressure that fell by more than the gauges differ breaks that limit itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Float

OPTIONS: dict[str, str] = {}
_GAUGES = "gauges"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every soil-gas sample in a canister."""
    home = evidence.tables.get("samples")
    if home is None:
        return ()
    gauges, compare = rule.limit(_GAUGES), comparison(evidence)
    (measured,) = evidence.measure(MEASURES[gauges.measure])
    known = measured.want < 0
    change = measured.value
    share = air_let_in(change, measured.extra["receipt"], gauges.value)
    fell = known & ~keeps_limit(gauges, np.minimum(change, 0.0), compare)
    outcome = np.where(known, Outcome.HOLDS, Outcome.UNPROVEN).astype(np.uint8)
    limit = np.full(len(change), -1, np.int16)
    for index in sorted(range(len(rule.limits)), key=lambda i: rule.pair(rule.limits[i].name).rank):
        one = rule.limits[index]
        limit[fell if one.name == _GAUGES else known & ~keeps_limit(one, share, compare)] = index
    outcome[limit >= 0] = Outcome.BROKEN
    outcome[~measured.concerned] = Outcome.NOT_CONCERNED
    limit[outcome != Outcome.BROKEN] = -1
    measured = replace(measured, value=np.where(fell, change, share))
    return (judged_from(measured, home.rows, outcome, limit),)


def air_let_in(change: Float, receipt: Float, allowance: float) -> Float:
    """Share of outside air in a canister, not below nought.

    Parameters
    ----------
    change, receipt : float64 (m,)
        What the absolute pressure rose by since the field, and what it is at receipt, in one unit.
    allowance : float
        What two gauges may differ by, in the same unit.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.maximum(change - allowance, 0.0) / receipt
    return np.asarray(np.where(receipt > 0, share, np.where(np.isfinite(change), 0.0, np.nan)))


__all__ = ["OPTIONS", "air_let_in", "run"]

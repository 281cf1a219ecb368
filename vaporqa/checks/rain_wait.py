"""`rain_wait`: time from the latest day of heavy rain to sampling.

The rule's limit `heavy` says how much rain in 24 hours counts, its limit `wait` how long to wait after it. Where no
such rain is on record the record itself must cover the wait. A date without a time is judged at both of its ends.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Rule, Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.drawing import own_sample, soil_gas_rows
from vaporqa.evidence.judged import Amounts, Facts, Judged, Stamps, judged_from
from vaporqa.evidence.keeping import keeps_limit
from vaporqa.evidence.sampling import is_subslab
from vaporqa.evidence.weather import RainGauge, Wait, rain_record
from vaporqa.outcomes import Outcome
from vaporqa.quantities.units import parse_unit

OPTIONS: dict[str, str] = {}
_HOLDS, _BROKEN, _OPEN, _UNREADABLE = range(4)


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every soil-gas sample that was not drawn from under a slab."""
    home, rain = evidence.tables.get("samples"), rain_record(evidence)
    if home is None:
        return ()
    rows, number = soil_gas_rows(evidence)
    start = evidence.samples.start.take(number)
    asked = Asked(rows, ~is_subslab(evidence, number))
    asked.need(np.full(len(rows), rain is not None), "the rain before sampling", ("weather", "rain"))
    asked.need(start, "when sampling began", ("samples", "started_at"))
    size = len(rows)
    said = np.full((2, size), _OPEN)
    seconds, depth, ended = np.full(size, np.nan), np.full(size, np.nan), np.zeros(size, np.int64)
    if rain is not None:
        wait = rule.limit("wait")
        gauge = RainGauge(rain, least_rain(rule.limit("heavy")))
        asking = lru_cache(maxsize=None)(lambda at: gauge.wait(at, wait.value))
        for index in np.flatnonzero(asked.concerned & start.known).tolist():
            for end, at in enumerate((int(start.low[index]), int(start.high[index]))):
                found: Wait = asking(at)
                said[end, index] = _verdict(wait, found)
                seconds[index], depth[index], ended[index] = found.seconds, found.depth, found.ended
    told = start.known & (rain is not None)
    unreadable = told & (said == _UNREADABLE).any(axis=0)
    agree = (said[0] == said[1]) & (said[0] <= _BROKEN)
    asked.need(~told | unreadable | (said != _OPEN).all(axis=0), "a rain record that reaches back far enough")
    asked.need(~told | ~unreadable, "a readable rain record", ("weather", "rain"))
    asked.hard_where(unreadable)
    asked.need(~told | agree | (said > _BROKEN).any(axis=0), "the time of day of sampling")
    outcome = np.where(asked.known, np.where(said[0] == _BROKEN, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    names = [one.name for one in rule.limits]
    limit = np.where(outcome == Outcome.BROKEN, names.index("wait"), -1).astype(np.int16)
    inch = parse_unit("in", "length")
    assert inch is not None
    facts: Facts = {
        "rain": Amounts(np.asarray(inch.from_canonical(depth)), "in"), "ended": Stamps(ended, np.zeros(size, bool)),
    }  # fmt: skip
    measured = asked.measured(seconds, facts=facts, samples=own_sample(number))
    return (judged_from(measured, home.rows, outcome, limit),)


def least_rain(heavy: Limit) -> float:
    """The least rain that counts, m; equality by the tolerance of the design."""
    return heavy.value * (1 + RELATIVE_TOLERANCE if heavy.sense is Sense.OVER else 1 - RELATIVE_TOLERANCE)


def _verdict(wait: Limit, found: Wait) -> int:
    if np.isfinite(found.seconds) and not keeps_limit(wait, np.array([found.seconds]))[0]:
        return _BROKEN
    if found.complete:
        return _HOLDS
    return _UNREADABLE if found.hard else _OPEN


__all__ = ["OPTIONS", "least_rain", "run"]

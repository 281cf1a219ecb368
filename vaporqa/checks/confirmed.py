"""`confirmed`: a share of a meter's high readings must be confirmed by another meter or by the laboratory.

The rule's limit `high` says which readings are high, its limit `share` how many of them must be confirmed.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.instruments import Meters, meters, number_of
from vaporqa.evidence.judged import Amounts, Judged, Labels, Links
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.reported import DETECTED, in_family
from vaporqa.outcomes import Outcome
from vaporqa.quantities.units import BY_VOLUME
from vaporqa.tables.values import Bool, Int64

OPTIONS = {"gas": "CAS number of the gas"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge the high readings of the folder together: one finding on the whole table."""
    table = evidence.tables.get("field_readings")
    if table is None:
        return ()
    met = meters(evidence, table)
    gas = number_of(evidence, str(rule.options["gas"]))
    limit, high = rule.limit("share"), rule.limit("high")
    compare = comparison(evidence)
    hit = table.counts & (met.analyte == gas) & keeps_limit(high, met.reading.value, compare)
    rows = np.flatnonzero(hit).astype(np.int64)
    confirmed = _by_another_meter(met, rows) | _by_laboratory(evidence, met, rows, gas, high)
    share = float(confirmed.mean()) if rows.size else 1.0
    broken = bool(rows.size) and not keeps_limit(limit, np.array([share]), compare)[0]
    state = np.zeros(table.rows, np.uint8)
    state[rows] = Outcome.BROKEN if broken else Outcome.HOLDS
    size = int(broken)
    own = Links(np.zeros(len(rows) * size, np.int64), rows if broken else rows[:0])
    return (
        Judged(
            state=state,
            row=np.full(size, -1, np.int64),
            outcome=np.full(size, Outcome.BROKEN, np.uint8),
            limit=np.full(size, [one.name for one in rule.limits].index(limit.name), np.int16),
            measured=np.full(size, share),
            want=np.full(size, -1, np.int16),
            wants=(),
            hard=np.zeros(size, bool),
            facts={
                "high": Labels(np.full(size, high.written, object)),
                "hits": Amounts(np.full(size, float(len(rows)))),
                "confirmed": Amounts(np.full(size, float(confirmed.sum()))),
            },
            alone=True,
            own=own,
        ),
    )


def _by_another_meter(met: Meters, rows: Int64) -> Bool:
    """Hits at the same place on the same day by a meter with another id."""
    out = np.zeros(len(rows), bool)
    seen: dict[tuple[int, int], set[int]] = {}
    spots = [(int(met.place[row]), int(met.at.day[row]), int(met.instrument[row])) for row in rows.tolist()]
    for place, day, instrument in spots:
        if place >= 0 and instrument >= 0:
            seen.setdefault((place, day), set()).add(instrument)
    for index, (place, day, instrument) in enumerate(spots):
        out[index] = instrument >= 0 and len(seen.get((place, day), set()) - {instrument}) > 0
    return out


def _by_laboratory(evidence: Evidence, met: Meters, rows: Int64, gas: int, high: Limit) -> Bool:
    """Hits at a probe of which the laboratory found as much in a sample."""
    results = evidence.results
    if results is None or not rows.size:
        return np.zeros(len(rows), bool)
    mine = np.flatnonzero(judged_results(evidence) & (results.detected == DETECTED) & (results.analyte == gas))
    volume = in_family(
        results.result.take(mine), np.full(len(mine), BY_VOLUME, np.int8), evidence.molar_mass(results.analyte[mine]),
        evidence.molar_volume,
    )  # fmt: skip
    found = mine[volume.known & keeps_limit(high, volume.value, comparison(evidence))]
    sample = results.sample[found]
    probe = evidence.samples.probe[sample[sample >= 0]]
    return np.isin(met.place[rows], 2 * probe[probe >= 0])

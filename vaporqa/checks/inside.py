"""`inside`: the collection time beside a result lies between the start and the end of its sample."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import moments
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.judged import Judged, Labels, Stamps, judged_from
from vaporqa.outcomes import Outcome

OPTIONS: dict[str, str] = {}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result that states when it was collected and whose sample has times of its own.

    A date without a time is the whole day: it is outside only where the whole day is.
    """
    table, results = evidence.tables.get("results"), evidence.results
    if table is None or results is None:
        return ()
    samples = evidence.tables.get("samples")
    everywhere = moments(table, "collected_at")
    rows = np.flatnonzero(judged_results(evidence) & (everywhere.known | everywhere.hard)).astype(np.int64)
    stated, row_of = everywhere.take(rows), evidence.sample_row_of_results[rows]
    start, end = moments(samples, "started_at").take(row_of), moments(samples, "ended_at").take(row_of)
    concerned = start.known | end.known
    early = stated.known & start.known & (stated.high < start.low)
    late = stated.known & end.known & (stated.low > end.high)
    broken = early | late
    outcome = np.where(broken, Outcome.BROKEN, np.where(stated.known, Outcome.HOLDS, Outcome.UNPROVEN))
    state = np.zeros(table.rows, np.uint8)
    state[rows] = np.where(concerned, outcome, Outcome.NOT_CONCERNED)
    kept = np.flatnonzero(concerned & (outcome != Outcome.HOLDS)).astype(np.int64)
    row, stated = rows[kept], stated.take(kept)
    early, start, end = early[kept], start.take(kept), end.take(kept)
    asked = Asked(row, np.ones(len(row), bool))
    asked.need(stated, "the collection time beside the result", ("results", "collected_at"))
    edge = np.where(early, start.low, end.low)
    date_only = np.where(early, start.date_only, end.date_only)
    side = np.where(early, "before its sample began", "after its sample ended").astype(object)
    measured = asked.measured(
        np.full(len(row), np.nan),
        facts={
            "analyte": Labels(evidence.analyte_names(row)),
            "collected": Stamps(stated.low, stated.date_only),
            "side": Labels(side),
            "edge": Stamps(edge, date_only),
        },
    )
    limit = np.where(broken[kept], 0, -1).astype(np.int16)
    judged = judged_from(measured, table.rows, state[row], limit)
    return (replace(judged, state=state),)

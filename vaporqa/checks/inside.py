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
    samples, row_of = evidence.tables.get("samples"), evidence.sample_row_of_results
    stated = moments(table, "collected_at")
    start, end = moments(samples, "started_at").take(row_of), moments(samples, "ended_at").take(row_of)
    concerned = judged_results(evidence) & (stated.known | stated.hard) & (start.known | end.known)
    early = stated.known & start.known & (stated.high < start.low)
    late = stated.known & end.known & (stated.low > end.high)
    broken = concerned & (early | late)
    outcome = np.where(broken, Outcome.BROKEN, np.where(stated.known, Outcome.HOLDS, Outcome.UNPROVEN))
    state = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    row = np.flatnonzero(broken | (concerned & stated.hard)).astype(np.int64)
    asked = Asked(row, np.ones(len(row), bool))
    asked.need(stated.take(row), "the collection time beside the result", ("results", "collected_at"))
    edge = np.where(early[row], start.low[row], end.low[row])
    date_only = np.where(early[row], start.date_only[row], end.date_only[row])
    side = np.where(early[row], "before its sample was begun", "after its sample was ended").astype(object)
    measured = asked.measured(
        np.full(len(row), np.nan),
        facts={
            "analyte": Labels(evidence.analyte_names(row)),
            "collected": Stamps(stated.low[row], stated.date_only[row]),
            "side": Labels(side),
            "edge": Stamps(edge, date_only),
        },
    )
    limit = np.where(broken[row], 0, -1).astype(np.int16)
    judged = judged_from(measured, table.rows, state[row], limit)
    return (replace(judged, state=state),)

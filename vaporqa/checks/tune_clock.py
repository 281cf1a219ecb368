"""`tune_clock`: a result is analysed within the window after a tune that passed.

Of date-only stamps the longest span must fit, and only a shortest span that does not fit breaks the limit.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.judged import Judged, Labels, Stamps, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.tuning import tuned_results
from vaporqa.outcomes import Outcome

OPTIONS: dict[str, str] = {}

WINDOW, BEFORE, FAILED = "window", "before", "failed"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result that a mass spectrometer measured."""
    table = evidence.tables.get("results")
    if table is None or evidence.results is None:
        return ()
    found = tuned_results(evidence)
    names = [one.name for one in rule.limits]
    window, compare = rule.limit(WINDOW), comparison(evidence)
    both = found.at.known & found.analysed.known
    failed = found.passed.known & (found.passed.value == 0)
    late = both & (found.shortest >= 0) & ~keeps_limit(window, found.shortest, compare)
    early = both & (found.shortest < 0)
    limit = np.full(len(found.row), -1, np.int16)
    limit[late], limit[early], limit[failed] = names.index(WINDOW), names.index(BEFORE), names.index(FAILED)
    asked = Asked(found.row, found.concerned)
    asked.need(found.named | (limit >= 0), "the tune", ("results", "tune_id"))
    asked.need((found.tune >= 0) | (limit >= 0), "a tune under the id that is named", ("lab_qc", "*"), rows=asked.known)
    for part, phrase, place in (
        (found.at, "the time of the tune", ("lab_qc", "analyzed_at")),
        (found.analysed, "the time of analysis", ("results", "analyzed_at")),
        (found.passed, "whether the tune passed", ("lab_qc", "passed")),
    ):
        asked.need(part, phrase, place, rows=asked.known & (limit < 0))
    fits = both & keeps_limit(window, found.longest, compare)
    asked.need(fits | (limit >= 0), "the time of day of tune and analysis", rows=asked.known)
    outcome = np.where(limit >= 0, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(found.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    ids = np.array([*evidence.qc_ids.names, "none"], dtype=object)
    number = evidence.qc_ids.of("results", "tune_id", table.rows)[found.row]
    by_time = both & ((limit < 0) | (limit == names.index(WINDOW)))
    measured = asked.measured(
        np.where(by_time, found.shortest, np.nan),
        facts={
            "analyte": Labels(evidence.analyte_names(found.row)),
            "tune": Labels(ids[number]),
            "from": Stamps(found.at.low, found.at.date_only, "laboratory"),
            "to": Stamps(found.analysed.low, found.analysed.date_only, "laboratory"),
        },
    )
    limit = np.where(outcome == Outcome.BROKEN, limit, -1).astype(np.int16)
    return (judged_from(measured, table.rows, outcome, limit),)

"""`sensitivity`: a nondetect shows that a screening level is kept only where its limit is not above that level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.judged import Judged, Labels, Want, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.limits import ratio, screened
from vaporqa.evidence.once import said_once
from vaporqa.outcomes import Outcome

OPTIONS: dict[str, str] = {}
_LIMIT_PLACES = (("results", "reporting_limit"), ("results", "nondetect_at"))


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every nondetect in use; a level or limit that is missing is said once an analyte."""
    table, found = evidence.tables.get("results"), screened(evidence)
    if table is None or found is None:
        return ()
    rows, ceiling, level = found.row, found.ceiling, found.level
    hard = found.unread | ceiling.hard
    silent = ~level.known & ~hard & found.matrix_open
    no_level = ~level.known & ~hard & ~silent
    no_limit = level.known & ~ceiling.known & ~hard
    share = ratio(ceiling, level)
    broken = ~hard & np.isfinite(share) & ~keeps_limit(rule.limits[0], share, comparison(evidence))
    state = np.zeros(table.rows, np.uint8)
    state[rows] = np.where(broken, Outcome.BROKEN, np.where(hard | silent, Outcome.UNPROVEN, Outcome.HOLDS))
    speaks = broken | hard
    kept = rows[speaks]
    names = evidence.analyte_names(kept)
    asked = Asked(kept, np.ones(len(kept), bool))
    asked.need(~found.unread[speaks], "whether it was detected", ("results", "result"))
    asked.need(~ceiling.hard[speaks], "the reporting limit", *_LIMIT_PLACES)
    asked.hard_where(hard[speaks])
    measured = asked.measured(
        share[speaks],
        facts={
            "analyte": Labels(names),
            "ceiling": evidence.shown(ceiling.value[speaks], ceiling.family[speaks]),
            "level": evidence.shown(level.value[speaks], level.family[speaks]),
        },
    )
    outcome = np.where(broken[speaks], Outcome.BROKEN, Outcome.UNPROVEN).astype(np.uint8)
    judged = judged_from(measured, table.rows, outcome, np.where(broken[speaks], 0, -1).astype(np.int16), alone=True)
    judged = replace(judged, state=state)
    at_all = "screening_levels" in evidence.tables
    subject = evidence.analyte_names(rows[no_level])
    want = Want("a screening level for it and for the matrix of its sample", (("screening_levels", "level"),))
    if not at_all:
        want = Want("a table of screening levels", (("screening_levels", "*"),))
        subject = np.full(int(no_level.sum()), "", object)
    judged = said_once(judged, rows[no_level], subject, want, "analyte")
    limits = Want("a limit of the nondetect that can be brought to the unit of the level", _LIMIT_PLACES)
    return (said_once(judged, rows[no_limit], evidence.analyte_names(rows[no_limit]), limits, "analyte"),)

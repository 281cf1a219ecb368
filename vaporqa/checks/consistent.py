"""`consistent`: result, status, flags and limits of one row agree."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.consistency import reported
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.outcomes import Outcome

OPTIONS: dict[str, str] = {}

#: Names of limits, the gravest first: a row is broken by the first that it does not keep.
_ORDER = (
    "status", "stated", "zero", "under_detection_limit", "flag", "negative", "limits_in_order", "one_of_the_limits",
)  # fmt: skip
#: How many of them, from the front, are more than a note.
_GRAVE = 5


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result; an unreadable cell leaves it unproven, unless a grave contradiction shows without it."""
    table, found = evidence.tables.get("results"), reported(evidence)
    if table is None or found is None:
        return ()
    broken_by = (
        found.contradicts, found.unstated, found.zero, found.under_detection_limit, found.flag, found.negative,
        found.disordered, found.unlike_limits,
    )  # fmt: skip
    names = [limit.name for limit in rule.limits]
    limit = np.full(len(found.row), -1, np.int16)
    for name, broken in reversed(list(zip(_ORDER, broken_by, strict=True))):
        limit[broken] = names.index(name)
    grave = np.isin(limit, [names.index(name) for name in _ORDER[:_GRAVE]])
    # A note does not hide that a cell cannot be read.
    unknown = found.hard & ~grave
    limit[unknown] = -1
    outcome = np.where(limit >= 0, Outcome.BROKEN, np.where(unknown, Outcome.UNPROVEN, Outcome.HOLDS))
    state = np.zeros(table.rows, np.uint8)
    state[found.row] = outcome
    speaks = outcome != Outcome.HOLDS
    row = found.row[speaks]
    asked = Asked(row, np.ones(len(row), bool))
    asked.need(~found.hard[speaks] | grave[speaks], "the result or one of its limits", ("results", "result"))
    asked.hard_where(found.hard[speaks])
    facts = {
        name: evidence.shown(values.value[speaks], values.family[speaks])
        for name, values in (
            ("result", found.result), ("beside", found.beside), ("reporting_limit", found.reporting_limit),
            ("detection_limit", found.detection_limit), ("limit_of_detection", found.limit_of_detection),
        )
    }  # fmt: skip
    measured = asked.measured(
        np.full(len(row), np.nan), facts={"analyte": Labels(evidence.analyte_names(row)), **facts}
    )
    judged = judged_from(measured, table.rows, outcome[speaks].astype(np.uint8), limit[speaks])
    return (replace(judged, state=state),)

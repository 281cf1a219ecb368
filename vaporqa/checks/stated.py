"""`stated`: cells that must be filled, and yes/no cells that must say yes."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, words, yes_no
from vaporqa.evidence.conditions import conditions
from vaporqa.evidence.drawing import soil_gas_of_rows
from vaporqa.evidence.judged import Judged, Labels, Links, judged_from
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.outcomes import Outcome

OPTIONS = {
    "filled": "columns (separated by blanks) that must hold something",
    "yes": "yes/no columns (separated by blanks) that must say yes",
}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every row that meets the conditions of the rule."""
    table = evidence.tables.get(rule.row)
    if table is None:
        return ()
    met = conditions(evidence, table, rule.where)
    asked = Asked(np.arange(table.rows, dtype=np.int64), table.counts & (met.yes | met.unknown))
    for index, want in enumerate(met.wants):
        asked.need(met.want != index, want.phrase, *want.places)
    asked.hard_where(met.hard)
    for column in str(rule.options.get("filled", "")).split():
        value, hard = words(table, column)
        phrase = f"the {column.replace('_', ' ')}"
        asked.need(Known(np.zeros(table.rows), value != "", hard), phrase, (rule.row, column))
    denied = np.zeros(table.rows, bool)
    which = np.full(table.rows, "", object)
    for column in str(rule.options.get("yes", "")).split():
        answer = yes_no(table, column)
        denied |= answer.known & (answer.value == 0)
        which[(which == "") & denied] = column.replace("_", " ")
        asked.need(answer, f"the answer to '{column.replace('_', ' ')}'", (rule.row, column))
    outcome = np.where(denied & ~met.unknown, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    of_rows = soil_gas_of_rows if table.name == "probes" else samples_of_rows
    samples = of_rows(evidence, table) if rule.reaches == "sample" else Links.none()
    measured = asked.measured(np.full(table.rows, np.nan), facts={"denied": Labels(which)}, samples=samples)
    limit = np.where((outcome == Outcome.BROKEN) & bool(rule.limits), 0, -1).astype(np.int16)
    return (judged_from(measured, table.rows, outcome, limit),)

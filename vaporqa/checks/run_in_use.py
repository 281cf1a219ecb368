"""`run_in_use`: of several runs of one result one counts, and a value over range has a run in range behind it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.evidence.runs import IN_USE, SET_ASIDE, UNDECIDED, siblings_in_range
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int16, Int64

OPTIONS = {"look_at": "`range`: values flagged over range; `use`: which of several values counts"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every target result, runs set aside included; copies are not concerned."""
    if evidence.tables.get("results") is None or evidence.results is None:
        return ()
    if rule.options.get("look_at") == "range":
        return (_over_range(rule, evidence),)
    return (_in_use(rule, evidence),)


def _index(rule: Rule, name: str) -> int:
    return [limit.name for limit in rule.limits].index(name)


def _judged(evidence: Evidence, limit: Int16, other: Int64) -> Judged:
    table, results = evidence.tables.get("results"), evidence.results
    assert table is not None
    assert results is not None
    broken = results.target & (limit >= 0)
    state = np.where(results.target, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.NOT_CONCERNED)
    row = np.flatnonzero(broken).astype(np.int64)
    names = np.append(table.keys, "")
    why = evidence.runs.why[row]
    said = np.where(why == "", "the laboratory says that it is not in use and names no other", why).astype(object)
    measured = Asked(row, np.ones(len(row), bool)).measured(
        np.full(len(row), np.nan),
        facts={
            "analyte": Labels(evidence.analyte_names(row)), "other": Labels(names[other[row]]), "why": Labels(said),
            "result": evidence.shown(results.result.value[row], results.result.family[row]),
        },
    )  # fmt: skip
    judged = judged_from(measured, table.rows, np.full(len(row), Outcome.BROKEN, np.uint8), limit[row])
    return replace(judged, state=state.astype(np.uint8))


def _over_range(rule: Rule, evidence: Evidence) -> Judged:
    results = evidence.results
    assert results is not None
    flagged: Bool = results.target & results.flagged("over_range")
    sibling, linked = siblings_in_range(evidence)
    limit = np.full(len(flagged), -1, np.int16)
    limit[flagged] = _index(rule, "in_range")
    limit[flagged & (sibling >= 0)] = _index(rule, "sibling")
    limit[flagged & (sibling >= 0) & linked] = _index(rule, "run_again")
    return _judged(evidence, limit, sibling)


def _in_use(rule: Rule, evidence: Evidence) -> Judged:
    runs, table = evidence.runs, evidence.tables.get("results")
    assert table is not None
    limit = np.full(table.rows, -1, np.int16)
    limit[runs.several & (runs.in_use == IN_USE)] = _index(rule, "one_value")
    aside = (runs.in_use == SET_ASIDE) & (table.copy_of < 0)
    limit[aside] = _index(rule, "set_aside")
    # A value that is set aside for nothing leaves the result without any.
    limit[(runs.in_use == UNDECIDED) | (aside & (runs.counts_for < 0))] = _index(rule, "undecided")
    return _judged(evidence, limit, runs.counts_for)

"""`recovery`: recoveries of surrogates and control samples against the laboratory's printed limits, else the default.

A surrogate that fails in a run diluted beyond the limit of another rule is not judged by its number: that rule says so
instead. The same recoveries can be held against the laboratory's own flag.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.absence import whole_table
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.batches import results_of_batches
from vaporqa.evidence.calibrations import unserved
from vaporqa.evidence.cells import Known
from vaporqa.evidence.judged import Amounts, Judged, Labels, Links, Want, Weighed, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.recoveries import CONTROL_KINDS, Recoveries, control_samples, results_of_runs, surrogates
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int16, Texts, UInt8

OPTIONS = {
    "of": "surrogates or control_samples",
    "diluted_out": "id of the rule that speaks instead where a surrogate fails in a run diluted beyond its limit",
    "as_in": "id of the rule whose limits tell which recoveries fail",
    "asks": "number (the default), dilution of those that fail, or whether the laboratory's flag agrees",
}

#: Names of limits: the default low and high, the laboratory's printed ones, and the gross one that always counts.
LOW, HIGH, GROSS, PRINTED_LOW, PRINTED_HIGH = "low", "high", "gross", "printed_low", "printed_high"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every recovery, and every result whose batch and analyte have no control sample."""
    asks = str(rule.options.get("asks", "number"))
    by_batch = rule.options["of"] != "surrogates"
    found = control_samples(evidence) if by_batch else surrogates(evidence)
    lacking = _without_control_sample(evidence) if by_batch and asks == "number" else ()
    table = evidence.tables.get(found.table)
    return (*(() if table is None else _of_rows(rule, evidence, found, table.rows)), *lacking)


def _of_rows(rule: Rule, evidence: Evidence, found: Recoveries, rows: int) -> tuple[Judged, ...]:
    asks = str(rule.options.get("asks", "number"))
    base = evidence.rulebook.rule(str(rule.options["as_in"])) if "as_in" in rule.options else rule
    compare = comparison(evidence)
    weighed = _weigh(base, found, compare)
    if asks == "dilution":
        return (_dilution(rule, found, weighed, rows),)
    if asks == "flag":
        return (_flag(rule, evidence, base, found, weighed, rows),)
    concerned = ~_diluted_out(rule, evidence, found, weighed)
    asked = Asked(found.row, concerned)
    asked.need(found.value, "the recovery", (found.table, "recovery"), (found.table, "result"))
    doubtful = found.low.hard | found.high.hard
    readable = Known(found.value.value, ~doubtful | weighed.gross, doubtful)
    asked.need(readable, "a readable limit of the laboratory", (found.table, "recovery_low"), rows=asked.known)
    outcome = np.where(asked.known, np.where(weighed.limit >= 0, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    limit = np.where(outcome == Outcome.BROKEN, weighed.limit, -1).astype(np.int16)
    measured = asked.measured(found.value.value, facts=_facts(found), results=_reached(evidence, found, outcome))
    printed = {name: np.where(one.known, one.value, np.nan) for name, one in (("low", found.low), ("high", found.high))}
    kept = Weighed(found.row, outcome, weighed.limit, measured.value, printed)
    return (replace(judged_from(measured, rows, outcome, limit), weighed=kept),)


def _without_control_sample(evidence: Evidence) -> tuple[Judged, ...]:
    """Findings on the whole table: one a batch some of whose results have no control sample of their analyte."""
    no = np.zeros(len(evidence.results.detected) if evidence.results is not None else 0, bool)
    lacking = unserved(evidence, CONTROL_KINDS, "control sample", no, by="batch_id")
    if not lacking.phrase:
        return ()
    table = evidence.tables.get("lab_qc")
    each = np.array([len(rows) for rows in lacking.rows], dtype=np.int64)
    links = Links(np.repeat(np.arange(len(each)), each).astype(np.int64), np.concatenate(lacking.rows))
    wants = tuple(Want(phrase, place) for phrase, place in zip(lacking.phrase, lacking.place, strict=True))
    subject: Texts = np.array(lacking.subject, dtype=object)
    return (whole_table(table.rows if table is not None else 0, wants, results=links, subject=subject),)


@dataclass(frozen=True, slots=True)
class _Weighed:
    """Which limit of the rule each recovery breaks, -1 for none, and whether it is the gross one."""

    limit: Int16
    gross: Bool


def _weigh(rule: Rule, found: Recoveries, compare: str) -> _Weighed:
    names = [one.name for one in rule.limits]
    value, known = found.value.value, found.value.known
    limit = np.full(len(found.row), -1, np.int16)
    slack = 1.0 + RELATIVE_TOLERANCE
    with np.errstate(invalid="ignore"):
        too_high = known & found.high.known & (value > found.high.value * slack)
        too_low = known & found.low.known & (value < found.low.value / slack)
    by_default_high = known & ~found.high.known & ~found.high.hard & ~keeps_limit(rule.limit(HIGH), value, compare)
    by_default_low = known & ~found.low.known & ~found.low.hard & ~keeps_limit(rule.limit(LOW), value, compare)
    gross = known & ~keeps_limit(rule.limit(GROSS), value, compare)
    limit[by_default_high], limit[by_default_low] = names.index(HIGH), names.index(LOW)
    limit[too_high], limit[too_low] = names.index(PRINTED_HIGH), names.index(PRINTED_LOW)
    limit[gross] = names.index(GROSS)
    return _Weighed(limit, gross)


def _diluted_out(rule: Rule, evidence: Evidence, found: Recoveries, weighed: _Weighed) -> Bool:
    """Failing surrogates of runs that are diluted beyond the limit of the rule that speaks of them."""
    if "diluted_out" not in rule.options:
        return np.zeros(len(found.row), bool)
    (limit,) = evidence.rulebook.rule(str(rule.options["diluted_out"])).limits
    beyond = found.dilution.known & ~keeps_limit(limit, found.dilution.value)
    return np.asarray((weighed.limit >= 0) & beyond)


def _dilution(rule: Rule, found: Recoveries, weighed: _Weighed, rows: int) -> Judged:
    asked = Asked(found.row, weighed.limit >= 0)
    asked.need(found.dilution, "the dilution of the run", ("results", "dilution"))
    (limit,) = rule.limits
    broken = ~keeps_limit(limit, found.dilution.value)
    outcome = np.where(asked.known, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    index = np.where(outcome == Outcome.BROKEN, 0, -1).astype(np.int16)
    return judged_from(asked.measured(found.dilution.value, facts=_facts(found)), rows, outcome, index)


def _flag(rule: Rule, evidence: Evidence, base: Rule, found: Recoveries, weighed: _Weighed, rows: int) -> Judged:
    concerned = (found.flagged | found.flags_used) & ~_diluted_out(base, evidence, found, weighed)
    asked = Asked(found.row, concerned)
    asked.need(found.value, "the recovery", ("results", "recovery"), ("results", "result"))
    disagrees = found.flagged != (weighed.limit >= 0)
    outcome = np.where(asked.known, np.where(disagrees, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    limit = np.where((outcome == Outcome.BROKEN) & bool(rule.limits), 0, -1).astype(np.int16)
    return judged_from(asked.measured(found.value.value, facts=_facts(found)), rows, outcome, limit)


def _facts(found: Recoveries) -> dict[str, Amounts | Labels]:
    flag = np.where(found.flagged, "outside its limits", "inside its limits").astype(object)
    return {
        "analyte": Labels(found.name),
        "recovery": Amounts(found.value.value, "%"),
        "printed_low": Amounts(found.low.value, "%"),
        "printed_high": Amounts(found.high.value, "%"),
        "flag": Labels(flag),
    }


def _reached(evidence: Evidence, found: Recoveries, outcome: UInt8) -> Links:
    """What hangs on the recoveries that speak: the sample's run, or the batch and analyte."""
    speaks = np.flatnonzero((outcome == Outcome.BROKEN) | (outcome == Outcome.UNPROVEN))
    rows = found.row[speaks]
    links = results_of_runs(evidence, rows) if found.table == "results" else results_of_batches(evidence, rows)
    return Links(speaks[links.entry].astype(np.int64), links.target)

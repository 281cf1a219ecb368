"""`agreement`: two numbers that should be the same gas twice.

RPD where both are detected at five times the higher limit or more; else the difference, a nondetect counting at its
ceiling, against a multiple of the higher limit. Two nondetects agree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.judged import Amounts, Facts, Judged, Labels, Weighed, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit, reaches_gate
from vaporqa.evidence.pairs import compare
from vaporqa.evidence.reported import DETECTED
from vaporqa.outcomes import Outcome
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.tables.values import Bool, Int64, Table, Texts

OPTIONS = {"gate": "multiple of the higher limit from which RPD is judged"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge both members of every duplicate pair of results."""
    table = evidence.tables.get("results")
    if table is None or evidence.results is None:
        return ()
    pairs = evidence.pairs
    first = np.concatenate([pairs.first, pairs.second]).astype(np.int64)
    second = np.concatenate([pairs.second, pairs.first]).astype(np.int64)
    row = np.concatenate([first, pairs.odd]).astype(np.int64)
    paired = np.arange(len(row)) < len(first)
    asked = Asked(row, np.ones(len(row), bool))
    members = np.concatenate([np.zeros(len(first), np.int64), pairs.odd_members])
    alone, crowded = ~paired & (members == 1), ~paired & (members > 2)
    asked.need(~alone, "the other member of its pair", ("results", "pair_id"))
    asked.need(~crowded, "which two of the members of its pair belong together", ("results", "pair_id"))
    judged = _judge(rule, evidence, table, asked, row, np.concatenate([second, pairs.odd]), paired)
    return (judged,)


def _judge(
    rule: Rule, evidence: Evidence, table: Table, asked: Asked, row: Int64, other: Int64, paired: Bool
) -> Judged:
    both = compare(evidence, row, other)
    to_compare = paired & ~both.neither
    asked.need(both.known, "a readable result of both members", ("results", "result"), rows=to_compare)
    asked.need(both.limits_known, "a reporting limit to judge by", ("results", "reporting_limit"), rows=to_compare)
    asked.hard_where(to_compare & both.hard)
    by_rpd = both.both & reaches_gate(rule, both.first, both.higher) & reaches_gate(rule, both.second, both.higher)
    rpd = relative_percent_difference(both.first, both.second) / 100.0
    with np.errstate(divide="ignore", invalid="ignore"):
        multiple = np.abs(both.first - both.second) / both.higher
    rpd_limit, gap_limit = rule.limit("rpd"), rule.limit("difference")
    compare_by = comparison(evidence)
    keeps = both.neither | np.where(
        by_rpd, keeps_limit(rpd_limit, rpd, compare_by), keeps_limit(gap_limit, multiple, compare_by)
    )
    outcome = np.where(asked.known, np.where(keeps, Outcome.HOLDS, Outcome.BROKEN), Outcome.UNPROVEN)
    index = np.where(by_rpd, rule.limits.index(rpd_limit), rule.limits.index(gap_limit))
    limit = np.where(outcome == Outcome.BROKEN, index, -1).astype(np.int16)
    facts: Facts = {
        "analyte": Labels(evidence.analyte_names(row)),
        "result": evidence.shown(both.first, both.family),
        "other_result": evidence.shown(both.second, both.family),
        "status": Labels(_status(evidence, row)),
        "other_status": Labels(_status(evidence, other)),
        "other": Labels(np.where(paired, table.keys[other], "").astype(object)),
        "higher_limit": evidence.shown(both.higher, both.family),
        "rpd": Amounts(rpd * 100.0, "%"),
    }
    measured = asked.measured(np.where(by_rpd, rpd, multiple), facts=facts)
    worst = np.where(by_rpd, rpd / rpd_limit.value, multiple / gap_limit.value)
    judged = judged_from(measured, table.rows, outcome.astype(np.uint8), limit, worst=worst)
    # Each pair stands twice, once from either side; the first of them is enough to draw it.
    once = slice(0, int(paired.sum()) // 2)
    detected = evidence.results.detected if evidence.results is not None else row
    numbers = {
        "other": other.astype(np.float64), "first": both.first, "second": both.second, "higher": both.higher,
        "first_detected": detected[row] == 1, "second_detected": detected[other] == 1,
    }  # fmt: skip
    weighed = Weighed(
        row[once], outcome[once].astype(np.uint8), index[once].astype(np.int16), measured.value[once],
        {name: np.asarray(values[once], dtype=np.float64) for name, values in numbers.items()},
    )  # fmt: skip
    return replace(judged, weighed=weighed)


def _status(evidence: Evidence, row: Int64) -> Texts:
    """How a sentence goes on to a number: a nondetect counts at its limit and is no value."""
    assert evidence.results is not None
    return np.where(evidence.results.detected[row] == DETECTED, "found at", "not detected at").astype(object)

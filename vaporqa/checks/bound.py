"""`bound`: one measured quantity held against the limits of the rule.

A row is broken by the gravest limit it does not keep, holds where it keeps all of them (with `either`, any one), and is
unproven where the quantity, or a cell that a condition needs, is not known. An upper bound (a nondetect counted at its
limit) that does not keep a limit proves nothing, nor does a lower bound (the shortest pause between two dates) that
keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Option, Rule, Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.conditions import Met, conditions
from vaporqa.evidence.judged import Judged, Labels, Measured, Want, judged_from
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int16, UInt8

OPTIONS = {
    "either": "any one limit is enough",
    "once_per": "`sample`: always speaks row by row, never once for a whole table",
}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every entry of the rule's measure."""
    return tuple(_judge(rule, evidence, measured) for measured in evidence.measure(MEASURES[rule.measure]))


def _judge(rule: Rule, evidence: Evidence, measured: Measured) -> Judged:
    table = evidence.tables.get(measured.table or rule.row)
    if table is None:
        return judged_from(measured, 0, np.empty(0, np.uint8), np.empty(0, np.int16))
    met = conditions(evidence, table, rule.where)
    measured = _with_conditions(measured, met)
    concerned = measured.concerned & (met.yes | met.unknown)[measured.row]
    outcome, limit, value, worst = _outcomes(rule, evidence, measured)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    bare = (outcome == Outcome.UNPROVEN) & (measured.want < 0)
    if bare.any():
        low_enough = Want("a reporting limit low enough to prove it", ())
        exact = Want("a time of day that would prove it", ())
        least = measured.only_at_least if measured.only_at_least is not None else np.zeros(len(bare), bool)
        number = len(measured.wants) + (least & bare)
        want = np.where(bare, number, measured.want).astype(np.int16)
        measured = replace(measured, want=want, wants=(*measured.wants, low_enough, exact))
    measured = replace(measured, value=value)
    return judged_from(measured, table.rows, outcome, limit, worst=worst, alone="once_per" in rule.options)


def _with_conditions(measured: Measured, met: Met) -> Measured:
    """Entries whose condition cannot be told lack that cell before anything else."""
    unknown = met.unknown[measured.row]
    if not unknown.any():
        return measured
    offset = len(measured.wants)
    want = np.where(unknown, met.want[measured.row] + offset, measured.want).astype(np.int16)
    hard = np.where(unknown, met.hard[measured.row], measured.hard)
    value = np.where(unknown, np.nan, measured.value)
    return replace(measured, value=value, want=want, wants=(*measured.wants, *met.wants), hard=hard)


def _outcomes(rule: Rule, evidence: Evidence, measured: Measured) -> tuple[UInt8, Int16, Float, Float]:
    size = len(measured.row)
    base_known = (measured.want < 0) & np.isfinite(measured.value)
    broken_rank = np.full(size, -1, np.int64)
    limit = np.full(size, -1, np.int16)
    value = measured.value.copy()
    worst = np.full(size, -np.inf)
    any_holds, any_unknown, any_fits = (np.zeros(size, bool) for _ in range(3))
    order = sorted(range(len(rule.limits)), key=lambda i: rule.pair(rule.limits[i].name).rank)
    for rank, index in enumerate(order):
        one = rule.limits[index]
        fits = case_fits(one.when, measured)
        any_fits |= fits
        number, known, hard = measured.value, base_known, measured.hard
        if one.measure and one.measure != rule.measure:
            number, known, hard = _other(evidence, one, measured)
        keeps = keeps_limit(one, number)
        broken = fits & known & ~keeps
        any_holds |= fits & known & keeps
        # An alternative that merely was not recorded is no alternative; an unreadable one leaves the rule open.
        any_unknown |= fits & ~known & (~base_known | hard if rule.options.get("either") else True)
        graver = broken & (rank > broken_rank)
        broken_rank[graver], limit[graver] = rank, index
        if one.measure and one.measure != rule.measure:
            value[graver] = number[graver]
        worst[graver] = badness(one, number)[graver]
    broken = limit >= 0
    if rule.options.get("either"):
        # Any limit that is kept is enough; a limit that cannot be judged leaves it open.
        broken &= ~any_holds & ~any_unknown
        holds = any_holds
    else:
        holds = ~broken & ~any_unknown & any_fits
    outcome = np.full(size, Outcome.UNPROVEN, np.uint8)
    outcome[holds] = Outcome.HOLDS
    outcome[broken] = Outcome.BROKEN
    outcome[~any_fits & (measured.want < 0)] = Outcome.NOT_CONCERNED
    if measured.only_at_most is not None:
        outcome[broken & measured.only_at_most] = Outcome.UNPROVEN
    if measured.only_at_least is not None:
        outcome[holds & measured.only_at_least] = Outcome.UNPROVEN
    return outcome, np.where(outcome == Outcome.BROKEN, limit, -1).astype(np.int16), value, worst


def _other(evidence: Evidence, limit: Limit, measured: Measured) -> tuple[Float, Bool, Bool]:
    """Another quantity of the same entries."""
    (other,) = evidence.measure(MEASURES[limit.measure])
    if not np.array_equal(other.row, measured.row):
        raise ValueError(f"measures of one rule must have the same entries: {limit.measure}")
    return other.value, (other.want < 0) & np.isfinite(other.value), other.hard


def case_fits(when: Mapping[str, Option], measured: Measured) -> Bool:
    """Entries for which a limit is meant."""
    fits = np.ones(len(measured.row), bool)
    for key, wanted in when.items():
        listed = [str(word) for word in (wanted if isinstance(wanted, tuple) else (wanted,))]
        case = measured.cases.get(key)
        if case is None:
            fact = measured.facts[key]
            case = fact.values if isinstance(fact, Labels) else np.full(len(measured.row), "", object)
        fits &= np.isin(case.astype(str), listed)
    return fits


def keeps_limit(limit: Limit, value: Float) -> Bool:
    """Rows that keep a limit, equality decided with the relative tolerance of the design."""
    slack = abs(limit.value) * RELATIVE_TOLERANCE
    with np.errstate(invalid="ignore"):
        if limit.sense is Sense.AT_MOST:
            return np.asarray(value <= limit.value + slack)
        if limit.sense is Sense.AT_LEAST:
            return np.asarray(value >= limit.value - slack)
        if limit.sense is Sense.UNDER:
            return np.asarray(value < limit.value - slack)
        if limit.sense is Sense.OVER:
            return np.asarray(value > limit.value + slack)
        if limit.sense is Sense.WITHIN:
            return np.asarray(np.abs(value) <= limit.value + slack)
        upper = abs(limit.upper) * RELATIVE_TOLERANCE
        return np.asarray((value >= limit.value - slack) & (value <= limit.upper + upper))


def badness(limit: Limit, value: Float) -> Float:
    """How far a value is on the wrong side, for choosing which of several entries to name."""
    if limit.sense in (Sense.AT_LEAST, Sense.OVER):
        return -value
    if limit.sense is Sense.WITHIN:
        return np.abs(value)
    if limit.sense is Sense.BETWEEN:
        return np.maximum(limit.value - value, value - limit.upper)
    return value


__all__ = ["OPTIONS", "badness", "case_fits", "keeps_limit", "run"]

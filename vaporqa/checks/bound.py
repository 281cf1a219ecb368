"""`bound`: one measured quantity held against the limits of the rule.

A row is broken by the gravest limit it does not keep, holds where it keeps all of them (with `either`, any one), and is
unproven where the quantity, or a cell that a condition needs, is not known. An upper bound (a nondetect counted at its
limit) that does not keep a limit proves nothing, nor does a lower bound (the shortest pause between two dates) that
keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import Limit, Option, Rule, Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.conditions import Met, conditions
from vaporqa.evidence.judged import Judged, Labels, Measured, Want, is_among, judged_from
from vaporqa.evidence.keeping import badness, comparison, keeps_limit
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int16, UInt8

OPTIONS = {
    "either": "any one limit is enough",
    "proof": "a limit that must be kept before the others count as kept; it is never broken by itself",
    "gate": "limit to another limit of the rule that must be kept before the first one counts at all",
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
    found = _outcomes(rule, evidence, measured)
    measured, outcome, limit = found.measured, found.outcome, found.limit
    for other in measured.otherwise:
        also = _outcomes(rule, evidence, _with_conditions(other, met))
        agree = (outcome == also.outcome) & _same_letters(rule, limit, also.limit)
        outcome = np.where(agree, outcome, Outcome.UNPROVEN).astype(np.uint8)
    # A quantity of a limit's own knows nothing of the rule's condition: where that is open, nothing is kept or broken.
    outcome = np.where(met.unknown[measured.row], Outcome.UNPROVEN, outcome).astype(np.uint8)
    limit = np.where(outcome == Outcome.BROKEN, limit, -1).astype(np.int16)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    bare = (outcome == Outcome.UNPROVEN) & (measured.want < 0)
    if measured.decided_by is not None:
        decided_by = np.where(bare, measured.decided_by, measured.want).astype(np.int16)
        measured = replace(measured, want=decided_by)
        bare &= measured.want < 0
    if bare.any():
        least = measured.only_at_least if measured.only_at_least is not None else np.zeros(len(bare), bool)
        measured = _lacking(measured, bare & ~least, Want("a reporting limit low enough to prove it", ()))
        measured = _lacking(measured, bare & least, Want("a time of day that would prove it", ()))
    measured = replace(measured, value=found.value)
    return judged_from(measured, table.rows, outcome, limit, worst=found.worst, alone="once_per" in rule.options)


def _same_letters(rule: Rule, first: Int16, second: Int16) -> Bool:
    """Whether two readings, where they break a limit, earn the same."""
    pairs = [rule.pair(limit.name) for limit in rule.limits]
    number = np.array([pairs.index(pair) for pair in pairs] + [-1], dtype=np.int64)
    return np.asarray(number[first] == number[second])


def _lacking(measured: Measured, rows: Bool, want: Want) -> Measured:
    """Let entries lack one more thing."""
    number = np.where(rows, len(measured.wants), measured.want).astype(np.int16)
    return replace(measured, want=number, wants=(*measured.wants, want))


def _lacking_of(measured: Measured, rows: Bool, other: Measured) -> Measured:
    """Let entries lack what another quantity of theirs lacks."""
    number = np.where(rows & (other.want >= 0), other.want + len(measured.wants), measured.want).astype(np.int16)
    wants = (*measured.wants, *other.wants)
    return replace(measured, want=number, wants=wants, hard=measured.hard | (rows & other.hard))


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


@dataclass(frozen=True, slots=True)
class _Found:
    """What the limits say of each entry; `measured` lacks what they left open."""

    measured: Measured
    outcome: UInt8
    limit: Int16
    value: Float
    worst: Float


def _outcomes(rule: Rule, evidence: Evidence, measured: Measured) -> _Found:
    size = len(measured.row)
    compare = comparison(evidence)
    own = measured
    base_known = (own.want < 0) & np.isfinite(own.value)
    broken_rank = np.full(size, -1, np.int64)
    limit = np.full(size, -1, np.int16)
    value = own.value.copy()
    worst = np.full(size, -np.inf)
    any_holds, any_unknown, any_fits, shut_out = (np.zeros(size, bool) for _ in range(4))
    either = bool(rule.options.get("either"))
    gates = _gates(rule)
    aside = {*gates.values(), str(rule.options.get("proof", ""))}
    order = sorted(range(len(rule.limits)), key=lambda i: rule.pair(rule.limits[i].name).rank)
    for rank, index in enumerate(order):
        one = rule.limits[index]
        if one.name in aside:
            continue
        fits = case_fits(one.when, own)
        any_fits |= fits
        held = own if one.measure in ("", rule.measure) else _other(evidence, one, own)
        known = (held.want < 0) & np.isfinite(held.value)
        keeps = _keeps(rule, one, held, compare)
        if one.name in gates:
            gate = rule.limit(gates[one.name])
            beside = _other(evidence, gate, own)
            told = (beside.want < 0) & np.isfinite(beside.value)
            undecided = fits & known & ~keeps & ~told
            shut_out |= undecided
            measured = _lacking_of(measured, undecided & (measured.want < 0), beside)
            fits = fits & told & keeps_limit(gate, beside.value, compare)
        broken = fits & known & ~keeps
        any_holds |= fits & known & keeps
        # An alternative that merely was not recorded is no alternative; an unreadable one leaves the rule open.
        any_unknown |= fits & ~known & (~base_known | held.hard if either else True)
        if held is not own and not either:
            measured = _lacking_of(measured, fits & ~known & (measured.want < 0), held)
        graver = broken & (rank > broken_rank)
        broken_rank[graver], limit[graver] = rank, index
        if one.sense is Sense.IS:
            value[graver] = np.nan
        else:  # also where a limit of words was broken before
            value[graver] = held.value[graver]
        worst[graver] = badness(one, held.value)[graver]
    broken = limit >= 0
    if either:
        # Any limit that is kept is enough; a limit that cannot be judged leaves it open.
        broken &= ~any_holds & ~any_unknown
        holds = any_holds
    else:
        holds = ~broken & ~any_unknown & any_fits
    holds, measured = _proved(rule, evidence, own, measured, holds)
    outcome = np.full(size, Outcome.UNPROVEN, np.uint8)
    outcome[holds] = Outcome.HOLDS
    outcome[broken & ~shut_out] = Outcome.BROKEN
    outcome[~any_fits & (own.want < 0)] = Outcome.NOT_CONCERNED
    if own.only_at_most is not None:
        outcome[broken & own.only_at_most] = Outcome.UNPROVEN
    if own.only_at_least is not None:
        outcome[holds & own.only_at_least] = Outcome.UNPROVEN
    limit = np.where(outcome == Outcome.BROKEN, limit, -1).astype(np.int16)
    return _Found(measured, outcome, limit, value, worst)


def _gates(rule: Rule) -> Mapping[str, str]:
    stated = rule.options.get("gate", {})
    return {name: str(gate) for name, gate in stated.items()} if isinstance(stated, Mapping) else {}


def _proved(rule: Rule, evidence: Evidence, own: Measured, measured: Measured, holds: Bool) -> tuple[Bool, Measured]:
    """Entries that keep their limits by evidence good enough to show it."""
    name = str(rule.options.get("proof", ""))
    if not name:
        return holds, measured
    one = rule.limit(name)
    other = _other(evidence, one, own)
    known = (other.want < 0) & np.isfinite(other.value)
    good = known & keeps_limit(one, other.value, comparison(evidence))
    measured = _lacking_of(measured, holds & ~known, other)
    poor = holds & known & ~good
    if poor.any():
        measured = _lacking(measured, poor, Want(f"{MEASURES[one.measure].about} of {one.written}"))
    return holds & good, measured


def _other(evidence: Evidence, limit: Limit, measured: Measured) -> Measured:
    """Another quantity of the same entries."""
    (other,) = evidence.measure(MEASURES[limit.measure])
    if not np.array_equal(other.row, measured.row):
        raise ValueError(f"measures of one rule must have the same entries: {limit.measure}")
    return other


def _keeps(rule: Rule, limit: Limit, held: Measured, compare: str) -> Bool:
    """Entries that keep a limit; one of words is held against the case that has the name of the measure."""
    if limit.sense is Sense.IS:
        return is_among(held.cases[limit.measure or rule.measure], limit.words)
    return keeps_limit(limit, held.value, compare)


def case_fits(when: Mapping[str, Option], measured: Measured) -> Bool:
    """Entries for which a limit is meant."""
    fits = np.ones(len(measured.row), bool)
    for key, wanted in when.items():
        listed = [str(word) for word in (wanted if isinstance(wanted, tuple) else (wanted,))]
        case = measured.cases.get(key)
        if case is None:
            fact = measured.facts[key]
            case = fact.values if isinstance(fact, Labels) else np.full(len(measured.row), "", object)
        fits &= is_among(case, listed)
    return fits

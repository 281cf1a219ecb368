"""`together`: a duplicate is drawn at the same time as its parent, a replicate before or after it, as labelled."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Moment
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.evidence.pairs import DUPLICATE_KINDS
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool

OPTIONS: dict[str, str] = {}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every duplicate and replicate whose parent is known."""
    table = evidence.tables.get("samples")
    if table is None:
        return ()
    samples = evidence.samples
    number = evidence.sample_ids.of("samples", "sample_id", table.rows)
    rows = np.flatnonzero(table.counts & (number >= 0)).astype(np.int64)
    own = number[rows]
    kind = samples.kind[own]
    parent = evidence.parents[own]
    concerned = np.isin(kind.astype(str), DUPLICATE_KINDS) & (parent >= 0)
    other = np.where(concerned, parent, -1)
    start, end = samples.start.take(own), samples.end.take(own)
    other_start, other_end = samples.start.take(other), samples.end.take(other)
    asked = Asked(rows, concerned)
    for moment, column in (
        (start, "started_at"),
        (end, "ended_at"),
        (other_start, "started_at"),
        (other_end, "ended_at"),
    ):
        asked.need(moment, "the start and end of both samples", ("samples", column))
    apart = _certainly_apart(start, end, other_start, other_end)
    overlap = _certainly_overlap(start, end, other_start, other_end)
    duplicate = kind == "field_duplicate"
    asked.need(apart | overlap, "the time of day of both samples")
    broken = np.where(duplicate, apart, overlap)
    names = [limit.name for limit in rule.limits]
    index = np.where(duplicate, names.index("together"), names.index("one_after_the_other"))
    outcome = np.where(asked.known, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    ids = np.array([*evidence.sample_ids.names, ""], dtype=object)
    measured = asked.measured(np.full(len(rows), np.nan), facts={"parent": Labels(ids[other])})
    limit = np.where(outcome == Outcome.BROKEN, index, -1).astype(np.int16)
    return (judged_from(measured, table.rows, outcome, limit),)


def _certainly_apart(start: Moment, end: Moment, other_start: Moment, other_end: Moment) -> Bool:
    """One begun when the other had ended or later; a start in common is never apart."""
    after = (start.low >= other_end.high) | (other_start.low >= end.high)
    return np.asarray(after & ~_same_instant(start, other_start))


def _certainly_overlap(start: Moment, end: Moment, other_start: Moment, other_end: Moment) -> Bool:
    both = (start.high < other_end.low) & (other_start.high < end.low)
    return np.asarray(both | _same_instant(start, other_start))


def _same_instant(first: Moment, second: Moment) -> Bool:
    instants = (first.low == first.high) & (second.low == second.high)
    return np.asarray(instants & (first.low == second.low))

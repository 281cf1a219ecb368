"""`together`: a duplicate is drawn at the same time as its parent, a replicate before or after it, as labelled."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Moment
from vaporqa.evidence.judged import Facts, Judged, Labels, judged_from
from vaporqa.evidence.pairs import DUPLICATE_KINDS
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Texts

OPTIONS: dict[str, str] = {}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge both rows of every pair whose second sample is a duplicate or replicate, by the times of both samples."""
    table, results = evidence.tables.get("results"), evidence.results
    if table is None or results is None:
        return ()
    samples, pairs = evidence.samples, evidence.pairs
    parent, own = results.sample[pairs.first], results.sample[pairs.second]
    kind = np.where(own >= 0, samples.kind[np.maximum(own, 0)], "") if len(samples.kind) else np.full(len(own), "")
    labelled = np.isin(kind.astype(str), DUPLICATE_KINDS) & (parent >= 0) & (parent != own)
    parent, own, kind = (np.concatenate([part[labelled], part[labelled]]) for part in (parent, own, kind))
    row = np.concatenate([pairs.first[labelled], pairs.second[labelled]]).astype(np.int64)
    start, end = samples.start.take(own), samples.end.take(own)
    other_start, other_end = samples.start.take(parent), samples.end.take(parent)
    asked = Asked(row, np.ones(len(row), bool))
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
    outcome = np.where(asked.known, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN).astype(np.uint8)
    ids: Texts = np.array([*evidence.sample_ids.names, ""], dtype=object)
    facts: Facts = {
        "sample": Labels(ids[own]),
        "parent": Labels(ids[parent]),
        "analyte": Labels(evidence.analyte_names(row)),
    }
    measured = asked.measured(np.full(len(row), np.nan), facts=facts)
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

"""`parents`: a duplicate names its parent, and the parent has the analyte."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import NO_ROW, pick
from vaporqa.evidence.judged import Judged, Labels, Links, judged_from
from vaporqa.evidence.pairs import DUPLICATE_KINDS
from vaporqa.outcomes import Outcome

OPTIONS: dict[str, str] = {}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge the duplicates among the samples, and the results of those whose parent is known."""
    return tuple(judged for judged in (_samples(rule, evidence), _results(rule, evidence)) if judged is not None)


def _index(rule: Rule, name: str) -> int:
    return [limit.name for limit in rule.limits].index(name)


def _samples(rule: Rule, evidence: Evidence) -> Judged | None:
    table = evidence.tables.get("samples")
    if table is None:
        return None
    number = evidence.sample_ids.of("samples", "sample_id", table.rows)
    rows = np.flatnonzero(table.counts & (number >= 0)).astype(np.int64)
    of = number[rows]
    duplicate = np.isin(evidence.samples.kind[of].astype(str), DUPLICATE_KINDS)
    parent = evidence.parents[of]
    home = pick(evidence.samples.row, parent, NO_ROW)
    has = home != NO_ROW
    entry = np.flatnonzero(duplicate).astype(np.int64)
    outcome = np.where(duplicate, np.where(has, Outcome.HOLDS, Outcome.BROKEN), Outcome.NOT_CONCERNED)
    names = np.array([*evidence.sample_ids.names, "none"], dtype=object)
    asked = Asked(rows, duplicate)
    measured = asked.measured(
        np.full(len(rows), np.nan),
        facts={"named": Labels(names[parent]), "analyte": Labels(np.full(len(rows), "", object))},
        samples=Links(entry, of[entry]),
        table="samples",
    )
    limit = np.where(outcome == Outcome.BROKEN, _index(rule, "named"), -1).astype(np.int16)
    return judged_from(measured, table.rows, outcome.astype(np.uint8), limit)


def _results(rule: Rule, evidence: Evidence) -> Judged | None:
    table, results = evidence.tables.get("results"), evidence.results
    if table is None or results is None:
        return None
    pairs = evidence.pairs
    row = np.concatenate([pairs.second, pairs.lone]).astype(np.int64)
    outcome = np.full(len(row), Outcome.HOLDS, np.uint8)
    outcome[len(pairs.second) :] = Outcome.BROKEN
    parent = evidence.parents[np.maximum(results.sample[row], 0)]
    names = np.array([*evidence.sample_ids.names, "none"], dtype=object)
    measured = Asked(row, np.ones(len(row), bool)).measured(
        np.full(len(row), np.nan),
        facts={"named": Labels(names[parent]), "analyte": Labels(evidence.analyte_names(row))},
        table="results",
    )
    limit = np.where(outcome == Outcome.BROKEN, _index(rule, "analyte"), -1).astype(np.int16)
    return judged_from(measured, table.rows, outcome, limit)

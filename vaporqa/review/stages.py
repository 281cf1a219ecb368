"""The published validation stage that the evidence supports: never more than declared, never more than was done.

The stages are those of the federal guidance on labelling validated data (EPA 540-R-08-005, 2009; their content from
memory): 1 completeness, receipt and holding times; 2A besides, the quality control of each sample; 2B besides, that of
the instrument. Recalculation and raw outputs (3 and 4) are never claimed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from vaporqa.evidence.cells import words
from vaporqa.evidence.joins import group_numbers
from vaporqa.review.indicators import results_that_count
from vaporqa.review.values import Review, RuleCount
from vaporqa.tables.project import STAGES
from vaporqa.tables.values import Bool, Int64

#: Stage to what it consists of, each with the rules of which one at least must have judged.
CONTENT: Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]] = MappingProxyType(
    {
        "1": (
            ("completeness of the reported analytes", ("analytes-complete",)),
            ("receipt and custody", ("custody-order", "custody-unbroken")),
            ("holding times", ("holding-time",)),
        ),
        "2A": (
            ("method blanks", ("method-blank",)),
            ("surrogates", ("surrogate-recovery",)),
            ("control samples", ("control-sample-recovery",)),
            ("duplicates", ("duplicate-agreement", "laboratory-duplicate-agreement", "control-sample-precision")),
        ),
        "2B": (
            ("instrument tune", ("tune-clock",)),
            ("initial calibration", ("initial-calibration",)),
            ("second-source check", ("second-source-check",)),
            ("calibration checks", ("calibration-check",)),
            ("internal standards", ("internal-standard-area",)),
        ),
    }
)


#: Parts whose rules speak of the control's own rows: what in lab_qc, or in results, must stand beside each result.
_BESIDE_BATCH = {"control samples": ("control_sample", "control_sample_duplicate")}
_BESIDE_CALIBRATION = {
    "initial calibration": ("initial_calibration",),
    "second-source check": ("second_source_check",),
    "calibration checks": ("calibration_check",),
}
_IN_SAMPLE = {"surrogates": "surrogate", "internal standards": "internal_standard"}
_CUSTODY = "receipt and custody"


class Done(StrEnum):
    """Whether a check was performed."""

    FULLY = "performed"
    IN_PART = "performed in part"
    NOT = "not performed"


@dataclass(frozen=True, slots=True)
class StageCheck:
    """One part of a stage: what the rules said of it, and why it was not performed where it was not.

    `judged` rows hold or are broken; of `unproven` rows the evidence was missing; `uncovered` results have no such
    control beside them at all (of their sample, batch or calibration).
    """

    stage: str
    name: str
    rules: tuple[str, ...]
    done: Done
    judged: int
    unproven: int
    uncovered: int
    reason: str


@dataclass(frozen=True, slots=True)
class RuleNotPerformed:
    """A rule that judged no row, and why."""

    rule: str
    title: str
    stage: str
    reason: str


@dataclass(frozen=True, slots=True)
class ValidationStage:
    """What stage can be claimed.

    Attributes
    ----------
    declared : str
        Of project.yaml.
    supported : str
        The highest stage, not above the declared one, every part of which was performed for every row that it
        concerned; empty where not even stage 1 was.
    in_part : str
        The same where a part that was performed for some rows is enough; `supported` or above it.
    checks : tuple of StageCheck
        Every part of every stage up to 2B.
    not_performed : tuple of RuleNotPerformed
        Rules that judged no row, those left out included.
    """

    declared: str
    supported: str
    in_part: str
    checks: tuple[StageCheck, ...]
    not_performed: tuple[RuleNotPerformed, ...]


def stage_of(review: Review) -> ValidationStage:
    """Find the stage that can be claimed for a review."""
    counts = {one.rule: one for one in review.coverage.rules}
    reasons = _reasons(review, counts)
    checks = tuple(
        _check(review, stage, name, rules, counts, reasons) for stage, parts in CONTENT.items() for name, rules in parts
    )
    declared = review.project.stage
    known = {rule.id: rule for rule in review.rulebook.rules}
    return ValidationStage(
        declared,
        _highest(checks, declared, (Done.FULLY,)),
        _highest(checks, declared, (Done.FULLY, Done.IN_PART)),
        checks,
        tuple(
            RuleNotPerformed(rule, known[rule].title, known[rule].stage, reason)
            for rule, reason in reasons.items()
            if rule in known
        ),
    )


def _highest(checks: tuple[StageCheck, ...], declared: str, enough: tuple[Done, ...]) -> str:
    reached = ""
    for stage in STAGES:
        if stage > declared or any(one.done not in enough for one in checks if one.stage == stage):
            break
        reached = stage
    return reached


def _judged(count: RuleCount) -> int:
    return count.holds + count.broken


def _reasons(review: Review, counts: Mapping[str, RuleCount]) -> dict[str, str]:
    """Rules that judged no row, in rulebook order, and why."""
    left = {one.name: one.reason for one in review.not_reviewed}
    out: dict[str, str] = {}
    for rule in review.rulebook.rules:
        count = counts.get(rule.id)
        if rule.off:
            continue
        if count is None:
            out[rule.id] = left.get(rule.id) or left.get(rule.topic) or "left out of this review"
        elif not _judged(count):
            absent = [name for name in (rule.row, *rule.also) if name not in review.tables]
            if count.concerned:
                out[rule.id] = f"of all {count.concerned:,} rows that it concerned the evidence is missing"
            elif len(absent) == 1 + len(rule.also):
                out[rule.id] = f"the folder has no table {' or '.join(absent)}"
            else:
                out[rule.id] = "it concerned no row"
    return out


def _check(
    review: Review, stage: str, name: str, rules: tuple[str, ...], counts: Mapping[str, RuleCount],
    reasons: Mapping[str, str],
) -> StageCheck:  # fmt: skip
    found = [counts[rule] for rule in rules if rule in counts]
    judged, unproven = sum(map(_judged, found)), sum(one.unproven for one in found)
    if not judged:
        said = dict.fromkeys(reasons[rule] for rule in rules if rule in reasons)
        reason = "; ".join(said) or "no rule in force checks it"
        return StageCheck(stage, name, rules, Done.NOT, 0, unproven, 0, reason)
    uncovered = _uncovered(review, name)
    done = Done.IN_PART if unproven or uncovered else Done.FULLY
    return StageCheck(stage, name, rules, done, judged, unproven, uncovered, "")


# -- results without the control that a part is made of --------------------------------------------------------------


def _uncovered(review: Review, name: str) -> int:
    """Count the results in use of field samples that have nothing of a part beside them."""
    evidence = review.evidence
    results, table = evidence.results, review.tables.get("results")
    if results is None or table is None:
        return 0
    rows = np.flatnonzero(results_that_count(review)).astype(np.int64)
    sample = results.sample[rows]
    if name in _IN_SAMPLE:
        has = _samples(evidence.sample_count, results.sample[results.kind == _IN_SAMPLE[name]])
        return int((~has[sample]).sum())
    if name == _CUSTODY:
        custody = review.tables.get("custody")
        rows_of = custody.rows if custody is not None else 0
        has = _samples(evidence.sample_count, evidence.sample_ids.of("custody", "sample_id", rows_of))
        return int((~has[sample]).sum())
    if name in _BESIDE_BATCH:
        return int((~_beside(review, "batch_id", _BESIDE_BATCH[name], rows)).sum())
    if name in _BESIDE_CALIBRATION:
        return int((~_beside(review, "calibration_id", _BESIDE_CALIBRATION[name], rows)).sum())
    return 0


def _samples(count: int, numbers: Int64) -> Bool:
    """Which samples are among `numbers`; one more, never, for the results that name none."""
    has = np.zeros(count + 1, bool)
    has[numbers[numbers >= 0]] = True
    return has


def _beside(review: Review, column: str, kinds: tuple[str, ...], rows: Int64) -> Bool:
    """Which results have a row of lab_qc of these kinds in their laboratory's batch or calibration."""
    table, batches = review.tables.get("lab_qc"), review.evidence.batches
    mine = batches.get(("results", column))
    theirs = batches.get(("lab_qc", column))
    if table is None or mine is None or theirs is None:
        return np.zeros(len(rows), bool)
    controls = np.flatnonzero(table.counts & np.isin(words(table, "kind")[0].astype(str), kinds) & (theirs >= 0))
    unstated = np.full(max(len(mine), len(theirs)), -1, np.int64)
    laboratory = batches.get(("results", "laboratory"), unstated)[rows]
    of_controls = batches.get(("lab_qc", "laboratory"), unstated)[controls]
    here, there = mine[rows], theirs[controls]
    group, _ = group_numbers(np.concatenate([here, there]), np.concatenate([laboratory, of_controls]))
    # A laboratory that one side does not state does not keep them apart.
    met = np.isin(group[: len(rows)], group[len(rows) :]) | np.isin(here, there[of_controls < 0])
    met |= (laboratory < 0) & np.isin(here, there)
    return np.asarray((here >= 0) & met)

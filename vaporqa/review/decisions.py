"""What each result says about its screening level: usable for that decision, uncertain, or a gap.

A decision asks one thing: is the gas over the level? An estimate that can only be too high still answers it below the
level, and one that can only be too low above it. Standing and qualifier are not changed by any of this.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from vaporqa.evidence.reported import DETECTED, NONDETECT
from vaporqa.evidence.screening import against_levels
from vaporqa.outcomes import Standing
from vaporqa.review.indicators import results_that_count
from vaporqa.review.values import Review
from vaporqa.settling import BIASES, QUALIFIERS
from vaporqa.tables.values import Int8, Int64

#: Half of this limit is the band round a level in which an estimate of unknown direction decides nothing.
BAND_RULE, BAND_LIMIT = "duplicate-agreement", "rpd"


class Decision(IntEnum):
    """What a result is worth for the decision at its screening level."""

    USABLE = 0
    WITH_LIMITS = 1
    UNCERTAIN = 2
    GAP = 3
    NOT_COMPARABLE = 4  # a level is stated, and the two numbers cannot be brought together
    NO_LEVEL = 5  # nothing to decide

    @property
    def words(self) -> str:
        """As outputs write it."""
        return "usable with limits" if self is Decision.WITH_LIMITS else self.name.lower().replace("_", " ")


class Situation(IntEnum):
    """Why a result is where it is."""

    AS_REPORTED = 0
    HIGH_NOT_OVER = 1
    LOW_OVER = 2
    FAR_FROM_LEVEL = 3
    HIGH_NONDETECT = 4
    HIGH_OVER = 5
    LOW_NOT_OVER = 6
    NEAR_LEVEL = 7
    TENTATIVE = 8
    UNPROVEN = 9
    LIMIT_OVER = 10
    LIMIT_UNKNOWN = 11
    REJECTED = 12
    CANNOT_COMPARE = 13
    NO_LEVEL = 14

    @property
    def decision(self) -> Decision:
        """The decision that this situation leads to."""
        return _DECISION_OF[self]


_DECISION_OF = (
    Decision.USABLE, *[Decision.WITH_LIMITS] * 4, *[Decision.UNCERTAIN] * 5, *[Decision.GAP] * 3,
    Decision.NOT_COMPARABLE, Decision.NO_LEVEL,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class AnalyteDecisions:
    """Decisions on one analyte, or on all.

    Attributes
    ----------
    analyte, cas : str
        Empty for all analytes together.
    counts : tuple of int
        Results by `Decision`, in its order.
    over : int
        Detects over the level among those that are usable, with limits or not: exceedances that stand.
    """

    analyte: str
    cas: str
    counts: tuple[int, ...]
    over: int

    @property
    def decided(self) -> int:
        """Results with a level that could be compared, or that are a gap or unproven before that."""
        return sum(self.counts[: Decision.NOT_COMPARABLE])


@dataclass(frozen=True, slots=True)
class Decisions:
    """Decisions on every target and tentative result in use of primary, duplicate and replicate samples.

    Attributes
    ----------
    overall : AnalyteDecisions
    by_analyte : tuple of AnalyteDecisions
        By name; analytes without any level are not listed.
    situations : mapping by position
        Results by `Situation`, in its order.
    without_level : tuple of str
        Analytes with results and no level for them.
    not_comparable : tuple of str
        Analytes with results whose level cannot be compared.
    band : float
        Per cent of the level; nan where no limit for duplicates is in force, and then every estimate of unknown
        direction is uncertain.
    """

    overall: AnalyteDecisions
    by_analyte: tuple[AnalyteDecisions, ...]
    situations: tuple[int, ...]
    without_level: tuple[str, ...]
    not_comparable: tuple[str, ...]
    band: float


def decisions_of(review: Review) -> Decisions | None:
    """Decide for every result; None where the folder has no results or no screening levels."""
    evidence = review.evidence
    results = evidence.results
    if results is None or "results" not in review.settled or "screening_levels" not in review.tables:
        return None
    rows = np.flatnonzero(results_that_count(review)).astype(np.int64)
    band = band_of(review)
    situation, over = situations_of(review, rows, band)
    decision = np.array([int(one.decision) for one in Situation], np.int8)[situation]
    analyte = results.analyte[rows]
    stands = over & (decision <= Decision.WITH_LIMITS) & (results.detected[rows] == DETECTED)
    names, cas = (*evidence.analytes.name, ""), (*evidence.analytes.cas, "")
    each = [
        AnalyteDecisions(
            names[number], cas[number], _counts(decision[analyte == number]), int(stands[analyte == number].sum())
        )
        for number in np.unique(analyte).tolist()
    ]
    each.sort(key=lambda one: (one.analyte.casefold(), one.cas))
    return Decisions(
        AnalyteDecisions("", "", _counts(decision), int(stands.sum())),
        tuple(one for one in each if sum(one.counts) > one.counts[Decision.NO_LEVEL]),
        tuple(np.bincount(situation, minlength=len(Situation)).tolist()),
        tuple(one.analyte or one.cas for one in each if one.counts[Decision.NO_LEVEL]),
        tuple(one.analyte or one.cas for one in each if one.counts[Decision.NOT_COMPARABLE]),
        band,
    )


def _counts(decision: Int8) -> tuple[int, ...]:
    return tuple(np.bincount(decision, minlength=len(Decision)).tolist())


def band_of(review: Review) -> float:
    """Half of the RPD limit for duplicates in force, per cent; nan where there is none."""
    for rule in review.rulebook.rules:
        if rule.id == BAND_RULE:
            for limit in rule.limits:
                if limit.name == BAND_LIMIT and limit.unit == "%":
                    return limit.number / 2.0
    return float("nan")


def situations_of(review: Review, rows: Int64, band: float) -> tuple[Int8, np.ndarray]:
    """Return the `Situation` of each result, and where its number is over its level.

    Parameters
    ----------
    review : Review
    rows : int64 (m,)
        Rows of results.
    band : float
        Per cent of the level within which an estimate of unknown direction is uncertain; nan: wherever it lies.

    Notes
    -----
    A number that equals its level is not over it. A nondetect's limit that equals the level is not over it either. A
    UJ of low bias under its level is uncertain as a J- is: the gas may be over the limit at which it was not found.
    """
    results, settled = review.evidence.results, review.settled["results"]
    assert results is not None
    held = against_levels(review.evidence, rows)
    standing, detected = settled.standing[rows], results.detected[rows]
    bias, tentative = settled.bias[rows], settled.qualifier[rows] == QUALIFIERS.index("NJ")
    nondetect, over = detected == NONDETECT, held.above
    estimated = standing == Standing.ESTIMATED
    high, low = bias == BIASES.index("high"), bias == BIASES.index("low")
    with np.errstate(invalid="ignore"):
        far = np.abs(held.number - held.level) > held.level * (band / 100.0) * (1 + 1e-9)
    ordered = (
        (~held.stated, Situation.NO_LEVEL),
        (standing == Standing.REJECTED, Situation.REJECTED),
        ((standing == Standing.UNPROVEN) | (detected < 0), Situation.UNPROVEN),
        (nondetect & held.without_number, Situation.LIMIT_UNKNOWN),
        (~held.comparable, Situation.CANNOT_COMPARE),
        (nondetect & over, Situation.LIMIT_OVER),
        (tentative, Situation.TENTATIVE),
        (~estimated, Situation.AS_REPORTED),
        (high & nondetect, Situation.HIGH_NONDETECT),
        (high & ~over, Situation.HIGH_NOT_OVER),
        (high, Situation.HIGH_OVER),
        (low & over, Situation.LOW_OVER),
        (low, Situation.LOW_NOT_OVER),
        (far, Situation.FAR_FROM_LEVEL),
    )
    conditions = [condition for condition, _ in ordered]
    found = np.select(conditions, [int(one) for _, one in ordered], default=int(Situation.NEAR_LEVEL))
    return found.astype(np.int8), over

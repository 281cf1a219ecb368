"""Data-quality indicators: precision, accuracy, sensitivity and completeness, each with its formula.

They describe the whole set of data and change no row. `FORMULAS` is what every output prints beside the numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence import Evidence
from vaporqa.evidence.collected import SOIL_GAS_KINDS
from vaporqa.evidence.pairs import compare
from vaporqa.evidence.recoveries import Recoveries, control_samples, surrogates
from vaporqa.evidence.reported import NONDETECT
from vaporqa.evidence.screening import against_levels
from vaporqa.outcomes import Standing
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.review.completeness import Completeness, completeness_of
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Float, Int64

#: Indicator to its formula and where that comes from, as outputs print them.
FORMULAS: Mapping[str, str] = MappingProxyType(
    {
        "rpd": "RPD = 200 |a - b| / (a + b), per cent, of two detects of one duplicate pair in one unit "
        "(quality assurance project plan of a site, docket 578658, p. 149)",
        "pooled_rsd": "pooled relative standard deviation = sqrt(sum of (RPD / sqrt(2))^2 / k), per cent, over the k "
        "pairs of two detects: the standard deviation (n - 1) of a pair is |a - b| / sqrt(2), and each pair has one "
        "degree of freedom (from memory: the usual estimate from duplicates)",
        "recovery": "recovery = 100 found / added, per cent; the relative standard deviation of n recoveries uses "
        "n - 1 (laboratory quality plan of 1996, docket 578666, p. 98; n - 1 from memory)",
        "sensitivity": "share of nondetects whose limit is at most the screening level, per cent, both in one unit",
        "completeness_of_planned": "100 valid / planned, per cent; planned = required analytes x soil-gas samples "
        "(quality assurance project plan of a site, docket 450679, p. 62)",
        "completeness_of_reported": "100 valid / reported, per cent (quality assurance plan, docket 536997, p. 448)",
        "valid": "usable and estimated results (J, UJ and their like) are valid, rejected ones (R) are not (from "
        "memory); an unproven one is not valid until its evidence is supplied",
    }
)


@dataclass(frozen=True, slots=True)
class Precision:
    """Duplicate pairs of one analyte, or of all.

    Attributes
    ----------
    analyte, cas : str
        Empty for all analytes together.
    pairs : int
        Pairs of results in use, none of them rejected.
    both_detected : int
        Pairs with an RPD: both detected, numbers known and in one unit.
    neither_detected : int
    rejected : int
        Pairs left out because a member is rejected.
    median_rpd, largest_rpd, pooled_rsd : float
        Per cent; nan without an RPD.
    """

    analyte: str
    cas: str
    pairs: int
    both_detected: int
    neither_detected: int
    rejected: int
    median_rpd: float
    largest_rpd: float
    pooled_rsd: float


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Recoveries of one compound: `what` is `surrogate` or `control sample`.

    `rows` counts its rows, every run included, `unread` those without a recovery; `mean`, `lowest`, `highest` and the
    relative standard deviation `rsd` (n - 1) are per cent, nan where there is nothing to compute them from.
    """

    what: str
    analyte: str
    cas: str
    rows: int
    unread: int
    mean: float
    lowest: float
    highest: float
    rsd: float


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Nondetects of one analyte (or of all) against the screening level.

    `compared` of the `nondetects` could be held against a level, and `met` of those have a limit at most the level;
    `no_level` have none stated, and of `not_comparable` the level or the limit cannot be compared.
    """

    analyte: str
    cas: str
    nondetects: int
    compared: int
    met: int
    no_level: int
    not_comparable: int

    @property
    def share(self) -> float:
        """Per cent of the compared nondetects that meet the level; nan where none was compared."""
        return 100.0 * self.met / self.compared if self.compared else float("nan")


@dataclass(frozen=True, slots=True)
class Indicators:
    """All indicators; in each pair of fields the first is over all analytes, the other by analyte (by name)."""

    precision: Precision
    precision_by_analyte: tuple[Precision, ...]
    accuracy: tuple[Accuracy, ...]
    sensitivity: Sensitivity
    sensitivity_by_analyte: tuple[Sensitivity, ...]
    completeness: Completeness
    completeness_by_analyte: tuple[Completeness, ...]
    #: Samples whose kind or matrix is not known: not counted among the soil-gas samples.
    samples_of_unknown_kind: int


def indicators_of(review: Review) -> Indicators | None:
    """Compute the indicators of a review; None where the folder has no results."""
    evidence = review.evidence
    if evidence.results is None or "results" not in review.settled:
        return None
    overall, by_analyte = _precision(review)
    sensitivity, sensitivity_by = _sensitivity(review)
    complete, complete_by, unknown = completeness_of(review)
    return Indicators(
        overall, by_analyte,
        (*_accuracy(evidence, surrogates(evidence), "surrogate"),
         *_accuracy(evidence, control_samples(evidence), "control sample")),
        sensitivity, sensitivity_by, complete, complete_by, unknown,
    )  # fmt: skip


def results_that_count(review: Review) -> Bool:
    """Target and tentative results in use of primary, duplicate and replicate samples, (n results,)."""
    evidence, table = review.evidence, review.tables.get("results")
    results = evidence.results
    assert results is not None
    assert table is not None
    kinds = np.append(np.isin(evidence.samples.kind.astype(str), SOIL_GAS_KINDS), False)
    counts: Bool = results.target & (evidence.in_use != 0) & kinds[results.sample]
    return counts


def pooled_rsd(rpd: Float) -> float:
    """Return the pooled relative standard deviation of duplicate pairs, per cent; nan of no pairs.

    Parameters
    ----------
    rpd : float64 (k,)
        Relative percent difference of each pair, per cent.

    Notes
    -----
    ``sqrt(sum((rpd / sqrt(2))**2) / k)``: the relative standard deviation (n - 1) of two numbers is RPD over root two.

    Examples
    --------
    >>> round(pooled_rsd(np.array([40.0])), 4)
    28.2843
    """
    return float(np.sqrt(np.mean(rpd**2) / 2.0)) if len(rpd) else float("nan")


def pooled_over(parts: Iterable[tuple[int, float]]) -> float:
    """Pool relative standard deviations that were pooled over parts of the pairs, per cent; nan of no pairs.

    Parameters
    ----------
    parts : iterable of (int, float)
        Pairs of a part, and their `pooled_rsd`; a part without pairs counts for nothing.

    Notes
    -----
    ``sqrt(sum(k s**2) / sum(k))``, the same as `pooled_rsd` over the pairs of all parts together. The sum is rounded
    once, so that the order of the parts does not matter.

    Examples
    --------
    >>> round(pooled_over([(1, 30.0), (3, 10.0), (0, float("nan"))]), 4)
    17.3205
    """
    there = [(pairs, rsd) for pairs, rsd in parts if pairs]
    total = sum(pairs for pairs, _ in there)
    return math.sqrt(math.fsum(pairs * rsd * rsd for pairs, rsd in there) / total) if total else math.nan


# -- precision -------------------------------------------------------------------------------------------------------


def _precision(review: Review) -> tuple[Precision, tuple[Precision, ...]]:
    evidence, table = review.evidence, review.tables.get("results")
    results = evidence.results
    assert results is not None
    assert table is not None
    first, second = evidence.pairs.first, evidence.pairs.second
    both = compare(evidence, first, second)
    standing = review.settled["results"].standing
    rejected = (standing[first] == Standing.REJECTED) | (standing[second] == Standing.REJECTED)
    rpd = np.where(both.both & both.known & ~rejected, relative_percent_difference(both.first, both.second), np.nan)
    neither = both.neither & ~rejected
    analyte = results.analyte[first]

    def of(rows: Bool, name: str, cas: str) -> Precision:
        there = rpd[rows & np.isfinite(rpd)]
        return Precision(
            name, cas, int((rows & ~rejected).sum()), len(there), int((rows & neither).sum()),
            int((rows & rejected).sum()), float(np.median(there)) if len(there) else float("nan"),
            float(there.max(initial=-np.inf)) if len(there) else float("nan"), pooled_rsd(there),
        )  # fmt: skip

    named = [of(analyte == number, *_named(evidence, number)) for number in np.unique(analyte).tolist()]
    ordered = sorted(named, key=lambda one: (one.analyte.casefold(), one.cas))
    return of(np.ones(len(first), bool), "", ""), tuple(ordered)


def _named(evidence: Evidence, number: int) -> tuple[str, str]:
    if number < 0:
        return "", ""
    return evidence.analytes.name[number], evidence.analytes.cas[number]


# -- accuracy --------------------------------------------------------------------------------------------------------


def _accuracy(evidence: Evidence, found: Recoveries, what: str) -> list[Accuracy]:
    source = evidence.results if found.table == "results" else evidence.lab_qc
    if source is None or not len(found.row):
        return []
    number = source.analyte[found.row]
    out = []
    for one in np.unique(number).tolist():
        mine = number == one
        value = found.value.value[mine & found.value.known]
        some = len(value) > 0
        mean = float(value.mean()) if some else float("nan")
        spread = 100.0 * float(value.std(ddof=1)) / mean if len(value) > 1 and mean > 0 else float("nan")
        out.append(
            Accuracy(
                what, *_named(evidence, one), int(mine.sum()), int(mine.sum()) - len(value), mean,
                float(value.min()) if some else float("nan"), float(value.max()) if some else float("nan"), spread,
            )
        )  # fmt: skip
    return sorted(out, key=lambda one: (one.analyte.casefold(), one.cas))


# -- sensitivity -----------------------------------------------------------------------------------------------------


def _sensitivity(review: Review) -> tuple[Sensitivity, tuple[Sensitivity, ...]]:
    evidence = review.evidence
    results = evidence.results
    assert results is not None
    rows: Int64 = np.flatnonzero(results_that_count(review) & (results.detected == NONDETECT)).astype(np.int64)
    held = against_levels(evidence, rows)
    with np.errstate(invalid="ignore"):
        met = held.comparable & (held.number <= held.level * (1 + RELATIVE_TOLERANCE))
    analyte = results.analyte[rows]

    def of(mine: Bool, name: str, cas: str) -> Sensitivity:
        return Sensitivity(
            name, cas, int(mine.sum()), int((mine & held.comparable).sum()), int((mine & met).sum()),
            int((mine & ~held.stated).sum()), int((mine & held.stated & ~held.comparable).sum()),
        )  # fmt: skip

    named = [of(analyte == number, *_named(evidence, number)) for number in np.unique(analyte).tolist()]
    ordered = sorted(named, key=lambda one: (one.analyte.casefold(), one.cas))
    return of(np.ones(len(rows), bool), "", ""), tuple(ordered)

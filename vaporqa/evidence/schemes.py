"""Applying a blank scheme: what a contaminated blank does to a result, cell by cell, as the rule files have it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Comparison, Scheme, Sense
from vaporqa.evidence.reported import DETECTED, NONDETECT, UNSTATED, in_family
from vaporqa.outcomes import Letter
from vaporqa.tables.values import Bool, Float, Int16, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Applied:
    """What a scheme says of each pair of blank and result, (k,).

    Attributes
    ----------
    detect, nondetect : int16
        Letters.
    at : float64
        Where a U stands, in the result's canonical unit; nan elsewhere.
    open : bool
        The scheme cannot be applied: neither limit of detection nor reporting limit, or no common unit.
    """

    detect: Int16
    nondetect: Int16
    at: Float
    open: Bool


def apply_scheme(ev: Evidence, scheme: Scheme, rows: Int64, level: Float) -> Applied:
    """Apply a scheme to result rows.

    Parameters
    ----------
    rows : int64 (k,)
        Rows of results.
    level : float64 (k,)
        The blank's value in the result's canonical unit; infinite where no unit is shared.
    """
    results = ev.results
    assert results is not None
    size = len(rows)
    family = results.result.family[rows]
    mass = ev.molar_mass(results.analyte[rows])
    limit = in_family(results.reporting_limit.take(rows), family, mass, ev.molar_volume)
    lod = in_family(results.limit_of_detection.take(rows), family, mass, ev.molar_volume).or_else(limit)
    sample = results.result.value[rows]
    common = np.append(ev.analytes.in_class("common_contaminant"), False)[results.analyte[rows]]
    status = results.detected[rows]
    numbers = {"blank": level, "lod": lod.value, "rl": limit.value}
    detect, nondetect = np.zeros(size, np.int16), np.zeros(size, np.int16)
    at = np.full(size, np.nan)
    undecided, unsure = np.ones(size, bool), np.zeros(size, bool)
    for cell in scheme.cells:
        fits = undecided.copy()
        if cell.nondetect is not None:
            fits &= status == (NONDETECT if cell.nondetect else DETECTED)
        for comparison in cell.conditions:
            met, known = _compare(comparison, sample, numbers, common)
            # A cell that needs a number nobody gave cannot be passed over either: the scheme is open there.
            unsure |= fits & ~known
            fits &= met
        if cell.at in ("rl", "higher"):
            unsure |= fits & ~limit.known
        fits &= ~unsure
        chosen = {"lod": lod.value, "rl": limit.value, "sample": sample, "higher": np.fmax(sample, limit.value)}
        detect[fits] = int(cell.letter)
        at[fits & (cell.letter == Letter.U)] = chosen.get(cell.at, sample)[fits & (cell.letter == Letter.U)]
        undecided &= ~fits
    impossible = np.isinf(level) | ((status == DETECTED) & ~np.isfinite(sample))
    unsure |= impossible & (status == DETECTED)
    unsure |= status == UNSTATED
    detect[unsure], at[unsure] = 0, np.nan
    return Applied(detect, nondetect, at, unsure)


def _compare(comparison: Comparison, sample: Float, numbers: dict[str, Float], common: Bool) -> tuple[Bool, Bool]:
    factor = np.where(common, comparison.common_factor, comparison.factor)
    bound = factor * numbers[comparison.of]
    slack = np.abs(bound) * RELATIVE_TOLERANCE
    known = np.isfinite(bound)
    with np.errstate(invalid="ignore"):
        if comparison.sense is Sense.OVER:
            return np.asarray(sample > bound + slack), known
        if comparison.sense is Sense.AT_LEAST:
            return np.asarray(sample >= bound - slack), known
        if comparison.sense is Sense.UNDER:
            return np.asarray(sample < bound - slack), known
        return np.asarray(sample <= bound + slack), known

"""Screening levels beside results: the level of each result's analyte and matrix, and both numbers in one unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence.cells import words
from vaporqa.evidence.reported import DETECTED, Values, counted, in_family, missing_values, values_of
from vaporqa.tables.values import NO_FAMILY, Bool, Float, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: A level without a matrix is for every matrix that has none of its own.
_ANY = ""


@dataclass(frozen=True, slots=True)
class Screening:
    """Results and their screening levels, (m,) each.

    Attributes
    ----------
    row : int64
        Rows of results.
    stated : bool
        A level stands in the table for the analyte and matrix, readable or not.
    number : float64
        A detect's value or what a nondetect stands at, in the family of the level; nan where not comparable.
    level : float64
        Canonical in its family; nan where not comparable.
    comparable : bool
        Both numbers are known and in one unit, brought together by molar mass where one is by volume and one by mass.
    without_number : bool
        The result (or a nondetect's limit) is not recorded at all; the level may well be comparable.
    """

    row: Int64
    stated: Bool
    number: Float
    level: Float
    comparable: Bool
    without_number: Bool

    @property
    def above(self) -> Bool:
        """Numbers over their level; one that equals it (within 1e-9) is not, (m,)."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.comparable & (self.number > self.level * (1 + RELATIVE_TOLERANCE)))


def against_levels(ev: Evidence, rows: Int64) -> Screening:
    """Hold results against the screening level of their analyte and matrix.

    Parameters
    ----------
    ev : Evidence
        With the status after blanks.
    rows : int64 (m,)
        Rows of results.

    Notes
    -----
    The level of the sample's matrix counts, else the one that names no matrix. A level that cannot be read, is not
    above nought, or stands twice with different numbers is stated but not comparable: nothing else steps in for it.
    """
    results = ev.results
    assert results is not None
    stated, level = levels_of(ev, rows)
    number = counted(results.detected == DETECTED, results.result, results.ceiling).take(rows)
    family = np.where(level.known, level.family, NO_FAMILY).astype(np.int8)
    same = in_family(number, family, ev.molar_mass(results.analyte[rows]), ev.molar_volume)
    comparable = stated & level.known & same.known
    return Screening(
        row=rows,
        stated=stated,
        number=np.where(comparable, same.value, np.nan),
        level=np.where(comparable, level.value, np.nan),
        comparable=comparable,
        without_number=~number.known & ~number.hard,
    )


def levels_of(ev: Evidence, rows: Int64) -> tuple[Bool, Values]:
    """Whether a level is stated for each result, and the level; hard where it is stated and cannot be used."""
    table, results = ev.tables.get("screening_levels"), ev.results
    assert results is not None
    if table is None or not table.rows:
        return np.zeros(len(rows), bool), missing_values(len(rows))
    level = values_of(table.amount("level"), table.rows)
    usable = level.known & (level.value > 0)
    analyte, (matrix, matrix_hard) = ev.analytes.of["screening_levels"], words(table, "matrix")
    found: dict[tuple[int, str], int] = {}
    spoilt: set[int] = set()
    open_to_all: set[int] = set()
    for row in np.flatnonzero(table.counts & (analyte >= 0)).tolist():
        key = (int(analyte[row]), str(matrix[row]))
        other = found.setdefault(key, row)
        differs = level.value[other] != level.value[row] or level.family[other] != level.family[row]
        if not usable[row] or (other != row and differs):
            spoilt.add(other)
        if matrix_hard[row]:
            open_to_all.add(int(analyte[row]))
    of_row = _rows_of_results(ev, rows, found)
    safe = np.maximum(of_row, 0)
    spoilt_rows = np.zeros(table.rows, bool)
    spoilt_rows[list(spoilt)] = True
    # For which matrix such a level is meant cannot be read: it may be this one.
    unclear = np.isin(results.analyte[rows], list(open_to_all))
    there = of_row >= 0
    good = there & ~spoilt_rows[safe] & usable[safe] & ~unclear
    hard = (there & ~good) | unclear
    taken = level.take(np.where(good, of_row, -1))
    return there | unclear, Values(taken.value, taken.family, good, hard)


def _rows_of_results(ev: Evidence, rows: Int64, found: dict[tuple[int, str], int]) -> Int64:
    """Row of screening_levels for each result; -1 none."""
    results = ev.results
    assert results is not None
    matrices, number = np.unique(np.append(ev.samples.matrix.astype(str), _ANY), return_inverse=True)
    row_of = np.full((len(ev.analytes.cas) + 1, len(matrices)), -1, np.int64)
    for place, name in enumerate(matrices.tolist()):
        for (analyte, matrix), row in found.items():
            if matrix == name or (matrix == _ANY and (analyte, name) not in found):
                row_of[analyte, place] = row
    return row_of[results.analyte[rows], number.reshape(-1)[results.sample[rows]]]

"""Completeness both ways: valid results of those that were planned, and of those that were reported."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import words
from vaporqa.evidence.collected import UNKNOWN, YES
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int8, Int64

#: What became of one planned value, so that the best of several results for it counts.
_NOT_REPORTED, _INVALID, _UNPROVEN, _VALID = 0, 1, 2, 3
_OF_STANDING = np.array([_VALID, _VALID, _UNPROVEN, _INVALID], np.int8)


@dataclass(frozen=True, slots=True)
class Completeness:
    """Completeness of one analyte, or of all.

    Attributes
    ----------
    analyte, cas : str
        Empty for all analytes together.
    planned : int or None
        Required analytes x soil-gas samples; None without a list of required analytes.
    planned_valid, planned_unproven : int
        Planned values with a valid result, and with unproven ones alone.
    reported : int
        Target results in use of soil-gas samples.
    valid, unproven, rejected : int
        Of the reported ones.
    """

    analyte: str
    cas: str
    planned: int | None
    planned_valid: int
    planned_unproven: int
    reported: int
    valid: int
    unproven: int
    rejected: int

    @property
    def of_planned(self) -> float:
        """Per cent; nan where nothing was planned."""
        return 100.0 * self.planned_valid / self.planned if self.planned else float("nan")

    @property
    def of_reported(self) -> float:
        """Per cent; nan where nothing was reported."""
        return 100.0 * self.valid / self.reported if self.reported else float("nan")

    @property
    def of_planned_at_best(self) -> float:
        """Per cent if the evidence for every unproven result were supplied and good."""
        return 100.0 * (self.planned_valid + self.planned_unproven) / self.planned if self.planned else float("nan")

    @property
    def of_reported_at_best(self) -> float:
        """Per cent if the evidence for every unproven result were supplied and good."""
        return 100.0 * (self.valid + self.unproven) / self.reported if self.reported else float("nan")


@dataclass(frozen=True, slots=True)
class _Planned:
    """Required pairs of analyte and method, (k,), and what became of each in each soil-gas sample, (samples, k)."""

    analyte: Int64
    asked: Bool
    became: Int8


def completeness_of(review: Review) -> tuple[Completeness, tuple[Completeness, ...], int]:
    """Return completeness over all analytes, by analyte, and how many samples are of unknown kind or matrix."""
    evidence, table = review.evidence, review.tables.get("results")
    results = evidence.results
    assert results is not None
    assert table is not None
    soil_gas = np.append(evidence.samples.soil_gas == YES, False)
    use = results.target & (evidence.in_use != 0) & (results.kind != "tentative") & soil_gas[results.sample]
    rows = np.flatnonzero(use).astype(np.int64)
    became = _OF_STANDING[review.settled["results"].standing[rows]]
    planned = _planned(evidence, rows, became)
    analyte = results.analyte[rows]
    numbers = np.unique(np.concatenate([analyte, planned.analyte]) if planned is not None else analyte)

    def of(mine: Bool, wanted: Bool | None, name: str, cas: str) -> Completeness:
        plan, good, unproven = None, 0, 0
        if planned is not None and wanted is not None:
            asked, cells = planned.asked[:, wanted], planned.became[:, wanted]
            plan = int(asked.sum())
            good, unproven = int((asked & (cells == _VALID)).sum()), int((asked & (cells == _UNPROVEN)).sum())
        return Completeness(
            name, cas, plan, good, unproven, int(mine.sum()), int((mine & (became == _VALID)).sum()),
            int((mine & (became == _UNPROVEN)).sum()), int((mine & (became == _INVALID)).sum()),
        )  # fmt: skip

    def each() -> Iterator[Completeness]:
        for number in numbers.tolist():
            name, cas = (evidence.analytes.name[number], evidence.analytes.cas[number]) if number >= 0 else ("", "")
            yield of(analyte == number, planned.analyte == number if planned is not None else None, name, cas)

    every = np.ones(len(planned.analyte), bool) if planned is not None else None
    ordered = sorted(each(), key=lambda one: (one.analyte.casefold(), one.cas))
    unknown = int((evidence.samples.soil_gas == UNKNOWN).sum())
    return of(np.ones(len(rows), bool), every, "", ""), tuple(ordered), unknown


def _planned(evidence: Evidence, rows: Int64, became: Int8) -> _Planned | None:
    """What was asked of each soil-gas sample, and the best that was reported for it.

    What the list asks for by one method is asked of samples that have results by that method, and of those that have
    none at all, as `analytes-complete` has it.
    """
    wanted, table, results = evidence.tables.get("required_analytes"), evidence.tables.get("results"), evidence.results
    if wanted is None:
        return None
    assert table is not None
    assert results is not None
    number, (method, _) = evidence.analytes.of["required_analytes"], words(wanted, "method")
    keys = sorted({(int(number[row]), str(method[row])) for row in np.flatnonzero(wanted.counts & (number >= 0))})
    of_method, _ = words(table, "method")
    samples = evidence.samples.soil_gas == YES
    asked = np.zeros((evidence.sample_count, len(keys)), bool)
    asked[samples] = True
    reported = np.zeros(evidence.sample_count, bool)
    reported[results.sample[rows]] = True
    has: dict[str, Bool] = {}
    for by in {by for _, by in keys if by}:
        has[by] = np.zeros(evidence.sample_count, bool)
        has[by][results.sample[rows[of_method[rows] == by]]] = True
    cells = np.zeros((evidence.sample_count, len(keys)), np.int8)
    order = np.argsort(results.analyte[rows], kind="stable")
    sorted_analytes = results.analyte[rows][order]
    for place, (analyte, by) in enumerate(keys):
        begin, end = np.searchsorted(sorted_analytes, [analyte, analyte + 1])
        mine = order[begin:end]
        if by:
            asked[:, place] &= ~reported | has[by]
            mine = mine[of_method[rows[mine]] == by]
        np.maximum.at(cells[:, place], results.sample[rows[mine]], became[mine])
    return _Planned(np.array([analyte for analyte, _ in keys], np.int64), asked, cells)

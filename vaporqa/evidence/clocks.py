"""Times of results: collected, received, prepared, analysed, and the elapsed time between two of them.

Elapsed time is computed in UTC; calendar days are local dates, the collection's in the field's zone and the analysis'
in the laboratory's. A date without a time is a whole local day, so an elapsed time has a shortest and a longest value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, Moment, missing_moments, moments, pick, words
from vaporqa.evidence.collected import GAS_CONTAINERS, GAS_MATRICES
from vaporqa.evidence.judged import Coded, Facts, Labels, Measured, Stamps
from vaporqa.tables.values import Bool, Float, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_US_PER_S = 1e6
_S_PER_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class ResultTimes:
    """Times of each row of results, (n,)."""

    collected: Moment
    received: Moment
    prepared: Moment
    analysed: Moment
    surrogate_added: Moment
    preserved: Moment


def result_times(ev: Evidence) -> ResultTimes:
    """Gather the times that bear on each result."""
    table, samples = ev.tables.get("results"), ev.tables.get("samples")
    if table is None or ev.results is None:
        nothing = missing_moments(0)
        return ResultTimes(nothing, nothing, nothing, nothing, nothing, nothing)
    row = ev.sample_row_of_results

    def of_sample(column: str) -> Moment:
        return moments(samples, column).take(row)

    return ResultTimes(
        collected=of_sample("ended_at").or_else(moments(table, "collected_at")),
        received=moments(table, "received_at").or_else(of_sample("received_at")),
        prepared=moments(table, "prepared_at"),
        analysed=moments(table, "analyzed_at"),
        surrogate_added=of_sample("surrogate_added_at"),
        preserved=of_sample("preserved_at"),
    )


def precedes(first: Moment, second: Moment) -> Bool:
    """Whether `first` certainly comes before `second`; two bare dates are compared as written, whatever the zones."""
    bare = first.date_only & second.date_only
    return first.known & second.known & np.where(bare, first.day < second.day, first.high < second.low)


def judged_results(ev: Evidence) -> Bool:
    """Rows of results that rules of their own judge: target or tentative, no copies, no runs set aside."""
    assert ev.results is not None
    return np.asarray(ev.results.target & (ev.in_use != 0))


def _coded(values: Texts, hard: Bool, row: Int64) -> tuple[Coded, Bool]:
    """Gather words by row; NO_ROW gives an empty word, TWO_ROWS a hard one."""
    if not len(values):
        return Coded(np.zeros(len(row), np.int64), np.array([""], dtype=object)), row == TWO_ROWS
    return Coded.of(values).take(row), ((row >= 0) & hard[np.maximum(row, 0)]) | (row == TWO_ROWS)


def media_of_samples(ev: Evidence) -> tuple[Texts, Bool]:
    """`gas`, `soil`, `water` or empty by sample; unknown in a gas container is gas; and unreadable words."""
    samples = ev.samples
    matrix = samples.matrix
    group = np.full(len(matrix), "", object)
    group[np.isin(matrix.astype(str), GAS_MATRICES)] = "gas"
    group[matrix == "soil"] = "soil"
    group[matrix == "water"] = "water"
    open_word = (group == "") & ~np.isin(matrix.astype(str), ("soil", "water"))
    group[open_word & np.isin(samples.container.astype(str), GAS_CONTAINERS)] = "gas"
    return group, np.asarray(samples.matrix_hard & (group == ""))


def _spaced(found: Texts) -> Texts:
    return np.array([str(word).replace("_", " ") for word in found], dtype=object)


_END_PLACES = (("samples", "ended_at"), ("results", "collected_at"))


@dataclass(frozen=True, slots=True)
class ResultCases:
    """What tells which holding time is meant, for each result that rules judge, (m,): shared by every clock.

    Attributes
    ----------
    rows : int64
        Rows of results.
    container, medium : Coded
        Words, empty where unknown; `container_hard`, `medium_hard` where unreadable.
    preserved_hard : float64
        1 where the word for the preservation cannot be read.
    by_name : mapping
        The cases by the names that limits use: medium, container, preserved, cas.
    analyte : float64
        Analyte numbers.
    analyte_name, container_name : object
        As sentences print them.
    """

    rows: Int64
    container: Coded
    container_hard: Bool
    medium: Coded
    medium_hard: Bool
    preserved_hard: Float
    by_name: Mapping[str, Coded]
    analyte: Float
    analyte_name: Texts
    container_name: Texts


def result_cases(ev: Evidence) -> ResultCases:
    """Gather the cases of every result that rules judge."""
    assert ev.results is not None
    rows = np.flatnonzero(judged_results(ev)).astype(np.int64)
    sample = ev.results.sample[rows]
    container, container_hard = _coded(ev.samples.container, ev.samples.container_hard, sample)
    medium, medium_hard = _coded(*media_of_samples(ev), sample)
    kept, kept_hard = _coded(*words(ev.tables.get("samples"), "preserved"), ev.sample_row_of_results[rows])
    cas = Coded(ev.results.analyte[rows], np.array([*ev.analytes.cas, ""], dtype=object))
    return ResultCases(
        rows=rows,
        container=container,
        container_hard=container_hard,
        medium=medium,
        medium_hard=medium_hard,
        preserved_hard=kept_hard.astype(np.float64),
        by_name={"medium": medium, "container": container, "preserved": kept, "cas": cas},
        analyte=ev.results.analyte[rows].astype(np.float64),
        analyte_name=ev.analyte_names(rows),
        container_name=Coded(container.codes, _spaced(container.words)).texts,
    )


def _elapsed(
    ev: Evidence, begin: Moment, end: Moment, begin_phrase: str, begin_places: tuple[tuple[str, str], ...],
    end_phrase: str, end_places: tuple[tuple[str, str], ...],
) -> Measured:  # fmt: skip
    cases = ev.result_cases
    rows = cases.rows
    begin, end = begin.take(rows), end.take(rows)
    asked = Asked(rows, ~precedes(end, begin))
    asked.need(~cases.container.is_in(""), "the container", ("samples", "container"), ("containers", "container"))
    asked.hard_where(cases.container_hard)
    asked.need(~cases.medium.is_in(""), "the matrix", ("samples", "matrix"))
    asked.hard_where(cases.medium_hard)
    asked.need(begin, begin_phrase, *begin_places)
    asked.need(end, end_phrase, *end_places)
    shortest = np.maximum(end.low - begin.high, 0) / _US_PER_S
    longest = np.maximum(end.high - begin.low, 0) / _US_PER_S
    days = (end.day - begin.day).astype(np.float64)
    facts: Facts = {
        "analyte": Labels(cases.analyte_name),
        "container": Labels(cases.container_name),
        "from": Stamps(begin.low, begin.date_only, "field"),
        "to": Stamps(end.low, end.date_only, "laboratory"),
    }
    return asked.measured(
        longest,
        facts=facts,
        cases=cases.by_name,
        extra={
            "shortest": shortest,
            "longest": longest,
            "days": days,
            "analyte": cases.analyte,
            "preserved_hard": cases.preserved_hard,
        },
    )


def _none() -> Measured:
    return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))


def collection_to_analysis(ev: Evidence) -> Measured:
    """Seconds from the end of collection to the analysis."""
    if ev.results is None:
        return _none()
    times = ev.result_times
    return _elapsed(
        ev, times.collected, times.analysed, "the end of collection", _END_PLACES, "the time of analysis",
        (("results", "analyzed_at"),),
    )  # fmt: skip


def surrogate_to_analysis(ev: Evidence) -> Measured:
    """Seconds from the addition of the surrogate to the analysis (glass bulbs)."""
    if ev.results is None:
        return _none()
    times = ev.result_times
    return _elapsed(
        ev, times.surrogate_added, times.analysed, "when the surrogate was added", (("samples", "surrogate_added_at"),),
        "the time of analysis", (("results", "analyzed_at"),),
    )  # fmt: skip


def surrogate_to_receipt(ev: Evidence) -> Measured:
    """Seconds from the addition of the surrogate to receipt by the laboratory (glass bulbs)."""
    if ev.results is None:
        return _none()
    times = ev.result_times
    return _elapsed(
        ev, times.surrogate_added, times.received, "when the surrogate was added", (("samples", "surrogate_added_at"),),
        "the receipt by the laboratory", (("results", "received_at"), ("samples", "received_at")),
    )  # fmt: skip


def collection_to_preservation(ev: Evidence) -> Measured:
    """Seconds from the end of collection to preservation (core samplers)."""
    if ev.results is None:
        return _none()
    times = ev.result_times
    return _elapsed(
        ev, times.collected, times.preserved, "the end of collection", _END_PLACES, "the time of preservation",
        (("samples", "preserved_at"),),
    )  # fmt: skip


def collection_to_receipt(ev: Evidence) -> Measured:
    """Seconds from the end of collection to receipt by the laboratory."""
    if ev.results is None:
        return _none()
    times = ev.result_times
    return _elapsed(
        ev, times.collected, times.received, "the end of collection", _END_PLACES, "the receipt by the laboratory",
        (("results", "received_at"), ("samples", "received_at")),
    )  # fmt: skip


def sample_rows(ev: Evidence) -> Int64:
    """Row of the samples table by row of results; NO_ROW or TWO_ROWS where there is none or more than one."""
    if ev.results is None:
        return np.empty(0, np.int64)
    number = ev.results.sample
    if not len(ev.samples.row):
        return np.full(len(number), NO_ROW, np.int64)
    return pick(ev.samples.row, number, NO_ROW)

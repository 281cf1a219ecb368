"""Tunes and internal standards: what a mass spectrometer is held to, run by run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.calibrations import rows_of_kind, spared_of_mass_spectrometry
from vaporqa.evidence.cells import Known, Moment, moments, numbers, pick, yes_no
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.judged import Amounts, Labels, Links, Measured
from vaporqa.evidence.recoveries import same_run
from vaporqa.tables.values import Bool, Float, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence
    from vaporqa.evidence.reported import Results

_NOTHING = np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class Tuned:
    """Results and the tune that each names, (m,).

    Attributes
    ----------
    row, concerned
        Rows of results; a fixed gas that names no tune needs none.
    tune : int64
        Row of lab_qc of kind tune, else negative.
    shortest, longest : float64
        Seconds from the tune to the analysis: as little and as much as the stamps allow; negative before it.
    passed : Known
    """

    row: Int64
    concerned: Bool
    tune: Int64
    named: Bool
    at: Moment
    analysed: Moment
    shortest: Float
    longest: Float
    passed: Known


def tuned_results(ev: Evidence) -> Tuned:
    """Gather what is known of the tune of each result."""
    table, qc, results = ev.tables.get("results"), ev.tables.get("lab_qc"), ev.results
    assert table is not None
    assert results is not None
    rows = np.flatnonzero(judged_results(ev)).astype(np.int64)
    number = ev.qc_ids.of("results", "tune_id", table.rows)[rows]
    home = ev.qc_ids.rows_of(number)
    if qc is not None:
        is_tune = np.zeros(qc.rows, bool)
        is_tune[rows_of_kind(ev, "tune")] = True
        home = np.where(pick(is_tune, home, False), home, np.minimum(home, -1))
    at, analysed = moments(qc, "analyzed_at").take(home), moments(table, "analyzed_at").take(rows)
    shortest = np.where(analysed.high < at.low, analysed.high - at.low, np.maximum(analysed.low - at.high, 0)) / 1e6
    longest = (analysed.high - at.low) / 1e6
    concerned = (number >= 0) | ~spared_of_mass_spectrometry(ev)[rows]
    passed = yes_no(qc, "passed").take(home)
    return Tuned(rows, concerned, home, number >= 0, at, analysed, shortest, longest, passed)


# -- internal standards ----------------------------------------------------------------------------------------------


def internal_standard_share(ev: Evidence) -> Measured:
    """Area of each internal standard in percent of that of its check standard.

    Where there is no check standard the printed lower (else upper) limit stands for the limit of that name in the rule:
    an area at the printed lower limit is then as many percent as that limit. Targets lack one where their run has none,
    or not the one that they name, fixed gases apart.
    """
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        return Asked(_NOTHING, np.zeros(0, bool)).measured(np.empty(0))
    standard = np.flatnonzero(table.counts & (results.kind == "internal_standard")).astype(np.int64)
    links = _on_standard(ev, table, results, standard)
    bare = _without_standard(ev, results, links)
    rows = np.concatenate([standard, bare])
    is_standard = np.arange(len(rows)) < len(standard)
    area = numbers(table, "area").take(rows)
    low, high = numbers(table, "area_low").take(rows), numbers(table, "area_high").take(rows)
    checked = _checked_area(ev, table, rows)
    lowest, highest = _limits_of_rule(ev)
    by_check = _share(area, checked, 100.0)
    share = by_check.or_else(_share(area, low, lowest)).or_else(_share(area, high, highest))
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(is_standard, "an internal standard of the run", ("results", "area"))
    asked.need(area, "the area of the internal standard", ("results", "area"), rows=asked.known)
    printed = low.known | high.known
    doubtful = low.hard | high.hard
    readable = Known(area.value, ~doubtful, doubtful)
    asked.need(readable, "a readable limit of the area", ("results", "area_low"), rows=asked.known)
    told = Known(share.value, share.known | printed, share.hard)
    phrase = "the area of its check standard (or the laboratory's limits)"
    asked.need(told, phrase, ("results", "area_low"), ("lab_qc", "area"), rows=asked.known)
    under = low.known & area.known & (area.value < low.value / (1 + 1e-9))
    over = high.known & area.known & (area.value > high.value * (1 + 1e-9))
    names = np.array([*ev.analytes.name, ""], dtype=object)
    return asked.measured(
        share.value,
        facts={
            "standard": Labels(names[results.analyte[rows]]),
            "area": Amounts(area.value),
            "area_low": Amounts(low.value),
            "area_high": Amounts(high.value),
            "checked_area": Amounts(checked.value),
        },
        results=links,
        cases={
            "limits": np.where(printed, "printed", "default").astype(object),
            "internal_standard_share": np.where(under, "under", np.where(over, "over", "within")).astype(object),
        },
    )


def _share(area: Known, reference: Known, percent: float) -> Known:
    with np.errstate(divide="ignore", invalid="ignore"):
        share = percent * area.value / reference.value
    known = area.known & reference.known & np.isfinite(share)
    return Known(np.where(known, share, np.nan), known, reference.hard & ~known)


def _limits_of_rule(ev: Evidence) -> tuple[float, float]:
    for rule in ev.rulebook.rules:
        if rule.measure == "internal_standard_share":
            return rule.limit("low").value, rule.limit("high").value
    return np.nan, np.nan


def _without_standard(ev: Evidence, results: Results, links: Links) -> Int64:
    """Targets that hang on no internal standard of their run."""
    targets = np.flatnonzero(judged_results(ev) & ~spared_of_mass_spectrometry(ev)).astype(np.int64)
    served = np.zeros(len(results.detected), bool)
    served[links.target] = True
    return targets[~served[targets]]


def _checked_area(ev: Evidence, table: Table, rows: Int64) -> Known:
    """Area of the same standard in the last calibration check of the calibration before each row.

    Where times do not tell, the only check there is; else nothing.
    """
    qc, qc_table, results = ev.lab_qc, ev.tables.get("lab_qc"), ev.results
    out = np.full(len(rows), np.nan)
    nothing = Known(out, np.zeros(len(rows), bool), np.zeros(len(rows), bool))
    if qc is None or qc_table is None or results is None:
        return nothing
    checks = rows_of_kind(ev, "calibration_check")
    area = numbers(qc_table, "area").take(checks)
    checks, area = checks[area.known], area.take(np.flatnonzero(area.known))
    if not len(checks) or not len(rows):
        return nothing

    def calibration(name: str, n: int) -> Int64:
        return ev.batches.get((name, "calibration_id"), np.full(n, -1, np.int64))

    own, theirs = calibration("results", table.rows)[rows], calibration("lab_qc", qc_table.rows)[checks]
    groups, count = group_numbers(
        np.concatenate([own, theirs]), np.concatenate([results.analyte[rows], qc.analyte[checks]])
    )
    left = np.where(own >= 0, groups[: len(rows)], -1)
    entry, pair = pairs_by_group(left, groups[len(rows) :], count)
    at, when = moments(qc_table, "analyzed_at").take(checks), moments(table, "analyzed_at").take(rows)
    hits = np.bincount(entry, minlength=len(rows))
    before = at.known[pair] & when.known[entry] & (at.high[pair] <= when.high[entry])
    order = np.lexsort((at.low[pair], entry))
    order = order[before[order]]
    out[entry[order]] = area.value[pair[order]]
    only = hits[entry] == 1
    timed = at.known[pair] & when.known[entry]
    alone = only & ~timed
    out[entry[alone]] = area.value[pair[alone]]
    known = np.isfinite(out)
    return Known(out, known, np.zeros(len(rows), bool))


def _on_standard(ev: Evidence, table: Table, results: Results, standard: Int64) -> Links:
    """Targets of the run of each standard that name it, or that name none: what these hang on nobody can tell."""
    targets = np.flatnonzero(results.target).astype(np.int64)
    links = same_run(ev, standard, targets)
    text = table.text("internal_standard")
    if text is None:
        return links
    number = np.array([ev.analytes.number(str(word), ev.names) for word in text.words] + [-2], dtype=np.int64)
    named = number[text.codes[links.target]]
    keep = (named == results.analyte[standard[links.entry]]) | (named == -2)
    return Links(links.entry[keep], links.target[keep])

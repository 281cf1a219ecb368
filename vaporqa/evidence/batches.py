"""Laboratory batches: which results hang on which control sample, and laboratory duplicates."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import numbers, pick, words
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.judged import Links, Measured
from vaporqa.evidence.reported import DETECTED, UNSTATED, Values, counted, in_family
from vaporqa.tables.values import Bool, Float, Int8, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def results_of_batches(ev: Evidence, qc_row: Int64, by: str = "batch_id") -> Links:
    """Pairs (entry, results row): target results of the same laboratory, batch (or calibration) and analyte.

    A laboratory that one side does not state does not keep them apart.
    """
    results, qc = ev.results, ev.lab_qc
    table, qc_table = ev.tables.get("results"), ev.tables.get("lab_qc")
    if results is None or qc is None or table is None or qc_table is None or not len(qc_row):
        return Links.none()
    nothing, qc_nothing = np.full(table.rows, -1, np.int64), np.full(qc_table.rows, -1, np.int64)
    batch = ev.batches.get(("results", by), nothing)
    qc_batch = ev.batches.get(("lab_qc", by), qc_nothing)[qc_row]
    laboratory = ev.batches.get(("results", "laboratory"), nothing)
    qc_laboratory = ev.batches.get(("lab_qc", "laboratory"), qc_nothing)[qc_row]
    rows = np.flatnonzero(results.target & (batch >= 0))
    groups, count = group_numbers(
        np.concatenate([batch[rows], qc_batch]), np.concatenate([results.analyte[rows], qc.analyte[qc_row]])
    )
    right, left = groups[: len(rows)], np.where(qc_batch >= 0, groups[len(rows) :], -1)
    entry, pair = pairs_by_group(left, right, count)
    found = rows[pair]
    here, there = laboratory[found], qc_laboratory[entry]
    same = (here == there) | (here < 0) | (there < 0)
    return Links(entry[same], found[same].astype(np.int64))


def laboratory_duplicates(ev: Evidence) -> tuple[Int64, Measured, LabPair]:
    """Laboratory duplicates with their parents.

    Returns
    -------
    rows : int64 (m,)
        Rows of lab_qc of kind laboratory_duplicate.
    asked : Measured
        What was missing, and the results that hang on each.
    pair : LabPair
        Both numbers in one unit.
    """
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    if table is None or qc is None:
        return np.empty(0, np.int64), Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0)), _no_pair(0)
    kind, _ = words(table, "kind")
    rows = np.flatnonzero(table.counts & (kind == "laboratory_duplicate")).astype(np.int64)
    asked = Asked(rows, np.ones(len(rows), bool))
    parent_qc, parent_result = _parents(ev, rows)
    pair = _pair(ev, rows, parent_qc, parent_result)
    stated = numbers(table, "rpd").take(rows)
    asked.need(pair.first_known | stated.known, "its own result (or a stated RPD)", ("lab_qc", "result"))
    asked.need(
        pair.known | stated.known, "the parent's result (or a stated RPD)", ("lab_qc", "parent_qc_id"),
        ("lab_qc", "sample_id"), ("lab_qc", "rpd"),
    )  # fmt: skip
    by_numbers = pair.known & (pair.limits_known | pair.neither)
    asked.need(by_numbers | stated.known, "a reporting limit to judge by", ("lab_qc", "reporting_limit"))
    asked.hard_where(pair.hard | stated.hard)
    return rows, asked.measured(stated.value, results=results_of_batches(ev, rows)), pair


class LabPair:
    """Two numbers in one unit with what the two tests need, (m,) each."""

    def __init__(self, first: Values, second: Values, both: Bool, neither: Bool, higher: Float, limits: Bool) -> None:
        self.first, self.second = first.value, second.value
        self.family = first.family
        self.both, self.neither, self.higher, self.limits_known = both, neither, higher, limits
        self.first_known = first.known | neither
        self.known = (first.known & second.known) | neither
        self.hard = first.hard | second.hard


def _no_pair(size: int) -> LabPair:
    no = np.zeros(size, bool)
    nothing = Values(np.full(size, np.nan), np.zeros(size, np.int8), no, no)
    return LabPair(nothing, nothing, no, no, np.full(size, np.nan), no)


def _parents(ev: Evidence, rows: Int64) -> tuple[Int64, Int64]:
    """Row of lab_qc, else row of results in use, that each duplicate repeats; -1 where none."""
    table, qc, results = ev.tables.get("lab_qc"), ev.lab_qc, ev.results
    assert table is not None
    assert qc is not None
    parent = ev.qc_ids.of("lab_qc", "parent_qc_id", table.rows)[rows]
    parent_row = ev.qc_ids.rows_of(parent)
    out = np.full(len(rows), -1, np.int64)
    if results is not None:
        usable = np.flatnonzero(results.target & (ev.in_use != 0))
        groups, count = group_numbers(
            np.concatenate([results.sample[usable], qc.sample[rows]]),
            np.concatenate([results.analyte[usable], qc.analyte[rows]]),
        )
        left = np.where((qc.sample[rows] >= 0) & (parent_row < 0), groups[len(usable) :], -1)
        entry, pair = pairs_by_group(left, groups[: len(usable)], count)
        hits = np.bincount(entry, minlength=len(rows))
        one = hits[entry] == 1
        out[entry[one]] = usable[pair[one]]
    return np.maximum(parent_row, -1), out


def _stated(values: Values, detected: Int8) -> Values:
    """What is neither detected nor not detected has no number: it is no nondetect."""
    return replace(values, known=values.known & (detected != UNSTATED))


def _pair(ev: Evidence, rows: Int64, parent_qc: Int64, parent_result: Int64) -> LabPair:
    qc, results = ev.lab_qc, ev.results
    assert qc is not None
    mass = ev.molar_mass(qc.analyte[rows])

    def side(of_qc: Values, of_result: Values | None) -> Values:
        found = of_qc.take(parent_qc)
        return found if of_result is None else found.or_else(of_result.take(parent_result))

    own_detected = qc.detected[rows]
    other_detected = pick(qc.detected, parent_qc, UNSTATED)
    if results is not None and len(results.detected):
        from_result = results.detected[np.maximum(parent_result, 0)]
        other_detected = np.where((parent_qc < 0) & (parent_result >= 0), from_result, other_detected)
    own_limit, other_limit = qc.ceiling.take(rows), side(qc.ceiling, results.ceiling if results is not None else None)
    own = qc.result.take(rows)
    other = side(qc.result, results.result if results is not None else None)
    family = np.where(own.family > 0, own.family, own_limit.family).astype(np.int8)
    other, other_limit = (in_family(v, family, mass, ev.molar_volume) for v in (other, other_limit))
    own_limit = in_family(own_limit, family, mass, ev.molar_volume)
    first = _stated(counted(own_detected == DETECTED, own, own_limit), own_detected)
    second = _stated(counted(other_detected == DETECTED, other, other_limit), other_detected)
    stated = (own_detected != UNSTATED) & (other_detected != UNSTATED)
    both = (own_detected == DETECTED) & (other_detected == DETECTED)
    neither = stated & (own_detected != DETECTED) & (other_detected != DETECTED)
    return LabPair(
        first, second, both, neither, np.fmax(own_limit.value, other_limit.value), own_limit.known & other_limit.known
    )

"""Whether a result, its status, its flags and its limits agree with each other, as the laboratory reported them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.own_units import in_own_unit
from vaporqa.evidence.reported import DETECTED, NONDETECT, UNSTATED, Results, Values, in_family, values_of
from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Int8, Int64, Table, YesNo

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Reported:
    """Results that are judged, with what contradicts what, (m,).

    Attributes
    ----------
    row : int64
    contradicts : bool
        The `detected` column and the result cell (or its flag), or the two forms of one result, say opposite things.
    zero : bool
        The result is nought, and no mark says that it stands for a nondetect.
    under_detection_limit : bool
        A detect under its own detection limit.
    flag : bool
        A flag says that a detect is under its reporting limit, or a nondetect over range.
    negative : bool
    disordered : bool
        Detection limit over limit of detection, or either over the reporting limit.
    unlike_limits : bool
        The number beside a nondetect mark is none of the row's limits.
    hard : bool
        A cell that is needed cannot be read.
    unstated : bool
        Nothing says whether it was detected, and no cell is to blame.
    result, beside, reporting_limit, detection_limit, limit_of_detection : Values
        In one family each row.
    """

    row: Int64
    contradicts: Bool
    zero: Bool
    under_detection_limit: Bool
    flag: Bool
    negative: Bool
    disordered: Bool
    unlike_limits: Bool
    hard: Bool
    unstated: Bool
    result: Values
    beside: Values
    reporting_limit: Values
    detection_limit: Values
    limit_of_detection: Values


def reported(ev: Evidence) -> Reported | None:
    """Compare the cells of each result that is judged; None where the folder has no results."""
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        return None
    rows = np.flatnonzero(judged_results(ev)).astype(np.int64)
    written, marked, flagged, stated, unread = _as_written(table, results, rows)
    status = _before_blanks(results, rows)
    base = table.amount(f"result{results.form}")
    result = in_own_unit(results.result.take(rows), base, base, rows)
    parts = (
        ("nondetect_at", results.nondetect_at),
        (f"reporting_limit{results.form}", results.reporting_limit),
        (f"detection_limit{results.form}", results.detection_limit),
        (f"limit_of_detection{results.form}", results.limit_of_detection),
    )
    own = [in_own_unit(part.take(rows), table.amount(name), base, rows) for name, part in parts]
    family = result.family
    for part in own:
        family = np.where(family > 0, family, part.family).astype(np.int8)
    mass = ev.molar_mass(results.analyte[rows])
    value = in_family(result, family, mass, ev.molar_volume)
    beside, limit, detection, lod = (in_family(part, family, mass, ev.molar_volume) for part in own)
    plain = np.isfinite(written) & ~marked & ~flagged
    nondetect_cell = marked | flagged
    contradicts = ((stated == 1) & nondetect_cell) | ((stated == 0) & plain & (written > 0) & _over(value, limit))
    contradicts |= ~flagged & (stated != 0) & _forms_differ(table, results, rows)
    zero = np.isfinite(written) & (written == 0) & ~nondetect_cell & (stated != 0)
    detect = status == DETECTED
    below = _bit(results, "below_reporting_limit", rows) & detect & _over(value, limit)
    beyond = _bit(results, "over_range", rows) & (status == NONDETECT) & ~_blanked(results, rows)
    limits = (limit, detection, lod)
    some = limit.known | detection.known | lod.known
    is_one = np.zeros(len(rows), bool)
    # A mark of nondetection beside a plain number makes that number the limit.
    mark = Values(
        np.where(beside.known, beside.value, np.where(nondetect_cell, value.value, np.nan)), family,
        beside.known | (nondetect_cell & value.known), beside.hard,
    )  # fmt: skip
    for one in limits:
        is_one |= mark.known & one.known & _same(mark.value, one.value)
    unlike = mark.known & some & ~is_one & ~(mark.value < 0)
    hard = unread | result.hard
    for one in (limit, detection, lod, beside):
        hard |= one.hard
    return Reported(
        row=rows,
        contradicts=contradicts,
        zero=zero,
        under_detection_limit=detect & _over(detection, value) & (written > 0),
        flag=below | beyond,
        negative=np.isfinite(written) & (written < 0),
        disordered=_over(detection, lod) | _over(lod, limit) | _over(detection, limit),
        unlike_limits=unlike,
        hard=hard,
        unstated=(status == UNSTATED) & ~zero & ~unread & ~result.hard,
        result=value,
        beside=mark,
        reporting_limit=limit,
        detection_limit=detection,
        limit_of_detection=lod,
    )


def _as_written(table: Table, results: Results, rows: Int64) -> tuple[Float, Bool, Bool, Int8, Bool]:
    """The number in the result cell, whether the cell or a flag marks a nondetect, the column, and unreadable cells."""
    amount = table.amount(f"result{results.form}")
    column = table.columns.get("detected")
    stated = column.values[rows] if isinstance(column, YesNo) else np.full(len(rows), -1, np.int8)
    flagged = results.flagged("nondetect")[rows]
    if amount is None:
        nothing = np.full(len(rows), np.nan)
        return nothing, np.zeros(len(rows), bool), flagged, stated, stated == -2
    read = amount.state == READ
    marked = (amount.nondetect & ~(read & (amount.written < 0)))[rows]
    unread = (amount.state == UNREADABLE)[rows] | (stated == -2)
    return np.where(read, amount.written, np.nan)[rows], marked, flagged, stated, unread


def _forms_differ(table: Table, results: Results, rows: Int64) -> Bool:
    """A nondetect in one form and a number in the other, which is more than a limit written out."""
    differ = np.zeros(table.rows, bool)
    mass, volume = table.amount("result_mass"), table.amount("result_volume")
    if mass is not None and volume is not None:
        for marked, number, form in ((mass, volume, "volume"), (volume, mass, "mass")):
            value = values_of(number, table.rows)
            limit = values_of(table.amount(f"reporting_limit_{form}"), table.rows)
            plain = value.known & ~number.nondetect & (value.value > 0)
            differ |= marked.nondetect & plain & (_over(value, limit) | ~limit.known)
    if table.form_of is not None:
        other = np.flatnonzero(table.form_of >= 0)
        row = table.form_of[other].astype(np.int64)
        status, stands = results.detected, _over(results.result, results.reporting_limit)
        stands |= ~results.reporting_limit.known
        for one, two in ((row, other), (other, row)):
            apart = (status[one] == NONDETECT) & ~_blanked(results, one) & (status[two] == DETECTED) & stands[two]
            differ[row[apart]] = True
    return differ[rows]


def _before_blanks(results: Results, rows: Int64) -> Int8:
    return np.where(_blanked(results, rows), DETECTED, results.detected[rows]).astype(np.int8)


def _blanked(results: Results, rows: Int64) -> Bool:
    return np.isfinite(results.blank_limit[rows])


def _bit(results: Results, meaning: str, rows: Int64) -> Bool:
    return np.asarray(results.flagged(meaning)[rows])


def _over(first: Values, second: Values) -> Bool:
    """Where the first is known to be more than the second."""
    with np.errstate(invalid="ignore"):
        return np.asarray(first.known & second.known & (first.value > second.value * (1 + _TOLERANCE)))


def _same(first: Float, second: Float) -> Bool:
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(first - second) <= _TOLERANCE * np.abs(second))

"""Calibrations: levels and their spread, differences of check standards, and which results hang on each.

A calibration is known by the laboratory and its id; its analytes are judged apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import Known, missing_numbers, moments, numbers, words, yes_no
from vaporqa.evidence.joins import group_numbers
from vaporqa.evidence.judged import Links
from vaporqa.evidence.recoveries import recovered
from vaporqa.tables.values import Bool, Int64, Table, Text

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_NOTHING = np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class Initial:
    """Initial calibrations, one entry a calibration and analyte, (m,).

    Attributes
    ----------
    row : int64
        First row of lab_qc that states it.
    calibration : int64
        Number of the calibration (its laboratory and id together), for counting its analytes.
    spread : Known
        RSD in percent: of the response factors of its levels with n - 1, else as stated.
    level : Known
        Recovery of the worst level less 100, in percent; known where every level has one.
    mean_factor : Known
        Mean response factor.
    passed : Known
        What the laboratory says: 1 or 0.
    """

    row: Int64
    calibration: Int64
    spread: Known
    level: Known
    mean_factor: Known
    passed: Known


@dataclass(frozen=True, slots=True)
class Standards:
    """Check standards of one kind, (m,): difference from the true value in percent, high positive.

    `difference` is worked out where the numbers for it are given, else as stated; `stated` as stated.
    """

    row: Int64
    difference: Known
    stated: Known
    passed: Known


def rows_of_kind(ev: Evidence, *kinds: str) -> Int64:
    """Rows of lab_qc of any of some kinds; no copies."""
    table = ev.tables.get("lab_qc")
    if table is None:
        return _NOTHING
    of_kind, _ = words(table, "kind")
    return np.flatnonzero(table.counts & np.isin(of_kind.astype(str), kinds)).astype(np.int64)


def initial_calibrations(ev: Evidence) -> Initial:
    """Gather the levels of every initial calibration, analyte by analyte."""
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    rows = rows_of_kind(ev, "initial_calibration")
    if table is None or qc is None or not len(rows):
        nothing = missing_numbers(0)
        return Initial(_NOTHING, _NOTHING, nothing, nothing, nothing, nothing)
    calibration, _ = group_numbers(*_calibration_of_qc(ev, table, rows))
    group, count = group_numbers(calibration, qc.analyte[rows])
    first = np.zeros(count, np.int64)
    first[group[::-1]] = np.arange(len(rows) - 1, -1, -1)
    factor = numbers(table, "response_factor").take(rows)
    spread, mean = _spread(factor, group, count)
    stated = _worst(numbers(table, "rsd").take(rows), group, count, every=False)
    recovery = numbers(table, "recovery").or_else(recovered(ev, table, qc)).take(rows)
    away = Known(recovery.value - 100.0, recovery.known, recovery.hard)
    passed = yes_no(table, "passed").take(rows)
    return Initial(
        rows[first], calibration[first], spread.or_else(stated), _worst(away, group, count, every=True), mean,
        _agreed(passed, group, count),
    )  # fmt: skip


def _spread(factor: Known, group: Int64, count: int) -> tuple[Known, Known]:
    """RSD with n - 1, in percent, and mean of the response factors of each group."""
    use = factor.known
    size = np.bincount(group[use], minlength=count)
    hard = np.zeros(count, bool)
    np.logical_or.at(hard, group, factor.hard)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.bincount(group[use], factor.value[use], minlength=count) / size
        square = np.bincount(group[use], (factor.value[use] - mean[group[use]]) ** 2, minlength=count)
        rsd = 100.0 * np.sqrt(square / (size - 1)) / np.abs(mean)
    known, of_mean = (size > 1) & np.isfinite(rsd) & ~hard, (size > 0) & ~hard
    return (
        Known(np.where(known, rsd, np.nan), known, hard),
        Known(np.where(of_mean, mean, np.nan), of_mean, hard),
    )  # fmt: skip


def _agreed(passed: Known, group: Int64, count: int) -> Known:
    """What the laboratory says of each group: a level that failed speaks for all of them."""
    value = np.full(count, np.inf)
    np.minimum.at(value, group[passed.known], passed.value[passed.known])
    hard = np.zeros(count, bool)
    np.logical_or.at(hard, group, passed.hard)
    known = np.isfinite(value) & ~hard
    return Known(np.where(known, value, np.nan), known, hard)


def _worst(part: Known, group: Int64, count: int, *, every: bool) -> Known:
    """Of each group the number farthest from nought; with `every`, known only where each row has one."""
    use = part.known
    order = np.argsort(np.abs(part.value[use]), kind="stable")
    value = np.full(count, np.nan)
    value[group[use][order]] = part.value[use][order]
    hits, size = np.bincount(group[use], minlength=count), np.bincount(group, minlength=count)
    hard = np.zeros(count, bool)
    np.logical_or.at(hard, group, part.hard)
    known = ((hits == size) if every else (hits > 0)) & ~hard
    return Known(np.where(known, value, np.nan), known, hard)


def standards(ev: Evidence, kind: str) -> Standards:
    """Check standards of a kind with their differences.

    In order: the result against what was spiked, the recovery, the response factor against the mean of its initial
    calibration (all of them positive where the standard reads high), the difference that the laboratory states.
    """
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    rows = rows_of_kind(ev, kind)
    if table is None or qc is None:
        nothing = missing_numbers(0)
        return Standards(rows, nothing, nothing, nothing)
    by_result = _less(recovered(ev, table, qc).take(rows), 100.0)
    by_recovery = _less(numbers(table, "recovery").take(rows), 100.0)
    stated = numbers(table, "difference").take(rows)
    worked = by_result.or_else(by_recovery).or_else(_by_factor(ev, table, rows))
    return Standards(rows, worked.or_else(stated), stated, yes_no(table, "passed").take(rows))


def _less(part: Known, number: float) -> Known:
    return Known(part.value - number, part.known, part.hard)


def _by_factor(ev: Evidence, table: Table, rows: Int64) -> Known:
    """Response factor of each row against the mean of its initial calibration, in percent of it."""
    qc = ev.lab_qc
    assert qc is not None
    initial = initial_calibrations(ev)
    own = numbers(table, "response_factor").take(rows)
    both = np.concatenate([initial.row, rows])
    groups, count = group_numbers(*_calibration_of_qc(ev, table, both), qc.analyte[both])
    mean = np.full(count, np.nan)
    mean[groups[: len(initial.row)]] = initial.mean_factor.value
    there = mean[groups[len(initial.row) :]]
    with np.errstate(divide="ignore", invalid="ignore"):
        difference = 100.0 * (own.value - there) / there
    known = own.known & np.isfinite(difference)
    return Known(np.where(known, difference, np.nan), known, own.hard)


def _calibration_of_qc(
    ev: Evidence, table: Table, rows: Int64, by: str = "calibration_id"
) -> tuple[Int64, Int64]:  # fmt: skip
    nothing = np.full(table.rows, -1, np.int64)
    return (
        ev.batches.get(("lab_qc", by), nothing)[rows],
        ev.batches.get(("lab_qc", "laboratory"), nothing)[rows],
    )  # fmt: skip


# -- what hangs on a calibration -------------------------------------------------------------------------------------


def until_next_passing(ev: Evidence, rows: Int64, links: Links, passing: Bool) -> Links:
    """Of what hangs on each check standard, what may have been analysed from it to the next one that passes.

    Parameters
    ----------
    rows : int64 (m,)
        Rows of lab_qc of check standards.
    links : Links
        (entry, results row) by calibration and analyte.
    passing : bool (m,)

    Notes
    -----
    Where a time is not known, or a date leaves the order open, a result counts as hanging on the standard.
    """
    table, results = ev.tables.get("lab_qc"), ev.tables.get("results")
    qc = ev.lab_qc
    if table is None or results is None or qc is None or not len(links.entry):
        return links
    at, when = moments(table, "analyzed_at").take(rows), moments(results, "analyzed_at")
    groups, _ = group_numbers(*_calibration_of_qc(ev, table, rows), qc.analyte[rows])
    end = np.full(len(rows), np.iinfo(np.int64).max)
    good = np.flatnonzero(passing & at.known)
    good = good[np.lexsort((at.low[good], groups[good]))]
    # The first passing standard of the group that certainly came after each one.
    for entry in np.unique(links.entry).tolist():
        if not at.known[entry]:
            continue
        of_group = good[groups[good] == groups[entry]]
        later = of_group[at.low[of_group] > at.high[entry]]
        if later.size:
            end[entry] = at.high[later[0]]
    entry, row = links.entry, links.target
    begun = ~at.known[entry] | ~when.known[row] | (when.high[row] >= at.low[entry])
    not_over = ~when.known[row] | (when.low[row] < end[entry])
    keep = begun & not_over
    return Links(entry[keep], row[keep])


@dataclass(frozen=True, slots=True)
class Unserved:
    """Results without a control sample of a kind: what is missing, of which calibration (or batch), and which rows.

    All of them are (k,) groups; `subject` is the id, empty where the want is the same for the whole folder.
    """

    phrase: tuple[str, ...]
    place: tuple[tuple[tuple[str, str], ...], ...]
    subject: tuple[str, ...]
    rows: tuple[Int64, ...]


def unserved(
    ev: Evidence, kinds: tuple[str, ...], noun: str, spared: Bool, *, by: str = "calibration_id"
) -> Unserved:  # fmt: skip
    """Target results whose calibration (or what else `by` names) and analyte have no row of some kinds.

    Parameters
    ----------
    kinds, noun : tuple of str, str
        Words of lab_qc, and what a person calls it.
    spared : bool (n results,)
        Results that need none.
    by : str
        `calibration_id` or `batch_id`.
    """
    results, table, qc, qc_table = ev.results, ev.tables.get("results"), ev.lab_qc, ev.tables.get("lab_qc")
    if results is None or table is None:
        return Unserved((), (), (), ())
    rows = np.flatnonzero(results.target & (ev.in_use != 0) & ~spared).astype(np.int64)
    if not rows.size:
        return Unserved((), (), (), ())
    have = rows_of_kind(ev, *kinds)
    if qc is None or qc_table is None or not len(have):
        return Unserved((_one(noun),), ((("lab_qc", "*"),),), ("",), (rows,))
    nothing = np.full(table.rows, -1, np.int64)
    group = ev.batches.get(("results", by), nothing)[rows]
    laboratory = ev.batches.get(("results", "laboratory"), nothing)[rows]
    qc_group, qc_laboratory = _calibration_of_qc(ev, qc_table, have, by)
    both = np.concatenate([qc_group, group]), np.concatenate([qc.analyte[have], results.analyte[rows]])
    pair, _ = group_numbers(*both)
    of_have, of_rows = pair[: len(have)], pair[len(have) :]
    served = _meets(of_have, qc_laboratory, of_rows, laboratory) & (group >= 0)
    phrase: list[str] = []
    place: list[tuple[tuple[str, str], ...]] = []
    subject: list[str] = []
    found: list[Int64] = []
    bare = (group < 0) & ~served
    if bare.any():
        phrase.append(f"the {by.removesuffix('_id')} of a result")
        place.append((("results", by),))
        subject.append("")
        found.append(rows[bare])
    text = table.text(by)
    lacking = np.flatnonzero(~served & ~bare)
    lacking = lacking[np.argsort(group[lacking], kind="stable")]
    for part in np.split(lacking, np.flatnonzero(np.diff(group[lacking])) + 1) if lacking.size else ():
        phrase.append(f"{_one(noun)} of every analyte")
        place.append(())
        subject.append(_word(text, int(rows[part[0]])))
        found.append(rows[part])
    return Unserved(tuple(phrase), tuple(place), tuple(subject), tuple(found))


def _meets(of_have: Int64, have_laboratory: Int64, of_rows: Int64, laboratory: Int64) -> Bool:
    """Results with a control sample of their calibration and analyte, of the same laboratory where both state one."""
    exact, _ = group_numbers(np.concatenate([of_have, of_rows]), np.concatenate([have_laboratory, laboratory]))
    anywhere = np.isin(of_rows, of_have)
    unstated = np.isin(of_rows, of_have[have_laboratory < 0])
    return np.asarray(np.isin(exact[len(of_have) :], exact[: len(of_have)]) | unstated | (anywhere & (laboratory < 0)))


def _one(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def _word(text: Text | None, row: int) -> str:
    return text.at(row) if text is not None else ""


def spared_of_mass_spectrometry(ev: Evidence) -> Bool:
    """Fixed gases, (n results,): measured by thermal conductivity, which has no tune and no internal standard."""
    if ev.results is None:
        return np.zeros(0, bool)
    return np.append(ev.analytes.in_class("fixed_gas"), False)[ev.results.analyte]

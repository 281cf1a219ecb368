"""Which run of a result is in use: one value per sample, analyte, method and fraction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import numbers, yes_no
from vaporqa.evidence.joins import group_numbers
from vaporqa.tables.values import Bool, Int8, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

IN_USE, SET_ASIDE, UNDECIDED = 1, 0, -1


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs of each result, (n,) by row of results.

    Attributes
    ----------
    in_use : int8
        IN_USE, SET_ASIDE or UNDECIDED; copies are SET_ASIDE. Surrogates and the like are IN_USE.
    group : int64
        Number of the (sample, analyte, method, fraction), -1 for rows that are no target.
    several : bool
        The group has more than one row.
    counts_for : int64
        For a row set aside: the row that counts for it, else -1.
    why : object
        How it was decided, for the sentence.
    """

    in_use: Int8
    group: Int64
    several: Bool
    counts_for: Int64
    why: Texts


def runs_of(ev: Evidence) -> Runs:
    """Decide the run in use.

    The `in_use` column decides; else, of runs that are linked (`run_of`, `run_kind`), the least diluted one in range,
    if every candidate states its dilution or one run alone is in range. Runs that nothing links are undecided.
    """
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        none = np.empty(0, np.int64)
        return Runs(none.astype(np.int8), none, np.zeros(0, bool), none, np.empty(0, object))
    n = table.rows
    in_use = np.full(n, IN_USE, np.int8)
    in_use[~table.counts] = SET_ASIDE
    why = np.full(n, "", object)
    counts_for = np.where(table.copy_of >= 0, table.copy_of, -1).astype(np.int64)
    group = np.full(n, -1, np.int64)
    target = np.flatnonzero(results.target)
    numbered, count = group_numbers(
        results.sample[target], results.analyte[target], results.method[target], results.fraction[target]
    )
    group[target] = numbered
    size = np.bincount(numbered, minlength=count)
    several = np.zeros(n, bool)
    several[target] = size[numbered] > 1
    stated = yes_no(table, "in_use")
    in_use[results.target & stated.known & (stated.value == 0)] = SET_ASIDE
    for rows in _groups(target[size[numbered] > 1], group):
        _decide(ev, rows, stated.value, in_use, counts_for, why)
    return Runs(in_use, group, several, counts_for, why)


def _groups(rows: Int64, group: Int64) -> list[Int64]:
    order = rows[np.argsort(group[rows], kind="stable")]
    if not order.size:
        return []
    cuts = np.flatnonzero(np.diff(group[order])) + 1
    return np.split(order, cuts)


def _decide(ev: Evidence, rows: Int64, stated: object, in_use: Int8, counts_for: Int64, why: Texts) -> None:
    """Settle one group of two or more runs in place."""
    values = np.asarray(stated, dtype=np.float64)[rows]
    yes, left = rows[values == 1], rows[values != 0]
    chosen = yes if len(yes) == 1 else left if len(left) < len(rows) else yes[:0]
    if len(chosen) == 1:
        _choose(int(chosen[0]), rows, in_use, counts_for, why, "the laboratory names it as the one in use")
        return
    chosen_row = _among_linked(ev, rows, left)
    if chosen_row is None:
        # A row that the laboratory itself sets aside stays so, unless it sets all of them aside.
        still_open = left if len(left) else rows
        in_use[still_open] = UNDECIDED
        why[still_open] = "nothing says which of them counts"
        return
    row, reason = chosen_row
    _choose(row, rows, in_use, counts_for, why, reason)


def _choose(row: int, rows: Int64, in_use: Int8, counts_for: Int64, why: Texts, reason: str) -> None:
    others = rows[rows != row]
    in_use[row] = IN_USE
    in_use[others] = SET_ASIDE
    counts_for[others] = row
    why[rows] = reason


def _among_linked(ev: Evidence, rows: Int64, left: Int64) -> tuple[int, str] | None:
    """The run of `left` that counts where all of `rows` are linked, and why."""
    results = ev.results
    assert results is not None
    if not linked(ev, rows):
        return None
    in_range = left[~results.flagged("over_range")[left]]
    if len(in_range) == 1:
        return int(in_range[0]), "it alone is in range"
    if not len(in_range):
        return None
    dilution = numbers(ev.tables.get("results"), "dilution")
    if not dilution.known[in_range].all():
        return None
    least = in_range[dilution.value[in_range] == dilution.value[in_range].min()]
    return (int(least[0]), "it is the least diluted one in range") if len(least) == 1 else None


def linked(ev: Evidence, rows: Int64) -> bool:
    """Whether all rows of a group but one are stated to be runs of another (`run_of`, or `run_kind`)."""
    table = ev.tables.get("results")
    assert table is not None
    again = np.zeros(len(rows), bool)
    kind = table.word("run_kind")
    if kind is not None:
        again |= kind.is_in("dilution", "reanalysis")[rows]
    of = table.text("run_of")
    if of is not None:
        again |= of.codes[rows] >= 0
    return bool(again.sum() == len(rows) - 1)


def siblings_in_range(ev: Evidence) -> tuple[Int64, Bool]:
    """For each row of results another value of the same result that is in range, and whether a run links the two.

    Returns
    -------
    sibling : int64 (n,)
        Row of the least diluted other value that no flag calls over range; -1 where there is none.
    linked : bool (n,)
        All values of the result but one are stated to be runs of another.
    """
    table, results = ev.tables.get("results"), ev.results
    assert table is not None
    assert results is not None
    sibling = np.full(table.rows, -1, np.int64)
    is_linked = np.zeros(table.rows, bool)
    found = ev.runs
    over = results.flagged("over_range")
    dilution = numbers(table, "dilution").value
    wanted = np.zeros(int(found.group.max(initial=-1)) + 1, bool)
    wanted[found.group[over & found.several & (found.group >= 0)]] = True
    for rows in _groups(np.flatnonzero(found.several & wanted[found.group]).astype(np.int64), found.group):
        in_range = rows[~over[rows]]
        if len(in_range):
            # A missing dilution sorts last; keys decide between equals, so that the order of the file does not.
            keys = table.keys[in_range].astype(str)
            sibling[rows[over[rows]]] = in_range[np.lexsort((keys, dilution[in_range]))[0]]
        is_linked[rows] = linked(ev, rows)
    return sibling, is_linked

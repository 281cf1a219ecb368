"""Which run of a result is in use: one value per sample, analyte, method and fraction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import numbers, yes_no
from vaporqa.evidence.joins import group_numbers
from vaporqa.tables.values import Bool, Float, Int8, Int64, Texts

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

    Rows that are two forms of one result are one value. The `in_use` column decides; else, of runs that are linked
    (`run_of`, `run_kind`), the least diluted one in range, if every candidate states its dilution or one run alone is
    in range. Runs that nothing links are undecided.
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
    form = results.form_of
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
    rows = target[size[numbered] > 1]
    if rows.size:
        chosen, reason = _choose(ev, rows, group[rows], count, stated.value[rows])
        of = chosen[group[rows]]
        in_use[rows] = np.where(of < 0, UNDECIDED, np.where(of == rows, IN_USE, SET_ASIDE))
        counts_for[rows] = np.where(of == rows, -1, of)
        why[rows] = np.array(_REASONS, dtype=object)[reason[group[rows]]]
    # The form by volume is no second value: it goes where its form by mass goes.
    forms = np.flatnonzero((form >= 0) & table.counts)
    in_use[forms], counts_for[forms], why[forms] = in_use[form[forms]], counts_for[form[forms]], why[form[forms]]
    return Runs(in_use, group, several, counts_for, why)


_REASONS = (
    "nothing says which of them counts",
    "the laboratory names it as the one in use",
    "it alone is in range",
    "it is the least diluted one in range",
)


def _choose(ev: Evidence, rows: Int64, of: Int64, count: int, stated: Float) -> tuple[Int64, Int8]:
    """Row that counts for each group of two or more (-1 undecided), and which of `_REASONS` says so, (count,)."""
    results = ev.results
    assert results is not None
    chosen, reason = np.full(count, -1, np.int64), np.zeros(count, np.int8)

    def how_many(mask: Bool) -> Int64:
        return np.bincount(of[mask], minlength=count)

    def take(mask: Bool, why: int) -> None:
        chosen[of[mask]] = rows[mask]
        reason[of[mask]] = why

    yes, no = stated == 1, stated == 0
    one_yes = how_many(yes) == 1
    take(yes & one_yes[of], 1)
    one_left = ~one_yes & (how_many(no) > 0) & (how_many(~no) == 1)
    take(~no & one_left[of], 1)
    open_groups = (chosen < 0) & linked_groups(ev, rows, of, count)
    candidate = open_groups[of] & ~no & ~results.flagged("over_range")[rows]
    several = how_many(candidate)
    take(candidate & (several == 1)[of], 2)
    dilution = numbers(ev.tables.get("results"), "dilution").take(rows)
    all_known = how_many(candidate & dilution.known) == several
    least = np.full(count, np.inf)
    np.minimum.at(least, of[candidate & dilution.known], dilution.value[candidate & dilution.known])
    at_least = candidate & (several > 1)[of] & all_known[of] & (dilution.value == least[of])
    take(at_least & (how_many(at_least) == 1)[of], 3)
    return chosen, reason


def linked_groups(ev: Evidence, rows: Int64, of: Int64, count: int) -> Bool:
    """Whether all rows of each group but one are stated to be runs of another (`run_of`, or `run_kind`), (count,)."""
    table = ev.tables.get("results")
    assert table is not None
    again = np.zeros(len(rows), bool)
    kind = table.word("run_kind")
    if kind is not None:
        again |= kind.is_in("dilution", "reanalysis")[rows]
    of_run = table.text("run_of")
    if of_run is not None:
        again |= of_run.codes[rows] >= 0
    return np.asarray(np.bincount(of[again], minlength=count) == np.bincount(of, minlength=count) - 1)


def linked(ev: Evidence, rows: Int64) -> bool:
    """Whether all of `rows` but one, values of one result, are stated to be runs of another."""
    return bool(linked_groups(ev, rows, np.zeros(len(rows), np.int64), 1)[0])


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
    rows = np.flatnonzero(found.several).astype(np.int64)
    over = results.flagged("over_range")
    if not over[rows].any():
        return sibling, is_linked
    of, count = found.group[rows], int(found.group.max()) + 1
    is_linked[rows] = linked_groups(ev, rows, of, count)[of]
    touched = np.bincount(of[over[rows]], minlength=count) > 0
    in_range = rows[touched[of] & ~over[rows]]
    # A missing dilution sorts last; keys decide between equals, so that the order of the file does not.
    dilution = numbers(table, "dilution").value[in_range]
    order = np.lexsort((table.keys[in_range].astype(str), dilution, found.group[in_range]))[::-1]
    first = np.full(count, -1, np.int64)
    first[found.group[in_range[order]]] = in_range[order]
    beyond = rows[over[rows]]
    sibling[beyond] = first[found.group[beyond]]
    return sibling, is_linked

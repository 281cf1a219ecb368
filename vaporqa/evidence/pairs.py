"""Duplicate pairs: which results were taken to be the same gas twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import pick
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.reported import DETECTED, UNSTATED, Values, counted, in_family
from vaporqa.quantities.units import BY_MASS
from vaporqa.tables.values import Bool, Float, Int8, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

DUPLICATE_KINDS = ("field_duplicate", "field_replicate")


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of result rows, (m,), and rows that a pair id leaves without a partner or with too many.

    Attributes
    ----------
    first, second : int64 (m,)
        Rows of results: the parent's (or earlier) and the duplicate's.
    odd : int64 (k,)
        Rows whose pair id has one or three members.
    odd_members : int64 (k,)
        How many it has.
    lone : int64 (j,)
        Rows of a duplicate whose parent is known but has not the analyte.
    """

    first: Int64
    second: Int64
    odd: Int64
    odd_members: Int64
    lone: Int64


def result_pairs(ev: Evidence) -> Pairs:
    """Pair results by pair id on results, by parent sample, and by pair id on samples, each within one analyte."""
    results, table = ev.results, ev.tables.get("results")
    none = np.empty(0, np.int64)
    if results is None or table is None:
        return Pairs(none, none, none, none, none)
    use = results.target & (ev.in_use != 0)
    cell, _ = group_numbers(results.analyte, results.method, results.fraction)
    duplicate = np.isin(ev.samples.kind.astype(str), DUPLICATE_KINDS)
    of_duplicate = np.zeros(table.rows, bool)
    known = results.sample >= 0
    of_duplicate[known] = duplicate[results.sample[known]]

    pair_text = table.text("pair_id")
    named = pair_text.codes.astype(np.int64) if pair_text is not None else np.full(table.rows, -1, np.int64)
    by_id = _by_pair_id(np.flatnonzero(use & (named >= 0)), named, cell, of_duplicate)
    own_pairs = np.zeros(ev.sample_count, bool)
    with_id = np.flatnonzero(use & (named >= 0) & known)
    own_pairs[results.sample[with_id]] = True

    free = use & (named < 0) & known
    free[free] = ~own_pairs[results.sample[free]]
    parent = ev.samples.parent.copy()
    first, second, lone = _by_parent(np.flatnonzero(free), results.sample, parent, duplicate, cell)
    sample_id = _sample_pair_ids(ev, parent, duplicate)
    grouped = np.where(free, sample_id[np.maximum(results.sample, 0)], -1)
    by_sample = _by_pair_id(np.flatnonzero(grouped >= 0), grouped, cell, of_duplicate)
    return Pairs(
        first=np.concatenate([by_id[0], first, by_sample[0]]),
        second=np.concatenate([by_id[1], second, by_sample[1]]),
        odd=np.concatenate([by_id[2], by_sample[2]]),
        odd_members=np.concatenate([by_id[3], by_sample[3]]),
        lone=lone,
    )


def _by_pair_id(rows: Int64, named: Int64, cell: Int64, of_duplicate: Bool) -> tuple[Int64, Int64, Int64, Int64]:
    """Two members make a pair; three are unproven; one is unproven only where its sample is a duplicate."""
    if not rows.size:
        return rows, rows, rows, rows
    group, count = group_numbers(named[rows], cell[rows])
    size = np.bincount(group, minlength=count)
    order = rows[np.argsort(group, kind="stable")]
    members = size[np.sort(group)]
    two = order[members == 2]
    odd = order[(members > 2) | ((members == 1) & of_duplicate[order])]
    odd_members = members[(members > 2) | ((members == 1) & of_duplicate[order])]
    first, second = two[0::2], two[1::2]
    swap = of_duplicate[first] & ~of_duplicate[second]
    return np.where(swap, second, first), np.where(swap, first, second), odd, odd_members


def _by_parent(rows: Int64, sample: Int64, parent: Int64, duplicate: Bool, cell: Int64) -> tuple[Int64, Int64, Int64]:
    child = rows[duplicate[sample[rows]] & (parent[sample[rows]] >= 0)]
    if not child.size:
        return child, child, child
    key_child, key_row = _shared_keys(parent[sample[child]], cell[child], sample[rows], cell[rows])
    count = int(max(key_child.max(initial=-1), key_row.max(initial=-1))) + 1
    left, right = pairs_by_group(key_child, key_row, count)
    met = np.zeros(len(child), bool)
    met[left] = True
    return rows[right], child[left], child[~met]


def _shared_keys(a1: Int64, a2: Int64, b1: Int64, b2: Int64) -> tuple[Int64, Int64]:
    """Number (sample, cell) keys of two sets of rows alike."""
    numbers, _ = group_numbers(np.concatenate([a1, b1]), np.concatenate([a2, b2]))
    return numbers[: len(a1)], numbers[len(a1) :]


def _sample_pair_ids(ev: Evidence, parent: Int64, duplicate: Bool) -> Int64:
    """Pair number of each sample that has a pair id and no stated parent; -1 elsewhere."""
    table = ev.tables.get("samples")
    out = np.full(ev.sample_count, -1, np.int64)
    text = table.text("pair_id") if table is not None else None
    if text is None:
        return out
    row = ev.samples.row
    stated = pick(text.codes, row, -1)
    has_parent = duplicate & (parent >= 0)
    return np.where(has_parent, -1, stated).astype(np.int64)


def parents_by_pair(ev: Evidence) -> Int64:
    """Parent of each sample: the one it names, else the one other sample of its pair id that is no duplicate."""
    parent = ev.samples.parent.copy()
    duplicate = np.isin(ev.samples.kind.astype(str), DUPLICATE_KINDS)
    pair = _sample_pair_ids(ev, parent, duplicate)
    for number in np.unique(pair[pair >= 0]):
        members = np.flatnonzero(pair == number)
        mothers = members[~duplicate[members]]
        if len(mothers) == 1:
            children = members[duplicate[members]]
            parent[children] = mothers[0]
    return parent


def _in_a_shared_form(family: Int8, other_form: Int64, first: Int64, second: Int64) -> tuple[Int64, Int64]:
    """Rows to compare: where the forms of two members differ, the other row of the one that stands in both forms."""

    def turned(rows: Int64, partners: Int64) -> Int64:
        other = other_form[rows]
        better = (other >= 0) & (family[rows] != family[partners]) & (family[np.maximum(other, 0)] == family[partners])
        return np.where(better, other, rows)

    first = turned(first, second)
    return first, turned(second, first)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two numbers brought to one unit with what is needed to compare them, (m,) each.

    `first` and `second` are canonical in `family`, a nondetect counting at its ceiling. `both` says that both are
    detected, `neither` that neither is; `higher` is the higher reporting (or detection) limit. `known` and
    `limits_known` say that both members have the number and the limit, `hard` that one stands there and cannot be used.
    """

    first: Float
    second: Float
    both: Bool
    neither: Bool
    higher: Float
    known: Bool
    limits_known: Bool
    hard: Bool
    family: Int8


def compare(ev: Evidence, first: Int64, second: Int64) -> Comparison:
    """Bring the members of each pair to one unit and gather their limits.

    Members in two families (by volume, by mass) are compared in the form that both have, where one of them stands in
    both forms; else by mass. The limit that counts is the reporting limit,
    else the number beside a nondetect mark; where the profile chooses so, the detection limit.
    """
    results = ev.results
    assert results is not None
    detected = results.detected == DETECTED
    number = counted(detected, results.result, results.ceiling)
    if ev.rulebook.choose.get("duplicates.basis") == "detection_limit":
        limit = results.detection_limit
    else:
        limit = results.reporting_limit.or_else(results.nondetect_at)
    first, second = _in_a_shared_form(number.family, results.other_form, first, second)
    one, other = number.family[first], number.family[second]
    one, other = np.where(one > 0, one, other), np.where(other > 0, other, one)
    family = np.where(one == other, one, BY_MASS).astype(np.int8)
    mass = ev.molar_mass(results.analyte[first])

    def bring(values: Values, rows: Int64) -> Values:
        return in_family(values.take(rows), family, mass, ev.molar_volume)

    n1, n2, l1, l2 = bring(number, first), bring(number, second), bring(limit, first), bring(limit, second)
    stated = (results.detected[first] != UNSTATED) & (results.detected[second] != UNSTATED)
    return Comparison(
        first=n1.value,
        second=n2.value,
        both=detected[first] & detected[second],
        neither=stated & ~detected[first] & ~detected[second],
        higher=np.fmax(l1.value, l2.value),
        known=stated & n1.known & n2.known,
        limits_known=l1.known & l2.known,
        hard=n1.hard | n2.hard | l1.hard | l2.hard,
        family=family,
    )

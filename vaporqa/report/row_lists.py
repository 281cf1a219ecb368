"""Which findings each row names: its own, and those that reach it with a letter for its status.

Rows of one sample mostly share their findings. So rows are first put into *sets* (same findings, same order), and
everything that costs time is done once a set.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Letter
from vaporqa.review.gathering import flip_for_air
from vaporqa.review.standings import AIR_GASES
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int8, Int16, Int64


@dataclass(frozen=True, slots=True)
class RowLists:
    """Findings by set, and the set of each row.

    Attributes
    ----------
    of_row : int64 (n,)
        Row to set.
    sets : tuple of tuple of int
        Findings of each set, in rulebook order; the set without any is the empty tuple.
    """

    of_row: Int64
    sets: tuple[tuple[int, ...], ...]


def row_lists(review: Review, table: str) -> RowLists:
    """Put the rows of a table into sets by the findings that they name.

    A finding is named on its own row whatever its letters; elsewhere only where it has a letter (a note counts) for
    the row's status.
    """
    home = review.tables.get(table)
    rows = home.rows if home is not None else 0
    if table == "results" and review.final is not None:
        return _of_results(review, rows)
    starts, found = review.rows_findings.get(table, (np.zeros(rows + 1, np.int64), np.empty(0, np.int64)))
    return _sets(np.asarray(starts, np.int64), np.asarray(found, np.int64), np.zeros(rows, np.int64), [()])


def _of_results(review: Review, rows: int) -> RowLists:
    starts, found = _named_directly(review, rows)
    kind, lists = _from_samples(review, rows)
    return _sets(starts, found, kind, lists)


def _named_directly(review: Review, rows: int) -> tuple[Int64, Int64]:
    """Own findings and those that reach single results, less those without a letter for the row's status."""
    starts, found = review.rows_findings.get("results", (np.zeros(rows + 1, np.int64), np.empty(0, np.int64)))
    findings, final = review.findings, review.final
    if not len(found) or final is None:
        return starts, found
    row = np.repeat(np.arange(rows, dtype=np.int64), np.diff(starts))
    own = _is_own(review, row, found, rows)
    results = review.evidence.results
    if results is not None and (results.form_of >= 0).any():
        # The other form names what its fellow names, notes included.
        other = results.other_form[row]
        own |= (other >= 0) & _is_own(review, other, found, rows)
    pair = found * rows + row
    links = findings.results
    link_pair = links.entry * rows + links.target
    order = np.argsort(link_pair, kind="stable")
    place = np.searchsorted(link_pair[order], pair)
    inside = place < len(order)
    link = order[np.minimum(place, max(len(order) - 1, 0))] if len(order) else np.zeros(len(pair), np.int64)
    linked = inside & (link_pair[link] == pair) if len(order) else np.zeros(len(pair), bool)
    # Pair letters may differ from link to link; where there is none, the finding's own stand.
    linked &= len(findings.results_detect) > 0
    turn = _air_rows(review)[row] & np.array([rule.air_let_in for rule in review.rules], bool)[findings.rule[found]]
    detect = np.where(linked, _take(findings.results_detect, link), findings.detect[found])
    nondetect = np.where(linked, _take(findings.results_nondetect, link), findings.nondetect[found])
    flipped_detect, flipped_nondetect = flip_for_air(detect.astype(np.int16), nondetect.astype(np.int16))
    detect, nondetect = np.where(turn, flipped_detect, detect), np.where(turn, flipped_nondetect, nondetect)
    keep = own | _has_letter(final.detected[row], detect, nondetect)
    if keep.all():
        return starts, found
    count = np.bincount(row[keep], minlength=rows)
    return np.concatenate([[0], np.cumsum(count)]).astype(np.int64), found[keep]


def _take(values: Int16, at: Int64) -> Int64:
    if not len(values):
        return np.zeros(len(at), np.int64)
    return values[np.minimum(at, len(values) - 1)].astype(np.int64)


def _is_own(review: Review, row: Int64, found: Int64, rows: int) -> Bool:
    findings = review.findings
    here = np.array([name == "results" for name in findings.tables], bool)[findings.table]
    own = findings.own
    keep = here[own.entry]
    pairs = np.sort(own.entry[keep] * rows + own.target[keep])
    out: Bool = here[found] & (findings.row[found] == row)
    if len(pairs):
        wanted = found * rows + row
        out |= pairs[np.minimum(np.searchsorted(pairs, wanted), len(pairs) - 1)] == wanted
    return out


def _has_letter(detected: Int8, detect: Int64, nondetect: Int64) -> Bool:
    letter = np.where(detected == 1, detect, np.where(detected == 0, nondetect, detect | nondetect))
    out: Bool = letter != int(Letter.NONE)
    return out


def _from_samples(review: Review, rows: int) -> tuple[Int64, list[tuple[int, ...]]]:
    """Number rows by what reaches them through their sample: row to number, number to findings (0: none)."""
    kind = np.zeros(rows, np.int64)
    results, final = review.evidence.results, review.final
    starts, found = review.sample_findings
    takes = review.takes_sample_findings
    if results is None or final is None or not len(found) or not len(takes):
        return kind, [()]
    takes = takes & (results.sample >= 0)
    air = _air_rows(review)
    tracer = review.own_tracer if len(review.own_tracer) else np.zeros(rows, bool)
    code = ((results.sample * 3 + (final.detected + 1)) * 2 + air) * 2 + tracer
    seen, group = np.unique(code[takes], return_inverse=True)
    kind[takes] = group.reshape(-1) + 1
    lists: list[tuple[int, ...]] = [()]
    for number in seen.tolist():
        sample, status = number // 12, number // 4 % 3 - 1
        reaching = np.asarray(found[starts[sample] : starts[sample + 1]], np.int64)
        lists.append(_reaching(review, reaching, status, air=number // 2 % 2 == 1, tracer=number % 2 == 1))
    return kind, lists


def _air_rows(review: Review) -> Bool:
    """Rows of oxygen and nitrogen: where air let in is the reason they read high, and a nondetect gets no letter."""
    results = review.evidence.results
    if results is None:
        return np.zeros(0, bool)
    known = np.array([cas in AIR_GASES for cas in review.evidence.analytes.cas] + [False], bool)
    out: Bool = known[results.analyte]
    return out


def _reaching(review: Review, reaching: Int64, status: int, *, air: bool, tracer: bool) -> tuple[int, ...]:
    findings = review.findings
    out = []
    for index in reaching.tolist():
        rule = review.rules[int(findings.rule[index])]
        pair = findings.detect[index : index + 1], findings.nondetect[index : index + 1]
        detect, nondetect = (int(one[0]) for one in (flip_for_air(*pair) if air and rule.air_let_in else pair))
        letter = detect if status == 1 else nondetect if status == 0 else detect | nondetect
        if letter and not (tracer and rule.spares_tracer):
            out.append(index)
    return tuple(out)


def _sets(starts: Int64, found: Int64, kind: Int64, lists: list[tuple[int, ...]]) -> RowLists:
    """Join each row's direct findings with its kind's list; equal outcomes become one set."""
    rows = len(kind)
    length = np.diff(starts)
    direct = np.flatnonzero(length)
    numbers: dict[tuple[int, ...], int] = {(): 0}
    direct_of = np.zeros(rows, np.int64)
    flat = found.tolist()
    begin, end = starts[direct].tolist(), starts[direct + 1].tolist()
    direct_of[direct] = [numbers.setdefault(tuple(flat[a:b]), len(numbers)) for a, b in zip(begin, end, strict=True)]
    direct_lists = list(numbers)
    joint, of_row = np.unique(kind * len(direct_lists) + direct_of, return_inverse=True)
    sets: dict[tuple[int, ...], int] = {}
    place = []
    for number in joint.tolist():
        first, second = lists[number // len(direct_lists)], direct_lists[number % len(direct_lists)]
        both = tuple(sorted({*first, *second})) if first and second else first or second
        place.append(sets.setdefault(both, len(sets)))
    return RowLists(np.array(place, np.int64)[of_row.reshape(-1)] if rows else of_row.astype(np.int64), tuple(sets))

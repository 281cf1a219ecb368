"""A review in the numbers that a programme of folders pools."""

from __future__ import annotations

from collections import Counter

import numpy as np

from vaporqa.outcomes import Outcome, Standing
from vaporqa.programme import Duplicates, Group, RuleCounts, Summary
from vaporqa.report.row_lists import RowLists
from vaporqa.report.tally import Tally
from vaporqa.report.writing import Report
from vaporqa.review.values import Review
from vaporqa.tables.values import Int64, Text


def summary_of(report: Report) -> Summary:
    """Return what a review comes to: results of field samples by standing, rules, laboratories, crews, duplicates."""
    review, tally = report.review, report.tally
    usable, estimated, unproven, rejected = (int(tally.of_field[one]) for one in Standing)
    laboratories, crews = _laboratories(review), _crews(review)
    return Summary(
        project=review.project.name,
        profiles=review.rulebook.profiles,
        samples=sum(tally.samples.values()),
        findings=len(review.findings),
        results=(usable, estimated, unproven, rejected),
        worst=max(
            (int(one) for one in Standing for counts in tally.tables.values() if counts[one]),
            default=int(Standing.USABLE),
        ),
        rules=_rules(review, tally, report.sentences.lists("results")),
        laboratories=_groups(review, tally, laboratories),
        crews=_groups(review, tally, crews),
        duplicates=_duplicates(tally),
    )


def _rules(review: Review, tally: Tally, lists: RowLists) -> tuple[RuleCounts, ...]:
    found = review.findings
    broken = Counter(found.rule[found.outcome == Outcome.BROKEN].tolist())
    unproven = Counter(found.rule[found.outcome == Outcome.UNPROVEN].tolist())
    borne: Counter[int] = Counter()
    rule_of, is_broken = found.rule.tolist(), (found.outcome == Outcome.BROKEN).tolist()
    sets, rows = np.unique(lists.of_row[tally.field], return_counts=True)
    for one, count in zip(sets.tolist(), rows.tolist(), strict=True):
        for rule in {rule_of[index] for index in lists.sets[one] if is_broken[index]}:
            borne[rule] += count
    return tuple(
        RuleCounts(review.rules[rule].id, review.rules[rule].title, broken[rule], unproven[rule], borne[rule])
        for rule in sorted({*broken, *unproven})
    )


def _laboratories(review: Review) -> tuple[Int64, Text | None]:
    """Code of the laboratory of each result row, -1 where none is stated, and the column it points into."""
    table = review.tables.get("results")
    column = table.text("laboratory") if table is not None else None
    return (column.codes.astype(np.int64) if column is not None else np.zeros(0, np.int64)), column


def _crews(review: Review) -> tuple[Int64, Text | None]:
    """Code of the crew that took the sample of each result row, -1 where none is stated."""
    table, results = review.tables.get("samples"), review.evidence.results
    column = table.text("crew") if table is not None else None
    if column is None or results is None:
        return np.zeros(0, np.int64), None
    code = np.append(column.codes.astype(np.int64), -1)
    # A result without a sample, and a sample with no row or with two different ones, point at the -1 behind the last.
    row = np.append(review.evidence.samples.row.astype(np.int64), -1)
    out: Int64 = code[np.maximum(row, -1)[np.maximum(results.sample, -1)]]
    return out, column


def _groups(review: Review, tally: Tally, named: tuple[Int64, Text | None]) -> tuple[Group, ...]:
    code, column = named
    settled = review.settled.get("results")
    if settled is None or not tally.field.any():
        return ()
    standing = settled.standing[tally.field].astype(np.int64)
    mine = code[tally.field] if column is not None else np.full(len(standing), -1, np.int64)
    kinds, at = np.unique(mine, return_inverse=True)
    counts = np.bincount(at.reshape(-1) * 4 + standing, minlength=4 * len(kinds)).reshape(-1, 4).tolist()
    names = [str(column.words[kind]) if column is not None and kind >= 0 else "" for kind in kinds.tolist()]
    groups = [Group(name, (row[0], row[1], row[2], row[3])) for name, row in zip(names, counts, strict=True)]
    return tuple(sorted(groups, key=lambda one: one.name))


def _duplicates(tally: Tally) -> tuple[Duplicates, ...]:
    found = tally.usability.indicators
    if found is None:
        return ()
    return tuple(
        Duplicates(
            one.analyte, one.cas, one.pairs, one.both_detected, one.neither_detected, one.rejected,
            one.largest_rpd, one.pooled_rsd,
        )
        for one in found.precision_by_analyte
    )  # fmt: skip

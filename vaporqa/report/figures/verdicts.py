"""What the rules made of the rows of a table: outcome and effect, as the review has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence.judged import Measured, Weighed, state_of_rows
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.report.figures.marks import marks_of
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Float, Int64, UInt8


@dataclass(frozen=True, slots=True)
class Verdict:
    """By row of one table, (n,): the gravest outcome, the gravest effect, and the mark that says both."""

    state: UInt8
    effect: UInt8
    mark: Int64

    @property
    def concerned(self) -> Bool:
        """Rows that the rules had anything to say of."""
        return np.asarray(np.isin(self.state, (Outcome.HOLDS, Outcome.BROKEN, Outcome.UNPROVEN)))


def rules_by(review: Review, *, measure: str = "", check: str = "") -> list[int]:
    """Return the rules in force that judge a quantity, or by a check, as indices into `Review.rules`."""
    return [
        index
        for index, rule in enumerate(review.rules)
        if (not measure or rule.measure == measure) and (not check or rule.check == check)
    ]


def verdict(review: Review, rules: Sequence[int], table: str) -> Verdict | None:
    """Return what some rules made of the rows of a table; None where none of them judged it."""
    home = review.tables.get(table)
    if home is None:
        return None
    row: list[Int64] = []
    outcome: list[UInt8] = []
    for index, judged in review.judged:
        if index in rules and (judged.table or review.rules[index].row) == table and len(judged.state) == home.rows:
            row.append(np.arange(home.rows))
            outcome.append(judged.state)
    if not row:
        return None
    state = state_of_rows(home.rows, np.concatenate(row), np.concatenate(outcome))
    found = review.findings
    effect = np.zeros(home.rows, np.uint8)
    if len(found):
        number = found.tables.index(table) if table in found.tables else -1
        mine = np.isin(found.rule, list(rules)) & (found.table == number)
        own = mine[found.own.entry]
        np.maximum.at(effect, found.own.target[own], found.effect[found.own.entry[own]])
    return Verdict(state, effect, marks_of(state, effect))


def weighed_of(review: Review, rule: int) -> Weighed | None:
    """Return everything that a rule weighed, where its check keeps it."""
    return next((one.weighed for index, one in review.judged if index == rule and one.weighed is not None), None)


def measure_of(review: Review, name: str) -> Measured:
    """Return a quantity as the rules had it."""
    return review.evidence.measure(MEASURES[name])[0]


def drawn_limits(review: Review, rules: Sequence[int]) -> list[tuple[Rule, Limit]]:
    """Return the limits with a number of some rules, held against the rule's own quantity, in rulebook order."""
    return [
        (review.rules[index], limit)
        for index in rules
        for limit in review.rules[index].limits
        if not limit.words and np.isfinite(limit.value) and limit.measure in ("", review.rules[index].measure)
    ]


def known(measured: Measured) -> Bool:
    """Entries whose value is known and finite."""
    return np.asarray((measured.want < 0) & np.isfinite(measured.value))


def worst_first(mark: Int64, badness: Float, names: Sequence[str]) -> list[int]:
    """Return positions from the gravest to the mildest, equal ones by name."""
    return sorted(range(len(names)), key=lambda i: (-int(mark[i]), -float(badness[i]), names[i]))

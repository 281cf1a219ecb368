"""The floor under every review: a result that no rule could judge, or of which nothing says whether it was detected."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Labels, Want
from vaporqa.evidence.reported import DETECTED, NONDETECT, UNSTATED
from vaporqa.outcomes import UNPROVEN, Outcome
from vaporqa.review.final import final_of
from vaporqa.tables.values import UNREADABLE, Bool

#: Topics whose rules look at the row itself and not at the gas behind it: that they hold proves nothing of the number.
_APART = ("intake", "reporting", "cautions")

RESULT_JUDGED = Rule(
    id="result-judged",
    title="Something was judged of the result",
    why="Absence of a failure is not a pass: a result that no rule could judge is unproven.",
    topic="review",
    row="results",
    check="reading",
    order=10_000,
    no_evidence=UNPROVEN,
    say=MappingProxyType({"no_evidence": "{analyte}: the result cannot be relied on: {missing}."}),
)
_LIMITS = ("reporting_limit", "detection_limit", "limit_of_detection", "nondetect_at")
#: The rule that speaks of a row whose number, marks and columns do not say together whether it was detected.
STATUS_RULE = "result-consistent"
_WANTS = (
    Want("no rule beyond intake and reporting could be shown to hold for it", ()),
    Want("neither a mark, a column nor a readable number says whether it was detected", ()),
    Want("its number or limit cannot be read, and a professional judgement puts none in its place", ()),
)


def _unreadable(evidence: Evidence) -> Bool:
    results, table = evidence.results, evidence.tables.get("results")
    assert results is not None
    assert table is not None
    amount = table.amount(f"result{results.form}")
    return np.asarray(amount.state == UNREADABLE) if amount is not None else np.zeros(table.rows, bool)


def valueless(evidence: Evidence) -> Bool:
    """Result rows without anything to use: no number of a detect, no readable limit of a nondetect, neither of both.

    A judgement may forgive the finding on such a row; it cannot make the row usable.
    """
    results, table, final = evidence.results, evidence.tables.get("results"), final_of(evidence)
    if results is None or table is None or final is None:
        return np.zeros(0, bool)
    recovery = table.number("recovery")
    unread = _unreadable(evidence)
    if recovery is not None:
        unread = unread | (~results.target & (recovery.state == UNREADABLE))
    for column in _LIMITS:
        limit = table.amount(f"{column}{results.form}") or table.amount(column)
        if limit is not None:
            unread = unread | (
                (results.detected == NONDETECT) & (limit.state == UNREADABLE) & ~np.isfinite(final.limit)
            )
    bare = (results.detected == DETECTED) & ~np.isfinite(final.value)
    return np.asarray(unread | (results.target & (bare | (results.detected == UNSTATED))))


def unjudged(
    evidence: Evidence, rules: tuple[Rule, ...], judged: list[tuple[int, Judged]], also: Bool | None = None
) -> Judged | None:
    """Find target and tentative results in use for which no rule outside intake and reporting holds.

    `also` (n,) are rows that only a judgement lets pass though nothing on them can be read.
    """
    results, table = evidence.results, evidence.tables.get("results")
    if results is None or table is None:
        return None
    held = np.zeros(table.rows, bool)
    for index, one in judged:
        rule = rules[index]
        if (one.table or rule.row) == "results" and rule.topic not in _APART:
            held |= one.state == Outcome.HOLDS
    use: Bool = results.target & (evidence.in_use != 0)
    # An unreadable cell has its finding already, and so has the row where a rule of its own speaks of its status.
    unstated = (results.detected == UNSTATED) & ~_unreadable(evidence)
    for index, one in judged:
        if rules[index].id == STATUS_RULE and (one.table or rules[index].row) == "results":
            unstated &= (one.state != Outcome.BROKEN) & (one.state != Outcome.UNPROVEN)
    more = also if also is not None else np.zeros(table.rows, bool)
    rows = np.flatnonzero((use & (~held | unstated)) | more).astype(np.int64)
    state = np.zeros(table.rows, np.uint8)
    state[rows] = Outcome.UNPROVEN
    size = len(rows)
    return Judged(
        state=state,
        row=rows,
        outcome=np.full(size, Outcome.UNPROVEN, np.uint8),
        limit=np.full(size, -1, np.int16),
        measured=np.full(size, np.nan),
        want=np.where(more[rows], 2, np.where(unstated[rows], 1, 0)).astype(np.int16),
        wants=_WANTS,
        hard=np.zeros(size, bool),
        facts={"analyte": Labels(evidence.analyte_names(rows))},
        alone=True,
        table="results",
    )

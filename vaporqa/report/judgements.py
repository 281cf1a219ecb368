"""Professional judgements in words: what was decided, by whom and why, and what it did to the results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.outcomes import Letter, Pair, Standing
from vaporqa.report.wording import STANDING_MARKS, visible
from vaporqa.review.values import Applied, NotApplied, Review
from vaporqa.rulebook.judgement_file import Judgement
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.values import Bool, Int64

_WHY, _NAME = 600, 120


@dataclass(frozen=True, slots=True)
class Swing:
    """How results in use end because of judgements: better, worse, or in the same standing with another qualifier."""

    better: Int64
    worse: Int64
    otherwise: Int64

    @property
    def rows(self) -> Int64:
        """All of them, in the order of the table."""
        return np.sort(np.concatenate([self.better, self.worse, self.otherwise]))


@dataclass(frozen=True, slots=True)
class JudgementLine:
    """A judgement as the page lists it."""

    finding: str
    reason: str
    before: str
    after: str
    who: str
    date: str
    why: str
    reaches: int


@dataclass(frozen=True, slots=True)
class SwungLine:
    """A result that ends otherwise, as the page lists it."""

    key: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class JudgementPart:
    """Everything that the page says of judgements."""

    line: str
    applied: tuple[JudgementLine, ...]
    applied_total: int
    not_applied: tuple[tuple[str, str, str, str], ...]
    not_applied_total: int
    superseded: int
    swung: tuple[SwungLine, ...]
    swung_total: int

    @property
    def any(self) -> bool:
        """Whether the folder has judgements at all."""
        return bool(self.applied_total or self.not_applied_total or self.superseded)


def swing_of(review: Review) -> Swing:
    """Return the results in use that end otherwise because of judgements."""
    nothing = np.empty(0, np.int64)
    before, results = review.judging.before.get("results"), review.evidence.results
    if before is None or results is None:
        return Swing(nothing, nothing, nothing)
    now = review.settled["results"]
    use: Bool = results.target & (review.evidence.in_use != 0)
    better, worse = use & (now.standing < before.standing), use & (now.standing > before.standing)
    otherwise = use & ~better & ~worse & (now.qualifier != before.qualifier)
    return Swing(*(np.flatnonzero(one).astype(np.int64) for one in (better, worse, otherwise)))


def judgement_line(review: Review) -> str:
    """Return the sentence of the first page and the screen; empty where the folder has no judgement."""
    judging = review.judging
    applied, stale = len(judging.applied), len(judging.not_applied)
    if not applied and not stale:
        return ""
    parts = []
    if applied:
        swing = swing_of(review)
        findings = "1 finding was" if applied == 1 else f"{applied:,} findings were"
        ends = f"{_results(len(swing.better))} better and {_results(len(swing.worse))} worse by it"
        other = f", {_results(len(swing.otherwise))} with another qualifier" if len(swing.otherwise) else ""
        parts.append(f"{findings} judged by a professional: {ends}{other}.")
    if stale:
        words = "1 judgement is" if stale == 1 else f"{stale:,} judgements are"
        parts.append(f"{words} not applied, because what was judged has changed or is gone.")
    return "Professional judgement: " + " ".join(parts)


def _results(number: int) -> str:
    return "no result ends" if not number else "1 result ends" if number == 1 else f"{number:,} results end"


def judged_sentence(one: Applied) -> str:
    """Return what follows the reason of a judged finding: who decided what, when and why, and what stood before."""
    judgement = one.judgement
    why = visible(judgement.why, _WHY)
    stop = "" if why.endswith((".", "?", "!")) else "."
    return (
        f"Judged by {visible(judgement.by, _NAME)} on {judgement.date.isoformat()}: {judgement.effect.word} "
        f"({judgement.pair}) in place of {one.effect_before.word} ({one.before}). Reason given: {why}{stop}"
    )


def judged_columns(review: Review) -> list[Sequence[str]]:
    """Return the columns of findings.csv that speak of judgements, in the order of `JUDGED_COLUMNS`."""
    out = [[""] * len(review.findings) for _ in JUDGED_COLUMNS]
    for index, one in review.judging.applied.items():
        for column, text in zip(out, _columns(one), strict=True):
            column[index] = text
    return list(out)


JUDGED_COLUMNS = (
    "judged_by", "judged_on", "judged_why", "effect_before", "qualifier_detect_before", "qualifier_nondetect_before",
)  # fmt: skip


def _columns(one: Applied) -> tuple[str, ...]:
    judgement, pair = one.judgement, one.before
    return (
        visible(judgement.by, _NAME), judgement.date.isoformat(), visible(judgement.why, 4000),
        one.effect_before.word, _letter(pair.detect), _letter(pair.nondetect),
    )  # fmt: skip


def _letter(letter: Letter) -> str:
    return "" if letter is Letter.NONE else letter.word


def judgements_json(review: Review) -> list[dict[str, Any]]:
    """Return every judgement of the folder for programs: applied, not applied, superseded, each by finding."""
    found, judging = review.findings, review.judging
    out = [
        {
            **_json(one.judgement), "state": "applied", "outcome": found.outcome_word(index),
            "effect_before": one.effect_before.word, "before": _pair(one.before), "reaches": int(found.reached[index]),
        }
        for index, one in sorted(judging.applied.items())
    ]  # fmt: skip
    out += [{**_json(one.judgement), "state": "not applied", "change": one.change} for one in judging.not_applied]
    out += [
        {**_json(one), "state": "superseded", "superseded": one.superseded.isoformat() if one.superseded else ""}
        for one in judging.superseded
    ]
    return out


def judgement_counts(review: Review) -> dict[str, int]:
    """Return how many judgements there are and what they did to the results in use."""
    swing = swing_of(review)
    return {
        "applied": len(review.judging.applied),
        "not_applied": len(review.judging.not_applied),
        "superseded": len(review.judging.superseded),
        "results_better": len(swing.better),
        "results_worse": len(swing.worse),
        "results_otherwise_qualified": len(swing.otherwise),
    }


def _json(one: Judgement) -> dict[str, Any]:
    return {
        "finding": one.finding, "date": one.date.isoformat(), "by": one.by, "why": one.why,
        "effect": one.effect.word, **_pair(one.pair), "fingerprint": one.fingerprint,
    }  # fmt: skip


def _pair(pair: Pair) -> dict[str, str]:
    return {"detect": pair.detect.word, "nondetect": pair.nondetect.word}


def judgement_part(review: Review, reasons: Sequence[str], at_most: int) -> JudgementPart:
    """Return what the page says of judgements.

    Parameters
    ----------
    review : Review
    reasons : sequence of str
        What the rule itself said of each judged finding, in the order of `review.judging.applied`.
    at_most : int
        Entries of each list.
    """
    judging, rows = review.judging, swing_of(review).rows
    lines = [
        _line(one, reason, int(review.findings.reached[index]))
        for (index, one), reason in zip(sorted(judging.applied.items())[:at_most], reasons, strict=False)
    ]
    return JudgementPart(
        judgement_line(review),
        tuple(lines),
        len(judging.applied),
        tuple(_not_applied(one) for one in judging.not_applied[:at_most]),
        len(judging.not_applied),
        len(judging.superseded),
        tuple(_swung(review, row) for row in rows[:at_most].tolist()),
        len(rows),
    )


def _line(one: Applied, reason: str, reached: int) -> JudgementLine:
    judgement = one.judgement
    return JudgementLine(
        judgement.finding, reason, f"{one.effect_before.word} ({one.before})",
        f"{judgement.effect.word} ({judgement.pair})", visible(judgement.by, _NAME), judgement.date.isoformat(),
        visible(judgement.why, _WHY), reached,
    )  # fmt: skip


def _not_applied(one: NotApplied) -> tuple[str, str, str, str]:
    judgement = one.judgement
    return judgement.finding, visible(judgement.by, _NAME), judgement.date.isoformat(), one.change


def _swung(review: Review, row: int) -> SwungLine:
    table = review.tables.tables["results"]
    return SwungLine(str(table.keys[row]), *settled_before_and_after(review, "results", row))


def settled_before_and_after(review: Review, table: str, row: int) -> tuple[str, str]:
    """Return what a row settles to without judgements and with them: standing with its mark, and qualifier."""
    out = []
    for settled in (review.judging.before[table], review.settled[table]):
        standing = Standing(int(settled.standing[row]))
        letter = QUALIFIERS[int(settled.qualifier[row])] if table == "results" else ""
        out.append(f"{STANDING_MARKS[standing]} {standing.word} {letter}".strip())
    return out[0], out[1]

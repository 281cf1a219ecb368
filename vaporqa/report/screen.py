"""The review as text for a terminal of 80 columns: counts first, then the worst findings with their places."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from vaporqa.outcomes import Effect, Standing
from vaporqa.report.digest import SAFETY, cautions, counted, facts, opening, unproven_by_name
from vaporqa.report.judgements import judgement_line
from vaporqa.report.places import shown_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import FIELD, UNKNOWN_KIND, Tally, group_count
from vaporqa.report.terminal import WIDTH
from vaporqa.report.terminal import no_command as _no_command
from vaporqa.report.terminal import styled as _styled
from vaporqa.report.terminal import wrapped as _wrapped
from vaporqa.report.wording import STANDING_MARKS, visible
from vaporqa.review.values import Review

#: Findings listed on the screen; the files hold all.
SHOWN = 20
#: And of one rule.
A_RULE = 4
_BAR = 34


def screen(
    review: Review, tally: Tally, sentences: Sentences, *, colour: bool = False, out: Path | None = None,
    shown: int = SHOWN,
) -> str:  # fmt: skip
    """Return the text, its lines at most 80 columns wide wherever no single word is wider.

    Parameters
    ----------
    review, tally, sentences
    colour : bool
        Whether to use terminal colours; marks and words say the same without.
    out : Path, optional
        Where the report was written.
    shown : int
        Findings listed at most.
    """
    lines = [*_head(review, tally), "", *_counts(tally, colour=colour), ""]
    lines += _judgements(review)
    lines += _cautions(review, sentences, colour=colour)
    lines += _worst(review, sentences, shown, colour=colour)
    lines += _gaps(review, tally)
    lines += _wrapped(f"{SAFETY[0]} {SAFETY[1]}")
    if out is not None:
        lines += ["", *_wrapped(f"Report: {visible(str(out / 'report.html'), 400)}")]
    else:
        lines += ["", "Nothing was written; name a folder with --out for the report and the flags."]
    return "".join(f"{_no_command(line)}\n" for line in lines)


def _head(review: Review, tally: Tally) -> Iterator[str]:
    yield from _wrapped(visible(review.project.name or "Unnamed project", 200))
    yield from _wrapped(", ".join(visible(fact) for fact in facts(review, tally)))
    yield ""
    yield from _wrapped(opening(review, tally))
    for remark in review.tables.remarks:
        if remark.urgent:
            yield from _wrapped(visible(f"Note: {remark.file} {remark.text}", 300))


def _judgements(review: Review) -> Iterator[str]:
    line = judgement_line(review)
    if line:
        yield from _wrapped(line)
        yield ""


def _counts(tally: Tally, *, colour: bool) -> Iterator[str]:
    counts = tally.of_field
    if not counts.sum() and UNKNOWN_KIND in tally.results:
        counts = tally.results[UNKNOWN_KIND]
    total = int(counts.sum())
    if total:
        for standing in Standing:
            number = int(counts[standing])
            bar = "█" * max(round(_BAR * number / total), 1 if number else 0)
            word = f"{STANDING_MARKS[standing]} {standing.word:<9}"
            yield f"  {_styled(word, standing.word, colour=colour)} {number:>11,}  {bar}".rstrip()
    apart = [
        group_count(group, int(numbers.sum()))
        for group, numbers in sorted(tally.results.items())
        if group != FIELD and numbers is not counts
    ]
    if apart:
        yield from _wrapped("Counted apart: " + "; ".join(apart) + ".", "  ")
    rows = [(name, numbers) for name, numbers in tally.tables.items() if name != "results" and numbers[1:].sum()]
    for name, numbers in rows:
        said = ", ".join(f"{int(numbers[one]):,} {one.word}" for one in reversed(Standing) if one and numbers[one])
        yield from _wrapped(f"{name}: {said} of {counted(int(numbers.sum()), 'row')}", "  ")


def _cautions(review: Review, sentences: Sentences, *, colour: bool) -> Iterator[str]:
    found = cautions(review, sentences)
    for text, place in found[:5]:
        yield from _entry("caution", place, text, colour=colour)
    if len(found) > 5:
        yield f"  ... and {len(found) - 5:,} more cautions."
    if found:
        yield ""


def _worst(review: Review, sentences: Sentences, shown: int, *, colour: bool) -> Iterator[str]:
    found = review.findings
    if not len(found):
        yield "No findings."
        yield ""
        return
    effects = ", ".join(
        f"{number:,} {effect.word}"
        for effect in reversed(Effect)
        if (number := int(np.count_nonzero(found.effect == effect)))
    )
    yield from _wrapped(f"{counted(len(found), 'finding')}: {effects}.")
    order = _chosen(review, shown)
    for index, text in zip(order, sentences.of(order), strict=True):
        yield from _entry(found.effect_word(index), shown_place(review, index), text, colour=colour)
    if len(found) > len(order):
        more = f"... and {len(found) - len(order):,} more; findings.csv and the flags list all of them."
        yield from _wrapped(more, "  ")
    yield ""


def _chosen(review: Review, shown: int) -> list[int]:
    """The gravest and farthest reaching, no more than a few of one rule, so that it hides no other."""
    found = review.findings
    order = np.lexsort((np.arange(len(found)), -found.reached, -found.effect.astype(np.int64)))
    rule = found.rule[order]
    by_rule = np.argsort(rule, kind="stable")
    starts = np.searchsorted(rule[by_rule], rule[by_rule])
    rank = np.empty(len(order), np.int64)
    rank[by_rule] = np.arange(len(order)) - starts
    chosen: list[int] = order[rank < A_RULE][:shown].tolist()
    return chosen


def _entry(effect: str, place: str, text: str, *, colour: bool) -> Iterator[str]:
    first, *rest = textwrap.wrap(
        f"{visible(place, 120)}  {effect}", WIDTH, break_long_words=False, break_on_hyphens=False
    )
    yield first.replace(f"  {effect}", f"  {_styled(effect, effect, colour=colour)}") if not rest else first
    yield from rest
    yield from _wrapped(visible(text, 500), "    ")


def _gaps(review: Review, tally: Tally) -> Iterator[str]:
    missing = unproven_by_name(review, at_most=5)
    if missing:
        yield "Could not be judged for want of:"
        for one in missing:
            yield from _wrapped(f"{visible(one.phrase)} ({counted(one.rows, 'row')}; {visible(one.rules, 160)})", "  ")
        rest = len(unproven_by_name(review)) - len(missing)
        if rest > 0:
            yield f"  ... and {rest:,} more kinds of evidence."
        yield ""
    asked = sum(piece.asked_for for piece in tally.evidence.pieces)
    if asked:
        yield from _wrapped(f"What to ask for, and of whom ({counted(asked, 'thing')}): check with --requests FILE.md")
        yield ""
    if review.not_reviewed:
        names = [visible(one.name, 60) for one in review.not_reviewed]
        more = f" and {len(names) - 10} more" if len(names) > 10 else ""
        yield from _wrapped(f"Not reviewed: {', '.join(names[:10])}{more}.")
    if tally.from_memory:
        names = [f"{use.rule.id}.{use.limit.name}" for use in tally.from_memory]
        more = f" and {len(names) - 6} more" if len(names) > 6 else ""
        yield from _wrapped(f"Limits from memory that were used: {', '.join(names[:6])}{more}.")

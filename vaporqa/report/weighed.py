"""One judgement as text for a terminal: the finding before and after, what moves, and what was written where."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from vaporqa.judging import Weighed
from vaporqa.outcomes import Standing
from vaporqa.report.digest import counted
from vaporqa.report.places import shown_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import STANDING_MARKS, visible
from vaporqa.review.values import Review
from vaporqa.settling import QUALIFIERS

_WIDTH = 80
_EXAMPLES = 4


def judged_text(weighed: Weighed, path: str) -> str:
    """Return the text, its lines at most 80 columns wide wherever no single word is wider.

    Parameters
    ----------
    weighed : Weighed
    path : str
        The file that was written; empty where none was.
    """
    lines = [*_finding(weighed), "", *_letters(weighed), "", *_moves(weighed)]
    for one in weighed.reopened():
        lines += _wrapped(f"The judgement of {visible(one.finding, 300)} by {visible(one.by)} is open again by it.")
    lines.append("")
    if path:
        lines += _wrapped(f"Written: one entry more in {visible(path, 400)}. No other file was touched.")
        if weighed.earlier is not None:
            lines += _wrapped("The earlier entry stays there, marked as superseded.")
    else:
        lines.append("Nothing was written.")
    return "".join(f"{line}\n" for line in lines)


def _finding(weighed: Weighed) -> Iterator[str]:
    yield from _wrapped(visible(weighed.judgement.finding, 400))
    if weighed.index >= 0:
        reason = Sentences(weighed.after).of_rules((weighed.index,))[0]
        yield from _wrapped(visible(shown_place(weighed.after, weighed.index), 200), "    ")
        yield from _wrapped(visible(reason, 500), "    ")


def _letters(weighed: Weighed) -> Iterator[str]:
    one, earlier = weighed.judgement, weighed.earlier
    yield f"  by the rule  {one.original_effect.word} ({one.original})"
    if earlier is not None:
        yield from _wrapped(
            f"  until now    {earlier.effect.word} ({earlier.pair}), {visible(earlier.by)}, {earlier.date.isoformat()}"
        )
    yield from _wrapped(f"  judged       {one.effect.word} ({one.pair}), {visible(one.by)}, {one.date.isoformat()}")
    yield "  (letters: for a detect / for a nondetect)"
    if not weighed.named:
        yield from _wrapped(
            "Letters that were not named were decided from the effect and the direction of the finding; --detect and "
            "--nondetect name them."
        )


def _moves(weighed: Weighed) -> Iterator[str]:
    moved = weighed.moved()
    if not moved:
        yield "No row ends otherwise by it."
        return
    yield "Rows that end otherwise by it:"
    for name, (better, worse, other) in moved.items():
        parts = [
            f"{len(rows):,} {word}"
            for rows, word in ((better, "better"), (worse, "worse"), (other, "with another qualifier only"))
            if len(rows)
        ]
        yield from _wrapped(f"{name}: {', '.join(parts)}", "  ")
    name = "results" if "results" in moved else next(iter(moved))
    rows = sorted(row for part in moved[name] for row in part.tolist())
    for row in rows[:_EXAMPLES]:
        was, now = _settled(weighed.before, name, row), _settled(weighed.after, name, row)
        key = visible(str(weighed.after.tables.tables[name].keys[row]), 200)
        yield from _wrapped(f"{key}: {was} -> {now}", "    ")
    if len(rows) > _EXAMPLES:
        yield f"    ... and {counted(len(rows) - _EXAMPLES, 'row')} more of {name}"


def _settled(review: Review, table: str, row: int) -> str:
    settled = review.settled[table]
    standing = Standing(int(settled.standing[row]))
    letter = QUALIFIERS[int(settled.qualifier[row])] if table == "results" else ""
    return f"{STANDING_MARKS[standing]} {standing.word} {letter}".strip()


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )

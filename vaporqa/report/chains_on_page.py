"""The chains that the page shows, folded: the gravest results first, those of one sample with one fate together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Effect, Outcome, Standing
from vaporqa.report.chain_lines import ChainLines
from vaporqa.report.digest import counted
from vaporqa.report.places import row_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.terminal import MARKS
from vaporqa.report.wording import STANDING_MARKS, visible
from vaporqa.review.chain import Chain, Chains, Link
from vaporqa.review.values import Review
from vaporqa.review.weighed import WeighedAgain
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.values import Int64

#: Rules on larger tables are not weighed again for the numbers of what holds: a page must not cost a second review.
MOST_ROWS = 10_000
_LINE, _SENTENCE, _NUMBERS, _BAD, _NAMES = 420, 260, 3, 3, 6


@dataclass(frozen=True, slots=True)
class ChainPart:
    """One chain on the page.

    Attributes
    ----------
    standing, mark, qualifier : str
    name, place : str
        Analyte and sample of the result that is shown, and its ``file:line``.
    others : str
        Further results of the sample with the same findings and fate, in words; empty for none.
    breaks : str
        Links that cost the result something.
    links : tuple of (mark, title, state, text)
    """

    standing: str
    mark: str
    qualifier: str
    name: str
    place: str
    others: str
    breaks: str
    links: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class ChainParts:
    """Chains that are shown, and how many there are, results behind them counted."""

    parts: tuple[ChainPart, ...]
    total: int
    results: int


def chain_parts(review: Review, sentences: Sentences, at_most: int) -> ChainParts:
    """Return the chains of the gravest results, at most `at_most` of them."""
    settled, table = review.settled.get("results"), review.tables.get("results")
    results = review.evidence.results
    if settled is None or table is None or results is None:
        return ChainParts((), 0, 0)
    flagged = np.flatnonzero((settled.standing > 0) & results.target & (review.evidence.in_use != 0))
    first, group, counts = _groups(review, sentences, flagged)
    # By gravity, then by the first row of each group; `first` rises with the file.
    order = np.lexsort((first, -settled.standing[flagged[first]].astype(np.int64)))[:at_most]
    rows = flagged[first[order]].tolist()
    chains, lines = Chains(review, rows, WeighedAgain(review, MOST_ROWS)), ChainLines(review, sentences)
    parts = []
    for place, row in zip(order.tolist(), rows, strict=True):
        alike = flagged[group == place][1 : _NAMES + 1] if counts[place] > 1 else np.empty(0, np.int64)
        parts.append(_part(review, lines, chains.of_result(row), row, alike, int(counts[place]) - 1))
    return ChainParts(tuple(parts), len(first), len(flagged))


def _groups(review: Review, sentences: Sentences, rows: Int64) -> tuple[Int64, Int64, Int64]:
    """Group rows of one sample, set of findings, standing and qualifier: first of each, group by row, sizes."""
    results, settled = review.evidence.results, review.settled["results"]
    assert results is not None
    sets = sentences.lists("results")
    code = (results.sample[rows] + 1) * (len(sets.sets) + 1) + sets.of_row[rows]
    code = code * len(Standing) + settled.standing[rows]
    code = code * len(QUALIFIERS) + settled.qualifier[rows]
    _, first, group, counts = np.unique(code, return_index=True, return_inverse=True, return_counts=True)
    return first.astype(np.int64), group.reshape(-1).astype(np.int64), counts.astype(np.int64)


def _part(review: Review, lines: ChainLines, chain: Chain, row: int, alike: Int64, others: int) -> ChainPart:
    settled, table = review.settled["results"], review.tables.tables["results"]
    results = review.evidence.results
    assert results is not None
    standing = Standing(int(settled.standing[row]))
    names = [visible(str(one), 60) for one in review.evidence.analyte_names(np.array([row, *alike.tolist()]))]
    number = int(results.sample[row])
    sample = visible(review.evidence.sample_ids.names[number], 60) if number >= 0 else "no sample"
    costly = [link.kind.title for link in chain.links if link.effect > Effect.NOTE]
    return ChainPart(
        standing.word,
        STANDING_MARKS[standing],
        QUALIFIERS[int(settled.qualifier[row])],
        f"{names[0]} in {sample}",
        visible(row_place(table, row), 100),
        _others(names[1:], others),
        ", ".join(costly),
        tuple((MARKS[link.state], link.kind.title, _state(link), _text(lines, link)) for link in chain.links),
    )


def _others(names: Sequence[str], count: int) -> str:
    if not count:
        return ""
    more = f" and {count - len(names):,} more" if count > len(names) else ""
    return f"{', '.join(names)}{more}"


def _state(link: Link) -> str:
    if link.effect is not Effect.NONE:
        return f"{link.state} ({link.effect.word})" if link.effect.word != link.state else link.state
    return f"{link.state} (changes nothing here)" if link.state in ("broken", "unproven") else link.state


def _text(lines: ChainLines, link: Link) -> str:
    """One line: the rows, and what broke or is unproven there, or the numbers of what holds."""
    rows = [f"{visible(key, 40)} {visible(place, 60)}" for _, key, place in map(lines.row, link.rows[:2])]
    more = f" and {counted(len(link.rows) - 2, 'more row')}" if len(link.rows) > 2 else ""
    where = f"{', '.join(rows)}{more}: " if rows else f"{link.kind.nothing}: " if link.kind.nothing else ""
    bad = [one for one in link.said if one.counts and one.outcome is not Outcome.HOLDS]
    bad.sort(key=lambda one: -int(one.effect))
    if bad:
        said = list(dict.fromkeys(visible(lines.sentence(one), _SENTENCE) for one in bad))
        further = f" And {len(said) - _BAD} more." if len(said) > _BAD else ""
        return where + " ".join(said[:_BAD]) + further
    held = [one for one in link.said if one.outcome is Outcome.HOLDS]
    told = {one.rule: text for one in reversed(held) if (text := lines.briefly(one))}
    numbers = [told.pop(one.rule) for one in held if one.rule in told][:_NUMBERS]
    rest = len({one.rule for one in held}) - len(numbers)
    if rest:
        numbers.append(f"{rest}{' more' if numbers else ''} {'rule holds' if rest == 1 else 'rules hold'}")
    if not numbers and link.rows and link.cells_read:
        numbers = ["every filled cell could be read"]
    return visible(f"{where}{'; '.join(numbers)}", _LINE).rstrip(": ")


__all__ = ["ChainPart", "ChainParts", "chain_parts"]

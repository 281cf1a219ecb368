"""report.html: the data-usability report as one page that needs no network and no script, and prints on grey paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa import __version__
from vaporqa.criteria import Rule
from vaporqa.outcomes import Standing
from vaporqa.report.bars import bar
from vaporqa.report.by_sample import SampleLine, by_sample
from vaporqa.report.chains_on_page import chain_parts
from vaporqa.report.digest import (
    SAFETY,
    cautions,
    chief_findings,
    counted,
    facts,
    not_reviewed,
    opening,
    unproven_by_name,
)
from vaporqa.report.evidence_part import evidence_lines
from vaporqa.report.figures import Picture, pictures
from vaporqa.report.file_lines import FileLines
from vaporqa.report.flagged import counts_for, reaches, standing_in
from vaporqa.report.judgements import judgement_part
from vaporqa.report.machine import consequence
from vaporqa.report.pairs_and_blanks import BlankLine, PairLine, blank_lines, pair_lines
from vaporqa.report.places import row_place, shown_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import FIELD, GROUP_NAMES, UNKNOWN_KIND, Tally, group_count
from vaporqa.report.usability import usability_lines
from vaporqa.report.wording import (
    BACKING_MEANINGS,
    QUALIFIER_MEANINGS,
    STANDING_MARKS,
    STANDING_MEANINGS,
    figure,
    visible,
)
from vaporqa.review.values import Review
from vaporqa.settling import BIASES, QUALIFIERS
from vaporqa.tables.values import Int64

#: No page is larger, whatever the input: browsers and mail gateways refuse what is.
SIZE_LIMIT = 3_000_000
_REASON = 600


@dataclass(frozen=True, slots=True)
class Room:
    """How many entries of a kind the page shows; the files hold all of them."""

    findings: int = 1200
    a_rule: int = 12
    results: int = 300
    rows: int = 160
    entries: int = 150
    reasons: int = 5
    samples: int = 60
    pairs: int = 80
    blanks: int = 80
    lines: int = 900
    chains: int = 60

    def less(self) -> Room:
        """Half of everything."""
        return Room(*(max(1, getattr(self, name) // 2) for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A finding as the page lists it; `anchor` is that of its line on the page, empty for none."""

    place: str
    anchor: str
    key: str
    table: str
    reason: str
    effect: str
    letters: str
    reaches: str


@dataclass(frozen=True, slots=True)
class RulePart:
    """A rule with its findings."""

    rule: Rule
    count: int
    lines: tuple[FindingLine, ...]
    limits: tuple[tuple[str, str, str], ...]
    reached: int

    @property
    def left_out(self) -> int:
        """Findings that the page does not list."""
        return self.count - len(self.lines)


@dataclass(frozen=True, slots=True)
class RowLine:
    """A flagged row as the page lists it."""

    table: str
    key: str
    place: str
    anchor: str
    standing: str
    mark: str
    qualifier: str
    bias: str
    final: str
    reasons: tuple[str, ...]
    left_out: int


@dataclass(frozen=True, slots=True)
class Listed:
    """Some entries of a list, and how many there are in all."""

    lines: tuple[RowLine, ...]
    total: int


def page(review: Review, tally: Tally, sentences: Sentences) -> bytes:
    """Return report.html."""
    room, drawn = Room(), pictures(review)
    while True:
        made = _render(review, tally, sentences, room, drawn)
        if len(made) <= SIZE_LIMIT or room == room.less():
            return made
        room = room.less()


def _render(review: Review, tally: Tally, sentences: Sentences, room: Room, drawn: tuple[Picture, ...]) -> bytes:
    from vaporqa.report.templating import rendered, script_sum  # start-up time: a run without --out makes no page

    lines = FileLines(review, room.lines)
    bars = [
        (group, group_count(group, int(tally.results[group].sum())), bar(tally.results[group]))
        for group in (FIELD, UNKNOWN_KIND)
        if group in tally.results
    ]
    return rendered(
        "report.html.j2",
        review=review,
        project=review.project,
        tally=tally,
        room=room,
        version=__version__,
        facts=facts(review, tally),
        opening=opening(review, tally),
        bars=bars,
        field=FIELD,
        standings=_standings(tally.of_field),
        apart=[
            group_count(group, int(tally.results[group].sum()))
            for group in GROUP_NAMES
            if group in tally.results and group != FIELD
        ],
        marks={standing.word: STANDING_MARKS[standing] for standing in Standing},
        tables=[
            (name, tally.tables[name].tolist(), table.rows, _names(table.files))
            for name, table in review.tables.tables.items()
        ],
        causes=tally.causes,
        chief=chief_findings(review, sentences),
        unproven=unproven_by_name(review, at_most=8),
        missing=review.coverage.missing[: room.entries],
        not_reviewed=not_reviewed(review)[: room.entries],
        cautions=cautions(review, sentences)[: room.entries],
        caution_count=len(review.cautions),
        parts=_rule_parts(review, sentences, room, lines),
        results=_result_lines(review, sentences, room, lines),
        rows=_other_lines(review, sentences, room, lines),
        chains=chain_parts(review, sentences, room.chains),
        limits=tally.limits,
        consequence=consequence,
        meanings=[(standing.word, STANDING_MARKS[standing], STANDING_MEANINGS[standing]) for standing in Standing],
        qualifiers=QUALIFIER_MEANINGS,
        backings=BACKING_MEANINGS,
        safety=SAFETY,
        usability=usability_lines(tally.usability),
        judgements=judgement_part(review, sentences.of_rules(sorted(review.judging.applied)), room.entries),
        evidence=evidence_lines(tally.evidence, room.entries),
        counted=counted,
        lists=_lists(review, sentences, room, lines),
        file_lines=lines,
        script_sum=script_sum(),
        pictures=drawn,
        share=share,
    )


@dataclass(frozen=True, slots=True)
class Lists:
    """Samples, duplicate pairs and blanks that the page lists, and how many there are of each."""

    samples: tuple[SampleLine, ...]
    sample_total: int
    pairs: tuple[PairLine, ...]
    pair_total: int
    blanks: tuple[BlankLine, ...]
    blank_total: int


def _lists(review: Review, sentences: Sentences, room: Room, lines: FileLines) -> Lists:
    return Lists(
        *by_sample(review, sentences, lines, samples=room.samples, reasons=room.reasons * 2),
        *pair_lines(review, lines, room.pairs),
        *blank_lines(review, lines, room.blanks),
    )


def _standings(counts: Int64) -> list[tuple[str, str, int, str, str]]:
    total = int(counts.sum())
    return [
        (standing.word, STANDING_MARKS[standing], int(counts[standing]), share(int(counts[standing]), total),
         STANDING_MEANINGS[standing])
        for standing in Standing
    ]  # fmt: skip


def share(part: int, total: int) -> str:
    """Return a part in per cent; never 0 % or 100 % where it is not all or nothing."""
    if not total:
        return "-"
    if 0 < part < total:
        percent = min(max(100 * part / total, 0.1), 99.9)
        return f"{percent:.1f} %" if percent < 1 or percent > 99 else f"{percent:.0f} %"
    return "100 %" if part else "0 %"


def _names(names: Sequence[str]) -> str:
    shown = ", ".join(visible(name, 60) for name in names[:4])
    return f"{shown} and {len(names) - 4} more" if len(names) > 4 else shown


def _rule_parts(review: Review, sentences: Sentences, room: Room, quoted: FileLines) -> list[RulePart]:
    found = review.findings
    if not len(found):
        return []
    numbers, counts = np.unique(found.rule, return_counts=True)
    first = np.cumsum(counts) - counts
    allowed = max(2, min(room.a_rule, room.findings // len(numbers)))
    parts = []
    order = np.lexsort((np.arange(len(found)), -found.reached, -found.effect.astype(np.int64), found.rule))
    for number, start, count in zip(numbers.tolist(), first.tolist(), counts.tolist(), strict=True):
        members = order[start : start + count]
        shown = sorted(members[:allowed].tolist())
        rule = review.rules[number]
        parts.append(
            RulePart(
                rule,
                count,
                tuple(
                    _finding_line(review, index, reason, quoted)
                    for index, reason in zip(shown, sentences.of(shown), strict=True)
                ),
                tuple((one.written, str(one.source), one.backing.value) for one in rule.limits[:12]),
                int(found.reached[members].sum()),
            )
        )
    return parts


def _finding_line(review: Review, index: int, reason: str, quoted: FileLines) -> FindingLine:
    found = review.findings
    return FindingLine(
        shown_place(review, index),
        quoted.anchor(found.tables[int(found.table[index])], int(found.row[index])),
        str(found.key[index]),
        found.tables[int(found.table[index])],
        visible(reason, _REASON),
        found.effect_word(index),
        " / ".join(letters or "-" for letters in found.letters(index)),
        reaches(review, index),
    )


def _result_lines(review: Review, sentences: Sentences, room: Room, quoted: FileLines) -> Listed:
    table, settled = review.tables.get("results"), review.settled.get("results")
    if table is None or settled is None:
        return Listed((), 0)
    plain = np.array([QUALIFIERS.index(""), QUALIFIERS.index("U")])
    flagged = np.flatnonzero((settled.standing > 0) | ~np.isin(settled.qualifier, plain))
    worst = flagged[np.argsort(-settled.standing[flagged].astype(np.int64), kind="stable")][: room.results]
    return Listed(_lines(review, "results", worst, sentences, room, quoted), len(flagged))


def _other_lines(review: Review, sentences: Sentences, room: Room, quoted: FileLines) -> Listed:
    lines: list[RowLine] = []
    total = 0
    flagged = {
        name: np.flatnonzero(review.settled[name].standing > 0)
        for name in review.tables.tables
        if name != "results" and name in review.settled
    }
    tables = sum(1 for rows in flagged.values() if len(rows))
    for name, rows in flagged.items():
        total += len(rows)
        if len(rows):
            worst = rows[np.argsort(-review.settled[name].standing[rows].astype(np.int64), kind="stable")]
            lines += _lines(review, name, worst[: max(1, room.rows // tables)], sentences, room, quoted)
    return Listed(tuple(lines), total)


def _lines(
    review: Review, name: str, rows: Int64, sentences: Sentences, room: Room, quoted: FileLines
) -> tuple[RowLine, ...]:
    instead = counts_for(review, review.tables.tables[name])[rows].tolist()
    return tuple(
        _row_line(review, name, row, other, sentences, room, quoted)
        for row, other in zip(rows.tolist(), instead, strict=True)
    )


def _row_line(
    review: Review, name: str, row: int, other: int, sentences: Sentences, room: Room, quoted: FileLines
) -> RowLine:
    table, settled = review.tables.tables[name], review.settled[name]
    standing = Standing(int(settled.standing[row]))
    lists = sentences.lists(name)
    members = lists.sets[int(lists.of_row[row])]
    gravest = sorted(members, key=lambda index: (-int(review.findings.effect[index]), index))[: room.reasons]
    said = list(dict.fromkeys(sentences.of(sorted(gravest))))
    if other >= 0:
        said.insert(0, standing_in(table, row, other))
    result = name == "results"
    return RowLine(
        name,
        str(table.keys[row]),
        row_place(table, row),
        quoted.anchor(name, row),
        standing.word,
        STANDING_MARKS[standing],
        QUALIFIERS[int(settled.qualifier[row])] if result else "",
        BIASES[int(settled.bias[row])] if result else "",
        _final_text(review, row) if result else "",
        tuple(visible(text, _REASON) for text in said),
        len(members) - len(gravest),
    )


def _final_text(review: Review, row: int) -> str:
    final = review.final
    if final is None:
        return ""
    unit = visible(str(final.unit[row] or ""), 20)
    if int(final.detected[row]) == 1:
        return f"{figure(float(final.value[row]), 6)} {unit}".strip()
    if int(final.detected[row]) == 0:
        return f"not detected at {figure(float(final.limit[row]), 6)} {unit}".strip()
    return "detected or not: not stated"

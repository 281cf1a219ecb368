"""Findings sample by sample: what was found of the sample itself, of what it was drawn with, and of its results."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Standing
from vaporqa.report.file_lines import FileLines
from vaporqa.report.places import finding_place, row_place, shown_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import FIELD, result_groups
from vaporqa.report.wording import STANDING_MARKS, visible
from vaporqa.review.values import Review
from vaporqa.tables.values import Int64

_REASON = 420


@dataclass(frozen=True, slots=True)
class Said:
    """One finding that bears on a sample: its effect, sentence, place and the anchor of its line."""

    effect: str
    rule: str
    reason: str
    place: str
    anchor: str


@dataclass(frozen=True, slots=True)
class SampleLine:
    """A sample with its results by standing, the findings that reach all of them, and those of single results.

    `standings` holds (word, mark, number), `of_results` (rule, number of results).
    """

    name: str
    place: str
    anchor: str
    standings: tuple[tuple[str, str, int], ...]
    findings: tuple[Said, ...]
    of_results: tuple[tuple[str, int], ...]
    left_out: int


def by_sample(
    review: Review, sentences: Sentences, lines: FileLines, *, samples: int, reasons: int
) -> tuple[tuple[SampleLine, ...], int]:
    """Return the samples whose results are worst off, and how many samples have a finding that counts.

    Parameters
    ----------
    review, sentences
    lines : FileLines
        Takes the rows that are named.
    samples, reasons : int
        Samples, and findings of one, that are listed at most.
    """
    evidence, settled = review.evidence, review.settled.get("results")
    results = evidence.results
    if results is None or settled is None:
        return (), 0
    field = np.flatnonzero((result_groups(review) == FIELD) & (results.sample >= 0))
    counts = np.zeros((evidence.sample_count, 4), np.int64)
    np.add.at(counts, (results.sample[field], settled.standing[field]), 1)
    flagged = np.flatnonzero(counts[:, 1:].sum(axis=1) > 0)
    weight = counts @ np.array([0, 1, 1_000, 1_000_000])
    order = flagged[np.lexsort((flagged, -weight[flagged]))][:samples]
    listed = np.sort(order)
    rows_of = _rows_of(results.sample, field, listed)
    return tuple(
        _line(review, sentences, lines, number, counts[number], rows_of[number], reasons) for number in listed.tolist()
    ), len(flagged)


def _rows_of(sample: Int64, field: Int64, listed: Int64) -> dict[int, Int64]:
    mine = field[np.isin(sample[field], listed)]
    return {number: mine[sample[mine] == number] for number in listed.tolist()}


def _line(
    review: Review, sentences: Sentences, lines: FileLines, number: int, counts: Int64, rows: Int64, reasons: int
) -> SampleLine:
    found = review.findings
    starts, entries = review.sample_findings
    reaching = [int(index) for index in entries[int(starts[number]) : int(starts[number + 1])]]
    gravest = sorted(reaching, key=lambda index: (-int(found.effect[index]), index))[:reasons]
    said = [_said(review, sentences, lines, index) for index in sorted(gravest)]
    lists = sentences.lists("results")
    single: Counter[str] = Counter()
    among = set(reaching)
    for row in rows.tolist():
        own = {int(found.rule[i]) for i in lists.sets[int(lists.of_row[row])] if i not in among and _counts(review, i)}
        single.update(review.rules[rule].id for rule in own)
    table, at = review.tables.get("samples"), int(review.evidence.samples.row[number])
    place = row_place(table, at) if table is not None and at >= 0 else ""
    return SampleLine(
        str(review.evidence.sample_ids.names[number]),
        place,
        lines.anchor("samples", at) if place else "",
        tuple((one.word, STANDING_MARKS[one], int(counts[one])) for one in Standing if counts[one]),
        tuple(said),
        tuple(sorted(single.items(), key=lambda item: (-item[1], item[0]))),
        len(reaching) - len(gravest),
    )


def _counts(review: Review, index: int) -> bool:
    return int(review.findings.effect[index]) > 1


def _said(review: Review, sentences: Sentences, lines: FileLines, index: int) -> Said:
    found = review.findings
    table = found.tables[int(found.table[index])]
    file, _, _ = finding_place(review, index)
    return Said(
        found.effect_word(index),
        review.rules[int(found.rule[index])].id,
        visible(sentences.of([index])[0], _REASON),
        shown_place(review, index) if file else table,
        lines.anchor(table, int(found.row[index])),
    )

"""What could be judged and what could not: counts by rule, missing evidence and who wanted it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Judged
from vaporqa.outcomes import Outcome
from vaporqa.review.gathering import Pile
from vaporqa.review.values import Coverage, Missing, RuleCount
from vaporqa.tables.values import Tables

#: Rules that the review itself adds: no file states them, and no folder must give them rows.
REVIEW_TOPIC = "review"


def coverage_of(
    rules: tuple[Rule, ...], judged: list[tuple[int, Judged]], piles: Sequence[Pile], tables: Tables
) -> Coverage:
    """Count what each rule said, and gather the evidence that was missing."""
    silent: dict[int, int] = {}
    for pile in piles:
        silent[pile.rule] = silent.get(pile.rule, 0) + pile.silent
    counts: dict[int, np.ndarray] = {}
    touched = {name: np.zeros(table.rows, bool) for name, table in tables.tables.items()}
    for index, one in judged:
        counts[index] = counts.get(index, np.zeros(5, np.int64)) + np.bincount(one.state, minlength=5)[:5]
        name = one.table or rules[index].row
        if name in touched and len(one.state) == len(touched[name]):
            touched[name] |= one.state != Outcome.NOT_CONCERNED
    spoke = {index for index, one in judged if len(one.row)}
    rows = []
    for index, rule in enumerate(rules):
        count = counts.get(index, np.zeros(5, np.int64))
        concerned = int(count[1:].sum())
        rows.append(
            RuleCount(
                rule.id, concerned, int(count[Outcome.HOLDS]), int(count[Outcome.BROKEN]),
                int(count[Outcome.UNPROVEN]), silent.get(index, 0),
            )
        )  # fmt: skip
    return Coverage(
        rules=tuple(rows),
        missing=_missing(rules, piles),
        idle=tuple(
            one.rule
            for index, (one, rule) in enumerate(zip(rows, rules, strict=True))
            if one.concerned == 0 and index not in spoke and rule.topic != REVIEW_TOPIC
        ),
        unconcerned={name: int((~mask).sum()) for name, mask in touched.items()},
    )


def _missing(rules: tuple[Rule, ...], piles: Sequence[Pile]) -> tuple[Missing, ...]:
    wanted: dict[tuple[str, tuple[tuple[str, str], ...]], tuple[list[str], int, int]] = {}
    for pile in piles:
        for key, (rows, silent) in pile.lacking.items():
            names, said, passed = wanted.get(key, ([], 0, 0))
            name = rules[pile.rule].id
            wanted[key] = (names if name in names else [*names, name], said + rows, passed + silent)
    return tuple(
        Missing(phrase, places, tuple(names), said, passed)
        for (phrase, places), (names, said, passed) in sorted(
            wanted.items(), key=lambda item: (-item[1][1], -item[1][2], item[0])
        )
    )

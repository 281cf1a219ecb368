"""Tracer recovery by sample against the limits in force."""

from __future__ import annotations

import numpy as np

from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import picture
from vaporqa.report.figures.marks import WORDS, Mark
from vaporqa.report.figures.picture import LISTED, Picture, legend, plotted
from vaporqa.report.figures.rows import LEFT, RIGHT, Dot, Row, chart
from vaporqa.report.figures.scales import straight
from vaporqa.report.figures.verdicts import drawn_limits, known, measure_of, rules_by, verdict, worst_first
from vaporqa.report.wording import figure, visible, with_unit
from vaporqa.review.values import Review

_TABLE, _ROWS = "tracer_tests", 40
_TITLE = "Tracer recovered in the sampling train"


def tracer_recovery(review: Review) -> Picture | None:
    """Draw each leak test's share of the shroud concentration; None where no test has a number."""
    detected, undetected = rules_by(review, measure="leak_fraction"), rules_by(review, measure="leak_bound")
    rules = detected + undetected
    found, table = verdict(review, rules, _TABLE), review.tables.get(_TABLE)
    if found is None or table is None:
        return None
    value, bound = np.full(table.rows, -np.inf), np.zeros(table.rows, bool)
    for name, at_most in (("leak_bound", True), ("leak_fraction", False)):
        measured = measure_of(review, name)
        use = known(measured) & measured.concerned
        # A test that counts for several samples is drawn once, by the worst of them, as its finding is.
        np.maximum.at(value, measured.row[use], 100.0 * measured.value[use])
        bound[measured.row[use]] = at_most
    drawn = np.flatnonzero(found.concerned & np.isfinite(value))
    if not len(drawn):
        return None
    names = _names(review, table.rows)
    order = [
        int(drawn[i])
        for i in worst_first(found.mark[drawn], value[drawn], [f"{names[i]} {table.keys[i]}" for i in drawn])
    ]
    limits = list(
        {limit.value: (100.0 * limit.value, limit.written) for _, limit in drawn_limits(review, rules)}.values()
    )
    highest = max((at for at, _ in limits), default=0.0)
    most = float(value[drawn].max())
    # One gross leak must not press every other mark against nought.
    top = most if most <= 2.5 * highest or not highest else 1.6 * highest
    scale = straight(0.0, 1.04 * max(top, highest) or 1.0, LEFT, RIGHT)
    shown = order[:_ROWS]
    rows = [
        Row(
            names[i], (Dot(float(value[i]), Mark(int(found.mark[i])), bool(bound[i])),),
            ("≤ " if bound[i] else "") + with_unit(figure(float(value[i])), "%"),
        )
        for i in shown
    ]  # fmt: skip
    parts, height = chart(rows, sorted(limits), scale, "% of the lowest shroud reading")
    concerned = int(found.concerned.sum())
    leaves_out = []
    if len(order) > len(shown):
        rest = [Mark(int(found.mark[i])) for i in order[_ROWS:]]
        kept = sum(one is Mark.HOLDS for one in rest)
        leaves_out.append(f"{counted(len(rest), 'milder test')} not drawn, of which {kept:,} keep every limit.")
    if concerned > len(drawn):
        leaves_out.append(f"{counted(concerned - len(drawn), 'test')} not drawn, for want of a number to draw.")
    others = int(table.counts.sum()) - concerned
    if others:
        leaves_out.append(
            f"{counted(others, 'test')} not drawn, because these rules do not concern them (another approach, or gas "
            "that is no soil gas)."
        )
    return Picture(
        "picture-tracer", _TITLE,
        picture("picture-tracer", _TITLE, _about(len(shown), found.mark[shown].tolist()), height, parts),
        (
            (f"{counted(len(shown), 'leak test')}, the gravest at the top: what the train held of the tracer, as a "
            "share of the lowest shroud reading, against the limits in force (dashed)."),
            "A test that counts for several samples stands once, by the worst of them.",
        ),
        tuple(leaves_out),
        legend(
            [Mark(int(found.mark[i])) for i in shown], tails=bool(bound[shown].any()),
            heads=bool((value[shown] > scale.high).any()),
        ),
        plotted(
            ("Sample", "Test", "Recovered", "Made of it"),
            [
                (
                    names[i], visible(str(table.keys[i]), 60),
                    ("at most " if bound[i] else "") + with_unit(figure(float(value[i])), "%"),
                    WORDS[Mark(int(found.mark[i]))],
                )
                for i in order[:LISTED]
            ],
            len(order), "flags/tracer_tests.csv",
        ),
    )  # fmt: skip


def _about(tests: int, marks: list[int]) -> str:
    passed = sum(one == Mark.HOLDS for one in marks)
    return f"{tests} leak tests as rows with one mark each; {passed} keep the limits, {tests - passed} do not."


def _names(review: Review, rows: int) -> list[str]:
    """Samples of each test, by name; the key of a test that counts for none."""
    evidence = review.evidence
    attached, ids = evidence.tracer_tests, evidence.sample_ids.names
    of: dict[int, list[str]] = {}
    for row, sample in zip(attached.row.tolist(), attached.sample.tolist(), strict=True):
        of.setdefault(row, []).append(str(ids[sample]))
    keys = review.tables.tables[_TABLE].keys
    named = {row: sorted(samples) for row, samples in of.items()}
    return [
        visible(named[row][0] + (f" +{len(named[row]) - 1}" if len(named[row]) > 1 else ""), 60)
        if row in named
        else visible(f"test {keys[row]}", 60)
        for row in range(rows)
    ]

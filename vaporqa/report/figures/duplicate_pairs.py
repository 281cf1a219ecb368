"""Duplicates on a one-to-one plot, as multiples of their reporting limit: RPD bounds and the low-level region."""

from __future__ import annotations

import math

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Weighed
from vaporqa.outcomes import Outcome
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import Free, cut, line, measured, outline, picture, way, words
from vaporqa.report.figures.marks import AT_MOST, WORDS, Mark, mark
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted, swatch
from vaporqa.report.figures.plane import frame
from vaporqa.report.figures.scales import Scale, logarithmic
from vaporqa.report.figures.verdicts import rules_by, verdict, weighed_of
from vaporqa.report.wording import figure, visible, with_unit
from vaporqa.review.values import Review
from vaporqa.tables.values import FAMILY_UNITS

_TITLE = "Duplicates, one against the other"
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 462.0, 14.0, 414.0
_LEAST, _MOST = 1e-6, 1e9


def duplicate_pairs(review: Review) -> Picture | None:
    """Draw each duplicate pair; None where no pair has two numbers and a limit."""
    rules = [index for index in rules_by(review, check="agreement") if weighed_of(review, index) is not None]
    if not rules:
        return None
    rule, weighed = review.rules[rules[0]], weighed_of(review, rules[0])
    assert weighed is not None
    found, table = verdict(review, rules[:1], rule.row), review.tables.get(rule.row)
    if found is None or table is None or not len(weighed.row):
        return None
    pairs = _Pairs(review, weighed)
    neither = (pairs.hits[0] == 0) & (pairs.hits[1] == 0) & (weighed.outcome == Outcome.HOLDS)
    inside = (pairs.x > _LEAST) & (pairs.y > _LEAST) & (pairs.x < _MOST) & (pairs.y < _MOST)
    use = np.flatnonzero(inside & ~neither & (weighed.outcome != Outcome.UNPROVEN))
    if not len(use):
        return None
    kind = np.maximum(found.mark[weighed.row], found.mark[weighed.numbers["other"].astype(np.int64)])
    far = np.abs(np.log(pairs.x[use] / pairs.y[use]))
    order = sorted(range(len(use)), key=lambda i: (-int(kind[use[i]]), -float(far[i]), pairs.name(int(use[i]))))
    order = [int(use[i]) for i in order]
    shown = order[:MARKS]
    gate = float(str(rule.options["gate"]))
    ends = [float(v) for v in (pairs.x[use].min(), pairs.y[use].min(), pairs.x[use].max(), pairs.y[use].max())]
    low, high = min(*ends, 0.5), max(*ends, 2 * gate)
    across, up = logarithmic(low, high, _LEFT, _RIGHT), logarithmic(low, high, _BOTTOM, _TOP)
    free = Free(_LEFT, _TOP, _RIGHT, _BOTTOM)
    drawn, labels, unnamed = [], [], 0
    for i in shown:
        at = across.at(float(pairs.x[i])), up.at(float(pairs.y[i]))
        free.keep(at[0] - 6, at[1] - 6, at[0] + 6, at[1] + 6)
        tail = "left" if not pairs.hits[0][i] else "down" if not pairs.hits[1][i] else ""
        drawn.append(mark(Mark(int(kind[i])), *at, tail=tail))
    parts = _bounds(rule, gate, across, up, free)
    for i in shown:
        if kind[i] != Mark.HOLDS:
            at = across.at(float(pairs.x[i])), up.at(float(pairs.y[i]))
            label = free.label(*at, cut(pairs.analyte[i], 130))
            labels.append(label)
            unnamed += not label
    leaves_out = []
    if neither.any():
        leaves_out.append(f"{counted(int(neither.sum()), 'pair')} of two nondetects, which agree, not drawn.")
    lacking = len(weighed.row) - len(use) - int(neither.sum())
    if lacking:
        leaves_out.append(f"{counted(lacking, 'pair')} not drawn, for want of a number or of a reporting limit.")
    if len(order) > len(shown):
        leaves_out.append(f"{counted(len(order) - len(shown), 'milder pair')} not drawn.")
    if unnamed:
        leaves_out.append(f"{counted(unnamed, 'mark')} without a name beside it for want of room: see the table.")
    open_marks = any(not pairs.hits[0][i] or not pairs.hits[1][i] for i in shown)
    return Picture(
        "picture-duplicates", _TITLE,
        picture(
            "picture-duplicates", _TITLE,
            f"{len(shown)} pairs on two logarithmic scales, with the line of equal numbers, the bounds by RPD and the "
            "low-level region.",
            _BOTTOM + 42,
            [*frame(across, up, "first, times the higher limit of the two", "duplicate, times the same limit"), *parts,
             *reversed(drawn), *labels],
        ),
        (
            (f"{counted(len(shown), 'pair')} as multiples of the higher reporting limit of the two, so that every "
            "analyte shares one scale. On the dotted line both numbers are equal; inside the dashed lines they agree."),
            (f"In the grey region one of the two is under {figure(gate)} times the limit and the difference counts "
            f"({rule.limit('difference').written} times the limit); outside it the RPD ({rule.limit('rpd').written})."),
        ),
        tuple(leaves_out),
        legend(
            [Mark(int(kind[i])) for i in shown],
            more=((swatch(mark(Mark.HOLDS, 14, 10, tail="left")), AT_MOST),) if open_marks else (),
        ),
        plotted(
            ("First", "Duplicate", "Analyte", "First result", "Duplicate's result", "Higher limit", "Made of it"),
            [(*pairs.told(i), WORDS[Mark(int(kind[i]))]) for i in order[:LISTED]],
            len(order), "flags/results.csv",
        ),
    )  # fmt: skip


class _Pairs:
    """Pairs by place, (m,), each turned so that the order of rows in the file does not tell which comes first."""

    def __init__(self, review: Review, weighed: Weighed) -> None:
        evidence, results = review.evidence, review.evidence.results
        assert results is not None
        row, other = weighed.row, weighed.numbers["other"].astype(np.int64)
        ids = np.array([*evidence.sample_ids.names, ""], dtype=object)
        kinds = np.array([*evidence.samples.kind, ""], dtype=object)
        one, two = ids[results.sample[row]].astype(str), ids[results.sample[other]].astype(str)
        alike = kinds[results.sample[row]] == kinds[results.sample[other]]
        turned = np.asarray(alike & (one > two), dtype=bool)
        numbers = weighed.numbers
        with np.errstate(divide="ignore", invalid="ignore"):
            first, second = numbers["first"] / numbers["higher"], numbers["second"] / numbers["higher"]
        self.x, self.y = np.where(turned, second, first), np.where(turned, first, second)
        hit = numbers["first_detected"], numbers["second_detected"]
        self.hits = np.where(turned, hit[1], hit[0]), np.where(turned, hit[0], hit[1])
        self.samples = np.where(turned, two, one), np.where(turned, one, two)
        self.analyte = [visible(str(name), 60) for name in evidence.analyte_names(row).tolist()]
        # Where one of the two is by volume and the other by mass, the rule compares them by mass.
        family = np.where(results.result.family[row] > 0, results.result.family[row], results.ceiling.family[row])
        there = np.where(results.result.family[other] > 0, results.result.family[other], results.ceiling.family[other])
        self.unit = [FAMILY_UNITS[int(a)] if a == b or not b else FAMILY_UNITS[int(b)] if not a else "ug/m3"
                     for a, b in zip(family, there, strict=True)]  # fmt: skip
        self.higher = numbers["higher"]

    def name(self, i: int) -> str:
        """Text by which equal pairs are put in order."""
        return f"{self.samples[0][i]} {self.samples[1][i]} {self.analyte[i]} {self.x[i]:.9g} {self.y[i]:.9g}"

    def told(self, i: int) -> tuple[str, ...]:
        """Columns of the table of plotted numbers."""
        unit = self.unit[i]

        def amount(times: float, detected: float) -> str:
            text = with_unit(figure(times * float(self.higher[i])), unit)
            return text if detected else f"not detected at {text}"

        return (
            visible(str(self.samples[0][i]), 60), visible(str(self.samples[1][i]), 60), self.analyte[i],
            amount(float(self.x[i]), self.hits[0][i]), amount(float(self.y[i]), self.hits[1][i]),
            with_unit(figure(float(self.higher[i])), unit),
        )  # fmt: skip


def _bounds(rule: Rule, gate: float, across: Scale, up: Scale, free: Free) -> list[str]:
    """The low-level region, the line of equal numbers, and the lines where agreement ends."""
    low, high = across.low, across.high
    inner_x, inner_y = across.at(gate), up.at(gate)
    left, right, top, bottom = across.start, across.end, up.end, up.start
    low_level = f"low level: under {figure(gate)} times the limit"
    parts = [
        outline([(left, bottom), (right, bottom), (right, inner_y), (inner_x, inner_y), (inner_x, top), (left, top)]),
        words(right - 6, bottom - 8, low_level, anchor="end", kind="t-soft"),
        line(across.at(low), up.at(low), across.at(high), up.at(high), "l-equal"),
    ]
    free.keep(right - 8 - measured(low_level), bottom - 22, right, bottom)
    rpd, gap = rule.limit("rpd").value, rule.limit("difference").value
    if rpd < 2:
        # |x - y| / ((x + y) / 2) = r at y = x (2 + r) / (2 - r).
        ratio = (2 + rpd) / (2 - rpd)
        if high / ratio > gate:
            for sign in (1, -1):
                a, b = (gate, gate * ratio), (high / ratio, high)
                ends = [a, b] if sign > 0 else [(a[1], a[0]), (b[1], b[0])]
                parts.append(way(((across.at(x), up.at(y)) for x, y in ends), "l-limit"))
            parts.append(free.label(across.at(high / ratio) - 6, up.at(high) + 14, f"RPD {rule.limit('rpd').written}",
                                    "t-limit", gap=4))  # fmt: skip
    steps = np.geomspace(low, gate, 24).tolist()
    above = [(x, x + gap) for x in steps if x + gap <= high]
    below = [(x + gap, x) for x in steps if x + gap <= high]
    for curve in (above, below):
        if len(curve) > 1:
            parts.append(way(((across.at(x), up.at(y)) for x, y in curve), "l-limit"))
    text = f"difference {rule.limit('difference').written} times the limit"
    if above and math.isfinite(gap):
        at = across.at(low) + 4, up.at(above[0][1]) - 12
        parts.append(free.label(*at, text, "t-limit", gap=4) or free.label(at[0], at[1] - 18, text, "t-limit", gap=4))
    return parts

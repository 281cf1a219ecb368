"""Rows of marks along one axis: a label, its marks, and a few words at the end of each row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vaporqa.report.figures.drawing import WIDTH, box, cut, line, measured, words
from vaporqa.report.figures.marks import Mark, beyond, mark
from vaporqa.report.figures.scales import Scale
from vaporqa.report.wording import figure

#: Where the axis of a chart with labels on the left begins and ends; labels above leave it the whole width.
LEFT, RIGHT = 136.0, 400.0
_BESIDE, _ABOVE = 19.0, 38.0
_HEAD = 17.0


@dataclass(frozen=True, slots=True)
class Dot:
    """One mark of a row."""

    value: float
    kind: Mark
    at_most: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its label, marks, words at its end, what its limits allow, and the span of values not drawn singly."""

    label: str
    dots: tuple[Dot, ...]
    said: str = ""
    band: tuple[float, float] | None = None
    span: tuple[float, float] | None = None


def chart(
    rows: Sequence[Row], limits: Sequence[tuple[float, str]], scale: Scale, unit: str, *, above: bool = False
) -> tuple[list[str], float]:
    """Draw rows against limits.

    Parameters
    ----------
    rows : sequence of Row
    limits : sequence of (value, words)
        Drawn across all rows, each named at the top.
    scale : Scale
        Horizontal.
    unit : str
        What the axis counts.
    above : bool
        Labels stand above their row, else left of it.

    Returns
    -------
    (list of str, float)
        Markup and the height of it all.
    """
    top = _HEAD * len(limits) + 6
    step = _ABOVE if above else _BESIDE
    bottom = top + step * len(rows) + 4
    parts = [line(scale.at(tick), top, scale.at(tick), bottom, "l-grid") for tick in scale.ticks()]
    drawn, labels = [], []
    for index, row in enumerate(rows):
        y = top + step * index + (27 if above else 12)
        parts += _under(row, scale, y)
        if above:
            labels.append(words(scale.start, y - 13, cut(row.label, scale.end - scale.start - measured(row.said) - 12)))
            labels.append(words(scale.end, y - 13, row.said, anchor="end", kind="t-soft"))
        else:
            labels.append(words(scale.start - 12, y + 4.5, cut(row.label, scale.start - 14), anchor="end"))
            labels.append(words(scale.end + 14, y + 4.5, row.said, kind="t-soft"))
        for dot in sorted(row.dots, key=lambda one: (one.kind, one.value)):
            x = scale.at(dot.value)
            if not scale.holds(dot.value):
                drawn.append(beyond(x, y, high=dot.value > scale.high))
            drawn.append(mark(dot.kind, x, y, tail="left" if dot.at_most else ""))
    for number, (value, text) in enumerate(limits):
        x, y = scale.at(value), _HEAD * number + 12
        parts.append(line(x, y + 3, x, bottom, "l-limit"))
        left = x + measured(text) / 2 < WIDTH - 2 and x - measured(text) / 2 > 2
        anchor = "middle" if left else "end" if x > WIDTH / 2 else "start"
        labels.append(words(x, y, text, anchor=anchor, kind="t-limit"))
    return [*parts, *axis(scale, bottom, unit), *labels, *drawn], bottom + 40


def _under(row: Row, scale: Scale, y: float) -> list[str]:
    out = []
    if row.band is not None:
        left, right = scale.at(row.band[0]), scale.at(row.band[1])
        out.append(box(left, y - 8, max(right - left, 1.0), 16))
    out.append(line(scale.start, y, scale.end, y, "l-grid"))
    if row.span is not None:
        out.append(line(scale.at(row.span[0]), y, scale.at(row.span[1]), y, "l-span"))
    return out


def axis(scale: Scale, y: float, unit: str) -> list[str]:
    """Draw a horizontal axis with its numbers and what it counts."""
    parts = [line(scale.start, y, scale.end, y)]
    for tick in scale.ticks():
        x = scale.at(tick)
        parts.append(line(x, y, x, y + 4))
        parts.append(words(x, y + 17, figure(tick), anchor="middle", kind="t-soft"))
    return [*parts, words((scale.start + scale.end) / 2, y + 34, unit, anchor="middle", kind="t-soft")]

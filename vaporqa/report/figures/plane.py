"""A plane with two axes: grid, numbers, and what each axis counts."""

from __future__ import annotations

from vaporqa.report.figures.drawing import line, words
from vaporqa.report.figures.rows import axis
from vaporqa.report.figures.scales import Scale
from vaporqa.report.wording import figure


def frame(across: Scale, up: Scale, across_unit: str, up_unit: str) -> list[str]:
    """Draw the axes of a plane; `up` starts at the bottom."""
    top, bottom, left, right = min(up.start, up.end), max(up.start, up.end), across.start, across.end
    parts = [line(across.at(tick), top, across.at(tick), bottom, "l-grid") for tick in across.ticks()]
    for tick in up.ticks(upright=True):
        y = up.at(tick)
        parts += [line(left, y, right, y, "l-grid"), line(left - 4, y, left, y)]
        parts.append(words(left - 7, y + 4.5, figure(tick), anchor="end", kind="t-soft"))
    parts += [line(left, top, left, bottom), *axis(across, bottom, across_unit)]
    parts.append(words(13, (top + bottom) / 2, up_unit, anchor="middle", kind="t-soft", turn=-90))
    return parts

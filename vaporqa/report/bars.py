"""Bars of counts by standing, drawn as shapes of our own: each standing has a pattern besides its tone."""

from __future__ import annotations

from dataclasses import dataclass

from vaporqa.outcomes import Standing
from vaporqa.tables.values import Int64

WIDTH = 1000.0
#: A standing that is there at all is never thinner than this.
_LEAST = 8.0


@dataclass(frozen=True, slots=True)
class Segment:
    """One part of a bar: left edge and width of `WIDTH`, and the standing that it shows."""

    standing: str
    left: str
    width: str
    rows: int


def bar(counts: Int64) -> tuple[Segment, ...]:
    """Return the parts of a bar for counts by standing (4,); standings without rows are left out."""
    total = int(counts.sum())
    there = [standing for standing in Standing if counts[standing]]
    if not total:
        return ()
    widths = {standing: max(WIDTH * int(counts[standing]) / total, _LEAST) for standing in there}
    spare = sum(widths.values())
    out, left = [], 0.0
    for standing in there:
        width = widths[standing] * WIDTH / spare
        out.append(Segment(standing.word, f"{left:.1f}", f"{width:.1f}", int(counts[standing])))
        left += width
    return tuple(out)

"""Marks: one shape for each thing that a rule can make of what it judged, told apart without colour."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from vaporqa.outcomes import Effect, Outcome, Standing
from vaporqa.report.figures.drawing import INK, number, tag
from vaporqa.tables.values import Int64, UInt8


class Mark(IntEnum):
    """What a rule made of it, from mildest to gravest."""

    HOLDS = 0
    NOTE = 1
    ESTIMATE = 2
    UNPROVEN = 3
    REJECT = 4


MEANINGS = {
    Mark.HOLDS: "full disc: keeps its limits",
    Mark.NOTE: "open diamond: outside a limit, noted only",
    Mark.ESTIMATE: "half disc: outside a limit, results become estimates",
    Mark.UNPROVEN: "ring with a question mark: does not prove enough",
    Mark.REJECT: "cross: outside a limit, results are rejected",
}
WORDS = {
    Mark.HOLDS: "holds", Mark.NOTE: "noted", Mark.ESTIMATE: "estimate", Mark.UNPROVEN: "unproven",
    Mark.REJECT: "reject",
}  # fmt: skip
AT_MOST = "tail: the value is at most this (a nondetect stands at its limit)"
BEYOND = "arrow head at the edge: beyond the scale; its number stands in the table"

_OF_EFFECT = {
    Effect.NONE: Mark.HOLDS, Effect.NOTE: Mark.NOTE, Effect.ESTIMATE: Mark.ESTIMATE, Effect.UNPROVEN: Mark.UNPROVEN,
    Effect.REJECT: Mark.REJECT, Effect.CAUTION: Mark.NOTE,
}  # fmt: skip
OF_STANDING = {
    Standing.USABLE: Mark.HOLDS, Standing.ESTIMATED: Mark.ESTIMATE, Standing.UNPROVEN: Mark.UNPROVEN,
    Standing.REJECTED: Mark.REJECT,
}  # fmt: skip
_BY_EFFECT = np.array([_OF_EFFECT[effect] for effect in Effect], np.int64)


def marks_of(state: UInt8, effect: UInt8) -> Int64:
    """Return the mark of each row by its outcome and the effect of its findings, (n,)."""
    # A row that is unproven in silence earns nothing, and yet proves nothing.
    silent = (state == Outcome.UNPROVEN) & (effect == Effect.NONE)
    return np.asarray(np.where(silent, Mark.UNPROVEN, _BY_EFFECT[effect]), dtype=np.int64)


def mark(kind: Mark, x: float, y: float, *, tail: str = "") -> str:
    """Return a mark at a point; `tail` (`left`, `down`) points to where the true value lies, and leaves discs open."""
    at = f"M{number(x)} {number(y)}"
    drawn = ""
    if tail:
        dx, dy = (-1, 0) if tail == "left" else (0, 1)
        drawn = _stroke(kind, f"{at}m{5 * dx} {5 * dy}l{8 * dx} {8 * dy}" + (
            "m3 -3l-3 3l3 3" if tail == "left" else "m-3 -3l3 3l3 -3"
        ))  # fmt: skip
    if kind is Mark.HOLDS:
        if tail:
            return drawn + _stroke(kind, f"{at}m-4 0{_ring(4)}")
        return _fill(kind, f"{at}m-4 0{_ring(4)}")
    if kind is Mark.NOTE:
        return drawn + _stroke(kind, f"{at}m0 -5l5 5l-5 5l-5 -5z")
    if kind is Mark.ESTIMATE:
        ring = _stroke(kind, f"{at}m-5 0{_ring(5)}")
        return drawn + ring + ("" if tail else _fill(kind, f"{at}m0 -5a5 5 0 0 0 0 10z"))
    if kind is Mark.UNPROVEN:
        asks = "m3.8 -1.5c0 -3 4.6 -3 4.6 -.2c0 1.9 -2.3 1.6 -2.3 3.2m0 1.6v1"
        return drawn + _stroke(kind, f"{at}m-6 0{_ring(6)}{asks}")
    return drawn + _stroke(kind, f"{at}m-4.5 -4.5l9 9m0 -9l-9 9", "2.4")


def beyond(x: float, y: float, *, high: bool) -> str:
    """Return the arrow head of a value beyond the scale."""
    return _stroke(
        Mark.HOLDS, f"M{number(x + (7 if high else -7))} {number(y - 4)}l{'4 4l-4 4' if high else '-4 4l4 4'}"
    )


def shape(kind: str, x: float, y: float) -> str:
    """Return a shape of its own meaning: `square`, `open_square`, `bar`, `wedge`, `drop`, `full_drop`."""
    at = f"M{number(x)} {number(y)}"
    ways = {
        "square": "m-4 -4h8v8h-8z", "open_square": "m-4 -4h8v8h-8z", "bar": "m0 -6v12", "wedge": "m-4 -5l8 5l-8 5z",
        "drop": "m0 -6l4.5 6.5a4.9 4.9 0 1 1 -9 0z", "full_drop": "m0 -6l4.5 6.5a4.9 4.9 0 1 1 -9 0z",
        "tick": "m-5 0l3.5 4l6.5 -8",
    }  # fmt: skip
    if kind in ("square", "wedge", "full_drop"):
        return _fill(Mark.HOLDS, at + ways[kind])
    return _stroke(Mark.HOLDS, at + ways[kind], "2" if kind in ("bar", "tick") else "1.6")


def _ring(radius: int) -> str:
    return f"a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0"


def _fill(kind: Mark, d: str) -> str:
    return tag("path", class_=f"m-{WORDS[kind]} m-full", d=d)


def _stroke(kind: Mark, d: str, width: str = "1.6") -> str:
    return tag("path", class_=f"m-{WORDS[kind]} m-line", fill="none", stroke=INK, stroke_width=width, d=d)

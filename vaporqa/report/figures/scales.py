"""Scales: where a number stands along an axis, and which round numbers are written there."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from vaporqa.report.figures.drawing import measured
from vaporqa.report.wording import figure

_STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight or logarithmic scale from `low` at `start` to `high` at `end`, in units of the picture."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def at(self, value: float) -> float:
        """Return where a number stands; one beyond an end stands at that end."""
        inside = min(max(value, self.low), self.high)
        if self.logarithmic:
            share = math.log(inside / self.low) / math.log(self.high / self.low)
        else:
            share = (inside - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Whether a number stands inside the scale."""
        return self.low <= value <= self.high

    def ticks(self, *, upright: bool = False) -> list[float]:
        """Return round numbers, so few that what is written beside them never touches."""
        if self.logarithmic:
            return self._decades(upright=upright)
        span = self.high - self.low
        power = math.floor(math.log10(span)) - 2
        while True:
            for step in _STEPS:
                size = step * 10.0**power
                first, last = math.ceil(self.low / size - 1e-9), math.floor(self.high / size + 1e-9)
                if last - first > 40:
                    continue
                found = [at * size for at in range(first, last + 1)]
                if self._apart(found, upright=upright):
                    return found
            power += 1

    def _decades(self, *, upright: bool) -> list[float]:
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        powers = range(first, last + 1)
        for steps in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
            found = [step * 10.0**power for power in powers for step in steps]
            found = [one for one in found if self.low * (1 - 1e-9) <= one <= self.high * (1 + 1e-9)]
            if self._apart(found, upright=upright):
                return found
        every = 2
        while True:
            found = [10.0**power for power in powers if power % every == 0]
            found = [one for one in found if self.low * (1 - 1e-9) <= one <= self.high * (1 + 1e-9)]
            if self._apart(found, upright=upright) or len(found) < 2:
                return found
            every += 1

    def _apart(self, found: list[float], *, upright: bool) -> bool:
        places = sorted(self.at(one) for one in found)
        if upright:
            return all(abs(b - a) >= 18 for a, b in itertools.pairwise(places))
        found = found if self.end > self.start else found[::-1]
        wide = [measured(figure(one)) / 2 for one in found]
        return all(
            places[i + 1] - wide[i + 1] - places[i] - wide[i] >= 8 for i in range(len(places) - 1)
        )  # fmt: skip


def straight(low: float, high: float, start: float, end: float) -> Scale:
    """Return a straight scale; one without length is widened."""
    if not high > low:
        low, high = low - 0.5 * (abs(low) or 1.0), high + 0.5 * (abs(high) or 1.0)
    return Scale(low, high, start, end)


def logarithmic(low: float, high: float, start: float, end: float) -> Scale:
    """Return a logarithmic scale round positive numbers, with a little air at both ends."""
    if not high > low:
        low, high = low / 2, high * 2
    air = (high / low) ** 0.06
    return Scale(low / max(air, 1.15), high * max(air, 1.15), start, end, True)

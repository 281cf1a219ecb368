"""Uses of one piece of equipment in time order: what came last before each, and what comes next elsewhere.

A stamp without a time of day spans a local day (25 h at most), so that two uses may stand in either order. All answers
are found by bisection: a piece that is used ten thousand times costs no more a use than one used ten times.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate, islice
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from vaporqa.evidence.uses import Use

FIRST, LAST = int(np.iinfo(np.int64).min), int(np.iinfo(np.int64).max)


def elsewhere(first: Use, second: Use) -> bool:
    """Whether two uses are at different probes or places."""
    if first.probe >= 0 and second.probe >= 0:
        return first.probe != second.probe
    return first.location != second.location or first.location < 0


def certainly_before(first: Use, second: Use) -> bool:
    """Whether a use began before another whatever the time of day that their stamps leave open."""
    return first.begin[1] <= second.begin[0] and first.begin != second.begin


class InTimeOrder:
    """The uses of one piece of equipment.

    Parameters
    ----------
    uses : iterable of Use
        Those without a readable time are kept, and stand in no order.
    """

    def __init__(self, uses: Iterable[Use]) -> None:
        self.uses = sorted(uses, key=lambda use: use.begin)
        self._timed = [use for use in self.uses if use.timed]
        self._low = [use.begin[0] for use in self._timed]
        self._widest = max((use.begin[1] - use.begin[0] for use in self._timed), default=0)
        self._by_high = sorted((use.begin[1], use.begin[0]) for use in self._timed)
        self._latest_low = list(accumulate((low for _, low in self._by_high), max))
        self._next_place = _next_places(self._timed)
        self._first_elsewhere: dict[tuple[int, int], list[Use]] = {}

    def __iter__(self) -> Iterator[Use]:
        return iter(self.uses)

    def __len__(self) -> int:
        return len(self.uses)

    def possible_predecessors(self, use: Use) -> list[Use]:
        """Uses that could be the last one before `use`: possibly earlier, with none certainly in between."""
        low, high = use.begin
        # Uses that certainly began before: ended their span by `low`, the same instant apart.
        instant = low == high
        count = bisect_left(self._by_high, (low, low)) if instant else bisect_right(self._by_high, (low, LAST))
        latest = self._latest_low[count - 1] if count else FIRST
        start = bisect_left(self._low, (latest if count else low) - self._widest)
        return [
            other
            for other in self._timed[start : bisect_right(self._low, high)]
            if other is not use
            and not certainly_before(use, other)
            and (not certainly_before(other, use) or other.begin[1] >= latest)
        ]

    def next_elsewhere(self, use: Use) -> int:
        """Latest instant at which the next use elsewhere began; LAST where there is none."""
        found = LAST
        at = bisect_left(self._low, use.begin[1])
        while at < len(self._timed) and self._low[at] < found:
            other = self._timed[at]
            if not elsewhere(use, other):
                at = self._next_place[at] if _place(other) == _place(use) else at + 1
                continue
            if certainly_before(use, other):
                found = min(found, other.begin[1])
            at += 1
        return found

    def first_elsewhere(self, use: Use) -> Use | None:
        """Return the first use at another place, whenever that was."""
        place = _place(use)
        if place not in self._first_elsewhere:
            # Two, since a use at an unnamed place is elsewhere than itself.
            self._first_elsewhere[place] = list(islice((one for one in self.uses if elsewhere(one, use)), 2))
        return next((one for one in self._first_elsewhere[place] if one is not use), None)


def _place(use: Use) -> tuple[int, int]:
    return use.location, use.probe


def _next_places(uses: Sequence[Use]) -> list[int]:
    """Index of the next use at another place than each."""
    out = [len(uses)] * len(uses)
    for at in range(len(uses) - 2, -1, -1):
        out[at] = out[at + 1] if _place(uses[at]) == _place(uses[at + 1]) else at + 1
    return out


class Spans:
    """Spans of time (earliest, latest), each the unknown moment of one event.

    Parameters
    ----------
    spans : iterable of (int, int)
        Microseconds UTC.
    """

    def __init__(self, spans: Iterable[tuple[int, int]]) -> None:
        ordered = sorted(spans)
        self._low = [low for low, _ in ordered]
        self._highest_so_far = list(accumulate((high for _, high in ordered), max))
        self._lowest_to_come = list(accumulate((high for _, high in reversed(ordered)), min))[::-1]

    def any_inside(self, after: int, before: int) -> bool:
        """Whether some event certainly happened between two instants."""
        at = bisect_left(self._low, after)
        return at < len(self._low) and self._lowest_to_come[at] <= before

    def any_touching(self, after: int, before: int) -> bool:
        """Whether some event could have happened between two instants."""
        at = bisect_right(self._low, before)
        return at > 0 and self._highest_so_far[at - 1] >= after


__all__ = ["FIRST", "LAST", "InTimeOrder", "Spans", "certainly_before", "elsewhere"]

"""Rain before sampling: when the latest day of heavy rain ended, and whether the record would have shown one.

Rows at most an hour apart add up as written; a longer row is spread evenly over its period. Times are microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import moments, numbers
from vaporqa.evidence.drawing import US_PER_H, US_PER_S, nothing, own_sample, soil_gas_rows
from vaporqa.evidence.judged import Measured
from vaporqa.tables.values import Bool, Float, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

DAY = 24 * US_PER_H


@dataclass(frozen=True, slots=True)
class Rain:
    """The rain record in order of time, (n,): begin and end of each row's period and what fell, in m.

    Attributes
    ----------
    begin, end : int64
    fell : float64
        nan where it cannot be read.
    pointed : bool
        At most an hour long: what it holds counts at its end, as written.
    placed : bool
        The period is known; a row without one tells how much fell, and not when.
    """

    begin: Int64
    end: Int64
    fell: Float
    pointed: Bool
    placed: Bool


def rain_record(ev: Evidence) -> Rain | None:
    """Read the weather table's rain; None where the folder has no such column."""
    table = ev.tables.get("weather")
    if table is None or "rain" not in table:
        return None
    return _record(table)


def _record(table: Table) -> Rain:
    fell, period, at = numbers(table, "rain"), numbers(table, "rain_period"), moments(table, "at")
    rows = np.flatnonzero(table.counts & at.known & (fell.known | fell.hard))
    rows = rows[np.lexsort((np.nan_to_num(fell.value[rows]), at.high[rows]))]
    # A date stands for a whole local day, and the period of a daily row ends with it.
    end = at.high[rows]
    spacing = np.full(len(rows), np.iinfo(np.int64).max)
    spacing[1:] = end[1:] - end[:-1]
    stated = period.known[rows] & (np.nan_to_num(period.value[rows]) > 0)
    length = np.where(stated, np.nan_to_num(period.value[rows]) * US_PER_S, 0.0).astype(np.int64)
    close = ~period.known[rows] & ~period.hard[rows] & (spacing <= US_PER_H) & (spacing > 0)
    length = np.where(close, spacing, length)
    placed = stated | close
    return Rain(end - length, end, np.where(fell.known[rows], fell.value[rows], np.nan), length <= US_PER_H, placed)


@dataclass(frozen=True, slots=True)
class Wait:
    """Time since heavy rain at one instant.

    `seconds` is nan where no such rain is on record; `depth` is what that day held, in m; `complete` says that the
    record would have shown any that ended within the wait; `hard` that an unreadable row is why it would not.
    """

    seconds: float
    depth: float
    ended: int
    complete: bool
    hard: bool


class RainGauge:
    """Answers when heavy rain last ended before an instant; `heavy` is the least depth of such a day, m."""

    def __init__(self, rain: Rain, heavy: float) -> None:
        self._rain = rain
        self._heavy = heavy
        wet = rain.placed & (np.nan_to_num(rain.fell) > 0)
        self._begin, self._end = rain.begin[wet], rain.end[wet]
        self._fell, self._pointed = rain.fell[wet], rain.pointed[wet]
        self._most = np.array([self._most_of_row(row, None) for row in range(len(self._end))])

    def fallen(self, until: Int64) -> Float:
        """What fell in the 24 hours up to each time, m."""
        when = until[:, None]
        inside = (self._end > when - DAY) & (self._end <= when)
        length = np.maximum(self._end - self._begin, 1)
        overlap = np.minimum(self._end, when) - np.maximum(self._begin, when - DAY)
        share = np.where(self._pointed, inside, np.clip(overlap / length, 0.0, 1.0))
        return np.asarray((share * self._fell).sum(axis=1))

    def _most_of_row(self, row: int, until: int | None) -> float:
        """The most that any 24 hours hold whose last wet row is this one, up to `until`."""
        end = int(self._end[row]) if until is None else min(int(self._end[row]), until)
        begin = int(self._end[row]) if self._pointed[row] else int(self._begin[row])
        marks = np.concatenate([self._begin, self._end, self._begin + DAY, self._end + DAY])
        times = np.append(marks[(marks > begin) & (marks < end)], end)
        return float(self.fallen(np.unique(times)).max())

    def wait(self, at: int, needed: float) -> Wait:
        """Seconds from the end of the latest heavy rain to an instant; rain that still falls leaves none.

        Parameters
        ----------
        at : int
            Microseconds.
        needed : float
            Seconds over which the record must be complete.
        """
        best, depth = None, np.nan
        done = np.flatnonzero((self._end <= at) & (self._most >= self._heavy))
        if done.size:
            row = int(done[np.argmax(self._end[done])])
            best, depth = int(self._end[row]), float(self._most[row])
        for row in np.flatnonzero(~self._pointed & (self._begin < at) & (self._end > at)).tolist():
            most = self._most_of_row(row, at)
            if most >= self._heavy:
                best, depth = at, most
        complete, hard = self._complete(at, needed)
        seconds = (at - best) / US_PER_S if best is not None else np.nan
        return Wait(seconds, float(depth), best if best is not None else 0, complete, hard)

    def most(self, at: int) -> float:
        """The most that any 24 hours up to an instant held, m."""
        done = self._most[self._end <= at]
        still = [self._most_of_row(row, at) for row in np.flatnonzero((self._begin < at) & (self._end > at)).tolist()]
        return float(max([0.0, *done.tolist(), *still]))

    def _complete(self, at: int, needed: float) -> tuple[bool, bool]:
        """Whether the record covers the wait, and the day before each wet row in it; whether a row is unreadable."""
        since = at - int(needed * US_PER_S)
        late = (self._end > since) & (self._end <= at)
        if late.any():
            began = np.where(self._pointed, self._end, self._begin)[late]
            since = min(since, int(began.min()) - DAY)
        rain = self._rain
        near = (rain.end > since) & (rain.begin < at + (0 if rain.placed.all() else DAY))
        lost = near & np.isnan(rain.fell)
        adrift = near & ~rain.placed & (np.nan_to_num(rain.fell) > 0)
        use = near & rain.placed & ~np.isnan(rain.fell)
        reached = since
        order = np.argsort(rain.begin[use], kind="stable")
        for begin, end in zip(rain.begin[use][order].tolist(), rain.end[use][order].tolist(), strict=True):
            if begin > reached:
                break
            reached = max(reached, end)
        covered = reached >= at
        return bool(covered and not adrift.any()), bool(lost.any() and not covered)


def rain_of_a_day(ev: Evidence) -> Measured:
    """The most rain that any 24 hours before a soil-gas sample held, as far as the record goes, m."""
    home, rain = ev.tables.get("samples"), rain_record(ev)
    if home is None:
        return nothing()
    rows, number = soil_gas_rows(ev)
    start = ev.samples.start.take(number)
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(np.full(len(rows), rain is not None), "the rain before sampling", ("weather", "rain"))
    asked.need(start, "when sampling began", ("samples", "started_at"))
    value = np.full(len(rows), np.nan)
    if rain is not None:
        gauge = RainGauge(rain, 0.0)
        found = {at: gauge.most(at) for at in np.unique(start.low[start.known]).tolist()}
        value = np.array([found.get(at, np.nan) for at in start.low.tolist()])
    return asked.measured(value, samples=own_sample(number))

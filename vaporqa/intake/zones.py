"""Local time and UTC, whole columns at a time.

A zone's offset is asked once a distinct day. Only on the two days a year when the clocks change is each time placed
by itself: one that occurs twice or never has no place.
"""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from vaporqa.tables.values import MICROSECONDS_PER_DAY, Int32, Int64, UInt8

#: What became of a local time: it has one instant, it occurs twice, it never occurs.
ONCE, TWICE, NEVER = 0, 1, 2

_EPOCH = dt.datetime(1970, 1, 1)
_MICROSECOND = dt.timedelta(microseconds=1)
_NOT_ONE_OFFSET = np.iinfo(np.int64).min


@dataclass(frozen=True, slots=True)
class Clock:
    """The clock on the wall somewhere."""

    name: str

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        """The zone of the time-zone database."""
        return zoneinfo.ZoneInfo(self.name)

    def to_utc(self, local: Int64) -> tuple[Int64, UInt8]:
        """Place local wall times.

        Parameters
        ----------
        local : int64 (k,)
            Microseconds since 1970-01-01 00:00 on the wall clock.

        Returns
        -------
        utc : int64 (k,)
            Microseconds since 1970-01-01 UTC; of a time that occurs twice the first.
        fate : uint8 (k,)
            ONCE, TWICE or NEVER.
        """
        zone = self.zone
        days, inverse = _distinct(local // MICROSECONDS_PER_DAY)
        offsets = np.array([_day_offset(zone, int(day)) for day in days], np.int64)
        of_each = offsets[inverse] if len(days) else np.empty(0, np.int64)
        utc = local - np.where(of_each == _NOT_ONE_OFFSET, 0, of_each)
        fate = np.zeros(len(local), np.uint8)
        for at in np.flatnonzero(of_each == _NOT_ONE_OFFSET):
            utc[at], fate[at] = _place(zone, int(local[at]))
        return utc, fate

    def day_start(self, day: Int32) -> Int64:
        """First instant of local days, microseconds UTC, (k,)."""
        distinct, inverse = _distinct(day.astype(np.int64))
        zone = self.zone
        starts = np.array([_place(zone, int(one) * MICROSECONDS_PER_DAY)[0] for one in distinct], np.int64)
        found: Int64 = starts[inverse] if len(distinct) else np.empty(0, np.int64)
        return found

    def to_local(self, utc: Int64) -> Int64:
        """Wall times of instants, (k,) microseconds."""
        zone = self.zone
        hours, inverse = _distinct(utc // (MICROSECONDS_PER_DAY // 24))
        # Within an hour of UTC that sees a change of the clocks, each instant is asked by itself.
        step = MICROSECONDS_PER_DAY // 24
        first = np.array([_utc_offset(zone, int(hour) * step) for hour in hours], np.int64)
        last = np.array([_utc_offset(zone, (int(hour) + 1) * step - 1) for hour in hours], np.int64)
        if not len(hours):
            return utc.copy()
        offsets = first[inverse]
        for at in np.flatnonzero((first != last)[inverse]):
            offsets[at] = _utc_offset(zone, int(utc[at]))
        local: Int64 = utc + offsets
        return local


def _distinct(numbers: Int64) -> tuple[Int64, Int64]:
    """Return the distinct numbers and where each stands among them; days and hours lie close together."""
    if not len(numbers):
        return numbers, numbers
    lowest = numbers.min()
    here = np.zeros(int(numbers.max() - lowest) + 1, np.bool_)
    here[numbers - lowest] = True
    place = np.cumsum(here) - 1
    return np.flatnonzero(here) + lowest, place[numbers - lowest]


def _wall(microseconds: int) -> dt.datetime:
    return _EPOCH + dt.timedelta(microseconds=microseconds)


def _offset(wall: dt.datetime) -> int:
    offset = wall.utcoffset()
    return 0 if offset is None else offset // _MICROSECOND


def _utc_offset(zone: zoneinfo.ZoneInfo, utc: int) -> int:
    return _offset(_wall(utc).replace(tzinfo=dt.UTC).astimezone(zone))


@lru_cache(maxsize=1 << 16)
def _day_offset(zone: zoneinfo.ZoneInfo, day: int) -> int:
    """Offset of a local day in microseconds, or `_NOT_ONE_OFFSET` where the clocks change in it."""
    begin = _wall(day * MICROSECONDS_PER_DAY)
    found = {
        _offset((begin + dt.timedelta(hours=hour)).replace(tzinfo=zone, fold=fold))
        for hour in (0, 12, 24)
        for fold in (0, 1)
    }
    return found.pop() if len(found) == 1 else int(_NOT_ONE_OFFSET)


def _place(zone: zoneinfo.ZoneInfo, local: int) -> tuple[int, int]:
    """Instant of one wall time (of one that occurs twice the first, of one in a gap its end), and its fate."""
    wall = _wall(local)
    first = _offset(wall.replace(tzinfo=zone, fold=0))
    second = _offset(wall.replace(tzinfo=zone, fold=1))
    if first == second:
        return local - first, ONCE
    if first > second:
        return local - first, TWICE
    return local - first, NEVER


def day_numbers(local: Int64) -> Int32:
    """Return local dates as days since 1970-01-01, (k,)."""
    days: npt.NDArray[np.int32] = (local // MICROSECONDS_PER_DAY).astype(np.int32)
    return days

"""Times as text: ISO 8601 with an offset, or local wall time, or a date alone.

Distinct texts are read once. What is no such text is offered in ISO form where it can be, never read: ``06/03/2025``
is the third of June or the sixth of March.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.numbers import each_offer, matching, trimmed
from vaporqa.intake.zones import NEVER, ONCE, TWICE, Clock, day_numbers
from vaporqa.tables.values import MICROSECONDS_PER_DAY, Bool, Int64, Texts, UInt8

#: What a distinct text is.
NO_TIME, DATE, LOCAL, PLACED = 0, 1, 2, 3

#: A year outside these is a slip of the keyboard or a spreadsheet's zero, not a sampling date.
FIRST_YEAR, LAST_YEAR = 1900, 2199

_DATE = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_STAMP = _DATE + r"[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?"
_OFFSET = r"(?:Z|[+-][0-9]{2}(?::?[0-9]{2})?)"
_LOWEST = (dt.date(FIRST_YEAR, 1, 1) - dt.date(1970, 1, 1)).days * MICROSECONDS_PER_DAY
_HIGHEST = (dt.date(LAST_YEAR + 1, 1, 1) - dt.date(1970, 1, 1)).days * MICROSECONDS_PER_DAY

_SLASHED = re.compile(r"(\d{1,4})[/.\-](\d{1,2})[/.\-](\d{1,4})(?:[T ]+(\d{1,2}):?(\d{2})(?::\d{2})?\s*([AaPp][Mm])?)?")
#: What is left of a cell that two declared formats read differently.
_TWO_READINGS = re.compile(rf"(?:{_DATE}\S*|{_STAMP}\S*)(?: or (?:{_DATE}\S*|{_STAMP}\S*))+")
_LONG_FRACTION = re.compile(r"(.*\.\d{6})\d+(.*)")


@dataclass(frozen=True, slots=True)
class ReadTimes:
    """Distinct texts read as times, (k,) each.

    Attributes
    ----------
    kind : uint8
        NO_TIME, DATE, LOCAL (no offset) or PLACED (with an offset).
    wall : int64
        Microseconds since 1970-01-01 of what is written, the offset left aside.
    utc : int64
        Microseconds since 1970-01-01 UTC; only where PLACED.
    """

    kind: UInt8
    wall: Int64
    utc: Int64

    @property
    def wrong(self) -> Bool:
        """Texts that are no time."""
        found: Bool = self.kind == NO_TIME
        return found


def read_times(texts: Any) -> ReadTimes:
    """Read distinct texts (a pyarrow string array of k) as times."""
    import pyarrow as pa
    import pyarrow.compute as pc

    bare = trimmed(texts)
    n = len(bare)
    kind = np.zeros(n, np.uint8)
    wall = np.zeros(n, np.int64)
    utc = np.zeros(n, np.int64)
    local = matching(bare, _STAMP)
    placed = np.zeros(n, np.bool_) if local.all() else matching(bare, _STAMP + _OFFSET)
    dates = np.zeros(n, np.bool_) if (local | placed).all() else matching(bare, _DATE)
    for mask, name in ((dates, DATE), (local, LOCAL)):
        at = np.flatnonzero(mask)
        if len(at):
            found, right = _wall_times(bare.take(pa.array(at)))
            kind[at[right]] = name
            wall[at[right]] = found[right]
    at = np.flatnonzero(placed)
    if len(at):
        chosen = bare.take(pa.array(at))
        found, right = _wall_times(pc.replace_substring_regex(chosen, _OFFSET + r"\z", ""))
        offset_texts = pc.replace_substring_regex(chosen, r"\A" + _STAMP, "").dictionary_encode()
        offsets = np.array([_offset(text.as_py()) for text in offset_texts.dictionary], np.float64)
        offset = offsets[offset_texts.indices.to_numpy()]
        right = right & ~np.isnan(offset)
        kind[at[right]] = PLACED
        wall[at[right]] = found[right]
        utc[at[right]] = found[right] - offset[right].astype(np.int64)
    far = (wall < _LOWEST) | (wall >= _HIGHEST)
    kind[far] = NO_TIME
    return ReadTimes(kind, wall, utc)


def _wall_times(texts: Any) -> tuple[Int64, Bool]:
    """Return wall times in microseconds and which texts are a time that the calendar has."""
    import pyarrow as pa

    try:
        whole = texts.cast(pa.timestamp("us")).cast(pa.int64())
        return np.asarray(whole.to_numpy(), np.int64), np.ones(len(texts), np.bool_)
    except pa.ArrowInvalid:
        pass
    found = np.zeros(len(texts), np.int64)
    right = np.zeros(len(texts), np.bool_)
    epoch = dt.datetime(1970, 1, 1)
    for at, text in enumerate(texts.to_pylist()):
        try:
            found[at] = (dt.datetime.fromisoformat(text) - epoch) // dt.timedelta(microseconds=1)
            right[at] = True
        except (ValueError, OverflowError):
            continue
    return found, right


def _offset(text: str) -> float:
    """Offset in microseconds; nan where no clock on earth has it (from -12 to +14 h)."""
    if text == "Z":
        return 0.0
    digits = text[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:] or 0)
    if int(digits[2:] or 0) > 59 or minutes > (14 if text[0] == "+" else 12) * 60:
        return float("nan")
    return (minutes if text[0] == "+" else -minutes) * 60e6


@dataclass(frozen=True, slots=True)
class PlacedTimes:
    """Distinct texts as intervals in UTC, (k,) each; `fate` tells ONCE, TWICE or NEVER for local times."""

    low: Int64
    high: Int64
    local: Int64
    fate: UInt8


def place(read: ReadTimes, clock: Clock | None, as_dates: Bool | None = None) -> PlacedTimes:
    """Place distinct times on the line of UTC.

    Parameters
    ----------
    read : ReadTimes
    clock : Clock or None
        The wall clock of the column. None is right only where each time has its own offset.
    as_dates : bool (k,), optional
        Times to be taken as the local day that they name.
    """
    low, high = read.utc.copy(), read.utc.copy()
    local = read.wall.copy()
    fate = np.zeros(len(low), np.uint8)
    if clock is None:
        return PlacedTimes(low, high, local, fate)
    is_date = read.kind == DATE
    placed = np.flatnonzero(read.kind == PLACED)
    local[placed] = clock.to_local(read.utc[placed])
    if as_dates is not None:
        is_date = is_date | (as_dates & ~read.wrong)
    at = np.flatnonzero((read.kind == LOCAL) & ~is_date)
    low[at], fate[at] = clock.to_utc(read.wall[at])
    high[at] = low[at]
    days = np.flatnonzero(is_date)
    day = day_numbers(local[days])
    low[days] = clock.day_start(day)
    high[days] = clock.day_start((day + 1).astype(np.int32)) - 1
    return PlacedTimes(low, high, local, fate)


def offers(texts: Any, wrong: Bool) -> Texts:
    """Return the nearest ISO reading of each text marked `wrong`; empty where there is none."""
    return each_offer(texts, wrong, offer_time)


def offer_time(text: str) -> str:
    """Return the ISO readings that `text` can have, with a question mark; empty where there is none.

    Examples
    --------
    >>> offer_time("6/3/2025"), offer_time("6/13/2025 2:05 PM"), offer_time("soon")
    ('2025-06-03 or 2025-03-06?', '2025-06-13T14:05?', '')
    """
    plain = " ".join(text.split())
    if _TWO_READINGS.fullmatch(plain):
        return f"{plain}?"
    long = _LONG_FRACTION.fullmatch(plain)
    if long and not read_times(_one(long[1] + long[2])).wrong[0]:
        return f"{long[1]}{long[2]}?"
    match = _SLASHED.fullmatch(plain)
    if match is None:
        tidy = re.sub(r"(?<=\d)\s+(?=[+-]\d{2}:?\d{2}$|Z$)", "", plain.upper().replace("UTC", "Z"))
        return f"{tidy}?" if tidy != text and not read_times(_one(tidy)).wrong[0] else ""
    first, second, third = match[1], match[2], match[3]
    clock = _clock(match)
    if clock is None:
        return ""
    orders = []
    if len(first) == 4:
        orders = [(first, second, third)]
    elif len(first) <= 2 and len(third) in (2, 4):
        year = third if len(third) == 4 else f"20{third}"
        orders = [(year, first, second), (year, second, first)]
    readings = []
    for year, month, day in orders:
        try:
            date = dt.date(int(year), int(month), int(day))
        except ValueError:
            continue
        if FIRST_YEAR <= date.year <= LAST_YEAR and date.isoformat() + clock != plain:
            readings.append(date.isoformat() + clock)
    return " or ".join(dict.fromkeys(readings)) + "?" if readings else ""


def _clock(match: re.Match[str]) -> str | None:
    if match[4] is None:
        return ""
    hour, minute = int(match[4]), int(match[5])
    if match[6]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[6].lower() == "pm" else 0)
    return f"T{hour:02d}:{minute:02d}" if hour < 24 and minute < 60 else None


def _one(text: str) -> Any:
    import pyarrow as pa

    return pa.array([text], pa.string())


FATES = {TWICE: "this local time occurs twice", NEVER: "this local time never occurs", ONCE: ""}

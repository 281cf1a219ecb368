"""In which formats a column of a stranger's file can be read as times."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.numbers import matching
from vaporqa.intake.time_formats import parse_format, read_format
from vaporqa.intake.times import DATE, NO_TIME, read_times
from vaporqa.tables.values import MICROSECONDS_PER_DAY

_DATES = (
    "%m/%d/%Y", "%d/%m/%Y", "%m/%d/%y", "%d/%m/%y", "%Y/%m/%d", "%m-%d-%Y", "%d-%m-%Y", "%m-%d-%y", "%d-%m-%y",
    "%d.%m.%Y", "%m.%d.%Y", "%d.%m.%y", "%m.%d.%y", "%Y.%m.%d", "%d-%b-%Y", "%d-%b-%y", "%d %b %Y", "%d %b %y",
    "%b %d, %Y", "%b %d %Y", "%b-%d-%Y", "%Y-%b-%d", "%d%b%Y", "%d%b%y", "%Y%m%d",
)  # fmt: skip
_CLOCKS = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M:%S %p", "%I:%M%p", "%H%M", "%H:%M:%S.%f", "%H:%M %z")
#: Every format that is tried: a date, and each date with each clock.
FORMATS = (
    *_DATES,
    *(f"{date}{between}{clock}" for date, clock in itertools.product(_DATES, _CLOCKS) for between in (" ",)),
    *(f"%Y-%m-%d {clock}" for clock in _CLOCKS[2:6]),
)
_CLOCK = r"(?:[01]?[0-9]|2[0-3]):[0-5][0-9](?::[0-5][0-9])?(?:\s*[AaPp]\.?[Mm]\.?)?"
_MILITARY = r"(?:[01][0-9]|2[0-3])[0-5][0-9]"
#: Distinct texts, evenly spread, that a format is tried on first: most formats read none of them.
_FIRST = 50


@dataclass(frozen=True, slots=True)
class TimeFit:
    """How a column reads as times.

    Attributes
    ----------
    iso : int
        Distinct texts that are ISO 8601 as they stand.
    of : int
        Distinct texts.
    formats : tuple of str
        Formats each of which reads every text.
    differ : bool
        Two of them (or one and ISO) make different times of some text.
    together : tuple of str
        Where no format reads all: some that do so together; empty where none do.
    differing : tuple of str
        A text and its two readings, where `differ`.
    dates : bool
        No text has a time of day.
    clock_times : int
        Different times of day.
    days : int
        Different days.
    midnight : bool
        Every time of day is midnight.
    """

    iso: int
    of: int
    formats: tuple[str, ...] = ()
    differ: bool = False
    together: tuple[str, ...] = ()
    differing: tuple[str, ...] = ()
    dates: bool = False
    clock_times: int = 0
    days: int = 0
    midnight: bool = False

    @property
    def is_iso(self) -> bool:
        """Every text is ISO 8601 as it stands."""
        return bool(self.of) and self.iso == self.of

    @property
    def reads(self) -> bool:
        """Every text reads in some way."""
        return self.is_iso or bool(self.formats) or bool(self.together)


#: What is said of a column that holds no times.
NO_TIMES = TimeFit(0, 0)


def fit_times(texts: Any) -> TimeFit:
    """Return how distinct texts (a pyarrow string array of k) read as times."""
    count = len(texts)
    if not count:
        return TimeFit(0, 0)
    plain = read_times(texts)
    iso = int((plain.kind != NO_TIME).sum())
    if iso == count:
        return TimeFit(iso, count, **_spread(plain.kind == DATE, plain.wall))
    if iso == 0 and not _some_dates(texts):
        return TimeFit(0, count)
    open_texts = texts.filter(_mask(plain.kind == NO_TIME))
    whole, part = _tried(open_texts)
    if not whole:
        return TimeFit(iso, count, together=_together(part, len(open_texts)))
    names = tuple(whole)
    differing = _differing(open_texts, whole)
    chosen = read_times(whole[names[0]])
    kind, wall = np.concatenate([chosen.kind, plain.kind[plain.kind != NO_TIME]]), np.concatenate(
        [chosen.wall, plain.wall[plain.kind != NO_TIME]]
    )  # fmt: skip
    return TimeFit(iso, count, names, bool(differing), (), differing, **_spread(kind == DATE, wall))


def _tried(texts: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the formats that read every text, with what they make of it, and those that read some, with which."""
    whole: dict[str, Any] = {}
    part: dict[str, Any] = {}
    first = texts.take(_mask(np.unique(np.linspace(0, len(texts) - 1, _FIRST).astype(np.int64))))
    later = []
    done = np.zeros(len(texts), np.bool_)
    for form in FORMATS:
        if not read_format(first, parse_format(form))[1].any():
            later.append(form)
            continue
        found, read = read_format(texts, parse_format(form))
        done |= read
        if read.all():
            whole[form] = found
        elif read.any():
            part[form] = read
    rest = np.flatnonzero(~done)
    if len(rest) and done.any():
        # A format that none of the first texts has can only be one of several.
        for form in later:
            _, read_rest = read_format(texts.take(_mask(rest)), parse_format(form))
            if read_rest.any():
                part[form] = np.isin(np.arange(len(texts)), rest[read_rest])
    return whole, part


def _mask(chosen: Any) -> Any:
    import pyarrow as pa

    return pa.array(chosen)


def _some_dates(texts: Any) -> bool:
    """Whether some of the texts have the look of a date; most columns of a table have not."""
    look = matching(
        texts.slice(0, 2_000), r"\s*[0-9A-Za-z]{1,9}[-/. ]?[0-9A-Za-z]{1,9}[-/., ]{0,2}[0-9]{2,4}(?:[ T].*)?"
    )
    return bool(look.any())


def _spread(dates: Any, wall: Any) -> dict[str, Any]:
    clock = wall[~dates] % MICROSECONDS_PER_DAY
    return {
        "dates": bool(dates.all()),
        "clock_times": len(np.unique(clock)),
        "midnight": bool(len(clock)) and not clock.any(),
        "days": len(np.unique(wall // MICROSECONDS_PER_DAY)),
    }


def _differing(texts: Any, whole: dict[str, Any]) -> tuple[str, ...]:
    """Return a text with two of its readings, where two formats that read everything differ."""
    import pyarrow.compute as pc

    names = list(whole)
    for other in names[1:]:
        unlike = np.asarray(pc.not_equal(whole[names[0]], whole[other]).to_numpy(zero_copy_only=False), np.bool_)
        if unlike.any():
            at = int(np.flatnonzero(unlike)[0])
            return texts[at].as_py(), whole[names[0]][at].as_py(), whole[other][at].as_py()
    return ()


def _together(part: dict[str, Any], count: int) -> tuple[str, ...]:
    """Return formats that read every text together, the fewest first; empty where they do not."""
    chosen: list[str] = []
    done = np.zeros(count, np.bool_)
    while not done.all():
        best = max(part, key=lambda form: int((part[form] & ~done).sum()), default="")
        if not best or not (part[best] & ~done).any() or len(chosen) == 3:
            return ()
        chosen.append(best)
        done = done | part[best]
    return tuple(chosen)


def clock_times(texts: Any) -> bool:
    """Whether every text is a time of day without a date: ``10:20``, ``1:05 PM``, ``0930``."""
    count = len(texts)
    if not count:
        return False
    clocks = matching(texts, rf"\s*(?:{_CLOCK}|{_MILITARY})\s*")
    return bool(clocks.all()) and any(re.search(r":|^0", text.strip()) for text in texts.slice(0, 50).to_pylist())

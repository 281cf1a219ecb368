"""How numbers, times and foreign texts are written for a person or a file."""

from __future__ import annotations

import datetime as dt
import functools
import math
import re
import unicodedata
import zoneinfo

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Sense
from vaporqa.outcomes import Standing
from vaporqa.quantities.units import parse_limit

#: What stands in a sentence where a fact is not known.
NOT_RECORDED = "not recorded"

#: Canonical units of measures, for numbers that were held against no limit.
DIMENSION_UNITS = {
    "ratio": "", "percent": "%", "length": "m", "volume": "mL", "flow": "mL/min", "pressure": "kPa", "duration": "s",
    "temperature": "degC", "amount": "ppbv", "count": "", "words": "",
}  # fmt: skip

#: A mark a standing, so that colour is never the only sign.
STANDING_MARKS = {
    Standing.USABLE: "●", Standing.ESTIMATED: "◐", Standing.UNPROVEN: "?", Standing.REJECTED: "✕",
}  # fmt: skip
STANDING_MEANINGS = {
    Standing.USABLE: "can be used as reported",
    Standing.ESTIMATED: "can be used as an estimate, in the direction the qualifier states",
    Standing.UNPROVEN: "cannot be relied on until the missing evidence is supplied",
    Standing.REJECTED: "cannot be used for any purpose",
}
QUALIFIER_MEANINGS = (
    ("(empty)", "Detected; no finding changes it."),
    ("U", "Not detected; it stands at the limit that is given."),
    ("UJ", "Not detected, and the limit at which it was not detected is an estimate."),
    ("J", "Detected; the number is an estimate and the direction of its error is not known."),
    ("J+", "Detected; the number is an estimate that is probably too high."),
    ("J-", "Detected; the number is an estimate that is probably too low."),
    ("NJ", "Tentatively identified; identity and number are both estimates."),
    ("R", "Rejected; whether the analyte is there or not cannot be said from this result."),
)
BACKING_MEANINGS = (
    ("verified", "read in the issuing body's own text"),
    ("secondary", "read in a second document that applies it"),
    ("practice", "common practice with no published source"),
    ("derived", "our own arithmetic or logic"),
    ("memory", "from memory and not verified: check it before relying on it"),
)

_PLAIN = re.compile(r"\s*[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?\s*")
#: Texts that a spreadsheet may run; the wide forms stand for the same signs in some input languages.
_RUNS = tuple("=+-@\t\r\n＝＋－＠")


def defused(text: str) -> str:
    """Return `text` so that no spreadsheet takes it for a formula; a plain number stays as it is.

    Examples
    --------
    >>> defused("=1+1")
    "'=1+1"
    >>> defused("-0.5")
    '-0.5'
    """
    if text.startswith(_RUNS) and not _PLAIN.fullmatch(text):
        return "'" + text
    return text


@functools.lru_cache(maxsize=65536)
def visible(text: str, at_most: int = 120) -> str:
    r"""Return foreign text on one line and without anything that steers a screen or turns the reading direction.

    Examples
    --------
    >>> visible("a\x1b[31mb")
    'a\\x1b[31mb'
    """
    if text.isascii() and text.isprintable():
        out = text
    else:
        out = "".join(letter if _shows(letter) else _escaped(letter) for letter in text[: 4 * at_most])
    return out if len(out) <= at_most else out[: at_most - 3] + "..."


def _shows(letter: str) -> bool:
    return unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def _escaped(letter: str) -> str:
    return {"\n": "\\n", "\r": "\\r", "\t": "\\t"}.get(letter) or (
        f"\\x{ord(letter):02x}" if ord(letter) < 256 else f"\\u{ord(letter):04x}"
    )


def figure(value: float, significant: int = 3) -> str:
    """Return a number as a person writes it: `significant` digits, thousands apart, no exponent where it can be helped.

    Examples
    --------
    >>> figure(0.05049), figure(12345.6), figure(30.0)
    ('0.0505', '12,346', '30')
    """
    if math.isnan(value):
        return NOT_RECORDED
    if math.isinf(value):
        return "no finite number"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if size >= 15 or size < -7:
        return f"{value:.{significant - 1}e}"
    text = f"{value:,.{max(significant - 1 - size, 0)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def ends_of(limit: Limit) -> tuple[float, ...]:
    """Return the numbers of a limit in its own unit: two for a range, none for words."""
    if limit.sense is Sense.IS or math.isnan(limit.number):
        return ()
    if limit.sense is Sense.BETWEEN:
        upper = limit.written.rpartition(" and ")[2]
        try:
            return (limit.number, parse_limit(upper)[0])
        except ValueError:
            return (limit.number, limit.upper)
    if limit.sense is Sense.WITHIN:
        return (-limit.number, limit.number)
    return (limit.number,)


def nearest_end(value: float, limit: Limit) -> float:
    """Return the end of the limit that `value` passed: the nearer one; nan where the limit has no number."""
    ends = ends_of(limit)
    if not ends:
        return math.nan
    return abs(limit.number) if limit.sense is Sense.WITHIN else min(ends, key=lambda end: abs(end - value))


def measured_text(value: float, limit: Limit) -> str:
    """Return a measured number in the limit's unit, with as many digits as tell it from the limit."""
    if math.isnan(value):
        return NOT_RECORDED
    text = figure(value)
    for end in ends_of(limit):
        if abs(value - end) <= RELATIVE_TOLERANCE * max(abs(value), abs(end)):
            continue
        digits = 3
        while digits < 12 and _number(text) == end:
            digits += 1
            text = figure(value, digits)
    return with_unit(text, limit.unit)


def _number(text: str) -> float:
    try:
        return float(text.replace(",", ""))
    except ValueError:
        return math.nan


def with_unit(text: str, unit: str) -> str:
    """Return number and unit, one blank between."""
    return f"{text} {unit}" if unit and text != NOT_RECORDED else text


def plain_number(value: float) -> str:
    """Return a number as a file holds it: shortest form that reads back the same to 12 digits; empty for nan."""
    if math.isnan(value):
        return ""
    text = f"{value:.12g}"
    return "0" if text == "-0" else text


class Clock:
    """Writes instants in the zone in which a person wants to read them."""

    def __init__(self, zone: str) -> None:
        self._known = bool(zone)
        self._zone: dt.tzinfo = zoneinfo.ZoneInfo(zone) if zone else dt.UTC
        self._made: dict[tuple[int, bool], str] = {}

    def written(self, microseconds: int, date_only: bool) -> str:
        """Return an instant (microseconds UTC) to the minute, or the date where only that is known."""
        asked = (microseconds, date_only)
        if asked not in self._made:
            self._made[asked] = self._write(microseconds, date_only)
        return self._made[asked]

    def _write(self, microseconds: int, date_only: bool) -> str:
        if microseconds == 0:
            return NOT_RECORDED
        try:
            utc = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=microseconds)
            moment = utc.astimezone(self._zone)
        except OverflowError:
            return NOT_RECORDED
        if date_only:
            return f"{moment:%Y-%m-%d}"
        seconds = ":%S" if moment.second else ""
        return moment.strftime(f"%Y-%m-%d %H:%M{seconds}") + ("" if self._known else " UTC")

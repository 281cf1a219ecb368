"""Times in declared formats, turned into ISO 8601 a distinct text at a time.

Formats are those of C and Python (``%m/%d/%Y %H:%M``), read here and not by the platform: its own reader takes
``6/3/25`` for the year 25 where four digits are declared, and knows the month names of the machine's language.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from vaporqa.intake.times import NO_TIME, read_times
from vaporqa.tables.values import Bool, Int64, Texts

_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip
_NUMERIC = {"Y": 4, "y": 2, "m": 2, "d": 2, "H": 2, "I": 2, "M": 2, "S": 2, "f": 6}
_NAMES = "|".join(f"{name[:3]}(?:{name[3:]})?" if len(name) > 3 else name for name in _MONTHS) + "|sept"
_TEXTUAL = {
    "b": ("b", rf"(?i:{_NAMES})\.?"),
    "B": ("b", rf"(?i:{_NAMES})\.?"),
    "p": ("p", r"[AaPp]\.?[Mm]\.?"),
    "z": ("z", r"Z|[+-][0-9]{2}:?[0-9]{2}"),
    "a": ("", r"[A-Za-z]+\.?"),
    "A": ("", r"[A-Za-z]+"),
}
_SHORT = {"T": "%H:%M:%S", "R": "%H:%M", "F": "%Y-%m-%d", "D": "%m/%d/%y", "e": "%d"}
_KNOWN = "%Y %y %m %b %d %H %I %M %S %f %p %z %a"


@dataclass(frozen=True, slots=True)
class TimeFormat:
    """One declared format: its text, its pattern with named groups, and the directives that it has."""

    text: str
    pattern: str
    has: frozenset[str]

    @property
    def is_date(self) -> bool:
        """It names a day and no time."""
        return not self.has & {"H", "I"}


@lru_cache(maxsize=256)
def parse_format(text: str) -> TimeFormat:
    """Return a declared format.

    Raises
    ------
    ValueError
        It holds a directive that is not known, or names one part twice.
    """
    spelled = re.sub(r"%-?([A-Za-z])", lambda match: _SHORT.get(match[1], f"%{match[1]}"), text.strip())
    parts = re.findall(r"%.|\s+|[^%\s]+|%$", spelled)
    pattern = ""
    has: set[str] = set()
    for at, part in enumerate(parts):
        if part.isspace():
            pattern += r"\s+"
        elif not part.startswith("%"):
            pattern += re.escape(part)
        elif part == "%%":
            pattern += "%"
        else:
            letter = part[1:]
            beside = [parts[place][1:] for place in (at - 1, at + 1) if 0 <= place < len(parts)
                      and parts[place].startswith("%")]  # fmt: skip
            group, body = _directive(letter, fixed=any(other in _NUMERIC for other in beside))
            if group in has:
                raise ValueError(f"names one part twice (%{letter})")
            if group:
                has.add(group)
                pattern += f"(?P<{group}>{body})"
            else:
                pattern += f"(?:{body})"
    return TimeFormat(text, pattern, frozenset(has))


def _directive(letter: str, *, fixed: bool) -> tuple[str, str]:
    if letter in _TEXTUAL:
        return _TEXTUAL[letter]
    if letter not in _NUMERIC:
        raise ValueError(f"holds %{letter}, which is not known")
    if letter in ("Y", "y"):
        return letter, f"[0-9]{{{_NUMERIC[letter]}}}"
    if letter == "f":
        return letter, "[0-9]{1,6}"
    # Digits that run into each other are two each, or 1112025 would be read in two ways.
    return letter, "[0-9]{2}" if fixed else "[0-9]{1,2}"


def format_fault(text: str) -> tuple[str, str] | None:
    """Return what is wrong with a format, and how to mend it; None where it is right.

    Examples
    --------
    >>> format_fault("%m/%d/%Y"), format_fault("%d %M %Y")
    (None, ('names no month', 'write %m or %b'))
    """
    try:
        has = parse_format(text).has
    except ValueError as error:
        return str(error), f"known are {_KNOWN}"
    for letters, words in (({"Y", "y"}, ("year", "%Y or %y")), ({"m", "b"}, ("month", "%m or %b")),
                           ({"d"}, ("day", "%d"))):  # fmt: skip
        if not has & letters:
            return f"names no {words[0]}", f"write {words[1]}"
        if has >= letters and len(letters) > 1:
            return f"names the {words[0]} twice", f"write {words[1]}"
    if "I" in has and "p" not in has:
        return "has an hour of twelve (%I) without %p", "write %H, or add %p"
    if "p" in has and "I" not in has:
        return "has %p without an hour of twelve", "write %I for the hour"
    if has & {"M", "S", "f"} and not has & {"H", "I"}:
        return "has minutes or seconds without an hour", "add %H"
    return None


def read_format(texts: Any, form: TimeFormat) -> tuple[Any, Bool]:
    """Read distinct texts (a pyarrow string array of k) in one format.

    Returns
    -------
    iso : pyarrow.StringArray (k,)
        ISO 8601 where the format reads the text, null elsewhere.
    read : bool (k,)
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    found = pc.extract_regex(texts, pattern=rf"\A\s*{form.pattern}\s*\z")
    read = np.asarray(pc.is_valid(found).to_numpy(zero_copy_only=False), np.bool_)
    if not read.any():
        return pa.nulls(len(texts), pa.string()), read
    at = np.flatnonzero(read)
    chosen = found.take(pa.array(at))
    day, right = _days(chosen, form)
    second, right_time = _seconds(chosen, form)
    right &= right_time
    wall = day.astype("datetime64[D]").astype("datetime64[us]").astype(np.int64) + second
    if form.is_date:
        iso = pa.array(day.astype(np.int32), pa.int32()).cast(pa.date32()).cast(pa.string())
    else:
        unit = "us" if "f" in form.has else "s"
        number = wall if unit == "us" else wall // 1_000_000
        iso = pa.array(number, pa.int64()).cast(pa.timestamp(unit)).cast(pa.string())
        if "z" in form.has:
            iso = pc.binary_join_element_wise(iso, pc.struct_field(chosen, "z"), "")
    read[at[~right]] = False
    places = np.full(len(texts), -1)
    places[at[right]] = np.flatnonzero(right)
    return iso.take(pa.array(places, mask=places < 0)), read


def _numbers(chosen: Any, name: str) -> Int64:
    import pyarrow as pa
    import pyarrow.compute as pc

    return np.asarray(pc.struct_field(chosen, name).cast(pa.int64()).to_numpy(zero_copy_only=False), np.int64)


def _days(chosen: Any, form: TimeFormat) -> tuple[Int64, Bool]:
    """Return days since 1970-01-01 and which of them the calendar has."""
    import pyarrow.compute as pc

    if "Y" in form.has:
        year = _numbers(chosen, "Y")
    else:
        # As POSIX has it: 69 to 99 are of the last century, 00 to 68 of this one.
        short = _numbers(chosen, "y")
        year = np.where(short >= 69, 1900, 2000) + short
    if "m" in form.has:
        month = _numbers(chosen, "m")
    else:
        names = pc.utf8_lower(pc.utf8_slice_codeunits(pc.struct_field(chosen, "b"), 0, 3)).dictionary_encode()
        numbers = np.array([[name[:3] for name in _MONTHS].index(name) + 1 for name in names.dictionary.to_pylist()])
        month = numbers[names.indices.to_numpy()]
    day = _numbers(chosen, "d")
    right = (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31) & (year >= 1)
    months = (year - 1970) * 12 + np.where(right, month, 1) - 1
    first = months.astype("datetime64[M]")
    days = first.astype("datetime64[D]").astype(np.int64) + np.where(right, day, 1) - 1
    right &= days.astype("datetime64[D]").astype("datetime64[M]") == first
    return np.where(right, days, 0), right


def _seconds(chosen: Any, form: TimeFormat) -> tuple[Int64, Bool]:
    """Return microseconds since midnight and which of them a clock shows."""
    import pyarrow.compute as pc

    n = len(chosen)
    none = np.zeros(n, np.int64)
    hour = _numbers(chosen, "H") if "H" in form.has else _numbers(chosen, "I") if "I" in form.has else none
    right = hour < 24
    if "I" in form.has:
        right &= (hour >= 1) & (hour <= 12)
        after_noon = np.asarray(
            pc.starts_with(pc.utf8_lower(pc.struct_field(chosen, "p")), "p").to_numpy(zero_copy_only=False), np.bool_
        )
        hour = hour % 12 + np.where(after_noon, 12, 0)
    minute = _numbers(chosen, "M") if "M" in form.has else none
    second = _numbers(chosen, "S") if "S" in form.has else none
    right &= (minute < 60) & (second < 60)
    fraction = none
    if "f" in form.has:
        digits = pc.utf8_rpad(pc.struct_field(chosen, "f"), 6, "0").cast("int64")
        fraction = np.asarray(digits.to_numpy(zero_copy_only=False), np.int64)
    return ((hour * 60 + minute) * 60 + second) * 1_000_000 + fraction, right


@dataclass(frozen=True, slots=True)
class DeclaredTimes:
    """Distinct texts with their declared formats and zones resolved, (k,).

    Attributes
    ----------
    texts : pyarrow.StringArray (k,)
        ISO where a format or a zone was read; the text itself elsewhere; ``A or B`` where two formats differ.
    by_format : tuple of bool arrays (k,)
        Which texts each format reads.
    zoned : bool (k,)
        A declared zone stood at the end.
    plain : bool (k,)
        No format reads the text, and it is ISO itself.
    """

    texts: Any
    by_format: tuple[Bool, ...]
    zoned: Bool
    plain: Bool


def read_declared(texts: Any, formats: Sequence[str], zones: Mapping[str, str]) -> DeclaredTimes:
    """Resolve the declared formats and zones of distinct texts (a pyarrow string array of k)."""
    import pyarrow as pa
    import pyarrow.compute as pc

    texts = texts.cast(pa.string())
    offsets, bases = _zones(texts, zones)
    zoned = np.asarray(pc.is_valid(offsets).to_numpy(zero_copy_only=False), np.bool_)
    iso: Any = pa.nulls(len(texts), pa.string())
    by_format = []
    for text in formats:
        found, read = read_format(bases, parse_format(text))
        both = pc.and_(pc.is_valid(iso), pc.is_valid(found))
        differ = pc.fill_null(pc.and_(both, pc.not_equal(iso, found)), False)
        iso = pc.if_else(differ, pc.binary_join_element_wise(iso, found, " or "), pc.coalesce(iso, found))
        by_format.append(read)
    any_format = np.logical_or.reduce(by_format) if by_format else np.zeros(len(texts), np.bool_)
    resolved = pc.coalesce(iso, bases)
    plain = ~any_format & ~read_times(resolved).wrong
    if zoned.any():
        resolved = _with_offsets(resolved, offsets, texts)
    return DeclaredTimes(resolved, tuple(by_format), zoned, plain)


def _zones(texts: Any, zones: Mapping[str, str]) -> tuple[Any, Any]:
    """Return the offset of each text that ends in a declared zone (else null), and the texts without it."""
    import pyarrow as pa
    import pyarrow.compute as pc

    if not zones:
        return pa.nulls(len(texts), pa.string()), texts
    names = "|".join(re.escape(name) for name in sorted(zones, key=len, reverse=True))
    found = pc.extract_regex(texts, pattern=rf"\A\s*(?P<base>.*\S)\s+(?P<zone>{names})\s*\z")
    ends = pc.is_valid(found)
    coded = pc.struct_field(found, "zone").dictionary_encode()
    of = pa.array([zones.get(name, "") for name in coded.dictionary.to_pylist()], pa.string())
    offsets = pc.if_else(ends, of.take(coded.indices), pa.scalar(None, pa.string()))
    return offsets, pc.if_else(ends, pc.struct_field(found, "base"), texts)


def _with_offsets(resolved: Any, offsets: Any, texts: Any) -> Any:
    """Return times with their declared offset: a date keeps none, and what is no local time stays as written."""
    import pyarrow as pa
    import pyarrow.compute as pc

    joined = pc.binary_join_element_wise(resolved, offsets, "")
    kinds = read_times(resolved).kind
    placed = read_times(pc.fill_null(joined, "")).kind
    is_date = pa.array((kinds != NO_TIME) & (placed == NO_TIME))
    given = pc.is_valid(offsets)
    both = pc.if_else(is_date, resolved, joined)
    unread = pa.array((kinds == NO_TIME) & (placed == NO_TIME))
    return pc.if_else(given, pc.if_else(unread, texts, both), resolved)


def first_examples(texts: Any, chosen: Bool, at_most: int = 3) -> Texts:
    """Return the first few of the chosen texts, in the order of their code points."""
    import pyarrow as pa

    found: Texts = np.asarray(texts.filter(pa.array(chosen)).to_numpy(zero_copy_only=False), dtype=object)
    return np.sort(found)[:at_most]

"""Limits as values: a number with its unit becomes canonical by the dimension of what it is held against."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from math import nan
from types import MappingProxyType

from vaporqa.criteria import Backing, Limit, Option, Sense, Source
from vaporqa.quantities.units import BY_VOLUME, parse_limit, parse_number_with_unit
from vaporqa.rulebook.fields import NUMBER
from vaporqa.rulebook.models import BoundShape, SourceShape

#: Dimensions whose numbers need no unit, and the units that they may carry all the same.
_BARE = MappingProxyType({"ratio": ("", "%", "x"), "percent": ("", "%")})
_PHRASES = MappingProxyType(
    {
        Sense.AT_MOST: "at most",
        Sense.AT_LEAST: "at least",
        Sense.UNDER: "under",
        Sense.OVER: "over",
        Sense.WITHIN: "within",
    }
)
NO_CASE: Mapping[str, Option] = MappingProxyType({})


def read_in(text: str, dimension: str) -> tuple[float, float, str]:
    """Return a number in the canonical unit of `dimension`, the number as written, and the symbol of its unit.

    Parameters
    ----------
    text : str
        ``5 %``, ``30 d``, ``10``.
    dimension : str
        A dimension of a measure (see `MeasureSpec`); empty counts as `count`.

    Raises
    ------
    ValueError
        The text is no number, or its unit does not fit the dimension; the message says what would.

    Examples
    --------
    >>> read_in("5 %", "ratio")
    (0.05, 5.0, '%')
    >>> read_in("2 h", "duration")
    (7200.0, 2.0, 'h')
    """
    if dimension == "words":
        raise ValueError(f"'{text}' is a number, and words are wanted; write is: [...]")
    if dimension in ("", "count"):
        number, unit = parse_limit(text)
        if unit and not unit.replace("_", "").replace(" ", "").isalpha():
            raise ValueError(f"'{text}' has the unit '{unit}', and a plain count is wanted; write {number:g}")
        return number, number, unit
    if dimension in _BARE:
        number, unit = parse_limit(text)
        if unit not in _BARE[dimension]:
            raise ValueError(
                f"'{text}' has the unit '{unit}', and a {dimension} is wanted; write it in %"
                + (" or as a plain factor" if dimension == "ratio" else "")
            )
        return (number / 100 if dimension == "ratio" and unit == "%" else number), number, unit
    number, known = parse_number_with_unit(text, dimension)
    if dimension == "amount" and known.family != BY_VOLUME:
        raise ValueError(f"'{text}' is no concentration by volume; write it in ppbv, ppmv or %v")
    return float(known.to_canonical(number)), number, known.symbol  # `30 days` is 30 d: checks know the symbol


def limit_from(
    shape: BoundShape, name: str, dimension: str, *, measure: str = "", when: Mapping[str, Option] = NO_CASE,
    profile: str = "baseline",
) -> Limit:  # fmt: skip
    """Return the limit that a shape states.

    Parameters
    ----------
    shape : BoundShape
    name : str
        Its name inside the rule.
    dimension : str
        Of the quantity it is held against.
    measure : str
        The quantity, where it is not the rule's own.
    when : mapping
        The case it is for.
    profile : str
        Which profile states it.

    Raises
    ------
    ValueError
        The number does not fit the dimension.
    """
    sense = shape.sense
    source, backing = source_from(shape.source), Backing(shape.backing)
    stated = shape.stated(sense)
    if sense is Sense.IS:
        words = tuple(stated or ())
        if dimension not in ("words", "") and all(NUMBER.fullmatch(word) for word in words):
            raise ValueError("a number stands under 'is'; write at_most, at_least or between")
        written = words[0] if len(words) == 1 else "one of " + ", ".join(words)
        return Limit(
            name, sense, nan, "", written, source, backing, words=words, when=when, profile=profile, measure=measure
        )
    if sense is Sense.BETWEEN:
        low_text, high_text = list(stated or ())
        value, number, unit = read_in(low_text, dimension)
        upper = read_in(high_text, dimension)[0]
        if upper < value:
            raise ValueError(f"'{low_text}' is more than '{high_text}'; write the lower end first")
        written = f"between {low_text} and {high_text}"
        last_digit, digits = _last_digit((low_text, high_text), dimension)
    else:
        text = str(stated)
        value, number, unit = read_in(text, dimension)
        upper = nan
        if sense is Sense.WITHIN and value < 0:
            raise ValueError(f"'{text}' is negative; `within` counts to both sides of nought")
        written = f"{_PHRASES[sense]} {text}"
        last_digit, digits = _last_digit((text,), dimension)
    return Limit(
        name, sense, value, unit, written, source, backing,
        upper=upper, when=when, profile=profile, number=number, measure=measure, last_digit=last_digit, digits=digits,
    )  # fmt: skip


def _last_digit(texts: tuple[str, ...], dimension: str) -> tuple[float, int]:
    """Return what the last digit of a number as written is worth, canonical, and the number counted in such digits.

    Zeros that end a whole number count as digits (50 is written to the unit). Of the two ends of a range the finer one
    decides. Counts and plain factors are no measured numbers: theirs is nought.
    """
    first = texts[0].strip()
    number = NUMBER.match(first)
    if number is None or dimension in ("", "count", "words"):
        return 0.0, 0
    unit = first[number.end() :]
    if dimension == "ratio" and unit.strip() != "%":
        return 0.0, 0
    ends = [Decimal(end[0]) for end in (NUMBER.match(text.strip()) for text in texts) if end is not None]
    place = min(0, *(int(end.as_tuple().exponent) for end in ends))
    one = Decimal(1).scaleb(place)
    above = read_in(f"{ends[0] + one:f}{unit}", dimension)[0]
    return above - read_in(first, dimension)[0], int(ends[0] / one)


def source_from(shape: SourceShape) -> Source:
    """Return the source that a shape states."""
    return Source(shape.document, shape.publisher, shape.year, shape.place, shape.reasoning)

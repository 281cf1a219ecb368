"""The written list of unit spellings, and what each unit is worth in the canonical unit of its dimension.

Free text is never parsed as a unit: a spelling stands in the list or it is unknown. Blanks, letter case and the
typographic forms of micro, degree and cubed are folded only where nothing else could be meant.

Canonical units: length m, volume mL, flow mL/min, pressure kPa, duration s, temperature degC, angle deg, percent %.
Amounts have four families that cannot be compared by number alone: by volume ppbv, by mass in gas or water ug/m3,
in solids ug/kg, and bare mass ug.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

from vaporqa.errors import nearest
from vaporqa.quantities.constants import (
    ATMOSPHERE,
    FOOT,
    GRAVITY,
    ICE_POINT,
    INCH,
    MERCURY,
    METHANE_LEL,
    POUND,
    WATER,
)

if TYPE_CHECKING:  # rule files are listed without numpy
    import numpy as np
    import numpy.typing as npt

#: Families of amounts: what can be compared by number without a molar mass. Canonical unit behind each.
NO_FAMILY, BY_VOLUME, BY_MASS, IN_SOLID, MASS_ONLY = 0, 1, 2, 3, 4
FAMILY_UNITS = ("", "ppbv", "ug/m3", "ug/kg", "ug")

#: Dimension to its canonical unit; amounts have one a family instead.
CANONICAL = MappingProxyType(
    {
        "length": "m",
        "volume": "mL",
        "flow": "mL/min",
        "pressure": "kPa",
        "duration": "s",
        "temperature": "degC",
        "angle": "deg",
        "percent": "%",
    }
)
DIMENSIONS = (*CANONICAL, "amount")

Value = TypeVar("Value", float, "npt.NDArray[np.float64]")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``canonical = number * factor + offset``.

    Attributes
    ----------
    symbol : str
        The spelling that vaporqa itself writes.
    dimension : str
        One of `DIMENSIONS`.
    factor, offset : float
        To the canonical unit of the dimension (of the family, for an amount). Only temperatures have an offset.
    family : int
        For amounts; `NO_FAMILY` otherwise.
    only_for : str
        CAS number of the one substance that the unit has a meaning for (``%LEL``); empty for all.
    """

    symbol: str
    dimension: str
    factor: float
    offset: float = 0.0
    family: int = NO_FAMILY
    only_for: str = ""

    def to_canonical(self, number: Value) -> Value:
        """Return `number` of this unit in the canonical unit; float or array of any shape."""
        return number * self.factor + self.offset

    def from_canonical(self, number: Value) -> Value:
        """Return the canonical `number` in this unit; float or array of any shape."""
        return (number - self.offset) / self.factor

    def __str__(self) -> str:
        return self.symbol


_INCH, _FOOT = INCH.value, FOOT.value
#: kPa a metre of column, in conventional fluids.
_MERCURY = MERCURY.value * GRAVITY.value / 1e3
_WATER = WATER.value * GRAVITY.value / 1e3
_PSI = POUND.value * GRAVITY.value / _INCH**2 / 1e3
_PER_CENT = 1e7  # ppbv: a hundredth of 1e9

#: A blank in a spelling may be left out by the writer. Units whose name is one letter are read in that case only.
_LIST: tuple[tuple[Unit, str], ...] = (
    (Unit("m", "length", 1.0), "meter|meters|metre|metres"),
    (Unit("cm", "length", 0.01), "centimeter|centimeters|centimetre|centimetres"),
    (Unit("mm", "length", 0.001), "millimeter|millimeters|millimetre|millimetres"),
    (Unit("ft", "length", _FOOT), "ft.|foot|feet"),
    (Unit("in", "length", _INCH), "in.|inch|inches"),
    (Unit("mL", "volume", 1.0), "milliliter|milliliters|millilitre|millilitres|cc|cm3|cm^3|cu cm"),
    (Unit("L", "volume", 1e3), "l|liter|liters|litre|litres"),
    (Unit("m3", "volume", 1e6), "m^3|cu m|cubic meter|cubic meters|cubic metre|cubic metres"),
    (Unit("ft3", "volume", _FOOT**3 * 1e6), "ft^3|cu ft|cf|cubic foot|cubic feet"),
    (Unit("in3", "volume", _INCH**3 * 1e6), "in^3|cu in|cubic inch|cubic inches"),
    (Unit("mL/min", "flow", 1.0), "mL per min|mL min-1|mL/minute|cc/min|cc/minute|cc per min|ccm|cm3/min"),
    (Unit("L/min", "flow", 1e3), "L per min|L min-1|L/minute|lpm|l.p.m."),
    (Unit("L/h", "flow", 1e3 / 60), "L/hr|L per h|L per hour|L/hour"),
    (Unit("ft3/min", "flow", _FOOT**3 * 1e6), "cfm|ft^3/min|cu ft/min"),
    (Unit("kPa", "pressure", 1.0), "kilopascal|kilopascals"),
    (Unit("Pa", "pressure", 1e-3), "pascal|pascals"),
    (Unit("hPa", "pressure", 0.1), "hectopascal|hectopascals"),
    (Unit("mbar", "pressure", 0.1), "millibar|millibars"),
    (Unit("bar", "pressure", 100.0), "bars"),
    (Unit("atm", "pressure", ATMOSPHERE.value), "atmosphere|atmospheres"),
    (Unit("psi", "pressure", _PSI), "lbf/in2|lbf/in^2|lb/in2|lb/in^2|p.s.i."),
    (Unit("inHg", "pressure", _INCH * _MERCURY), 'in Hg|in. Hg|in-Hg|inch Hg|inches Hg|inches of mercury|" Hg'),
    (Unit("mmHg", "pressure", 1e-3 * _MERCURY), "mm Hg|mm-Hg|millimeters of mercury|millimetres of mercury"),
    (Unit("torr", "pressure", ATMOSPHERE.value / 760), ""),
    (
        Unit("inH2O", "pressure", _INCH * _WATER),
        'in H2O|in. H2O|in-H2O|inch H2O|inches H2O|inches of water|" H2O|in wc|in. wc|in w.c.|in wg|in. wg|" wc|iwc',
    ),
    (Unit("mmH2O", "pressure", 1e-3 * _WATER), "mm H2O|mm wc"),
    (Unit("cmH2O", "pressure", 1e-2 * _WATER), "cm H2O|cm wc"),
    (Unit("s", "duration", 1.0), "sec|secs|second|seconds"),
    (Unit("min", "duration", 60.0), "mins|min.|minute|minutes"),
    (Unit("h", "duration", 3600.0), "hr|hrs|hr.|hour|hours"),
    (Unit("d", "duration", 86400.0), "day|days"),
    (Unit("degC", "temperature", 1.0), "deg C|deg. C|°C|° C|C|celsius|degrees C|degrees celsius"),
    (Unit("degF", "temperature", 5 / 9, -160 / 9), "deg F|deg. F|°F|° F|F|fahrenheit|degrees F|degrees fahrenheit"),
    (Unit("K", "temperature", 1.0, -ICE_POINT.value), "kelvin|kelvins"),
    (Unit("deg", "angle", 1.0), "degree|degrees|decimal degree|decimal degrees|°"),
    (Unit("pptv", "amount", 1e-3, family=BY_VOLUME), "ppt v|ppt-v|ppt(v)|ppt (v)|ppt v/v|ppt by volume|pmol/mol"),
    (Unit("ppbv", "amount", 1.0, family=BY_VOLUME), "ppb v|ppb-v|ppb(v)|ppb (v)|ppb v/v|ppb by volume|nmol/mol"),
    (Unit("ppmv", "amount", 1e3, family=BY_VOLUME), "ppm v|ppm-v|ppm(v)|ppm (v)|ppm v/v|ppm by volume|umol/mol"),
    (
        Unit("%v", "amount", _PER_CENT, family=BY_VOLUME),
        "%|% v|% V|% v/v|% (v/v)|% (v)|% vol|% vol.|% by volume|vol %|vol. %|volume %|percent|pct|mol %|mole %",
    ),
    (
        Unit("%LEL", "amount", METHANE_LEL.value / 100 * _PER_CENT, family=BY_VOLUME, only_for="74-82-8"),
        "% LEL|LEL %|% of LEL|% of the LEL|percent LEL|percent of LEL",
    ),
    (Unit("ng/m3", "amount", 1e-3, family=BY_MASS), "ng/m^3|ng/cu m|ng/cu.m|ng m-3|ng/cubic meter|pg/L"),
    (
        Unit("ug/m3", "amount", 1.0, family=BY_MASS),
        "ug/m^3|ug/cu m|ug/cu.m|ug m-3|ug/cubic meter|mcg/m3|mcg/m^3|ng/L",
    ),
    (Unit("mg/m3", "amount", 1e3, family=BY_MASS), "mg/m^3|mg/cu m|mg/cu.m|mg m-3|mg/cubic meter"),
    (Unit("ug/L", "amount", 1e3, family=BY_MASS), "ug L-1|ug/liter|ug/litre|mcg/L"),
    (Unit("mg/L", "amount", 1e6, family=BY_MASS), "mg L-1|mg/liter|mg/litre"),
    (Unit("ug/kg", "amount", 1.0, family=IN_SOLID), "ug kg-1|mcg/kg|ng/g"),
    (Unit("mg/kg", "amount", 1e3, family=IN_SOLID), "mg kg-1|ug/g"),
    (Unit("ng", "amount", 1e-3, family=MASS_ONLY), "nanogram|nanograms"),
    (Unit("ug", "amount", 1.0, family=MASS_ONLY), "mcg|microgram|micrograms"),
    (Unit("mg", "amount", 1e3, family=MASS_ONLY), "milligram|milligrams"),
)
#: A percentage of a ratio (a leak, a recovery, a difference); only where the reader says so.
PERCENT = Unit("%", "percent", 1.0)

#: Not units here, because they can be read in two ways; what the writer may have meant.
_AMBIGUOUS = MappingProxyType(
    {
        "ppb": ("ppbv", "ug/kg", "ug/L"),
        "ppm": ("ppmv", "mg/kg", "mg/L"),
        "ppt": ("pptv", "ng/m3"),
        '"': ("in", "inHg", "inH2O"),
        "'": ("ft",),
        "psig": ("psi",),
        "psia": ("psi",),
        "inches vacuum": ("inHg", "inH2O"),
        "lel": ("%LEL",),
    }
)

_MICRO = str.maketrans({"µ": "u", "μ": "u", "º": "°", "˚": "°", "″": '"', "”": '"', "“": '"'})
_LENGTH_LIMIT = 300
_NUMBER = re.compile(r"\s*([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*?)\s*", re.DOTALL)
_CAPITAL_MILLI = re.compile(r"(?:^|/)M(?:[gl]|m|bar)", re.IGNORECASE)


def _fold(text: str) -> str:
    """Fold typography and blanks, never letter case: micro and degree signs, superscripts, blanks around a slash."""
    text = unicodedata.normalize("NFKC", text.translate(_MICRO)).translate(_MICRO)
    text = " ".join(text.replace("''", '"').split())
    return re.sub(r"\s*([/·])\s*", r"\1", text).replace("·", " ")


def _read_list() -> tuple[dict[str, Unit], dict[str, Unit]]:
    exact: dict[str, Unit] = {}
    any_case: dict[str, Unit] = {}
    for unit, others in _LIST:
        for spelling in (unit.symbol, *filter(None, others.split("|"))):
            for form in (spelling, spelling.replace(" ", "")):
                if exact.setdefault(form, unit) is not unit:
                    raise ValueError(f"unit spelling {form!r} stands twice in the list")
                if sum(letter.isalpha() for letter in form) > 1 and any_case.setdefault(form.casefold(), unit) != unit:
                    raise ValueError(f"unit spelling {form!r} needs its letter case and cannot be folded")
    return exact, any_case


_EXACT, _ANY_CASE = _read_list()


def parse_unit(text: str, dimension: str | None = None) -> Unit | None:
    """Return the unit that `text` spells, or None where the written list does not have it.

    Parameters
    ----------
    text : str
        A spelling such as ``in. Hg``, ``µg/m³`` or ``ML/MIN``. Case is ignored where nothing else can be meant:
        one-letter units (``m``, ``L``, ``s``, ``K``) are read as written, and a capital M is never milli unless the
        whole spelling is in capitals and names more than a two-letter unit (``MG/L`` yes; ``Mg/L``, ``MG``, ``ML`` no).
    dimension : str, optional
        The dimension wanted; a unit of another one is then None. ``percent`` reads ``%`` as a percentage of a ratio
        instead of percent by volume.

    Examples
    --------
    >>> parse_unit("in. Hg").symbol
    'inHg'
    >>> parse_unit("ppb") is None
    True
    """
    folded = _fold(text)
    if dimension == "percent":
        return PERCENT if folded.casefold() in ("%", "percent", "pct") else None
    unit = _EXACT.get(folded)
    if unit is None:
        unit = _ANY_CASE.get(folded.casefold())
        capital_milli = any("M" in match for match in _CAPITAL_MILLI.findall(folded))
        if unit is not None and capital_milli and not (folded.isupper() and len(folded) > 2):
            unit = None
    if unit is not None and dimension is not None and unit.dimension != dimension:
        return None
    return unit


def spellings(dimension: str) -> list[str]:
    """Return every accepted spelling of `dimension`, the unit that vaporqa writes first among its variants."""
    if dimension == "percent":
        return ["%", "percent", "pct"]
    found: list[str] = []
    for unit, others in _LIST:
        if unit.dimension == dimension:
            found += [unit.symbol, *filter(None, others.split("|"))]
    return found


def symbols(dimension: str) -> list[str]:
    """Return the units of `dimension` as vaporqa writes them, without variants."""
    return ["%"] if dimension == "percent" else [unit.symbol for unit, _ in _LIST if unit.dimension == dimension]


def nearest_units(text: str, dimension: str | None = None, at_most: int = 3) -> list[str]:
    """Return the units (as vaporqa writes them) that `text` was probably meant to be, best first; may be empty."""
    wanted = _fold(text).casefold()
    found = [symbol for symbol in _AMBIGUOUS.get(wanted, ()) if dimension in (None, _EXACT[symbol].dimension)]
    if not found:
        known = [form for form, unit in _EXACT.items() if dimension in (None, unit.dimension)]
        found = [_EXACT[form].symbol for form in nearest(wanted, known, at_most=4 * at_most)]
    return list(dict.fromkeys(found))[:at_most]


def parse_limit(text: str) -> tuple[float, str]:
    """Split ``5 %`` into its number and the text of its unit, which is not interpreted.

    Returns
    -------
    number : float
    unit : str
        As written, blanks at the ends removed; empty for a plain number.

    Raises
    ------
    ValueError
        No plain decimal number stands at the start, or more than one does.

    Examples
    --------
    >>> parse_limit("5 %")
    (5.0, '%')
    """
    match = _NUMBER.fullmatch(text) if len(text) <= _LENGTH_LIMIT else None
    if match is None:
        raise ValueError(
            f"{text.strip()[:_LENGTH_LIMIT]!r} does not start with a number; write it before its unit, as in '30 min'"
        )
    number, unit = float(match[1]), match[2]
    if not math.isfinite(number):
        raise ValueError(f"{text.strip()!r} is not a finite number")
    if unit and unit[0] in "+-.,_0123456789":
        raise ValueError(
            f"{text.strip()!r} is not one number and a unit: {unit!r} follows {match[1]!r}; "
            "write a plain decimal number without thousands marks, fractions or ranges, such as '1000 ft'"
        )
    return number, unit


def parse_number_with_unit(text: str, dimension: str | None = None) -> tuple[float, Unit]:
    """Read a number with its unit, such as ``20 %v``, ``4100 ft`` or ``25 degC``.

    Parameters
    ----------
    text : str
    dimension : str, optional
        The dimension wanted; ``percent`` reads ``%`` as a percentage of a ratio.

    Returns
    -------
    number : float
        As written, in `unit`.
    unit : Unit

    Raises
    ------
    ValueError
        The text is not one number and one known unit (of `dimension`); the message offers the nearest units.
    """
    number, written = parse_limit(text)
    if not written:
        example = CANONICAL.get(dimension or "", "ppbv" if dimension == "amount" else "ft")
        raise ValueError(f"{text.strip()!r} has no unit; write one after the number, as in '{number:g} {example}'")
    unit = parse_unit(written, dimension)
    if unit is not None:
        return number, unit
    elsewhere = parse_unit(written)
    if elsewhere is not None:
        raise ValueError(
            f"{text.strip()!r}: {written!r} is a unit of {elsewhere.dimension}, and {dimension} is wanted; "
            f"write one of: {', '.join(symbols(dimension or ''))}"
        )
    near = nearest_units(written, dimension)
    offer = " or ".join(repr(symbol) for symbol in near)
    mend = f"did you mean {offer}?" if near else f"write one of: {', '.join(symbols(dimension or 'length'))}"
    raise ValueError(f"{text.strip()!r}: {written!r} is no unit that is known here; {mend}")

"""The shipped analyte list: CAS numbers, names, molar masses and classes.

The list itself is `analytes.csv` beside this file, read at the first question. A name that does not resolve is unknown:
nothing is matched by likeness. Spellings that could mean two substances (``DCE``, ``1,2-DCB``, ``hexanes``) are left
out on purpose; a project adds its own in its `analyte_names` table.

Molar masses are computed from the formula with the standard atomic weights of IUPAC, the last edition that gives single
values (Wieser and Berglund, Atomic weights of the elements 2007, Pure Appl. Chem. 81, 2131, 2009).
Boiling points, in degC at 1 atm, are handbook values from memory, within 5 degC of the PyPI library chemicals 1.5.2;
they serve the class `high_boiling` only. That library also confirmed each pair of CAS number and name that it knows; it
does not know 1330-20-7, 179601-23-1, 17060-07-0, 3114-55-4 and the mixture 25551-13-7: those pairs are from memory.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from vaporqa.errors import did_you_mean

#: The closed list of classes and what puts an analyte into each.
CLASSES: Mapping[str, str] = MappingProxyType(
    {
        "volatile_organic": "a volatile organic compound; methane and the other fixed gases are not",
        "chlorinated": "its molecule holds chlorine",
        "aromatic": "its molecule holds a benzene ring",
        "fixed_gas": "a permanent gas: oxygen, nitrogen, argon, carbon oxides, methane, hydrogen, helium",
        "sulfur": "hydrogen sulfide, carbonyl sulfide, sulfur dioxide, mercaptans, organic sulfides and disulfides, "
        "thiophenes; neither carbon disulfide nor sulfur hexafluoride",
        "nitrogen": "ammonia and amines; neither nitriles nor the gas nitrogen",
        "canister_list": "carbon disulfide, acrylonitrile, acetonitrile: on the canister method's own list, so they "
        "keep its holding time although they hold sulfur or nitrogen",
        "short_canister": "sulfur, nitrogen and bis(chloromethyl) ether: a shorter holding time in canisters",
        "reactive": "sulfur gases and 1,3-butadiene: they do not last in bags",
        "common_contaminant": "acetone, 2-butanone, methylene chloride, toluene",
        "landfill_gas": "what landfill gas is made of and its meters read",
        "tracer": "used to look for leaks",
        "high_boiling": "boils at or above naphthalene (217.9 degC)",
        "surrogate": "added by the laboratory to each sample; no target, or rarely one",
        "internal_standard": "added by the laboratory to quantify against; bromochloromethane is a target as well",
    }
)

_CAS = re.compile(r"[1-9][0-9]{1,6}-[0-9]{2}-[0-9]")
_LETTERS = str.maketrans({"α": "alpha", "β": "beta"})
_DROPPED = re.compile(r"[\s()\[\]\-\u2010-\u2015\u2212]|(?<![0-9]),|,(?![0-9])")


@dataclass(frozen=True, slots=True)
class Analyte:
    """One substance, or one mixture of isomers that laboratories report under a number of its own.

    Attributes
    ----------
    cas : str
    name : str
    synonyms : tuple of str
        Other spellings that laboratories write; matching text, not names to print.
    formula : str
        Hill order for organic compounds; D is deuterium.
    molar_mass : float
        g/mol.
    classes : frozenset of str
        Of `CLASSES`.
    boiling_point : float or None
        degC at 1 atm (sublimation where it does not melt); None for mixtures and where not known.
    """

    cas: str
    name: str
    synonyms: tuple[str, ...]
    formula: str
    molar_mass: float
    classes: frozenset[str]
    boiling_point: float | None = None


@dataclass(frozen=True, slots=True)
class _List:
    by_cas: Mapping[str, Analyte]
    by_name: Mapping[str, str]


def _fold(name: str) -> str:
    """Fold letter case, blanks, hyphens, brackets and commas; a comma between two digits stays."""
    text = unicodedata.normalize("NFKC", name).casefold().translate(_LETTERS)
    text = re.sub(r"\s*,\s*", ",", text)
    return _DROPPED.sub("", text)


@lru_cache(maxsize=1)
def _shipped() -> _List:
    by_cas: dict[str, Analyte] = {}
    by_name: dict[str, str] = {}
    with Path(__file__).with_name("analytes.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            analyte = Analyte(
                cas=row["cas"],
                name=row["name"],
                synonyms=tuple(filter(None, row["synonyms"].split("|"))),
                formula=row["formula"],
                molar_mass=float(row["molar_mass"]),
                classes=frozenset(row["classes"].split()),
                boiling_point=float(row["boiling_point"]) if row["boiling_point"] else None,
            )
            if by_cas.setdefault(analyte.cas, analyte) is not analyte:
                raise ValueError(f"analytes.csv: {analyte.cas} stands twice")
            for name in (analyte.name, *analyte.synonyms):
                if by_name.setdefault(_fold(name), analyte.cas) != analyte.cas:
                    raise ValueError(f"analytes.csv: {name!r} of {analyte.cas} also means {by_name[_fold(name)]}")
    return _List(MappingProxyType(by_cas), MappingProxyType(by_name))


def all_analytes() -> tuple[Analyte, ...]:
    """Return the whole list, kindred substances together."""
    return tuple(_shipped().by_cas.values())


def by_cas(cas: str) -> Analyte | None:
    """Return the analyte of a CAS number written exactly so, or None where the list does not have it."""
    return _shipped().by_cas.get(cas)


def has_class(cas: str, class_name: str) -> bool:
    """Return whether the list puts `cas` into a class; False for a number that it does not have.

    Parameters
    ----------
    cas : str
        An unlisted number is in no class, which proves nothing of the substance: ask `by_cas` first where it matters.
    class_name : str
        One of `CLASSES`.

    Raises
    ------
    ValueError
        There is no such class.
    """
    if class_name not in CLASSES:
        mend = did_you_mean(class_name, list(CLASSES)) or f"the classes are: {', '.join(CLASSES)}"
        raise ValueError(f"there is no analyte class {class_name!r}; {mend}")
    analyte = by_cas(cas)
    return analyte is not None and class_name in analyte.classes


def cas_format_ok(cas: str) -> bool:
    """Return whether `cas` is written as a CAS number: 2 to 7 digits, 2 digits, 1 digit, no blank, no leading zero."""
    return _CAS.fullmatch(cas) is not None


def check_digit_ok(cas: str) -> bool:
    """Return whether `cas` is written as a CAS number and its last digit fits the others.

    Notes
    -----
    CAS: the digits before the last, counted from the right and each times its position, sum to the check digit modulo
    10. A swapped pair of right numbers (o- and m-xylene) passes; only `resolve` can tell.

    Examples
    --------
    >>> check_digit_ok("71-43-2"), check_digit_ok("71-43-3"), check_digit_ok("71432")
    (True, False, False)
    """
    if not cas_format_ok(cas):
        return False
    digits = [int(digit) for digit in cas if digit != "-"]
    return sum(place * digit for place, digit in enumerate(reversed(digits[:-1]), start=1)) % 10 == digits[-1]


_SPREADSHEET_DATES = (
    re.compile(r"(?P<year>[0-9]{2,4})[-/.](?P<one>[0-9]{1,2})[-/.](?P<two>[0-9]{1,2})"),
    re.compile(r"(?P<one>[0-9]{1,2})[-/. ](?P<two>[0-9]{1,2}|[A-Za-z]{3,9})[-/., ]\s*(?P<year>[0-9]{4}|[0-9]{2})"),
    re.compile(r"(?P<two>[A-Za-z]{3,9})[-/. ](?P<one>[0-9]{1,2})[-/., ]\s*(?P<year>[0-9]{4}|[0-9]{2})"),
)
_SERIAL = re.compile(r"([0-9]{4,6})(?:\.0+)?")
#: No date of a spreadsheet is longer; the next pattern takes the square of the length.
_LENGTH_LIMIT = 100
_MIDNIGHT = re.compile(r"[T ]+0{1,2}:00(?::00(?:\.0+)?)?(?:Z|\s*AM)?$|[T ]+12:00(?::00)?\s*AM$", re.IGNORECASE)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def cas_from_spreadsheet(text: str) -> str | None:
    """Return the CAS number that a spreadsheet turned into the date or the serial number `text`.

    Spreadsheets take a CAS number whose middle part is a month for a date. Years of both centuries, both orders of day
    and month, and serial days from 1900 and from 1904 are tried; a reading counts when its check digit fits.

    Returns
    -------
    str or None
        None where no reading fits, or more than one does. Nothing is looked up: the number need not be listed.

    Examples
    --------
    >>> cas_from_spreadsheet("2075-01-04"), cas_from_spreadsheet("64164"), cas_from_spreadsheet("2025-06-03")
    ('75-01-4', '75-09-2', None)
    """
    if len(text) > _LENGTH_LIMIT:
        return None
    plain = _MIDNIGHT.sub("", text.strip())
    dates: set[tuple[int, int, int]] = set()
    serial = _SERIAL.fullmatch(plain)
    if serial:
        for first in (dt.date(1899, 12, 30), dt.date(1904, 1, 1)):
            day = first + dt.timedelta(days=int(serial[1]))
            dates.add((day.year, day.month, day.day))
    for pattern in _SPREADSHEET_DATES:
        match = pattern.fullmatch(plain)
        if match is None:
            continue
        year, one = int(match["year"]), int(match["one"])
        if match["two"].isdigit():
            # Where the year stands first the month follows it; where it stands last either may be the month.
            dates.add((year, one, int(match["two"])))
            if match.start("year"):
                dates.add((year, int(match["two"]), one))
        elif match["two"][:3].lower() in _MONTHS:
            dates.add((year, _MONTHS.index(match["two"][:3].lower()) + 1, one))
    found = {
        cas
        for year, month, day in dates
        if 1 <= month <= 12 and 1 <= day <= 9
        for first_part in {f"{year:02d}", f"{year % 100:02d}"}
        if check_digit_ok(cas := f"{first_part}-{month:02d}-{day}")
    }
    return found.pop() if len(found) == 1 else None


def resolve(text: str, extra: Mapping[str, str] = MappingProxyType({})) -> str | None:
    """Return the CAS number that a name, synonym or CAS number means, or None where that is not certain.

    Parameters
    ----------
    text : str
        Letter case, blanks, hyphens, brackets and commas other than those between digits do not matter. Index order
        (``Benzene, 1,2,4-trimethyl-``) and a second name in brackets (``2-Butanone (MEK)``) are understood where
        exactly one substance fits.
    extra : mapping of str to str
        The project's own spellings to CAS numbers; they outrank the shipped list.

    Returns
    -------
    str or None
        A valid CAS number, listed or not, comes back as it is; one with a wrong check digit is None.

    Examples
    --------
    >>> resolve("Ethene, 1,1-dichloro-"), resolve("p/m-Xylene"), resolve("chlorotoluene")
    ('75-35-4', '179601-23-1', None)
    """
    written = text.strip()
    if written in extra:
        return extra[written]
    if cas_format_ok(written):
        return written if check_digit_ok(written) else None
    folded: dict[str, set[str]] = {}
    for name, cas in extra.items():
        folded.setdefault(_fold(name), set()).add(cas)
    return _named(written, folded) or _inverted(written, folded) or _named_twice(written, folded)


def _named(name: str, extra: Mapping[str, set[str]]) -> str | None:
    key = _fold(name)
    if key in extra:
        (cas, *others) = extra[key]
        return None if others else cas
    return _shipped().by_name.get(key)


def _inverted(name: str, extra: Mapping[str, set[str]]) -> str | None:
    """Read the order of chemical indexes: the parent, a comma, then what stands on it."""
    commas = re.finditer(r"(?<=[A-Za-z])\s*,", name)
    found = {_named(name[comma.end() :] + name[: comma.start()], extra) for comma in commas}
    found.discard(None)
    return found.pop() if len(found) == 1 else None


def _named_twice(name: str, extra: Mapping[str, set[str]]) -> str | None:
    """Read a name that repeats itself in brackets, if both mean the same substance."""
    match = re.fullmatch(r"(.+?)\s*[(\[]([^()\[\]]+)[)\]]", name)
    if match is None:
        return None
    first, second = (_named(part, extra) or _inverted(part, extra) for part in match.groups())
    return first if first == second else None

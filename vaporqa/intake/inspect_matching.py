"""Which header of a stranger's file may feed which column of a table, and on what ground."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vaporqa.analytes import resolve
from vaporqa.intake.headers import Header
from vaporqa.intake.headings import headings_of, plain
from vaporqa.intake.inspect_columns import ColumnFacts
from vaporqa.intake.inspect_headers import is_two_units, unit_in
from vaporqa.quantities.units import BY_MASS, BY_VOLUME, parse_unit
from vaporqa.tables.dictionary import TABLES, ColumnSpec, TableSpec

#: Grounds, best first: the contract's own name; a heading that means it; the cells; a heading that may mean it.
OWN, HEADING, CELLS, LOOSE, NEAR = "own", "heading", "cells", "loose", "near"
SURE = (OWN, HEADING)
_WORTH = {OWN: 2.0, HEADING: 2.0, CELLS: 1.5, LOOSE: 0.5, NEAR: 0.5}
_NEAR = 0.86
#: Analytes as headers, from so many on: one or two may be remarks.
WIDE_FROM = 3
#: Columns that a table may give by mass and by volume.
_FORMS = ("result", "reporting_limit", "detection_limit", "limit_of_detection")


@dataclass(frozen=True, slots=True)
class Match:
    """A header that may feed a column.

    Attributes
    ----------
    column : str
    at : int
        Position of the header.
    ground : str
        OWN, HEADING, CELLS, LOOSE or NEAR.
    unit : str
        What the header says of the unit, as written; empty where nothing.
    """

    column: str
    at: int
    ground: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class TableMatch:
    """What a table would get from a file.

    Attributes
    ----------
    table : str
    score : float
        Comparable within one file only.
    matches : mapping
        Column to the headers that may feed it, those on the best ground only.
    absent : tuple of str
        Columns that must be there and that no header may feed.
    named : bool
        The file or its sheet is called after the table.
    wide : tuple of Match
        Headers that are names of analytes over numbers: columns that may become rows. `column` is the analyte.
    """

    table: str
    score: float
    matches: Mapping[str, tuple[Match, ...]]
    absent: tuple[str, ...]
    named: bool
    wide: tuple[Match, ...] = ()


def match_tables(
    headers: Sequence[Header], facts: Sequence[ColumnFacts], names: Sequence[str]
) -> tuple[TableMatch, ...]:
    """Return every table with what it would get, the best first.

    Parameters
    ----------
    names : sequence of str
        Of the file and its sheet, for a table that is called so.
    """
    found = [match_table(TABLES[table], headers, facts, names) for table in TABLES]
    return tuple(sorted(found, key=lambda one: -one.score))


def match_table(
    spec: TableSpec, headers: Sequence[Header], facts: Sequence[ColumnFacts], names: Sequence[str] = ()
) -> TableMatch:
    """Return what one table would get."""
    by_column: dict[str, list[Match]] = {}
    used: set[int] = set()
    for at, header in enumerate(headers):
        match = _by_heading(spec, header, at)
        if match is not None:
            by_column.setdefault(match.column, []).append(match)
            used.add(at)
    _by_cells(spec, facts, by_column, used)
    for ground in (LOOSE, NEAR):
        for at, header in enumerate(headers):
            if at not in used and header.text and facts[at].filled:
                match = _loosely(spec, header, at, ground, by_column)
                if match is not None:
                    by_column.setdefault(match.column, []).append(match)
                    used.add(at)
    if spec.name == "results":
        by_column = _in_two_forms(spec, by_column)
    matches = {
        column.name: tuple(own or by_column[column.name])
        for column in spec.columns
        if column.name in by_column
        for own in [[match for match in by_column[column.name] if match.ground == OWN]]
    }
    wide = () if spec.name != "results" or "analyte" in matches else _analytes_as_headers(headers, facts, used)
    fed = {*matches, *(("analyte", "result") if wide else ())}
    absent = tuple(column.name for column in spec.columns if column.required and column.name not in fed)
    named = any(spec.name in plain(name).replace(" ", "_") for name in names)
    score = sum(_WORTH[found[0].ground] for found in matches.values())
    score += sum(column.required and column.name in matches for column in spec.columns)
    score += 3 * named - 2 * len(absent) + 5 * bool(wide)
    return TableMatch(spec.name, score, matches, absent, named, wide)


def needs_unit(column: ColumnSpec) -> str:
    """Return the dimension in which a column needs a unit; empty where it needs none."""
    if column.kind == "amount":
        return "amount"
    return column.dimension if column.kind == "quantity" else "length" if column.kind == "coordinate" else ""


def _readings(header: Header) -> list[tuple[str, str, bool]]:
    """Return what a header may say: heading, unit, and whether the unit stands in brackets."""
    text = header.text
    found = [(plain(text), "", True)]
    bracket = re.fullmatch(r"(.*?)\s*[\[(]\s*([^\[\]()]*)\s*[\])]\s*(.*)", text)
    if bracket:
        found.append((plain(f"{bracket[1]} {bracket[3]}"), unit_in(bracket[2]), True))
    words = [word for word in re.split(r"[\s_,\-]+", text) if word]
    for count in (2, 1):
        if len(words) > count:
            for beside, rest in ((words[-count:], words[:-count]), (words[:count], words[count:])):
                unit = "/".join(beside)
                if len(unit) > 1 and unit.casefold() != "in" and (parse_unit(unit) or is_two_units(unit)):
                    found.append((plain(" ".join(rest)), unit, False))
    return found


def _by_heading(spec: TableSpec, header: Header, at: int) -> Match | None:
    means, _ = headings_of(spec.name)
    for heading, unit, in_brackets in _readings(header):
        for name in means.get(heading, ()):
            column = spec.column(name)
            assert column is not None
            dimension = needs_unit(column)
            if not in_brackets and not (dimension and (parse_unit(unit, dimension) or is_two_units(unit))):
                continue
            own = name in (header.name, header.text)
            return Match(name, at, OWN if own else HEADING, unit if dimension else "")
    return None


def _loosely(
    spec: TableSpec, header: Header, at: int, ground: str, taken: Mapping[str, Sequence[Match]]
) -> Match | None:
    means, may_mean = headings_of(spec.name)
    for heading, unit, in_brackets in _readings(header):
        if ground == LOOSE:
            names: Sequence[str] = may_mean.get(heading, ())
        else:
            near = difflib.get_close_matches(heading, list(means), n=1, cutoff=_NEAR)
            if not near:
                within = [known for known in means if len(known) > 5 and f" {known} " in f" {heading} "]
                near = [max(within, key=len)] if within else []
            names = means[near[0]] if near else ()
        for name in names:
            column = spec.column(name)
            assert column is not None
            fits = in_brackets or bool(needs_unit(column) and parse_unit(unit, needs_unit(column)))
            others = taken.get(name, ())
            if fits and not (others and others[0].ground != ground):
                return Match(name, at, ground, unit if needs_unit(column) else "")
    return None


def _by_cells(spec: TableSpec, facts: Sequence[ColumnFacts], by_column: dict[str, list[Match]], used: set[int]) -> None:
    """Match what no heading names and the cells show: CAS numbers, names of analytes, units of concentration."""
    for name in ("cas", "analyte", "unit"):
        if name in by_column or spec.column(name) is None:
            continue
        for at, one in enumerate(facts):
            shows = (
                (name == "cas" and one.cells > 0 and one.cas * 2 > one.cells)
                or (name == "analyte" and one.analytes + one.analytes_inside > 1)
                or (name == "unit" and one.is_unit and all(_is_amount(text) for text in one.units))
            )
            if shows and at not in used:
                by_column.setdefault(name, []).append(Match(name, at, CELLS))
                used.add(at)


def _analytes_as_headers(headers: Sequence[Header], facts: Sequence[ColumnFacts], used: set[int]) -> tuple[Match, ...]:
    found = []
    for at, header in enumerate(headers):
        bracket = re.fullmatch(r"(.+?)\s*[\[(]\s*([^\[\]()]*)\s*[\])]", header.text)
        unit = unit_in(bracket[2]) if bracket else ""
        name = bracket[1] if bracket and unit else header.text
        if at not in used and facts[at].is_numeric and resolve(name) is not None:
            found.append(Match(name, at, CELLS, unit))
    return tuple(found) if len(found) >= WIDE_FROM else ()


def _is_amount(text: str) -> bool:
    return parse_unit(text, "amount") is not None


def _in_two_forms(spec: TableSpec, by_column: Mapping[str, list[Match]]) -> dict[str, list[Match]]:
    """Give headers by mass and by volume the columns of their form, where a file has both of some column."""

    def family(match: Match) -> int:
        unit = parse_unit(match.unit, "amount") if match.unit else None
        return unit.family if unit else 0

    both = any(
        {family(match) for match in by_column.get(name, ())} >= {BY_MASS, BY_VOLUME} for name in _FORMS
    )  # fmt: skip
    if not both:
        return dict(by_column)
    found: dict[str, list[Match]] = {}
    for name, matches in by_column.items():
        for match in matches:
            suffix = {BY_MASS: "_mass", BY_VOLUME: "_volume"}.get(family(match), "") if name in _FORMS else ""
            column = name + suffix
            found.setdefault(column, []).append(Match(column, match.at, match.ground, match.unit))
    return found

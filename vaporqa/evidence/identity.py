"""What a result says its substance is: the CAS number as written, and whether the name belongs to it.

The check digit is that of the registry: a swapped pair of right numbers (o- and m-xylene) passes it, so that the name
is looked up as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa import analytes
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.joins import group_numbers
from vaporqa.tables.values import Int8, Int64, Text, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Words for a CAS number as written.
RIGHT, NO_NUMBER, FORMAT, CHECK_DIGIT, SPREADSHEET_DATE = 0, 1, 2, 3, 4
#: Words for a name beside its number.
BELONGS, ANOTHER, NAME_UNKNOWN, NOTHING_TO_COMPARE = 0, 1, 2, 3


@dataclass(frozen=True, slots=True)
class Identities:
    """Identity of each result that is judged, (m,).

    Attributes
    ----------
    row : int64
        Row of results.
    number, name : int8
        What is said of the CAS number and of the name: the words above.
    written, named : object
        CAS number and name as they stand in the row.
    meant : object
        The CAS number that a spreadsheet's date was, or that the name belongs to; empty where there is none.
    """

    row: Int64
    number: Int8
    name: Int8
    written: Texts
    named: Texts
    meant: Texts
    named_meant: Texts


def identities(ev: Evidence) -> Identities | None:
    """Judge each distinct pair of number and name once; None where the folder has no results."""
    table = ev.tables.get("results")
    if table is None or ev.results is None:
        return None
    rows = np.flatnonzero(judged_results(ev)).astype(np.int64)
    cas, name = table.text("cas"), table.text("analyte")
    cas_code, name_code = _codes(cas, rows), _codes(name, rows)
    group, count = group_numbers(cas_code, name_code)
    first = np.zeros(count, np.int64)
    first[group[::-1]] = np.arange(len(rows) - 1, -1, -1)
    number, named = np.zeros(count, np.int8), np.zeros(count, np.int8)
    written, names, meant, named_meant = (np.full(count, "", object) for _ in range(4))
    for index, at in enumerate(first.tolist() if len(rows) else []):
        written[index], names[index] = _word(cas, int(cas_code[at])), _word(name, int(name_code[at]))
        number[index], meant[index] = _number(str(written[index]), ev)
        named[index], named_meant[index] = _name(str(written[index]), str(names[index]), str(meant[index]), ev)
    return Identities(rows, number[group], named[group], written[group], names[group], meant[group], named_meant[group])


def _codes(text: Text | None, rows: Int64) -> Int64:
    return text.codes[rows].astype(np.int64) if text is not None else np.full(len(rows), -1, np.int64)


def _word(text: Text | None, code: int) -> str:
    return str(text.words[code]).strip() if text is not None and code >= 0 else ""


def _number(written: str, ev: Evidence) -> tuple[int, str]:
    if not written:
        return NO_NUMBER, ""
    if written in ev.names:
        return RIGHT, ev.names[written]
    if analytes.check_digit_ok(written):
        return RIGHT, written
    found = analytes.cas_from_spreadsheet(written)
    if found:
        return SPREADSHEET_DATE, found
    return (CHECK_DIGIT if analytes.cas_format_ok(written) else FORMAT), ""


def _name(written: str, named: str, meant: str, ev: Evidence) -> tuple[int, str]:
    cas = meant or (written if analytes.check_digit_ok(written) else "")
    if not cas or not named or named == written:
        return NOTHING_TO_COMPARE, ""
    found = analytes.resolve(named, ev.names)
    if found is None:
        return NAME_UNKNOWN, ""
    return (BELONGS if found == cas else ANOTHER), found

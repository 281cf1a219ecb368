"""The analytes of a folder: numbered once over all tables, each with the name by which sentences speak of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vaporqa import analytes
from vaporqa.evidence.cells import words
from vaporqa.evidence.joins import group_numbers
from vaporqa.tables.values import Bool, Float, Int64, Tables


@dataclass(frozen=True, slots=True)
class Analytes:
    """Every analyte that stands anywhere in the folder, numbered once over all tables.

    Attributes
    ----------
    cas : tuple of str
        CAS number, or empty where only a name that the lists do not know is given.
    name : tuple of str
        The name that stands for it in sentences: a spelling of the folder that belongs to the number.
    of : mapping
        Table to analyte number by row; -1 where the row names none.
    """

    cas: tuple[str, ...]
    name: tuple[str, ...]
    of: Mapping[str, Int64]

    def number(self, text: str, extra: Mapping[str, str]) -> int:
        """Number of the analyte that `text` (a CAS number or a name) means; -1 where no table has it."""
        cas = analytes.resolve(text, extra)
        for number, known in enumerate(self.cas):
            if (cas and known == cas) or (not cas and not known and self.name[number].casefold() == text.casefold()):
                return number
        return -1

    def in_class(self, name: str) -> Bool:
        """Analytes of a class of the shipped list, (k,)."""
        return np.array([bool(cas) and analytes.has_class(cas, name) for cas in self.cas], dtype=bool)

    @property
    def molar_mass(self) -> Float:
        """g/mol, (k,); nan where the shipped list does not know the analyte."""
        found = [analytes.by_cas(cas) if cas else None for cas in self.cas]
        return np.array([a.molar_mass if a is not None else np.nan for a in found], dtype=np.float64)


#: Tables and the columns that name their analyte: (CAS column, name column).
_NAMED = {
    "results": ("cas", "analyte"),
    "lab_qc": ("cas", "analyte"),
    "screening_levels": ("cas", "analyte"),
    "required_analytes": ("cas", "analyte"),
    "tracer_tests": ("", "tracer"),
    "field_readings": ("", "gas"),
    "instrument_checks": ("", "gas"),
}


def project_names(tables: Tables) -> dict[str, str]:
    """Spellings of this project: name to CAS number."""
    table = tables.get("analyte_names")
    if table is None:
        return {}
    name, _ = words(table, "name")
    cas, _ = words(table, "cas")
    return {str(n): str(c) for n, c in zip(name, cas, strict=True) if n and c}


@dataclass(slots=True)
class _Numbering:
    """Analytes while they are numbered: each CAS number, and each spelling with how well it serves as its name."""

    extra: Mapping[str, str]
    numbers: dict[str, int] = field(default_factory=dict)
    cas: list[str] = field(default_factory=list)
    spellings: list[dict[str, tuple[int, int, int, str]]] = field(default_factory=list)

    def number(self, cas: str, name: str, table: int, rows: int) -> int:
        """Number of what `rows` rows of the `table`-th table call by this CAS number and name; -1 for neither."""
        if not cas and not name:
            return -1
        # The number that a spreadsheet made a date of is used; that it is a reading is what the rule on numbers says.
        known = analytes.resolve(cas, self.extra) or analytes.cas_from_spreadsheet(cas) if cas else None
        own = analytes.resolve(name, self.extra) if name else None
        if known is None and not cas:
            known = own
        key = known or cas or f"name:{name.casefold()}"
        if key not in self.numbers:
            self.numbers[key] = len(self.cas)
            self.cas.append(known or cas)
            self.spellings.append({})
        at = self.numbers[key]
        if name:
            fits = _BELONGS if own == self.cas[at] else _UNKNOWN if own is None else _ANOTHER
            seen = self.spellings[at].get(name, (fits, table, 0, name))
            self.spellings[at][name] = (fits, seen[1], seen[2] - rows, name)
        return at

    def name(self, at: int) -> str:
        """The spelling that belongs to the number, stands in the first table, and there in the most rows.

        Which row comes first has no say in it, and a row that calls one substance by the name of another names no
        other row.
        """
        fits, *_, written = min(self.spellings[at].values(), default=(_BELONGS, 0, 0, self.cas[at]))
        listed = analytes.by_cas(self.cas[at]) if fits == _ANOTHER and self.cas[at] else None
        return listed.name if listed is not None else written


#: Whether a name is one of its number, is in no list, or is one of another number.
_BELONGS, _UNKNOWN, _ANOTHER = range(3)


def analytes_of(tables: Tables, extra: Mapping[str, str]) -> Analytes:
    """Number the analytes of all tables: by CAS number, else by the CAS number of the name, else by the name."""
    found = _Numbering(extra)
    of: dict[str, Int64] = {}
    for order, (table_name, (cas_column, name_column)) in enumerate(_NAMED.items()):
        table = tables.get(table_name)
        if table is None:
            continue
        cas_text, name_text = table.text(cas_column) if cas_column else None, table.text(name_column)
        minus = np.full(table.rows, -1, np.int64)
        cas_code = cas_text.codes.astype(np.int64) if cas_text is not None else minus
        name_code = name_text.codes.astype(np.int64) if name_text is not None else minus
        group, count = group_numbers(cas_code, name_code)
        first = np.zeros(count, np.int64)
        first[group[::-1]] = np.arange(table.rows - 1, -1, -1)
        size = np.bincount(group, minlength=count)
        lookup = np.full(count, -1, np.int64)
        for index, row in enumerate(first.tolist() if table.rows else []):
            cas = str(cas_text.words[cas_code[row]]) if cas_text is not None and cas_code[row] >= 0 else ""
            name = str(name_text.words[name_code[row]]) if name_text is not None and name_code[row] >= 0 else ""
            lookup[index] = found.number(cas, name, order, int(size[index]))
        of[table_name] = lookup[group] if table.rows else minus
    return Analytes(tuple(found.cas), tuple(map(found.name, range(len(found.cas)))), of)

"""What the laboratory's own flags mean: only what is declared.

A letter means one thing in one laboratory and another in the next. The words of the closed list mean themselves;
any other flag that no mapping declares is a finding, one a flag.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.values import Bool, FlagBits, Int32, Int64, Text, Texts

if TYPE_CHECKING:
    from vaporqa.intake.cells import Cells
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import RawColumn

#: Findings of their own; a column with more different flags than this holds remarks, and the rest share one finding.
FLAGS_AT_MOST = 100
#: Numbers up to this are told apart by a table, not by sorting.
_DENSE_AT_MOST = 50_000_000
NONDETECT = 1 << FLAG_MEANINGS.index("nondetect")

_SEPARATORS = re.compile(r"[;,\s]+")


def flags_in(text: str, key: Mapping[str, str]) -> list[str]:
    """Return the flags of one cell: whole, else split at `;`, `,` and blanks, else by letter if each is listed.

    Examples
    --------
    >>> key = {"J": "estimated", "B": "in_blank", "J+": "estimated"}
    >>> flags_in("J+", key), flags_in("JB", key), flags_in("J; X", key), flags_in("JX", key)
    (['J+'], ['J', 'B'], ['J', 'X'], ['JX'])
    """
    plain = text.strip()
    if plain in key:
        return [plain]
    found: list[str] = []
    for part in filter(None, _SEPARATORS.split(plain)):
        if part not in key and part not in FLAG_MEANINGS and all(letter in key for letter in part):
            found.extend(part)
        else:
            found.append(part)
    return list(dict.fromkeys(found))


def meaning_of(flag: str, key: Mapping[str, str]) -> str:
    """Return the declared meaning of a flag; empty where it has none."""
    return key.get(flag) or (flag if flag in FLAG_MEANINGS else "")


@dataclass(frozen=True, slots=True)
class LabFlags:
    """The flags of each row.

    Attributes
    ----------
    text : Text or None
        Flags of the column `lab_flag`, each once, joined by one blank; None where no file has the column.
    bits : FlagBits
        What they and the flags beside numbers mean.
    """

    text: Text | None
    bits: FlagBits

    @property
    def nondetect(self) -> Bool:
        """Rows whose flags say nondetect, (n,)."""
        found: Bool = (self.bits.values & NONDETECT) != 0
        return found


@dataclass(slots=True)
class _Seen:
    """Flags met while rows are read: without a meaning (rows and columns), and how often each meaning was used."""

    unknown: dict[str, list[Int64]]
    columns: dict[str, str]
    used: dict[tuple[int, str, str], int]


def typed_flags(
    table: str,
    raw: Mapping[str, RawColumn],
    beside: Mapping[str, tuple[Int32, Any]],
    cells: Cells,
    mappings: Sequence[FileMapping],
    notes: Notes,
) -> LabFlags | None:
    """Return what the flags of a table mean; None where no cell can carry one.

    Parameters
    ----------
    beside : mapping
        Column of numbers to the flags that stood in its cells: codes (n,), -1 for none, into texts.
    """
    column = raw.get("lab_flag")
    if column is None and not beside:
        return None
    rows = cells.starts[-1]
    bits = np.zeros(rows, np.int64)
    seen = _Seen({}, {}, {})
    distinct: dict[str, int] = {}
    codes = np.full(rows, -1, np.int32)
    for index, mapping in enumerate(mappings):
        start, stop = cells.starts[index], cells.starts[index + 1]
        part = slice(start, stop)
        laboratory, names = _laboratories(mapping, raw, cells, index)
        pieces = [] if column is None else [("lab_flag", column.codes[part], column.texts)]
        pieces += [(name, flag_codes[part], texts) for name, (flag_codes, texts) in beside.items()]
        for name, flag_codes, texts in pieces:
            width = len(texts) + 1
            pairs, where = _distinct(laboratory.astype(np.int64) * width + flag_codes + 1, len(names) * width)
            counts = np.bincount(where, minlength=len(pairs))
            meant = np.zeros(len(pairs), np.int64)
            shown = np.full(len(pairs), -1, np.int32)
            unknown: dict[int, list[str]] = {}
            for at, pair in enumerate(pairs.tolist()):
                if pair % width == 0:
                    continue
                key = mapping.flags.of(names[pair // width])
                flags = flags_in(texts[pair % width - 1].as_py(), key)
                shown[at] = distinct.setdefault(" ".join(flags), len(distinct)) if flags else -1
                for flag in flags:
                    meaning = meaning_of(flag, key)
                    if not meaning:
                        unknown.setdefault(at, []).append(flag)
                        continue
                    meant[at] |= 1 << FLAG_MEANINGS.index(meaning)
                    if flag in key:
                        place = (index, flag, meaning)
                        seen.used[place] = seen.used.get(place, 0) + int(counts[at])
            bits[part] |= meant[where]
            if name == "lab_flag":
                codes[part] = shown[where]
            _gather_unknown(unknown, where, start, name, seen)
    _tell(table, column, seen, mappings, cells, notes)
    words: Texts = np.empty(len(distinct), dtype=object)
    words[:] = list(distinct)
    return LabFlags(None if column is None else Text(codes, words), FlagBits(bits))


def _distinct(numbers: Int64, size: int) -> tuple[Int64, Int64]:
    """Return the distinct numbers, all under `size`, and where each stands among them."""
    if size > _DENSE_AT_MOST:
        found, where = np.unique(numbers, return_inverse=True)
        return found, where
    here = np.zeros(size, np.bool_)
    here[numbers] = True
    return np.flatnonzero(here), (np.cumsum(here) - 1)[numbers]


def _gather_unknown(unknown: Mapping[int, list[str]], where: Int64, start: int, column: str, seen: _Seen) -> None:
    """Note the rows of flags without a meaning, by flag."""
    if not unknown:
        return
    speaks = np.zeros(int(where.max()) + 1, np.bool_)
    speaks[list(unknown)] = True
    rows = np.flatnonzero(speaks[where])
    rows = rows[np.argsort(where[rows], kind="stable")]
    for piece in np.split(rows, np.flatnonzero(np.diff(where[rows])) + 1):
        for flag in unknown[int(where[piece[0]])]:
            seen.unknown.setdefault(flag, []).append(piece.astype(np.int64) + start)
            seen.columns.setdefault(flag, column)


def _laboratories(
    mapping: FileMapping, raw: Mapping[str, RawColumn], cells: Cells, index: int
) -> tuple[Int32, list[str]]:
    """Return the laboratory of each row of one file as codes into names; the last name is that of an empty cell."""
    start, stop = cells.starts[index], cells.starts[index + 1]
    by = mapping.flags.by
    file = cells.files[index]
    for header, column in zip(file.headers, file.columns, strict=True):
        if by and by in (header.text, header.name):
            names = [text.strip() for text in column.dictionary.to_pylist()]
            return np.asarray(column.indices.to_numpy(), np.int32), [*names, ""]
    found = raw.get(by)
    if found is None:
        return np.zeros(stop - start, np.int32), [""]
    names = [text.strip() for text in found.texts.to_pylist()]
    codes = found.codes[start:stop]
    return np.where(codes < 0, len(names), codes).astype(np.int32), [*names, ""]


def _tell(
    table: str,
    column: RawColumn | None,
    seen: _Seen,
    mappings: Sequence[FileMapping],
    cells: Cells,
    notes: Notes,
) -> None:
    unknown = sorted(seen.unknown)
    home = "lab_flag" if column is not None else ""
    for flag in unknown[:FLAGS_AT_MOST]:
        rows = np.unique(np.concatenate(seen.unknown[flag]))
        notes.on_column("known-flag", table, home or seen.columns[flag], flag, "", rows=rows)
    rest = unknown[FLAGS_AT_MOST:]
    if rest:
        rows = np.unique(np.concatenate([piece for flag in rest for piece in seen.unknown[flag]]))
        where = home or seen.columns[rest[0]]
        notes.on_column("known-flag", table, where, "others", f"{len(rest):,} further flags", rows=rows)
    for index, mapping in enumerate(mappings):
        told = [
            f"'{flag}' means {meaning} ({count:,} cells)"
            for (at, flag, meaning), count in sorted(seen.used.items())
            if at == index
        ]
        silent = sorted(mapping.flags.flags - {flag for at, flag, _ in seen.used if at == index})
        if told:
            notes.remark(cells.files[index].name, "laboratory flags: " + ", ".join(told))
        if silent:
            shown = ", ".join(f"'{flag}'" for flag in silent)
            notes.remark(cells.files[index].name, f"laboratory flags declared and met in no cell: {shown}")

"""The rulebook as values: what `field_rules_by_hand` and `laboratory_rules_by_hand` say, line by line."""

from __future__ import annotations

import re
from dataclasses import dataclass

from field_rules_by_hand import FIELD
from laboratory_rules_by_hand import LABORATORY

from vaporqa.criteria import Backing

BACKING = {
    "V": Backing.VERIFIED, "V2": Backing.SECONDARY, "M": Backing.MEMORY, "P": Backing.PRACTICE, "D": Backing.DERIVED,
}  # fmt: skip
ASIDE = "aside"
_NUMBER = re.compile(r"(at most|at least|under|over|between|within) -?\d")


@dataclass(frozen=True)
class Line:
    """One limit: its name, the limit in words, what backs it (empty: not said), its letters, or `ASIDE`."""

    name: str
    limit: str
    backing: frozenset[Backing]
    letters: str

    @property
    def numbered(self) -> bool:
        return _NUMBER.match(self.limit) is not None


@dataclass(frozen=True)
class Entry:
    """One rule of the rulebook."""

    id: str
    topic: str
    row: tuple[str, ...]
    no_evidence: str
    reaches: str
    stage: str
    air: bool
    lines: tuple[Line, ...]


def pair(text: str) -> str:
    """A single word serves for a detect and for a nondetect."""
    return text if " / " in text else f"{text} / {text}"


def _entry(topic: str, head: str, lines: list[str]) -> Entry:
    name, row, no_evidence, reaches, stage, *air = (cell.strip() for cell in head.split(" | "))
    limits = []
    for line in lines:
        label, limit, backing, letters = (cell.strip() for cell in line.split(" | "))
        known = frozenset(BACKING[one] for one in backing.split("/") if one != "-")
        limits.append(Line(label, limit, known, letters if letters == ASIDE else pair(letters)))
    assert air in ([], ["air"]), head
    return Entry(name, topic, tuple(row.split()), pair(no_evidence), reaches, stage, bool(air), tuple(limits))


def _entries(topic: str, text: str) -> list[Entry]:
    found: list[tuple[str, list[str]]] = []
    for line in text.strip().splitlines():
        if line.startswith(" "):
            found[-1][1].append(line)
        else:
            found.append((line, []))
    return [_entry(topic, head, lines) for head, lines in found]


ENTRIES = {
    entry.id: entry for topics in (FIELD, LABORATORY) for name in topics for entry in _entries(name, topics[name])
}

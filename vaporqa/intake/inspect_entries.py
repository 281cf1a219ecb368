"""The entries of a draft mapping, and what they are drafted from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vaporqa.intake.headers import Header
from vaporqa.intake.inspect_columns import ColumnFacts
from vaporqa.intake.inspect_times import TimeFit
from vaporqa.intake.unanswered import MARK, is_unanswered


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a mapping.

    Attributes
    ----------
    path : tuple of str
        Keys from the mapping to the entry, such as ``("columns", "analyte")``.
    texts : tuple of str
        What is written; a text that starts with a question mark waits for an answer.
    listed : bool
        Written as a list.
    reason : str
    """

    path: tuple[str, ...]
    texts: tuple[str, ...]
    listed: bool
    reason: str

    @property
    def sure(self) -> bool:
        """Nothing in it waits for an answer."""
        return not any(map(is_unanswered, self.texts))


@dataclass(frozen=True, slots=True)
class DraftMapping:
    """The entries of one table.

    Attributes
    ----------
    table : str
    source : str
        The table that it is derived from; empty where it has the file.
    entries : tuple of Entry
    unused : tuple of str
        Headers that feed nothing; they are kept and passed through.
    """

    table: str
    source: str
    entries: tuple[Entry, ...]
    unused: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JoinedTime:
    """A column of dates and one of times of day, read together; `related` where their headings say so."""

    date: int
    clock: int
    related: bool
    times: TimeFit


@dataclass(frozen=True, slots=True)
class Ground:
    """What a draft is made from.

    Attributes
    ----------
    headers : sequence of Header
    facts : sequence of ColumnFacts
    row_units : mapping
        Position of a header to the unit that a units row gives it.
    joined : mapping
        Position of a column of dates, or of one of times of day, to the times that both make together.
    cas_of : mapping
        CAS number as a spreadsheet has it, to the number that the analyte's name beside it says.
    longer_key : str
        Header that `sample_id` needs beside it, to tell its rows apart; empty where it needs none.
    """

    headers: Sequence[Header]
    facts: Sequence[ColumnFacts]
    row_units: Mapping[int, str]
    joined: Mapping[int, JoinedTime]
    cas_of: Mapping[str, str]
    longer_key: str = ""


def asked(text: str) -> str:
    """Return `text` as an entry that waits for an answer."""
    return MARK + text


def unsure(drafts: Sequence[DraftMapping]) -> list[tuple[str, Entry]]:
    """Return every entry that waits for an answer, with its table."""
    return [(one.table, entry) for one in drafts for entry in one.entries if not entry.sure]


def counted(count: int, thing: str) -> str:
    """Return a number of things as a person writes it.

    Examples
    --------
    >>> counted(1, "cell"), counted(1200, "cell")
    ('1 cell', '1,200 cells')
    """
    return f"{count:,} {thing}{'s' * (count != 1)}"

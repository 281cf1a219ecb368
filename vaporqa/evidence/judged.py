"""What a measure knows, and what a check says: the two values that pass between evidence, checks and review.

Both are columnar. An *entry* is one thing judged: usually one row of the rule's table, sometimes one pair, one use or
one association of a row (a row may then have several entries, and its state is the gravest of them).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int16, Int64, Texts, UInt8

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Want:
    """A piece of evidence that may be missing: what a person calls it, and the columns that could hold it.

    Attributes
    ----------
    phrase : str
        Fits into "... cannot be judged: {phrase} is not recorded".
    places : tuple of (table, column)
        Any one of them would do. A column of ``*`` is the whole table.
    """

    phrase: str
    places: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Amounts:
    """Numbers to be put into a sentence, (m,), in `unit` (one for all, or one an entry).

    `digits` is how many figures a person needs of them: readings whose difference is judged need as many as show it.
    """

    values: Float
    unit: str | Texts = ""
    digits: int = 3


@dataclass(frozen=True, slots=True)
class Labels:
    """Texts to be put into a sentence, (m,)."""

    values: Texts


@dataclass(frozen=True, slots=True)
class Stamps:
    """Times to be put into a sentence, (m,): microseconds UTC and whether only the date is known.

    `zone` is `field` or `laboratory`: the zone in which a person wants to read them.
    """

    low: Int64
    date_only: Bool
    zone: str = "field"


@dataclass(frozen=True, slots=True)
class Coded:
    """A column of few distinct words, (m,): number of each entry's word among `words`, which may hold repeats."""

    codes: Int64
    words: Texts

    @staticmethod
    def of(values: Texts) -> Coded:
        """Number the distinct words of a column."""
        distinct, codes = np.unique(values.astype(str), return_inverse=True)
        return Coded(codes.reshape(-1).astype(np.int64), distinct.astype(object))

    def take(self, index: Int64, default: str = "") -> Coded:
        """Gather by index; a negative one gives `default`."""
        words = np.append(self.words, default).astype(object)
        return Coded(np.append(self.codes, len(self.words))[np.maximum(index, -1)], words)

    def is_in(self, *wanted: str) -> Bool:
        """Entries whose word is one of `wanted`, (m,)."""
        return np.isin(self.words.astype(str), wanted)[self.codes]

    @property
    def texts(self) -> Texts:
        """The words themselves, (m,)."""
        return self.words[self.codes]


def is_among(column: Texts | Coded, wanted: Sequence[str]) -> Bool:
    """Entries of a column whose word is one of `wanted`, (m,)."""
    return column.is_in(*wanted) if isinstance(column, Coded) else np.isin(column.astype(str), wanted)


Fact = Amounts | Labels | Stamps
Facts = Mapping[str, Fact]
NO_FACTS: Facts = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Links:
    """Pairs (entry, target): which samples (unified sample numbers) or result rows an entry reaches."""

    entry: Int64
    target: Int64

    @staticmethod
    def none() -> Links:
        """No pairs."""
        return Links(np.empty(0, np.int64), np.empty(0, np.int64))

    def of(self, wanted: Bool) -> Links:
        """Keep the pairs whose entry is wanted (bool by entry), entries renumbered to the wanted ones."""
        keep = wanted[self.entry]
        renumber = np.cumsum(wanted) - 1
        return Links(renumber[self.entry[keep]].astype(np.int64), self.target[keep])


@dataclass(frozen=True, slots=True)
class Measured:
    """One quantity for every entry, and what was missing where it is not known.

    Attributes
    ----------
    row : int64 (m,)
        Row of the rule's table on which the entry sits.
    concerned : bool (m,)
        False: the rule has nothing to say of this entry.
    value : float64 (m,)
        In the measure's canonical unit; nan where unknown.
    want : int16 (m,)
        -1, or which of `wants` is missing.
    wants : tuple of Want
    hard : bool (m,)
        What is missing is not absent but unreadable or ambiguous: unproven whatever `no_evidence` says.
    facts : mapping
        By name, for sentences and for the conditions of limits (`when`).
    samples, results : Links
        What a finding on the entry reaches.
    """

    row: Int64
    concerned: Bool
    value: Float
    want: Int16
    wants: tuple[Want, ...]
    hard: Bool
    facts: Facts = field(default_factory=lambda: NO_FACTS)
    samples: Links = field(default_factory=Links.none)
    results: Links = field(default_factory=Links.none)
    #: Text columns by name that `when` conditions of limits look at, (m,) each.
    cases: Mapping[str, Texts | Coded] = field(default_factory=lambda: MappingProxyType({}))
    #: Table on whose rows the entries sit, where it is not the rule's own (first) one.
    table: str = ""
    #: Entries that can be no more than a note, (m,); None for none.
    noted: Bool | None = None
    #: Entries whose value is only known to be at most this (m,): too large a bound is unproven, not broken.
    only_at_most: Bool | None = None
    #: Entries whose value is only known to be at least this (m,): one that keeps every limit is unproven all the same.
    only_at_least: Bool | None = None
    #: Further columns by name that a check of its own reads, (m,).
    extra: Mapping[str, Float] = field(default_factory=lambda: MappingProxyType({}))
    #: Other readings of the same entries that the evidence leaves open (a date without a time, a hole bored in a way
    #: that nobody wrote down), this one being the kindest: an entry is judged only where all of them agree.
    otherwise: tuple[Measured, ...] = ()
    #: Which of `wants` would decide an entry whose readings disagree, (m,), -1 for none; None for none at all.
    decided_by: Int16 | None = None


@dataclass(frozen=True, slots=True)
class MeasureSpec:
    """A quantity that a rule may name: its table, the dimension of its numbers, its facts.

    `dimension` is `ratio` (limits in % become fractions), `percent`, `length`, `volume`, `flow`, `pressure`,
    `duration`, `temperature`, `amount` (ppbv), `count` or `words`.
    """

    name: str
    table: str
    dimension: str
    about: str
    compute: Callable[[Evidence], Measured | tuple[Measured, ...]]
    facts: tuple[str, ...] = ()
    cases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Weighed:
    """Every entry that a check held against a limit, those that hold included, (m,): what pictures are drawn from.

    Attributes
    ----------
    row : int64
        Row of the rule's table.
    outcome : uint8
    limit : int16
        The limit that the entry was held against, kept or not, by its place in the rule; -1 for none.
    value : float64
        In the unit of `Limit.value`; nan where unknown.
    numbers : mapping
        Further numbers by name, as each check says.
    """

    row: Int64
    outcome: UInt8
    limit: Int16
    value: Float
    numbers: Mapping[str, Float] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Judged:
    """What one rule says: a state for every row of its table, and columns for the entries that speak.

    Attributes
    ----------
    state : uint8 (n,)
        Outcome of each row of the rule's table, exact copies included (they are not concerned).
    row : int64 (m,)
        Row of each speaking entry; -1 for a finding on the whole table.
    outcome : uint8 (m,)
        BROKEN or UNPROVEN.
    limit : int16 (m,)
        Which of the rule's limits broke; -1 where none did.
    measured : float64 (m,)
        In the measure's canonical unit; nan where there is no number.
    want : int16 (m,), wants
        What is missing, for unproven entries.
    hard : bool (m,)
        See `Measured.hard`.
    facts : mapping
    samples, results : Links
        What each speaking entry reaches (entries numbered as here).
    subject : object (m,) or None
        What a finding on the whole table is about (`*:subject`), empty for none.
    letters : (uint16 (k,), uint16 (k,)) or None
        Letters for detects and nondetects by *pair of `results`*, where they differ from the limit's own pair.
    at : float64 (k,) or None
        By pair of `results`: the limit at which a U stands, in the canonical unit of the result's family.
    alone : bool
        Entries never merge into one finding on the whole table.
    """

    state: UInt8
    row: Int64
    outcome: UInt8
    limit: Int16
    measured: Float
    want: Int16
    wants: tuple[Want, ...]
    hard: Bool
    facts: Facts = field(default_factory=lambda: NO_FACTS)
    samples: Links = field(default_factory=Links.none)
    results: Links = field(default_factory=Links.none)
    subject: Texts | None = None
    letters: tuple[Int16, Int16] | None = None
    at: Float | None = None
    alone: bool = False
    #: Table on whose rows the entries sit, where it is not the rule's own (first) one.
    table: str = ""
    #: Entries that can be no more than a note, (m,); None for none.
    noted: Bool | None = None
    #: For entries on a whole table: the rows that they are about.
    own: Links | None = None
    #: For entries on rows of results, (m,): the limit at which a U makes the row itself stand, in the canonical unit of
    #: its family; nan where its letter is no U.
    own_at: Float | None = None
    #: Unproven entries that earn nothing, whatever the rule says of missing evidence, (m,): counted in coverage only.
    quiet: Bool | None = None
    #: Everything that was weighed, of the checks that keep it for pictures.
    weighed: Weighed | None = None


def take_fact(fact: Fact, index: Int64 | Bool) -> Fact:
    """Select entries of a fact."""
    if isinstance(fact, Amounts):
        unit = fact.unit if isinstance(fact.unit, str) else fact.unit[index]
        return Amounts(fact.values[index], unit, fact.digits)
    if isinstance(fact, Labels):
        return Labels(fact.values[index])
    return Stamps(fact.low[index], fact.date_only[index], fact.zone)


def take_facts(facts: Facts, index: Int64 | Bool) -> Facts:
    """Select entries of every fact."""
    return {name: take_fact(fact, index) for name, fact in facts.items()}


@dataclass(frozen=True, slots=True)
class EveryEntry:
    """Every entry that one rule weighed, those that hold included: what it measured and the outcome of each, (m,)."""

    measured: Measured
    outcome: UInt8


_EAVESDROPPER: ContextVar[list[EveryEntry] | None] = ContextVar("eavesdropper", default=None)


@contextmanager
def every_entry() -> Iterator[list[EveryEntry]]:
    """Keep what rules weigh inside the `with`: a review itself keeps numbers for the entries that speak alone."""
    kept: list[EveryEntry] = []
    token = _EAVESDROPPER.set(kept)
    try:
        yield kept
    finally:
        _EAVESDROPPER.reset(token)


#: Gravity of outcomes on one row, for choosing the state of a row with several entries.
_GRAVITY = np.array([0, 1, 3, 2, 0], dtype=np.uint8)  # by Outcome: not concerned, holds, broken, unproven, not due
_BY_GRAVITY = np.array([Outcome.NOT_CONCERNED, Outcome.HOLDS, Outcome.UNPROVEN, Outcome.BROKEN], dtype=np.uint8)


def state_of_rows(rows: int, row: Int64, outcome: UInt8) -> UInt8:
    """Gravest outcome of the entries of each row: broken over unproven over holds over not concerned."""
    gravity = np.zeros(rows, dtype=np.uint8)
    inside = row >= 0
    np.maximum.at(gravity, row[inside], _GRAVITY[outcome[inside]])
    return _BY_GRAVITY[gravity]


def judged_from(
    measured: Measured, rows: int, outcome: UInt8, limit: Int16, *, worst: Float | None = None, alone: bool = False
) -> Judged:
    """Keep the entries that speak, those of one row, outcome and limit as one, and the state of every row.

    Parameters
    ----------
    measured : Measured
        m entries.
    rows : int
        Rows of the table on which the entries sit.
    outcome, limit : (m,)
        Outcome of each entry and which limit broke.
    worst : float64 (m,) or None
        How bad each entry is; of entries that merge the worst gives its number and facts.
    alone : bool
        Entries never merge into one finding on the whole table.
    """
    kept = _EAVESDROPPER.get()
    if kept is not None:
        kept.append(EveryEntry(measured, outcome))
    speaks = (outcome == Outcome.BROKEN) | (outcome == Outcome.UNPROVEN)
    index = np.flatnonzero(speaks)
    want = np.where(outcome[index] == Outcome.UNPROVEN, measured.want[index], -1).astype(np.int16)
    group = np.empty(0, np.int64)
    keep = index
    if index.size:
        badness = worst[index] if worst is not None else np.zeros(index.size)
        badness = np.where(np.isfinite(badness), badness, -np.inf)
        # Unproven entries stay apart by what they lack, so that none of it is lost.
        noted = measured.noted[index] if measured.noted is not None else np.zeros(index.size, bool)
        group = _groups(measured.row[index], outcome[index], limit[index], want, noted)
        order = np.lexsort((index, -badness, group))
        leads = np.ones(order.size, bool)
        leads[1:] = group[order][1:] != group[order][:-1]
        keep = index[order[leads]]
    number = np.full(len(measured.row), -1, np.int64)
    number[index] = group
    hard = np.zeros(len(keep), bool)
    np.logical_or.at(hard, group, measured.hard[index])
    return Judged(
        state=state_of_rows(rows, measured.row, outcome),
        row=measured.row[keep],
        outcome=outcome[keep],
        limit=limit[keep],
        measured=measured.value[keep],
        want=np.where(outcome[keep] == Outcome.UNPROVEN, measured.want[keep], -1).astype(np.int16),
        wants=measured.wants,
        hard=hard & (outcome[keep] == Outcome.UNPROVEN),
        facts=take_facts(measured.facts, keep),
        samples=_regroup(measured.samples, speaks, number),
        results=_regroup(measured.results, speaks, number),
        alone=alone,
        table=measured.table,
        noted=measured.noted[keep] if measured.noted is not None else None,
    )


def _groups(row: Int64, outcome: UInt8, limit: Int16, want: Int16, noted: Bool) -> Int64:
    """Number entries alike in row, outcome, limit, want and note, in that order; most rows have one entry."""
    if np.all(row[1:] > row[:-1]):
        return np.arange(len(row), dtype=np.int64)
    order = np.lexsort((noted, want, limit, outcome, row))
    new = np.zeros(len(row), bool)
    for column in (row, outcome, limit, want, noted):
        new[1:] |= column[order][1:] != column[order][:-1]
    group = np.empty(len(row), np.int64)
    group[order] = np.cumsum(new)
    return group


def distinct_links(entry: Int64, target: Int64) -> Links:
    """Pairs in order of entry and target, each once."""
    if not len(entry):
        return Links.none()
    width = int(target.max()) + 1
    code = np.sort(entry * width + target)
    code = code[np.concatenate([[True], code[1:] != code[:-1]])]
    return Links(code // width, code % width)


def _regroup(links: Links, speaks: Bool, number: Int64) -> Links:
    keep = speaks[links.entry]
    return distinct_links(number[links.entry[keep]], links.target[keep])

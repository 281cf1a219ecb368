"""Summaries of folders pooled: standings, rules, laboratories and crews, duplicate pairs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from vaporqa.outcomes import Standing
from vaporqa.programme.summary import Duplicates, Group, Member, Summary
from vaporqa.review.indicators import pooled_over

#: A laboratory or crew with fewer results than this is listed after the others: its rate may be chance (practice).
FEW = 30


@dataclass(frozen=True, slots=True)
class PooledRule:
    """A rule over all folders: in how many it was broken, how often, and what that bears on; the same for unproven."""

    rule: str
    title: str
    folders_broken: int
    broken: int
    results: int
    folders_unproven: int
    unproven: int


@dataclass(frozen=True, slots=True)
class PooledGroup:
    """A laboratory or crew over all folders: in how many, and its field results by standing (4,)."""

    name: str
    folders: int
    counts: tuple[int, int, int, int]

    @property
    def results(self) -> int:
        """All of its field results."""
        return sum(self.counts)

    @property
    def failed(self) -> int:
        """Those that are not usable as reported: estimated, unproven or rejected."""
        return self.results - self.counts[Standing.USABLE]

    @property
    def rate(self) -> float:
        """Failed by all, from 0 to 1; nan of none."""
        return self.failed / self.results if self.results else float("nan")

    @property
    def few(self) -> bool:
        """Whether there are too few to compare its rate with others'."""
        return self.results < FEW


@dataclass(frozen=True, slots=True)
class PooledDuplicates:
    """Duplicate pairs of one analyte (or of all: empty names) over all folders; per cent, nan of none."""

    analyte: str
    cas: str
    folders: int
    pairs: int
    both_detected: int
    neither_detected: int
    rejected: int
    largest_rpd: float
    pooled_rsd: float


@dataclass(frozen=True, slots=True)
class Programme:
    """All folders of one call, in the order of the paths given, and what they come to together.

    Attributes
    ----------
    members : tuple of Member
    results : tuple of int (4,)
        Results of field samples by standing, from usable to rejected.
    rules : tuple of PooledRule
        By folders in which it was broken, then by results, then by findings.
    laboratories, crews : tuple of PooledGroup
        By failure rate from the highest, those with few results after the others.
    duplicates : PooledDuplicates
        Over all analytes.
    duplicates_by_analyte : tuple of PooledDuplicates
        By name.
    """

    members: tuple[Member, ...]
    results: tuple[int, int, int, int]
    rules: tuple[PooledRule, ...]
    laboratories: tuple[PooledGroup, ...]
    crews: tuple[PooledGroup, ...]
    duplicates: PooledDuplicates
    duplicates_by_analyte: tuple[PooledDuplicates, ...]

    @property
    def reviewed(self) -> int:
        """How many folders were reviewed."""
        return sum(member.summary is not None for member in self.members)


def pool(members: Iterable[Member]) -> Programme:
    """Pool the summaries of folders; those that were not reviewed only stand in the list."""
    kept = tuple(members)
    there = [member.summary for member in kept if member.summary is not None]
    pairs = [one for summary in there for one in summary.duplicates]
    with_pairs = sum(any(one.pairs or one.rejected for one in summary.duplicates) for summary in there)
    return Programme(
        members=kept,
        results=_added([summary.results for summary in there]),
        rules=_rules(there),
        laboratories=_groups(there, lambda summary: summary.laboratories),
        crews=_groups(there, lambda summary: summary.crews),
        duplicates=_duplicates("", "", pairs, with_pairs),
        duplicates_by_analyte=_by_analyte(there),
    )


def _added(rows: Sequence[tuple[int, int, int, int]]) -> tuple[int, int, int, int]:
    usable, estimated, unproven, rejected = (sum(row[at] for row in rows) for at in range(4))
    return usable, estimated, unproven, rejected


def _rules(there: Sequence[Summary]) -> tuple[PooledRule, ...]:
    by_id: dict[str, PooledRule] = {}
    for summary in there:
        for one in summary.rules:
            was = by_id.get(one.rule, PooledRule(one.rule, one.title, 0, 0, 0, 0, 0))
            by_id[one.rule] = PooledRule(
                was.rule, was.title, was.folders_broken + (one.broken > 0), was.broken + one.broken,
                was.results + one.results, was.folders_unproven + (one.unproven > 0), was.unproven + one.unproven,
            )  # fmt: skip
    return tuple(
        sorted(
            by_id.values(),
            key=lambda one: (
                -one.folders_broken, -one.results, -one.broken, -one.folders_unproven, -one.unproven, one.rule,
            ),
        )
    )  # fmt: skip


def _groups(there: Sequence[Summary], groups: Callable[[Summary], tuple[Group, ...]]) -> tuple[PooledGroup, ...]:
    """Names that differ in case or blanks alone are one; the spelling that comes first is shown."""
    shown: dict[str, str] = {}
    counts: dict[str, list[tuple[int, int, int, int]]] = {}
    folders: dict[str, set[int]] = {}
    for number, summary in enumerate(there):
        for one in groups(summary):
            key = " ".join(one.name.split()).casefold()
            shown.setdefault(key, " ".join(one.name.split()))
            counts.setdefault(key, []).append(one.counts)
            folders.setdefault(key, set()).add(number)
    pooled = [PooledGroup(shown[key], len(folders[key]), _added(rows)) for key, rows in counts.items()]
    return tuple(sorted(pooled, key=lambda one: (one.few, -one.rate, -one.results, one.name.casefold())))


def _by_analyte(there: Sequence[Summary]) -> tuple[PooledDuplicates, ...]:
    """An analyte is its CAS number, or its name where it has none."""
    parts: dict[str, list[Duplicates]] = {}
    folders: dict[str, int] = {}
    for summary in there:
        for key, one in ((one.cas or one.analyte.casefold(), one) for one in summary.duplicates):
            parts.setdefault(key, []).append(one)
            folders[key] = folders.get(key, 0) + 1
    pooled = [_duplicates(found[0].analyte, found[0].cas, found, folders[key]) for key, found in parts.items()]
    return tuple(sorted(pooled, key=lambda one: (one.analyte.casefold(), one.cas)))


def _duplicates(analyte: str, cas: str, parts: Sequence[Duplicates], folders: int) -> PooledDuplicates:
    largest = [one.largest_rpd for one in parts if one.both_detected]
    return PooledDuplicates(
        analyte, cas, folders, sum(one.pairs for one in parts), sum(one.both_detected for one in parts),
        sum(one.neither_detected for one in parts), sum(one.rejected for one in parts),
        max(largest, default=float("nan")), pooled_over((one.both_detected, one.pooled_rsd) for one in parts),
    )  # fmt: skip

"""What a rule answers to an example: outcome, limits, results reached, and the letters that follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vaporqa.criteria import Example, Rule
from vaporqa.errors import did_you_mean
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged
from vaporqa.outcomes import Letter, Outcome
from vaporqa.review import lay
from vaporqa.review.gathering import Pile, flip_for_air, pile_of, quiet_entries
from vaporqa.review.standings import AIR_GASES, Reach
from vaporqa.tables.values import Bool, Table, Tables

_WHOLE = "*"
_GRAVITY = (Outcome.NOT_CONCERNED, Outcome.NOT_DUE, Outcome.HOLDS, Outcome.UNPROVEN, Outcome.BROKEN)

#: Letters for a detect and for a nondetect, as OR-ed bits: of several findings they may be more than one each.
Bits = tuple[int, int]
NO_BITS: Bits = (0, 0)


@dataclass(frozen=True, slots=True)
class Case:
    """An example ready to be judged as often as its rule is changed."""

    example: Example
    tables: Tables
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Answer:
    """What a rule said of one key: the outcome, the limits that broke, the results that are reached."""

    outcome: str
    limits: frozenset[str]
    reached: frozenset[str]

    def __str__(self) -> str:
        return f"{self.outcome}: {', '.join(sorted(self.limits))}" if self.limits else self.outcome


@dataclass(frozen=True)
class Answers:
    """What one judgement of a case said, asked key by key."""

    rule: Rule
    case: Case
    judged: Sequence[Judged]

    def of(self, key: str) -> Answer | None:
        """Return what was said of the row called `key`; None where no table of the rule has such a row.

        ``*`` and ``*:subject`` are findings on a whole table.
        """
        chosen = self._entries_of(key)
        if chosen is None:
            return None
        outcome = self._whole(chosen) if key.startswith(_WHOLE) else self._state(key)
        limits: set[str] = set()
        reached: set[str] = set()
        for one, entries in zip(self.judged, chosen, strict=True):
            broken = entries & (one.outcome == Outcome.BROKEN) & (one.limit >= 0)
            limits |= {self.rule.limits[number].name for number in one.limit[broken]}
            reached |= self._reached(one, entries)
        return Answer(
            outcome.words, frozenset(limits) if outcome is Outcome.BROKEN else frozenset(), frozenset(reached)
        )

    def letters_of(self, key: str, outcome: str, limit: str) -> Bits:
        """Return the letters that the findings on `key` carry: those on `limit`, or without one those of `outcome`."""
        chosen = self._entries_of(key, own=True)
        detect = nondetect = 0
        for pile, entries, one in zip(self._piles, chosen or (), self.judged, strict=True):
            said = (
                one.outcome == Outcome.BROKEN
                if limit
                else np.array([Outcome(int(o)).words == outcome for o in one.outcome], bool)
            )
            if limit:
                said &= one.limit == [each.name for each in self.rule.limits].index(limit)
            found = (entries & said)[pile.entry]
            letters = pile.detect[found], pile.nondetect[found]
            if self._turns(key, pile):
                letters = flip_for_air(*letters)
            detect |= int(np.bitwise_or.reduce(letters[0], initial=0))
            nondetect |= int(np.bitwise_or.reduce(letters[1], initial=0))
        return detect, nondetect

    def _turns(self, key: str, pile: Pile) -> bool:
        """Whether `key` is a result of oxygen or nitrogen, on which air let in has the opposite bias."""
        results, row = self.case.evidence.results, _row_of(self.case.tables.get("results"), key)
        if not self.rule.air_let_in or pile.table != "results" or results is None or row is None:
            return False
        return self.case.evidence.analytes.cas[results.analyte[row]] in AIR_GASES

    def letters_on(self, key: str) -> Bits | None:
        """Return the letters that the rule leaves on the results row called `key`; None where there is none."""
        row = _row_of(self.case.tables.get("results"), key)
        if row is None:
            return None
        masks = self._reach.masks
        return int(masks.detect[row]), int(masks.nondetect[row])

    def no_row(self, key: str) -> str:
        """Return what to say of a key that no row has."""
        named = (self.rule.row, *self.rule.also)
        keys = [str(one) for name in named if (table := self.case.tables.get(name)) is not None for one in table.keys]
        if not key:
            return f"the example has no row of {self.rule.row}"
        return f"no row has this key; {did_you_mean(key, keys) or 'keys: ' + ', '.join(keys)}"

    # -- rows and entries --------------------------------------------------------------------------------------------

    def _table_of(self, key: str) -> tuple[str, int] | None:
        for name in (self.rule.row, *self.rule.also):
            row = _row_of(self.case.tables.get(name), key)
            if row is not None:
                return name, row
        return None

    def _entries_of(self, key: str, *, own: bool = False) -> list[Bool] | None:
        """Return which entries of each judgement stand on `key`; with `own` those on a whole table about it too."""
        if key == _WHOLE or key.startswith(f"{_WHOLE}:"):
            subject = key.removeprefix(_WHOLE).removeprefix(":")
            return [_of_whole(one, subject) for one in self.judged]
        place = self._table_of(key)
        if place is None:
            return None
        name, row = place
        chosen = []
        for one in self.judged:
            entries: Bool = (one.row == row) & ((one.table or self.rule.row) == name)
            if own and one.own is not None and (one.table or self.rule.row) == name:
                entries = entries.copy()
                entries[one.own.entry[one.own.target == row]] = True
            chosen.append(entries)
        return chosen

    def _state(self, key: str) -> Outcome:
        place = self._table_of(key)
        assert place is not None
        name, row = place
        here = [one for one in self.judged if (one.table or self.rule.row) == name]
        states = {Outcome(int(one.state[row])) for one in here if len(one.state)} or {Outcome.NOT_CONCERNED}
        return max(states, key=_GRAVITY.index)

    def _whole(self, chosen: Sequence[Bool]) -> Outcome:
        outcomes = [
            Outcome(int(code))
            for one, entries in zip(self.judged, chosen, strict=True)
            for code in one.outcome[entries]
        ]
        return max(outcomes, key=_GRAVITY.index, default=Outcome.HOLDS)

    def _reached(self, one: Judged, entries: Bool) -> set[str]:
        results = self.case.tables.get("results")
        if results is None or self.rule.reaches == "row":
            return set()
        entries = entries & ~quiet_entries(self.rule, one)
        rows = one.results.target[entries[one.results.entry]]
        samples = one.samples.target[entries[one.samples.entry]]
        if len(samples):
            rows = np.concatenate([rows, self.case.evidence.results_of_samples(np.unique(samples))])
        return {str(results.keys[row]) for row in rows if row >= 0}

    # -- letters -----------------------------------------------------------------------------------------------------

    @cached_property
    def _piles(self) -> list[Pile]:
        """One pile a judgement, its findings those entries that speak, none of them merged."""
        return [
            pile_of(0, self.rule, number, replace(one, alone=True), self.case.tables)
            for number, one in enumerate(self.judged)
        ]

    @cached_property
    def _reach(self) -> Reach:
        rules = (self.rule,)
        _, findings = lay(self.case.evidence, rules, [(0, one) for one in self.judged], self.case.tables)
        return Reach.of(self.case.evidence, rules, findings)


def letters_as_written(bits: Bits) -> str:
    """Return letters as rule files write them, several with a plus between them: ``J / UJ``."""
    return " / ".join("+".join(letter.word for letter in Letter if letter & one) or "-" for one in bits)


def _of_whole(one: Judged, subject: str) -> Bool:
    named: Bool = np.full(len(one.row), not subject)
    if one.subject is not None:
        named = np.array([str(text or "") == subject for text in one.subject], dtype=bool)
    return np.logical_and(one.row < 0, named)


def _row_of(table: Table | None, key: str) -> int | None:
    if table is None or not table.rows:
        return None
    if not key:
        return 0
    rows = np.flatnonzero(table.keys == key)
    return int(rows[0]) if len(rows) else None

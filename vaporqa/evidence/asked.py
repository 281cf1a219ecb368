"""Building a `Measured`: what was asked for, entry by entry, and what was missing."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from vaporqa.evidence.cells import Known, Moment
from vaporqa.evidence.judged import NO_FACTS, Coded, Facts, Links, Measured, Want
from vaporqa.tables.values import Bool, Float, Int64, Texts


class Asked:
    """Collects, in order, the pieces of evidence that a quantity needs, and remembers the first that is missing."""

    def __init__(self, row: Int64, concerned: Bool) -> None:
        self.row = row
        self.concerned = concerned
        self._want = np.full(len(row), -1, np.int16)
        self._hard = np.zeros(len(row), bool)
        self._wants: list[Want] = []

    @classmethod
    def going_on(cls, measured: Measured) -> Asked:
        """Go on asking where another quantity of the same entries left off."""
        asked = cls(measured.row, measured.concerned)
        asked._want, asked._hard, asked._wants = measured.want.copy(), measured.hard.copy(), list(measured.wants)
        return asked

    def need(
        self, part: Known | Moment | Bool, phrase: str, *places: tuple[str, str], rows: Bool | None = None
    ) -> None:
        """Ask for a part, of `rows` only where given; a plain bool array says where it is known."""
        known, hard = (part, None) if isinstance(part, np.ndarray) else (part.known, part.hard)
        asked = np.ones(len(self.row), bool) if rows is None else rows
        lacks = asked & ~known
        if lacks.any():
            number = len(self._wants)
            self._wants.append(Want(phrase, places))
            self._want[lacks & (self._want < 0)] = number
            if hard is not None:
                self._hard |= lacks & hard

    def need_each(self, phrases: Texts, table: str, columns: Texts, hard: Bool) -> None:
        """Ask for parts whose phrase and column differ from entry to entry; an empty phrase is not missing."""
        for phrase in sorted({str(p) for p in phrases if p}):
            rows = (phrases == phrase) & (self._want < 0)
            if rows.any():
                self._want[rows] = len(self._wants)
                self._wants.append(Want(phrase, ((table, str(columns[rows][0])),)))
        self._hard |= hard

    def hard_where(self, rows: Bool) -> None:
        """Mark what is missing on `rows` as unreadable or ambiguous."""
        self._hard |= rows

    @property
    def known(self) -> Bool:
        """Entries of which nothing needed is missing."""
        return self._want < 0

    def measured(
        self,
        value: Float,
        *,
        facts: Facts = NO_FACTS,
        samples: Links | None = None,
        results: Links | None = None,
        cases: Mapping[str, Texts | Coded] | None = None,
        table: str = "",
        noted: Bool | None = None,
        only_at_most: Bool | None = None,
        only_at_least: Bool | None = None,
        extra: Mapping[str, Float] | None = None,
    ) -> Measured:
        """Close the list: `value` counts only where nothing was missing."""
        return Measured(
            row=self.row,
            concerned=self.concerned,
            value=np.where(self.known, value, np.nan),
            want=self._want,
            wants=tuple(self._wants),
            hard=self._hard & ~self.known,
            facts=facts,
            samples=samples if samples is not None else Links.none(),
            results=results if results is not None else Links.none(),
            cases=cases or {},
            table=table,
            noted=noted,
            only_at_most=only_at_most,
            only_at_least=only_at_least,
            extra=extra or {},
        )

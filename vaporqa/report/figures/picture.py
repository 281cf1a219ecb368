"""A picture as the page shows it: the drawing, what it says in words, and the numbers that were drawn."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from vaporqa.report.figures.drawing import tag
from vaporqa.report.figures.marks import AT_MOST, BEYOND, MEANINGS, Mark, beyond, mark

Entry = TypeVar("Entry")

#: Marks that one picture draws, and rows that its table lists: the gravest ones; the rest is counted.
MARKS, LISTED = 400, 60


@dataclass(frozen=True, slots=True)
class Plotted:
    """The table of plotted numbers: some rows, how many there are in all, and the file that holds everything."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: int
    file: str

    @property
    def left_out(self) -> int:
        """Rows that the table does not list."""
        return self.total - len(self.rows)


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture.

    Attributes
    ----------
    name : str
        Its id in the page.
    title : str
    svg : str
        Markup, made by `drawing` alone.
    says : tuple of str
        Sentences: what it shows.
    leaves_out : tuple of str
        Sentences: what is not drawn, how many, and why.
    legend : tuple of (markup, words)
    plotted : Plotted
    wide : bool
        Twice as wide as the others; on a telephone it scrolls.
    """

    name: str
    title: str
    svg: str
    says: tuple[str, ...]
    leaves_out: tuple[str, ...]
    legend: tuple[tuple[str, str], ...]
    plotted: Plotted
    wide: bool = False


def legend(
    kinds: Iterable[Mark], *, tails: bool = False, heads: bool = False, more: Sequence[tuple[str, str]] = (),
    meanings: dict[Mark, str] = MEANINGS,
) -> tuple[tuple[str, str], ...]:  # fmt: skip
    """Return the shapes that a picture uses, each with its meaning."""
    out = [(swatch(mark(kind, 10, 10)), meanings[kind]) for kind in sorted(set(kinds))]
    if tails:
        out.append((swatch(mark(Mark.HOLDS, 14, 10, tail="left")), AT_MOST))
    if heads:
        out.append((swatch(beyond(3, 10, high=True)), BEYOND))
    return (*out, *more)


def swatch(drawn: str) -> str:
    """Return a shape beside its meaning."""
    return tag("svg", drawn, class_="shape", viewBox="0 0 20 20", aria_hidden="true")


def plotted(columns: Sequence[str], rows: Sequence[Sequence[str]], total: int, file: str) -> Plotted:
    """Return the table of plotted numbers: at most `LISTED` rows of `total`."""
    return Plotted(tuple(columns), tuple(tuple(row) for row in rows[:LISTED]), total, file)

"""What to ask for, and of whom: the pieces of evidence that were wanted, in the words of a letter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Letter, Outcome
from vaporqa.report.digest import counted
from vaporqa.report.places import header_of, row_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import visible
from vaporqa.review.evidence_matrix import EvidenceMatrix, Piece, Reviewed, Unread
from vaporqa.review.values import Review
from vaporqa.tables.dictionary import SUPPLIERS, TABLES, ColumnSpec

#: Keys, cells and sentences that a letter names of one piece; the .csv holds all of them.
SHOWN = 12
#: What a cell of a kind must hold.
_NEEDED = {
    "number": "a number", "percent": "a number in per cent", "fraction": "a number from 0 to 1",
    "quantity": "a number in the unit of its column", "amount": "a number, with its mark where it is a nondetect",
    "time": "a date and time that occurs once in its zone", "yes_no": "yes or no", "unit": "a unit of concentration",
    "span": "a range, as 70-130", "coordinate": "a number", "id": "an id that stands on the form it points to",
}  # fmt: skip
_ROWS_OF = {
    "samples": "sample", "probes": "probe", "locations": "location", "containers": "container", "results": "result",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell that cannot be read: where it stands, the cell, what is needed instead."""

    place: str
    cell: str
    needed: str


@dataclass(frozen=True, slots=True)
class Request:
    """One thing to ask for.

    Attributes
    ----------
    number : int
        From 1, through all suppliers.
    what : str
        What is wanted, in plain words.
    where : str
        The form and the column, and what would do as well.
    keys : tuple of (noun, keys)
        For which rows: all keys, the noun in the singular.
    cells : tuple of Cell
        Cells that cannot be read, all of them.
    reasons : tuple of str
        Where what is on record breaks a rule: its sentences, all of them.
    why : tuple of (rule id, title)
    settles : str
        How many results hang on it.
    """

    number: int
    piece: Piece
    what: str
    where: str
    keys: tuple[tuple[str, tuple[str, ...]], ...]
    cells: tuple[Cell, ...]
    reasons: tuple[str, ...]
    why: tuple[tuple[str, str], ...]
    settles: str


@dataclass(frozen=True, slots=True)
class RequestList:
    """Everything to ask for, by supplier, what would settle most first.

    `silent` are pieces that only rules want that say nothing of their absence; `left_out` are the topics and rules not
    reviewed on purpose, with the reason; `above` are rules above the declared stage.
    """

    project: str
    opening: str
    groups: tuple[tuple[str, tuple[Request, ...]], ...]
    silent: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]
    above: tuple[str, ...]
    stage: str

    @property
    def requests(self) -> tuple[Request, ...]:
        """All of them, supplier by supplier."""
        return tuple(one for _, group in self.groups for one in group)


def requests_of(review: Review, matrix: EvidenceMatrix, sentences: Sentences) -> RequestList:
    """Turn the pieces of evidence that findings hang on into requests."""
    asked = [piece for piece in matrix.pieces if piece.asked_for]
    groups = []
    number = 0
    titles = {line.rule.id: line.rule.title for line in matrix.rules}
    for supplier in SUPPLIERS:
        own = []
        for piece in asked:
            if piece.supplier == supplier:
                number += 1
                own.append(_request(review, number, piece, titles, sentences))
        if own:
            groups.append((supplier, tuple(own)))
    return RequestList(
        project=visible(review.project.name or "Unnamed project", 120),
        opening=_opening(matrix, number),
        groups=tuple(groups),
        silent=tuple(_silent(piece) for piece in matrix.pieces if not piece.asked_for and not piece.follows),
        left_out=tuple(
            (visible(name, 80), visible(why, 300)) for name, why in sorted(review.project.leave_out.items())
        ),
        above=tuple(line.rule.title for line in matrix.rules if line.reviewed is Reviewed.ABOVE_STAGE),
        stage=review.project.stage,
    )


def _opening(matrix: EvidenceMatrix, number: int) -> str:
    if not number:
        return "Nothing is asked for: no finding hangs on evidence that is missing, unreadable or contradicts itself."
    held = matrix.unproven
    if not held:
        return (
            f"{counted(number, 'thing').capitalize()} to supply or to put right. No result is unproven for want of it."
        )
    are = "is" if held == 1 else "are"
    return (
        f"{counted(held, 'result')} {are} unproven: it cannot be said whether they can be relied on. The list asks for "
        f"{counted(number, 'thing')} that {'is' if number == 1 else 'are'} missing, cannot be read, or "
        f"{'contradicts' if number == 1 else 'contradict'} what else is on record; what would settle most results "
        "stands first."
    )


def _request(
    review: Review, number: int, piece: Piece, titles: dict[str, str], sentences: Sentences
) -> Request:  # fmt: skip
    why = tuple((one.rule, titles.get(one.rule, one.rule)) for one in piece.wants if one.judgements)
    return Request(
        number=number, piece=piece, what=_what(piece), where=_where(review, piece),
        keys=tuple((noun_of(name), tuple(visible(key, 80) for key in keys)) for name, keys in piece.subjects.items()),
        cells=tuple(cell_of(review, piece, one) for one in piece.unread),
        reasons=_reasons(review, piece, sentences), why=why, settles=settles(piece),
    )  # fmt: skip


def _what(piece: Piece) -> str:
    if piece.follows:
        return "Evidence of any kind on the quality of results of which no rule could judge anything"
    if piece.shown_otherwise:
        return f"To be cleared up by another record or a correction: {_small(piece.phrase)}"
    phrase = piece.phrase
    if piece.phrase == f"the {piece.column.replace('_', ' ')}":
        spec = _column(piece)
        phrase = f"the entry '{piece.column}'{f' ({spec.about})' if spec is not None and spec.about else ''}"
    return visible(phrase[:1].upper() + phrase[1:], 300)


def _small(title: str) -> str:
    return visible(title[:1].lower() + title[1:], 300)


def _where(review: Review, piece: Piece) -> str:
    instead = "; ".join(_place_words(review, table, column) for table, column in piece.instead)
    also = f"; or instead: {instead}" if instead else ""
    if not piece.column:
        return f"wanted for rows of {_form(review, piece.table)}"
    return _place_words(review, piece.table, piece.column) + also


def _place_words(review: Review, table: str, column: str) -> str:
    if table not in TABLES:
        return f"project.yaml, key '{column}'"
    found = review.tables.get(table)
    form = _form(review, table)
    if column == "*":
        return f"the whole {form}" if found is None else f"a row on {form}"
    if found is None:
        return f"column '{column}' of {form}"
    if column not in found:
        return f"{form}, which has no column '{column}'"
    return f"{form}, column '{visible(header_of(found, -1, column), 80)}'"


def _form(review: Review, table: str) -> str:
    found = review.tables.get(table)
    name = f"form '{table}'"
    if found is None:
        return f"{name} (not supplied)"
    files = [visible(file, 60) for file in dict.fromkeys(found.files) if file]
    shown = ", ".join(files[:2]) + (f" and {len(files) - 2} more files" if len(files) > 2 else "")
    return f"{name} ({shown})" if shown else name


def noun_of(table: str) -> str:
    """Return what one row of a table is called in a letter."""
    return _ROWS_OF.get(table, f"{table.removesuffix('s').replace('_', ' ')} row")


def _column(piece: Piece) -> ColumnSpec | None:
    spec = TABLES.get(piece.table)
    return spec.column(piece.column) if spec is not None else None


def cell_of(review: Review, piece: Piece, unread: Unread) -> Cell:
    """Return where an unreadable cell stands (file, line and number of its column), the cell, and what is needed."""
    table = review.tables.get(piece.table)
    place = ""
    if table is not None:
        place = row_place(table, unread.row)
        number = int(table.cells.column_number(unread.row, piece.column)) if table.cells is not None else 0
        place += f":{number}" if number else ""
    spec = _column(piece)
    needed = "what should stand there"
    if spec is not None and spec.kind == "word":
        needed = f"one of {', '.join(spec.words)}"
    elif spec is not None:
        needed = _NEEDED.get(spec.kind, needed)
    if piece.column == "lab_flag":
        needed = "what the laboratory means by this flag"
    nearest = f"; it may mean {visible(unread.nearest, 120).rstrip('?')}" if unread.nearest else ""
    if unread.rule == "local-time-exists":
        needed, nearest = "the time with its offset from UTC", f" ({visible(unread.nearest, 160)})"
    return Cell(visible(place, 160), visible(unread.cell, 80), f"{needed}{nearest}")


def _reasons(review: Review, piece: Piece, sentences: Sentences) -> tuple[str, ...]:
    if not piece.shown_otherwise:
        return ()
    rule = piece.wants[0].rule
    found = review.findings
    of_rule = np.array([one.id == rule for one in review.rules], bool)[found.rule]
    of_table = np.array([name == piece.table for name in found.tables], bool)[found.table]
    open_ = ((found.detect | found.nondetect) & int(Letter.UNPROVEN)) != 0
    index = np.flatnonzero(of_rule & of_table & open_ & (found.outcome == Outcome.BROKEN))
    return tuple(dict.fromkeys(visible(text, 500) for text in sorted(sentences.of(index.tolist()))))


def settles(piece: Piece) -> str:
    """Return how many results hang on a piece of evidence, as a sentence."""
    number, alone = piece.unproven, piece.alone
    of = "because of it" if piece.shown_otherwise else "for want of it"
    if not number:
        return f"No result is unproven {of}."
    start = f"{counted(number, 'result')} {'is' if number == 1 else 'are'} unproven {of}"
    if alone == number:
        return f"{start} alone."
    return f"{start}, {alone:,} of them {of} alone." if alone else f"{start} and of other things besides."


def _silent(piece: Piece) -> str:
    rules = ", ".join(one.rule for one in piece.wants)
    times = sum(one.silent for one in piece.wants)
    return f"{visible(piece.phrase, 200)} ({counted(times, 'judgement')}; {visible(rules, 200)})"


def some(keys: Sequence[str], noun: str, at_most: int = SHOWN) -> str:
    """Return the first keys and how many there are: ``3 samples: A, B and C``.

    Examples
    --------
    >>> some(["A", "B", "C"], "sample", 2)
    '3 samples: A, B and 1 more'
    """
    name = counted(len(keys), noun)
    shown = list(keys[:at_most])
    if len(keys) > at_most:
        return f"{name}: {', '.join(shown)} and {len(keys) - at_most:,} more"
    listed = f"{', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else "".join(shown)
    return f"{name}: {listed}"


__all__ = ["SHOWN", "Cell", "Request", "RequestList", "cell_of", "noun_of", "requests_of", "settles", "some"]

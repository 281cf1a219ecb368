"""Rules against evidence for review.json and for the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from vaporqa.report.digest import counted
from vaporqa.report.requests import noun_of, settles
from vaporqa.report.wording import visible
from vaporqa.review.evidence_matrix import EvidenceMatrix, Piece, Reviewed, RuleLine, Wanted
from vaporqa.tables.dictionary import SUPPLIERS

#: Pieces named in one cell of the matrix, and under one supplier.
_IN_A_CELL, _OF_A_SUPPLIER = 5, 8


def evidence_json(matrix: EvidenceMatrix) -> dict[str, Any]:
    """Return the matrix as JSON values.

    The shape::

        {"results_unproven": n, "results_unproven_otherwise": n,
         "rules": [{"rule", "topic", "reviewed", "reason", "concerned", "holds", "broken", "unproven", "silent",
                    "wants": [{"evidence": index into "pieces", "phrase", "judgements", "unreadable", "findings",
                               "silent"}]}],
         "pieces": [{"table", "column", "phrase", "instead": ["table.column"], "supplier", "asked_for", "absent",
                     "shown_otherwise", "rules", "rows", "silent", "samples", "rows_of": {table: [key]},
                     "unreadable_cells": n, "results_unproven", "results_unproven_for_this_alone"}]}

    `reviewed` is a word of `Reviewed`; counts are null for a rule that is not in force. Pieces stand in the order of
    what would settle most. Keys are those of every row for which a finding says that the piece is wanted.
    """
    return {
        "results_unproven": matrix.unproven,
        "results_unproven_otherwise": matrix.otherwise_unproven,
        "rules": [_rule_json(line) for line in matrix.rules],
        "pieces": [_piece_json(piece) for piece in matrix.pieces],
    }


def _rule_json(line: RuleLine) -> dict[str, Any]:
    count = line.count
    return {
        "rule": line.rule.id,
        "topic": line.rule.topic,
        "reviewed": line.reviewed.value,
        "reason": line.reason,
        "concerned": count.concerned if count is not None else None,
        "holds": count.holds if count is not None else None,
        "broken": count.broken if count is not None else None,
        "unproven": count.unproven if count is not None else None,
        "silent": count.silent if count is not None else None,
        "wants": [_want_json(one) for one in line.wants],
    }


def _want_json(one: Wanted) -> dict[str, Any]:
    return {
        "evidence": one.piece, "phrase": one.phrase, "judgements": one.judgements, "unreadable": one.unreadable,
        "findings": one.findings, "silent": one.silent,
    }  # fmt: skip


def _piece_json(piece: Piece) -> dict[str, Any]:
    return {
        "table": piece.table,
        "column": piece.column,
        "phrase": piece.phrase,
        "instead": [f"{table}.{column}" for table, column in piece.instead],
        "supplier": piece.supplier,
        "asked_for": piece.asked_for,
        "absent": piece.absent,
        "shown_otherwise": piece.shown_otherwise,
        "rules": [one.rule for one in piece.wants],
        "rows": piece.rows,
        "silent": sum(one.silent for one in piece.wants),
        "samples": piece.samples,
        "rows_of": {name: list(keys) for name, keys in piece.subjects.items()},
        "unreadable_cells": len(piece.unread),
        "results_unproven": piece.unproven,
        "results_unproven_for_this_alone": piece.alone,
    }


@dataclass(frozen=True, slots=True)
class MatrixLine:
    """One rule that broke, left something unproven or wanted something: numbers as texts, and what it wanted."""

    title: str
    rule: str
    holds: str
    broken: str
    unproven: str
    wanted: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TopicLines:
    """The rules of one topic: those with something to say, and the others as (what is said of them, titles)."""

    title: str
    lines: tuple[MatrixLine, ...]
    others: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class AskedLine:
    """One piece as the page lists it under its supplier."""

    what: str
    place: str
    settles: str


@dataclass(frozen=True, slots=True)
class EvidenceLines:
    """The section of the page: pieces by supplier, then rules by topic; what does not fit is counted."""

    asked: tuple[tuple[str, tuple[AskedLine, ...], int], ...]
    topics: tuple[TopicLines, ...]
    left_out: int


def evidence_lines(matrix: EvidenceMatrix, at_most: int) -> EvidenceLines:
    """Lay out the matrix for the page.

    Parameters
    ----------
    matrix : EvidenceMatrix
    at_most : int
        Rules that get a line of their own.
    """
    asked = []
    for supplier in SUPPLIERS:
        own = [piece for piece in matrix.pieces if piece.asked_for and piece.supplier == supplier]
        if own:
            shown = tuple(AskedLine(_what(piece), _place(piece), settles(piece)) for piece in own[:_OF_A_SUPPLIER])
            asked.append((supplier, shown, len(own) - len(shown)))
    talking = [line for line in matrix.rules if _talks(line)]
    shown_rules = {line.rule.id for line in talking[:at_most]}
    topics = []
    for topic in dict.fromkeys(line.topic for line in matrix.rules):
        of_topic = [line for line in matrix.rules if line.topic == topic]
        lines = tuple(_line(line, matrix) for line in of_topic if line.rule.id in shown_rules)
        topics.append(TopicLines(topic, lines, _others([line for line in of_topic if not _talks(line)])))
    return EvidenceLines(tuple(asked), tuple(topics), len(talking) - len(shown_rules))


def _talks(line: RuleLine) -> bool:
    return bool(line.wants) or (line.count is not None and line.count.broken + line.count.unproven > 0)


def _others(lines: list[RuleLine]) -> tuple[tuple[str, str], ...]:
    said: dict[str, list[str]] = {}
    for line in lines:
        if line.reviewed is Reviewed.JUDGED and line.count is not None:
            said.setdefault("Hold on every row", []).append(f"{line.rule.title} ({line.count.holds:,})")
            continue
        why = f"Not reviewed, {line.reviewed.value}" if line.count is None else "Concerned no row"
        said.setdefault(f"{why} ({line.reason})" if line.reason else why, []).append(line.rule.title)
    return tuple((visible(why, 300), visible("; ".join(titles), 2000)) for why, titles in said.items())


def _line(line: RuleLine, matrix: EvidenceMatrix) -> MatrixLine:
    count = line.count
    wanted = [_wanted(one, matrix.pieces[one.piece]) for one in line.wants[:_IN_A_CELL]]
    more = len(line.wants) - len(wanted)
    if more:
        wanted.append(f"and {more} more")
    numbers = (count.holds, count.broken, count.unproven) if count is not None else (0, 0, 0)
    holds, broken, unproven = (f"{number:,}" if number else "" for number in numbers)
    return MatrixLine(line.rule.title, line.rule.id, holds, broken, unproven, tuple(wanted))


def _wanted(one: Wanted, piece: Piece) -> str:
    if piece.shown_otherwise:
        return f"another record or a correction ({one.judgements:,})"
    parts = []
    if one.unreadable and one.unreadable == one.judgements:
        parts.append(f"{one.unreadable:,}, which cannot be read")
    elif one.judgements:
        unread = f", {one.unreadable:,} of which cannot be read" if one.unreadable else ""
        parts.append(f"{one.judgements:,}{unread}")
    if one.silent:
        parts.append(f"{one.silent:,} passed over in silence")
    place = f"{piece.table}.{piece.column}" if piece.column not in ("", "*") else ""
    phrase = visible(one.phrase, 160)
    named = place if place and one.phrase == _plain_name(piece) else f"{phrase}, {place}" if place else phrase
    return f"{named} ({'; '.join(parts)})"


def _plain_name(piece: Piece) -> str:
    return f"the {piece.column.replace('_', ' ')}"


def _what(piece: Piece) -> str:
    phrase = visible(piece.phrase, 200)
    return f"to be cleared up: {phrase[:1].lower()}{phrase[1:]}" if piece.shown_otherwise else phrase


def _place(piece: Piece) -> str:
    if piece.column == "*":
        place = f"{piece.table}, a row"
    else:
        place = f"{piece.table}.{piece.column}" if piece.column else piece.table
    keys = [counted(len(names), noun_of(name)) for name, names in piece.subjects.items()]
    return f"{place}; {', '.join(keys)}" if keys else place


__all__ = ["AskedLine", "EvidenceLines", "MatrixLine", "TopicLines", "evidence_json", "evidence_lines"]

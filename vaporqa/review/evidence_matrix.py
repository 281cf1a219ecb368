"""Rules against evidence: what each rule judged, what it wanted and did not find, and what that would settle.

A *piece* of evidence is a cell that a rule wanted: a column of a table, a row of it (`*`), or, where no single cell
could hold it, what a person calls it. Wants that name several places are one piece under the first of them: whoever
fills that in satisfies every rule, and a place stands among `instead` only where it would satisfy every rule as well.
A rule that is broken and leaves rows unproven (no purge is on record, two records contradict each other) wants a piece
too: another record, or a correction, that shows what its title says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Judged, Labels, Want
from vaporqa.outcomes import Outcome
from vaporqa.review.gathering import broken_and_open, quiet_entries
from vaporqa.review.lacking import Held, held_open, names_of_rows
from vaporqa.review.unjudged import RESULT_JUDGED
from vaporqa.review.values import Review, RuleCount
from vaporqa.tables.dictionary import SUPPLIERS, TABLES, supplier_of
from vaporqa.tables.values import Bool, Int64

Place = tuple[str, str]
#: Topic whose rules make no findings: what they lack is counted as passed over in silence.
_CAUTIONS = "cautions"
_NOT_NAMED = "the evidence for it"


class Reviewed(StrEnum):
    """Whether a rule judged anything, and why not."""

    JUDGED = "judged"
    NO_ROW = "concerned no row"
    LEFT_OUT = "left out on purpose"
    ABOVE_STAGE = "above the declared stage"
    OFF = "not turned on"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What one rule wanted of one piece.

    Attributes
    ----------
    rule : str
    piece : int
        Index into `EvidenceMatrix.pieces`.
    phrase : str
        As the rule puts it, the most frequent one.
    judgements, unreadable : int
        Judgements that earned a finding for want of it, and those of them where something stands in the cell that
        cannot be read or is ambiguous. Of a piece that is `shown_otherwise`: judgements that broke the rule.
    findings : int
        Findings that say so; one on a whole table stands for many judgements.
    silent : int
        Judgements that lacked it and earned nothing.
    """

    rule: str
    piece: int
    phrase: str
    judgements: int
    unreadable: int
    findings: int
    silent: int


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule of the matrix: what it judged, what it wanted, or why it was not reviewed.

    `count` is None for a rule that is not in force; `reason` is empty for one that is.
    """

    rule: Rule
    topic: str
    reviewed: Reviewed
    reason: str
    count: RuleCount | None
    wants: tuple[Wanted, ...]


@dataclass(frozen=True, slots=True)
class Unread:
    """A cell that cannot be read: its row of the piece's table, the cell as it stands, the nearest reading if any."""

    row: int
    cell: str
    nearest: str
    rule: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of evidence that was wanted and is not there.

    Attributes
    ----------
    table, column : str
        `*` for a row or the whole table; column empty where no single cell could hold it (`table` is then the table on
        whose rows it was wanted).
    phrase : str
        What a person calls it.
    instead : tuple of (table, column)
        Places that would do as well, for every rule that wanted it.
    supplier : str
        One of `SUPPLIERS`.
    absent : bool
        The folder has no such column or table at all.
    wants : tuple of Wanted
        By rule, in rulebook order.
    rows : int
        Distinct rows, of whatever table, of which a finding says that it is missing.
    samples : int
        Distinct samples that these rows name or hang on.
    subjects : mapping
        Table to the keys of its rows for which it is wanted, in order: of the piece's own table where the rows can be
        found, else of the samples, else of the table on whose rows it was wanted.
    own_rows : int64 (k,)
        Rows of the piece's own table among them.
    unread : tuple of Unread
    unproven, alone : int
        Result rows that are unproven now for want of it, and those of them that lack nothing else.
    follows : bool
        It only says that nothing else proved a result; it stands in nobody's way.
    shown_otherwise : bool
        Nothing is missing or unreadable, but what is on record breaks a rule and leaves rows unproven.
    """

    table: str
    column: str
    phrase: str
    instead: tuple[Place, ...]
    supplier: str
    absent: bool
    wants: tuple[Wanted, ...]
    rows: int
    samples: int
    subjects: Mapping[str, tuple[str, ...]]
    own_rows: Int64
    unread: tuple[Unread, ...]
    unproven: int
    alone: int
    follows: bool = False
    shown_otherwise: bool = False

    @property
    def asked_for(self) -> bool:
        """Whether a finding hangs on it (what rules pass over in silence is not asked for)."""
        return any(one.judgements for one in self.wants) and not (self.follows and not self.alone)


@dataclass(frozen=True, slots=True)
class EvidenceMatrix:
    """Rules in rulebook order, and pieces of evidence, what would settle most first.

    `otherwise_unproven` counts result rows that are unproven for a reason that no piece would mend.
    """

    rules: tuple[RuleLine, ...]
    pieces: tuple[Piece, ...]
    unproven: int
    otherwise_unproven: int


@dataclass(slots=True)
class _Part:
    """Entries of one judged table that want one piece."""

    rule: int
    judged: int
    phrase: str
    places: tuple[Place, ...]
    entry: Int64
    quiet: Bool
    broken: bool = False


def evidence_matrix_of(review: Review) -> EvidenceMatrix:
    """Lay the rules of a review against the evidence that they wanted."""
    parts, of_entry = _parts(review)
    names = list(parts)
    piece_of = np.full(len(review.findings), -1, np.int64)
    for judged, of in of_entry.items():
        said = np.flatnonzero(review.findings.judged == judged)
        piece_of[said] = of[review.findings.entry[said]]
    follows = np.array([review.rules[parts[name][0].rule].id == RESULT_JUDGED.id for name in names], bool)
    held = held_open(review, piece_of, len(names), follows)
    pieces = [_piece(review, number, name, parts[name], piece_of, held) for number, name in enumerate(names)]
    order = sorted(range(len(pieces)), key=lambda number: _rank(pieces[number]))
    pieces = [_renumbered(pieces[number], at) for at, number in enumerate(order)]
    return EvidenceMatrix(_lines(review, pieces), tuple(pieces), held.total, held.otherwise)


def _parts(review: Review) -> tuple[dict[tuple[str, str, str], list[_Part]], dict[int, Int64]]:
    """Entries by piece, and the piece of each entry of each judged table."""
    out: dict[tuple[str, str, str], list[_Part]] = {}
    of_entry: dict[int, Int64] = {}
    for number, (index, judged) in enumerate(review.judged):
        rule = review.rules[index]
        home = judged.table or rule.row
        unproven = judged.outcome == Outcome.UNPROVEN
        broken = broken_and_open(rule, judged) if rule.topic != _CAUTIONS else np.zeros(len(unproven), bool)
        if not (unproven | broken).any():
            continue
        quiet = np.ones(len(unproven), bool) if rule.topic == _CAUTIONS else quiet_entries(rule, judged)
        of_entry[number] = np.full(len(unproven), -1, np.int64)
        for want, entry in _wants(rule, judged, home, unproven):
            table, column = want.places[0] if want.places else (home, "")
            name = (table, column, "" if column else want.phrase)
            found = out.setdefault(name, [])
            of_entry[number][entry] = list(out).index(name)
            found.append(_Part(index, number, want.phrase, want.places, entry, quiet[entry]))
        if broken.any():
            name = (home, "", f"{rule.id}: {rule.title}")
            entry = np.flatnonzero(broken)
            out.setdefault(name, []).append(
                _Part(index, number, rule.title, (), entry, np.zeros(len(entry), bool), broken=True)
            )
            of_entry[number][entry] = list(out).index(name)
    return out, of_entry


def _wants(rule: Rule, judged: Judged, home: str, unproven: Bool) -> list[tuple[Want, Int64]]:
    """What the unproven entries lack; of a cell that cannot be read, the column in which it stands."""
    column = judged.facts.get("column")
    if rule.check == "reading" and isinstance(column, Labels):
        named = np.where(unproven, column.values, "").astype(str)
        cells = [
            (Want(f"the {name.replace('_', ' ')}", ((home, name),)), np.flatnonzero(unproven & (named == name)))
            for name in sorted(set(named.tolist()) - {""})
        ]
        unproven = unproven & (named == "")
        if not unproven.any():
            return cells
    else:
        cells = []
    for number, want in enumerate([*judged.wants, Want(_NOT_NAMED)]):
        wanted = judged.want == number if number < len(judged.wants) else judged.want < 0
        entry = np.flatnonzero(unproven & wanted)
        if entry.size:
            cells.append((want, entry))
    return cells


def _piece(
    review: Review, number: int, name: tuple[str, str, str], parts: list[_Part], piece_of: Int64, held: Held
) -> Piece:
    table, column, _ = name
    follows = bool(held.follows[number])
    wants: dict[int, Wanted] = {}
    phrases: dict[str, int] = {}
    said: list[tuple[str, Int64]] = []
    unread: list[Unread] = []
    counted: set[int] = set()
    for part in parts:
        index, judged = review.judged[part.judged]
        home = judged.table or review.rules[index].row
        reading = review.rules[index].check == "reading"
        loud = part.entry[~part.quiet]
        # Two wants of one rule may be one piece: their findings are the same ones.
        found = 0
        if part.judged not in counted:
            counted.add(part.judged)
            found = int(((piece_of == number) & (review.findings.judged == part.judged)).sum())
        before = wants.get(part.rule)
        # What a rule of reading calls a cell is its column's name: any other rule knows better.
        weight = len(part.entry) * (1 if reading else 1_000_000)
        phrases[part.phrase] = phrases.get(part.phrase, 0) + weight
        wants[part.rule] = Wanted(
            review.rules[index].id, number, before.phrase if before is not None else part.phrase,
            (before.judgements if before is not None else 0) + len(loud),
            (before.unreadable if before is not None else 0) + _unreadable(judged, loud),
            (before.findings if before is not None else 0) + found,
            (before.silent if before is not None else 0) + int(part.quiet.sum()),
        )  # fmt: skip
        rows = _rows(judged, loud)
        said.append((home, rows))
        if reading and not part.broken:
            unread.extend(_unread(review.rules[index].id, judged, loud))
    if follows:
        said = [("results", held.alone[number])]
    subjects, own_rows, samples = names_of_rows(review, table if column else "", said)
    instead = [place for place in parts[0].places[1:] if all(place in part.places for part in parts)]
    return Piece(
        table=table, column=column,
        phrase=min(phrases, key=lambda phrase: (-phrases[phrase], phrase)),
        instead=tuple(instead), supplier=supplier_of(table, column or "*"), absent=_is_absent(review, table, column),
        wants=tuple(wants[rule] for rule in sorted(wants)),
        rows=sum(len(rows) for _, rows in _together(said)), samples=samples, subjects=subjects, own_rows=own_rows,
        unread=tuple(sorted(unread, key=lambda one: (one.row, one.rule))),
        unproven=len(held.alone[number]) if follows else held.unproven[number], alone=len(held.alone[number]),
        follows=follows, shown_otherwise=parts[0].broken,
    )  # fmt: skip


def _unreadable(judged: Judged, entry: Int64) -> int:
    """Entries of which something stands in the cell; a cell that must be filled and is not is merely empty."""
    cell = judged.facts.get("cell")
    filled = cell.values[entry].astype(str) != "" if isinstance(cell, Labels) else np.ones(len(entry), bool)
    return int((judged.hard[entry] & filled).sum())


def _rows(judged: Judged, entry: Int64) -> Int64:
    """Rows on which entries sit; of one on a whole table, the rows that it is about."""
    rows = judged.row[entry]
    if judged.own is not None and (rows < 0).any():
        rows = np.concatenate([rows, judged.own.target[np.isin(judged.own.entry, entry[rows < 0])]])
    return np.unique(rows[rows >= 0])


def _together(said: list[tuple[str, Int64]]) -> list[tuple[str, Int64]]:
    tables = dict.fromkeys(table for table, _ in said)
    return [(table, np.unique(np.concatenate([rows for home, rows in said if home == table]))) for table in tables]


def _unread(rule: str, judged: Judged, entry: Int64) -> list[Unread]:
    cell, detail = judged.facts.get("cell"), judged.facts.get("detail")
    if not isinstance(cell, Labels) or not isinstance(detail, Labels):
        return []
    return [
        Unread(row, str(cell.values[at]), str(detail.values[at]), rule)
        for at in entry.tolist()
        for row in _rows(judged, np.array([at], np.int64)).tolist()
    ]


def _is_absent(review: Review, table: str, column: str) -> bool:
    found = review.tables.get(table)
    if not column or table not in TABLES:
        return False
    return found is None or (column != "*" and column not in found)


def _rank(piece: Piece) -> tuple[object, ...]:
    names = list(TABLES)
    spec = TABLES.get(piece.table)
    columns = [column.name for column in spec.columns] if spec is not None else []
    return (
        -piece.unproven, -piece.alone, -piece.rows, -sum(one.silent for one in piece.wants),
        SUPPLIERS.index(piece.supplier), names.index(piece.table) if piece.table in names else len(names),
        columns.index(piece.column) if piece.column in columns else -1, piece.column, piece.phrase,
    )  # fmt: skip


def _renumbered(piece: Piece, number: int) -> Piece:
    return replace(piece, wants=tuple(replace(one, piece=number) for one in piece.wants))


def _lines(review: Review, pieces: list[Piece]) -> tuple[RuleLine, ...]:
    counts = {one.rule: one for one in review.coverage.rules}
    wants: dict[str, list[Wanted]] = {}
    for piece in pieces:
        for one in piece.wants:
            wants.setdefault(one.rule, []).append(one)
    in_force = {rule.id: rule for rule in review.rules}
    booked = {rule.id for rule in review.rulebook.rules}
    rules = [*review.rulebook.rules, *(rule for rule in review.rules if rule.id not in booked)]
    out = []
    for rule in rules:
        topic = review.rulebook.topics.get(rule.topic, (rule.topic, ""))[0]
        if rule.id in in_force:
            count = counts.get(rule.id)
            reviewed = Reviewed.JUDGED if count is not None and count.concerned else Reviewed.NO_ROW
            out.append(RuleLine(rule, topic, reviewed, "", count, tuple(wants.get(rule.id, ()))))
        else:
            reviewed, reason = _why_not(review, rule)
            out.append(RuleLine(rule, topic, reviewed, reason, None, ()))
    return tuple(out)


def _why_not(review: Review, rule: Rule) -> tuple[Reviewed, str]:
    left_out = review.project.leave_out
    if rule.off:
        return Reviewed.OFF, "no profile turns it on"
    if rule.stage > review.project.stage:
        reason = f"needs validation stage {rule.stage}; this review is declared for stage {review.project.stage}"
        return Reviewed.ABOVE_STAGE, reason
    return Reviewed.LEFT_OUT, left_out.get(rule.id, left_out.get(rule.topic, ""))


__all__ = ["EvidenceMatrix", "Piece", "Reviewed", "RuleLine", "Unread", "Wanted", "evidence_matrix_of"]

"""What hangs on missing evidence: the result rows that it holds open, and the rows, samples and probes to name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from vaporqa.evidence.conditions import rows_elsewhere
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.outcomes import Letter, Standing
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int16, Int64, Table, Texts

_OPEN = int(Letter.UNPROVEN)
#: Tables of whose rows the key can be told from a row elsewhere.
_POINTED_AT = ("samples", "probes", "locations", "containers")


@dataclass(frozen=True, slots=True)
class Held:
    """Result rows held open, by piece of evidence; exact copies and runs that are set aside are not counted.

    Attributes
    ----------
    unproven : tuple of int
        Result rows that are unproven, and for want of the piece among others.
    alone : tuple of int64 (k,)
        Rows among these that lack no other piece.
    follows : bool (p,)
        Pieces that only say that nothing else proved the row.
    total, otherwise : int
        Unproven result rows, and those of them to which no piece bears.
    """

    unproven: tuple[int, ...]
    alone: tuple[Int64, ...]
    follows: Bool
    total: int
    otherwise: int


def held_open(review: Review, piece_of: Int64, pieces: int, follows: Bool) -> Held:
    """Follow the findings that leave results unproven to the rows, by what each lacks.

    Parameters
    ----------
    piece_of : int64 (m,)
        Piece by finding; -1 for a finding that lacks nothing (a rule may leave a row unproven for being broken).
    pieces : int
    follows : bool (pieces,)
    """
    evidence, table = review.evidence, review.tables.get("results")
    nothing = np.empty(0, np.int64)
    if evidence.results is None or table is None or "results" not in review.settled:
        return Held((0,) * pieces, (nothing,) * pieces, follows, 0, 0)
    counts: Bool = table.counts & (evidence.runs.counts_for < 0)
    waits = counts & (review.settled["results"].standing == Standing.UNPROVEN)
    in_the_way = np.zeros(table.rows, np.int64)
    masks: list[Int64] = []
    touched = np.zeros(table.rows, bool)
    for piece in range(-1, pieces):
        mask = _held_by(review, piece_of == piece) & waits
        if piece < 0 or not follows[piece]:
            in_the_way += mask
        if piece >= 0:
            touched |= mask
            masks.append(np.flatnonzero(mask).astype(np.int64))
    alone = tuple(
        rows[in_the_way[rows] == (0 if follows[piece] else 1)] for piece, rows in enumerate(masks)
    )  # fmt: skip
    return Held(
        tuple(len(rows) for rows in masks), alone, follows, int(waits.sum()), int((waits & ~touched).sum())
    )  # fmt: skip


def _held_by(review: Review, chosen: Bool) -> Bool:
    """Result rows that some of the chosen findings leave open, by the letter for the row's own status, (n,)."""
    found, results = review.findings, review.evidence.results
    assert results is not None
    n = len(results.detected)
    chosen = chosen & (((found.detect | found.nondetect) & _OPEN) != 0)
    out = np.zeros(n, bool)
    if not chosen.any() and not len(found.results_detect):
        return out
    here = np.array([name == "results" for name in found.tables], bool)[found.table]
    keep = (chosen & here)[found.own.entry]
    entry, row = found.own.entry[keep], found.own.target[keep]
    _mark(out, row, found.detect[entry], found.nondetect[entry], results.detected[row])
    _mark_reached(out, review, chosen)
    keep = chosen[found.samples.entry]
    entry, target = found.samples.entry[keep], found.samples.target[keep]
    spares = np.array([rule.spares_tracer for rule in review.rules], bool)[found.rule[entry]]
    takes = review.takes_sample_findings & (results.sample >= 0)
    own_tracer = review.own_tracer if len(review.own_tracer) else np.zeros(n, bool)
    for of_tracer in (False, True):
        some = ~spares if of_tracer else np.ones(len(entry), bool)
        detect, nondetect = np.zeros((2, review.evidence.sample_count + 1), np.int16)
        np.bitwise_or.at(detect, target[some], found.detect[entry[some]])
        np.bitwise_or.at(nondetect, target[some], found.nondetect[entry[some]])
        row = np.flatnonzero(takes & (own_tracer == of_tracer))
        number = results.sample[row]
        _mark(out, row, detect[number], nondetect[number], results.detected[row])
    return out


def _mark_reached(out: Bool, review: Review, chosen: Bool) -> None:
    found, results = review.findings, review.evidence.results
    assert results is not None
    keep = chosen[found.results.entry]
    entry, row = found.results.entry[keep], found.results.target[keep]
    apart = len(found.results_detect) == len(found.results.entry)
    detect = found.results_detect[keep] if apart else found.detect[entry]
    nondetect = found.results_nondetect[keep] if apart else found.nondetect[entry]
    _mark(out, row, detect, nondetect, results.detected[row])


def _mark(out: Bool, row: Int64, detect: Int16, nondetect: Int16, detected: np.ndarray) -> None:
    letters = np.where(detected == 1, detect, np.where(detected == 0, nondetect, detect | nondetect))
    out[row[(letters & _OPEN) != 0]] = True


def names_of_rows(
    review: Review, piece_table: str, said: Sequence[tuple[str, Int64]]
) -> tuple[Mapping[str, tuple[str, ...]], Int64, int]:
    """Return the keys to name for rows of several tables, the rows of the piece's own table, and how many samples.

    Rows of results are named by their samples: a list of thousands of result keys helps nobody to find a form.
    """
    keys: dict[str, set[str]] = {}
    own: list[Int64] = [np.empty(0, np.int64)]
    numbers: set[int] = set()
    evidence = review.evidence
    names = np.array([*evidence.sample_ids.names, ""], dtype=object)
    for name, rows in said:
        table = review.tables.get(name)
        if table is None or not len(rows):
            continue
        if name == piece_table:
            own.append(rows)
        links = samples_of_rows(evidence, table)
        linked = np.isin(links.entry, rows)
        numbers.update(np.unique(links.target[linked]).tolist())
        if name == piece_table and name != "results":
            keys.setdefault(name, set()).update(_keys(table, rows))
            continue
        rest = rows
        home = review.tables.get(piece_table)
        if piece_table in _POINTED_AT and home is not None:
            there = rows_elsewhere(evidence, table, piece_table)[rows]
            met = there >= 0
            if met.any():
                keys.setdefault(piece_table, set()).update(_keys(home, np.unique(there[met])))
            rest = rows[~met]
        named = np.isin(links.entry, rest)
        if named.any():
            keys.setdefault("samples", set()).update(names[np.unique(links.target[named])].tolist())
            rest = rest[~np.isin(rest, links.entry[named])]
        if len(rest):
            keys.setdefault(name, set()).update(_keys(table, rest))
    ordered = {name: tuple(sorted(found)) for name, found in sorted(keys.items())}
    return MappingProxyType(ordered), np.unique(np.concatenate(own)), len(numbers)


def _keys(table: Table, rows: Int64) -> list[str]:
    found: Texts = table.keys[rows]
    return [str(key) for key in found]


__all__ = ["Held", "held_open", "names_of_rows"]

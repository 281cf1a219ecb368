"""Duplicate pairs and blanks as the page lists them, from the same numbers that the rules compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.pairs import compare
from vaporqa.evidence.reported import DETECTED, Results
from vaporqa.outcomes import Standing
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.report.file_lines import FileLines
from vaporqa.report.places import row_place
from vaporqa.report.wording import figure, visible
from vaporqa.review.values import Review
from vaporqa.tables.values import Int64, Table

_LISTED = 12


@dataclass(frozen=True, slots=True)
class PairLine:
    """One pair: analyte, both results with their places and anchors, RPD, and how it was judged."""

    analyte: str
    first: str
    second: str
    places: tuple[tuple[str, str], ...]
    rpd: str
    standing: str


@dataclass(frozen=True, slots=True)
class BlankLine:
    """One blank: what it is, where, how many analytes were looked for and which were found."""

    kind: str
    name: str
    place: str
    anchor: str
    analytes: int
    found: str


def pair_lines(review: Review, lines: FileLines, at_most: int) -> tuple[tuple[PairLine, ...], int]:
    """Return the pairs furthest apart, and how many pairs there are.

    Pairs of two nondetects have no difference and are only counted.
    """
    evidence, table = review.evidence, review.tables.get("results")
    if evidence.results is None or table is None or not len(evidence.pairs.first):
        return (), 0
    first, second = evidence.pairs.first, evidence.pairs.second
    both = compare(evidence, first, second)
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = relative_percent_difference(both.first, both.second)
    rpd = np.where(both.both & both.known, apart, np.nan)
    one = np.where(both.known & ~both.neither & ~both.both, -1.0, -np.inf)
    rank = np.where(np.isfinite(rpd), rpd, one)
    order = np.lexsort((second, first, -rank))[:at_most]
    order = order[~both.neither[order]]
    settled = review.settled["results"]
    out = []
    for at in order.tolist():
        rows = int(first[at]), int(second[at])
        words = [_ended(review, row) for row in rows]
        out.append(
            PairLine(
                visible(str(evidence.analyte_names(first[at : at + 1])[0]), 60),
                words[0],
                words[1],
                tuple((row_place(table, row), lines.anchor("results", row)) for row in rows),
                f"{figure(float(rpd[at]), 3)} %" if np.isfinite(rpd[at]) else "no difference: not both detected",
                _standings(settled.standing[list(rows)].tolist()),
            )
        )
    return tuple(out), len(first)


def _standings(codes: list[int]) -> str:
    return " / ".join(dict.fromkeys(Standing(code).word for code in codes))


def _ended(review: Review, row: int) -> str:
    final = review.final
    assert final is not None
    unit = visible(str(final.unit[row] or ""), 20)
    if int(final.detected[row]) == 1:
        return f"{figure(float(final.value[row]), 6)} {unit}".strip()
    if int(final.detected[row]) == 0:
        return f"not detected at {figure(float(final.limit[row]), 6)} {unit}".strip()
    return "not stated"


def blank_lines(review: Review, lines: FileLines, at_most: int) -> tuple[tuple[BlankLine, ...], int]:
    """Return the blanks, those with a detect first, and how many there are."""
    evidence = review.evidence
    out: list[tuple[bool, BlankLine]] = []
    table, results = review.tables.get("results"), evidence.results
    kinds = evidence.samples.kind.astype(str)
    if table is not None and results is not None:
        for number in np.flatnonzero(np.char.endswith(kinds, "_blank")).tolist() if len(kinds) else []:
            rows = np.flatnonzero(results.target & (results.sample == number) & (evidence.in_use != 0))
            home, at = review.tables.get("samples"), int(evidence.samples.row[number])
            place = (row_place(home, at), lines.anchor("samples", at)) if home is not None and at >= 0 else ("", "")
            detects = rows[results.detected[rows] == DETECTED]
            name = str(evidence.sample_ids.names[number])
            found = _named(review, table, results, detects)
            out.append((bool(len(detects)), BlankLine(kinds[number].replace("_", " "), name, *place, len(rows), found)))
    qc, control = review.tables.get("lab_qc"), evidence.lab_qc
    if qc is not None and control is not None:
        is_blank = np.char.endswith(control.kind.astype(str), "_blank") & qc.counts
        for name, rows in _batches(qc, np.flatnonzero(is_blank)):
            detects = rows[control.detected[rows] == DETECTED]
            at = int(detects[0] if len(detects) else rows[0])
            kind = str(control.kind[at]).replace("_", " ")
            found = _named(review, qc, control, detects)
            line = BlankLine(kind, name, row_place(qc, at), lines.anchor("lab_qc", at), len(rows), found)
            out.append((bool(len(detects)), line))
    out.sort(key=lambda pair: (not pair[0], pair[1].kind, pair[1].name))
    return tuple(line for _, line in out[:at_most]), len(out)


def _batches(qc: Table, rows: Int64) -> list[tuple[str, Int64]]:
    """Blank rows by laboratory, batch, lot and kind."""
    parts = []
    for column in ("laboratory", "batch_id", "cleaning_lot", "kind"):
        text, word = qc.text(column), qc.word(column)
        if text is not None:
            parts.append(np.append(text.words, "")[text.codes[rows]].astype(str))
        elif word is not None:
            parts.append(np.append(word.words, "")[np.maximum(word.codes[rows], -1)].astype(str))
    if not len(rows):
        return []
    names = [" ".join(part for part in cells[:-1] if part) for cells in zip(*parts, strict=True)]
    groups: dict[tuple[str, ...], list[int]] = {}
    for place, cells in enumerate(zip(*parts, strict=True)):
        groups.setdefault(tuple(cells), []).append(place)
    return [(names[places[0]], rows[places]) for places in groups.values()]


def _named(review: Review, table: Table, results: Results, rows: Int64) -> str:
    evidence = review.evidence
    if not len(rows):
        return "nothing found"
    names = np.array([*evidence.analytes.name, ""], dtype=object)[results.analyte[rows]]
    amount = table.amount(f"result{results.form}")
    parts = []
    for name, row in list(zip(names.tolist(), rows.tolist(), strict=True))[:_LISTED]:
        number = figure(float(amount.written[row]), 6) if amount is not None else ""
        unit = (*amount.units, "")[amount.unit_codes[row]] if amount is not None else ""
        parts.append(f"{visible(str(name), 50)} {number} {visible(str(unit), 20)}".strip())
    more = f" and {len(rows) - _LISTED} more" if len(rows) > _LISTED else ""
    return "; ".join(parts) + more

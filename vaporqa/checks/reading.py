"""`reading`: what reading the tables found: nothing is measured, the finding stands on the row read."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Labels, Links, Want, state_of_rows
from vaporqa.evidence.read_faults import Fault, faults_of
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64

OPTIONS: dict[str, str] = {}
_WANTS = (Want("a cell that can be read", ()),)


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Turn the faults of reading into entries, one `Judged` a table."""
    by_table: dict[str, list[Fault]] = {name: [] for name in (rule.row, *rule.also) if name in evidence.tables}
    for fault in faults_of(evidence, rule.id):
        by_table.setdefault(fault.table, []).append(fault)
    return tuple(_judged(evidence, name, faults) for name, faults in sorted(by_table.items()))


def _judged(evidence: Evidence, name: str, faults: list[Fault]) -> Judged:
    table = evidence.tables.get(name)
    assert table is not None
    row: list[Int64] = []
    outcome: list[int] = []
    note: list[bool] = []
    column: list[str] = []
    detail: list[str] = []
    subject: list[str] = []
    cell: list[str] = []
    sample_pairs: list[tuple[Int64, Int64]] = []
    result_pairs: list[tuple[Int64, Int64]] = []
    own: list[tuple[Int64, Int64]] = []
    size = 0
    for fault in faults:
        whole = fault.whole is not None
        count = 1 if whole else len(fault.rows)
        row.append(np.full(1, -1, np.int64) if whole else fault.rows)
        outcome.extend([Outcome.BROKEN if fault.broken else Outcome.UNPROVEN] * count)
        note.extend([fault.note] * count)
        column.extend([fault.column] * count)
        subject.extend([fault.whole or ""] * count)
        detail.extend([str(fault.detail[0]) if len(fault.detail) else ""] if whole else map(str, fault.detail))
        cell.extend(_cell(evidence, fault, i) for i in range(count))
        if whole:
            own.append((np.full(len(fault.rows), size), fault.rows))
        for links, pairs in ((fault.samples, sample_pairs), (fault.results, result_pairs)):
            if links is not None:
                entry = np.full(len(links.entry), size) if whole else links.entry + size
                pairs.append((entry, links.target))
        size += count
    rows = np.concatenate([np.empty(0, np.int64), *row])
    outcomes = np.array(outcome, dtype=np.uint8)
    state = np.maximum(state_of_rows(table.rows, rows, outcomes), np.where(table.counts, Outcome.HOLDS, 0)).astype(
        np.uint8
    )
    joined = _join(own)
    state[joined.target] = np.maximum(state[joined.target], Outcome.UNPROVEN)
    broken = outcomes == Outcome.BROKEN

    def label(values: list[str]) -> Labels:
        return Labels(np.array(values, dtype=object))

    return Judged(
        state=state,
        row=rows,
        outcome=outcomes,
        limit=np.full(size, -1, np.int16),
        measured=np.full(size, np.nan),
        want=np.where(broken, -1, 0).astype(np.int16),
        wants=_WANTS,
        hard=~broken,
        facts={"column": label(column), "detail": label(detail), "cell": label(cell)},
        samples=_join(sample_pairs),
        results=_join(result_pairs),
        subject=np.array(subject, dtype=object),
        alone=True,
        table=name,
        noted=np.array(note, dtype=bool),
        own=joined,
    )


def _join(pairs: list[tuple[Int64, Int64]]) -> Links:
    if not pairs:
        return Links.none()
    return Links(
        np.concatenate([p[0] for p in pairs]).astype(np.int64), np.concatenate([p[1] for p in pairs]).astype(np.int64)
    )


def _cell(evidence: Evidence, fault: Fault, index: int) -> str:
    """The raw text of the cell, as it stands in the file."""
    table = evidence.tables.get(fault.table)
    if table is None or table.cells is None or not fault.column or not len(fault.rows):
        return ""
    row = int(fault.rows[min(index, len(fault.rows) - 1)])
    header = table.cells.header(row, fault.column)
    return str(table.cells.cell(row, header)) if header else ""

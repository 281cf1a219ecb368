"""What hangs on a field or laboratory row, and what the row itself points to."""

from __future__ import annotations

import numpy as np

from vaporqa.evidence.uses import samples_of_use
from vaporqa.review.behind import Place
from vaporqa.review.values import Review
from vaporqa.tables.dictionary import POINTERS
from vaporqa.tables.values import Int64

_NOTHING = np.empty(0, np.int64)


def samples_behind(review: Review, table: str, row: int) -> Int64:
    """Return the sample numbers that hang on a row, by the associations that the rules were judged by."""
    evidence = review.evidence
    samples = evidence.samples
    if table in ("tracer_tests", "shut_in_tests", "purges"):
        tests = {"tracer_tests": evidence.tracer_tests, "shut_in_tests": evidence.shut_in_tests}
        found = tests.get(table) or evidence.purges
        return np.unique(found.sample[found.row == row])
    home = review.tables.tables[table]
    if table in ("custody", "samples"):
        named = evidence.sample_ids.of(table, "sample_id", home.rows)[row : row + 1]
        return named[named >= 0]
    if table in ("probes", "locations"):
        ids, column = (evidence.probe_ids, "probe_id") if table == "probes" else (evidence.location_ids, "location_id")
        number = int(ids.of(table, column, home.rows)[row])
        at = samples.probe if table == "probes" else samples.location
        return np.flatnonzero(at == number) if number >= 0 else _NOTHING
    if table == "containers":
        number = int(evidence.container_ids.of(table, "container_id", home.rows)[row])
        stock = review.tables.get("samples")
        held = evidence.container_ids.of("samples", "container_id", stock.rows if stock is not None else 0)
        return np.flatnonzero((samples.row >= 0) & (np.append(held, -1)[samples.row] == number) & (number >= 0))
    if table == "equipment_log":
        uses = [use for use in evidence.uses if (use.table, use.row) == (table, row)]
        drawn = [samples_of_use(evidence, use, evidence.uses_of_equipment[use.equipment]) for use in uses]
        return np.unique(np.concatenate([_NOTHING, *drawn]))
    return _NOTHING


def upward(review: Review, table: str, row: int) -> tuple[Place, ...]:
    """Return the rows that a row points to, and those that these point to, nearest first, each once.

    A pointer that meets no row, or two different ones, leads nowhere.
    """
    out: list[Place] = []
    waiting: list[Place] = [(table, row)]
    while waiting:
        name, at = waiting.pop(0)
        home = review.tables.tables[name]
        for column, target in POINTERS.get(name, {}).items():
            text, there = home.text(column), review.tables.get(target)
            word = text.at(at) if text is not None else ""
            if not word or there is None:
                continue
            hits = np.flatnonzero(np.asarray(there.keys == word, dtype=bool) & there.counts).tolist()
            if len(hits) == 1 and (target, hits[0]) not in (*out, (table, row)):
                out.append((target, hits[0]))
                waiting.append((target, hits[0]))
    return tuple(out)

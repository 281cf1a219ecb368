"""`frequency`: enough quality-control samples of one kind for what they stand for; one entry a group.

`of: duplicates` counts field duplicates and replicates against primary soil-gas samples, by delivery group (else
shipment, else the whole folder). `of: equipment_blanks` counts blanks against the days on which reusable equipment was
in use, and against the samples drawn that day.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, words
from vaporqa.evidence.collected import YES
from vaporqa.evidence.judged import Amounts, Judged, Labels, Links, Want
from vaporqa.evidence.pairs import DUPLICATE_KINDS
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Texts

OPTIONS = {"of": "`duplicates` or `equipment_blanks`"}
_EPOCH = date(1970, 1, 1)


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every group on the rule's table as a whole."""
    if rule.options["of"] == "duplicates":
        return _duplicates(rule, evidence)
    return _equipment_blanks(rule, evidence)


def _due(rule: Rule, count: int) -> int:
    """How many are due for `count`: one in so many, and at least so many."""
    share, least = rule.limit("share"), rule.limit("least")
    return max(int(least.number), int(np.ceil(count * share.value - 1e-9)))


def _judged(rule: Rule, rows: int, groups: list[tuple[str, int, int, list[int]]], missing: Want | None) -> Judged:
    """`groups`: subject, found, due, own rows."""
    short = [group for group in groups if group[1] < group[2]]
    state = np.zeros(rows, np.uint8)
    for _, found, due, own in groups:
        state[own] = np.maximum(state[own], Outcome.HOLDS if found >= due else Outcome.BROKEN)
    lacks = missing is not None
    size = 1 if lacks else len(short)
    entry = np.concatenate([np.full(len(g[3]), i) for i, g in enumerate(short)]) if short else np.empty(0)
    own = np.concatenate([np.array(g[3]) for g in short]) if short else np.empty(0)
    return Judged(
        state=state,
        row=np.full(size, -1, np.int64),
        outcome=np.full(size, Outcome.UNPROVEN if lacks else Outcome.BROKEN, np.uint8),
        limit=np.full(size, -1 if lacks else 0, np.int16),
        measured=np.full(size, np.nan) if lacks else np.array([float(g[1]) for g in short]),
        want=np.full(size, 0 if lacks else -1, np.int16),
        wants=(missing,) if missing is not None else (),
        hard=np.zeros(size, bool),
        facts={
            "found": Amounts(np.zeros(size) if lacks else np.array([float(g[1]) for g in short])),
            "due": Amounts(np.zeros(size) if lacks else np.array([float(g[2]) for g in short])),
            "group": Labels(np.array([""] * size if lacks else [g[0] for g in short], dtype=object)),
        },
        subject=np.array([""] * size if lacks else [g[0] for g in short], dtype=object),
        alone=True,
        own=None if lacks else Links(entry.astype(np.int64), own.astype(np.int64)),
    )


def _duplicates(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    table = evidence.tables.get("samples")
    if table is None:
        return ()
    number = evidence.sample_ids.of("samples", "sample_id", table.rows)
    gas = table.counts & (number >= 0)
    gas[gas] = evidence.samples.soil_gas[number[gas]] == YES
    kind, _ = words(table, "kind")
    duplicate = gas & np.isin(kind.astype(str), DUPLICATE_KINDS)
    primary = gas & (kind == "primary")
    by_group: dict[str, tuple[list[int], list[int]]] = {}
    groups = _groups_of_samples(evidence, number)
    for row in np.flatnonzero(primary | duplicate).tolist():
        for name in groups[row]:
            both = by_group.setdefault(name, ([], []))
            both[1 if duplicate[row] else 0].append(row)
    found = [
        (name, len(duplicates), _due(rule, len(primaries)), sorted(primaries))
        for name, (primaries, duplicates) in sorted(by_group.items())
        if primaries
    ]
    return (_judged(rule, table.rows, found, None),)


def _groups_of_samples(evidence: Evidence, number: Int64) -> list[tuple[str, ...]]:
    """Delivery groups of each sample row by its results; else its shipment; else the folder (an empty name)."""
    table, results = evidence.tables.get("samples"), evidence.tables.get("results")
    assert table is not None
    out: list[tuple[str, ...]] = [("",)] * table.rows
    text = results.text("delivery_group") if results is not None else None
    if results is not None and text is not None and np.any(text.codes >= 0):
        of = evidence.sample_ids.of("results", "sample_id", results.rows)
        pairs = np.unique(np.stack([of, text.codes.astype(np.int64)]), axis=1)
        named: dict[int, list[str]] = {}
        for sample, code in pairs.T.tolist():
            if sample >= 0 and code >= 0:
                named.setdefault(sample, []).append(str(text.words[code]))
        return [tuple(sorted(named.get(n, [""]))) for n in number.tolist()]
    shipment: Texts = words(table, "shipment_id")[0]
    if np.any(shipment != ""):
        return [(str(name),) for name in shipment]
    return out


def _equipment_blanks(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    log = evidence.tables.get("equipment_log")
    if log is None:
        return ()
    event, _ = words(log, "event")
    at = moments(log, "at")
    blanks = np.flatnonzero(log.counts & (event == "blank") & at.known)
    per_day = {int(d): int(n) for d, n in zip(*np.unique(at.day[blanks], return_counts=True), strict=True)}
    rows_of_day: dict[int, list[int]] = {}
    for use in evidence.uses:
        if use.timed:
            day = _local_day(evidence, use.table, use.row)
            rows_of_day.setdefault(day, [])
            if use.table == "equipment_log":
                rows_of_day[day].append(use.row)
    drawn = _samples_by_day(evidence)
    groups = []
    for day in sorted(rows_of_day):
        name = str(_EPOCH + timedelta(days=day))
        groups.append((name, per_day.get(day, 0), _due(rule, drawn.get(day, 0)), sorted(rows_of_day[day])))
    return (_judged(rule, log.rows, groups, None),)


def _local_day(evidence: Evidence, table: str, row: int) -> int:
    column = "at" if table == "equipment_log" else "installed_at"
    return int(moments(evidence.tables.get(table), column).day[row])


def _samples_by_day(evidence: Evidence) -> dict[int, int]:
    samples = evidence.samples
    begun = samples.start.or_else(samples.end)
    use = (samples.soil_gas == YES) & begun.known
    days, counts = np.unique(begun.day[use], return_counts=True)
    return {int(day): int(count) for day, count in zip(days, counts, strict=True)}

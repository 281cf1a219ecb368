"""`frequency`: enough quality-control samples of one kind for what they stand for; one entry a group.

`of: duplicates` counts field duplicates and replicates against primary soil-gas samples, by delivery group (else
shipment, else the whole folder). `of: equipment_blanks` counts blanks against the days on which reusable equipment was
in use, and against the samples drawn that day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, pick, words
from vaporqa.evidence.collected import NO, YES
from vaporqa.evidence.judged import Amounts, Judged, Labels, Want, distinct_links, state_of_rows
from vaporqa.evidence.made import is_made
from vaporqa.evidence.pairs import DUPLICATE_KINDS
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Table, Texts

OPTIONS = {"of": "`duplicates` or `equipment_blanks`"}
_EPOCH = date(1970, 1, 1)
_KIND = Want("the kind and matrix of every sample", (("samples", "kind"),))
_WHEN = Want("the time of every equipment blank", (("equipment_log", "at"),))


@dataclass(frozen=True, slots=True)
class Group:
    """Control samples found for one group, and the samples that they stand for, each from certain to possible.

    `own` are the rows of the rule's table that the group is about: they have the outcome as their state, and a finding
    on the group does not stand on them.
    """

    name: str
    found: tuple[int, int]
    served: tuple[int, int]
    own: tuple[int, ...]


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every group on the rule's table as a whole."""
    if rule.options["of"] == "duplicates":
        return _duplicates(rule, evidence)
    return _equipment_blanks(rule, evidence)


def due(rule: Rule, served: int) -> tuple[int, int]:
    """How many are due, and the limit that says so: one in so many (a part counts as a whole), and so many at least."""
    dues = [
        (ceil((limit.value * served if limit.name == "share" else limit.value) - RELATIVE_TOLERANCE), index)
        for index, limit in enumerate(rule.limits)
    ]
    # Where both ask for as many, the plain number is what a person holds against the group.
    return max(dues, key=lambda due: (due[0], rule.limits[due[1]].name != "share"))


def _outcome(rule: Rule, group: Group) -> Outcome:
    if group.found[0] >= due(rule, group.served[1])[0]:
        return Outcome.HOLDS
    return Outcome.BROKEN if group.found[1] < due(rule, group.served[0])[0] else Outcome.UNPROVEN


def _judged(rule: Rule, rows: int, groups: list[Group], want: Want) -> Judged:
    """Say which groups are short; one that could be either, for want of `want`, is unproven."""
    outcomes = [_outcome(rule, group) for group in groups]
    row = np.array([row for group in groups for row in group.own], dtype=np.int64)
    each = [outcome for outcome, group in zip(outcomes, groups, strict=True) for _ in group.own]
    speak = [(group, outcome) for group, outcome in zip(groups, outcomes, strict=True) if outcome is not Outcome.HOLDS]
    outcome = np.array([outcome for _, outcome in speak], dtype=np.uint8)
    broken = outcome == Outcome.BROKEN
    found = np.array([group.found[0] for group, _ in speak], dtype=np.float64)
    served = np.array([group.served[0] for group, _ in speak], dtype=np.float64)
    wanted = [due(rule, group.served[0]) for group, _ in speak]
    limit = np.where(broken, np.array([index for _, index in wanted], dtype=np.int64), -1).astype(np.int16)
    by_share = np.array([rule.limits[index].name == "share" for _, index in wanted], dtype=bool)
    names: Texts = np.array([group.name for group, _ in speak], dtype=object)
    return Judged(
        state=state_of_rows(rows, row, np.array(each, dtype=np.uint8)),
        row=np.full(len(speak), -1, np.int64),
        outcome=outcome,
        limit=limit,
        measured=np.where(by_share, found / np.maximum(served, 1.0), found),
        want=np.where(broken, -1, 0).astype(np.int16),
        wants=(want,),
        hard=np.zeros(len(speak), bool),
        facts={
            "found": Amounts(found),
            "due": Amounts(np.array([number for number, _ in wanted], dtype=np.float64)),
            "served": Amounts(served),
            "group": Labels(np.where(names == "", "the folder", names).astype(object)),
        },
        subject=names,
        alone=True,
    )


def _duplicates(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    table = evidence.tables.get("samples")
    if table is None:
        return ()
    if is_made(table):
        # One finding on the unknown words of a table that is not there says it all.
        return (_judged(rule, table.rows, [], _KIND),)
    groups = [group for group in duplicate_groups(evidence, table) if group.served[1]]
    return (_judged(rule, table.rows, groups, _KIND),)


def duplicate_groups(evidence: Evidence, table: Table) -> list[Group]:
    """Duplicates among the rows of the samples table, and the primary samples that each group of them stands for."""
    number = evidence.sample_ids.of("samples", "sample_id", table.rows)
    kind, _ = words(table, "kind")
    soil_gas = np.where(number >= 0, pick(evidence.samples.soil_gas, number, NO), NO)
    duplicate, primary = np.isin(kind.astype(str), DUPLICATE_KINDS), kind == "primary"
    by_group: dict[str, list[int]] = {}
    groups = _groups_of_samples(evidence, number)
    for row in np.flatnonzero(table.counts & (soil_gas != NO)).tolist():
        for name in groups[row]:
            by_group.setdefault(name, []).append(row)
    sure = soil_gas == YES
    found = []
    for name, rows in sorted(by_group.items()):
        of = np.array(rows, dtype=np.int64)
        found.append(
            Group(
                name, (int((duplicate & sure)[of].sum()), int((~primary)[of].sum())),
                (int((primary & sure)[of].sum()), int((~duplicate)[of].sum())), tuple(of[(~duplicate)[of]].tolist()),
            )
        )  # fmt: skip
    return found


def _groups_of_samples(evidence: Evidence, number: Int64) -> list[tuple[str, ...]]:
    """Delivery groups of each sample row by its results; else its shipment; else the folder (an empty name)."""
    table, results = evidence.tables.get("samples"), evidence.tables.get("results")
    assert table is not None
    out: list[tuple[str, ...]] = [("",)] * table.rows
    text = results.text("delivery_group") if results is not None else None
    if results is not None and text is not None and np.any(text.codes >= 0):
        of = evidence.sample_ids.of("results", "sample_id", results.rows)
        stated = (of >= 0) & (text.codes >= 0)
        pairs = distinct_links(of[stated], text.codes[stated].astype(np.int64))
        named: dict[int, list[str]] = {}
        for sample, code in zip(pairs.entry.tolist(), pairs.target.tolist(), strict=True):
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
    per_day, somewhen = blanks_by_day(log)
    at = moments(log, "at")
    rows_of_day: dict[int, list[int]] = {}
    day_of = {"equipment_log": at.day, "probes": moments(evidence.tables.get("probes"), "installed_at").day}
    for use in evidence.uses:
        if use.timed:
            rows = rows_of_day.setdefault(int(day_of[use.table][use.row]), [])
            rows.extend([use.row] if use.table == "equipment_log" else [])
    drawn = samples_by_day(evidence)
    groups = []
    for day, rows in sorted(rows_of_day.items()):
        here, samples = int(per_day.get(day, 0)), drawn.get(day, 0)
        name = str(_EPOCH + timedelta(days=day))
        groups.append(Group(name, (here, here + somewhen), (samples, samples), tuple(sorted(rows))))
    return (_judged(rule, log.rows, groups, _WHEN),)


def blanks_by_day(log: Table) -> tuple[dict[int, int], int]:
    """Equipment blanks of the log by local day (since 1970), and how many of them nobody can date."""
    event, _ = words(log, "event")
    at = moments(log, "at")
    blanks = log.counts & (event == "blank")
    days, counts = np.unique(at.day[blanks & at.known], return_counts=True)
    return {int(day): int(count) for day, count in zip(days, counts, strict=True)}, int((blanks & ~at.known).sum())


def samples_by_day(evidence: Evidence) -> dict[int, int]:
    """Soil-gas samples by the local day on which they were begun (since 1970)."""
    samples = evidence.samples
    begun = samples.start.or_else(samples.end)
    use = (samples.soil_gas == YES) & begun.known
    days, counts = np.unique(begun.day[use], return_counts=True)
    return {int(day): int(count) for day, count in zip(days, counts, strict=True)}

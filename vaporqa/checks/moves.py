"""`moves`: equipment between locations: a cleaning after its use at one and before its use at the next.

A use of which nobody can tell the place, not cleaned before, may have been at any sample of its time: none of them is
known to be tainted, and none to be clean.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.judged import Facts, Judged, Labels, Links, Measured, Stamps, judged_from
from vaporqa.evidence.placeless import Placeless
from vaporqa.evidence.uses import Move, samples_of_use
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64

OPTIONS: dict[str, str] = {}
_ASSUMED = "Neither a removal nor a sample ends that use, so it was taken to end when it began"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every use but the first of each piece of equipment, on its own row of the log or of probes."""
    out = []
    for name in (rule.row, *rule.also):
        table = evidence.tables.get(name)
        if table is None:
            continue
        moves = [move for move in evidence.moves if move.use.table == name]
        lost = _lost(evidence, moves)
        measured = _measured(evidence, moves, lost, name)
        outcome = np.array([move.outcome for move in moves], dtype=np.uint8)
        outcome[list(lost)] = Outcome.UNPROVEN
        limit = np.where(outcome == Outcome.BROKEN, 0, -1).astype(np.int16)
        out.append(judged_from(measured, table.rows, outcome, limit))
    return tuple(out)


def _lost(evidence: Evidence, moves: list[Move]) -> dict[int, Int64]:
    """Of moves to a use whose place nobody can tell, not shown to be cleaned before: what may have been drawn there."""
    placeless = Placeless(evidence)
    found: dict[int, Int64] = {}
    for number, move in enumerate(moves):
        if move.outcome is not Outcome.HOLDS and placeless.is_lost(move.use):
            until = evidence.uses_of_equipment[move.use.equipment].next_elsewhere(move.use)
            drawn = placeless.drawn(move.use, until)
            found[number] = drawn if found else np.union1d(drawn, placeless.untimed).astype(np.int64)
    return found


def _measured(evidence: Evidence, moves: list[Move], lost: dict[int, Int64], table: str) -> Measured:
    row = np.array([move.use.row for move in moves], dtype=np.int64)
    asked = Asked(row, np.ones(len(moves), bool))
    placed = np.ones(len(moves), bool)
    placed[list(lost)] = False
    asked.need(placed, "where it was used", ("equipment_log", "probe_id"), ("equipment_log", "location_id"))
    unproven = np.array([move.outcome is Outcome.UNPROVEN for move in moves], dtype=bool)
    untimed = np.array([move.untimed for move in moves], dtype=bool)
    hard = np.array([move.hard for move in moves], dtype=bool)
    if "equipment_log" not in evidence.tables:
        asked.need(~unproven | hard, "its cleaning", ("equipment_log", "*"))
    asked.need(~untimed, "when the equipment was used", ("equipment_log", "at"), ("probes", "installed_at"))
    asked.need(~(unproven & ~untimed & hard), "a readable time of cleaning or removal")
    asked.need(~(unproven & ~untimed & ~hard), "the time of day of use and cleaning (dates alone leave the order open)")
    asked.hard_where(hard)
    entries: list[int] = []
    targets: list[int] = []
    for entry, move in enumerate(moves):
        drawn = (
            lost[entry]
            if entry in lost
            else samples_of_use(evidence, move.use, evidence.uses_of_equipment[move.use.equipment])
        )
        entries.extend([entry] * len(drawn))
        targets.extend(drawn.tolist())
    names, places = evidence.equipment_ids.names, (*evidence.location_ids.names, "an unnamed location")

    def label(values: list[str]) -> Labels:
        return Labels(np.array(values, dtype=object))

    facts: Facts = {
        "equipment": label([names[move.use.equipment] for move in moves]),
        "here": label([places[move.use.location] for move in moves]),
        "last": label([places[move.before.location] for move in moves]),
        "used": Stamps(
            np.array([move.use.begin[0] for move in moves], dtype=np.int64),
            np.array([move.use.begin[0] != move.use.begin[1] for move in moves], dtype=bool),
        ),
        "last_used": Stamps(
            np.array([move.before.begin[0] for move in moves], dtype=np.int64),
            np.array([move.before.begin[0] != move.before.begin[1] for move in moves], dtype=bool),
        ),
        "assumed": label([_ASSUMED if move.before.assumed_end else "" for move in moves]),
    }
    return asked.measured(
        np.full(len(moves), np.nan),
        facts=facts,
        samples=Links(np.array(entries, dtype=np.int64), np.array(targets, dtype=np.int64)),
        table=table,
        noted=np.array([move.same_location for move in moves], dtype=bool),
    )

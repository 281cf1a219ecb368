"""Equipment in time order: each use, what was cleaned between two of them, and what was drawn with it.

A probe's reusable tip counts as a use unless the log has that use. What stays in the ground (tip, rods) is in use until
its probe is removed, else until the probe's last sample ended; a cleaning inside a use does not count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import Moment, moments, pick, words
from vaporqa.evidence.time_order import FIRST, LAST, InTimeOrder, Spans, certainly_before, elsewhere
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Kinds that stay in the ground as long as the probe does; an unstated kind is taken as one of them.
_IN_GROUND = ("tip", "rod", "")
#: Kinds of sample that are drawn from a probe or location with equipment; blanks and ambient air are not.
_DRAWN = ("primary", "field_duplicate", "field_replicate", "unknown", "")


@dataclass(frozen=True, slots=True)
class Use:
    """One use of one piece of equipment.

    Times are microseconds UTC; `begin` and `end` are (earliest, latest). `timed` is False where the stamp could not be
    read. `assumed_end` says that neither a removal nor a sample ended the use.
    """

    equipment: int
    kind: str
    probe: int
    location: int
    begin: tuple[int, int]
    end: tuple[int, int]
    timed: bool
    assumed_end: bool
    table: str
    row: int


@dataclass(frozen=True, slots=True)
class Move:
    """What came before a use: the outcome of the rule on cleaning between locations, for one use.

    `before` is the previous use (the likeliest where the order is open); `same_location` marks another probe of one
    location. `ordered` says that the order is certain.
    """

    use: Use
    before: Use
    outcome: Outcome
    same_location: bool
    hard: bool
    untimed: bool


def uses_of(ev: Evidence, *, every: bool = False) -> list[Use]:
    """Every use of equipment that is neither tubing nor a dedicated tip, in time order within each piece.

    With `every`, tubing and dedicated tips too: a blank of these taints what was drawn with them all the same.
    """
    uses = _logged(ev, every=every)
    uses.extend(_tips(ev, uses, every=every))
    return sorted(uses, key=lambda use: (use.equipment, use.begin, use.location, use.probe, use.table, use.row))


def by_equipment(uses: Iterable[Use]) -> dict[int, InTimeOrder]:
    """Uses by equipment number, in time order."""
    out: dict[int, list[Use]] = {}
    for use in uses:
        out.setdefault(use.equipment, []).append(use)
    return {number: InTimeOrder(found) for number, found in out.items()}


def _logged(ev: Evidence, *, every: bool) -> list[Use]:
    log = ev.tables.get("equipment_log")
    if log is None:
        return []
    event, _ = words(log, "event")
    kind, _ = words(log, "equipment_kind")
    at = moments(log, "at")
    equipment = ev.equipment_ids.of("equipment_log", "equipment_id", log.rows)
    probe = ev.probe_ids.of("equipment_log", "probe_id", log.rows)
    location = _locations(ev, log, probe)
    dedicated = set() if every else _dedicated_tips(ev)
    out = []
    for row in np.flatnonzero(
        log.counts & (event == "used") & (equipment >= 0) & (every | (kind != "tubing"))
    ).tolist():
        number = int(equipment[row])
        if number in dedicated:
            continue
        begin = (int(at.low[row]), int(at.high[row]))
        in_ground = str(kind[row]) in _IN_GROUND and probe[row] >= 0
        end, assumed = _end_of_use(ev, int(probe[row]), begin) if in_ground else (begin, False)
        out.append(
            Use(
                equipment=number, kind=str(kind[row]), probe=int(probe[row]), location=int(location[row]), begin=begin,
                end=end, timed=bool(at.known[row]), assumed_end=assumed, table="equipment_log", row=row,
            )
        )  # fmt: skip
    return out


def _locations(ev: Evidence, log: Table, probe: Int64) -> Int64:
    """Location of each log row: stated, else the probe's."""
    stated = ev.location_ids.of("equipment_log", "location_id", log.rows)
    return np.where(stated >= 0, stated, location_of_probes(ev)[probe])


def location_of_probes(ev: Evidence) -> Int64:
    """Location number by probe number, -1 where unknown; a last entry of -1 serves "no probe"."""
    table = ev.tables.get("probes")
    count = len(ev.probe_ids.names)
    out = np.full(count + 1, -1, np.int64)
    if table is not None:
        stated = ev.location_ids.of("probes", "location_id", table.rows)
        row = ev.probe_ids.row
        out[:count] = pick(stated, row, -1)
    return out


def _dedicated_tips(ev: Evidence) -> set[int]:
    table = ev.tables.get("probes")
    if table is None:
        return set()
    use, _ = words(table, "tip_use")
    tip = ev.equipment_ids.of("probes", "tip_id", table.rows)
    return set(tip[(use == "dedicated") & (tip >= 0)].tolist())


def _tips(ev: Evidence, logged: list[Use], *, every: bool) -> list[Use]:
    table = ev.tables.get("probes")
    if table is None:
        return []
    use, _ = words(table, "tip_use")
    tip = ev.equipment_ids.of("probes", "tip_id", table.rows)
    probe = ev.probe_ids.of("probes", "probe_id", table.rows)
    location = ev.location_ids.of("probes", "location_id", table.rows)
    installed = moments(table, "installed_at")
    known = {(u.equipment, u.probe) for u in logged if u.probe >= 0}
    known_places = {(u.equipment, u.location) for u in logged if u.probe < 0 and u.location >= 0}
    out = []
    for row in np.flatnonzero(table.counts & (tip >= 0) & (every | (use != "dedicated"))).tolist():
        if (int(tip[row]), int(probe[row])) in known or (int(tip[row]), int(location[row])) in known_places:
            continue
        begin = (int(installed.low[row]), int(installed.high[row]))
        end, assumed = _end_of_use(ev, int(probe[row]), begin)
        out.append(
            Use(
                equipment=int(tip[row]), kind="tip", probe=int(probe[row]), location=int(location[row]), begin=begin,
                end=end, timed=bool(installed.known[row]), assumed_end=assumed, table="probes", row=row,
            )
        )  # fmt: skip
    return out


def _end_of_use(ev: Evidence, probe: int, begin: tuple[int, int]) -> tuple[tuple[int, int], bool]:
    """End of a use in the ground: the probe's removal, else its last sample's end, else its own begin (assumed)."""
    removed = ev.probe_removed
    row = int(ev.probe_ids.row[probe])
    if row >= 0 and removed.known[row]:
        return (int(removed.low[row]), int(removed.high[row])), False
    if row >= 0 and removed.hard[row]:
        return (begin[0], LAST), False
    last = ev.last_sample_of_probe.get(probe)
    if last is not None:
        return (max(last[0], begin[0]), max(last[1], begin[1])), False
    return begin, True


def last_samples(ev: Evidence) -> dict[int, tuple[int, int]]:
    """(earliest, latest) end of the last sample of each probe number."""
    samples = ev.samples
    end = samples.end.or_else(samples.start)
    out: dict[int, tuple[int, int]] = {}
    for number in np.flatnonzero((samples.probe >= 0) & end.known).tolist():
        probe = int(samples.probe[number])
        low, high = out.get(probe, (FIRST, FIRST))
        out[probe] = (max(low, int(end.low[number])), max(high, int(end.high[number])))
    return out


@dataclass(frozen=True, slots=True)
class Cleanings:
    """Cleanings by equipment number: (earliest, latest) of each, and pieces with one whose time is unreadable.

    `logged` is False where the folder has no equipment log: nothing then says that a piece was not cleaned.
    """

    at: dict[int, list[tuple[int, int]]]
    untimed: frozenset[int]
    logged: bool


def cleanings_of(ev: Evidence) -> Cleanings:
    """Gather the cleanings of the log."""
    log = ev.tables.get("equipment_log")
    if log is None:
        return Cleanings({}, frozenset(), False)
    event, event_hard = words(log, "event")
    at = moments(log, "at")
    equipment = ev.equipment_ids.of("equipment_log", "equipment_id", log.rows)
    found: dict[int, list[tuple[int, int]]] = {}
    untimed = set()
    maybe = (event == "cleaned") | event_hard
    for row in np.flatnonzero(log.counts & maybe & (equipment >= 0)).tolist():
        if at.known[row] and event[row] == "cleaned":
            found.setdefault(int(equipment[row]), []).append((int(at.low[row]), int(at.high[row])))
        else:
            # A cleaning whose time, or an event whose word, cannot be read could be the one that is missing.
            untimed.add(int(equipment[row]))
    return Cleanings(found, frozenset(untimed), True)


def moves_of(pieces: Iterable[InTimeOrder], cleanings: Cleanings) -> list[Move]:
    """Judge each use but the first of each piece of equipment against the use before it."""
    out: list[Move] = []
    for piece in pieces:
        places = {(use.location, use.probe) for use in piece}
        # Two uses of which nobody wrote down where need not be at one place.
        if len(places) > 1 or ((-1, -1) in places and len(piece) > 1):
            out.extend(_moves_of_piece(piece, cleanings))
    return out


def _moves_of_piece(piece: InTimeOrder, cleanings: Cleanings) -> list[Move]:
    number = piece.uses[0].equipment
    clean = Spans(cleanings.at.get(number, []))
    untimed = [use for use in piece if not use.timed]
    out = []
    for use in piece:
        if not use.timed:
            other = piece.first_elsewhere(use)
            if other is not None:
                out.append(Move(use, other, Outcome.UNPROVEN, False, True, True))
            continue
        verdict = _judge(use, piece, clean, unread=number in cleanings.untimed, logged=cleanings.logged)
        lost = next((other for other in untimed if elsewhere(other, use)), None)
        if lost is not None and (verdict is None or verdict.outcome is Outcome.HOLDS):
            # A use whose time nobody can read may have come just before this one, after the last cleaning.
            same = lost.location == use.location and use.location >= 0
            verdict = Move(use, lost, Outcome.UNPROVEN, same, True, True)
        if verdict is not None:
            out.append(verdict)
    return out


def _judge(use: Use, piece: InTimeOrder, clean: Spans, *, unread: bool, logged: bool) -> Move | None:
    verdicts = []
    for before in piece.possible_predecessors(use):
        if not elsewhere(before, use):
            continue
        same = before.location == use.location and use.location >= 0
        certainly = clean.any_inside(before.end[1], use.begin[0])
        possibly = clean.any_touching(before.end[0], use.begin[1])
        ordered = certainly_before(before, use)
        if certainly:
            outcome = Outcome.HOLDS
        elif ordered and logged and not possibly and not unread and before.end[1] != LAST:
            outcome = Outcome.BROKEN
        else:
            outcome = Outcome.UNPROVEN
        hard = outcome is Outcome.UNPROVEN and (unread or before.end[1] == LAST)
        verdicts.append(Move(use, before, outcome, same, hard, False))
    if not verdicts:
        return None
    gravity = {Outcome.HOLDS: 0, Outcome.BROKEN: 1, Outcome.UNPROVEN: 2}
    return max(verdicts, key=lambda move: (not move.same_location, gravity[move.outcome], move.before.begin))


def samples_of_use(ev: Evidence, use: Use, piece: InTimeOrder) -> Int64:
    """Sample numbers drawn at a use's probe (else location), until the equipment's next use elsewhere.

    A sample that names the location alone may have been drawn at any of its probes.
    """
    known = ev.drawn_by_use.get((use.table, use.row))
    if known is None:
        known = ev.drawn_by_use[use.table, use.row] = drawn_with(ev, use, piece)
    return known


def drawn_with(ev: Evidence, use: Use, piece: InTimeOrder) -> Int64:
    """What `samples_of_use` keeps, for uses of any equipment."""
    nothing = np.empty(0, np.int64)
    here = ev.drawn_at_location.get(use.location, nothing)
    if use.probe >= 0:
        unplaced = here[ev.samples.probe[here] == -1]
        at_probe = ev.drawn_at_probe.get(use.probe, nothing)
        here = np.union1d(at_probe, unplaced).astype(np.int64) if unplaced.size else at_probe
    if not use.timed:
        return here
    until = piece.next_elsewhere(use)
    when = ev.drawn_when
    known = when.known[here]
    return here[~known | ((when.high[here] >= use.begin[0]) & (when.low[here] <= until))]


def drawn_samples(ev: Evidence) -> tuple[dict[int, Int64], dict[int, Int64], Moment]:
    """Samples drawn from the ground by probe and by location number, and when each was begun."""
    samples = ev.samples
    drawn = np.isin(samples.kind.astype(str), _DRAWN)
    return (
        _grouped(np.where(drawn, samples.probe, -1)),
        _grouped(np.where(drawn, samples.location, -1)),
        samples.start.or_else(samples.end),
    )


def _grouped(number: Int64) -> dict[int, Int64]:
    rows = np.flatnonzero(number >= 0)
    order = rows[np.argsort(number[rows], kind="stable")]
    if not order.size:
        return {}
    cuts = np.flatnonzero(np.diff(number[order])) + 1
    return {int(number[part[0]]): part.astype(np.int64) for part in np.split(order, cuts)}


def is_drawn(ev: Evidence) -> Bool:
    """Samples drawn from the ground (no blanks, no ambient air), by sample number."""
    return np.isin(ev.samples.kind.astype(str), _DRAWN)

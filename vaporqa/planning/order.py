"""From clean ground to dirty: the order of the stops, and the cleanings that shared equipment needs between them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, words
from vaporqa.evidence.sampling_order import highest_detects
from vaporqa.evidence.time_order import LAST, InTimeOrder
from vaporqa.evidence.uses import Cleanings, Move, Use, cleanings_of, location_of_probes, moves_of
from vaporqa.outcomes import Outcome
from vaporqa.planning.draws import Draw
from vaporqa.planning.values import Step, When
from vaporqa.tables.values import Table

_MINUTE = 60_000_000
_PLANNED = "plan"
#: Equipment that makes the hole: it comes only to probes that are not put in yet.
_FOR_THE_HOLE = ("tip", "rod", "auger")


@dataclass(frozen=True, slots=True)
class Ordered:
    """The stops in their order, by what they were ordered, and pairs that the planned times put the other way round."""

    steps: tuple[Step, ...]
    by: str
    against: tuple[tuple[str, str], ...]
    reusable: bool


def ordered(ev: Evidence, probes: Table, draws: Sequence[Draw]) -> Ordered:
    """Order the probes that are still to be sampled.

    A location of which an earlier result is known goes by its highest detect, from low to high; the others follow in
    the declared order (by planned start where all have one, else as the probes table lists them): the ground of which
    nobody knows anything may be the dirtiest.
    """
    highest = _highest_by_location(ev)
    location = location_of_probes(ev)
    todo: dict[int, When | None] = {}
    for draw in draws:
        if draw.soil_gas and not draw.drawn and draw.probe >= 0 and draw.container != "passive_sampler":
            known = todo.get(draw.probe)
            todo[draw.probe] = min((one for one in (known, draw.start) if one is not None), default=None)
    kind, _ = words(probes, "kind")
    row_of = {number: int(ev.probe_ids.row[number]) for number in todo}
    todo = {number: when for number, when in todo.items() if row_of[number] >= 0 and kind[row_of[number]] != "passive"}
    stated = [draw.probe for draw in draws if draw.stated]
    timed = bool(todo) and all(number in stated for number in todo)

    def declared(number: int) -> tuple[int, int]:
        when = todo[number]
        return (when.low if timed and when is not None else 0, row_of[number])

    first = sorted(todo, key=declared)
    told = [number for number in first if not math.isnan(highest.get(int(location[number]), math.nan))]
    by_dirt = sorted(told, key=lambda number: (highest[int(location[number])], declared(number)))
    order: list[int] = [*by_dirt, *(number for number in first if number not in set(told))]
    held = _held(ev, probes, order)
    order = _held_after(order, held)
    by = "declared order" if not told else "earlier results" if len(told) == len(order) else "some earlier results"
    steps = [
        Step(
            str(ev.probe_ids.names[number]), _name(ev, int(location[number])),
            highest.get(int(location[number]), math.nan), todo[number],
            after=str(ev.probe_ids.names[held[number]]) if number in held else "",
        )
        for number in order
    ]  # fmt: skip
    cleanings, reusable = _cleanings(ev, probes, order, location.tolist())
    steps = [
        replace(step, clean=cleanings[number][0], unsure=cleanings[number][1])
        for step, number in zip(steps, order, strict=True)
    ]
    return Ordered(tuple(steps), by, _against([number for number in by_dirt if number in stated], todo, ev), reusable)


def _held(ev: Evidence, probes: Table, order: Sequence[int]) -> dict[int, int]:
    """Probes not driven yet whose tip still stands in the ground at another stop, and that other stop."""
    tip = ev.equipment_ids.of("probes", "tip_id", probes.rows)
    use, _ = words(probes, "tip_use")
    driven = moments(probes, "installed_at").known
    row_of = {number: int(ev.probe_ids.row[number]) for number in order}
    standing = {
        int(tip[row]): number
        for number, row in row_of.items() if driven[row] and tip[row] >= 0 and use[row] != "dedicated"
    }  # fmt: skip
    return {
        number: standing[int(tip[row])]
        for number, row in row_of.items() if not driven[row] and use[row] != "dedicated" and int(tip[row]) in standing
    }  # fmt: skip


def _held_after(order: Sequence[int], held: Mapping[int, int]) -> list[int]:
    """A tip is drawn before it is driven anew, however clean the ground is that waits for it."""
    out = [number for number in order if number not in held]
    for number in order:
        if number not in held:
            continue
        wanted = order.index(number)
        at = out.index(held[number]) + 1
        while at < len(out) and order.index(out[at]) < wanted:
            at += 1
        out.insert(at, number)
    return out


def _name(ev: Evidence, location: int) -> str:
    return str(ev.location_ids.names[location]) if location >= 0 else ""


def _against(by_dirt: Sequence[int], todo: dict[int, When | None], ev: Evidence) -> tuple[tuple[str, str], ...]:
    """Neighbours in the order from clean to dirty whose planned times run the other way: (dirtier, cleaner)."""
    out = []
    for cleaner, dirtier in itertools.pairwise(by_dirt):
        early, late = todo[cleaner], todo[dirtier]
        if early is not None and late is not None and late.high < early.low:
            out.append((str(ev.probe_ids.names[dirtier]), str(ev.probe_ids.names[cleaner])))
    return tuple(out)


def _highest_by_location(ev: Evidence) -> dict[int, float]:
    """Highest detect of each location number of which some result can be compared, ug/m3; 0 for nothing found."""
    top, judged = highest_detects(ev)
    out: dict[int, float] = {}
    for number, samples in ev.drawn_at_location.items():
        told = samples[judged[samples] > 0]
        if told.size:
            out[number] = float(top[told].max())
    return out


def _cleanings(
    ev: Evidence, probes: Table, order: Sequence[int], location: Sequence[int]
) -> tuple[dict[int, tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]], bool]:
    """Equipment to clean before each stop, judged as the review will judge it: planned uses beside those on record."""
    installed = moments(probes, "installed_at")
    tip = ev.equipment_ids.of("probes", "tip_id", probes.rows)
    tip_use, _ = words(probes, "tip_use")
    cleaned = cleanings_of(ev)
    began = _after_everything(ev, cleaned)
    at_stop = {number: began + index * _MINUTE for index, number in enumerate(order)}
    row_of = {number: int(ev.probe_ids.row[number]) for number in order}
    uses: list[Use] = []
    for use in ev.uses:
        if use.probe in at_stop and use.table == "probes" and not installed.known[row_of[use.probe]]:
            continue  # not driven yet: it is planned below
        if use.probe in at_stop and use.assumed_end:
            # It stands in the ground until the sample that is still to come has been drawn.
            uses.append(replace(use, end=(at_stop[use.probe],) * 2, assumed_end=False))
        else:
            uses.append(use)
    gear = _gear(ev)
    reusable = bool(gear)
    for number in order:
        row, when = row_of[number], at_stop[number]
        own = int(tip[row])
        driven = bool(installed.known[row])
        planned = [(piece, kind) for piece, kind in gear.items() if not (driven and kind in _FOR_THE_HOLE)]
        if own >= 0 and tip_use[row] != "dedicated":
            reusable = True
            if not driven:
                planned.append((own, "tip"))
        for piece, kind in planned:
            uses.append(
                Use(
                    equipment=piece, kind=kind, probe=number, location=location[number], begin=(when, when),
                    end=(when, when), timed=True, assumed_end=False, table=_PLANNED, row=row,
                )
            )  # fmt: skip
    by_piece: dict[int, list[Use]] = {}
    for use in uses:
        by_piece.setdefault(use.equipment, []).append(use)
    pieces = [InTimeOrder(found) for found in by_piece.values()]
    # Whether or not the folder has a log, a cleaning that nobody wrote down is one that is still to be done.
    moves = moves_of(pieces, replace(cleaned, logged=True))
    out: dict[int, tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]] = {}
    for number in order:
        mine = [
            move for move in moves if move.use.probe == number and move.use.table == _PLANNED and not move.same_location
        ]
        out[number] = (
            tuple(_named(ev, move) for move in mine if move.outcome is Outcome.BROKEN),
            tuple(_named(ev, move) for move in mine if move.outcome is Outcome.UNPROVEN),
        )
    return out, reusable


def _named(ev: Evidence, move: Move) -> tuple[str, str]:
    before = move.before
    place = str(ev.probe_ids.names[before.probe]) if before.probe >= 0 else _name(ev, before.location)
    return str(ev.equipment_ids.names[move.use.equipment]), place


def _gear(ev: Evidence) -> dict[int, str]:
    """Equipment that the log knows and nobody retired, with its kind: it serves every stop to come.

    Tips that the probes table names are planned by it; tubing serves one place only.
    """
    log = ev.tables.get("equipment_log")
    if log is None:
        return {}
    event, _ = words(log, "event")
    kind, _ = words(log, "equipment_kind")
    equipment = ev.equipment_ids.of("equipment_log", "equipment_id", log.rows)
    probes = ev.tables.get("probes")
    tips = set(ev.equipment_ids.of("probes", "tip_id", probes.rows).tolist()) if probes is not None else set()
    gone = {int(equipment[row]) for row in np.flatnonzero(log.counts & (event == "retired")).tolist()}
    out: dict[int, str] = {}
    for row in np.flatnonzero(log.counts & (event == "used") & (equipment >= 0) & (kind != "tubing")).tolist():
        piece = int(equipment[row])
        if piece not in gone and piece not in tips:
            out.setdefault(piece, str(kind[row]))
    return out


def _after_everything(ev: Evidence, cleaned: Cleanings) -> int:
    last = [use.end[1] for use in ev.uses if use.timed and use.end[1] != LAST]
    last += [high for spans in cleaned.at.values() for _, high in spans]
    return max(last, default=0) + _MINUTE

"""Before and during sampling: what the rules in force ask of each probe, with the limit behind every number.

What is still to be made is reckoned by the same functions of `evidence` and `checks` that judge it once it is made.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from vaporqa.errors import FolderError, Problem
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, words
from vaporqa.planning import controls, deadlines, filling, lines, waiting
from vaporqa.planning.draws import Draw, LimitBook, draws_of, lack_of, when_of
from vaporqa.planning.order import Ordered, ordered
from vaporqa.planning.values import ITEMS, Basis, Item, Lack, Plan, ProbeState, Safe, Step, When, Wishes
from vaporqa.planning.wishes import read_wishes
from vaporqa.review.values import Review
from vaporqa.tables.values import Table

_CLEARED = "when buried services were located and cleared"
_SHOWN = {name: place for place, name in enumerate(ITEMS)}


def plan_of(review: Review, wishes: Wishes) -> Plan:
    """Plan what is left to be sampled.

    Parameters
    ----------
    review : Review
        Of the folder as it stands.
    wishes : Wishes

    Raises
    ------
    FolderError
        The folder has no probes table, or none with a row.
    """
    ev = review.evidence
    probes = ev.tables.get("probes")
    if probes is None or not probes.rows:
        folder = str(review.project.folder or "")
        message = "the folder has no probes table" if probes is None else "the probes table has no row"
        mend = "a plan is made by probe: fill probes.csv, one row a probe (`vaporqa tables probes` shows its columns)"
        raise FolderError(Problem(folder, 0, 0, message, mend))
    book = LimitBook(review)
    draws = draws_of(ev, wishes)
    order = ordered(ev, probes, draws)
    states = tuple(_states(ev, probes, draws))
    found = [*_clearances(ev, probes, states), *_stops(order, book), *_items(ev, probes, draws, book, wishes)]
    items = _sorted(found, [state.probe for state in states])
    open_ = {state.probe for state in states if state.state == "to sample"}
    kept = tuple(item for item in items if item.probe in open_ or not _only_to_sample(item))
    later = [
        *controls.duplicates(ev, draws, order, book), *controls.equipment_blanks(ev, draws, order, book),
        *controls.trip_blanks(ev, draws, book),
    ]  # fmt: skip
    return Plan(review, wishes, states, (*kept, *later), order.steps, order.by, order.against)


def _only_to_sample(item: Item) -> bool:
    """Items that say nothing more once a probe has been sampled."""
    return bool(item.probe) and item.name not in ("preserve_by", "latest_receipt", "latest_analysis", "water_seen")


def _clearances(ev: Evidence, probes: Table, states: Sequence[ProbeState]) -> Iterator[Item]:
    """Whether buried services were located and cleared at each probe."""
    cleared = moments(probes, "services_cleared_at")
    for row, state in zip(np.flatnonzero(probes.counts).tolist(), states, strict=True):
        when = when_of(cleared, row)
        missing = _CLEARED if when is None else ""
        lack = lack_of(bool(cleared.hard[row])) if missing else Lack.NOTHING
        yield Item(state.probe, "services_cleared", when=when, missing=missing, lack=lack,
                   against=state.clearance != "recorded")  # fmt: skip


def _stops(order: Ordered, book: LimitBook) -> Iterator[Item]:
    """The place of each probe in the order, and what is cleaned before it."""
    dirt, move = book.basis("sampling-order", "cleaner_first"), book.basis("clean-between-locations", "every_move")
    by_dirt = (dirt,) if dirt is not None else ()
    by_move = (move,) if move is not None else ()
    for number, step in enumerate(order.steps, start=1):
        note = "" if not math.isnan(step.highest) else "nothing is known of it: as declared"
        yield Item(step.probe, "stop", step.location, value=float(number), basis=by_dirt, note=note)
        for piece, place in (*step.clean, *step.unsure):
            yield Item(step.probe, "clean_before", piece, word=f"from {place}", basis=by_move)


def _items(ev: Evidence, probes: Table, draws: Sequence[Draw], book: LimitBook, wishes: Wishes) -> list[Item]:
    cut, out = lines.cuts(ev, probes, book)
    swept = list(lines.purges(ev, probes, draws, book, wishes, cut))
    out += swept
    out += waiting.water(ev, probes, draws, book)
    out += waiting.waits(ev, probes, book, _minutes(swept))
    out += waiting.rain_holds(ev, probes, draws, book)
    out += filling.fillings(ev, draws, book, wishes)
    out += deadlines.deadlines(ev, draws, book)
    if any(draw.soil_gas and not draw.drawn and not draw.container for draw in draws):
        starts = [draw.start for draw in draws if draw.start is not None and not draw.drawn]
        start = wishes.start or min(starts, default=None)
        out += filling.canisters_of_the_day(ev, start, book)
        out += deadlines.deadlines_by_container(ev, start, book)
    return out


def _minutes(items: Sequence[Item]) -> dict[str, float]:
    """The longest least purge of each probe, min; nan where one of its purges could not be worked out."""
    out: dict[str, float] = {}
    for item in items:
        if item.name == "purge_time_least":
            known = out.get(item.probe, item.value)
            out[item.probe] = math.nan if math.isnan(known) else max(known, item.value)
    return out


def _sorted(items: Sequence[Item], probes: Sequence[str]) -> list[Item]:
    place = {probe: number for number, probe in enumerate(probes)}
    return sorted(items, key=lambda item: (place.get(item.probe, len(place)), _SHOWN[item.name]))


def _states(ev: Evidence, probes: Table, draws: Sequence[Draw]) -> Iterator[ProbeState]:
    kind, _ = words(probes, "kind")
    installed, removed = moments(probes, "installed_at"), moments(probes, "removed_at")
    cleared = moments(probes, "services_cleared_at")
    number = ev.probe_ids.of("probes", "probe_id", probes.rows)
    location = ev.location_ids.of("probes", "location_id", probes.rows)
    for row in np.flatnonzero(probes.counts).tolist():
        mine = [draw for draw in draws if draw.probe == number[row] and draw.probe >= 0 and draw.soil_gas]
        if kind[row] == "passive":
            state = "passive"
        elif mine and all(draw.drawn for draw in mine):
            state = "sampled"
        elif removed.known[row]:
            state = "removed"
        else:
            state = "to sample"
        driven = bool(installed.known[row])
        if cleared.hard[row]:
            clearance = "unreadable"
        elif not cleared.known[row]:
            clearance = "none"
        else:
            clearance = "late" if driven and cleared.low[row] > installed.high[row] else "recorded"
        name = str(ev.location_ids.names[int(location[row])]) if location[row] >= 0 else ""
        yield ProbeState(str(probes.keys[row]), name, str(kind[row]), state, clearance, driven)


__all__ = [
    "Basis", "Item", "Lack", "Plan", "ProbeState", "Safe", "Step", "When", "Wishes", "plan_of", "read_wishes",
]  # fmt: skip

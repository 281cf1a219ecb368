"""What must serve one place only: tubing at one location, a dedicated tip at one probe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import moments, words
from vaporqa.evidence.drawing import is_soil_gas, labels, nothing, soil_gas_of_rows
from vaporqa.evidence.judged import Facts, Labels, Links, Measured
from vaporqa.evidence.time_order import InTimeOrder
from vaporqa.evidence.uses import Use, location_of_probes, samples_of_use

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Places:
    """Of one use: how many places the thing had certainly served by then, the last of these, whether that is open."""

    count: int
    last: int
    open: bool


def places_by_then(uses: list[tuple[int, tuple[int, int], bool]]) -> list[Places]:
    """Count the places of one thing, its own included, at each of its uses.

    Parameters
    ----------
    uses : list of (place, (earliest, latest), timed)
        `place` is a location or probe number. Of an untimed use the order is open.

    Returns
    -------
    list of Places
        In the order given. Where the order of two uses at different places cannot be told, one of the two is the
        second use, and nobody knows which: both are open, unless another use certainly came first.
    """
    out = []
    for index, (place, (low, high), timed) in enumerate(uses):
        before: dict[int, int] = {}
        unsure = False
        for other, (where, (first, last), known) in enumerate(uses):
            if other == index or where == place:
                continue
            decided = timed and known and (first, last) != (low, high)
            if decided and last <= low:
                before[where] = max(before.get(where, first), first)
            elif not (decided and high <= first):
                unsure = True
        latest = max(before, key=lambda one: (before[one], one), default=-1)
        out.append(Places(1 + len(before), latest, unsure and not before))
    return out


def tubing_locations(ev: Evidence) -> Measured:
    """How many locations a piece of tubing had served by each of its uses; one entry a use in the log."""
    log = ev.tables.get("equipment_log")
    if log is None:
        return nothing()
    event, _ = words(log, "event")
    kind, _ = words(log, "equipment_kind")
    at = moments(log, "at")
    piece = ev.equipment_ids.of("equipment_log", "equipment_id", log.rows)
    probe = ev.probe_ids.of("equipment_log", "probe_id", log.rows)
    stated = ev.location_ids.of("equipment_log", "location_id", log.rows)
    location = np.where(stated >= 0, stated, location_of_probes(ev)[probe])
    # An empty kind or event may be tubing in use; the conditions of the rule then say what is missing.
    possible = np.isin(kind.astype(str), ("tubing", "")) & np.isin(event.astype(str), ("used", ""))
    rows = np.flatnonzero(log.counts & possible & (piece >= 0))
    certain = (kind == "tubing") & (event == "used") & (location >= 0)
    count, last, open_ = np.ones(len(rows)), np.full(len(rows), -1), np.zeros(len(rows), bool)
    entry, target = [], []
    of_row = {int(row): index for index, row in enumerate(rows)}
    for number in np.unique(piece[rows]).tolist():
        mine = [int(row) for row in rows[piece[rows] == number] if certain[row]]
        uses = [
            Use(
                equipment=number, kind="tubing", probe=int(probe[row]), location=int(location[row]),
                begin=(int(at.low[row]), int(at.high[row])), end=(int(at.low[row]), int(at.high[row])),
                timed=bool(at.known[row]), assumed_end=False, table="equipment_log", row=row,
            )
            for row in mine
        ]  # fmt: skip
        found = places_by_then([(use.location, use.begin, use.timed) for use in uses])
        in_order = InTimeOrder(uses)
        for use, places in zip(uses, found, strict=True):
            index = of_row[use.row]
            count[index], last[index], open_[index] = places.count, places.last, places.open
            drawn = samples_of_use(ev, use, in_order)
            drawn = drawn[is_soil_gas(ev)[drawn]]
            entry.extend([index] * len(drawn))
            target.extend(drawn.tolist())
    asked = Asked(rows.astype(np.int64), np.ones(len(rows), bool))
    asked.need(location[rows] >= 0, "the location", ("equipment_log", "location_id"), ("equipment_log", "probe_id"))
    asked.need(~open_, "which of its uses came first", ("equipment_log", "at"))
    asked.hard_where(open_)
    pieces, where = np.array([*ev.equipment_ids.names, ""], object), np.array([*ev.location_ids.names, ""], object)
    facts: Facts = {
        "equipment": Labels(pieces[piece[rows]]), "here": Labels(where[location[rows]]), "last": Labels(where[last]),
    }  # fmt: skip
    links = Links(np.array(entry, np.int64), np.array(target, np.int64))
    return asked.measured(count, facts=facts, samples=links)


def dedicated_tip_probes(ev: Evidence) -> Measured:
    """How many probes a tip that is dedicated anywhere had served by each of its probes; one entry a probe row."""
    table = ev.tables.get("probes")
    if table is None:
        return nothing()
    use, _ = words(table, "tip_use")
    tip = ev.equipment_ids.of("probes", "tip_id", table.rows)
    probe = ev.probe_ids.of("probes", "probe_id", table.rows)
    installed = moments(table, "installed_at")
    dedicated = np.unique(tip[(use == "dedicated") & (tip >= 0)])
    concerned = table.counts & np.isin(tip, dedicated) & (probe >= 0)
    count, last, open_ = np.ones(table.rows), np.full(table.rows, -1), np.zeros(table.rows, bool)
    for number in dedicated.tolist():
        rows = np.flatnonzero(concerned & (tip == number)).tolist()
        uses = [
            (int(probe[row]), (int(installed.low[row]), int(installed.high[row])), bool(installed.known[row]))
            for row in rows
        ]
        for row, places in zip(rows, places_by_then(uses), strict=True):
            count[row], last[row], open_[row] = places.count, places.last, places.open
    asked = Asked(np.arange(table.rows, dtype=np.int64), concerned)
    asked.need(~open_, "which of its probes was installed first", ("probes", "installed_at"))
    asked.hard_where(open_)
    tips, names = np.array([*ev.equipment_ids.names, ""], object), np.array([*ev.probe_ids.names, ""], object)
    facts: Facts = {"tip": Labels(tips[tip]), "last": Labels(labels([str(names[one]) for one in last.tolist()]))}
    return asked.measured(count, facts=facts, samples=soil_gas_of_rows(ev, table))

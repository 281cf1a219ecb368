"""Tubing to cut, dead volume with its parts, and the purge that it asks for, by probe."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, missing_numbers, numbers, words
from vaporqa.evidence.dead_volume import DeadVolume, dead_volumes
from vaporqa.evidence.drawing import difference
from vaporqa.evidence.keeping import keeps_limit
from vaporqa.evidence.purging import Swept, swept_volumes
from vaporqa.planning.draws import Draw, LimitBook, lack_of
from vaporqa.planning.values import Basis, Item, Lack, Safe, Wishes
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import Bool, Table

_TUBING = "a tubing at least as long as its rods"
_PARTS = ("tubing", "tip", "void", "pack", "seal")


@dataclass(frozen=True, slots=True)
class Cut:
    """Tubing of each probe row, (n,): the length to reckon with, which of them are planned, and which are too short."""

    length: Known
    planned: Bool
    short: Bool


def cuts(ev: Evidence, probes: Table, book: LimitBook) -> tuple[Cut, list[Item]]:
    """Work out the tubing of driven probes: at least the rods with the tail that the rules ask for above them."""
    kind, _ = words(probes, "kind")
    driven = kind == "driven"
    rods, tubing = numbers(probes, "rod_length"), numbers(probes, "tubing_length")
    reaches, tail = book.basis("tubing-reaches-tip", "reaches"), book.basis("tubing-tail", "tail")
    beyond_rods = difference(tubing, rods)
    bases = tuple(basis for basis in (reaches, tail) if basis is not None)
    beyond = max((basis.limit.value for basis in bases), default=math.nan)
    planned = driven & ~tubing.known & ~tubing.hard & rods.known & bool(bases)
    short = np.zeros(probes.rows, bool)
    if reaches is not None:
        both = driven & tubing.known & rods.known
        short = both & ~keeps_limit(reaches.limit, beyond_rods.value)
    length = Known(
        np.where(planned, rods.value + beyond, tubing.value), tubing.known | planned, np.asarray(tubing.hard)
    )
    items = []
    for row in np.flatnonzero(probes.counts & driven).tolist():
        probe = str(probes.keys[row])
        if not bases:
            continue
        if not rods.known[row]:
            lack = lack_of(bool(rods.hard[row]))
            items.append(Item(probe, "tubing_to_cut", missing="the length of the rods", lack=lack, basis=bases))
            continue
        unit = "ft" if bases[-1].limit.unit in ("in", "ft") else "m"
        measure = parse_unit(unit, "length")
        assert measure is not None
        value = float(measure.from_canonical(float(rods.value[row]) + beyond))
        enough = bool(tubing.known[row]) and bool(
            all(keeps_limit(basis.limit, beyond_rods.value[[row]])[0] for basis in bases)
        )
        note = (
            ""
            if not tubing.known[row]
            else "the tubing recorded is long enough"
            if enough
            else (
                "the tubing recorded is shorter than its rods"
                if short[row]
                else "the tubing recorded leaves less than that"
            )
        )
        items.append(
            Item(probe, "tubing_to_cut", value=value, unit=unit, basis=bases, safe=Safe.UP, note=note,
                 against=bool(short[row]))
        )  # fmt: skip
    return Cut(length, planned, short), items


def purges(
    ev: Evidence, probes: Table, draws: Sequence[Draw], book: LimitBook, wishes: Wishes, cut: Cut
) -> Iterator[Item]:
    """Dead volume and purge of each probe that is still to be sampled; several where its samples differ in it."""
    dead = dead_volumes(probes, cut.length)
    todo = [draw for draw in draws if draw.soil_gas and not draw.drawn and draw.container != "passive_sampler"]
    # A duplicate drawn beside its parent through one line is swept with it.
    todo = [draw for draw in todo if draw.kind != "field_duplicate" or _alone(draw, todo)]
    row = ev.probe_ids.rows_of(np.array([draw.probe for draw in todo], np.int64))
    sample = np.array([draw.sample for draw in todo], np.int64)
    train, flow, stroke = (_of_purges(ev, todo, column) for column in ("train_volume", "flow", "stroke_volume"))
    asked = Asked(np.arange(len(todo), dtype=np.int64), np.ones(len(todo), bool))
    swept = swept_volumes(ev, dead, row, sample, train, asked)
    line = asked.measured(swept.total)
    kind, _ = words(probes, "kind")
    for probe_row in np.flatnonzero(probes.counts).tolist():
        mine = [index for index in range(len(todo)) if int(row[index]) == probe_row]
        if not mine or kind[probe_row] == "passive":
            continue
        probe = str(probes.keys[probe_row])
        yield from _parts(probe, probe_row, dead, cut)
        seen: dict[tuple[float, float, float, float], list[int]] = {}
        for index in mine:
            known = (swept.total[index], flow.value[index], stroke.value[index], float(line.want[index]))
            key = tuple(-1.0 if math.isnan(number) else float(number) for number in known)
            seen.setdefault((key[0], key[1], key[2], key[3]), []).append(index)
        for alike in seen.values():
            first = alike[0]
            of = "; ".join(todo[index].key for index in alike) if len(seen) > 1 else ""
            want = int(line.want[first])
            lacking = (line.wants[want].phrase, lack_of(bool(line.hard[first]))) if want >= 0 else ("", Lack.NOTHING)
            own = flow.take(np.array([first])), stroke.take(np.array([first]))
            yield from _purge(probe, of, probe_row, dead, cut, swept, first, lacking, book, wishes, own)
    for index, draw in enumerate(todo):
        if row[index] < 0:
            missing = (
                "the probe that it is to be drawn from" if draw.probe == -1 else "one row of the probe that it names"
            )
            yield Item("", "dead_volume", draw.key, unit="mL", missing=missing, lack=Lack.NOT_RECORDED)


def _alone(draw: Draw, todo: Sequence[Draw]) -> bool:
    return not any(other.probe == draw.probe and other.kind == "primary" for other in todo)


def _of_purges(ev: Evidence, todo: Sequence[Draw], column: str) -> Known:
    """A column of the purge row that names each draw, else of one that names its probe alone and has no time."""
    table = ev.tables.get("purges")
    if table is None:
        return missing_numbers(len(todo))
    value = numbers(table, column)
    sample = ev.sample_ids.of("purges", "sample_id", table.rows)
    probe = ev.probe_ids.of("purges", "probe_id", table.rows)
    stands = table.counts & (value.known | value.hard)
    at = np.full(len(todo), -1, np.int64)
    for index, draw in enumerate(todo):
        named = np.flatnonzero(stands & (sample == draw.sample)) if draw.sample >= 0 else np.empty(0, np.int64)
        if not named.size:
            named = np.flatnonzero(stands & (sample < 0) & (probe == draw.probe))
        if named.size:
            at[index] = int(named[-1])
    return value.take(at)


def _parts(probe: str, row: int, dead: DeadVolume, cut: Cut) -> Iterator[Item]:
    values = (dead.tubing, dead.tip, dead.void, dead.pack, dead.seal)
    for name, value in zip(_PARTS, values, strict=True):
        if value[row] > 0 and not (name == "tubing" and cut.short[row]):
            note = "of the tubing to be cut" if name == "tubing" and cut.planned[row] else ""
            yield Item(probe, f"{name}_part", value=float(value[row]), unit="mL", note=note)


def _purge(
    probe: str, of: str, row: int, dead: DeadVolume, cut: Cut, swept: Swept, index: int, lacking: tuple[str, Lack],
    book: LimitBook, wishes: Wishes, own: tuple[Known, Known],
) -> Iterator[Item]:  # fmt: skip
    for name, part in (("train_part", swept.train), ("bulb_part", swept.bulb)):
        if part[index] > 0:
            yield Item(probe, name, of, value=float(part[index]), unit="mL")
    missing, lack = lacking
    if cut.short[row]:
        missing, lack = _TUBING, Lack.CONTRADICTS
    elif dead.want[row]:
        missing, lack = str(dead.want[row]), lack_of(bool(dead.hard[row]))
    total = math.nan if missing else float(swept.total[index])
    assumed = str(dead.assumed[row])
    note = f"{assumed} taken for granted" if assumed else ""
    yield Item(probe, "dead_volume", of, value=total, unit="mL", missing=missing, lack=lack, note=note)
    enough, most = book.basis("purge-volumes", "enough"), book.basis("over-purge", "most")
    need = Item(probe, "", of, unit="mL", missing="the dead volume" if missing else "", lack=lack)
    volumes = {}
    for name, basis, safe in (("purge_least", enough, Safe.UP), ("purge_most", most, Safe.DOWN)):
        if basis is not None:
            volumes[name] = (basis.limit.value * total, basis, safe)
            yield replace(need, name=name, value=basis.limit.value * total, basis=(basis,), safe=safe)
    yield from _by_pump(probe, of, volumes, need, book, wishes, own[0])
    yield from _by_hand(probe, of, volumes, need, book, wishes, own[1])


_Volumes = dict[str, tuple[float, Basis, Safe]]


def _by_pump(
    probe: str, of: str, volumes: _Volumes, need: Item, book: LimitBook, wishes: Wishes, own: Known
) -> Iterator[Item]:
    highest = book.basis("purge-flow", "highest")
    if own.hard[0]:
        yield Item(probe, "purge_flow", of, missing="the purge flow", lack=Lack.UNREADABLE)
        return
    if own.known[0]:
        flow, note = float(own.value[0]), "as planned in purges"
    elif wishes.flow is not None:
        flow, note = wishes.flow, "as asked for"
    elif highest is not None:
        flow, note = highest.limit.value, "the highest that the rule allows"
    else:
        yield Item(probe, "purge_flow", of, missing="a planned flow", lack=Lack.NOT_RECORDED)
        return
    bases = (highest,) if highest is not None else ()
    over = highest is not None and not keeps_limit(highest.limit, np.array([flow]))[0]
    yield Item(probe, "purge_flow", of, value=flow, unit="mL/min", basis=bases, note=note, against=over)
    if not flow > 0:
        return
    for name, time in (("purge_least", "purge_time_least"), ("purge_most", "purge_time_most")):
        if name in volumes:
            volume, basis, safe = volumes[name]
            yield replace(need, name=time, value=volume / flow, unit="min", basis=(basis, *bases), safe=safe)


def _by_hand(
    probe: str, of: str, volumes: _Volumes, need: Item, book: LimitBook, wishes: Wishes, own: Known
) -> Iterator[Item]:
    stroke = float(own.value[0]) if own.known[0] else wishes.stroke
    if stroke is None or not stroke > 0:
        return
    least, most = volumes.get("purge_least"), volumes.get("purge_most")
    count = math.nan
    if least is not None:
        count = _whole(least[0] / stroke, math.ceil)
        yield replace(need, name="strokes_least", value=count, unit="strokes", basis=(least[1],), safe=Safe.UP)
    if most is not None:
        top = _whole(most[0] / stroke, math.floor)
        # Where one stroke is more than ten volumes no whole number of strokes keeps both limits.
        none = not math.isnan(top) and not math.isnan(count) and top < count
        yield replace(need, name="strokes_most", value=top, unit="strokes", basis=(most[1],), safe=Safe.DOWN,
                      against=none)  # fmt: skip
    highest = book.basis("purge-flow", "highest")
    if highest is not None:
        yield Item(probe, "stroke_interval", of, value=60.0 * stroke / highest.limit.value, unit="s", basis=(highest,),
                   safe=Safe.UP)  # fmt: skip


def _whole(number: float, to: object) -> float:
    """Bring a count to whole strokes; one that is whole but for rounding stays."""
    if math.isnan(number):
        return number
    near = round(number)
    if abs(number - near) <= RELATIVE_TOLERANCE * max(abs(number), 1.0):
        return float(near)
    return float(math.ceil(number) if to is math.ceil else math.floor(number))

"""Filling the containers: flow, the vacuum to expect and at which to close, and how long it takes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import Limit
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import Known, Moment, missing_numbers, numbers
from vaporqa.evidence.keeping import keeps_limit
from vaporqa.evidence.pressures import Barometer, barometers_beside, container_volumes
from vaporqa.evidence.sampling import BAROMETER_PHRASE
from vaporqa.planning.draws import Draw, LimitBook, lack_of
from vaporqa.planning.values import Basis, Item, Lack, Safe, When, Wishes
from vaporqa.quantities.pressures import sea_level_vacuum, volume_drawn
from vaporqa.quantities.units import parse_unit

_CONTAINER = "the container"
_VOLUME = "the volume of the container"


def fillings(ev: Evidence, draws: Sequence[Draw], book: LimitBook, wishes: Wishes) -> Iterator[Item]:
    """Flow, vacua and fill time of each sample that is still to be drawn from a probe."""
    todo = [draw for draw in draws if draw.soil_gas and not draw.drawn and draw.probe >= 0]
    sheet = _Sheet.of(ev, todo)
    for index, draw in enumerate(todo):
        probe = str(ev.probe_ids.names[draw.probe])
        if draw.container == "passive_sampler":
            continue
        if not draw.container:
            yield Item(probe, "fill_time_to", draw.key, missing=_CONTAINER, lack=lack_of(draw.container_hard))
            continue
        flow, item = _flow(probe, draw, todo, sheet.flow, index, book, wishes)
        yield item
        if draw.container == "canister":
            yield from _canister(probe, draw, sheet, index, book, flow, item.basis)
        else:
            yield from _other(probe, draw, sheet, index, flow, item.basis)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What is recorded of the draws, (m,)."""

    flow: Known
    volume: Known
    planned: Known
    vacuum: Known
    left: Known
    barometer: Barometer

    @staticmethod
    def of(ev: Evidence, todo: Sequence[Draw]) -> _Sheet:
        table = ev.tables.get("samples")
        row = np.array([draw.row for draw in todo], np.int64)
        nothing = missing_numbers(0)

        def column(name: str) -> Known:
            return (numbers(table, name) if table is not None else nothing).take(row)

        volume = container_volumes(ev, table).take(row) if table is not None else nothing.take(row)
        at = ev.canisters
        lab = at.receipt_barometer.take(row)
        dispatch = at.dispatch.take(row)
        # The gas left in a canister as the laboratory sent it; a gauge that shows more than the barometer means none.
        known = lab.known & dispatch.known
        left = Known(np.where(known, np.maximum(lab.value - dispatch.value, 0.0), np.nan), known, dispatch.hard)
        return _Sheet(
            flow=column("flow"), volume=volume, planned=column("volume"), vacuum=column("vacuum_start"), left=left,
            barometer=barometers_beside(ev, column("barometer"), moment_of([draw.start for draw in todo])),
        )  # fmt: skip


def moment_of(times: Sequence[When | None]) -> Moment:
    """Return planned times as evidence has them."""
    size = len(times)
    known = np.array([when is not None for when in times], bool)
    low, high, day = (
        np.array([getattr(when, name) if when is not None else 0 for when in times], np.int64)
        for name in ("low", "high", "day")
    )
    date_only = np.array([when is not None and when.date_only for when in times], bool)
    return Moment(low, high, day, date_only, known, np.zeros(size, bool))


def _flow(
    probe: str, draw: Draw, todo: Sequence[Draw], stated: Known, index: int, book: LimitBook, wishes: Wishes
) -> tuple[float, Item]:
    """The planned flow of one draw; those drawn beside each other from one probe share what the rule allows."""
    most = book.basis("sampling-flow", "most")
    basis = (most,) if most is not None else ()
    item = Item(probe, "sampling_flow", draw.key, unit="mL/min", basis=basis)
    if stated.hard[index]:
        return math.nan, replace(item, missing="the flow", lack=Lack.UNREADABLE)
    line = [other for other, one in enumerate(todo) if one.probe == draw.probe and _beside(one, draw)]
    if stated.known[index]:
        flow, note = float(stated.value[index]), "as planned in samples"
    elif wishes.flow is not None:
        flow, note = wishes.flow, "as asked for"
    elif most is not None:
        flow, note = most.limit.value / len(line), "the highest that the rule allows"
        if len(line) > 1:
            note = f"a {_share(len(line))} of the highest that the rule allows: {len(line)} are drawn at once"
    else:
        return math.nan, replace(item, missing="a planned flow", lack=Lack.NOT_RECORDED)
    own = [float(stated.value[other]) if stated.known[other] else flow for other in line]
    over = most is not None and not keeps_limit(most.limit, np.array([math.fsum(own)]))[0]
    if len(line) > 1 and over and stated.known[index] | (wishes.flow is not None):
        note += f"; {len(line)} are drawn at once"
    return flow, replace(item, value=flow, note=note, against=over)


def _share(count: int) -> str:
    return {2: "half", 3: "third"}.get(count, f"1/{count}")


def _beside(one: Draw, other: Draw) -> bool:
    """Whether two draws of one probe are taken at once: a simultaneous duplicate and its parent, or of one start."""
    if one is other:
        return True
    if "field_duplicate" in (one.kind, other.kind):
        return not (one.stated and other.stated and one.start != other.start)
    return one.stated and other.stated and one.start == other.start


def _canister(
    probe: str, draw: Draw, sheet: _Sheet, index: int, book: LimitBook, flow: float, flow_basis: tuple[Basis, ...]
) -> Iterator[Item]:
    barometer = sheet.barometer.pressure
    evacuated = book.basis("canister-start", "evacuated")
    pressure = float(barometer.value[index]) if barometer.known[index] else math.nan
    missing = "" if barometer.known[index] else BAROMETER_PHRASE.rstrip(",")
    lack = lack_of(bool(barometer.hard[index])) if missing else Lack.NOTHING
    left = float(sheet.left.value[index]) if sheet.left.known[index] else 0.0
    source = f"barometer {_inhg(pressure):.4g} inHg, from {sheet.barometer.source[index]}" if not missing else ""
    yield from expected_vacua(probe, draw.key, pressure, left, evacuated, missing, lack, source,
                              sent=bool(sheet.left.known[index]))  # fmt: skip
    least, most = book.basis("canister-end", "least"), book.basis("canister-end", "most")
    for name, basis, safe in (("close_from", most, Safe.NEAREST), ("close_at", least, Safe.UP)):
        if basis is not None:
            yield Item(
                probe, name, draw.key, value=basis.limit.number, unit=basis.limit.unit, basis=(basis,), safe=safe
            )
    start = pressure - float(sheet.vacuum.value[index]) if sheet.vacuum.known[index] else left
    volume = sheet.volume
    if not missing and not volume.known[index]:
        missing, lack = _VOLUME, lack_of(bool(volume.hard[index]))
    if not missing and not flow > 0:
        missing, lack = "a flow above nought", Lack.NOT_RECORDED
    for name, basis, safe in (("fill_time_from", most, Safe.UP), ("fill_time_to", least, Safe.DOWN)):
        if basis is None:
            continue
        item = Item(
            probe, name, draw.key, unit="min", basis=(basis, *flow_basis), missing=missing, lack=lack, safe=safe
        )
        if not missing:
            end = pressure - basis.limit.value
            drawn = float(volume_drawn(float(volume.value[index]), start, end, pressure))
            item = replace(item, value=drawn / flow) if drawn > 0 else replace(
                item, missing="a canister that holds less than at closing", lack=Lack.CONTRADICTS
            )  # fmt: skip
        yield item


def expected_vacua(
    probe: str, of: str, pressure: float, left: float, evacuated: Basis | None, missing: str, lack: Lack, source: str,
    *, sent: bool,
) -> Iterator[Item]:  # fmt: skip
    """What a gauge shows on a canister as it was sent, and the least that proves it evacuated, at a barometer (kPa)."""
    note = f"{source}; {'as the laboratory sent it' if sent else 'a canister that was sent empty'}" if source else ""
    yield Item(probe, "vacuum_expected", of, value=_inhg(pressure - left), unit="inHg", missing=missing, lack=lack,
               note=note)  # fmt: skip
    if evacuated is not None:
        allowed = float(sea_level_vacuum(evacuated.limit.value))
        yield Item(probe, "vacuum_start_least", of, value=_inhg(pressure - allowed), unit="inHg", basis=(evacuated,),
                   missing=missing, lack=lack, note=note, safe=Safe.UP,
                   against=not missing and left > allowed * (1 + 1e-9))  # fmt: skip


def _inhg(kilopascals: float) -> float:
    unit = parse_unit("inHg", "pressure")
    assert unit is not None
    return float(unit.from_canonical(kilopascals))


def _other(
    probe: str, draw: Draw, sheet: _Sheet, index: int, flow: float, flow_basis: tuple[Basis, ...]
) -> Iterator[Item]:
    """A tube is drawn through for its planned volume; a bag, a syringe or an evacuated bulb is filled."""
    item = Item(probe, "fill_time_to", draw.key, unit="min", basis=flow_basis)
    vacuum = sheet.vacuum
    if draw.container == "glass_bulb" and not (vacuum.known[index] and vacuum.value[index] > 0):
        yield replace(item, word="filled by the purge that sweeps it")
        return
    tube = draw.container == "sorbent_tube"
    volume = sheet.planned if tube else sheet.planned.or_else(sheet.volume)
    if not volume.known[index]:
        phrase = "the volume to draw through the tube" if tube else _VOLUME
        yield replace(item, missing=phrase, lack=lack_of(bool(volume.hard[index])))
    elif not flow > 0:
        yield replace(item, missing="a flow above nought", lack=Lack.NOT_RECORDED)
    else:
        yield replace(item, value=float(volume.value[index]) / flow, safe=Safe.UP)


def canisters_of_the_day(ev: Evidence, start: When | None, book: LimitBook) -> Iterator[Item]:
    """What any canister shows at the site, for samples of which nobody says yet what they will be taken in."""
    barometer = barometers_beside(ev, missing_numbers(1), moment_of([start]))
    evacuated = book.basis("canister-start", "evacuated")
    known = bool(barometer.pressure.known[0])
    pressure = float(barometer.pressure.value[0]) if known else math.nan
    missing = "" if known else BAROMETER_PHRASE.rstrip(",")
    lack = lack_of(bool(barometer.pressure.hard[0])) if missing else Lack.NOTHING
    source = f"barometer {_inhg(pressure):.4g} inHg, from {barometer.source[0]}" if known else ""
    yield from expected_vacua("", "any canister", pressure, 0.0, evacuated, missing, lack, source, sent=False)
    for name, limit_name, safe in (("close_from", "most", Safe.NEAREST), ("close_at", "least", Safe.UP)):
        basis = book.basis("canister-end", limit_name)
        if basis is not None:
            limit: Limit = basis.limit
            yield Item("", name, "any canister", value=limit.number, unit=limit.unit, basis=(basis,), safe=safe)

"""How long the ground must rest before gas is drawn from it: after the installation, and after heavy rain."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from vaporqa.checks.rain_wait import least_rain
from vaporqa.criteria import Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, words
from vaporqa.evidence.installation import WAY_WANTS, height_above_water, ways_of
from vaporqa.evidence.keeping import keeps_limit
from vaporqa.evidence.weather import RainGauge, rain_record
from vaporqa.planning.draws import Draw, LimitBook, lack_of, when_of
from vaporqa.planning.values import Basis, Item, Lack, Safe, When
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import EMPTY, Bool, Table

_US = 1_000_000
_WHEN_INSTALLED = "when the probe was installed"
_UNDER_WATER = "no soil gas comes in under water: a shallower interval, or none here"
_LONG = "days to weeks, until its field readings are stable"


def waits(ev: Evidence, probes: Table, book: LimitBook, purge_minutes: Mapping[str, float]) -> Iterator[Item]:
    """Wait after the installation, earliest purge and earliest sample of each probe."""
    rule = book.rule("equilibration-time")
    if rule is None:
        return
    kind, kind_hard = words(probes, "kind")
    method, method_hard = words(probes, "install_method")
    pilot, pilot_hard = words(probes, "pilot_hole")
    installed = moments(probes, "installed_at")
    for row in np.flatnonzero(probes.counts & (kind != "passive")).tolist():
        probe = str(probes.keys[row])
        ways, wanted = ways_of(str(kind[row]), str(method[row]), str(pilot[row]))
        limits = [limit for limit in rule.limits if limit.when.get("way") in ways]
        timed = [limit for limit in limits if limit.sense is Sense.AT_LEAST]
        open_end = len(timed) < len(limits)
        longest = max(timed, key=lambda limit: limit.value, default=None)
        hard = bool(kind_hard[row] | method_hard[row] | pilot_hard[row])
        missing = WAY_WANTS[wanted].phrase if wanted >= 0 else ""
        basis = tuple(Basis(rule.id, limit) for limit in (limits if open_end else [longest] if longest else []))
        if longest is None or open_end:
            # A drilled hole has no single number: nothing earlier than its readings settle.
            lack = lack_of(hard) if missing else Lack.NO_NUMBER
            yield Item(probe, "wait", basis=basis, missing=missing or "a single number for a drilled hole", lack=lack,
                       note=_LONG)  # fmt: skip
            continue
        note = f"the longest that is possible, for want of {missing}" if missing else ""
        yield Item(probe, "wait", value=longest.value / 3600.0, unit="h", basis=basis, note=note, safe=Safe.UP)
        stood = when_of(installed, row)
        if stood is None:
            lack = lack_of(bool(installed.hard[row]))
            yield Item(probe, "earliest_purge", basis=basis, missing=_WHEN_INSTALLED, lack=lack)
            continue
        after = stood.high + int(longest.value * _US)
        if stood.date_only:
            note = "counted from the end of the day, for want of the time of the installation"
        purge = When(after, after, 0)
        yield Item(probe, "earliest_purge", when=purge, basis=basis, note=note)
        minutes = purge_minutes.get(probe, math.nan)
        if not math.isnan(minutes):
            done = after + math.ceil(minutes * 60) * _US
            yield Item(probe, "earliest_sample", when=When(done, done, 0), basis=basis,
                       note="after the least purge at the planned flow")  # fmt: skip


def rain_holds(ev: Evidence, probes: Table, draws: Sequence[Draw], book: LimitBook) -> Iterator[Item]:
    """Until when heavy rain on record holds each probe back; sub-slab probes are not concerned."""
    rule = book.rule("rain-wait")
    wait, heavy = book.basis("rain-wait", "wait"), book.basis("rain-wait", "heavy")
    if rule is None or wait is None or heavy is None:
        return
    kind, _ = words(probes, "kind")
    rain = rain_record(ev)
    basis = (wait, heavy)
    gauge = RainGauge(rain, least_rain(heavy.limit)) if rain is not None else None
    first: dict[int, When | None] = {}
    for draw in draws:
        if draw.soil_gas and not draw.drawn and draw.probe >= 0:
            known = first.get(draw.probe)
            if known is None or (draw.start is not None and draw.start.low < known.low):
                first[draw.probe] = draw.start
    numbers_of = ev.probe_ids.of("probes", "probe_id", probes.rows)
    for row in np.flatnonzero(probes.counts & (kind != "subslab")).tolist():
        number = int(numbers_of[row])
        if number not in first:
            continue
        probe = str(probes.keys[row])
        if gauge is None or rain is None or not len(rain.end):
            yield Item(probe, "rain_hold", basis=basis, missing="the rain before sampling", lack=Lack.NOT_RECORDED)
            continue
        start = first[number]
        # Rain that is on record after a planned start counts as well: that start has not come about yet.
        last = int(rain.end.max())
        found = gauge.wait(max(start.low, last) if start is not None else last, wait.limit.value)
        note = "" if found.complete else "the rain record does not cover the time up to the draw: keep it up"
        if math.isnan(found.seconds):
            yield Item(probe, "rain_hold", basis=basis, word="no heavy rain on record", note=note)
            continue
        until = found.ended + int(wait.limit.value * _US)
        inch = parse_unit(heavy.limit.unit, "length")
        assert inch is not None
        fell = float(inch.from_canonical(found.depth))
        since = (start.low - found.ended) / _US if start is not None else math.nan
        inside = start is not None and not keeps_limit(wait.limit, np.array([since]))[0]
        yield Item(
            probe, "rain_hold", value=fell, unit=heavy.limit.unit, when=When(until, until, 0), basis=basis, note=note,
            against=inside,
        )  # fmt: skip


def water(ev: Evidence, probes: Table, draws: Sequence[Draw], book: LimitBook) -> Iterator[Item]:
    """How far each open interval stands above the water, and where water was seen in a train already."""
    above = book.basis("above-water", "above")
    if above is not None:
        measured = height_above_water(ev)
        kind, _ = words(probes, "kind")
        unit = parse_unit(above.limit.unit, "length")
        assert unit is not None
        depth = _depth_stands(probes)
        for entry, row in enumerate(measured.row.tolist()):
            if kind[row] not in ("driven", "implant", "subslab") or not measured.concerned[entry]:
                continue
            probe = str(probes.keys[row])
            value = float(measured.value[entry])
            if math.isnan(value):
                if depth[row]:
                    want = int(measured.want[entry])
                    phrase = measured.wants[want].phrase if want >= 0 else "the depth of the water"
                    lack = lack_of(bool(measured.hard[entry]))
                    yield Item(probe, "height_above_water", basis=(above,), missing=phrase, lack=lack)
                continue
            against = not keeps_limit(above.limit, np.array([value]))[0]
            note = _UNDER_WATER if against else ""
            yield Item(probe, "height_above_water", value=float(unit.from_canonical(value)), unit=above.limit.unit,
                       basis=(above,), against=against, note=note)  # fmt: skip
    table = ev.tables.get("samples")
    if table is None:
        return
    seen, _ = words(table, "water_seen")
    for draw in draws:
        if draw.row >= 0 and draw.probe >= 0 and seen[draw.row] in ("line", "container"):
            basis = book.basis("water-in-train", str(seen[draw.row]))
            yield Item(
                str(ev.probe_ids.names[draw.probe]), "water_seen", draw.key, word=str(seen[draw.row]),
                basis=(basis,) if basis is not None else (), against=True,
            )  # fmt: skip


def _depth_stands(probes: Table) -> Bool:
    """Probes of which the water depth is recorded, readable or not: only there is its height above water asked for."""
    found = probes.number("water_depth")
    return np.zeros(probes.rows, bool) if found is None else np.asarray(found.state != EMPTY)

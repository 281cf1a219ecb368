"""The draw itself: flow, vacuum, the canister's pressures, and which gear went from clean to dirty ground."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, moments, numbers, words
from vaporqa.evidence.collected import Samples
from vaporqa.evidence.drawing import exact_span, in_inhg, labels, nothing, own_sample, soil_gas_rows
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured, Want
from vaporqa.evidence.pressures import container_volumes
from vaporqa.quantities.constants import ATMOSPHERE
from vaporqa.tables.values import Bool, Float, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_S_PER_MIN = 60.0


def _drawn(ev: Evidence) -> tuple[Table | None, Int64, Int64, Bool]:
    """The samples table, soil-gas rows, their sample numbers, and which of them were drawn (no passive samplers)."""
    rows, number = soil_gas_rows(ev)
    return ev.tables.get("samples"), rows, number, ~ev.samples.passive[number]


def sampling_flow(ev: Evidence) -> Measured:
    """Flow of each sample; of samples that overlap in time on one probe, the sum, mL/min.

    Stamps without a time of day may or may not overlap: the sum with all that may, stands beside the sum with those
    that do.
    """
    table, rows, number, drawn = _drawn(ev)
    if table is None:
        return nothing()
    flow = numbers(table, "flow").take(rows)
    asked = Asked(rows, drawn)
    asked.need(flow, "the flow", ("samples", "flow"))
    least, most, lacking, beside = _sums(ev.samples, _line(ev, number), number, flow, drawn)
    asked.need(~lacking, "the flow of the sample drawn beside it from the same probe", ("samples", "flow"))
    ids = np.array([*ev.sample_ids.names, ""], dtype=object)
    with_others = [", with " + ", ".join(str(ids[one]) for one in others) if others else "" for others in beside]
    found = asked.measured(least, facts={"beside": Labels(labels(with_others))}, samples=own_sample(number))
    decide = np.full(len(rows), len(found.wants), np.int16)
    want = Want("the time of day of the samples of its probe", ())
    found = replace(found, wants=(*found.wants, want), decided_by=decide)
    return replace(found, otherwise=(replace(found, value=np.where(np.isfinite(found.value), most, np.nan)),))


def _line(ev: Evidence, number: Int64) -> Int64:
    """What a sample draws from: its probe, else its parent's, else (negative) its parent or itself."""
    samples = ev.samples
    parent = np.where(samples.kind[number] == "field_duplicate", samples.parent[number], -1)
    probe = samples.probe[number]
    through = np.where(parent >= 0, samples.probe[np.maximum(parent, 0)], -1)
    probe = np.where(probe >= 0, probe, through)
    return np.where(probe >= 0, probe, -10 - np.where(parent >= 0, parent, number))


def _sums(
    samples: Samples, line: Int64, number: Int64, flow: Known, drawn: Bool
) -> tuple[Float, Float, Bool, list[list[int]]]:
    """Per sample: the least and the most flow through its line at one moment, a missing flow, and what overlaps it."""
    least, most = flow.value.copy(), flow.value.copy()
    lacking, beside = np.zeros(len(number), bool), [list[int]() for _ in number]
    _, group, size = np.unique(line, return_inverse=True, return_counts=True)
    shared = np.flatnonzero(drawn & (size[group.reshape(-1)] > 1))
    members: dict[int, list[int]] = {}
    for index in shared.tolist():
        members.setdefault(int(line[index]), []).append(index)
    start, end = samples.start.take(number), samples.end.take(number)
    for several in members.values():
        for one in several:
            sure = [o for o in several if o != one and _overlaps(start, end, one, o, certainly=True)]
            maybe = [o for o in several if o != one and _overlaps(start, end, one, o, certainly=False)]
            lacking[one] = flow.known[one] and any(not flow.known[o] for o in maybe)
            least[one] += _peak(start, end, one, sure, flow.value)
            most[one] += float(np.nansum(flow.value[maybe])) if maybe != sure else least[one] - flow.value[one]
            beside[one] = sorted(int(number[o]) for o in sure)
    return least, most, lacking, beside


def _overlaps(start: Moment, end: Moment, one: int, other: int, *, certainly: bool) -> bool:
    """Whether two draws certainly, or possibly, ran at the same moment; an unknown stamp leaves it possible."""
    known = start.known[one] and start.known[other] and end.known[one] and end.known[other]
    if not known:
        return not certainly
    if certainly:
        together = start.low[one] == start.high[one] == start.low[other] == start.high[other]
        return bool(together or (start.high[one] < end.low[other] and start.high[other] < end.low[one]))
    return bool(
        start.low[one] == start.low[other] or (start.low[one] < end.high[other] and start.low[other] < end.high[one])
    )


def _peak(start: Moment, end: Moment, one: int, others: list[int], flow: Float) -> float:
    """The most that the others draw at any one moment of a draw: one that ended before the next began adds nothing."""
    best = 0.0
    for first in [one, *others]:
        at = max(int(start.high[first]), int(start.high[one]))
        running = [o for o in others if start.high[o] <= at and (at < end.low[o] or start.high[o] == at)]
        best = max(best, float(np.nansum(flow[running])))
    return best


def sampling_vacuum(ev: Evidence) -> Measured:
    """Highest vacuum while sampling, kPa gauge."""
    return _by_sample(ev, "vacuum_highest", "the highest vacuum while sampling")


def probe_pressure(ev: Evidence) -> Measured:
    """Pressure in the probe before the draw, positive above ambient, kPa; sub-slab samples are not concerned."""
    found = _by_sample(ev, "probe_pressure", "the pressure in the probe before the draw")
    return replace(found, concerned=found.concerned & ~is_subslab(ev, soil_gas_rows(ev)[1]))


def _by_sample(ev: Evidence, column: str, phrase: str) -> Measured:
    table, rows, number, drawn = _drawn(ev)
    if table is None:
        return nothing()
    value = numbers(table, column).take(rows)
    asked = Asked(rows, drawn)
    asked.need(value, phrase, ("samples", column))
    return asked.measured(value.value, samples=own_sample(number))


def is_subslab(ev: Evidence, number: Int64) -> Bool:
    """Samples from under a slab, by their matrix or their probe."""
    kind, _ = words(ev.tables.get("probes"), "kind")
    row = ev.probe_ids.rows_of(ev.samples.probe[number])
    of_probe = np.append(kind, "")[np.maximum(row, -1)] if len(kind) else np.full(len(number), "", object)
    return np.asarray((ev.samples.matrix[number] == "subslab_gas") | (of_probe == "subslab"))


# -- canisters -------------------------------------------------------------------------------------------------------


def _canisters(ev: Evidence) -> tuple[Table | None, Int64, Int64, Asked]:
    """Soil-gas samples in canisters, and those of which nobody knows the container: it is asked for first."""
    rows, number = soil_gas_rows(ev)
    samples = ev.samples
    container, hard = samples.container[number], samples.container_hard[number]
    asked = Asked(rows, (container == "canister") | (container == "") | hard)
    asked.need(Known(np.zeros(len(rows)), container != "", hard), "the container", ("samples", "container"))
    return ev.tables.get("samples"), rows, number, asked


#: Any of these would do; the altitude stands in project.yaml.
_BAROMETER = (("samples", "barometer"), ("weather", "barometer"), ("project", "altitude"))
_BAROMETER_PHRASE = "a barometer reading, or the altitude of the site,"


def _beside(pressure: Known, vacuum: Known, source: Texts) -> Facts:
    return {
        "pressure": Amounts(in_inhg(pressure.value), "inHg", digits=4),
        "gauge": Amounts(in_inhg(vacuum.value), "inHg", digits=4),
        "barometer": Amounts(in_inhg(pressure.value + vacuum.value), "inHg", digits=4),
        "barometer_from": Labels(source),
    }  # fmt: skip


def canister_start(ev: Evidence) -> Measured:
    """Vacuum that a gauge at sea level would show for the absolute pressure at the start, kPa."""
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    at = ev.canisters
    vacuum, pressure = at.start.take(rows), at.start_pressure.take(rows)
    asked.need(vacuum, "the vacuum at the start", ("samples", "vacuum_start"))
    asked.need(at.start_barometer.pressure.take(rows), _BAROMETER_PHRASE, *_BAROMETER)
    facts = _beside(pressure, vacuum, at.start_barometer.source[rows])
    return asked.measured(ATMOSPHERE.value - pressure.value, facts=facts, samples=own_sample(number))


def canister_end(ev: Evidence) -> Measured:
    """Gauge vacuum left at the end, kPa; the case `controller` tells whether a flow controller was on it.

    The id of a controller stands on samples or custody, and an empty cell there says no; `unstated` where neither
    table has such a column.
    """
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    vacuum = ev.canisters.end.take(rows)
    asked.need(vacuum, "the vacuum left at the end", ("samples", "vacuum_end"))
    word = controllers(ev)[number]
    said = np.where(word == "yes", "with a flow controller", np.where(word == "no", "without one", "")).astype(object)
    return asked.measured(
        vacuum.value, cases={"controller": word}, facts={"controlled": Labels(said)}, samples=own_sample(number)
    )


def controllers(ev: Evidence) -> Texts:
    """`yes`, `no` or `unstated` by sample number."""
    out = np.full(ev.sample_count, "unstated", object)
    for name in ("samples", "custody"):
        table = ev.tables.get(name)
        if table is not None and "controller_id" in table:
            out[:] = "no"
    for name in ("samples", "custody"):
        table = ev.tables.get(name)
        if table is not None and "controller_id" in table:
            named, _ = words(table, "controller_id")
            number = ev.sample_ids.of(name, "sample_id", table.rows)
            out[number[table.counts & (number >= 0) & (named != "")]] = "yes"
    return out


def collection_time(ev: Evidence) -> Measured:
    """Seconds from the start to the end of collection, of samples in canisters."""
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    span = exact_span(moments(table, "started_at"), moments(table, "ended_at")).take(rows)
    asked.need(span, "how long the collection took", ("samples", "started_at"), ("samples", "ended_at"))
    return asked.measured(span.value, samples=own_sample(number))


def canister_change(ev: Evidence) -> Measured:
    """Absolute pressure at receipt less that at the end of sampling, kPa, with both of them beside it."""
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    at = ev.canisters
    end, receipt = at.end_pressure.take(rows), at.receipt_pressure.take(rows)
    asked.need(at.end.take(rows), "the vacuum left at the end", ("samples", "vacuum_end"))
    asked.need(
        at.receipt.take(rows), "the vacuum at receipt", ("custody", "vacuum_receipt"), ("samples", "vacuum_receipt")
    )
    asked.need(at.end_barometer.pressure.take(rows), _BAROMETER_PHRASE, *_BAROMETER)
    asked.need(at.receipt_barometer.take(rows), "the altitude of the laboratory", ("project", "lab_altitude"))
    facts: Facts = {
        "end_pressure": Amounts(in_inhg(end.value), "inHg", digits=4),
        "receipt_pressure": Amounts(in_inhg(receipt.value), "inHg", digits=4),
        "change": Amounts(in_inhg(receipt.value - end.value), "inHg"),
    }
    return asked.measured(
        receipt.value - end.value, facts=facts, samples=own_sample(number),
        extra={"end": end.value, "receipt": receipt.value},
    )  # fmt: skip


def canister_fill(ev: Evidence) -> Measured:
    """Gap between the volume drawn by the two pressures and flow times time, as a share of the latter."""
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    at = ev.canisters
    volume = container_volumes(ev, table).take(rows)
    span = exact_span(moments(table, "started_at"), moments(table, "ended_at")).take(rows)
    flow = numbers(table, "flow").take(rows)
    start, end = at.start_pressure.take(rows), at.end_pressure.take(rows)
    sizes = (("samples", "container_volume"), ("containers", "container_volume"))
    asked.need(volume, "the volume of the canister", *sizes)
    asked.need(start, "the vacuum and the barometer at the start", ("samples", "vacuum_start"))
    asked.need(end, "the vacuum and the barometer at the end", ("samples", "vacuum_end"))
    asked.need(flow, "the flow", ("samples", "flow"))
    asked.need(span, "how long the collection took", ("samples", "started_at"), ("samples", "ended_at"))
    # A nominal 30 inHg would leave less than nothing: such a canister was empty, no more.
    with np.errstate(divide="ignore", invalid="ignore"):
        drawn = volume.value * (end.value - np.maximum(start.value, 0.0)) / at.end_barometer.pressure.take(rows).value
        metered = flow.value * span.value / _S_PER_MIN
        gap = drawn / metered - 1.0
    asked.need(np.isfinite(gap) | ~asked.known, "a flow and a time above nought", ("samples", "flow"))
    facts: Facts = {"drawn": Amounts(drawn, "mL"), "metered": Amounts(metered, "mL")}
    return asked.measured(gap, facts=facts, samples=own_sample(number))


def readings_taken(ev: Evidence) -> Measured:
    """How many of the four vacuum readings of a canister are on record."""
    table, rows, number, asked = _canisters(ev)
    if table is None:
        return nothing()
    at = ev.canisters
    count = np.zeros(len(rows))
    missing = [list[str]() for _ in range(len(rows))]
    for reading, phrase, places in (
        (at.dispatch, "at dispatch", (("samples", "vacuum_dispatch"), ("containers", "vacuum_dispatch"))),
        (at.start, "at the start", (("samples", "vacuum_start"),)),
        (at.end, "at the end", (("samples", "vacuum_end"),)),
        (at.receipt, "at receipt", (("custody", "vacuum_receipt"), ("samples", "vacuum_receipt"))),
    ):
        taken = reading.take(rows)
        # A column that the folder lacks is one finding on the table; an empty cell is a reading that was not taken.
        somewhere = any(column in ev.tables.tables[name] for name, column in places if name in ev.tables)
        asked.need(replace(taken, known=taken.known | (~taken.hard & somewhere)), f"the vacuum {phrase}", *places)
        count += taken.known
        for index in np.flatnonzero(~taken.known).tolist():
            missing[index].append(phrase)
    lacking = labels([", ".join(phrases) for phrases in missing])
    return asked.measured(count, facts={"lacking": Labels(lacking)}, samples=own_sample(number))

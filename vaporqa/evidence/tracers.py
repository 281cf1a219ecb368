"""Leak tracer tests: what of the tracer at the surface appeared in the sampling train.

Leak fraction = (train - background, not below 0) / lowest shroud reading (definition: US EPA ORD, conceptual
understanding of leakage during soil-gas sampling, 2007). A laboratory value outranks the meter. A nondetect tracer
bounds the leak by its reporting limit, which is no proof by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import pick, words
from vaporqa.evidence.joins import pairs_by_group
from vaporqa.evidence.judged import Amounts, Facts, Labels, Links, Measured
from vaporqa.evidence.reported import (
    DETECTED,
    NONDETECT,
    UNSTATED,
    Values,
    in_family,
    missing_values,
    values_of,
)
from vaporqa.quantities.units import BY_VOLUME
from vaporqa.tables.values import READ, Amount, Bool, Float, Int8, Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_PPBV_PER_PERCENT = 1e7


@dataclass(frozen=True, slots=True)
class Train:
    """What the train held, by entry (a test and a sample it counts for), (m,).

    Attributes
    ----------
    row, sample : int64
        Test row and sample number (-1: the test counts for no sample).
    analyte : int64
        Analyte number of the tracer, -1 where unreadable.
    detected : int8
        DETECTED, NONDETECT or UNSTATED.
    reading, ceiling, shroud, background, stated_limit : Values
        By volume. `ceiling` is what bounds a nondetect; `shroud` the lowest reading of the shroud; `stated_limit` the
        reporting limit that the form of the test states.
    highest : bool
        No lowest reading of the shroud is recorded and the highest one stands in for it.
    laboratory : bool
        The value is the laboratory's.
    noted : bool
        A laboratory row of its own outranks this meter's row.
    """

    row: Int64
    sample: Int64
    analyte: Int64
    detected: Int8
    reading: Values
    ceiling: Values
    shroud: Values
    background: Values
    stated_limit: Values
    highest: Bool
    laboratory: Bool
    noted: Bool


def trains(ev: Evidence) -> Train:
    """Gather what each tracer test found, with the laboratory's value where there is one."""
    table = ev.tables.get("tracer_tests")
    if table is None:
        return _no_trains()
    row, sample = _entries(ev, table)
    analyte = ev.analytes.of["tracer_tests"][row]
    mass = ev.molar_mass(analyte)

    def volume(column: str) -> Values:
        values = values_of(table.amount(column), table.rows).take(row)
        return in_family(values, np.full(len(row), BY_VOLUME, np.int8), mass, ev.molar_volume)

    reading = volume("train_reading")
    marked = _beside_mark(table.amount("train_reading"), row)
    ceiling = volume("train_reporting_limit").or_else(
        Values(np.where(marked, reading.value, np.nan), reading.family, marked & reading.known, ~marked & False)
    )
    detected = _train_detected(table, row)
    # A form that says no beside a reading over its own reporting limit contradicts itself, and proves nothing.
    over = ~marked & reading.known & ceiling.known & (reading.value > ceiling.value * (1 + RELATIVE_TOLERANCE))
    detected = np.where((detected == NONDETECT) & over, UNSTATED, detected).astype(np.int8)
    basis, _ = words(table, "basis")
    by_laboratory = basis[row] == "laboratory"
    noted = ~by_laboratory & _has_laboratory_row(row, sample, analyte, by_laboratory)
    background = volume("background")
    lowest, highest = volume("shroud_low"), volume("shroud_high")
    laboratory = by_laboratory.copy()
    found = _laboratory_values(ev, sample, analyte)
    if found is not None:
        lab_row, lab_detected, lab_reading, lab_ceiling = found
        use = (lab_row >= 0) & ~by_laboratory & ~noted
        detected = np.where(use, lab_detected, detected).astype(np.int8)
        reading = _choose(use, lab_reading, reading)
        ceiling = _choose(use, lab_ceiling, ceiling)
        # The background on the form is the meter's; it is not taken off what the laboratory measured.
        background = _choose(use, missing_values(len(row)), background)
        laboratory |= use
    return Train(
        row=row,
        sample=sample,
        analyte=analyte,
        detected=detected,
        reading=reading,
        ceiling=ceiling,
        shroud=lowest.or_else(highest),
        background=background,
        stated_limit=volume("train_reporting_limit"),
        highest=~lowest.known & ~lowest.hard & highest.known,
        laboratory=laboratory,
        noted=noted,
    )


def _no_trains() -> Train:
    none = np.empty(0, np.int64)
    nothing = missing_values(0)
    no = np.zeros(0, bool)
    return Train(none, none, none, none.astype(np.int8), nothing, nothing, nothing, nothing, nothing, no, no, no)


def _entries(ev: Evidence, table: Table) -> tuple[Int64, Int64]:
    """One entry a test and sample; a test that counts for no sample has one of its own; copies and others none."""
    attached = ev.tracer_tests
    lone = table.counts & ~attached.elsewhere
    lone[attached.row] = False
    alone = np.flatnonzero(lone)
    row = np.concatenate([attached.row, alone])
    sample = np.concatenate([attached.sample, np.full(len(alone), -1, np.int64)])
    order = np.lexsort((sample, row))
    return row[order].astype(np.int64), sample[order]


def _beside_mark(amount: Amount | None, row: Int64) -> Bool:
    return amount.marked[row] if amount is not None else np.zeros(len(row), bool)


def _train_detected(table: Table, row: Int64) -> Int8:
    """The `train_detected` column; else the mark in the cell; else a number over nought is a detection.

    A meter that reads nought has not detected; a stated detection of nought contradicts itself.
    """
    stated_column = table.yes_no("train_detected")
    stated = stated_column.values[row] if stated_column is not None else np.full(len(row), -1, np.int8)
    amount = table.amount("train_reading")
    if amount is None:
        cell = np.full(len(row), UNSTATED, np.int8)
        zero = np.zeros(len(row), bool)
    else:
        number = (amount.state[row] == READ) & np.isfinite(amount.written[row])
        zero = number & (amount.written[row] == 0)
        below = amount.nondetect[row] | (number & (amount.written[row] <= 0))
        cell = np.where(below, NONDETECT, np.where(number, DETECTED, UNSTATED)).astype(np.int8)
    contradicts = (stated == 1) & zero
    return np.select(
        [contradicts | (stated == -2), stated == 1, stated == 0], [UNSTATED, DETECTED, NONDETECT], default=cell
    ).astype(np.int8)


def _has_laboratory_row(row: Int64, sample: Int64, analyte: Int64, by_laboratory: Bool) -> Bool:
    """Entries whose sample has a tracer row of basis laboratory for the same tracer."""
    wanted = {(int(s), int(a)) for s, a in zip(sample[by_laboratory], analyte[by_laboratory], strict=True) if s >= 0}
    return np.array([(int(s), int(a)) in wanted for s, a in zip(sample, analyte, strict=True)], dtype=bool).reshape(
        len(row)
    )


def _laboratory_values(ev: Evidence, sample: Int64, analyte: Int64) -> tuple[Int64, Int8, Values, Values] | None:
    """The tracer among each entry's results: its row, whether detected, value and ceiling by volume."""
    results = ev.results
    if results is None:
        return None
    entry, found = tracer_rows(ev, sample, analyte)
    row = np.full(len(sample), -1, np.int64)
    # Of several rows in use for one sample the highest speaks: outside air is never judged by the kinder number.
    value = np.where(results.detected[found] == DETECTED, results.result.value[found], -1.0)
    order = np.argsort(np.where(np.isfinite(value), value, -1.0), kind="stable")
    row[entry[order]] = found[order]
    mass = ev.molar_mass(analyte)
    by_volume = np.full(len(sample), BY_VOLUME, np.int8)
    reading = in_family(results.result.take(row), by_volume, mass, ev.molar_volume)
    ceiling = in_family(results.ceiling.take(row), by_volume, mass, ev.molar_volume)
    detected = pick(results.detected, row, UNSTATED).astype(np.int8)
    return row, detected, reading, ceiling


def tracer_rows(ev: Evidence, sample: Int64, analyte: Int64) -> tuple[Int64, Int64]:
    """Pairs (entry, results row) of the tracer among the results in use of each entry's sample."""
    results = ev.results
    if results is None or not len(sample):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    wanted = np.unique(analyte[(analyte >= 0) & (sample >= 0)])
    rows = np.flatnonzero(np.isin(results.analyte, wanted) & results.target & (ev.in_use != 0))
    entry, pair = pairs_by_group(np.where(analyte >= 0, sample, -1), results.sample[rows], ev.sample_count)
    found = rows[pair]
    same = results.analyte[found] == analyte[entry]
    return entry[same], found[same]


def _choose(use: Bool, first: Values, second: Values) -> Values:
    return Values(
        np.where(use, first.value, second.value),
        np.where(use, first.family, second.family).astype(np.int8),
        np.where(use, first.known, second.known),
        np.where(use, first.hard, second.hard),
    )


def _links(sample: Int64) -> Links:
    entry = np.flatnonzero(sample >= 0).astype(np.int64)
    return Links(entry, sample[entry])


def _shown(values: Values) -> Amounts:
    """Tracer readings in per cent by volume where they are that large, else ppmv."""
    large = np.nan_to_num(values.value) >= _PPBV_PER_PERCENT / 100
    unit = np.where(large, "%v", "ppmv").astype(object)
    return Amounts(values.value / np.where(large, _PPBV_PER_PERCENT, 1e3), unit)


def _facts(ev: Evidence, train: Train) -> Facts:
    names = np.array([*ev.analytes.name, "tracer"], dtype=object)
    return {
        "tracer": Labels(names[train.analyte]),
        "train": _shown(train.reading),
        "ceiling": _shown(train.ceiling),
        "shroud": _shown(train.shroud),
        "shroud_by": Labels(
            np.where(
                train.highest, "highest shroud reading (no lowest one is recorded)", "lowest shroud reading"
            ).astype(object)
        ),
        "untimed": Labels(
            np.where(
                ev.tracer_tests.untimed[train.row] & (train.sample >= 0),
                " (the test has no time and is taken to belong to the sample that it names)",
                "",
            ).astype(object)
        ),
        "judged_on": Labels(np.where(train.laboratory, "the laboratory's value", "the meter").astype(object)),
    }


def _ask(train: Train, concerned: Bool) -> Asked:
    asked = Asked(train.row, concerned)
    asked.need(
        train.detected != UNSTATED, "the reading of the train", ("tracer_tests", "train_reading"),
        ("tracer_tests", "train_detected"),
    )  # fmt: skip
    asked.hard_where(train.reading.hard & (train.detected == UNSTATED))
    shroud = train.shroud
    usable = Values(shroud.value, shroud.family, shroud.known & (shroud.value > 0), shroud.hard)
    asked.need(
        usable.known, "the shroud concentration", ("tracer_tests", "shroud_low"), ("tracer_tests", "shroud_high")
    )
    asked.hard_where(shroud.hard)
    return asked


def leak_fraction(ev: Evidence) -> Measured:
    """(train - background, not below 0) over the lowest shroud reading, for tests whose tracer was detected."""
    train = ev.trains
    asked = _ask(train, train.detected != NONDETECT)
    asked.need(train.reading.known, "the reading of the train", ("tracer_tests", "train_reading"))
    asked.hard_where(train.reading.hard)
    background = np.where(train.background.known & np.isfinite(train.background.value), train.background.value, 0.0)
    asked.need(~train.background.hard, "the background reading", ("tracer_tests", "background"))
    asked.hard_where(train.background.hard)
    net = np.maximum(train.reading.value - background, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = net / train.shroud.value
    return asked.measured(value, facts=_facts(ev, train), samples=_links(train.sample), noted=train.noted)


def leak_bound(ev: Evidence) -> Measured:
    """Reporting limit over the lowest shroud reading, for tests whose tracer was not detected."""
    train = ev.trains
    asked = _ask(train, train.detected == NONDETECT)
    asked.need(train.ceiling.known, "the reporting limit of the tracer", ("tracer_tests", "train_reporting_limit"))
    asked.hard_where(train.ceiling.hard)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = train.ceiling.value / train.shroud.value
    return asked.measured(value, facts=_facts(ev, train), samples=_links(train.sample), noted=train.noted)


def shroud_lowest(ev: Evidence) -> Measured:
    """The lowest shroud reading, by volume."""
    train = ev.trains
    asked = Asked(train.row, np.ones(len(train.row), bool))
    asked.need(
        train.shroud.known, "the shroud concentration", ("tracer_tests", "shroud_low"), ("tracer_tests", "shroud_high")
    )
    asked.hard_where(train.shroud.hard)
    return asked.measured(train.shroud.value, facts=_facts(ev, train), samples=_links(train.sample), noted=train.noted)


def shroud_over_reporting_limit(ev: Evidence) -> Measured:
    """The lowest shroud reading over a stated reporting limit of the train."""
    train = ev.trains
    asked = Asked(train.row, np.ones(len(train.row), bool))
    asked.need(
        train.shroud.known, "the shroud concentration", ("tracer_tests", "shroud_low"), ("tracer_tests", "shroud_high")
    )
    asked.need(
        train.stated_limit.known & (np.nan_to_num(train.stated_limit.value) > 0), "the reporting limit of the tracer",
        ("tracer_tests", "train_reporting_limit"),
    )  # fmt: skip
    asked.hard_where(train.shroud.hard | train.stated_limit.hard)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = train.shroud.value / train.stated_limit.value
    return asked.measured(value, facts=_facts(ev, train), samples=_links(train.sample), noted=train.noted)


def cloth_tracer_ratio(ev: Evidence) -> Measured:
    """The tracer among the sample's results over each target's reporting limit: one entry a target.

    A nondetect tracer counts at its own limit, which bounds it from above: too large a bound is unproven, not broken.
    """
    train, results = ev.trains, ev.results
    table = ev.tables.get("tracer_tests")
    approach, _ = words(table, "approach")
    # An empty approach is an entry too: whether the rule concerns it cannot be told, which is not silence.
    cloth = np.flatnonzero(approach[train.row] != "shroud") if table is not None else np.empty(0, np.int64)
    sample, analyte = train.sample[cloth], train.analyte[cloth]
    if results is None:
        target_entry, target_row = np.empty(0, np.int64), np.empty(0, np.int64)
    else:
        rows = np.flatnonzero(results.target & (ev.in_use != 0))
        target_entry, pair = pairs_by_group(sample, results.sample[rows], ev.sample_count)
        target_row = rows[pair]
        other = results.analyte[target_row] != analyte[target_entry]
        target_entry, target_row = target_entry[other], target_row[other]
    without = np.setdiff1d(np.arange(len(cloth)), target_entry)
    entry = np.concatenate([target_entry, without]).astype(np.int64)
    target = np.concatenate([target_row, np.full(len(without), -1, np.int64)]).astype(np.int64)
    asked = Asked(train.row[cloth][entry], np.ones(len(entry), bool))
    value, bounded = _cloth_values(ev, asked, sample[entry], analyte[entry], target)
    names = np.array([*ev.analytes.name, "tracer"], dtype=object)
    analyte_of = results.analyte[np.maximum(target, 0)] if results is not None and len(results.analyte) else target
    links = Links(np.flatnonzero(target >= 0).astype(np.int64), target[target >= 0])
    facts: Facts = {
        "tracer": Labels(names[analyte[entry]]),
        "analyte": Labels(np.where(target >= 0, names[np.where(target >= 0, analyte_of, -1)], "").astype(object)),
    }
    return asked.measured(value, facts=facts, results=links, only_at_most=bounded)


def _cloth_values(ev: Evidence, asked: Asked, sample: Int64, analyte: Int64, target: Int64) -> tuple[Float, Bool]:
    results = ev.results
    size = len(target)
    found = _laboratory_values(ev, sample, analyte)
    if results is None or found is None:
        asked.need(np.zeros(size, bool), "a laboratory result for the tracer", ("results", "*"))
        no = np.zeros(size, bool)
        return np.full(size, np.nan), no
    row, detected, reading, ceiling = found
    known = (row >= 0) & (detected != UNSTATED)
    asked.need(known, "a laboratory result for the tracer", ("results", "*"))
    bounded = detected == NONDETECT
    tracer = _choose(bounded, ceiling, reading)
    asked.need(tracer.known, "a number for the tracer", ("results", "result"))
    asked.hard_where(tracer.hard)
    limit = results.reporting_limit.take(target)
    asked.need(limit.known, "the target's reporting limit", ("results", "reporting_limit"))
    asked.hard_where(limit.hard)
    comparable = in_family(tracer, limit.family, ev.molar_mass(analyte), ev.molar_volume)
    asked.need(comparable.known | ~limit.known | ~tracer.known, "one unit for the tracer and the target")
    with np.errstate(divide="ignore", invalid="ignore"):
        return comparable.value / limit.value, bounded & known


def tracer_as_target(ev: Evidence) -> Measured:
    """How often the tracer stands in the screening levels and required analytes."""
    train = ev.trains
    listed = np.zeros(len(ev.analytes.cas) + 1, bool)
    any_list = False
    for name in ("screening_levels", "required_analytes"):
        if name in ev.tables:
            any_list = True
            numbers = ev.analytes.of[name]
            listed[numbers[numbers >= 0]] = True
    asked = Asked(train.row, np.ones(len(train.row), bool))
    asked.need(
        np.full(len(train.row), any_list), "a list of screening levels or required analytes", ("screening_levels", "*"),
        ("required_analytes", "*"),
    )  # fmt: skip
    asked.need(train.analyte >= 0, "the tracer", ("tracer_tests", "tracer"))
    value = np.where(train.analyte >= 0, listed[train.analyte], 0).astype(np.float64)
    return asked.measured(value, facts=_facts(ev, train), samples=_links(train.sample))


def methane_at_meter(ev: Evidence) -> Measured:
    """Methane that a field tracer meter saw, where no laboratory value outranks it: laboratory result or meter."""
    train = ev.trains
    asked = Asked(train.row, ~train.laboratory & ~train.noted)
    value = methane_of_samples(ev, train.sample)
    probe = ev.probe_ids.of("tracer_tests", "probe_id", int(train.row.max(initial=-1)) + 1)[train.row]
    of_sample = pick(ev.samples.probe, train.sample, -1)
    value = np.fmax(value, methane_at_probes(ev, np.where(probe >= 0, probe, of_sample)))
    asked.need(np.isfinite(value), "a methane reading", ("field_readings", "*"), ("results", "*"))
    return asked.measured(value, facts=_facts(ev, train), samples=_links(train.sample))


_METHANE = "74-82-8"


def methane_of_samples(ev: Evidence, sample: Int64) -> Float:
    """Highest methane detect of each sample, ppbv; nan where it was not reported."""
    results = ev.results
    out = np.full(len(sample), np.nan)
    if results is None or _METHANE not in ev.analytes.cas:
        return out
    number = ev.analytes.cas.index(_METHANE)
    entry, row = tracer_rows(ev, sample, np.full(len(sample), number, np.int64))
    by_volume = np.full(len(row), BY_VOLUME, np.int8)
    value = in_family(results.result.take(row), by_volume, ev.molar_mass(np.full(len(row), number)), ev.molar_volume)
    amount = np.where(
        results.detected[row] == DETECTED, value.value, np.where(results.detected[row] == NONDETECT, 0.0, np.nan)
    )
    for e, v in zip(entry.tolist(), amount.tolist(), strict=True):
        out[e] = np.fmax(out[e], v)
    return out


def methane_at_probes(ev: Evidence, probe: Int64) -> Float:
    """Highest methane meter reading at each probe, ppbv; nan where there is none."""
    table = ev.tables.get("field_readings")
    out = np.full(len(probe), np.nan)
    if table is None or _METHANE not in ev.analytes.cas:
        return out
    number = ev.analytes.cas.index(_METHANE)
    readings = values_of(table.amount("reading"), table.rows)
    here = ev.probe_ids.of("field_readings", "probe_id", table.rows)
    use = table.counts & (ev.analytes.of["field_readings"] == number) & (here >= 0) & readings.known
    use &= readings.family == BY_VOLUME
    highest = np.full(len(ev.probe_ids.names) + 1, np.nan)
    for p, v in zip(here[use].tolist(), readings.value[use].tolist(), strict=True):
        highest[p] = np.fmax(highest[p], v)
    return np.where(probe >= 0, highest[probe], np.nan)


def tests_counting(ev: Evidence, approach: str = "") -> Int64:
    """How many tracer tests count for each sample number."""
    table = ev.tables.get("tracer_tests")
    count = np.zeros(ev.sample_count, np.int64)
    if table is None:
        return count
    attached = ev.tracer_tests
    kind, _ = words(table, "approach")
    use = kind[attached.row] == approach if approach else np.ones(len(attached.row), bool)
    np.add.at(count, attached.sample[use], 1)
    return count

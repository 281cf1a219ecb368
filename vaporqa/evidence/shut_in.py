"""Shut-in tests: the train held under vacuum before the purge. Vacua kPa gauge, times s."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, moments, numbers, yes_no
from vaporqa.evidence.drawing import US_PER_S, difference, exact_span, labels, nothing, own_sample, purge_begun
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured, Stamps, Want
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import Int64, Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def entries(ev: Evidence, table: Table) -> tuple[Int64, Int64]:
    """One entry a test and soil-gas sample; a test that counts for no sample has one of its own, and reaches none."""
    attached = ev.shut_in_tests
    lone = table.counts & ~attached.elsewhere
    lone[attached.row] = False
    alone = np.flatnonzero(lone)
    row = np.concatenate([attached.row, alone])
    sample = np.concatenate([attached.sample, np.full(len(alone), -1, np.int64)])
    order = np.lexsort((sample, row))
    return row[order].astype(np.int64), sample[order].astype(np.int64)


def _by_test(ev: Evidence, of: Callable[[Table], Known], phrase: str, *columns: str) -> Measured:
    table = ev.tables.get("shut_in_tests")
    if table is None:
        return nothing()
    row, sample = entries(ev, table)
    asked = Asked(row, np.ones(len(row), bool))
    value = of(table).take(row)
    asked.need(value, phrase, *(("shut_in_tests", column) for column in columns))
    said: Facts = {"untimed": Labels(_untimed(ev, row, sample))}
    return asked.measured(value.value, facts=said, samples=own_sample(sample))


def _untimed(ev: Evidence, row: Int64, sample: Int64) -> np.ndarray:
    """What must be said of a test without a time: it counts for the sample that it names."""
    counts = ev.shut_in_tests.untimed[row] & (sample >= 0)
    return np.where(counts, "; it has no time and counts for the sample it names", "").astype(object)


def vacuum(ev: Evidence) -> Measured:
    """Vacuum at the start of the test."""
    return _by_test(ev, lambda table: numbers(table, "vacuum_start"), "the vacuum at its start", "vacuum_start")


def hold(ev: Evidence) -> Measured:
    """How long the vacuum was held: the duration, else the end less the start."""

    def held(table: Table) -> Known:
        span = exact_span(moments(table, "started_at"), moments(table, "ended_at"))
        return numbers(table, "duration").or_else(span)

    return _by_test(ev, held, "how long the vacuum was held", "duration", "ended_at")


def decay(ev: Evidence) -> Measured:
    """Vacuum lost; a gauge that rose has lost none."""
    inch = parse_unit("inH2O", "pressure")
    assert inch is not None
    table = ev.tables.get("shut_in_tests")
    if table is None:
        return nothing()
    row, sample = entries(ev, table)
    first, last = numbers(table, "vacuum_start"), numbers(table, "vacuum_end")
    asked = Asked(row, np.ones(len(row), bool))
    asked.need(first.take(row), "the vacuum at its start", ("shut_in_tests", "vacuum_start"))
    asked.need(last.take(row), "the vacuum at its end", ("shut_in_tests", "vacuum_end"))
    facts: Facts = {"untimed": Labels(_untimed(ev, row, sample))}
    read = (("first", "vacuum_start"), ("last", "vacuum_end"), ("resolution", "gauge_resolution"))
    for name, column in read:
        value = numbers(table, column).take(row).value
        facts = {**facts, name: Amounts(np.asarray(inch.from_canonical(value)), "inH2O", digits=5)}
    loss, least = difference(first, last).take(row).value, numbers(table, "gauge_resolution").take(row)
    with np.errstate(invalid="ignore"):
        blurred = least.known & (loss < least.value * (1 - RELATIVE_TOLERANCE))
    found = asked.measured(loss, facts=facts, samples=own_sample(sample), only_at_most=blurred)
    # A loss of less than the gauge resolves is no plain one: it may be the reading of the gauge alone.
    want = Want("a gauge fine enough to show so small a loss", (("shut_in_tests", "gauge_resolution"),))
    decided_by = np.full(len(row), len(found.wants), np.int16)
    return replace(found, wants=(*found.wants, want), decided_by=decided_by)


def resolution(ev: Evidence) -> Measured:
    """Resolution of the gauge."""
    phrase = "the resolution of the gauge"
    return _by_test(ev, lambda table: numbers(table, "gauge_resolution"), phrase, "gauge_resolution")


def purge_after(ev: Evidence) -> Measured:
    """Seconds from the end of the test (else its start and duration, else its start) to the start of the purge.

    Stamps that hold a date alone decide only where even the kindest reading is out of order.
    """
    table = ev.tables.get("shut_in_tests")
    if table is None:
        return nothing()
    row, sample = entries(ev, table)
    ended = _ended(table).take(row)
    begun = purge_begun(ev).take(sample)
    asked = Asked(row, sample >= 0)
    asked.need(ended, "when the test ended", ("shut_in_tests", "ended_at"))
    asked.need(begun, "when the purge began", ("purges", "started_at"))
    shortest, longest = (begun.low - ended.high) / US_PER_S, (begun.high - ended.low) / US_PER_S
    asked.need((longest < 0) | (shortest >= 0), "the time of day of test and purge")
    facts: Facts = {
        "ended": Stamps(ended.low, ended.date_only), "purged": Stamps(begun.low, begun.date_only),
        "untimed": Labels(_untimed(ev, row, sample)),
    }  # fmt: skip
    return asked.measured(longest, facts=facts, samples=own_sample(sample))


def _ended(table: Table) -> Moment:
    began, lasted = moments(table, "started_at"), numbers(table, "duration")
    held = np.where(lasted.known, lasted.value, 0.0) * US_PER_S
    moved = Moment(
        began.low + held.astype(np.int64), began.high + held.astype(np.int64), began.day, began.date_only, began.known,
        began.hard,
    )  # fmt: skip
    return moments(table, "ended_at").or_else(moved)


def train_changed(ev: Evidence) -> Measured:
    """Whether the train was changed after the test, as a word."""
    table = ev.tables.get("shut_in_tests")
    if table is None:
        return nothing()
    row, sample = entries(ev, table)
    answer = yes_no(table, "train_changed_after").take(row)
    asked = Asked(row, sample >= 0)
    asked.need(answer, "whether the train was changed after it", ("shut_in_tests", "train_changed_after"))
    word = labels([{1.0: "yes", 0.0: "no"}.get(value, "") for value in answer.value.tolist()])
    return asked.measured(np.zeros(len(row)), cases={"train_changed": word}, samples=own_sample(sample))

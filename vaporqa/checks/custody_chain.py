"""`custody_chain`: the stamps of each sample's custody follow each other, and each receiver is the next releaser."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, words
from vaporqa.evidence.custody import Stamped, Steps, stamps_of, steps_of
from vaporqa.evidence.judged import Facts, Judged, Labels, Links, Stamps, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Table

OPTIONS = {"look_at": "`stamps`: the times in order; `hands`: each receiver is the next releaser"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every custody record against those before it."""
    table = evidence.tables.get("custody")
    if table is None:
        return ()
    steps = steps_of(evidence, table)
    if rule.options.get("look_at") == "hands":
        return (_hands(table, steps),)
    return (_stamps(evidence, table, steps),)


def _links(steps: Steps) -> Links:
    row = np.flatnonzero(steps.sample >= 0).astype(np.int64)
    return Links(row, steps.sample[row])


def _stamps(evidence: Evidence, table: Table, steps: Steps) -> Judged:
    n = table.rows
    stamped = stamps_of(evidence, table, steps)
    at, latest = stamped.at, stamped.latest
    wrong = at.known & (latest >= 0) & (at.high < at.low[np.maximum(latest, 0)])
    wrong &= stamped.row >= 0
    # Of a record with both stamps wrong the release is named: it is the earlier one.
    places = np.flatnonzero(wrong)[::-1]
    of_row = np.full(n, -1, np.int64)
    of_row[stamped.row[places]] = places
    broken = of_row >= 0
    asked = Asked(np.arange(n, dtype=np.int64), table.counts)
    asked.need(Known(np.zeros(n), steps.placed, steps.unread), "its place in the chain", ("custody", "step"))
    first = steps.before < 0
    collected = evidence.samples.end.take(steps.sample)
    asked.need(collected, "the end of collection", ("samples", "ended_at"), ("results", "collected_at"), rows=first)
    for column in ("released_at", "received_at"):
        missing = _moment_known(stamped, column == "received_at", n)
        asked.need(missing, f"when it was {column.split('_')[0]}", ("custody", column))
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(table.counts, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    measured = asked.measured(np.full(n, np.nan), facts=_order_facts(table, stamped, of_row), samples=_links(steps))
    return judged_from(measured, n, outcome, np.where(broken, 0, -1).astype(np.int16))


def _moment_known(stamped: Stamped, received: bool, rows: int) -> Known:
    mine = (stamped.row >= 0) & (stamped.received == received)
    known, hard = np.zeros(rows, bool), np.zeros(rows, bool)
    known[stamped.row[mine]] = stamped.at.known[mine]
    hard[stamped.row[mine]] = stamped.at.hard[mine]
    return Known(np.zeros(rows), known, hard)


def _order_facts(table: Table, stamped: Stamped, of_row: Int64) -> Facts:
    met = of_row >= 0
    own = np.maximum(of_row, 0)
    if not len(stamped.row):
        nothing, zero = Labels(np.full(len(of_row), "", object)), np.zeros(len(of_row), np.int64)
        stamp = Stamps(zero, zero.astype(bool))
        return {"what": nothing, "when": stamp, "earlier": nothing, "earlier_when": stamp}
    before = np.maximum(stamped.latest[own], 0)

    def what(places: Int64) -> Labels:
        handed = np.where(stamped.received[places], "received", "released").astype(object)
        row = stamped.row[places]
        # A stamp of another record is named with it: each record has a release and a receipt of its own.
        elsewhere = (row >= 0) & (row != stamped.row[own])
        handed[elsewhere] += " by the record " + table.keys[row[elsewhere]].astype(object)
        said = np.where(row < 0, "collected", handed)
        return Labels(np.where(met, said, "").astype(object))

    def when(places: Int64) -> Stamps:
        return Stamps(np.where(met, stamped.at.low[places], 0), stamped.at.date_only[places] & met)

    return {"what": what(own), "when": when(own), "earlier": what(before), "earlier_when": when(before)}


def _hands(table: Table, steps: Steps) -> Judged:
    n = table.rows
    giver, giver_hard = words(table, "released_by")
    taker, taker_hard = words(table, "received_by")
    last = np.maximum(steps.before, 0)
    later = steps.before >= 0
    asked = Asked(np.arange(n, dtype=np.int64), table.counts & (later | ~steps.placed))
    asked.need(Known(np.zeros(n), steps.placed, steps.unread), "its place in the chain", ("custody", "step"))
    asked.need(~(steps.tied & later), "which of two records of one step comes first", ("custody", "step"))
    received = np.where(later, taker[last], "").astype(object) if n else taker
    asked.need(
        Known(np.zeros(n), received != "", taker_hard[last] if n else taker_hard), "who received it at the step before",
        ("custody", "received_by"),
    )  # fmt: skip
    asked.need(Known(np.zeros(n), giver != "", giver_hard), "who released it", ("custody", "released_by"))
    broken = asked.known & later & (received != giver)
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    facts = {"receiver": Labels(received), "releaser": Labels(giver)}
    measured = asked.measured(np.full(n, np.nan), facts=facts, samples=_links(steps))
    return judged_from(measured, n, outcome, np.where(broken, 0, -1).astype(np.int16))

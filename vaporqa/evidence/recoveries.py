"""Recoveries of surrogates and of the laboratory's control samples, and which results hang on each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.batches import results_of_batches
from vaporqa.evidence.cells import Known, missing_numbers, moments, numbers, pick, words
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.judged import Amounts, Labels, Links, Measured
from vaporqa.evidence.reported import Results, in_family, values_of
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import READ, UNREADABLE, Bool, Float, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Words of lab_qc for control samples.
CONTROL_KINDS = ("control_sample", "control_sample_duplicate")
_NOTHING = np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class Recoveries:
    """Recoveries in percent with the limits that the laboratory printed beside them, (m,).

    Attributes
    ----------
    table : str
        `results` or `lab_qc`.
    row : int64
    value, low, high : Known
        Percent; `low` and `high` as printed by the laboratory.
    name : object
        Name of the analyte.
    dilution : Known
    flagged : bool (m,)
        The laboratory flags the row as outside its limits.
    flags_used : bool (m,)
        The same laboratory uses that flag on some row of its recoveries.
    """

    table: str
    row: Int64
    value: Known
    low: Known
    high: Known
    name: Texts
    dilution: Known
    flagged: Bool
    flags_used: Bool


def surrogates(ev: Evidence) -> Recoveries:
    """Every surrogate of the results table; where no recovery is given, a result in per cent is one."""
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        return _none("results")
    rows = np.flatnonzero(table.counts & (results.kind == "surrogate")).astype(np.int64)
    value = numbers(table, "recovery").or_else(_result_in_per_cent(table, results))
    low, high = printed_limits(table)
    flagged = results.flagged("surrogate_outside")[rows]
    laboratory = ev.batches.get(("results", "laboratory"), np.full(table.rows, -1, np.int64))[rows]
    return Recoveries(
        "results", rows, value.take(rows), low.take(rows), high.take(rows), ev.analyte_names(rows),
        numbers(table, "dilution").take(rows), flagged, np.isin(laboratory, laboratory[flagged]),
    )  # fmt: skip


def control_samples(ev: Evidence) -> Recoveries:
    """Every control sample and its duplicate; where no recovery is given, the result over what was spiked."""
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    if table is None or qc is None:
        return _none("lab_qc")
    kind, _ = words(table, "kind")
    rows = np.flatnonzero(table.counts & np.isin(kind.astype(str), CONTROL_KINDS)).astype(np.int64)
    value = numbers(table, "recovery").or_else(recovered(ev, table, qc))
    low, high = printed_limits(table)
    no = np.zeros(len(rows), bool)
    return Recoveries(
        "lab_qc", rows, value.take(rows), low.take(rows), high.take(rows), names_of_qc(ev, rows),
        numbers(table, "dilution").take(rows), no, no,
    )  # fmt: skip


def recovered(ev: Evidence, table: Table, qc: Results) -> Known:
    """Result over the amount spiked, in percent, by row of lab_qc."""
    spiked = values_of(table.amount("spiked"), table.rows)
    mass = ev.molar_mass(qc.analyte)
    there = in_family(qc.result, spiked.family, mass, ev.molar_volume)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = 100.0 * there.value / spiked.value
    known = there.known & spiked.known & np.isfinite(share)
    return Known(np.where(known, share, np.nan), known, (qc.result.hard | spiked.hard) & ~known)


def names_of_qc(ev: Evidence, rows: Int64) -> Texts:
    """Names of the analytes of rows of lab_qc."""
    if ev.lab_qc is None:
        return np.empty(0, object)
    return np.array([*ev.analytes.name, ""], dtype=object)[ev.lab_qc.analyte[rows]]


def printed_limits(table: Table) -> tuple[Known, Known]:
    """Lower and upper limit that the laboratory printed: in columns of their own, else as a range."""
    span = table.span("recovery_range")
    if span is None:
        low_of_range = high_of_range = missing_numbers(table.rows)
    else:
        known, hard = span.state == READ, span.state == UNREADABLE
        low_of_range = Known(span.low, known & np.isfinite(span.low), hard)
        high_of_range = Known(span.high, known & np.isfinite(span.high), hard)
    low, high = numbers(table, "recovery_low"), numbers(table, "recovery_high")
    return low.or_else(low_of_range), high.or_else(high_of_range)


def _result_in_per_cent(table: Table, results: Results) -> Known:
    amount = table.amount(f"result{results.form}")
    if amount is None:
        return missing_numbers(table.rows)
    units = np.array([*(parse_unit(unit, "percent") is not None for unit in amount.units), False], dtype=bool)
    known = units[amount.unit_codes] & (amount.state == READ) & np.isfinite(amount.written)
    return Known(np.where(known, amount.written, np.nan), known, np.zeros(table.rows, bool))


def _none(table: str) -> Recoveries:
    nothing, no = missing_numbers(0), np.zeros(0, bool)
    return Recoveries(table, _NOTHING, nothing, nothing, nothing, np.empty(0, object), nothing, no, no)


# -- what hangs on a surrogate ---------------------------------------------------------------------------------------


def results_of_runs(ev: Evidence, rows: Int64) -> Links:
    """Pairs (entry, target result) of the sample and run of each row of results."""
    if ev.results is None:
        return Links.none()
    return same_run(ev, rows, np.flatnonzero(ev.results.target).astype(np.int64))


def same_run(ev: Evidence, rows: Int64, targets: Int64) -> Links:
    """Pairs (entry, one of `targets`) of one sample and run, all of them rows of results.

    The run is told by its id, else by the dilution, else by the time of analysis; where none of them can be told the
    whole sample. Two methods are two runs.
    """
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None or not len(rows):
        return Links.none()
    wanted = np.zeros(ev.sample_count + 1, bool)
    wanted[results.sample[rows]] = True
    wanted[-1] = False
    targets = targets[wanted[results.sample[targets]]]
    entry, pair = pairs_by_group(results.sample[rows], results.sample[targets], ev.sample_count)
    here, there = rows[entry], targets[pair]
    run = table.text("run_id")
    codes = run.codes.astype(np.int64) if run is not None else np.full(table.rows, -1, np.int64)
    dilution, when = numbers(table, "dilution"), moments(table, "analyzed_at")
    by_run = (codes[here] >= 0) & (codes[there] >= 0)
    by_dilution = ~by_run & dilution.known[here] & dilution.known[there]
    by_time = ~by_run & ~by_dilution & when.known[here] & when.known[there]
    same = np.ones(len(entry), bool)
    same[by_run] = (codes[here] == codes[there])[by_run]
    same[by_dilution] = (dilution.value[here] == dilution.value[there])[by_dilution]
    same[by_time] = (when.low[here] == when.low[there])[by_time]
    method = results.method
    same &= (method[here] == method[there]) | (method[here] < 0) | (method[there] < 0)
    return Links(entry[same], there[same])


# -- pairs of control samples ----------------------------------------------------------------------------------------


def control_pair_difference(ev: Evidence) -> Measured:
    """RPD in percent of each control-sample duplicate and its control sample: of results, else of recoveries.

    Where the pair is not in the table the RPD that the laboratory states counts.
    """
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    if table is None or qc is None:
        return Asked(_NOTHING, np.zeros(0, bool)).measured(np.empty(0))
    kind, _ = words(table, "kind")
    rows = np.flatnonzero(table.counts & (kind == "control_sample_duplicate")).astype(np.int64)
    parent = _control_parents(ev, table, rows)
    mass = ev.molar_mass(qc.analyte[rows])
    own = qc.result.take(rows)
    other = in_family(qc.result.take(parent), own.family, mass, ev.molar_volume)
    by_result = _difference(own.value, other.value, own.known & other.known)
    recovery = numbers(table, "recovery").or_else(recovered(ev, table, qc))
    mine, theirs = recovery.take(rows), recovery.take(parent)
    by_recovery = _difference(mine.value, theirs.value, mine.known & theirs.known)
    stated = numbers(table, "rpd").take(rows)
    rpd = by_result.or_else(by_recovery).or_else(stated)
    limit = numbers(table, "rpd_high").take(rows)
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(
        rpd, "the result of both members (or a stated RPD)", ("lab_qc", "result"), ("lab_qc", "recovery"),
        ("lab_qc", "rpd"),
    )  # fmt: skip
    asked.need(
        Known(limit.value, ~limit.hard, limit.hard), "a readable limit of the laboratory", ("lab_qc", "rpd_high")
    )
    keeps = rpd.value <= limit.value * (1 + 1e-9)
    names = ev.qc_ids.names
    number = ev.qc_ids.of("lab_qc", "qc_id", table.rows)
    label = np.array([*names, "its control sample"], dtype=object)
    with_limit = np.where(limit.known, "printed", "default").astype(object)
    return asked.measured(
        rpd.value,
        facts={
            "analyte": Labels(names_of_qc(ev, rows)),
            "parent": Labels(label[np.where(parent >= 0, pick(number, parent, -1), -1)]),
            "printed": Amounts(limit.value, "%"),
        },
        results=results_of_batches(ev, rows),
        cases={
            "limits": with_limit,
            "control_pair_difference": np.where(keeps | ~limit.known, "within", "over").astype(object),
        },
    )


def _difference(first: Float, second: Float, known: Bool) -> Known:
    with np.errstate(divide="ignore", invalid="ignore"):
        rpd = relative_percent_difference(first, second)
    known = known & np.isfinite(rpd)
    return Known(np.where(known, rpd, np.nan), known, np.zeros(len(known), bool))


def _control_parents(ev: Evidence, table: Table, rows: Int64) -> Int64:
    """Row of the control sample of each duplicate: the one it names, else the only one of its batch and analyte."""
    qc = ev.lab_qc
    assert qc is not None
    stated = ev.qc_ids.rows_of(ev.qc_ids.of("lab_qc", "parent_qc_id", table.rows)[rows])
    names_one = ev.qc_ids.of("lab_qc", "parent_qc_id", table.rows)[rows] >= 0
    kind, _ = words(table, "kind")
    firsts = np.flatnonzero(table.counts & (kind == "control_sample")).astype(np.int64)
    nothing = np.full(table.rows, -1, np.int64)
    batch = ev.batches.get(("lab_qc", "batch_id"), nothing)
    laboratory = ev.batches.get(("lab_qc", "laboratory"), nothing)
    both = np.concatenate([firsts, rows])
    groups, count = group_numbers(batch[both], laboratory[both], qc.analyte[both])
    left = np.where((batch[rows] >= 0) & ~names_one, groups[len(firsts) :], -1)
    entry, pair = pairs_by_group(left, groups[: len(firsts)], count)
    hits = np.bincount(entry, minlength=len(rows))
    out = np.maximum(stated, -1)
    one = hits[entry] == 1
    out[entry[one]] = firsts[pair[one]]
    return out

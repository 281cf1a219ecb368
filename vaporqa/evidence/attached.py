"""Which test or purge belongs to which sample.

A test or purge belongs to the sample it names. One that names only a probe belongs to each sample drawn from that
probe while or after it was made and before the next one. A simultaneous duplicate without its own takes its parent's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.cells import NO_ROW, Moment, pick
from vaporqa.evidence.collected import YES, Samples
from vaporqa.evidence.joins import pairs_by_group
from vaporqa.tables.values import Bool, Int64

#: A leak or shut-in test counts for a sample from 24 h before its start.
WINDOW = 24 * 3600 * 1_000_000


@dataclass(frozen=True, slots=True)
class Attached:
    """Pairs of a test row and a sample number that belong together, (k,) each.

    Attributes
    ----------
    row, sample : int64
    untimed : bool (n tests,)
        The test has no time: it counts for the sample it names, and that is said.
    outside : bool (n tests,)
        The test lies outside the window of every sample it could belong to: it proves and taints nothing.
    elsewhere : bool (n tests,)
        Every sample it belongs to is one that the rules of sampling soil gas do not concern.
    """

    row: Int64
    sample: Int64
    untimed: Bool
    outside: Bool
    elsewhere: Bool


def attach(
    samples: Samples, parent: Int64, named: Int64, probe: Int64, counts: Bool, began: Moment, ended: Moment, *,
    window: bool,
) -> Attached:  # fmt: skip
    """Join the rows of a test or purge table to the samples they speak of.

    Parameters
    ----------
    samples : Samples
        k samples.
    parent : int64 (k,)
        Parent of each sample, by the one it names or by its pair id; -1 for none.
    named, probe : int64 (n,)
        Sample and probe number that each row names, -1 for none.
    counts : bool (n,)
        Rows that count (no exact copies).
    began, ended : Moment (n,)
        When the test or purge began and ended (the same for a test made at one instant).
    window : bool
        Keep only pairs from 24 h before the sample's start to its end.
    """
    rows = len(named)
    by_name = np.flatnonzero(counts & (named >= 0))
    row = [by_name]
    sample = [named[by_name]]
    probe_only = np.flatnonzero(counts & (named < 0) & (probe >= 0) & began.known)
    if probe_only.size:
        of_row = pick(samples.probe, named, -1)
        at_probe = np.where(probe >= 0, probe, of_row)
        pair_row, pair_sample = _by_probe(samples, at_probe, counts & began.known, began)
        mine = np.isin(pair_row, probe_only)
        row.append(pair_row[mine])
        sample.append(pair_sample[mine])
    all_row, all_sample = np.concatenate(row).astype(np.int64), np.concatenate(sample).astype(np.int64)
    if window:
        inside = _inside(samples, all_sample, began, ended, all_row)
    else:
        inside = np.ones(len(all_row), bool)
    had_any = np.zeros(rows, bool)
    had_any[all_row] = True
    kept_row, kept_sample = all_row[inside], all_sample[inside]
    kept_any = np.zeros(rows, bool)
    kept_any[kept_row] = True
    kept_row, kept_sample = _lend_to_duplicates(samples, parent, kept_row, kept_sample)
    soil_gas = (samples.soil_gas[kept_sample] == YES) & ~samples.passive[kept_sample]
    # A row whose sample nobody knows is not elsewhere: it is judged by itself, and lacks what the sample would say.
    known_any = np.zeros(rows, bool)
    known_any[kept_row[samples.row[kept_sample] != NO_ROW]] = True
    gas_any = np.zeros(rows, bool)
    gas_any[kept_row[soil_gas]] = True
    return Attached(
        row=kept_row[soil_gas],
        sample=kept_sample[soil_gas],
        untimed=~began.known,
        outside=had_any & ~kept_any,
        elsewhere=known_any & ~gas_any,
    )


def _by_probe(samples: Samples, probe: Int64, usable: Bool, began: Moment) -> tuple[Int64, Int64]:
    """Pair each timed row with the samples of its probe drawn while or after it and before the next row there."""
    count = int(max(probe.max(initial=-1), samples.probe.max(initial=-1))) + 1
    group = np.where(usable, probe, -1)
    sample_group = np.where((samples.probe >= 0) & (samples.start.known | samples.end.known), samples.probe, -1)
    pair_row, pair_sample = pairs_by_group(group, sample_group, count)
    start_low = np.where(samples.start.known, samples.start.low, samples.end.low)[pair_sample]
    end_high = np.where(samples.end.known, samples.end.high, samples.start.high)[pair_sample]
    begun = began.low[pair_row] <= end_high
    pair_row, pair_sample, start_low = pair_row[begun], pair_sample[begun], start_low[begun]
    # The last row that began before the sample started shuts out the earlier ones; rows begun while it ran all count.
    before = began.high[pair_row] <= start_low
    latest = np.full(len(samples.row), np.iinfo(np.int64).min)
    np.maximum.at(latest, pair_sample[before], began.high[pair_row[before]])
    keep = ~before | (began.high[pair_row] >= latest[pair_sample])
    return pair_row[keep], pair_sample[keep]


def _inside(samples: Samples, sample: Int64, began: Moment, ended: Moment, row: Int64) -> Bool:
    """Pairs that are not provably outside 24 h before the start .. the end of the sample."""
    start, end = samples.start, samples.end
    first = np.where(start.known, start.low, end.low)[sample] - WINDOW
    last = np.where(end.known, end.high, start.high)[sample]
    timed = (start.known | end.known)[sample] & began.known[row]
    test_end = np.where(ended.known, ended.high, began.high)[row]
    early = start.known[sample] & (test_end < first)
    late = end.known[sample] & (began.low[row] > last)
    return ~timed | ~(early | late)


def _lend_to_duplicates(samples: Samples, parent: Int64, row: Int64, sample: Int64) -> tuple[Int64, Int64]:
    """A field duplicate without its own test takes its parent's, unless it was plainly drawn at another time."""
    has = np.zeros(len(samples.row), bool)
    has[sample] = True
    borrower = np.flatnonzero((samples.kind == "field_duplicate") & ~has & (parent >= 0))
    borrower = borrower[~_apart(samples, borrower, parent[borrower])]
    if not borrower.size:
        return row, sample
    which, pair = pairs_by_group(parent[borrower], sample, len(samples.row))
    return (
        np.concatenate([row, row[pair]]).astype(np.int64),
        np.concatenate([sample, borrower[which]]).astype(np.int64),
    )


def _apart(samples: Samples, one: Int64, other: Int64) -> Bool:
    """Pairs of samples of which one was plainly over before the other began."""
    start, end = samples.start, samples.end

    def over_before(first: Int64, second: Int64) -> Bool:
        known = (end.known & start.known)[first] & start.known[second]
        return np.asarray(known & (end.high[first] < start.low[second]))

    return over_before(one, other) | over_before(other, one)

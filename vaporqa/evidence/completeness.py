"""What a sample's report should hold: the analytes that were asked for, and totals that their parts add up to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import words
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.collected import SOIL_GAS_KINDS
from vaporqa.evidence.instruments import number_of
from vaporqa.evidence.joins import group_numbers, pairs_by_group
from vaporqa.evidence.judged import Facts, Labels, Measured
from vaporqa.evidence.reported import DETECTED, NONDETECT, Values, in_family
from vaporqa.tables.values import Bool, Float, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Totals with the ways in which laboratories report their parts.
TOTALS: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...] = (
    ("1330-20-7", (("179601-23-1", "95-47-6"), ("108-38-3", "106-42-3", "95-47-6"))),  # xylenes
    ("540-59-0", (("156-59-2", "156-60-5"),)),  # 1,2-dichloroethenes
    ("542-75-6", (("10061-01-5", "10061-02-6"),)),  # 1,3-dichloropropenes
)
_GAS = ("soil_gas", "subslab_gas", "ambient_air", "indoor_air", "", "unknown")


def analytes_missing(ev: Evidence) -> Measured:
    """How many analytes each sample lacks: of the required list, else of the list of its own batches.

    The required list is that of gas samples that are primary, duplicate or replicate; what it asks for by one method
    is asked of samples that have results by that method, and of those that have none at all. A batch's own list is
    what at least half of its samples were analysed for by one method.
    """
    home = ev.tables.get("samples")
    if home is None:
        return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
    number = ev.sample_ids.of("samples", "sample_id", home.rows)
    rows = np.flatnonzero(home.counts & (number >= 0)).astype(np.int64)
    of = number[rows]
    missing, concerned = np.zeros(ev.sample_count), np.zeros(ev.sample_count, bool)
    listed: Texts = np.full(ev.sample_count, "the list of its own batch", object)
    names: dict[int, list[str]] = {}
    if "results" in ev.tables:
        missing, names, concerned = _of_batches(ev)
    if "required_analytes" in ev.tables:
        kinds = np.isin(ev.samples.kind.astype(str), (*SOIL_GAS_KINDS, "", "unknown"))
        gas = kinds & np.isin(ev.samples.matrix.astype(str), _GAS)
        required, absent, applies = _of_required(ev)
        use = gas & applies
        missing, concerned = np.where(use, required, missing), concerned | use
        listed[use] = "the required list"
        names = {one: (absent if use[one] else names).get(one, []) for one in {*absent, *names}}
    said: Texts = np.array([_some(names.get(one, [])) for one in of.tolist()], dtype=object)
    facts: Facts = {"absent": Labels(said), "list": Labels(listed[of])}
    return Asked(rows, concerned[of]).measured(missing[of], facts=facts)


def _some(names: list[str], at_most: int = 6) -> str:
    names = sorted(names)
    further = f" and {len(names) - at_most} more" if len(names) > at_most else ""
    return ", ".join(names[:at_most]) + further


def _of_required(ev: Evidence) -> tuple[Float, dict[int, list[str]], Bool]:
    """Analytes of the list that each sample lacks, their names, and whether anything is asked of it."""
    wanted, table, results = ev.tables.get("required_analytes"), ev.tables.get("results"), ev.results
    assert wanted is not None
    analyte = ev.analytes.of["required_analytes"]
    method, _ = words(wanted, "method")
    keys = sorted(
        {(int(analyte[row]), str(method[row])) for row in np.flatnonzero(wanted.counts & (analyte >= 0)).tolist()}
    )
    present = np.zeros((ev.sample_count, len(keys)), bool)
    asked = np.ones((ev.sample_count, len(keys)), bool)
    if results is not None and table is not None:
        use = np.flatnonzero(results.target & (ev.in_use != 0) & (results.sample >= 0) & (results.kind != "tentative"))
        text = table.text("method")
        known = {str(word): code for code, word in enumerate(text.words)} if text is not None else {}
        any_result = np.zeros(ev.sample_count, bool)
        any_result[results.sample[use]] = True
        asked[any_result] = [not by for _, by in keys]
        for by in {by for _, by in keys if by}:
            codes = text.codes[use] if text is not None else np.full(len(use), -1)
            has = np.unique(results.sample[use[codes == known.get(by, -2)]])
            asked[np.ix_(has, np.flatnonzero([one == by for _, one in keys]))] = True
        by_analyte: dict[int, list[int]] = {}
        for place, (one, _) in enumerate(keys):
            by_analyte.setdefault(one, []).append(place)
        listed = use[np.isin(results.analyte[use], list(by_analyte))]
        for place, (one, by) in enumerate(keys):
            mine = listed[results.analyte[listed] == one]
            if by:
                codes = text.codes[mine] if text is not None else np.full(len(mine), -1)
                mine = mine[codes == known.get(by, -2)]
            present[results.sample[mine], place] = True
    names = ev.analytes.name
    absent: dict[int, list[str]] = {}
    lacking = asked & ~present
    for sample, place in np.argwhere(lacking).tolist():
        absent.setdefault(sample, []).append(names[keys[place][0]])
    return lacking.sum(axis=1).astype(np.float64), absent, asked.max(axis=1, initial=False)


def _of_batches(ev: Evidence) -> tuple[Float, dict[int, list[str]], Bool]:
    table, results = ev.tables.get("results"), ev.results
    assert table is not None
    assert results is not None
    plain = results.target & (ev.in_use != 0) & (results.sample >= 0) & (results.analyte >= 0)
    use = np.flatnonzero(plain & (results.batch >= 0) & (results.kind != "tentative"))
    laboratory = ev.batches.get(("results", "laboratory"), np.full(table.rows, -1, np.int64))
    batch, batches = group_numbers(laboratory[use], results.batch[use], results.method[use])
    per_sample, pairs = group_numbers(batch, results.sample[use])
    first = np.zeros(pairs, np.int64)
    first[per_sample] = np.arange(len(use))
    in_batch = np.bincount(batch[first], minlength=batches)
    cell, cells = group_numbers(batch, results.analyte[use])
    # Each analyte of each batch and sample once, whatever the fraction.
    one, ones = group_numbers(per_sample, results.analyte[use])
    place_of = np.zeros(ones, np.int64)
    place_of[one] = np.arange(len(use))
    seen_pair, seen_cell = per_sample[place_of], cell[place_of]
    samples_of_cell = np.bincount(seen_cell, minlength=cells)
    lead = np.zeros(cells, np.int64)
    lead[cell] = np.arange(len(use))
    own_list = 2 * samples_of_cell >= in_batch[batch[lead]]
    expected = np.bincount(batch[lead][own_list], minlength=batches)
    have = np.bincount(seen_pair[own_list[seen_cell]], minlength=pairs)
    lacking = expected[batch[first]] - have
    missing = np.zeros(ev.sample_count)
    np.add.at(missing, results.sample[use[first]], lacking)
    has = np.zeros(ev.sample_count, bool)
    has[results.sample[use]] = True
    absent: dict[int, list[str]] = {}
    short = lacking[seen_pair] > 0
    held = set(zip(seen_pair[short].tolist(), seen_cell[short].tolist(), strict=True))
    cells_of: dict[int, list[int]] = {}
    for number in np.flatnonzero(own_list).tolist():
        cells_of.setdefault(int(batch[lead[number]]), []).append(number)
    for place in np.flatnonzero(lacking > 0).tolist():
        sample = int(results.sample[use[first[place]]])
        for number in cells_of[int(batch[first[place]])]:
            if (place, number) not in held:
                absent.setdefault(sample, []).append(ev.analytes.name[results.analyte[use[lead[number]]]])
    return missing, absent, has


def total_over_parts(ev: Evidence) -> Measured:
    """How far a total lies from the sum of its parts, as a share of the sum; one entry a total in use.

    A nondetect is anything from nought to what it stands at: the least gap that this leaves counts.
    """
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
    judged = judged_results(ev) & (results.sample >= 0)
    totals = {number_of(ev, total): ways for total, ways in TOTALS}
    rows = np.flatnonzero(judged & np.isin(results.analyte, list(totals))).astype(np.int64)
    parts = {number_of(ev, part) for _, ways in TOTALS for way in ways for part in way}
    others = np.flatnonzero(judged & np.isin(results.analyte, list(parts))).astype(np.int64)
    group, count = group_numbers(*(
        np.concatenate([column[rows], column[others]])
        for column in (results.sample, results.method, results.fraction)
    ))  # fmt: skip
    entry, pair = pairs_by_group(group[: len(rows)], group[len(rows) :], count)
    part_row = others[pair]
    size = len(rows)
    family = np.where(results.result.family > 0, results.result.family, results.ceiling.family).astype(np.int8)[rows]
    low, high, known = _span(ev, rows, family)
    sum_low, sum_high = np.full(size, np.nan), np.full(size, np.nan)
    for total, ways in totals.items():
        for way in ways:
            fits = (results.analyte[rows] == total) & np.isnan(sum_low)
            way_low, way_high = np.zeros(size), np.zeros(size)
            for part in way:
                mine = results.analyte[part_row] == number_of(ev, part)
                once = np.bincount(entry[mine], minlength=size) == 1
                of = np.zeros(size, np.int64)
                of[entry[mine]] = part_row[mine]
                part_low, part_high, part_known = _span(ev, of, family)
                fits &= once & part_known
                way_low, way_high = way_low + part_low, way_high + part_high
            sum_low[fits], sum_high[fits] = way_low[fits], way_high[fits]
    with np.errstate(divide="ignore", invalid="ignore"):
        over, under = (low - sum_high) / sum_high, (high - sum_low) / sum_low
        share = np.where(low > sum_high, over, np.where(high < sum_low, under, 0.0))
    asked = Asked(rows, np.ones(size, bool))
    asked.need(known, "the total or its limit", ("results", "result"))
    asked.need(~np.isnan(sum_low), "each part, once, in the unit of the total", ("results", "analyte"))
    facts: Facts = {
        "analyte": Labels(ev.analyte_names(rows)),
        "total": ev.shown(np.where(results.detected[rows] == DETECTED, low, high), family),
        "parts": ev.shown(sum_high, family),
    }
    return asked.measured(share, facts=facts)


def _span(ev: Evidence, rows: Int64, family: np.ndarray) -> tuple[Float, Float, Bool]:
    """Least and most that results can be, in the wanted family, and where that is known."""
    results = ev.results
    assert results is not None
    mass = ev.molar_mass(results.analyte[rows])

    def bring(values: Values) -> Values:
        return in_family(values.take(rows), family.astype(np.int8), mass, ev.molar_volume)

    value, ceiling = bring(results.result), bring(results.ceiling)
    blank = results.blank_limit[rows]
    detect, nondetect = results.detected[rows] == DETECTED, results.detected[rows] == NONDETECT
    high = np.where(detect, value.value, np.where(np.isfinite(blank), blank, ceiling.value))
    low = np.where(detect, value.value, 0.0)
    known = (detect & value.known) | (nondetect & np.isfinite(high))
    return low, high, known

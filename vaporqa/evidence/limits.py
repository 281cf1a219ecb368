"""Reporting limits: a detect against its own, a limit against the dilution, a nondetect against the screening level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, numbers
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.collected import SOIL_GAS_KINDS
from vaporqa.evidence.joins import group_numbers
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured
from vaporqa.evidence.own_tracer import own_tracer
from vaporqa.evidence.own_units import in_own_unit
from vaporqa.evidence.reported import (
    DETECTED,
    NONDETECT,
    UNSTATED,
    Values,
    in_family,
)
from vaporqa.evidence.screening import levels_of
from vaporqa.tables.dictionary import MATRICES
from vaporqa.tables.values import Bool, Float, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def _nothing() -> Measured:
    return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))


def _known(values: Values) -> Known:
    return Known(values.value, values.known, values.hard)


def detect_over_limit(ev: Evidence) -> Measured:
    """A detect as a share of its own reporting limit; a result that cannot be read is an entry as well."""
    results, table = ev.results, ev.tables.get("results")
    if results is None or table is None:
        return _nothing()
    detect = results.detected == DETECTED
    unread = (results.detected == UNSTATED) & results.result.hard
    rows = np.flatnonzero(judged_results(ev) & (detect | unread)).astype(np.int64)
    form = results.form
    written, limits = table.amount(f"result{form}"), table.amount(f"reporting_limit{form}")
    result = in_own_unit(results.result.take(rows), written, written, rows)
    limit = in_family(
        in_own_unit(results.reporting_limit.take(rows), limits, written, rows), result.family,
        ev.molar_mass(results.analyte[rows]), ev.molar_volume,
    )  # fmt: skip
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(_known(result), "the result", ("results", f"result{form}"))
    asked.need(_known(limit), "the reporting limit", ("results", f"reporting_limit{form}"))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = result.value / limit.value
    facts: Facts = {
        "analyte": Labels(ev.analyte_names(rows)),
        "result": ev.shown(result.value, result.family),
        "reporting_limit": ev.shown(limit.value, result.family),
    }
    return asked.measured(share, facts=facts)


def limit_to_dilution(ev: Evidence) -> Measured:
    """How far a reporting limit over its dilution lies from that of its batch, method and analyte.

    What the batch has is the lower median of its rows, an existing row: with two rows the one with the lower limit.
    Rows that have no other to be compared with are no entries.
    """
    results, table = ev.results, ev.tables.get("results")
    if results is None or table is None:
        return _nothing()
    dilution = numbers(table, "dilution")
    limit = results.reporting_limit
    known = dilution.known & (dilution.value > 0) & limit.known & (limit.value > 0)
    rows = np.flatnonzero(judged_results(ev) & (results.batch >= 0)).astype(np.int64)
    laboratory = ev.batches.get(("results", "laboratory"), np.full(table.rows, -1, np.int64))
    group, count = group_numbers(
        laboratory[rows], results.batch[rows], results.analyte[rows], results.method[rows], results.fraction[rows],
        np.where(known[rows], limit.family[rows], 0).astype(np.int64),
    )  # fmt: skip
    size = np.bincount(group, minlength=count)
    several = size[group] > 1
    rows, group = rows[several], group[several]
    with np.errstate(divide="ignore", invalid="ignore"):
        base = np.where(known[rows], limit.value[rows] / dilution.value[rows], np.nan)
    order = np.lexsort((base, group))
    start = np.searchsorted(group[order], np.arange(count))
    middle = order[np.minimum(start + (size - 1) // 2, max(len(order) - 1, 0))] if len(order) else start
    typical = base[middle[group]] if len(order) else base
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(dilution.take(rows), "the dilution", ("results", "dilution"))
    asked.need(_known(limit.take(rows)), "the reporting limit", ("results", f"reporting_limit{results.form}"))
    asked.need(known[rows], "a dilution and a limit above nought", ("results", "dilution"))
    factor = dilution.value[rows]
    facts: Facts = {
        "analyte": Labels(ev.analyte_names(rows)),
        "reporting_limit": ev.shown(limit.value[rows], limit.family[rows]),
        "scaled": ev.shown(typical * factor, limit.family[rows]),
        "dilution": Amounts(factor),
    }
    return asked.measured(base / typical - 1.0, facts=facts)


@dataclass(frozen=True, slots=True)
class Screened:
    """Nondetects and the screening levels that they are held against, (m,).

    Attributes
    ----------
    row : int64
    ceiling : Values
        What the nondetect stands at, in the family of the level where there is one.
    level : Values
    unread : bool
        Whether it was detected cannot be read.
    matrix_open : bool
        The matrix of its sample is not known, which is said of the sample and not again of each level.
    """

    row: Int64
    ceiling: Values
    level: Values
    unread: Bool
    matrix_open: Bool


def screened(ev: Evidence) -> Screened | None:
    """Nondetects in use of primary samples and duplicates; None where the folder has no results."""
    results = ev.results
    if results is None:
        return None
    kinds = np.isin(ev.samples.kind.astype(str), (*SOIL_GAS_KINDS, "", "unknown"))
    # A leak tracer is no gas of the site: nobody holds it against a level.
    mine = judged_results(ev) & np.append(kinds, True)[results.sample] & ~own_tracer(ev)
    unread = (results.detected == UNSTATED) & results.result.hard
    rows = np.flatnonzero(mine & ((results.detected == NONDETECT) | unread)).astype(np.int64)
    _, level = levels_of(ev, rows)
    by_blank = np.isfinite(results.blank_limit[rows])
    ceiling = results.ceiling.take(rows)
    ceiling = Values(
        np.where(by_blank, results.blank_limit[rows], ceiling.value),
        np.where(by_blank, results.result.family[rows], ceiling.family).astype(np.int8),
        ceiling.known | by_blank,
        ceiling.hard & ~by_blank,
    )
    same = in_family(
        ceiling, np.where(level.known, level.family, ceiling.family).astype(np.int8),
        ev.molar_mass(results.analyte[rows]), ev.molar_volume,
    )  # fmt: skip
    hard = ceiling.hard
    matrix = _matrix_numbers(ev.samples.matrix.astype(str))
    matrix_open = np.append((matrix == MATRICES.index("unknown")) | (matrix == len(MATRICES)), True)
    return Screened(
        rows, Values(same.value, same.family, same.known, hard), level, unread[rows], matrix_open[results.sample[rows]]
    )


def _matrix_numbers(matrix: np.ndarray) -> Int64:
    """Number of each matrix word; the last for none."""
    known = {word: number for number, word in enumerate(MATRICES)}
    distinct, inverse = np.unique(matrix, return_inverse=True)
    of = np.array([known.get(word, len(MATRICES)) for word in distinct.tolist()], dtype=np.int64)
    return of[inverse.reshape(-1)]


def ratio(part: Values, whole: Values) -> Float:
    """Quotient of two amounts of one family; nan where either is not known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(part.known & whole.known, part.value / whole.value, np.nan))

"""What becomes of each result: status after blanks, value, limit and unit, in the unit of its own row."""

from __future__ import annotations

import numpy as np

from vaporqa.evidence import Evidence
from vaporqa.quantities.units import parse_unit
from vaporqa.review.values import Final
from vaporqa.tables.values import NO_FAMILY, READ, Amount, Float, Int8, Texts


def final_of(evidence: Evidence) -> Final | None:
    """Gather the final columns of results; None where the folder has no results."""
    results, table = evidence.results, evidence.tables.get("results")
    if results is None or table is None:
        return None
    amount = table.amount(f"result{results.form}")
    unit, factor, family = _units(evidence, amount, table.rows)
    value = np.full(table.rows, np.nan)
    if amount is not None:
        readable = (amount.state == READ) & np.isfinite(amount.written) & (results.detected == 1)
        value = np.where(readable, amount.written, np.nan)
    ceiling = results.ceiling
    with np.errstate(divide="ignore", invalid="ignore"):
        limit = np.where(ceiling.known & (ceiling.family == family), ceiling.value / factor, np.nan)
        blank = results.blank_limit / factor
    limit = np.where(np.isfinite(blank), blank, limit)
    # A limit that a blank gave the other form, and that no molar mass brings to this one, cannot be stated.
    limit = np.where((results.detected == 0) & ~np.isinf(results.blank_limit), _tidy(limit), np.nan)
    return Final(results.detected, value, limit, unit, evidence.in_use, evidence.runs.counts_for)


def _units(evidence: Evidence, amount: Amount | None, rows: int) -> tuple[Texts, Float, Int8]:
    """Unit as written, its factor to the canonical unit, and its family; by row.

    A row whose result cell holds no number (``ND``) takes the unit of its limit.
    """
    unit: Texts = np.full(rows, "", object)
    factor = np.full(rows, np.nan)
    family = np.full(rows, NO_FAMILY, np.int8)
    table, results = evidence.tables.get("results"), evidence.results
    assert table is not None
    assert results is not None
    for source in (amount, table.amount(f"reporting_limit{results.form}"), table.amount("nondetect_at")):
        if source is None or not source.units:
            continue
        parsed = [parse_unit(spelling) for spelling in source.units]
        factors = np.array([one.factor if one is not None else np.nan for one in parsed] + [np.nan])
        families = np.array([one.family if one is not None else NO_FAMILY for one in parsed] + [NO_FAMILY], np.int8)
        spellings: Texts = np.array([*source.units, ""], dtype=object)
        lacks = unit == ""
        unit[lacks] = spellings[source.unit_codes[lacks]]
        factor[lacks] = factors[source.unit_codes[lacks]]
        family[lacks] = families[source.unit_codes[lacks]]
    return unit, factor, family


def _tidy(limit: Float) -> Float:
    """Undo the last bit of a conversion there and back: 0.2 stays 0.2."""
    with np.errstate(invalid="ignore", divide="ignore"):
        digits = 12 - np.ceil(np.log10(np.abs(limit)))
        scale = 10.0 ** np.clip(digits, -300, 300)
        out = np.round(limit * scale) / scale
    return np.where(np.isfinite(out), out, limit)

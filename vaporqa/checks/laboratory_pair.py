"""`laboratory_pair`: a laboratory duplicate against its parent, by the same two tests as field duplicates.

Where the two numbers are not in the tables the RPD that the laboratory states is judged.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.batches import laboratory_duplicates
from vaporqa.evidence.judged import Facts, Judged, Labels, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit, reaches_gate
from vaporqa.outcomes import Outcome
from vaporqa.quantities.agreement import relative_percent_difference

OPTIONS = {"gate": "multiple of the higher limit from which RPD is judged"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every laboratory duplicate."""
    table, qc = evidence.tables.get("lab_qc"), evidence.lab_qc
    if table is None or qc is None:
        return ()
    rows, measured, pair = laboratory_duplicates(evidence)
    high = pair.both & reaches_gate(rule, pair.first, pair.higher) & reaches_gate(rule, pair.second, pair.higher)
    rpd = relative_percent_difference(pair.first, pair.second) / 100.0
    with np.errstate(invalid="ignore", divide="ignore"):
        multiple = np.abs(pair.first - pair.second) / pair.higher
    # Without limits the two-part test cannot be run; RPD alone would judge small numbers too hard.
    by_numbers = pair.known & (pair.limits_known | pair.neither)
    stated = measured.value / 100.0
    by_rpd = ~by_numbers | high
    number = np.where(by_numbers, np.where(high, rpd, multiple), stated)
    rpd_limit, gap_limit = rule.limit("rpd"), rule.limit("difference")
    compare = comparison(evidence)
    keeps = np.where(by_rpd, keeps_limit(rpd_limit, number, compare), keeps_limit(gap_limit, number, compare))
    keeps |= by_numbers & pair.neither
    known = by_numbers | np.isfinite(stated)
    outcome = np.where(known, np.where(keeps, Outcome.HOLDS, Outcome.BROKEN), Outcome.UNPROVEN).astype(np.uint8)
    index = np.where(by_rpd, rule.limits.index(rpd_limit), rule.limits.index(gap_limit))
    limit = np.where(outcome == Outcome.BROKEN, index, -1).astype(np.int16)
    names_of = np.array([*evidence.analytes.name, ""], dtype=object)
    facts: Facts = {
        "analyte": Labels(names_of[qc.analyte[rows]]),
        "result": evidence.shown(pair.first, pair.family),
        "other_result": evidence.shown(pair.second, pair.family),
    }
    measured = replace(measured, value=number, facts=facts)
    return (judged_from(measured, table.rows, outcome, limit),)

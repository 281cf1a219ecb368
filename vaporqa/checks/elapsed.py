"""`elapsed`: the time between two stamps against a table of limits by matrix, container, preservation and class.

Limits in minutes or hours are compared with elapsed time, limits in days with calendar days. Where only dates are known
against an hour limit, it holds if the longest span fits, is broken if the shortest does not, and is unproven between.
Of the limits whose case fits, the first decides; where the case itself is not known, every limit that could apply must
agree.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Limit, Option, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Amounts, Judged, Labels, Measured, Want, judged_from
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int8, Int16, Texts, UInt8

OPTIONS = {
    "of": "id of the rule whose limits are the base: this rule's own limit is then a multiple of them (`2 x`)",
    "span": "measure from which the time is taken instead of the base rule's own",
}
_DAY = 86_400.0
_HOLDS, _BROKEN, _OPEN = 1, 2, 3


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result by the limit of its case."""
    base = evidence.rulebook.rule(str(rule.options["of"])) if "of" in rule.options else rule
    default = str(rule.options.get("span", "") or base.measure)
    measured = _measured(default, evidence)
    size = len(measured.row)
    outcome = np.where(measured.concerned, Outcome.NOT_CONCERNED, Outcome.NOT_CONCERNED).astype(np.uint8)
    limit_index = np.full(size, -1, np.int16)
    undecided = measured.concerned & (size > 0)
    seen_holds, seen_broken, seen_open = (np.zeros(size, bool) for _ in range(3))
    value = np.full(size, np.nan)
    printed: Texts = np.full(size, "", object)
    bad_limit = np.full(size, -1, np.int16)
    want, hard, wants = measured.want.copy(), measured.hard.copy(), list(measured.wants)
    fixed = undecided & (want >= 0) & _case_unknown(measured)
    outcome[fixed] = Outcome.UNPROVEN
    undecided &= ~fixed
    for index, limit in enumerate(base.limits):
        fits, possible = _fits(limit.when, measured, evidence)
        take = undecided & (fits | possible)
        if not take.any():
            continue
        own = measured
        if limit.measure and limit.measure != default and "span" not in rule.options:
            own = _measured(limit.measure, evidence)
        known = own.want < 0
        verdict, number, shown = _verdict(rule, base, limit, own)
        miss = take & ~known
        out_of_order = take & ~own.concerned
        judged = take & known & own.concerned
        seen_holds |= judged & (verdict == _HOLDS)
        newly = judged & (verdict == _BROKEN)
        seen_broken |= newly
        seen_open |= judged & (verdict == _OPEN)
        first = take & (printed == "")
        value[first], printed[first] = number[first], shown
        bad_limit[newly & (bad_limit < 0)] = index if base is rule else 0
        lacking = miss & (outcome == Outcome.NOT_CONCERNED)
        outcome[lacking] = Outcome.UNPROVEN
        if own is not measured:
            offset = len(wants)
            wants.extend(own.wants)
            want[lacking] = np.where(own.want[lacking] >= 0, own.want[lacking] + offset, -1)
            hard[lacking] = own.hard[lacking]
        undecided &= ~(fits | out_of_order | lacking)
        # What only could apply must go on being weighed against the limits that follow.
        seen_open |= out_of_order & False
    agreed = seen_holds.astype(int) + seen_broken + seen_open
    only_possible = undecided & (agreed > 0)
    holds = seen_holds & (agreed == 1)
    broken = seen_broken & (agreed == 1) & ~only_possible
    between = (agreed > 1) | seen_open | (seen_broken & only_possible)
    outcome[holds] = Outcome.HOLDS
    outcome[broken] = Outcome.BROKEN
    outcome[between] = Outcome.UNPROVEN
    limit_index[broken] = bad_limit[broken]
    case_open = between & ~seen_open
    want[case_open] = len(wants)
    wants.append(Want("how the sample was preserved", (("samples", "preserved"),)))
    want[between & seen_open] = len(wants)
    wants.append(Want("the time of day of collection or analysis", ()))
    result = Measured(
        row=measured.row,
        concerned=measured.concerned,
        value=value,
        want=want,
        wants=tuple(wants),
        hard=hard & (outcome == Outcome.UNPROVEN) & ~between,
        facts={**measured.facts, "allowed": Labels(printed), "elapsed": Amounts(value, "")},
    )
    return (judged_from(result, _rows(rule, evidence), outcome, limit_index),)


def _rows(rule: Rule, evidence: Evidence) -> int:
    table = evidence.tables.get(rule.row)
    return table.rows if table is not None else 0


def _measured(name: str, evidence: Evidence) -> Measured:
    measured = evidence.measure(MEASURES[name])
    assert len(measured) == 1
    return measured[0]


def _case_unknown(measured: Measured) -> Bool:
    """Entries whose container or matrix is not known: no limit can be chosen."""
    return (measured.cases["container"] == "") | (measured.cases["matrix"] == "")


def _fits(when: Mapping[str, Option], measured: Measured, evidence: Evidence) -> tuple[Bool, Bool]:
    """Whether a limit's case certainly fits each entry, and whether it only could."""
    size = len(measured.row)
    fits, possible = np.ones(size, bool), np.ones(size, bool)
    for key, wanted in when.items():
        words = wanted if isinstance(wanted, tuple) else (wanted,)
        if key == "class":
            analyte = measured.extra["analyte"].astype(np.int64)
            inside = np.zeros(size, bool)
            for word in words:
                inside |= np.append(evidence.analytes.in_class(str(word)), False)[analyte]
            fits &= inside
            possible &= inside
        else:
            case = measured.cases[key]
            same = np.isin(case.astype(str), [str(word) for word in words])
            fits &= same
            possible &= same | (case == "")
    return fits, possible & ~fits


def _verdict(rule: Rule, base: Rule, limit: Limit, own: Measured) -> tuple[Int8, Float, str]:
    """Outcome, the measured number in the limit's unit (or as a multiple of the limit), and the limit as printed."""
    shortest, longest = own.extra["shortest"], own.extra["longest"]
    days = limit.unit == "d"
    if days:
        low = high = own.extra["days"] * _DAY
    else:
        low, high = shortest, longest
    if base is rule:
        bound, number = limit.value, high if days else np.where(low > limit.value, low, high)
        printed = limit.written
    else:
        multiple = rule.limits[0]
        bound = limit.value * multiple.value
        number = (high if days else np.where(low > bound, low, high)) / limit.value
        printed = f"{limit.number:g} {limit.unit}"
    slack = abs(bound) * RELATIVE_TOLERANCE
    holds, broken = high <= bound + slack, low > bound + slack
    return np.where(holds, _HOLDS, np.where(broken, _BROKEN, _OPEN)).astype(np.int8), number, printed


__all__ = ["OPTIONS", "run"]
_ = (Int16, UInt8)

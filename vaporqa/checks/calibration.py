"""`calibration`: initial calibrations, check standards, second sources and response factors, numbers before `passed`.

A calibration that holds by its numbers and failed by the laboratory's own word (or the other way round) is noted. What
the laboratory says decides only where there is no number at all. Results whose calibration and analyte have no such
control sample are told once a calibration, on the whole table.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.batches import results_of_batches
from vaporqa.evidence.calibrations import (
    Standards,
    Unserved,
    initial_calibrations,
    spared_of_mass_spectrometry,
    standards,
    unserved,
    until_next_passing,
)
from vaporqa.evidence.cells import Known, numbers
from vaporqa.evidence.judged import Amounts, Facts, Judged, Labels, Links, Want, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.recoveries import names_of_qc
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int16, Int64, UInt8

OPTIONS = {
    "of": "initial_calibration, calibration_check, second_source_check or response_factor",
    "allowance": "how many analytes of a calibration may lie between the limits `spread` and `allowed`",
}
_NOUNS = {
    "initial_calibration": "initial calibration",
    "calibration_check": "calibration check",
    "second_source_check": "second-source check",
    "response_factor": "response factor of the initial calibration",
}
#: Limits that are words of the laboratory: used where there is no number, and where number and word disagree.
FAILED, DISAGREES = "failed", "disagrees"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every control sample of the kind, and every result that has none."""
    of = str(rule.options["of"])
    table = evidence.tables.get("lab_qc")
    out = []
    if table is not None:
        if of == "initial_calibration":
            out.append(_initial(rule, evidence, table.rows))
        elif of == "response_factor":
            out.append(_factor(rule, evidence, table.rows))
        else:
            out.append(_standard(rule, evidence, of, table.rows))
    no = np.zeros(len(evidence.results.detected) if evidence.results is not None else 0, bool)
    spared = spared_of_mass_spectrometry(evidence) if of == "response_factor" else no
    kind = "initial_calibration" if of == "response_factor" else of
    lacking = unserved(evidence, (kind,), _NOUNS[kind], spared)
    if lacking.phrase:
        out.append(_whole(lacking, table.rows if table is not None else 0))
    return tuple(out)


def _initial(rule: Rule, evidence: Evidence, rows: int) -> Judged:
    found = initial_calibrations(evidence)
    spread, level = found.spread, found.level
    compare = comparison(evidence)
    keeps, may = (keeps_limit(rule.limit(name), spread.value, compare) for name in ("spread", "allowed"))
    between = spread.known & ~keeps & may
    count = np.bincount(found.calibration[between], minlength=int(found.calibration.max(initial=0)) + 1)
    few = count[found.calibration] <= float(str(rule.options["allowance"]))
    spread_holds = spread.known & (keeps | (between & few))
    level_holds = level.known & keeps_limit(rule.limit("level"), level.value, compare)
    by = np.where(spread.known & ~may, _index(rule, "allowed"), _index(rule, "spread"))
    by = np.where(spread.known, by, _index(rule, "level"))
    known = Known(
        np.where(spread.known, spread.value, level.value), spread.known | level.known, spread.hard | level.hard
    )
    broken = ~(spread_holds | level_holds)
    return _judged(
        rule, evidence, rows, found.row, known, found.passed, broken, by, {"rsd": Amounts(spread.value, "%")}
    )


def _standard(rule: Rule, evidence: Evidence, kind: str, rows: int) -> Judged:
    found = standards(evidence, kind)
    value = found.difference.value
    compare = comparison(evidence)
    broken, by = _side(rule, value, compare)
    says_else = found.stated.known & (_side(rule, found.stated.value, compare)[1] != by)
    facts = {"stated": Amounts(found.stated.value, "%"), "off": Amounts(value, "%")}
    judged = _judged(
        rule, evidence, rows, found.row, found.difference, found.passed, broken, by, facts, says_else=says_else,
        concerned=~_area_alone(evidence, found),
    )  # fmt: skip
    if kind != "calibration_check":
        return judged
    passing = np.where(
        found.difference.known, ~broken, ~found.difference.hard & found.passed.known & (found.passed.value == 1)
    )
    return _to_the_next(evidence, found, judged, np.asarray(passing, dtype=bool))


def _area_alone(evidence: Evidence, found: Standards) -> Bool:
    """Rows that state the area of an internal standard in the check and no more: no standard of a target."""
    results, table, qc = evidence.results, evidence.tables.get("lab_qc"), evidence.lab_qc
    if results is None or table is None or qc is None:
        return np.zeros(len(found.row), bool)
    internal = np.isin(qc.analyte[found.row], results.analyte[results.kind == "internal_standard"])
    bare = ~(found.difference.known | found.difference.hard | found.passed.known | found.passed.hard)
    return np.asarray(internal & bare & numbers(table, "area").take(found.row).known)


def _side(rule: Rule, value: Float, compare: str) -> tuple[Bool, Int16]:
    """Whether a difference breaks a limit, and which one; -1 for none."""
    high, low = (~keeps_limit(rule.limit(name), value, compare) for name in ("high", "low"))
    by = np.where(high, _index(rule, "high"), np.where(low, _index(rule, "low"), -1))
    return high | low, np.where(np.isfinite(value), by, -1).astype(np.int16)


def _to_the_next(evidence: Evidence, found: Standards, judged: Judged, passing: Bool) -> Judged:
    """Of what hangs on the calibration, keep what was analysed from the standard to the next passing one."""
    place = {int(row): number for number, row in enumerate(found.row.tolist())}
    entry = np.array([place[row] for row in judged.row.tolist()], dtype=np.int64)
    links = Links(entry[judged.results.entry], judged.results.target)
    kept = until_next_passing(evidence, found.row, links, passing)
    back = np.full(len(found.row), -1, np.int64)
    back[entry] = np.arange(len(entry))
    return replace(judged, results=Links(back[kept.entry], kept.target))


def _factor(rule: Rule, evidence: Evidence, rows: int) -> Judged:
    found = initial_calibrations(evidence)
    gas = np.append(evidence.analytes.in_class("fixed_gas"), False)
    assert evidence.lab_qc is not None
    concerned = found.mean_factor.known | ~gas[evidence.lab_qc.analyte[found.row]]
    asked = Asked(found.row, concerned)
    asked.need(found.mean_factor, "the response factor", ("lab_qc", "response_factor"))
    broken = ~keeps_limit(rule.limits[0], found.mean_factor.value)
    outcome = np.where(asked.known, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    measured = asked.measured(
        found.mean_factor.value,
        facts={"analyte": Labels(names_of_qc(evidence, found.row))},
        results=_reached(evidence, found.row, outcome),
    )
    return judged_from(measured, rows, outcome, np.where(outcome == Outcome.BROKEN, 0, -1).astype(np.int16))


def _judged(
    rule: Rule, evidence: Evidence, rows: int, row: Int64, number: Known, passed: Known, broken: Bool,
    by: Int64 | Int16, facts: Facts, *, says_else: Bool | None = None, concerned: Bool | None = None,
) -> Judged:  # fmt: skip
    """Weigh the number first, then what the laboratory says."""
    asked = Asked(row, concerned if concerned is not None else np.ones(len(row), bool))
    # A number that cannot be read is not replaced by a tick.
    told = Known(number.value, number.known | (passed.known & ~number.hard), number.hard | passed.hard)
    asked.need(told, "the number by which it is judged", ("lab_qc", str(_COLUMN[str(rule.options["of"])])))
    by_word = ~number.known & asked.known
    failed = passed.known & (passed.value == 0)
    disagrees = number.known & ~broken & (failed | (says_else if says_else is not None else False))
    limit = np.full(len(row), -1, np.int16)
    limit[number.known & broken] = by[number.known & broken]
    limit[by_word & failed] = _index(rule, FAILED)
    limit[disagrees] = _index(rule, DISAGREES)
    outcome = np.where(asked.known, np.where(limit >= 0, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN)
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    words = np.where(failed, "failed", "differs otherwise").astype(object)
    measured = asked.measured(
        number.value,
        facts={"analyte": Labels(names_of_qc(evidence, row)), "laboratory_says": Labels(words), **facts},
        # A disagreement that leaves the number standing taints nothing.
        results=_reached(evidence, row, np.where(disagrees, Outcome.HOLDS, outcome).astype(np.uint8)),
    )
    measured = replace(measured, value=np.where(number.known, number.value, np.nan))
    return judged_from(measured, rows, outcome, limit)


_COLUMN = {"initial_calibration": "rsd", "calibration_check": "difference", "second_source_check": "difference"}


def _index(rule: Rule, name: str) -> int:
    return [one.name for one in rule.limits].index(name)


def _reached(evidence: Evidence, row: Int64, outcome: UInt8) -> Links:
    """Results of the same calibration and analyte, for the entries that speak."""
    speaks = np.flatnonzero((outcome == Outcome.BROKEN) | (outcome == Outcome.UNPROVEN))
    links = results_of_batches(evidence, row[speaks], by="calibration_id")
    return Links(speaks[links.entry].astype(np.int64), links.target)


def _whole(lacking: Unserved, rows: int) -> Judged:
    """Findings on the whole table: one a calibration that lacks such a control sample."""
    size = len(lacking.phrase)
    each = np.array([len(found) for found in lacking.rows], dtype=np.int64)
    return Judged(
        state=np.zeros(rows, np.uint8),
        row=np.full(size, -1, np.int64),
        outcome=np.full(size, Outcome.UNPROVEN, np.uint8),
        limit=np.full(size, -1, np.int16),
        measured=np.full(size, np.nan),
        want=np.arange(size, dtype=np.int16),
        wants=tuple(Want(phrase, place) for phrase, place in zip(lacking.phrase, lacking.place, strict=True)),
        hard=np.zeros(size, bool),
        facts={"analyte": Labels(np.full(size, "the results that it reaches", object))},
        results=Links(np.repeat(np.arange(size), each).astype(np.int64), np.concatenate(lacking.rows)),
        subject=np.array(lacking.subject, dtype=object),
        alone=True,
    )

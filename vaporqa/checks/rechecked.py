"""`rechecked`: a high reading is read again within days, with what could explain it looked at."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import numbers, words, yes_no
from vaporqa.evidence.conditions import conditions
from vaporqa.evidence.instruments import meters, number_of
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.readings import where_read
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Table, Texts

OPTIONS = {"gas": "CAS number of the gas"}

_DAY = 86_400.0
_LOOKED_AT = (("liquid_checked", "the check for liquid"), ("control_well_checked", "the check of the control wells"))


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every high reading that is not itself a recheck.

    The limit `exceedance` says which readings are high. `days` is the time until the earliest reading that names one;
    `looked_at` is broken where that reading says that something was not looked at.
    """
    table = evidence.tables.get("field_readings")
    if table is None:
        return ()
    met = meters(evidence, table)
    compare = comparison(evidence)
    where = conditions(evidence, table, rule.where)
    again, _ = words(table, "recheck_of")
    mine = table.counts & (met.analyte == number_of(evidence, str(rule.options["gas"]))) & (again == "")
    high = mine & keeps_limit(rule.limit("exceedance"), met.reading.value, compare) & (where.yes | where.unknown)
    rows = np.flatnonzero(high).astype(np.int64)
    following = _earliest(table, again, rows, met.at.low)
    then = met.at.take(following)
    days = (then.day - met.at.day[rows]).astype(np.float64) * _DAY
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(~where.unknown[rows], "the setting of the reading", ("field_readings", "setting"))
    asked.need(following >= 0, "a reading that names it as the one read again", ("field_readings", "recheck_of"))
    asked.need(met.at.known[rows] & then.known, "the time of both readings", ("field_readings", "at"))
    denied = np.zeros(len(rows), bool)
    lacking: Texts = np.full(len(rows), "", object)
    for column, phrase in _LOOKED_AT:
        answer = yes_no(table, column).take(following)
        asked.need(answer, phrase, ("field_readings", column))
        no = answer.known & (answer.value == 0)
        lacking[no & ~denied] = phrase
        denied |= no
    asked.need(numbers(table, "barometer").take(following), "the barometer", ("field_readings", "barometer"))
    timed = (following >= 0) & met.at.known[rows] & then.known & ~where.unknown[rows]
    late = timed & ~keeps_limit(rule.limit("days"), days, compare)
    broken = late | (timed & denied)
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    names = [one.name for one in rule.limits]
    late_or_denied = np.where(late, names.index("days"), names.index("looked_at"))
    which = np.where(broken, late_or_denied, -1).astype(np.int16)
    measured = asked.measured(
        days, facts={"place": where_read(evidence, table, rows), "lacking": Labels(lacking)}, table="field_readings"
    )
    measured.value[broken] = days[broken]
    return (judged_from(measured, table.rows, outcome.astype(np.uint8), which),)


def _earliest(table: Table, again: Texts, rows: Int64, low: Int64) -> Int64:
    """The earliest counting row that names each of `rows`; -1 none."""
    first: dict[str, int] = {}
    for row in np.flatnonzero((again != "") & table.counts).tolist():
        known = first.get(str(again[row]))
        if known is None or (low[row], str(table.keys[row])) < (low[known], str(table.keys[known])):
            first[str(again[row])] = row
    return np.array([first.get(str(table.keys[row]), -1) for row in rows.tolist()], dtype=np.int64)

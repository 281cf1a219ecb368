"""`blank`: the blanks beside a result, by the blank scheme in force; and whether both can be brought to one unit.

A result holds where its blanks are clean, where it is a nondetect, or where the scheme lets it stand. Clean is said of
a limit: a blank that was not found at a limit far over that of the result shows nothing of it. A water blank
tells presence or absence only: a detect beside a gas result is never held against it by number.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.beside import Beside, without_unit
from vaporqa.evidence.cells import Known, pick
from vaporqa.evidence.judged import Amounts, Judged, Labels, judged_from
from vaporqa.evidence.reported import DETECTED, UNSTATED, in_family
from vaporqa.evidence.schemes import apply_scheme
from vaporqa.outcomes import Letter, Outcome
from vaporqa.tables.values import Bool

OPTIONS = {
    "of": "method, container, trip or material: which blanks; units: whether any of them shares a unit with the result",
    "clean_down_to": "times the reporting limit of the result: a nondetect blank that stands higher clears it no "
    "further than its own limit would, taken for the blank",
    "needed_for": "containers whose results need such a blank; without it the others are silent",
}

KINDS = ("method", "container", "trip", "material")
#: Limits of a blank rule are words: the letter of the scheme, or this word for a water blank beside a gas result.
IN_WATER = "water"


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result that a blank could qualify."""
    table = evidence.tables.get("results")
    if table is None or evidence.results is None:
        return ()
    of = str(rule.options["of"])
    if of == "units":
        return (_units(rule, evidence, [_beside(evidence, kind) for kind in KINDS]),)
    return (_by_scheme(rule, evidence, _beside(evidence, of)),)


def _beside(evidence: Evidence, kind: str) -> Beside:
    if kind == "method":
        return evidence.method_blanks
    if kind == "container":
        return evidence.container_blanks
    return evidence.trip_blanks if kind == "trip" else evidence.material_blanks


def _by_scheme(rule: Rule, evidence: Evidence, beside: Beside) -> Judged:
    results = evidence.results
    assert results is not None
    asked = Asked.going_on(beside.base)
    rows = asked.row
    status, result = results.detected[rows], results.result.take(rows)
    detect, tainted = status == DETECTED, np.isfinite(beside.level)
    _need(asked, ~result.hard, True, "a readable result in a known unit", ("results", "result"))
    _need(asked, status != UNSTATED, False, "whether it was detected", ("results", "result"), ("results", "detected"))
    # No scheme does anything to a nondetect: what cannot be read or compared matters to detects alone.
    _need(asked, result.known | ~detect, True, "the result", ("results", "result"))
    _need(asked, ~(beside.unread & detect), True, "a readable result of the blank")
    _need(asked, ~(beside.without_unit & detect), True, "the unit of the blank")
    _need(asked, ~(beside.apart & detect), True, "a readable unit that the blank and the result share")
    name = evidence.rulebook.choose["blanks.scheme"]
    applied = apply_scheme(evidence, evidence.rulebook.schemes[name], rows, np.where(tainted, beside.level, 0.0))
    _need(asked, ~(tainted & applied.open), True, "a readable limit of detection or reporting limit for the scheme")
    _need(
        asked,
        ~_clean_too_high_up(rule, evidence, beside, detect & ~tainted),
        False,
        "a blank that is clean down to about its reporting limit",
    )
    letter = np.where(tainted & asked.known, applied.detect, 0)
    only_water = (letter == 0) & detect & asked.known & (beside.in_water != "")
    outcome = np.where(
        asked.known, np.where((letter != 0) | only_water, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN
    )
    outcome = np.where(asked.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    limit = np.full(len(rows), -1, np.int16)
    for index, one in enumerate(rule.limits):
        for code in np.unique(letter[letter != 0]).tolist():
            limit[(letter == code) & (Letter(code).word in one.words)] = index
        limit[only_water & (IN_WATER in one.words)] = index
    measured = asked.measured(
        np.full(len(rows), np.nan),
        facts={
            "analyte": Labels(evidence.analyte_names(rows)),
            "blank": Labels(np.where(only_water, beside.in_water, beside.blank)),
            "found": evidence.shown(beside.level, beside.family),
            "result": evidence.shown(result.value, result.family),
            "at": evidence.shown(np.where(letter == Letter.U, applied.at, np.nan), beside.family),
            "scheme": Labels(np.full(len(rows), name, object)),
        },
    )
    limit = np.where(outcome == Outcome.BROKEN, limit, -1).astype(np.int16)
    judged = judged_from(measured, len(results.detected), outcome, limit)
    stands = judged.facts["at"]
    assert isinstance(stands, Amounts)
    at = np.where(judged.outcome == Outcome.BROKEN, stands.values, np.nan)
    return replace(judged, own_at=at, quiet=_quiet(rule, evidence, judged))


def _clean_too_high_up(rule: Rule, evidence: Evidence, beside: Beside, rows_of: Bool) -> Bool:
    """Detects whose blank was not detected at so high a limit that what it may have held would change them."""
    results = evidence.results
    assert results is not None
    too_high = np.zeros(len(rows_of), bool)
    times = rule.options.get("clean_down_to")
    if times is None:
        return too_high
    at = np.flatnonzero(rows_of & np.isfinite(beside.clean_to))
    rows = beside.base.row[at]
    mass = evidence.molar_mass(results.analyte[rows])
    own = in_family(results.reporting_limit.take(rows), results.result.family[rows], mass, evidence.molar_volume)
    own = own.or_else(results.result.take(rows))
    over = beside.clean_to[at] > float(str(times)) * own.value * (1 + RELATIVE_TOLERANCE)
    scheme = evidence.rulebook.schemes[evidence.rulebook.choose["blanks.scheme"]]
    applied = apply_scheme(evidence, scheme, rows[over], beside.clean_to[at[over]])
    too_high[at[over]] = (applied.detect != 0) | applied.open
    return too_high


def _need(asked: Asked, part: Bool, hard: bool, phrase: str, *places: tuple[str, str]) -> None:
    """Ask for a part of entries that lack nothing so far."""
    nothing = np.full(len(part), np.nan)
    asked.need(Known(nothing, part, ~part & hard), phrase, *places, rows=asked.known)


def _quiet(rule: Rule, evidence: Evidence, judged: Judged) -> Bool | None:
    """Entries that lack a blank which their container does not need."""
    needed = rule.options.get("needed_for")
    if needed is None or evidence.results is None:
        return None
    listed = [str(word) for word in (needed if isinstance(needed, tuple) else (needed,))]
    container = pick(evidence.samples.container, evidence.results.sample[judged.row], "")
    return np.asarray((judged.outcome == Outcome.UNPROVEN) & ~judged.hard & ~np.isin(container.astype(str), listed))


def _units(rule: Rule, evidence: Evidence, kinds: list[Beside]) -> Judged:
    results, table = evidence.results, evidence.tables.get("results")
    assert results is not None
    assert table is not None
    n = table.rows
    found, bare, apart, blank = np.zeros(n, bool), np.zeros(n, bool), np.zeros(n, bool), np.full(n, "", object)
    for beside in kinds:
        rows, used = beside.base.row, beside.base.concerned & beside.found
        found[rows[used]] = True
        bare[rows[used & beside.without_unit]] = True
        apart[rows[used & beside.apart]] = True
        blank[rows[used & beside.apart]] = beside.blank[used & beside.apart]
    rows = np.flatnonzero(found).astype(np.int64)
    asked = Asked(rows, np.ones(len(rows), bool))
    _need(asked, ~without_unit(table, results)[rows], True, "a known unit of the result", ("results", "unit"))
    _need(asked, ~bare[rows], True, "a known unit of the blank", ("lab_qc", "unit"), ("results", "unit"))
    broken = asked.known & apart[rows]
    outcome = np.where(asked.known, np.where(broken, Outcome.BROKEN, Outcome.HOLDS), Outcome.UNPROVEN).astype(np.uint8)
    facts = {"analyte": Labels(evidence.analyte_names(rows)), "blank": Labels(blank[rows])}
    measured = asked.measured(np.full(len(rows), np.nan), facts=facts)
    return judged_from(measured, n, outcome, np.full(len(rows), -1, np.int16))

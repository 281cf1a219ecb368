"""The data as a whole for review.json and the page: indicators, decisions at screening levels, validation stage."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from vaporqa.report.wording import figure
from vaporqa.review.completeness import Completeness
from vaporqa.review.decisions import AnalyteDecisions, Decision, Decisions, Situation
from vaporqa.review.indicators import FORMULAS, Accuracy, Indicators, Precision, Sensitivity
from vaporqa.review.stages import Done, ValidationStage
from vaporqa.review.usability import Usability

DECISION_MEANINGS = {
    Decision.USABLE: "answers whether the gas is over the level, as reported",
    Decision.WITH_LIMITS: "is an estimate whose possible error does not change the answer",
    Decision.UNCERTAIN: "is an estimate, tentative or unproven in a way that leaves the answer open",
    Decision.GAP: "does not answer: rejected, or not detected at a limit over the level",
    Decision.NOT_COMPARABLE: "cannot be brought to one unit with its level, or the level cannot be read",
    Decision.NO_LEVEL: "has no screening level; there is nothing to decide",
}
SITUATION_MEANINGS = {
    Situation.AS_REPORTED: "no finding estimates it",
    Situation.HIGH_NOT_OVER: "probably too high, and not over the level: the error cannot hide an exceedance",
    Situation.LOW_OVER: "probably too low, and over the level: the exceedance stands",
    Situation.FAR_FROM_LEVEL: "error of unknown direction, farther from the level than the band",
    Situation.HIGH_NONDETECT: "not detected at a limit that is probably too high, and not over the level",
    Situation.HIGH_OVER: "probably too high, and over the level: the exceedance is uncertain",
    Situation.LOW_NOT_OVER: "probably too low, and not over the level: the non-exceedance is uncertain",
    Situation.NEAR_LEVEL: "error of unknown direction, within the band round the level",
    Situation.TENTATIVE: "tentatively identified",
    Situation.UNPROVEN: "evidence is missing",
    Situation.LIMIT_OVER: "not detected, at a limit over the level",
    Situation.LIMIT_UNKNOWN: "not detected, and no limit is recorded",
    Situation.REJECTED: "rejected",
    Situation.CANNOT_COMPARE: "result and level cannot be compared",
    Situation.NO_LEVEL: "no level is stated",
}


def usability_json(usability: Usability) -> dict[str, Any]:
    """Return indicators, decisions and validation stage as JSON values."""
    found, decisions = usability.indicators, usability.decisions
    return {
        "indicators": _indicators(found) if found is not None else None,
        "decisions": _decisions(decisions) if decisions is not None else None,
        "validation_stage": _stage(usability.stage),
    }


def _number(value: float) -> float | None:
    return None if not math.isfinite(value) else float(f"{value:.6g}")


def _named(one: Any) -> dict[str, Any]:
    return {"analyte": one.analyte, "cas": one.cas} if one.analyte or one.cas else {}


def _indicators(found: Indicators) -> dict[str, Any]:
    return {
        "formulas": dict(FORMULAS),
        "precision": {
            **_precision(found.precision), "by_analyte": [_precision(one) for one in found.precision_by_analyte]
        },
        "accuracy": [_accuracy(one) for one in found.accuracy],
        "sensitivity": {
            **_sensitivity(found.sensitivity), "by_analyte": [_sensitivity(one) for one in found.sensitivity_by_analyte]
        },
        "completeness": {
            **_completeness(found.completeness),
            "samples_of_unknown_kind_or_matrix": found.samples_of_unknown_kind,
            "by_analyte": [_completeness(one) for one in found.completeness_by_analyte],
        },
    }  # fmt: skip


def _precision(one: Precision) -> dict[str, Any]:
    return {
        **_named(one), "pairs": one.pairs, "both_detected": one.both_detected,
        "neither_detected": one.neither_detected, "left_out_rejected": one.rejected,
        "median_rpd_percent": _number(one.median_rpd), "largest_rpd_percent": _number(one.largest_rpd),
        "pooled_rsd_percent": _number(one.pooled_rsd),
    }  # fmt: skip


def _accuracy(one: Accuracy) -> dict[str, Any]:
    return {
        "what": one.what, **_named(one), "rows": one.rows, "without_recovery": one.unread,
        "mean_percent": _number(one.mean), "lowest_percent": _number(one.lowest),
        "highest_percent": _number(one.highest), "rsd_percent": _number(one.rsd),
    }  # fmt: skip


def _sensitivity(one: Sensitivity) -> dict[str, Any]:
    return {
        **_named(one), "nondetects": one.nondetects, "compared": one.compared, "at_most_the_level": one.met,
        "share_percent": _number(one.share), "no_level": one.no_level, "not_comparable": one.not_comparable,
    }  # fmt: skip


def _completeness(one: Completeness) -> dict[str, Any]:
    return {
        **_named(one), "planned": one.planned, "planned_valid": one.planned_valid if one.planned is not None else None,
        "of_planned_percent": _number(one.of_planned), "of_planned_at_best_percent": _number(one.of_planned_at_best),
        "reported": one.reported, "valid": one.valid, "unproven": one.unproven, "rejected": one.rejected,
        "of_reported_percent": _number(one.of_reported),
        "of_reported_at_best_percent": _number(one.of_reported_at_best),
    }  # fmt: skip


def _decisions(found: Decisions) -> dict[str, Any]:
    return {
        "meanings": {one.words: text for one, text in DECISION_MEANINGS.items()},
        "band_percent_of_level": _number(found.band),
        "overall": _analyte_decisions(found.overall),
        "by_analyte": [_analyte_decisions(one) for one in found.by_analyte],
        "situations": [
            {"decision": one.decision.words, "situation": SITUATION_MEANINGS[one], "results": found.situations[one]}
            for one in Situation
        ],
        "analytes_without_level": list(found.without_level),
        "analytes_not_comparable": list(found.not_comparable),
    }


def _analyte_decisions(one: AnalyteDecisions) -> dict[str, Any]:
    return {**_named(one), **{kind.words: one.counts[kind] for kind in Decision}, "detects over the level": one.over}


def _stage(found: ValidationStage) -> dict[str, Any]:
    return {
        "declared": found.declared,
        "supported": found.supported or None,
        "supported_in_part": found.in_part or None,
        "by": "electronic checks of tables",
        "said": stage_said(found),
        "checks": [
            {
                "stage": one.stage, "check": one.name, "rules": list(one.rules), "done": one.done.value,
                "rows_judged": one.judged, "rows_unproven": one.unproven, "results_uncovered": one.uncovered,
                "reason": one.reason,
            }
            for one in found.checks
        ],
        "not_performed": [
            {"rule": one.rule, "title": one.title, "stage": one.stage, "reason": one.reason}
            for one in found.not_performed
        ],
    }  # fmt: skip


def stage_said(found: ValidationStage) -> str:
    """Return what may be claimed, as a sentence.

    Examples
    --------
    >>> stage_said(ValidationStage("2A", "1", "1", (), ()))
    'Validation stage 1, by electronic checks, is supported throughout; stage 2A was declared.'
    """
    declared = "" if found.supported == found.declared else f"; stage {found.declared} was declared"
    if not found.in_part:
        return f"No published validation stage can be claimed{declared}."
    if not found.supported:
        return (
            f"Validation stage {found.in_part}, by electronic checks, is supported in part only, and no stage is "
            f"supported throughout{declared}."
        )
    more = ""
    if found.in_part != found.supported:
        more = f", and stage {found.in_part} in part"
    return f"Validation stage {found.supported}, by electronic checks, is supported throughout{more}{declared}."


@dataclass(frozen=True, slots=True)
class UsabilityLines:
    """Tables of the page: each line a tuple of cells, the first of a table for all analytes together."""

    stage: str
    stage_lines: tuple[tuple[str, ...], ...]
    not_performed: tuple[tuple[str, ...], ...]
    precision: tuple[tuple[str, ...], ...]
    accuracy: tuple[tuple[str, ...], ...]
    sensitivity: tuple[tuple[str, ...], ...]
    completeness: tuple[tuple[str, ...], ...]
    decisions: tuple[tuple[str, ...], ...]
    situations: tuple[tuple[str, ...], ...]
    formulas: tuple[str, ...]
    remarks: tuple[str, ...]
    decision_remarks: tuple[str, ...]
    unknown_samples: int


def usability_lines(usability: Usability) -> UsabilityLines:
    """Return what the page shows."""
    found, decisions, stage = usability.indicators, usability.decisions, usability.stage
    return UsabilityLines(
        stage_said(stage),
        tuple((one.stage, one.name, one.done.value, _why(one.judged, one.unproven, one.uncovered, one.reason))
              for one in stage.checks if one.stage <= stage.declared or one.done is not Done.NOT),
        tuple((one.rule, one.title, one.stage, one.reason) for one in stage.not_performed),
        tuple(map(_precision_line, (found.precision, *found.precision_by_analyte))) if found else (),
        tuple(map(_accuracy_line, found.accuracy)) if found else (),
        tuple(map(_sensitivity_line, (found.sensitivity, *found.sensitivity_by_analyte))) if found else (),
        tuple(map(_completeness_line, (found.completeness, *found.completeness_by_analyte))) if found else (),
        tuple(map(_decision_line, (decisions.overall, *decisions.by_analyte))) if decisions else (),
        tuple((one.decision.words, SITUATION_MEANINGS[one], f"{decisions.situations[one]:,}")
              for one in Situation if decisions.situations[one]) if decisions else (),
        tuple(FORMULAS.values()),
        _remarks(found) if found else (),
        _decision_remarks(decisions),
        found.samples_of_unknown_kind if found else 0,
    )  # fmt: skip


def _why(judged: int, unproven: int, uncovered: int, reason: str) -> str:
    parts = [reason] if reason else [f"{judged:,} judged"]
    if judged and unproven:
        parts.append(f"of {unproven:,} the evidence is missing")
    if uncovered:
        parts.append(f"{uncovered:,} results have none beside them")
    return "; ".join(parts)


def _name(one: Any) -> str:
    return one.analyte or one.cas or "All analytes"


def _percent(value: float) -> str:
    return "-" if math.isnan(value) else f"{figure(value, 4)} %"


def _precision_line(one: Precision) -> tuple[str, ...]:
    return (
        _name(one), f"{one.pairs:,}", f"{one.both_detected:,}", _percent(one.median_rpd), _percent(one.largest_rpd),
        _percent(one.pooled_rsd),
    )  # fmt: skip


def _accuracy_line(one: Accuracy) -> tuple[str, ...]:
    return (
        one.what, _name(one), f"{one.rows:,}", f"{one.unread:,}", _percent(one.lowest), _percent(one.mean),
        _percent(one.highest), _percent(one.rsd),
    )  # fmt: skip


def _sensitivity_line(one: Sensitivity) -> tuple[str, ...]:
    return (
        _name(one), f"{one.nondetects:,}", f"{one.compared:,}", f"{one.met:,}", _percent(one.share),
        f"{one.no_level:,}", f"{one.not_comparable:,}",
    )  # fmt: skip


def _completeness_line(one: Completeness) -> tuple[str, ...]:
    planned = ("-", "-") if one.planned is None else (f"{one.planned:,}", f"{one.planned_valid:,}")
    return (
        _name(one), *planned, _percent(one.of_planned), f"{one.reported:,}", f"{one.valid:,}", f"{one.unproven:,}",
        f"{one.rejected:,}", _percent(one.of_reported),
    )  # fmt: skip


def _decision_line(one: AnalyteDecisions) -> tuple[str, ...]:
    shown = one.counts[: Decision.NO_LEVEL]
    return (_name(one), *(f"{number:,}" for number in shown), f"{one.over:,}")


def _remarks(found: Indicators) -> tuple[str, ...]:
    out = []
    whole = found.completeness
    if whole.planned is None:
        out.append(
            "There is no table required_analytes: what was planned is not known, and completeness of planned results "
            "cannot be stated."
        )
    if whole.unproven:
        best = _percent(whole.of_reported_at_best)
        planned = f", of planned {_percent(whole.of_planned_at_best)}" if whole.planned else ""
        out.append(
            f"Unproven results are not counted as valid; if the evidence for every one were supplied and good, "
            f"completeness of reported would be {best}{planned}."
        )
    if found.samples_of_unknown_kind:
        number = found.samples_of_unknown_kind
        out.append(
            f"{number:,} {'sample is' if number == 1 else 'samples are'} left out of completeness: kind or matrix is "
            "not known."
        )
    if found.precision.rejected:
        out.append(f"Pairs left out of precision because a member is rejected: {found.precision.rejected:,}.")
    return tuple(out)


def _decision_remarks(found: Decisions | None) -> tuple[str, ...]:
    if found is None:
        return ("There is no table screening_levels: no result can be held against a level.",)
    out = []
    if math.isnan(found.band):
        out.append(
            "No RPD limit for duplicates stands in the rulebook: every estimate of unknown direction is uncertain."
        )
    else:
        out.append(
            f"An estimate of unknown direction is uncertain within {figure(found.band)} % of its level: half the limit "
            "for the RPD of duplicates."
        )
    if found.not_comparable:
        out.append(f"A level stands that cannot be compared: {_some(found.not_comparable)}.")
    if found.without_level:
        out.append(f"Some or all results have no level: {_some(found.without_level)}.")
    return tuple(out)


def _some(names: tuple[str, ...], at_most: int = 12) -> str:
    further = f" and {len(names) - at_most} more" if len(names) > at_most else ""
    return ", ".join(names[:at_most]) + further

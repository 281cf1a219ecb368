"""review.json and run.json: the review for programs, and the circumstances of the run."""

from __future__ import annotations

import datetime as dt
import hashlib
import importlib.metadata
import json
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from vaporqa import __version__
from vaporqa.criteria import Limit, Rule
from vaporqa.outcomes import Standing
from vaporqa.report.evidence_part import evidence_json
from vaporqa.report.judgements import judgement_counts, judgements_json
from vaporqa.report.places import row_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import FIELD, GROUP_NAMES, LimitUse, Tally
from vaporqa.report.usability import usability_json
from vaporqa.report.wording import ends_of
from vaporqa.review.values import Review
from vaporqa.settling import QUALIFIERS

#: Version of the shape of review.json.
FORMAT = 1
_LIBRARIES = ("numpy", "pandas", "pandera", "pyarrow", "pydantic", "pyyaml", "jinja2", "click", "tzdata")


def as_json(value: Mapping[str, Any]) -> bytes:
    """Return `value` as JSON, UTF-8, indented, with a line end."""
    return (json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8", "backslashreplace")


def review_json(review: Review, tally: Tally, sentences: Sentences) -> dict[str, Any]:
    """Return everything a program may want of a review, as JSON values; the same for the same inputs."""
    return {
        "format": FORMAT,
        "project": _project(review),
        "counts": counts_json(review, tally),
        **usability_json(tally.usability),
        "coverage": _coverage(review),
        "evidence": evidence_json(tally.evidence),
        "not_reviewed": [{"name": one.name, "reason": one.reason} for one in review.not_reviewed],
        "judgements": judgements_json(review),
        "cautions": [_caution(review, number, sentences) for number in range(len(review.cautions))],
        "profiles": list(review.rulebook.profiles),
        "choices": dict(sorted(review.rulebook.choose.items())),
        "limits": [_limit(use) for use in tally.limits],
        "limits_from_memory_used": [f"{use.rule.id}.{use.limit.name}" for use in tally.from_memory],
        "schemes": [
            {"name": one.name, "about": one.about, "source": str(one.source), "backing": one.backing.value}
            for one in review.rulebook.schemes.values()
        ],
        "changes": [
            {
                "profile": one.profile, "what": one.what, "before": one.before, "after": one.after,
                "source": one.source, "backing": one.backing, "file": one.file, "line": one.line,
            }
            for one in review.rulebook.changes
        ],
        "rules": [
            {"id": rule.id, "title": rule.title, "topic": rule.topic, "stage": rule.stage, "row": rule.row,
             "file": rule.file, "line": rule.line}
            for rule in review.rules
        ],
        "rule_files": dict(review.rulebook.files),
        "files": [
            {"name": one.name, "sha256": one.sha256, "size": one.size, "feeds": list(one.feeds)}
            for one in review.tables.files
        ],
        "remarks": [{"file": one.file, "text": one.text} for one in review.tables.remarks],
    }  # fmt: skip


def counts_json(review: Review, tally: Tally) -> dict[str, Any]:
    """Return the counts alone."""
    return {
        "results": standing_counts(tally.of_field),
        "results_total": int(tally.of_field.sum()),
        "results_undecided_run": tally.undecided,
        "results_by_qualifier": {QUALIFIERS[code]: count for code, count in tally.qualifiers.items()},
        "counted_apart": {
            name: standing_counts(tally.results[group])
            for group, name in GROUP_NAMES.items()
            if group in tally.results and group != FIELD
        },
        "tables": {name: standing_counts(counts) for name, counts in tally.tables.items()},
        "rows": {name: table.rows for name, table in review.tables.tables.items()},
        "samples": dict(tally.samples),
        "findings": len(review.findings),
        "findings_by_outcome": {outcome.words: count for outcome, count in tally.outcomes.items()},
        "findings_by_effect": {effect.word: count for effect, count in tally.effects.items()},
        "findings_by_rule": dict(tally.rules),
        "judgements": judgement_counts(review),
        "causes": [
            {"rule": cause.rule.id, "standing": cause.standing.word, "results": cause.rows} for cause in tally.causes
        ],
    }


def standing_counts(counts: Sequence[int] | Any) -> dict[str, int]:
    """Return counts by the word of the standing."""
    return {standing.word: int(counts[standing]) for standing in Standing}


def _project(review: Review) -> dict[str, Any]:
    project = review.project
    return {
        "name": project.name,
        "purpose": project.purpose,
        "time_zone": project.time_zone,
        "lab_time_zone": project.lab_time_zone,
        "altitude_m": project.altitude_m,
        "lab_altitude_m": project.lab_altitude_m,
        "reference_temperature_degC": project.reference_temperature,
        "reference_pressure_kPa": project.reference_pressure,
        "stage": project.stage,
        "leave_out": dict(project.leave_out),
    }


def _coverage(review: Review) -> dict[str, Any]:
    coverage = review.coverage
    return {
        "rules": [
            {"rule": one.rule, "concerned": one.concerned, "holds": one.holds, "broken": one.broken,
             "unproven": one.unproven, "silent": one.silent}
            for one in coverage.rules
        ],
        "missing": [
            {"evidence": one.phrase, "places": [f"{table}.{column}" for table, column in one.places],
             "rules": list(one.rules), "rows": one.rows, "silent": one.silent}
            for one in coverage.missing
        ],
        "rules_without_rows": list(coverage.idle),
        "rows_without_rules": dict(coverage.unconcerned),
    }  # fmt: skip


def _caution(review: Review, number: int, sentences: Sentences) -> dict[str, Any]:
    caution = review.cautions[number]
    table = review.tables.get(caution.table)
    there = table is not None and caution.row >= 0
    return {
        "rule": caution.rule,
        "table": caution.table,
        "key": str(table.keys[caution.row]) if table is not None and there else "*",
        "place": row_place(table, caution.row) if table is not None and there else "",
        "text": sentences.caution(number),
    }


def _limit(use: LimitUse) -> dict[str, Any]:
    rule, limit = use.rule, use.limit
    return {
        "limit": f"{rule.id}.{limit.name}",
        "rule": rule.id,
        "written": limit.written,
        "sense": limit.sense.value,
        "number": _numbers(limit),
        "unit": limit.unit,
        "words": list(limit.words),
        "when": _plain(limit.when),
        "consequence": consequence(rule, limit),
        "source": str(limit.source),
        "backing": limit.backing.value,
        "profile": limit.profile,
        "findings": use.findings,
        "used": use.used,
    }


def consequence(rule: Rule, limit: Limit) -> dict[str, str]:
    """Return the letters of breaking a limit."""
    pair = rule.pair(limit.name)
    return {"detect": pair.detect.word, "nondetect": pair.nondetect.word}


def _numbers(limit: Limit) -> float | list[float] | None:
    ends = ends_of(limit)
    if limit.sense.value == "within":
        return ends[-1] if ends else None
    return None if not ends else ends[0] if len(ends) == 1 else list(ends)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    return value if isinstance(value, str | bool | int | float) or value is None else str(value)


def run_json(
    review: Review, *, command: Sequence[str], began: dt.datetime, options: Mapping[str, Any],
    written: Mapping[str, str],
) -> dict[str, Any]:  # fmt: skip
    """Return the circumstances of a run: the one file that differs from run to run.

    Parameters
    ----------
    review : Review
    command : sequence of str
        As it was called; empty from the library.
    began : datetime
        With its zone.
    options : mapping
        What was asked for, JSON values.
    written : mapping
        File written to sha256.
    """
    folder = review.project.folder
    return {
        "format": FORMAT,
        "command": list(command),
        "options": dict(options),
        "folder": str(folder.resolve()) if folder is not None else "",
        "began": began.astimezone(dt.UTC).isoformat(timespec="seconds"),
        "ended": dt.datetime.now(dt.UTC).isoformat(timespec="seconds"),
        "host": platform.node(),
        "system": platform.platform(),
        "versions": {"vaporqa": __version__, "python": platform.python_version(), **_versions()},
        "inputs": {one.name: one.sha256 for one in review.tables.files},
        "rule_files": dict(review.rulebook.files),
        "written": dict(sorted(written.items())),
    }


def _versions() -> dict[str, str]:
    found = {}
    for name in _LIBRARIES:
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            found[name] = ""
    return found


def sha256_of(path: Path) -> str:
    """Return the sha256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

"""Findings in the forms that other programs read: SARIF 2.1.0, JUnit XML, annotations of a workflow run.

SARIF: OASIS, Static Analysis Results Interchange Format Version 2.1.0, 2020. JUnit XML has no standard; what is written
here is the part that every reader knows.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import quote
from xml.etree import ElementTree as ET

import numpy as np

from vaporqa import __version__
from vaporqa.outcomes import Effect
from vaporqa.report.digest import counted
from vaporqa.report.flagged import reaches
from vaporqa.report.places import finding_place
from vaporqa.report.wording import visible
from vaporqa.report.writing import Report
from vaporqa.review.values import Review
from vaporqa.tables.values import Int64

#: Readers of SARIF refuse a run with more results.
SARIF_LIMIT = 25_000
#: Annotations of one kind that a workflow run shows.
ANNOTATION_LIMIT = 10
_SARIF_LEVELS = {
    Effect.REJECT: "error", Effect.UNPROVEN: "warning", Effect.ESTIMATE: "warning", Effect.NOTE: "note",
    Effect.CAUTION: "error", Effect.NONE: "none",
}  # fmt: skip
_ANNOTATION_KINDS = {
    Effect.REJECT: "error", Effect.UNPROVEN: "warning", Effect.ESTIMATE: "warning", Effect.NOTE: "notice",
    Effect.CAUTION: "error", Effect.NONE: "notice",
}  # fmt: skip
_LISTED = 50


def _gravest_first(review: Review) -> Int64:
    found = review.findings
    return np.lexsort((np.arange(len(found)), -found.reached, -found.effect.astype(np.int64)))


def sarif(report: Report) -> bytes:
    """Return the findings as SARIF 2.1.0: the gravest `SARIF_LIMIT` where there are more, which is then said."""
    review = report.review
    found = review.findings
    shown = np.sort(_gravest_first(review)[:SARIF_LIMIT]).tolist()
    texts = report.sentences.of(shown)
    left_out = len(found) - len(shown)
    said = [{"level": "note", "message": {"text": f"{counted(left_out, 'finding')} left out; the gravest are listed."}}]
    run: dict[str, Any] = {
        "tool": {"driver": {"name": "vaporqa", "semanticVersion": __version__, "rules": _sarif_rules(review)}},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {"PROJECT": {"description": {"text": "the project folder"}}},
        "invocations": [{"executionSuccessful": True, "toolExecutionNotifications": said if left_out else []}],
        "results": [_sarif_result(review, index, text) for index, text in zip(shown, texts, strict=True)],
    }
    whole = {"$schema": "https://json.schemastore.org/sarif-2.1.0.json", "version": "2.1.0", "runs": [run]}
    return (json.dumps(whole, indent=1, ensure_ascii=False) + "\n").encode("utf-8", "replace")


def _sarif_rules(review: Review) -> list[dict[str, Any]]:
    return [
        {
            "id": rule.id,
            "shortDescription": {"text": rule.title},
            "fullDescription": {"text": rule.why or rule.title},
            "properties": {"topic": rule.topic, "stage": rule.stage},
        }
        for rule in review.rules
    ]


def _sarif_result(review: Review, index: int, text: str) -> dict[str, Any]:
    found = review.findings
    effect = Effect(int(found.effect[index]))
    table, key = found.tables[int(found.table[index])], str(found.key[index])
    return {
        "ruleId": review.rules[int(found.rule[index])].id,
        "ruleIndex": int(found.rule[index]),
        "level": _SARIF_LEVELS[effect],
        "message": {"text": text},
        "locations": [_sarif_location(review, index, table, key)],
        "partialFingerprints": {"finding/v1": str(found.id[index])},
        "properties": {"effect": effect.word, "outcome": found.outcome_word(index), "reaches": reaches(review, index)},
    }


def _sarif_location(review: Review, index: int, table: str, key: str) -> dict[str, Any]:
    file, line, header = finding_place(review, index)
    name = "/".join(part for part in (table, key, header) if part)
    location: dict[str, Any] = {"logicalLocations": [{"name": key, "fullyQualifiedName": name, "kind": "element"}]}
    if file and "; " not in file:
        physical: dict[str, Any] = {"artifactLocation": {"uri": quote(file), "uriBaseId": "PROJECT"}}
        if line.isdecimal():  # a cell of a workbook has no physical line
            physical["region"] = {"startLine": int(line)}
        location["physicalLocation"] = physical
    return location


def junit(report: Report) -> bytes:
    """Return the findings as JUnit XML: one test case a rule and table, failed by any finding graver than a note."""
    review, found = report.review, report.review.findings
    members: dict[tuple[int, str], list[int]] = {}
    for index in range(len(found)):
        members.setdefault((int(found.rule[index]), found.tables[int(found.table[index])]), []).append(index)
    concerned = {count.rule: count.concerned for count in review.coverage.rules}
    for number, rule in enumerate(review.rules):
        members.setdefault((number, rule.row), [])
    suite = ET.Element("testsuite", name=_xml(review.project.name or "project"))
    failures = skipped = 0
    for (number, table), indices in sorted(members.items()):
        rule = review.rules[number]
        case = ET.SubElement(suite, "testcase", classname=_xml(f"{rule.topic}.{table}"), name=_xml(rule.id))
        grave = [index for index in indices if int(found.effect[index]) > Effect.NOTE]
        if grave:
            failures += 1
            _junit_failure(report, case, grave)
        elif indices:
            ET.SubElement(case, "system-out").text = _listing(report, indices)
        elif not concerned.get(rule.id):
            skipped += 1
            ET.SubElement(case, "skipped", message="the rule concerned no row")
    counts = {"tests": str(len(members)), "failures": str(failures), "errors": "0", "skipped": str(skipped)}
    suite.attrib.update(counts)
    root = ET.Element("testsuites", counts)
    root.append(suite)
    ET.indent(root)
    return b"<?xml version='1.0' encoding='utf-8'?>\n" + ET.tostring(root, encoding="unicode").encode() + b"\n"


def _junit_failure(report: Report, case: ET.Element, grave: list[int]) -> None:
    found = report.review.findings
    worst = max(grave, key=lambda index: (int(found.effect[index]), -index))
    message = f"{counted(len(grave), 'finding')}; {report.sentences.one(worst)}"
    failure = ET.SubElement(case, "failure", type=found.effect_word(worst), message=_xml(message))
    failure.text = _listing(report, grave)


def _listing(report: Report, indices: list[int]) -> str:
    shown = indices[:_LISTED]
    lines = [
        f"{_place(report.review, index)} {report.review.findings.effect_word(index)}: {text}"
        for index, text in zip(shown, report.sentences.of(shown), strict=True)
    ]
    if len(indices) > len(shown):
        lines.append(f"... and {len(indices) - len(shown):,} more in findings.csv")
    return "\n".join(_xml(line) for line in lines)


def _place(review: Review, index: int) -> str:
    file, line, _ = finding_place(review, index)
    return ":".join(part for part in (file, line) if part) or str(review.findings.id[index])


def _xml(text: str) -> str:
    """Text without what XML 1.0 cannot hold."""
    return visible(text, 2000)


def workflow_annotations(report: Report) -> bytes:
    """Return the gravest findings as commands that a workflow run shows beside the lines of the files."""
    review, found = report.review, report.review.findings
    lines: list[str] = []
    shown: dict[str, int] = {}
    for index in _gravest_first(review).tolist():
        kind = _ANNOTATION_KINDS[Effect(int(found.effect[index]))]
        if shown.get(kind, 0) >= ANNOTATION_LIMIT:
            continue
        shown[kind] = shown.get(kind, 0) + 1
        lines.append(_annotation(review, index, kind, report.sentences.one(index)))
        if sum(shown.values()) >= 3 * ANNOTATION_LIMIT:
            break
    left_out = len(found) - len(lines)
    if left_out:
        lines.append(f"{counted(left_out, 'finding')} more than a workflow run shows: see findings.csv.")
    return ("\n".join(lines) + "\n" if lines else "").encode("utf-8", "replace")


def _annotation(review: Review, index: int, kind: str, text: str) -> str:
    file, line, _ = finding_place(review, index)
    rule = review.rules[int(review.findings.rule[index])]
    properties = {"title": rule.id}
    if file and "; " not in file:
        properties = {"file": _from_here(review.project.folder, file), **properties}
        if line.isdecimal():
            properties["line"] = line
    said = ",".join(f"{name}={_property(visible(value, 4096))}" for name, value in properties.items())
    return f"::{kind} {said}::{_data(text)}"


def _from_here(folder: Path | None, file: str) -> str:
    if folder is None:
        return file
    path = (folder / file).resolve()
    here = Path.cwd()
    return (path.relative_to(here) if path.is_relative_to(here) else folder / file).as_posix()


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")


WRITERS: Mapping[str, Callable[[Report], bytes]] = MappingProxyType(
    {"sarif": sarif, "junit": junit, "annotations": workflow_annotations}
)

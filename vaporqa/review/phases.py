"""Which rules are in force, and the order of judging: runs in use, blanks, then the rest on the status after blanks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from vaporqa.checks import CHECKS
from vaporqa.criteria import Rule, Rulebook
from vaporqa.errors import Problem, UsageError, did_you_mean
from vaporqa.evidence import Evidence
from vaporqa.evidence.absence import Absence
from vaporqa.evidence.judged import Judged
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Letter
from vaporqa.review.values import NotReviewed
from vaporqa.tables.project import Project
from vaporqa.tables.values import Tables
from vaporqa.tables.yaml_nodes import Entries

#: Checks of the blank phase: they can turn a detect into a nondetect, and every other rule sees the status after that.
BLANK_CHECKS = ("blank", "equipment_blank")


@dataclass(frozen=True, slots=True)
class InForce:
    """Rules that judge this review, in rulebook order, and what is left out on purpose."""

    rules: tuple[Rule, ...]
    not_reviewed: tuple[NotReviewed, ...]


def rules_in_force(rulebook: Rulebook, project: Project) -> InForce:
    """Leave out rules that no profile turned on, rules above the declared stage, and what the project leaves out.

    Raises
    ------
    UsageError
        `leave_out` names a topic or rule that does not exist.
    """
    names = [*rulebook.topics, *(rule.id for rule in rulebook.rules)]
    unknown = [name for name in project.leave_out if name not in names]
    if unknown:
        raise UsageError(_unknown_topic(project, name, names) for name in unknown)
    out: list[NotReviewed] = []
    kept = []
    above: dict[str, list[str]] = {}
    for rule in rulebook.rules:
        if rule.off:
            continue
        if rule.stage > project.stage:
            above.setdefault(rule.stage, []).append(rule.id)
        elif rule.topic not in project.leave_out and rule.id not in project.leave_out:
            kept.append(rule)
    out.extend(NotReviewed(name, reason) for name, reason in project.leave_out.items())
    for stage, ids in sorted(above.items()):
        reason = f"needs validation stage {stage}; this review is declared for stage {project.stage}"
        out.extend(NotReviewed(name, reason) for name in ids)
    return InForce(tuple(kept), tuple(out))


def _unknown_topic(project: Project, name: str, names: list[str]) -> Problem:
    message, mend = f"leave_out names '{name}', which is no topic and no rule", did_you_mean(name, names)
    document = project.document
    left_out = document.root.get("leave_out") if document is not None and isinstance(document.root, Entries) else None
    if document is None or not isinstance(left_out, Entries):
        return Problem("project.yaml", 0, 0, message, mend)
    return document.problem(left_out.keys.get(name), message, mend)


#: What the blank rules said, and the same less what a professional judgement takes from it.
Lift = Callable[[Evidence, list[tuple[int, Judged]]], list[tuple[int, Judged]]]


def judge(
    tables: Tables, project: Project, rulebook: Rulebook, rules: tuple[Rule, ...], lift: Lift | None = None
) -> tuple[Evidence, list[tuple[int, Judged]]]:
    """Judge every rule; return the evidence after blanks and what each rule said, one a rule and table.

    `lift` sees what the blank rules said before any detect is turned into a nondetect by it.
    """
    evidence = Evidence(tables, project, rulebook)
    judged: list[tuple[int, Judged]] = []
    for index, rule in enumerate(rules):
        if rule.check in BLANK_CHECKS:
            judged.extend((index, one) for one in CHECKS[rule.check].run(rule, evidence))
    if lift is not None:
        judged = lift(evidence, judged)
    evidence = _after_blanks(evidence, judged)
    needs = [_measures_of(rule, rulebook) for rule in rules]
    absence = Absence(evidence, rules)
    for index, rule in enumerate(rules):
        if rule.check not in BLANK_CHECKS:
            said = CHECKS[rule.check].run(rule, evidence)
            judged.extend((index, one) for one in (*said, *absence.of(rule, said)))
            evidence.forget(but=frozenset[str]().union(*needs[index + 1 :]))
    judged.sort(key=lambda pair: pair[0])
    return evidence, judged


def _measures_of(rule: Rule, rulebook: Rulebook) -> frozenset[str]:
    """Quantities that a rule may ask for, those of the rule it builds on included."""
    names = {rule.measure, *(limit.measure for limit in rule.limits)}
    for option in rule.options.values():
        words = option.values() if isinstance(option, Mapping) else option if isinstance(option, tuple) else (option,)
        names.update(str(word) for word in words)
    base = rule.options.get("of")
    if isinstance(base, str) and base != rule.id and any(one.id == base for one in rulebook.rules):
        names |= _measures_of(rulebook.rule(base), rulebook)
    return frozenset(names & MEASURES.keys())


def _after_blanks(evidence: Evidence, judged: list[tuple[int, Judged]]) -> Evidence:
    """Turn detects with a U into nondetects at the highest limit that any blank states."""
    results = evidence.results
    if results is None or not judged:
        return evidence
    at = np.full(len(results.detected), -np.inf)
    for _, one in judged:
        if one.letters is not None and one.at is not None:
            turned = (one.letters[0] & int(Letter.U)) != 0
            np.maximum.at(at, one.results.target[turned], one.at[turned])
        if one.own_at is not None:
            turned = np.isfinite(one.own_at)
            np.maximum.at(at, one.row[turned], one.own_at[turned])
    nondetect = np.isfinite(at) & (results.detected == 1)
    if not nondetect.any():
        return evidence
    return evidence.after_blanks(nondetect, np.where(nondetect, at, np.nan))

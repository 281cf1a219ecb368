"""Profiles: read, held against the rules that they speak of, and applied, later over earlier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from pydantic import ValidationError

from vaporqa.criteria import Change, Limit, Rule, Scheme, Sense
from vaporqa.errors import Problem, did_you_mean
from vaporqa.rulebook.bounds import limit_from
from vaporqa.rulebook.models import BoundShape, ProfileFile
from vaporqa.rulebook.nodes import plain, problem_at, shape_problems
from vaporqa.rulebook.vocabulary import CHOICES, SCHEME_CHOICE, SCHEME_LIMITS, Vocabulary
from vaporqa.tables.yaml_nodes import Document, Entries

BASELINE = "baseline"
_STAND_INS: Mapping[str, object] = {"format": "1", "profile": "unnamed", "about": "-"}


@dataclass(frozen=True, slots=True)
class ProfileRead:
    """What one profile file says, and what is wrong with its shape.

    Attributes
    ----------
    name, about : str
    shape : ProfileFile
        What was not refused.
    document : Document
    problems : tuple of Problem
    """

    name: str
    about: str
    shape: ProfileFile
    document: Document
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """What a profile may speak of: limits of each rule as stated (faulty ones included), and blank schemes."""

    limits: Mapping[str, tuple[str, ...]]
    schemes: tuple[str, ...]


def is_profile(document: Document) -> bool:
    """Whether a YAML file is a profile and no rule file, told by its keys."""
    root = document.root
    if not isinstance(root, Entries) or "rules" in root or "topic" in root:
        return False
    return "profile" in root or "turn_on" in root or "choose" in root or "limits" in root


def read_profile(document: Document) -> ProfileRead:
    """Return what the profile file `document` says, and what is wrong with its shape."""
    problems = list(document.problems)
    data = plain(document.root)
    if "turn_off" in data:
        message = "a profile turns no rule off"
        mend = "a project leaves rules out, with a reason, under leave_out in project.yaml"
        problems.append(problem_at(document, ("turn_off",), message, mend, key=True))
        del data["turn_off"]
    limits = data.get("limits")
    for name, limit in limits.items() if isinstance(limits, dict) else ():
        for key in ("when", "measure"):
            if isinstance(limit, dict) and limit.pop(key, None) is not None:
                message = "a profile keeps the case and the quantity of a limit"
                problems.append(problem_at(document, ("limits", name, key), message, f"leave '{key}' out", key=True))
    for _ in range(3):
        try:
            shape = ProfileFile.model_validate(data)
            break
        except ValidationError as error:
            for path, problem in shape_problems(error, document, (), ProfileFile):
                problems += [problem] if problem else []
                first = str(path[0])
                if len(path) > 1 and isinstance(data.get(first), dict):
                    data[first].pop(path[1], None)
                elif first in _STAND_INS:
                    data[first] = _STAND_INS[first]
                else:
                    data.pop(first, None)
    else:
        shape = ProfileFile.model_validate(dict(_STAND_INS))
    if shape.profile == BASELINE:
        problems.append(
            problem_at(document, ("profile",), "a profile cannot be called baseline", "give it another name")
        )
    return ProfileRead(shape.profile, shape.about, shape, document, tuple(problems))


def profile_problems(
    profile: ProfileRead, standing: Standing, rules: Mapping[str, Rule], vocabulary: Vocabulary
) -> list[Problem]:
    """Return what is wrong with a profile against the rules that stand.

    Parameters
    ----------
    profile : ProfileRead
    standing : Standing
        Every rule and limit that a file states, faulty or not.
    rules : mapping
        The sound rules by id.
    vocabulary : Vocabulary
    """
    found: list[Problem] = []

    def say(path: tuple[str | int, ...], message: str, mend: str = "", *, key: bool = False) -> None:
        found.append(problem_at(profile.document, path, message, mend, key=key))

    ids = tuple(standing.limits)
    for name, shape in profile.shape.limits.items():
        rule_id, _, limit = name.partition(".")
        if rule_id not in standing.limits:
            known = [f"{one}.{each}" for one, limits in standing.limits.items() for each in limits]
            say(("limits", name), f"there is no rule '{rule_id}'", did_you_mean(name, known), key=True)
        elif limit not in standing.limits[rule_id]:
            limits = standing.limits[rule_id]
            mend = did_you_mean(limit, limits) or ("its limits: " + ", ".join(limits) if limits else "it has none")
            say(("limits", name), f"the rule {rule_id} has no limit '{limit}'", mend, key=True)
        elif rule_id in rules and limit in {one.name for one in rules[rule_id].limits}:
            try:
                _replaced(rules[rule_id], limit, shape, profile.name, vocabulary)
            except ValueError as error:
                message, _, mend = str(error).partition("; ")
                say(("limits", name, shape.sense.value), message, mend)
    for place, rule_id in enumerate(profile.shape.turn_on):
        if rule_id not in standing.limits:
            say(("turn_on", place), f"there is no rule '{rule_id}'", did_you_mean(rule_id, ids))
        elif rule_id in rules and not rules[rule_id].off:
            say(("turn_on", place), f"the rule {rule_id} is on already", "leave it out")
    for choice, word in profile.shape.choose.items():
        if choice not in CHOICES:
            mend = did_you_mean(choice, tuple(CHOICES)) or "known: " + ", ".join(CHOICES)
            say(("choose", choice), f"there is nothing to choose called '{choice}'", mend, key=True)
            continue
        words = standing.schemes if choice == SCHEME_CHOICE else CHOICES[choice]
        if word not in words:
            mend = did_you_mean(word, words) or "known: " + ", ".join(words)
            say(("choose", choice), f"{choice} cannot be '{word}'", mend)
    return found


def apply_profile(
    profile: ProfileRead,
    rules: Sequence[Rule],
    choose: Mapping[str, str],
    vocabulary: Vocabulary,
    schemes: Mapping[str, Scheme],
) -> tuple[tuple[Rule, ...], Mapping[str, str], tuple[Change, ...]]:
    """Return the rules and choices under a sound profile, and what it changed; a scheme brings its own source."""
    by_id = {rule.id: rule for rule in rules}
    changes: list[Change] = []

    def note(
        what: str, before: str, after: str, path: tuple[str | int, ...], source: str = "", backing: str = ""
    ) -> None:
        line = problem_at(profile.document, path, "", key=True).line
        changes.append(Change(profile.name, what, before, after, source, backing, profile.document.file, line))

    for name, shape in profile.shape.limits.items():
        rule_id, _, limit_name = name.partition(".")
        rule = by_id[rule_id]
        before = rule.limit(limit_name)
        after = _replaced(rule, limit_name, shape, profile.name, vocabulary)
        limits = tuple(after if one.name == limit_name else one for one in rule.limits)
        by_id[rule_id] = replace(rule, limits=limits)
        note(name, before.written, after.written, ("limits", name), str(after.source), str(after.backing))
    for place, rule_id in enumerate(profile.shape.turn_on):
        before_state = "off" if by_id[rule_id].off else "on"
        by_id[rule_id] = replace(by_id[rule_id], off=False)
        note(rule_id, before_state, "on", ("turn_on", place))
    chosen = dict(choose)
    for choice, word in profile.shape.choose.items():
        scheme = schemes.get(word) if choice == SCHEME_CHOICE else None
        founded = (str(scheme.source), str(scheme.backing)) if scheme is not None else ("", "")
        note(choice, chosen.get(choice, ""), word, ("choose", choice), *founded)
        chosen[choice] = word
        if scheme is not None:
            by_id = {one: _by_scheme(rule, scheme, profile) for one, rule in by_id.items()}
    return tuple(by_id[rule.id] for rule in rules), MappingProxyType(chosen), tuple(changes)


def _by_scheme(rule: Rule, scheme: Scheme, profile: ProfileRead) -> Rule:
    """A rule on blanks under a scheme: what its letters rest on is the scheme's, where the profile states nothing."""
    letters = {"", *(cell.letter.word for cell in scheme.cells)}
    of_scheme = {name for name, letter in SCHEME_LIMITS.get(rule.check, {}).items() if letter in letters}
    stated = {name.partition(".")[2] for name in profile.shape.limits if name.startswith(f"{rule.id}.")}
    limits = tuple(
        replace(one, source=scheme.source, backing=scheme.backing, profile=profile.name)
        if one.name in of_scheme - stated
        else one
        for one in rule.limits
    )
    return replace(rule, limits=limits)


def _replaced(rule: Rule, name: str, shape: BoundShape, profile: str, vocabulary: Vocabulary) -> Limit:
    """Return the limit that takes the place of `name`: another number or sense, for the same case and quantity."""
    before = rule.limit(name)
    if (before.sense is Sense.IS) != (shape.sense is Sense.IS):
        wanted = "words, written is: [...]" if before.sense is Sense.IS else "a number"
        raise ValueError(f"the limit {rule.id}.{name} is {before.written}; replace it by {wanted}")
    measure = vocabulary.measures.get(before.measure or rule.measure)
    dimension = measure.dimension if measure is not None else vocabulary.checks[rule.check].dimension
    return limit_from(shape, name, dimension, measure=before.measure, when=before.when, profile=profile)

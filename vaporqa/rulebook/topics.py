"""One rule file read: its topic, its schemes, its rules, and everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from pydantic import ValidationError

from vaporqa.criteria import Rule, Scheme
from vaporqa.errors import Problem
from vaporqa.rulebook.meaning import RuleReader
from vaporqa.rulebook.models import RuleShape, TopicHeader
from vaporqa.rulebook.nodes import Path, keys_of, node_at, plain, problem_at, shape_problems
from vaporqa.rulebook.schemes import scheme_from
from vaporqa.rulebook.vocabulary import Vocabulary
from vaporqa.tables.yaml_nodes import Document, Entries, Items

#: Parts of a rule that can be left out one by one where one of them is refused.
_SECTIONS = ("limits", "consequence", "say", "where", "examples")

#: What stands in for a required key that is missing or refused, so that the rest of the rule can be judged.
_STAND_INS: Mapping[str, object] = {
    "id": "unnamed", "title": "-", "why": "-", "row": ["-"], "check": "-", "consequence": {}, "say": {}, "examples": [],
}  # fmt: skip

_HEADER_STAND_INS: Mapping[str, object] = {"format": "1", "topic": "-", "about": "-"}


@dataclass(frozen=True, slots=True)
class TopicRead:
    """What one rule file says.

    Attributes
    ----------
    name : str
        Stem of the file, by which `leave_out` names the topic.
    title, about : str
    rules : tuple of Rule
        In file order; `order` counts from 0 in the file.
    schemes : tuple of Scheme
    places : mapping
        Id of each rule as stated, those with faults included, to (line, names of its limits as stated).
    document : Document
    problems : tuple of Problem
    """

    name: str
    title: str
    about: str
    rules: tuple[Rule, ...]
    schemes: tuple[Scheme, ...]
    places: Mapping[str, tuple[int, tuple[str, ...]]]
    document: Document
    problems: tuple[Problem, ...]


def read_topic(document: Document, vocabulary: Vocabulary) -> TopicRead:
    """Return what the rule file `document` says, and what is wrong with it."""
    root = document.root
    problems = list(document.problems)
    name = PurePath(document.file).stem
    if not isinstance(root, Entries):
        return TopicRead(name, "", "", (), (), {}, document, tuple(problems))
    header, refused = _header(document, root, problems)
    schemes = []
    for scheme, shape in header.schemes.items():
        if ("schemes", scheme) in refused:
            continue
        path: Path = ("schemes", scheme)
        try:
            schemes.append(scheme_from(shape, scheme, document.file, root.values["schemes"].line))
        except ValueError as error:
            message, _, mend = str(error).partition("; ")
            problems.append(problem_at(document, path, message, mend, key=True))
    rules: list[Rule] = []
    places: dict[str, tuple[int, tuple[str, ...]]] = {}
    stated = root.get("rules")
    if stated is None and root.get("schemes") is not None:
        stated = Items((), 0, 0)  # blank schemes alone are a rule file as well
    elif not isinstance(stated, Items) or not stated.items:
        message = "'rules' is missing" if stated is None else "'rules' holds no rule"
        problems.append(problem_at(document, ("rules",), message, "rules: the rules, in order", key=True))
        stated = Items((), 0, 0)
    for place in range(len(stated)):
        reader = _rule_reader(document, place, vocabulary, name, problems)
        if reader is None:
            continue
        rule = reader.read(len(rules))
        if rule.id in places and ("id",) not in reader.refused:
            message = f"the rule '{rule.id}' stands here a second time (first in line {places[rule.id][0]})"
            problems.append(problem_at(document, ("rules", place, "id"), message, "give it another id"))
        elif ("id",) not in reader.refused:
            places[rule.id] = (rule.line, tuple(reader.stated_limits))
        rules.append(rule)
        problems += reader.problems
    return TopicRead(name, header.topic, header.about, tuple(rules), tuple(schemes), places, document, tuple(problems))


def _header(document: Document, root: Entries, problems: list[Problem]) -> tuple[TopicHeader, set[Path]]:
    data = plain(root)
    data.pop("rules", None)
    refused: set[Path] = set()
    for _ in range(3):  # once refused, the rest is tried again without what was refused
        try:
            return TopicHeader.model_validate(data), refused
        except ValidationError as error:
            for path, problem in shape_problems(error, document, (), TopicHeader, ("rules",)):
                problems += [problem] if problem else []
                unit = path[:2] if path[0] == "schemes" and len(path) > 1 else path[:1]
                refused.add(unit)
                _leave_out(data, unit, _HEADER_STAND_INS)
    return TopicHeader.model_validate(dict(_HEADER_STAND_INS)), refused


def _rule_reader(
    document: Document, place: int, vocabulary: Vocabulary, topic: str, problems: list[Problem]
) -> RuleReader | None:
    """Return the reader of the rule at `place` of the file, with the shape of all that was not refused."""
    base: Path = ("rules", place)
    node = node_at(document.root, base)
    if not isinstance(node, Entries):
        problems.append(
            document.problem(node, "a rule is a mapping that begins with id:", "- id: leak-tracer-recovery")
        )
        return None
    data = plain(node)
    fields = {key: data.pop(key) for key in keys_of(RuleShape) if key in data}
    limits = fields.get("limits")
    examples = fields.get("examples")
    kept = list(range(len(examples))) if isinstance(examples, list) else []
    stated_limits = tuple(limits) if isinstance(limits, dict) else ()
    refused: set[Path] = set()
    shape = None
    for _ in range(3):
        try:
            shape = RuleShape.model_validate(fields)
            break
        except ValidationError as error:
            for path, problem in shape_problems(error, document, base, RuleShape):
                inner = path[len(base) :]
                if inner[0] == "examples" and len(inner) > 1:
                    inner = ("examples", kept[int(inner[1])], *inner[2:])
                problems += [problem] if problem else []
                refused.add(inner[:2] if inner[0] in _SECTIONS else inner[:1])
            gone = sorted({unit[1] for unit in refused if unit[0] == "examples" and len(unit) > 1})
            for unit in refused:
                if unit[0] != "examples" or len(unit) == 1:
                    _leave_out(fields, unit, _STAND_INS)
            if isinstance(examples, list) and ("examples",) not in refused:
                kept = [number for number in range(len(examples)) if number not in gone]
                fields["examples"] = [examples[number] for number in kept]
    if shape is None:
        return None
    return RuleReader(document, base, vocabulary, topic, shape, data, frozenset(refused), stated_limits, kept)


def _leave_out(data: dict[str, Any], unit: Path, stand_ins: Mapping[str, object]) -> None:
    """Take what was refused out of `data`; a required key gets its stand-in."""
    first = str(unit[0])
    if len(unit) > 1 and isinstance(data.get(first), dict):
        data[first].pop(unit[1], None)
    elif first in stand_ins:
        data[first] = stand_ins[first]
    else:
        data.pop(first, None)

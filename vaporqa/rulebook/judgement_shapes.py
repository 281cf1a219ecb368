"""The shape of judgements.yaml, and its entries as values."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, Field, ValidationError, WithJsonSchema

from vaporqa.errors import FolderError, Problem
from vaporqa.outcomes import LETTERS, Effect, Letter, Pair
from vaporqa.rulebook.fields import Cell, Format, Text, one_of, refuse
from vaporqa.rulebook.judgement_file import JUDGEMENT_FILE, Judgement, Judgements
from vaporqa.rulebook.judgement_letters import (
    EFFECTS,
    JUDGED_DETECT,
    JUDGED_NONDETECT,
    floor_fault,
    letter_fault,
    pair_fault,
)
from vaporqa.rulebook.models import Shape
from vaporqa.rulebook.nodes import node_at, plain, problem_at, shape_problems
from vaporqa.tables.yaml_nodes import Document, Entries, Items, read_document

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_PRINT = re.compile(r"[0-9a-f]{32}")
_ORIGINAL_EFFECTS = ("-", *EFFECTS)


def _day(text: str) -> str:
    try:
        if _DAY.fullmatch(text):
            dt.date.fromisoformat(text)
            return text
    except ValueError:
        pass
    raise refuse(f"'{text}' is not a date", "write year, month and day, such as 2026-03-09")


def _fingerprint(text: str) -> str:
    if _PRINT.fullmatch(text):
        return text
    raise refuse(f"'{text}' is no fingerprint", "`vaporqa judge` writes it: 32 of the signs 0 to 9 and a to f")


def _detect(text: str) -> str:
    fault = letter_fault(text, detect=True)
    if fault:
        raise refuse(*fault)
    return text


def _nondetect(text: str) -> str:
    fault = letter_fault(text, detect=False)
    if fault:
        raise refuse(*fault)
    return text


def _id(text: str) -> str:
    if not text.strip():
        raise refuse("nothing stands here", "write the id of a finding, as findings.csv gives it")
    return text


#: Kept as written: a key may hold two blanks in a row.
_FindingId = Annotated[str, AfterValidator(_id), WithJsonSchema({"type": "string", "minLength": 1})]
Day = Annotated[
    str, AfterValidator(_day), WithJsonSchema({"type": "string", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"})
]
_Fingerprint = Annotated[
    str, AfterValidator(_fingerprint), WithJsonSchema({"type": "string", "pattern": "^[0-9a-f]{32}$"})
]
_EffectWord = Annotated[str, AfterValidator(one_of(EFFECTS)), WithJsonSchema({"enum": [*EFFECTS]})]
_Detect = Annotated[str, AfterValidator(_detect), WithJsonSchema({"enum": [*JUDGED_DETECT]})]
_Nondetect = Annotated[str, AfterValidator(_nondetect), WithJsonSchema({"enum": [*JUDGED_NONDETECT]})]
_Before = Annotated[str, AfterValidator(one_of(_ORIGINAL_EFFECTS)), WithJsonSchema({"enum": [*_ORIGINAL_EFFECTS]})]
_Letter = Annotated[str, AfterValidator(one_of(tuple(LETTERS))), WithJsonSchema({"enum": [*LETTERS]})]


class OriginalShape(Shape):
    """What the rule itself said."""

    effect: _Before = Field(description="effect before the judgement")
    detect: _Letter = Field(description="letter for a detect before the judgement")
    nondetect: _Letter = Field(description="letter for a nondetect before the judgement")


class ValuesShape(Shape):
    """What was looked at, for a person; the fingerprint decides."""

    measured: Cell = Field("", description="number that was measured, with its unit")
    limit: Cell = Field("", description="limit that it was held against")


class JudgementShape(Shape):
    """One decision on one finding."""

    finding: _FindingId = Field(description="id of the finding, as findings.csv gives it")
    date: Day = Field(description="day of the decision, such as 2026-03-09")
    by: Text = Field(description="who decided")
    why: Text = Field(description="the reason, in a sentence that a third person can follow")
    effect: _EffectWord = Field(description="one of " + ", ".join(EFFECTS))
    detect: _Detect = Field(description="letter for a detect: " + ", ".join(JUDGED_DETECT))
    nondetect: _Nondetect = Field(description="letter for a nondetect: " + ", ".join(JUDGED_NONDETECT))
    original: OriginalShape = Field(description="{effect, detect, nondetect} that the rule gave")
    judged: ValuesShape | None = Field(None, description="{measured, limit} that were judged")
    fingerprint: _Fingerprint = Field(description="of the values judged; `vaporqa judge` writes it")
    superseded: Day | None = Field(None, description="day on which a later judgement took its place")


class JudgementFile(Shape):
    """Professional judgements of a project folder."""

    format: Format = Field(description="1")
    judgements: list[JudgementShape] = Field(description="list of decisions, one a finding")


def judgements_of(data: bytes) -> Judgements:
    """Return what the bytes of a judgements.yaml say, as `vaporqa.rulebook.judgement_file.read_judgements`."""
    document = read_document(data, JUDGEMENT_FILE)
    problems = list(document.problems)
    entries: tuple[Judgement, ...] = ()
    if document.root is None:
        if not problems:
            problems.append(
                document.problem(None, "the file says nothing", "remove it, or let `vaporqa judge` write it")
            )
    else:
        shapes = _shapes(document, problems)
        problems += _meaning(document, shapes)
        entries = tuple(_judgement(shape, document, number) for number, shape in shapes.items())
    if problems:
        raise FolderError(sorted(set(problems), key=lambda one: (one.line, one.column, one.message)))
    text = data.decode("utf-8-sig")
    return Judgements(entries, hashlib.sha256(data).hexdigest(), len(data), text)


def _shapes(document: Document, problems: list[Problem]) -> Mapping[int, JudgementShape]:
    """Return the entries whose shape is right; what is wrong with the others goes into `problems`."""
    root = document.root
    whole = plain(root)
    listed = root.get("judgements") if isinstance(root, Entries) else None
    items = listed.items if isinstance(listed, Items) else ()
    if isinstance(whole, dict) and isinstance(listed, Items):
        whole["judgements"] = []
    _checked(JudgementFile, whole, document, (), problems)
    out: dict[int, JudgementShape] = {}
    for number, item in enumerate(items):
        shape = _checked(JudgementShape, plain(item), document, ("judgements", number), problems)
        if shape is not None:
            out[number] = shape
    return out


def _checked(shape: Any, value: Any, document: Document, base: tuple[str | int, ...], problems: list[Problem]) -> Any:
    try:
        return shape.model_validate(value)
    except ValidationError as error:
        problems += [problem for _, problem in shape_problems(error, document, base, shape) if problem is not None]
        return None


def _meaning(document: Document, shapes: Mapping[int, JudgementShape]) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for number, shape in shapes.items():
        base = ("judgements", number)
        effect = Effect[shape.effect.upper()]
        fault = pair_fault(effect, Pair(LETTERS[shape.detect], LETTERS[shape.nondetect]))
        if fault:
            yield problem_at(document, (*base, "effect"), *fault)
        fault = floor_fault(shape.finding, effect)
        if fault:
            yield problem_at(document, (*base, "effect"), *fault)
        if shape.superseded is not None:
            continue
        earlier = first.setdefault(shape.finding, number)
        if earlier != number:
            node = node_at(document.root, ("judgements", earlier))
            line = node.line if node is not None else 0
            message = f"'{shape.finding}' is judged a second time (first in line {line})"
            mend = "keep one, or write `superseded: <day>` into the earlier one"
            yield problem_at(document, (*base, "finding"), message, mend)


def _judgement(shape: JudgementShape, document: Document, number: int) -> Judgement:
    node = node_at(document.root, ("judgements", number))
    before = shape.original.effect
    return Judgement(
        finding=shape.finding,
        date=dt.date.fromisoformat(shape.date),
        by=shape.by,
        why=shape.why,
        effect=Effect[shape.effect.upper()],
        pair=_pair(shape.detect, shape.nondetect),
        original_effect=Effect.NONE if before == "-" else Effect[before.upper()],
        original=_pair(shape.original.detect, shape.original.nondetect),
        measured=shape.judged.measured if shape.judged else "",
        limit=shape.judged.limit if shape.judged else "",
        fingerprint=shape.fingerprint,
        superseded=dt.date.fromisoformat(shape.superseded) if shape.superseded else None,
        line=node.line if node is not None else 0,
    )


def _pair(detect: str, nondetect: str) -> Pair:
    return Pair(Letter(LETTERS[detect]), Letter(LETTERS[nondetect]))

"""Kinds of text that the fields of rule files and profiles take, each with the JSON Schema that an editor sees."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, GetCoreSchemaHandler, GetJsonSchemaHandler, WithJsonSchema
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from vaporqa.criteria import Backing, Sense
from vaporqa.outcomes import LETTERS
from vaporqa.rulebook.vocabulary import REACHES, STAGES

YES = ("yes", "true")
NO = ("no", "false")
DETECT_LETTERS = ("-", "none", "note", "U", "J", "J+", "J-", "NJ", "unproven", "R")
NONDETECT_LETTERS = ("-", "none", "note", "UJ", "unproven", "R")
BOTH_LETTERS = ("none", *LETTERS)
SENSES = tuple(sense.value for sense in Sense)
COMPARING = (Sense.OVER, Sense.AT_LEAST, Sense.UNDER, Sense.AT_MOST)
STATUSES = ("nondetect", "detect")
COMPARED = ("blank", "lod", "rl")
BECOMES = ("-", "none", "U", "J+", "R")
STANDS_AT = ("lod", "rl", "sample", "higher")
NUMBER = re.compile(r"[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?")

JsonSchema = dict[str, Any]


def refuse(message: str, mend: str = "") -> PydanticCustomError:
    """Return the error that a validator raises: what is wrong, and what to write instead."""
    return PydanticCustomError("refused", "{message}", {"message": message, "mend": mend})


def read_yes_no(text: object) -> bool:
    """Return what ``yes``, ``no``, ``true`` or ``false`` says; any other text is refused."""
    if isinstance(text, str) and text.lower() in YES + NO:
        return text.lower() in YES
    raise refuse(f"'{text}' is neither yes nor no", "write yes or no")


def read_number(text: object) -> float:
    """Return a plain decimal number, read as a person reads it (``010`` is ten)."""
    if isinstance(text, str) and NUMBER.fullmatch(text):
        return float(text)
    raise refuse(f"'{text}' is not a number", "write a plain decimal number, such as 5 or 0.5")


def _year(text: object) -> int:
    if isinstance(text, str) and re.fullmatch(r"(19|20)[0-9]{2}", text):
        return int(text)
    raise refuse(f"'{text}' is not a year", "write four digits, such as 2015")


def filled(text: str) -> str:
    """Return the text with its white space folded; an empty one is refused."""
    if not text.strip():
        raise refuse("nothing stands here", "fill it in or leave the key out")
    return " ".join(text.split())


def one_of(words: tuple[str, ...]) -> Callable[[object], object]:
    """Return a validator that refuses any text outside a closed list."""

    def check(text: object) -> object:
        if isinstance(text, str) and text not in words:
            raise PydanticCustomError("not_listed", "{word}", {"word": text, "words": words})
        return text

    return check


def _named(pattern: str, example: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        if not re.fullmatch(pattern, text):
            raise refuse(f"'{text}' is no name", f"write small letters, digits and {example}")
        return text

    return check


class OneOrMore:
    """A list that may be written as its only item."""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Put a single item into a list before the list is judged."""
        return core_schema.no_info_before_validator_function(
            lambda value: [value] if isinstance(value, str | dict) else value, handler(source)
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchema:
        """Either the item or the list."""
        listed = handler(schema)
        return {"anyOf": [listed["items"], listed]}


Text = Annotated[str, AfterValidator(filled), WithJsonSchema({"type": "string", "minLength": 1})]
Hyphened = Annotated[
    str,
    AfterValidator(_named(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", "hyphens, such as leak-tracer-recovery")),
    WithJsonSchema({"type": "string", "pattern": "^[a-z][a-z0-9]*(-[a-z0-9]+)*$"}),
]
YesNo = Annotated[bool, BeforeValidator(read_yes_no), WithJsonSchema({"enum": [True, False, "yes", "no"]})]
Number = Annotated[float, BeforeValidator(read_number), WithJsonSchema({"type": "number"})]
Year = Annotated[int, BeforeValidator(_year), WithJsonSchema({"type": "integer", "minimum": 1900, "maximum": 2099})]
#: A number with its unit (``5 %``, ``30 d``) or a plain number; the measure's dimension decides which fits.
Quantity = Annotated[
    str, AfterValidator(filled), WithJsonSchema({"type": ["number", "string"], "pattern": r"^\s*[-+]?[0-9.]"})
]
SCALAR: JsonSchema = {"type": ["string", "number", "boolean"]}
Word = Annotated[str, AfterValidator(filled), WithJsonSchema(SCALAR)]
Cell = Annotated[
    str,
    BeforeValidator(lambda value: "" if value is None else value),
    WithJsonSchema({"type": ["string", "number", "boolean", "null"]}),
]
Anything = Annotated[Any, WithJsonSchema({})]
#: ``case: word`` or ``case: [words]``.
Case = Annotated[Any, WithJsonSchema({"anyOf": [SCALAR, {"type": "array", "items": SCALAR, "minItems": 1}]})]
#: ``column: word``, ``column: [words]``, ``column: yes`` or ``column: {at_least: 5 ft}``.
Condition = Annotated[
    Any,
    WithJsonSchema(
        {
            "anyOf": [
                SCALAR,
                {"type": "array", "items": SCALAR, "minItems": 1},
                {
                    "type": "object",
                    "additionalProperties": False,
                    "minProperties": 1,
                    "properties": {
                        word: {"type": ["number", "string"]} for word in ("at_least", "at_most", "under", "over")
                    },
                },
            ]
        }
    ),
]


BackingWord = Annotated[str, BeforeValidator(one_of(tuple(Backing))), WithJsonSchema({"enum": list(Backing)})]
Reach = Annotated[str, BeforeValidator(one_of(REACHES)), WithJsonSchema({"enum": [*REACHES]})]
#: A bare 1 is a text here as everywhere; an editor sees a number.
Stage = Annotated[str, BeforeValidator(one_of(STAGES)), WithJsonSchema({"enum": [1, *STAGES]})]
Format = Annotated[Literal["1"], BeforeValidator(one_of(("1",))), WithJsonSchema({"enum": [1]})]
Status = Annotated[str, BeforeValidator(one_of(STATUSES)), WithJsonSchema({"enum": [*STATUSES]})]
Compared = Annotated[str, BeforeValidator(one_of(COMPARED)), WithJsonSchema({"enum": [*COMPARED]})]
Becomes = Annotated[str, BeforeValidator(one_of(BECOMES)), WithJsonSchema({"enum": [*BECOMES]})]
StandsAt = Annotated[str, BeforeValidator(one_of(STANDS_AT)), WithJsonSchema({"enum": [*STANDS_AT]})]

"""Shapes of rule files and profiles. Only the shape: what the words mean is judged in `meaning` and `profiles`.

The values that come in are texts, lists and mappings (see `nodes.plain`); a field decides what its text may be.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    GetJsonSchemaHandler,
    Tag,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import CoreSchema

from vaporqa.criteria import Backing, Sense
from vaporqa.rulebook.fields import (
    BOTH_LETTERS,
    COMPARING,
    DETECT_LETTERS,
    NONDETECT_LETTERS,
    SENSES,
    Anything,
    BackingWord,
    Becomes,
    Case,
    Cell,
    Compared,
    Condition,
    Format,
    Hyphened,
    JsonSchema,
    Number,
    OneOrMore,
    Quantity,
    Reach,
    Stage,
    StandsAt,
    Status,
    Text,
    Word,
    Year,
    YesNo,
    one_of,
    refuse,
)


class Shape(BaseModel):
    """A mapping with known keys and no others."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)


class SourceShape(Shape):
    """Where a limit was read, or the reasoning it rests on."""

    document: Text = Field("", description="title of the document, as printed on it")
    publisher: Text = Field("", description="the body that issued it")
    year: Year | None = Field(None, description="four digits")
    place: Text = Field("", description="section, table or page")
    reasoning: Text = Field("", description="our own argument, where no document says it")

    @model_validator(mode="after")
    def _says_something(self) -> SourceShape:
        if not self.document and not self.reasoning:
            raise refuse("a source names neither a document nor a reasoning", "write document: ... or reasoning: ...")
        return self


class Founded(Shape):
    """Something that must say where it comes from."""

    source: SourceShape = Field(description="{document, publisher, year, place} or {reasoning}")
    backing: BackingWord = Field(description="one of " + ", ".join(Backing))

    @model_validator(mode="after")
    def _read_somewhere(self) -> Founded:
        if self.backing in (Backing.VERIFIED, Backing.SECONDARY) and not self.source.document:
            raise refuse(
                f"backing is {self.backing}, but the source names no document", "name it, or say practice or derived"
            )
        if self.backing == Backing.DERIVED and not self.source.reasoning:
            raise refuse("backing is derived, but the source gives no reasoning", "add reasoning: ... to the source")
        return self


class BoundShape(Founded):
    """A sense with its number or words, and where it comes from."""

    at_most: Quantity | None = Field(None, description="passes at the number and below")
    at_least: Quantity | None = Field(None, description="passes at the number and above")
    under: Quantity | None = Field(None, description="passes below the number only")
    over: Quantity | None = Field(None, description="passes above the number only")
    between: list[Quantity] | None = Field(None, min_length=2, max_length=2, description="both ends pass")
    within: Quantity | None = Field(None, description="of nought, either sign")
    words: Annotated[list[Word], OneOrMore()] | None = Field(
        None, alias="is", min_length=1, description="passes where it is one of these words"
    )

    @property
    def sense(self) -> Sense:
        """The one sense that is stated."""
        return next(sense for sense in Sense if self.stated(sense) is not None)

    def stated(self, sense: Sense) -> str | list[str] | None:
        """Return what stands under `sense`, None where nothing does."""
        value: str | list[str] | None = self.words if sense is Sense.IS else getattr(self, sense.value)
        return value

    @model_validator(mode="after")
    def _one_sense(self) -> BoundShape:
        stated = [sense.value for sense in Sense if self.stated(sense) is not None]
        if len(stated) != 1:
            what = f"has {' and '.join(stated)}" if stated else "has no number"
            raise refuse(f"a limit {what}", "write exactly one of " + ", ".join(SENSES))
        return self


class LimitShape(BoundShape):
    """A limit of a rule."""

    when: dict[str, Case] = Field(default_factory=dict, description="the case this limit is for; empty for all")
    measure: Text = Field("", description="the quantity it is held against, where it is not the rule's own")


class PairShape(Shape):
    """Letters for a detect and for a nondetect; one word serves for both."""

    detect: str = Field(description="letter for a detect")
    nondetect: str = Field(description="letter for a nondetect")

    @model_validator(mode="before")
    @classmethod
    def _one_word(cls, value: object) -> object:
        if isinstance(value, str):
            one_of(BOTH_LETTERS)(value)
            return {"detect": value, "nondetect": value}
        if isinstance(value, dict):
            for side, words in (("detect", DETECT_LETTERS), ("nondetect", NONDETECT_LETTERS)):
                if side in value:
                    one_of(words)(value[side])
        return value

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchema:
        """Either one word or both letters."""
        sides = handler.resolve_ref_schema(handler(schema))
        sides["properties"] = {"detect": {"enum": [*DETECT_LETTERS]}, "nondetect": {"enum": [*NONDETECT_LETTERS]}}
        return {"anyOf": [{"enum": [*BOTH_LETTERS]}, {k: v for k, v in sides.items() if k != "description"}]}


_OUTCOME: JsonSchema = {
    "anyOf": [
        {"enum": ["holds", "broken", "unproven", "not concerned"]},
        {
            "type": "object",
            "properties": {"broken": {"type": "string"}},
            "required": ["broken"],
            "additionalProperties": False,
        },
    ]
}


_KEYS = Field(json_schema_extra={"propertyNames": {"not": {"enum": ["detect", "nondetect"]}}})
#: A pair of letters for the only outcome, or pairs by key.
Effects = Annotated[
    Annotated[PairShape, Tag("a pair")] | Annotated[dict[str, PairShape], _KEYS, Tag("by key")],
    Discriminator(
        lambda value: "by key" if isinstance(value, dict) and not set(value) & {"detect", "nondetect"} else "a pair"
    ),
]


class ExampleShape(Shape):
    """One worked case: a row, or small tables, and what the rule must say."""

    name: Text = Field(description="what the case shows, in a few words")
    row: dict[str, Cell] | None = Field(None, description="cells of one row of the rule's own table")
    tables: dict[str, list[dict[str, Cell]]] = Field(default_factory=dict, description="small tables: name to rows")
    project: dict[str, Anything] = Field(
        default_factory=dict, description="what project.yaml would say, such as {altitude: 4100 ft}"
    )
    expect: Annotated[
        Any, WithJsonSchema({"anyOf": [_OUTCOME, {"type": "object", "additionalProperties": _OUTCOME}]})
    ] = Field(description="holds, unproven, not concerned, broken or {broken: limit}; by key where there are tables")
    reached: dict[str, Annotated[list[Word], OneOrMore()]] = Field(
        default_factory=dict, description="by key, the keys of the results rows that the finding reaches"
    )
    effect: Effects | None = Field(
        None, description="letters that follow, as under consequence; by key, or by the key of a results row"
    )

    @model_validator(mode="after")
    def _has_rows(self) -> ExampleShape:
        if self.row is None and not self.tables:
            raise refuse("an example has neither row nor tables", "write row: {...} or tables: {...}")
        return self


class RuleShape(Shape):
    """One rule as its file writes it. Any further key must be an option of the check."""

    id: Hyphened = Field(description="name of the rule, such as probe-depth")
    title: Text = Field(description="one line for a heading")
    why: Text = Field(description="the reason it matters, in a sentence")
    row: Annotated[list[Text], OneOrMore()] = Field(
        min_length=1, description="the table whose row a finding sits on, or a list of tables, the rule's own first"
    )
    where: dict[str, Condition] = Field(
        default_factory=dict, description="conditions that a row must meet to be concerned"
    )
    check: Text = Field(description="the kind of computation")
    measure: Text = Field("", description="the quantity that is held against the limits")
    air_let_in: YesNo = Field(False, description="oxygen and nitrogen take the opposite bias")
    spares_tracer: YesNo = Field(False, description="the tracer's own result is not qualified by its own test")
    stage: Stage = Field("1", description="published validation stage")
    off: YesNo = Field(False, description="does nothing until a profile turns it on")
    limits: dict[str, LimitShape] = Field(default_factory=dict, description="limits by name")
    consequence: dict[str, PairShape] = Field(
        description="letters by limit, `broken` for the others, and `no_evidence`"
    )
    reaches: Reach = Field("row", description="how far a finding goes")
    say: dict[str, Text] = Field(description="sentences by limit, `broken` for the others, and `no_evidence`")
    examples: list[ExampleShape] = Field(description="one that holds, one broken, one on the limit, one unproven")


class CommonFactor(Shape):
    """A factor that differs for common laboratory contaminants."""

    common_contaminant: Number = Field(description="for the common-contaminant list")
    other: Number = Field(alias="else", description="for every other analyte")


Factor = Annotated[
    Annotated[Number, Tag("a number")] | Annotated[CommonFactor, Tag("factors")],
    Discriminator(lambda value: "factors" if isinstance(value, dict) else "a number"),
]


class ComparisonShape(Shape):
    """The sample's number against a multiple of another."""

    over: Factor | None = Field(None, description="above this multiple")
    at_least: Factor | None = Field(None, description="at this multiple and above")
    under: Factor | None = Field(None, description="below this multiple")
    at_most: Factor | None = Field(None, description="at this multiple and below")
    of: Compared = Field(description="blank, lod or rl")

    @property
    def sense(self) -> Sense:
        """The one sense that is stated."""
        return next(sense for sense in COMPARING if getattr(self, sense.value) is not None)

    @model_validator(mode="after")
    def _one_sense(self) -> ComparisonShape:
        stated = [sense.value for sense in COMPARING if getattr(self, sense.value) is not None]
        if len(stated) != 1:
            raise refuse("a comparison needs one number", "write exactly one of over, at_least, under, at_most")
        return self


Met = Annotated[
    Annotated[Status, Tag("a word")] | Annotated[ComparisonShape, Tag("a comparison")],
    Discriminator(lambda value: "a comparison" if isinstance(value, dict) else "a word"),
]


class CellShape(Shape):
    """One outcome of a blank scheme; the first cell that fits decides."""

    sample: Annotated[list[Met], OneOrMore()] = Field(
        default_factory=list,
        description="nondetect, detect, a comparison such as {over: 5, of: blank}, or a list of them",
    )
    then: Becomes = Field(description="what a result becomes")
    at: StandsAt = Field("", description="the limit at which a U stands")

    @model_validator(mode="after")
    def _stands_somewhere(self) -> CellShape:
        if (self.then == "U") != bool(self.at):
            raise refuse("`at` belongs to U, and U needs it", "write {then: U, at: lod | rl | sample | higher}")
        return self


class SchemeShape(Founded):
    """How a contaminated blank qualifies results."""

    about: Text = Field(description="what it says, in a sentence")
    cells: list[CellShape] = Field(min_length=1, description="outcomes in order; the first that fits decides")


class TopicHeader(Shape):
    """What a rule file says before its rules."""

    format: Format = Field(description="1")
    topic: Text = Field(description="heading of the topic")
    about: Text = Field(description="what the topic is about")
    schemes: dict[str, SchemeShape] = Field(default_factory=dict, description="blank schemes by name")


class TopicFile(TopicHeader):
    """A rule file: the rules of one topic; a file of blank schemes may do without rules."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": ["rules"]}, {"required": ["schemes"]}]})

    rules: list[RuleShape] = Field(default_factory=list, min_length=1, description="the rules, in order")


class ProfileFile(Shape):
    """A profile: replaces limits by name."""

    format: Format = Field(description="1")
    profile: Hyphened = Field(description="its name")
    about: Text = Field(description="whose limits these are")
    limits: dict[str, BoundShape] = Field(
        default_factory=dict, description="rule-id.limit to the limit that replaces it"
    )
    turn_on: Annotated[list[Word], OneOrMore()] = Field(
        default_factory=list, description="rules that are off otherwise"
    )
    choose: dict[str, Word] = Field(
        default_factory=dict, description="choices such as {blanks.scheme: tiers, compare: rounded}"
    )

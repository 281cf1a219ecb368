"""Rules, limits and sources as values: what a rule file says once it has been read.

Nothing here knows YAML, files or tables. `vaporqa.rulebook` makes these values; checks and settling read them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from vaporqa.outcomes import NOTHING, Letter, Pair

#: Two numbers are equal at a limit when they differ by no more than this share (0.1 + 0.2 is not 0.3).
RELATIVE_TOLERANCE = 1e-9

Option = str | float | bool | tuple["Option", ...] | Mapping[str, "Option"]


class Backing(StrEnum):
    """How well a limit is founded."""

    VERIFIED = "verified"  # read in the issuing body's own text
    SECONDARY = "secondary"  # read in a second document that applies it
    MEMORY = "memory"  # not verified; every report that used it says so
    PRACTICE = "practice"  # common practice with no source
    DERIVED = "derived"  # our own arithmetic or logic


class Sense(StrEnum):
    """On which side of the number a row passes."""

    AT_MOST = "at_most"
    AT_LEAST = "at_least"
    UNDER = "under"
    OVER = "over"
    BETWEEN = "between"  # both ends pass
    WITHIN = "within"  # of nought, either sign
    IS = "is"  # one of these words


@dataclass(frozen=True, slots=True)
class Source:
    """Where a limit was read, or the reasoning it rests on."""

    document: str = ""
    publisher: str = ""
    year: int | None = None
    place: str = ""
    reasoning: str = ""

    def __str__(self) -> str:
        if self.reasoning and not self.document:
            return self.reasoning
        parts = [self.document, self.publisher, str(self.year) if self.year else "", self.place]
        text = ", ".join(part for part in parts if part)
        return f"{text} ({self.reasoning})" if self.reasoning else text


@dataclass(frozen=True, slots=True)
class Limit:
    """One named number (or list of words) that a row is held against.

    Attributes
    ----------
    name : str
        Unique inside its rule; a profile replaces ``rule-id.name``.
    sense : Sense
        On which side a row passes.
    value : float
        The number in the unit in which the rule's measure is computed (see `unit`); for BETWEEN the lower end.
    upper : float
        The upper end of BETWEEN; otherwise nan.
    unit : str
        The unit as written in the rule file (`%`, `ft`, `d`); empty for a plain number.
    written : str
        The limit as a person reads it: ``at most 5 %``.
    words : tuple of str
        For IS.
    when : mapping
        The case this limit is for: structured conditions, empty for all.
    source, backing, profile
        Where it comes from, how well it is founded, and the profile that set it (`baseline` if none).
    """

    name: str
    sense: Sense
    value: float
    unit: str
    written: str
    source: Source
    backing: Backing
    upper: float = float("nan")
    words: tuple[str, ...] = ()
    when: Mapping[str, Option] = field(default_factory=lambda: MappingProxyType({}))
    profile: str = "baseline"
    #: The number as written, in `unit` (what a report prints as the limit).
    number: float = float("nan")
    #: The quantity this limit is held against, where it is not the rule's own.
    measure: str = ""
    #: Worth of the last digit of the number as written, in the unit of `value`; nought where nothing is rounded to it
    #: (words, counts, and plain factors such as `2 x`).
    last_digit: float = 0.0
    #: The number counted in last digits (`5.0 %` is 50): whether it is even decides ties.
    digits: int = 0


@dataclass(frozen=True, slots=True)
class Comparison:
    """The sample's number against a multiple of another: ``sample over 5 x blank``.

    `of` is `blank`, `lod` (limit of detection, else the reporting limit), `rl` or `nothing` (status only);
    `common_factor` replaces `factor` for analytes of the common-contaminant class.
    """

    sense: Sense
    factor: float
    common_factor: float
    of: str


@dataclass(frozen=True, slots=True)
class SchemeCell:
    """One outcome of a blank scheme: it fits when every condition does; the first cell that fits decides.

    `nondetect` restricts the cell to nondetects (True) or detects (False), None for both. `letter` is NONE, U, J_PLUS
    or R; `at` says where a U stands: `lod`, `rl`, `sample`, `higher` (of sample and reporting limit) or empty.
    """

    nondetect: bool | None
    conditions: tuple[Comparison, ...]
    letter: Letter
    at: str = ""


@dataclass(frozen=True, slots=True)
class Scheme:
    """How a contaminated blank qualifies the results that hang on it, as data."""

    name: str
    about: str
    cells: tuple[SchemeCell, ...]
    source: Source
    backing: Backing
    file: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Example:
    """One worked case inside a rule: small tables, and what the rule must say of them."""

    name: str
    row: Mapping[str, str]
    tables: Mapping[str, tuple[Mapping[str, str], ...]]
    project: Mapping[str, Option]
    #: Outcome words, or ``broken: limit``; for relational rules by key. Each value is (outcome words, limit or "").
    expect: Mapping[str, tuple[str, str]]
    #: Results that must be reached, by finding key; empty where the example does not say.
    reached: Mapping[str, tuple[str, ...]]
    file: str = ""
    line: int = 0
    #: Letters that must follow, by key of `expect` (what the finding carries) or by key of a results row (what the
    #: rule leaves on it); empty where the example does not say.
    effect: Mapping[str, Pair] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Rule:
    """One criterion with its limits, source, consequence, sentences and examples.

    Attributes
    ----------
    id, title, why, topic : str
        Name, one line for a heading, the reason it matters, and the topic (rule file) it stands in.
    row : str
        Table whose row the finding sits on.
    also : tuple of str
        Further tables on whose rows findings of the rule may sit.
    check : str
        Kind of computation, a name in the dictionary of checks.
    measure : str
        The quantity that evidence computes once, where the check takes one.
    where : mapping
        Structured conditions; a row that fails one is not concerned, an empty cell in one earns `no_evidence`.
    limits : tuple of Limit
        In the order of the file.
    consequence : mapping
        Limit name to the pair of letters; ``broken`` serves for every limit without its own.
    no_evidence : Pair
        What a missing or ambiguous input earns; `NOTHING` is silent and counted in coverage.
    reaches : str
        `row` (the row only), `sample`, `analyte`, `batch`, or another reach that the check computes.
    stage : str
        Published validation stage: `1`, `2A` or `2B`.
    air_let_in : bool
        Oxygen and nitrogen take the opposite bias.
    spares_tracer : bool
        The tracer's own result row is not qualified by its own test.
    off : bool
        Does nothing until a profile turns it on.
    say : mapping
        Limit name, ``broken`` or ``no_evidence`` to the sentence template.
    options : mapping
        Further keys that the check understands.
    """

    id: str
    title: str
    why: str
    topic: str
    row: str
    check: str
    order: int
    also: tuple[str, ...] = ()
    measure: str = ""
    where: Mapping[str, Option] = field(default_factory=lambda: MappingProxyType({}))
    limits: tuple[Limit, ...] = ()
    consequence: Mapping[str, Pair] = field(default_factory=lambda: MappingProxyType({}))
    no_evidence: Pair = NOTHING
    reaches: str = "row"
    stage: str = "1"
    air_let_in: bool = False
    spares_tracer: bool = False
    off: bool = False
    say: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    options: Mapping[str, Option] = field(default_factory=lambda: MappingProxyType({}))
    examples: tuple[Example, ...] = ()
    file: str = ""
    line: int = 0

    def pair(self, limit: str) -> Pair:
        """Return the consequence of breaking `limit`."""
        if limit in self.consequence:
            return self.consequence[limit]
        return self.consequence.get("broken", NOTHING)

    def limit(self, name: str) -> Limit:
        """Return the limit called `name`.

        Raises
        ------
        KeyError
            The rule has no such limit.
        """
        for limit in self.limits:
            if limit.name == name:
                return limit
        raise KeyError(f"{self.id}.{name}")


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a profile changed against the baseline."""

    profile: str
    what: str  # rule-id.limit, a scheme, or a rule turned on
    before: str
    after: str
    source: str
    backing: str
    file: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Every rule in force, in rulebook order, with the profile that made it so.

    Attributes
    ----------
    rules : tuple of Rule
        In rulebook order; `Rule.order` is the position.
    profiles : tuple of str
        Names in the order in which they were applied; empty for the baseline alone.
    changes : tuple of Change
        What they changed.
    choose : mapping
        Choices by name: ``blanks.scheme``, ``compare`` (`exact` or `rounded`), ...
    files : mapping
        File as shown to sha256 of its bytes.
    topics : mapping
        Topic name to (title, about), in rulebook order.
    schemes : mapping
        Blank schemes by name.
    """

    rules: tuple[Rule, ...]
    profiles: tuple[str, ...]
    changes: tuple[Change, ...]
    choose: Mapping[str, str]
    files: Mapping[str, str]
    topics: Mapping[str, tuple[str, str]]
    schemes: Mapping[str, Scheme] = field(default_factory=lambda: MappingProxyType({}))

    def rule(self, rule_id: str) -> Rule:
        """Return the rule called `rule_id`; KeyError where there is none."""
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(rule_id)

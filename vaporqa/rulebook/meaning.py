"""What a well-shaped rule means: its words looked up, its numbers made canonical, its promises held against it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from vaporqa.checks import CheckSpec
from vaporqa.criteria import Limit, Option, Rule, Sense
from vaporqa.errors import Problem, did_you_mean
from vaporqa.evidence.judged import MeasureSpec
from vaporqa.outcomes import NOTHING, Pair
from vaporqa.rulebook.bounds import limit_from
from vaporqa.rulebook.cases import CaseReader
from vaporqa.rulebook.conditions import ConditionError, find_column, read_case, read_condition
from vaporqa.rulebook.fields import NUMBER, YES, read_yes_no
from vaporqa.rulebook.models import RuleShape
from vaporqa.rulebook.nodes import Path, problem_at, scalar_at
from vaporqa.rulebook.pairs import pair_from
from vaporqa.rulebook.vocabulary import BROKEN, COMMON_PLACEHOLDERS, NO_EVIDENCE, READING, Vocabulary
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.yaml_nodes import Document

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}|[{}]")
_LIMIT_NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")


@dataclass(slots=True)
class RuleReader:
    """Reads one rule of a file; what is wrong gathers in `problems`.

    Attributes
    ----------
    document : Document
    base : path
        Where the rule stands in the file.
    vocabulary : Vocabulary
    topic : str
        Name of the topic (stem of the file).
    shape : RuleShape
        What could be read; entries that were refused have been left out of it.
    options : mapping
        Keys of the rule that are no field of the shape, as plain values.
    refused : collection of paths
        Places inside the rule that the shapes refused: nothing more is said of them.
    stated_limits : collection of str
        Names under `limits` as the file has them, refused ones included.
    places : sequence of int
        Place in the file's list of each example in `shape`.
    """

    document: Document
    base: Path
    vocabulary: Vocabulary
    topic: str
    shape: RuleShape
    options: Mapping[str, object]
    refused: Collection[Path]
    stated_limits: Collection[str]
    places: Sequence[int]
    problems: list[Problem] = field(default_factory=list)

    def read(self, order: int) -> Rule:
        """Return the rule; it is sound only where `problems` stays empty."""
        shape = self.shape
        check = self._check()
        self._tables()
        measure = self._measure(shape.measure, ("measure",))
        if check is not None and check.measured and not shape.measure and ("measure",) not in self.refused:
            self.say((), f"the check {check.name} needs a measure", "write measure: ...")
        limits = self._limits(check, measure)
        consequence = self._consequences(check)
        no_evidence = consequence.get(NO_EVIDENCE, NOTHING)
        broken = {name: pair for name, pair in consequence.items() if name != NO_EVIDENCE}
        self._sentences(check, measure, limits)
        examples = []
        if self._own in TABLES:
            tables = (self._own, *shape.row[1:])
            cases = CaseReader(tables, self.stated_limits, self.say, self.line_of, self.document.file)
            examples = [cases.read(one, ("examples", self.places[place])) for place, one in enumerate(shape.examples)]
            self._enough_examples(check, no_evidence)
        return Rule(
            id=shape.id, title=shape.title, why=shape.why, topic=self.topic, row=self._own, check=shape.check,
            order=order, also=tuple(shape.row[1:]), measure=shape.measure, where=self._where(),
            limits=limits, consequence=MappingProxyType(broken), no_evidence=no_evidence,
            reaches=shape.reaches, stage=shape.stage,
            air_let_in=shape.air_let_in, spares_tracer=shape.spares_tracer, off=shape.off,
            say=MappingProxyType(dict(shape.say)), options=self._options(check), examples=tuple(examples),
            file=self.document.file, line=self.line_of(("id",)),
        )  # fmt: skip

    def say(self, path: Path, message: str, mend: str = "", *, key: bool = False) -> None:
        """Note a problem at `path` inside the rule."""
        self.problems.append(problem_at(self.document, self.base + path, message, mend, key=key))

    def line_of(self, path: Path) -> int:
        """Return the physical line of `path` inside the rule."""
        return problem_at(self.document, self.base + path, "").line

    # -- words of the vocabulary -------------------------------------------------------------------------------------

    def _check(self) -> CheckSpec | None:
        if ("check",) in self.refused:
            return None
        found = self.vocabulary.checks.get(self.shape.check)
        if found is None:
            known = tuple(self.vocabulary.checks)
            mend = did_you_mean(self.shape.check, known) or "known: " + ", ".join(known)
            self.say(("check",), f"unknown check '{self.shape.check}'", mend)
        return found

    @property
    def _own(self) -> str:
        return self.shape.row[0]

    def _tables(self) -> None:
        if ("row",) in self.refused:
            return
        for place, name in enumerate(self.shape.row):
            if name not in TABLES:
                mend = did_you_mean(name, tuple(TABLES)) or "known: " + ", ".join(TABLES)
                self.say(("row", place), f"unknown table '{name}'", mend)

    def _measure(self, name: str, path: Path) -> MeasureSpec | None:
        if not name:
            return None
        row = self._own
        found = self.vocabulary.measures.get(name)
        if found is None:
            here = tuple(one.name for one in self.vocabulary.measures.values() if one.table == row)
            mend = did_you_mean(name, tuple(self.vocabulary.measures))
            self.say(path, f"unknown measure '{name}'", mend or f"known on {row}: " + ", ".join(here))
        elif row in TABLES and found.table != row:
            self.say(path, f"the measure {name} is one of {found.table}, and the rule's row is {row}")
        return found

    # -- limits, letters, sentences ----------------------------------------------------------------------------------

    def _limits(self, check: CheckSpec | None, measure: MeasureSpec | None) -> tuple[Limit, ...]:
        read = []
        for name, shape in self.shape.limits.items():
            path: Path = ("limits", name)
            if name in (BROKEN, NO_EVIDENCE) or not _LIMIT_NAME.fullmatch(name):
                self.say(path, f"'{name}' cannot be the name of a limit", "write small letters, digits and _", key=True)
                continue
            own = self._measure(shape.measure, (*path, "measure")) if shape.measure else measure
            dimension = own.dimension if own is not None else check.dimension if check is not None else ""
            when = self._when(shape.when, (*path, "when"), own, check)
            named_but_unknown = own is None and bool(shape.measure or self.shape.measure)
            if check is None or named_but_unknown or ("measure",) in self.refused:
                continue  # the dimension is not known: nothing can be said of the number
            try:
                read.append(limit_from(shape, name, dimension, measure=shape.measure, when=when))
            except ValueError as error:
                message, _, mend = str(error).partition("; ")
                self.say((*path, shape.sense.value), message, mend)
        return tuple(read)

    def _when(
        self, stated: Mapping[str, object], path: Path, measure: MeasureSpec | None, check: CheckSpec | None
    ) -> Mapping[str, Option]:
        if check is None or (measure is None and self.shape.measure):
            return {}
        cases = (*measure.cases, *measure.facts) if measure is not None else ()
        if measure is None and self._own in TABLES:
            cases = tuple(column.name for column in TABLES[self._own].columns)
        cases += check.facts
        when: dict[str, Option] = {}
        for name, value in stated.items():
            try:
                when[name] = read_case(value, name, cases)
            except ConditionError as error:
                inner = () if error.at is None else (error.at,)
                self.say((*path, name, *inner), error.message, error.mend, key=error.key)
        return MappingProxyType(when)

    def _where(self) -> Mapping[str, Option]:
        where: dict[str, Option] = {}
        for name, value in self.shape.where.items():
            if self._own not in TABLES:
                break
            try:
                where[name] = read_condition(value, find_column(self._own, name))
            except ConditionError as error:
                inner = () if error.at is None else (error.at,)
                self.say(("where", name, *inner), error.message, error.mend, key=error.key)
        return MappingProxyType(where)

    def _names(self, section: str, stated: Collection[str]) -> None:
        known = (*self.stated_limits, BROKEN, NO_EVIDENCE)
        for name in stated:
            if name not in known:
                mend = did_you_mean(name, known) or "known here: " + ", ".join(known)
                self.say((section, name), f"'{name}' is no limit of this rule", mend, key=True)

    def _lacking(self, section: str, stated: Collection[str]) -> list[str]:
        """Return what may happen and has no entry of its own in `section`, refused entries apart."""
        if (section,) in self.refused:
            return []
        given = {*stated, *(str(path[1]) for path in self.refused if len(path) > 1 and path[0] == section)}
        lacking = [] if BROKEN in given else [name for name in self.stated_limits if name not in given]
        if not self.stated_limits and BROKEN not in given:
            lacking = [BROKEN]
        return lacking

    def _consequences(self, check: CheckSpec | None) -> dict[str, Pair]:
        stated = self.shape.consequence
        self._names("consequence", stated)
        reading = check is not None and check.name == READING
        if not reading:
            for name in self._lacking("consequence", stated):
                message = f"nothing says what follows when {_named(name)} is broken"
                self.say(("consequence",), message, _write(name), key=True)
            refused = (("consequence",), ("consequence", NO_EVIDENCE))
            if NO_EVIDENCE not in stated and not any(path[:2] in refused for path in self.refused):
                mend = "write no_evidence: unproven, note or none"
                self.say(("consequence",), "nothing says what missing evidence earns", mend, key=True)
        return {name: pair_from(pair) for name, pair in stated.items()}

    def _sentences(self, check: CheckSpec | None, measure: MeasureSpec | None, limits: Sequence[Limit]) -> None:
        say, consequence = self.shape.say, self.shape.consequence
        self._names("say", say)
        reading = check is not None and check.name == READING
        if reading and not {BROKEN, NO_EVIDENCE} & set(say):
            self.say(("say",), "no sentence says what was found", "write broken: ... or no_evidence: ...", key=True)
        for name in [] if reading else self._lacking("say", say):
            self.say(("say",), f"no sentence says that {_named(name)} is broken", _write(name), key=True)
        earned = consequence.get(NO_EVIDENCE)
        silent = earned is None or pair_from(earned) == NOTHING
        if (
            not silent
            and not reading
            and NO_EVIDENCE not in say
            and not {("say",), ("say", NO_EVIDENCE)} & set(self.refused)
        ):
            self.say(("say",), "no sentence says that evidence is missing", "write no_evidence: ...", key=True)
        facts = self._facts(check, measure, limits)
        numeric = check is not None and check.numeric
        for name, template in say.items():
            spoken = [limit for limit in limits if name in (limit.name, BROKEN) and limit.sense is not Sense.IS]
            if name == BROKEN:
                spoken = [limit for limit in spoken if limit.name not in say]
            used = self._placeholders(name, template, facts)
            wanted = (
                ("missing",)
                if name == NO_EVIDENCE and not reading
                else ("measured", "limit")
                if numeric and spoken
                else ()
            )
            for placeholder in wanted:
                if placeholder not in used:
                    message = f"the sentence leaves out {{{placeholder}}}"
                    self.say(("say", name), message, f"put {{{placeholder}}} into it")
            unfit = ("measured",) if name == NO_EVIDENCE else ("missing",)
            for placeholder in unfit:
                if placeholder in used:
                    self.say(("say", name), f"{{{placeholder}}} has no value in the sentence '{name}'", "leave it out")

    def _facts(
        self, check: CheckSpec | None, measure: MeasureSpec | None, limits: Sequence[Limit]
    ) -> tuple[str, ...] | None:
        """Return every placeholder that a sentence may use; None where that is not known."""
        if check is None or (measure is None and self.shape.measure):
            return None
        others = [self.vocabulary.measures.get(limit.measure) for limit in limits if limit.measure]
        named = [one for one in (measure, *others) if one is not None]
        return (*COMMON_PLACEHOLDERS, *check.facts, *(fact for one in named for fact in one.facts))

    def _placeholders(self, name: str, template: str, facts: tuple[str, ...] | None) -> set[str]:
        used = set()
        for match in _PLACEHOLDER.finditer(template):
            placeholder = match[1]
            if placeholder is None:
                self.say(("say", name), f"a single '{match[0]}' in the sentence", "placeholders are {name}")
            elif facts is not None and placeholder not in facts:
                mend = did_you_mean(placeholder, facts) or "known here: " + ", ".join(facts)
                self.say(("say", name), f"unknown placeholder {{{placeholder}}}", mend)
            else:
                used.add(placeholder)
        return used

    # -- options and examples ----------------------------------------------------------------------------------------

    def _options(self, check: CheckSpec | None) -> Mapping[str, Option]:
        known = check.options if check is not None else dict.fromkeys(self.vocabulary.options(), "")
        read: dict[str, Option] = {}
        for name, value in self.options.items():
            if name not in known:
                fields = (*known, *(one.alias or key for key, one in RuleShape.model_fields.items()))
                mend = did_you_mean(name, fields)
                if not mend and check is not None:
                    mend = f"options of {check.name}: " + (", ".join(known) or "none")
                self.say((name,), f"unknown key '{name}'", mend, key=True)
                continue
            read[name] = self._option(value, (name,))
        return MappingProxyType(read)

    def _option(self, value: object, path: Path) -> Option:
        """Return yes, no and plain numbers as such and all else, and whatever stands in quotes, as text."""
        if isinstance(value, dict):
            return MappingProxyType({key: self._option(inner, (*path, key)) for key, inner in value.items()})
        if isinstance(value, list):
            return tuple(self._option(inner, (*path, place)) for place, inner in enumerate(value))
        if not isinstance(value, str):
            self.say(path, f"nothing stands under '{path[-1]}'", "fill it in or leave it out", key=True)
            return ""
        scalar = scalar_at(self.document.root, self.base + path)
        if scalar is not None and scalar.quoted:
            return value
        if value.lower() in (*YES, "no", "false"):
            return read_yes_no(value)
        return float(value) if NUMBER.fullmatch(value) else value

    def _enough_examples(self, check: CheckSpec | None, no_evidence: Pair) -> None:
        if any(path[0] == "examples" for path in self.refused):
            return
        shown = {outcome for example in self.shape.examples for outcome in outcomes_of(example.expect)}
        reading = check is not None and check.name == READING
        wanted = ["holds", "broken"]
        if reading:
            # What reading finds may need a file that an example's tables cannot be (a table derived from another).
            wanted = ["holds"]
        elif no_evidence != NOTHING:
            wanted.append("unproven")
        for outcome in wanted:
            if outcome not in shown:
                self.say(("examples",), f"no example shows '{outcome}'", f"add one with expect: {outcome}", key=True)


def _named(name: str) -> str:
    return "it" if name == BROKEN else f"'{name}'"


def _write(name: str) -> str:
    return f"write {name}: ..." if name == BROKEN else f"write {name}: or broken:"


def outcomes_of(expect: object) -> set[str]:
    """Return the outcome words that an `expect` entry names, of one row or by key."""
    if isinstance(expect, str):
        return {expect}
    if not isinstance(expect, dict):
        return set()
    if set(expect) == {BROKEN}:
        return {BROKEN}
    return {word for inner in expect.values() for word in outcomes_of(inner)}

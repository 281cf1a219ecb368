"""The worked cases inside a rule, as values: their tables, and what the rule must say of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from vaporqa.criteria import Example, Option
from vaporqa.errors import did_you_mean
from vaporqa.outcomes import Pair
from vaporqa.rulebook.models import ExampleShape, PairShape
from vaporqa.rulebook.nodes import Path
from vaporqa.rulebook.pairs import pair_from
from vaporqa.rulebook.vocabulary import BROKEN, OUTCOMES
from vaporqa.tables.dictionary import TABLES, TableSpec
from vaporqa.tables.project import PROJECT_KEYS

#: Keys of project.yaml that an example may set: those that judge rows, not those that find files.
EXAMPLE_PROJECT_KEYS = tuple(key for key in PROJECT_KEYS if key not in ("rules", "tables", "profile", "leave_out"))

Say = Callable[..., None]
Expected = tuple[str, str]


@dataclass(frozen=True, slots=True)
class CaseReader:
    """Reads the examples of one rule.

    Attributes
    ----------
    tables : tuple of str
        The rule's own tables, the first one first.
    limits : collection of str
        Names of its limits.
    say : callable
        ``say(path, message, mend, key=...)`` notes a problem at a path inside the rule.
    line_of : callable
        Path inside the rule to a physical line.
    file : str
        The rule file.
    """

    tables: tuple[str, ...]
    limits: Collection[str]
    say: Say
    line_of: Callable[[Path], int]
    file: str

    def read(self, shape: ExampleShape, path: Path) -> Example:
        """Return the example that stands at `path`; what is wrong with it has been said."""
        own = self.tables[0]
        if shape.row is not None:
            self._columns(shape.row, TABLES[own], (*path, "row"))
            if own in shape.tables:
                message = f"the rows of {own} stand under both row and tables"
                self.say((*path, "tables", own), message, "keep one of the two", key=True)
        for name, rows in shape.tables.items():
            if name not in TABLES:
                mend = did_you_mean(name, tuple(TABLES))
                self.say((*path, "tables", name), f"unknown table '{name}'", mend, key=True)
                continue
            for place, row in enumerate(rows):
                self._columns(row, TABLES[name], (*path, "tables", name, place))
        for key in shape.project:
            if key not in EXAMPLE_PROJECT_KEYS:
                mend = did_you_mean(key, EXAMPLE_PROJECT_KEYS) or "known here: " + ", ".join(EXAMPLE_PROJECT_KEYS)
                self.say((*path, "project", key), f"unknown key '{key}' of project.yaml", mend, key=True)
        expect = self._expect(shape, (*path, "expect"))
        for key in shape.reached:
            if key not in expect:
                message = f"'{key}' has no entry under expect"
                self.say((*path, "reached", key), message, did_you_mean(key, [*expect]), key=True)
        return Example(
            name=shape.name,
            row=MappingProxyType(dict(shape.row or {})),
            tables=MappingProxyType({name: tuple(map(MappingProxyType, rows)) for name, rows in shape.tables.items()}),
            project=MappingProxyType({key: frozen(value) for key, value in shape.project.items()}),
            expect=MappingProxyType(expect),
            reached=MappingProxyType({key: tuple(keys) for key, keys in shape.reached.items()}),
            file=self.file,
            line=self.line_of((*path, "name")),
            effect=MappingProxyType(self._effect(shape, expect, (*path, "effect"))),
        )

    def _columns(self, row: Mapping[str, str], table: TableSpec, path: Path) -> None:
        known = [column.name for column in table.columns]
        units = {f"{name}_unit" for name in known} | {"unit"}
        for column in row:
            if column not in known and column not in units:
                message = f"{table.name} has no column '{column}'"
                self.say((*path, column), message, did_you_mean(column, known), key=True)

    def _expect(self, shape: ExampleShape, path: Path) -> dict[str, Expected]:
        """Return what is expected by key; the empty key is the only row of the rule's own table."""
        stated = shape.expect
        if isinstance(stated, str) or (isinstance(stated, dict) and set(stated) == {BROKEN}):
            if shape.row is None and len(shape.tables.get(self.tables[0], ())) != 1:
                message = f"one outcome for several rows of {self.tables[0]}"
                self.say(path, message, "write the outcome by key: {key: holds}")
            return {"": self._one(stated, path)}
        if not isinstance(stated, dict) or not stated:
            self.say(path, "an expectation is an outcome, or outcomes by key", "write one of: " + ", ".join(OUTCOMES))
            return {}
        if shape.row is not None and not shape.tables:
            self.say(path, "outcomes by key for a single row", "write one outcome")
        return {key: self._one(value, (*path, key)) for key, value in stated.items()}

    def _effect(self, shape: ExampleShape, expect: Mapping[str, Expected], path: Path) -> dict[str, Pair]:
        """Return the letters that must follow, by key of `expect` or of a results row."""
        stated = shape.effect
        if stated is None:
            return {}
        if isinstance(stated, PairShape):
            if "" not in expect:
                self.say(path, "one effect for outcomes by key", "write the letters by key: {key: R}")
            return {"": pair_from(stated)}
        for key in stated:
            if key not in expect and "results" not in shape.tables:
                message = f"'{key}' has no entry under expect, and the example has no results"
                self.say((*path, key), message, did_you_mean(key, [*expect]), key=True)
        return {key: pair_from(one) for key, one in stated.items()}

    def _one(self, stated: object, path: Path) -> Expected:
        if isinstance(stated, dict) and set(stated) == {BROKEN}:
            limit = stated[BROKEN]
            if not isinstance(limit, str) or limit not in self.limits:
                known = tuple(self.limits)
                listed = "known here: " + ", ".join(known) if known else "write broken"
                mend = did_you_mean(str(limit), known) or listed
                self.say((*path, BROKEN), f"'{limit}' is no limit of this rule", mend)
            return BROKEN, str(limit)
        if isinstance(stated, str) and stated in OUTCOMES:
            return stated, ""
        word = stated if isinstance(stated, str) else ""
        mend = did_you_mean(word, OUTCOMES) or "write one of: " + ", ".join(OUTCOMES) + ", {broken: limit}"
        self.say(path, f"'{word}' is no outcome" if word else "this is no outcome", mend)
        return word, ""


def frozen(value: object) -> Option:
    """Return plain texts, lists and mappings as immutable values."""
    if isinstance(value, dict):
        return MappingProxyType({str(key): frozen(inner) for key, inner in value.items()})
    if isinstance(value, list):
        return tuple(frozen(inner) for inner in value)
    return "" if value is None else str(value)

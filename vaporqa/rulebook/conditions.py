"""Conditions as structured data: which rows a rule concerns (`where`), which case a limit is for (`when`)."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from functools import cache
from types import MappingProxyType

from vaporqa.criteria import Option
from vaporqa.errors import did_you_mean
from vaporqa.rulebook.bounds import read_in
from vaporqa.rulebook.fields import NO, YES
from vaporqa.tables.dictionary import POINTERS, TABLES, ColumnSpec

RANGE_WORDS = ("at_least", "at_most", "under", "over")

#: Kind of a column to the dimension of the numbers that a range over it is written in.
_RANGE_DIMENSIONS = MappingProxyType({"number": "count", "percent": "percent", "fraction": "ratio", "amount": "amount"})


class ConditionError(ValueError):
    """A condition that cannot be understood: `args` are what is wrong and how to mend it; `key` where it stands."""

    def __init__(self, message: str, mend: str = "", *, key: bool = False, at: str | int | None = None) -> None:
        super().__init__(message, mend)
        self.message = message
        self.mend = mend
        self.key = key
        self.at = at


@cache
def reachable(table: str) -> tuple[str, ...]:
    """Tables whose row a row of `table` points to, itself first, directly or over others."""
    found = [table]
    waiting = deque([table])
    while waiting:
        for target in POINTERS.get(waiting.popleft(), {}).values():
            if target not in found:
                found.append(target)
                waiting.append(target)
    return tuple(found)


def find_column(table: str, name: str) -> ColumnSpec:
    """Return the column that a condition of a rule on `table` names: its own, or ``table.column`` of another.

    Raises
    ------
    ConditionError
        No such table or column, or no pointer leads there from `table`.
    """
    owner, _, column = name.rpartition(".")
    if owner and owner not in TABLES:
        raise ConditionError(f"unknown table '{owner}'", did_you_mean(owner, tuple(TABLES)), key=True)
    if owner and owner not in reachable(table):
        near = ", ".join(reachable(table))
        raise ConditionError(f"a row of {table} points to no row of {owner}", f"reached from it: {near}", key=True)
    spec = TABLES[owner or table]
    found = spec.column(column)
    if found is None:
        known = [one.name for one in spec.columns]
        raise ConditionError(f"{spec.name} has no column '{column}'", did_you_mean(column, known), key=True)
    return found


def read_condition(value: object, column: ColumnSpec) -> Option:
    """Return a condition on `column` as a value: a word, several, yes or no, or a range in the canonical unit.

    Raises
    ------
    ConditionError
    """
    if isinstance(value, dict):
        return _read_range(value, _dimension(column))
    if isinstance(value, list):
        return tuple(_read_one(item, column, place) for place, item in enumerate(value))
    return _read_one(value, column, None)


def _read_one(value: object, column: ColumnSpec, at: int | None) -> Option:
    if not isinstance(value, str):
        raise ConditionError("a condition is a word, a list of words, yes or no, or a range", at=at)
    if column.kind == "yes_no":
        if value.lower() not in YES + NO:
            raise ConditionError(f"'{value}' is neither yes nor no", f"{column.name} is a column of yes and no", at=at)
        return value.lower() in YES
    if column.words and value not in column.words:
        mend = did_you_mean(value, column.words) or "known: " + ", ".join(column.words)
        raise ConditionError(f"'{value}' is no word of {column.name}", mend, at=at)
    if column.kind in ("quantity", "amount", "number", "percent", "fraction"):
        return _number(value, _dimension(column), at)
    if column.kind in ("time", "span", "coordinate"):
        raise ConditionError(f"{column.name} cannot be compared with a word", at=at)
    return value


def _dimension(column: ColumnSpec) -> str:
    if column.kind == "quantity":
        return column.dimension
    if column.kind not in _RANGE_DIMENSIONS:
        return "words"
    return _RANGE_DIMENSIONS[column.kind]


def _number(text: object, dimension: str, at: str | int | None) -> float:
    try:
        return read_in(str(text), dimension)[0]
    except ValueError as error:
        message, _, mend = str(error).partition("; ")
        raise ConditionError(message, mend, at=at) from None


def _read_range(value: dict[str, object], dimension: str) -> Option:
    for word in value:
        if word not in RANGE_WORDS:
            mend = did_you_mean(word, RANGE_WORDS) or "write " + ", ".join(RANGE_WORDS)
            raise ConditionError(f"'{word}' is no sense of a range", mend, at=word, key=True)
    if not value:
        raise ConditionError("an empty range", "write " + ", ".join(RANGE_WORDS))
    if dimension == "words":
        raise ConditionError("a range of numbers over a column that holds none")
    return MappingProxyType({word: _number(text, dimension, word) for word, text in value.items()})


def read_case(value: object, name: str, cases: Sequence[str]) -> Option:
    """Return the case of a limit: a word or several, of a case or fact that the measure tells apart.

    Cases are compared as texts, so yes and no stay words here. A case that carries the name of a column with a closed
    list takes only words of that list.

    Raises
    ------
    ConditionError
    """
    if name not in cases:
        mend = did_you_mean(name, cases) or ("known here: " + ", ".join(cases) if cases else "it tells no cases apart")
        raise ConditionError(f"'{name}' is no case that the measure tells apart", mend, key=True)
    if isinstance(value, dict):
        raise ConditionError("a range cannot be the case of a limit", "write a word or a list of words")
    listed = []
    for place, word in enumerate(value if isinstance(value, list) else [value]):
        at = place if isinstance(value, list) else None
        if not isinstance(word, str):
            raise ConditionError("a case is a word or a list of words", at=at)
        known = _words_of(name)
        if known and word not in known:
            mend = did_you_mean(word, known) or "known: " + ", ".join(known)
            raise ConditionError(f"'{word}' is no word of {name}", mend, at=at)
        listed.append(word)
    return tuple(listed) if isinstance(value, list) else listed[0]


@cache
def _words_of(name: str) -> tuple[str, ...]:
    """Return every word of the columns called `name`; none where one of them takes any text."""
    columns = [column for spec in TABLES.values() if (column := spec.column(name)) is not None]
    if {column.kind for column in columns} == {"yes_no"}:
        return (*YES[:1], *NO[:1])
    if not columns or any(not column.words for column in columns):
        return ()
    return tuple(dict.fromkeys(word for column in columns for word in column.words))

"""YAML as written: every scalar stays text and knows its line and column.

A YAML loader makes 750 of ``12:30``, False of ``no`` and 8 of ``010``. Nothing is converted here; who asks for a
number says so. Aliases, tags and several documents in a file are refused, size and depth are bounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import yaml

from vaporqa.errors import Problem, did_you_mean

#: A rule file of 300 rules is 200 KB; more than this is not a file that a person wrote.
SIZE_LIMIT = 1_000_000
DEPTH_LIMIT = 40
EXCERPT_LIMIT = 300

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text as written; `quoted` where the file puts it in quotes or in a block."""

    text: str
    line: int
    column: int
    quoted: bool = False

    @property
    def is_null(self) -> bool:
        """Nothing stands there, or one of the spellings of nothing (``~``, ``null``)."""
        return not self.quoted and self.text in ("", "~", "null", "Null", "NULL")


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    line: int
    column: int

    def __iter__(self) -> Iterator[Node]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)


@dataclass(frozen=True, slots=True)
class Entries:
    """A mapping: `values` by key text, `keys` the key scalars by the same text, both in file order."""

    values: Mapping[str, Node]
    keys: Mapping[str, Scalar]
    line: int
    column: int

    def __contains__(self, key: object) -> bool:
        return key in self.values

    def get(self, key: str) -> Node | None:
        """The node under `key`, or None."""
        return self.values.get(key)


Node = Scalar | Items | Entries


@dataclass(frozen=True, slots=True)
class Document:
    """One YAML file: its root (None where it is empty or did not parse) and what is wrong with it."""

    file: str
    lines: tuple[str, ...]
    root: Node | None
    problems: tuple[Problem, ...] = field(default=())

    def problem(self, node: Node | None, message: str, mend: str = "") -> Problem:
        """Return a problem at the place of `node` (None: the whole file), with the line as excerpt."""
        if node is None:
            return Problem(self.file, 0, 0, message, mend)
        return Problem(self.file, node.line, node.column, message, mend, _excerpt(self.lines, node.line))

    def unknown_keys(self, entries: Entries, known: Sequence[str], where: str = "") -> list[Problem]:
        """Return one problem for each key of `entries` that is not among `known`, naming the nearest."""
        problems = []
        for key, scalar in entries.keys.items():
            if key not in known:
                mend = did_you_mean(key, known) or "known here: " + ", ".join(known)
                problems.append(self.problem(scalar, f"unknown key '{key}'{' in ' + where if where else ''}", mend))
        return problems


def read_document(data: bytes, file: str) -> Document:
    """Return the YAML file `data` as nodes with places.

    Parameters
    ----------
    data : bytes
        The file, UTF-8 with or without a byte-order mark.
    file : str
        Its name as shown in problems.
    """
    if len(data) > SIZE_LIMIT:
        return Document(
            file, (), None, (Problem(file, 0, 0, f"the file has {len(data):,} bytes; at most {SIZE_LIMIT:,} are read"),)
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        return Document(
            file, (), None, (Problem(file, line, column, "the file is not UTF-8 text", "save it as UTF-8"),)
        )
    lines = tuple(text.splitlines())
    composer = _Composer(file, lines)
    try:
        root = composer.compose(text)
    except _Refused as refused:
        return Document(file, lines, None, (*composer.problems, refused.problem))
    except yaml.YAMLError as error:
        return Document(file, lines, None, (*composer.problems, _syntax_problem(error, file, lines)))
    return Document(file, lines, root, tuple(composer.problems))


class _Refused(Exception):  # noqa: N818 - a stop, carried no further than this module
    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


def _excerpt(lines: tuple[str, ...], line: int) -> str:
    """Return a line for a caret to point into; nothing where it would fill a screen."""
    text = lines[line - 1] if 0 < line <= len(lines) else ""
    return text if len(text) <= EXCERPT_LIMIT else ""


def _syntax_problem(error: yaml.YAMLError, file: str, lines: tuple[str, ...]) -> Problem:
    mark = getattr(error, "problem_mark", None)
    message = str(getattr(error, "problem", None) or getattr(error, "reason", None) or "cannot be read")
    if mark is None:
        return Problem(file, 0, 0, f"not valid YAML: {message}")
    line = int(mark.line) + 1
    return Problem(file, line, int(mark.column) + 1, f"not valid YAML: {message}", "", _excerpt(lines, line))


def _place(event: yaml.Event) -> tuple[int, int]:
    mark = event.start_mark
    return (int(mark.line) + 1, int(mark.column) + 1) if mark is not None else (0, 0)


class _Composer:
    """Builds nodes from parse events; depth is counted here, so that no hostile file reaches the C stack."""

    def __init__(self, file: str, lines: tuple[str, ...]) -> None:
        self.file = file
        self.lines = lines
        self.problems: list[Problem] = []

    def compose(self, text: str) -> Node | None:
        documents = 0
        root: Node | None = None
        events = iter(yaml.parse(text, Loader=_LOADER))
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise _Refused(self._problem(event, "a second document starts here", "keep one document in a file"))
            elif isinstance(event, yaml.NodeEvent):
                root = self._node(event, events, 1)
        return root

    def _problem(self, event: yaml.Event, message: str, mend: str = "") -> Problem:
        line, column = _place(event)
        return Problem(self.file, line, column, message, mend, _excerpt(self.lines, line))

    def _node(self, event: yaml.Event, events: Iterator[yaml.Event], depth: int) -> Node:
        if depth > DEPTH_LIMIT:
            raise _Refused(self._problem(event, f"nested deeper than {DEPTH_LIMIT} levels"))
        if isinstance(event, yaml.AliasEvent):
            raise _Refused(self._problem(event, "an alias (*name) is not understood", "write the value out"))
        if getattr(event, "anchor", None) is not None:
            raise _Refused(self._problem(event, "an anchor (&name) is not understood", "write the value out"))
        tag = getattr(event, "tag", None)
        if tag is not None and tag != "!":
            raise _Refused(self._problem(event, f"a tag ({tag}) is not understood", "leave it out"))
        line, column = _place(event)
        if isinstance(event, yaml.ScalarEvent):
            return Scalar(str(event.value), line, column, bool(event.style))
        if isinstance(event, yaml.SequenceStartEvent):
            items = []
            for inner in events:
                if isinstance(inner, yaml.SequenceEndEvent):
                    break
                items.append(self._node(inner, events, depth + 1))
            return Items(tuple(items), line, column)
        return self._entries(events, line, column, depth)

    def _entries(self, events: Iterator[yaml.Event], line: int, column: int, depth: int) -> Entries:
        values: dict[str, Node] = {}
        keys: dict[str, Scalar] = {}
        for event in events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            key = self._node(event, events, depth + 1)
            value = self._node(next(events), events, depth + 1)
            if not isinstance(key, Scalar):
                self.problems.append(self._problem(event, "a key must be a text"))
            elif key.text in values:
                first = keys[key.text]
                message = f"the key '{key.text}' stands here a second time (first in line {first.line})"
                self.problems.append(self._problem(event, message, "keep one of the two"))
            else:
                values[key.text] = value
                keys[key.text] = key
        return Entries(values, keys, line, column)

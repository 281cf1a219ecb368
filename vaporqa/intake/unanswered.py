"""Entries of project.yaml that wait for an answer: texts that start with a question mark and a blank.

`vaporqa inspect` and `vaporqa start` write them where they are not sure. A folder does not load while one stands in it,
so that no draft runs unread. A question mark by itself is a text like any other: forms hold it for a missing value.
"""

from __future__ import annotations

from collections.abc import Iterator

from vaporqa.errors import Problem
from vaporqa.tables.yaml_nodes import Document, Entries, Items, Node, Scalar

#: What an entry starts with that a person has still to answer.
MARK = "? "
_WITHOUT = "without the question mark"
_OR_OUT = f"{_WITHOUT}, or leave the entry out"


def is_unanswered(text: str) -> bool:
    """Whether a text waits for an answer.

    Examples
    --------
    >>> is_unanswered("? Parameter"), is_unanswered("?"), is_unanswered("Depth?")
    (True, False, False)
    """
    return text.startswith(MARK)


def unanswered(document: Document) -> list[Problem]:
    """Return one problem for each entry of project.yaml that waits for an answer, in the order of the file."""
    return [
        document.problem(node, f"not answered yet: '{node.text}'", how_to_answer(path))
        for path, node in _scalars(document.root, ())
        if is_unanswered(node.text)
    ]


def _scalars(node: Node | None, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Scalar]]:
    if isinstance(node, Scalar):
        yield path, node
    elif isinstance(node, Items):
        for item in node:
            yield from _scalars(item, path)
    elif isinstance(node, Entries):
        for key, value in node.values.items():
            yield from _scalars(value, (*path, key))


def how_to_answer(path: tuple[str, ...]) -> str:
    """Return what to write at `path`, the keys from the root of project.yaml to an entry.

    Examples
    --------
    >>> how_to_answer(("tables", "results", "columns", "analyte"))
    'write the header that feeds results.analyte, without the question mark, or leave the entry out'
    >>> how_to_answer(("time_zone",))
    'write the name of a zone, such as America/Boise or UTC, without the question mark'
    """
    if path[:1] != ("tables",) or len(path) < 3:
        key = path[0] if path else ""
        if key.endswith("time_zone"):
            return f"write the name of a zone, such as America/Boise or UTC, {_WITHOUT}"
        if key.endswith("altitude"):
            return f"write a height with its unit, such as 4100 ft, {_OR_OUT}"
        if key == "project":
            return f"write the name of the project, {_WITHOUT}"
        return f"write the answer {_OR_OUT}"
    _, table, key, *rest = path
    column = f"{table}.{rest[0]}" if rest else table
    within = {
        "columns": f"write the header that feeds {column}, {_OR_OUT}",
        "formats": f"write the one format that the cells of {column} have, {_WITHOUT}",
        "units": f"write the unit of {column}, {_WITHOUT}",
        "missing": f"write the text if it means that nothing was recorded, {_OR_OUT}",
        "values": f"write what the text means in {column}, {_OR_OUT}",
        "fixed": f"write the one text that {column} has in every row, {_OR_OUT}",
        "lab_flags": f"write what the flag '{rest[-1] if rest else ''}' means in this laboratory, {_WITHOUT}",
        "kinds": f"write the name if all its rows are of the kind '{rest[0] if rest else ''}', {_OR_OUT}",
        "date_only": f"write the column if its times of day mean nothing, {_OR_OUT}",
        "skip_rows": f"write the row if it is no record, {_OR_OUT}",
        "header_row": f"write the physical row of the column names, {_WITHOUT}",
        "decimal": f"write '.' or ',', {_WITHOUT}",
    }
    return within.get(key, f"write the answer {_OR_OUT}")

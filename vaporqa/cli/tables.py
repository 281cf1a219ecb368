"""``vaporqa tables``: the data dictionary."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import click

from vaporqa.cli.screen import say
from vaporqa.errors import Problem, UsageError, did_you_mean
from vaporqa.quantities.units import symbols
from vaporqa.tables.dictionary import TABLES, ColumnSpec, TableSpec

_WIDTH = 80
_KINDS = {
    "id": "id", "text": "text", "word": "one of", "yes_no": "yes or no", "time": "time", "number": "number",
    "percent": "per cent", "fraction": "fraction from 0 to 1", "amount": "concentration", "unit": "unit",
    "span": "range, as 70-130", "coordinate": "coordinate",
}  # fmt: skip


@click.command("tables")
@click.argument("name", required=False)
def command(name: str | None) -> None:
    """Show the tables that are understood, or the columns of table NAME.

    A column marked * is the key, one marked ! must be there; every other may be left out, and each rule that needed it
    then says so.
    """
    if name is None:
        say("\n".join(_all()) + "\n")
        return
    spec = TABLES.get(name)
    if spec is None:
        mend = did_you_mean(name, list(TABLES)) or "run `vaporqa tables` for all names"
        raise UsageError(Problem("", 0, 0, f"there is no table '{name}'", mend))
    say("\n".join(_one(spec)) + "\n")


def _all() -> Iterator[str]:
    width = max(map(len, TABLES)) + 2
    for spec in TABLES.values():
        yield from _hanging(spec.name, spec.about, width)
    yield ""
    yield "Run `vaporqa tables NAME` for the columns of one table."


def _one(spec: TableSpec) -> Iterator[str]:
    yield from textwrap.wrap(f"{spec.name}: {spec.about}", _WIDTH)
    yield from textwrap.wrap(f"Files: {spec.name}.csv or {spec.name}.tsv, or any file that project.yaml maps.", _WIDTH)
    yield ""
    marks = [f"{column.name}{'*' * column.key}{'!' * column.required}" for column in spec.columns]
    width = min(max(map(len, marks)) + 2, 32)
    for column, mark in zip(spec.columns, marks, strict=True):
        yield from _hanging(mark, _about(column), width)
    yield ""
    yield "* key   ! must be there"


def _about(column: ColumnSpec) -> str:
    kind = _KINDS.get(column.kind, column.kind)
    if column.kind == "word":
        kind = f"one of {', '.join(column.words)}"
    elif column.kind == "quantity":
        kind = f"{column.dimension}, in {', '.join(symbols(column.dimension))}"
    elif column.kind == "amount" and column.unit_column:
        kind = f"concentration, its unit in {column.unit_column}"
    return f"{kind}; {column.about}" if column.about else kind


def _hanging(mark: str, text: str, width: int) -> list[str]:
    start = mark.ljust(width) if len(mark) < width else mark + "  "
    wrapper = textwrap.TextWrapper(_WIDTH, start, " " * width, break_long_words=False, break_on_hyphens=False)
    return wrapper.wrap(text) or [mark]

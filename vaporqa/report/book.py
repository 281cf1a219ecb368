"""The rulebook in force as the acceptance-criteria tables of a quality plan: one table a topic, HTML or Markdown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vaporqa.criteria import Change, Limit, Option, Rule, Rulebook
from vaporqa.outcomes import Pair
from vaporqa.report.wording import BACKING_MEANINGS, figure
from vaporqa.tables.dictionary import TABLES

HEADINGS = ("Criterion", "Limit", "Detect", "Nondetect", "Source", "Backing", "Evidence needed")
#: Columns that only tell rows apart.
_NAMES = ("analyte",)


@dataclass(frozen=True, slots=True)
class Line:
    """One limit of a rule (or the rule itself where it has none) as the cells of a table.

    `criterion` and `evidence` are empty on the further lines of a rule.
    """

    criterion: str
    rule: str
    limit: str
    detect: str
    nondetect: str
    source: str
    backing: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Chapter:
    """One topic: its title, what it is about, its lines, and its rules that are off."""

    title: str
    about: str
    lines: tuple[Line, ...]
    off: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Book:
    """The rulebook as tables."""

    profiles: tuple[str, ...]
    chapters: tuple[Chapter, ...]
    schemes: tuple[tuple[str, str, str, str], ...]
    choices: tuple[tuple[str, str], ...]
    changes: tuple[Change, ...]


def book_of(rulebook: Rulebook) -> Book:
    """Lay out a rulebook."""
    chapters = []
    for topic, (title, about) in rulebook.topics.items():
        rules = [rule for rule in rulebook.rules if rule.topic == topic]
        lines = tuple(line for rule in rules if not rule.off for line in _lines(rule))
        off = tuple(f"{rule.title} ({rule.id})" for rule in rules if rule.off)
        if rules:
            chapters.append(Chapter(title, about, lines, off))
    return Book(
        rulebook.profiles, tuple(chapters),
        tuple((one.name, one.about, str(one.source), one.backing.value) for one in rulebook.schemes.values()),
        tuple(sorted(rulebook.choose.items())), rulebook.changes,
    )  # fmt: skip


def book(rulebook: Rulebook, *, html: bool) -> bytes:
    """Return the rulebook as an HTML page or as Markdown, UTF-8."""
    made = book_of(rulebook)
    return _html(made) if html else _markdown(made).encode("utf-8")


def _lines(rule: Rule) -> list[Line]:
    rows = [(_limit_text(rule, one), rule.pair(one.name), str(one.source), one.backing.value) for one in rule.limits]
    if not rows:
        # A rule without a number rests on its reason; a blank's consequence is that of the scheme in force.
        given = {**rule.consequence} or {"broken": rule.no_evidence}
        rows = [(_as_titled(name), pair, f"no number: {rule.why}", "") for name, pair in given.items()]
    without = _pair_text(rule.no_evidence)
    out = []
    for place, (limit, pair, source, backing) in enumerate(rows):
        first = place == 0
        out.append(
            Line(
                rule.title if first else "", rule.id if first else "", limit, pair.detect.word, pair.nondetect.word,
                source, backing, f"{evidence_needed(rule)}. Without it: {without}" if first else "",
            )
        )  # fmt: skip
    return out


def _as_titled(name: str) -> str:
    return "as titled" if name == "broken" else name.replace("_", " ")


def _pair_text(pair: Pair) -> str:
    letters = (pair.detect.word, pair.nondetect.word)
    if letters == ("-", "-"):
        return "counted in coverage only"
    return letters[0] if letters[0] == letters[1] else f"{letters[0]} for a detect, {letters[1]} for a nondetect"


def _limit_text(rule: Rule, limit: Limit) -> str:
    text = limit.written
    if limit.measure and limit.measure != rule.measure:
        text += f" ({limit.measure.replace('_', ' ')})"
    if limit.when:
        text += "; where " + ", ".join(f"{_plain(name)} is {_value(value)}" for name, value in limit.when.items())
    return text


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _value(value: Option) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return " or ".join(map(_value, value))
    if isinstance(value, Mapping):
        return ", ".join(f"{_plain(word)} {_value(one)}" for word, one in value.items())
    return figure(value, 6) if isinstance(value, float) else str(value)


def columns_judged_by(rule: Rule) -> dict[str, dict[str, None]]:
    """Return the columns that the rule's own worked cases judge by, by table, in order of first use.

    Cases whose answer is that evidence is missing, and keys that only tell rows apart, are left out.
    """
    columns: dict[str, dict[str, None]] = {}

    def add(table: str, column: str) -> None:
        spec = TABLES.get(table)
        known = spec.column(column) if spec is not None else None
        single = spec is not None and sum(one.key for one in spec.columns) == 1
        if known is not None and not (known.key and single) and column not in _NAMES:
            columns.setdefault(table, {})[column] = None

    for name in rule.where:
        table, _, column = name.rpartition(".")
        add(table or rule.row, column)
    for example in rule.examples:
        if all(outcome in ("unproven", "not concerned") for outcome, _ in example.expect.values()):
            continue
        for column in example.row:
            add(rule.row, column)
        for table, rows in example.tables.items():
            columns.setdefault(table, {})
            for row in rows:
                for column in row:
                    add(table, column)
    return columns


def evidence_needed(rule: Rule) -> str:
    """Return the columns that a rule judges by (`columns_judged_by`), in words."""
    if rule.check == "reading":
        return "the cell itself"
    parts = [f"{table}: {', '.join(named)}" if named else table for table, named in columns_judged_by(rule).items()]
    return "; ".join(parts) or f"{rule.row}: every column"


# -- Markdown --------------------------------------------------------------------------------------------------------


def _markdown(made: Book) -> str:
    out = ["# Acceptance criteria", "", _opening(made), ""]
    for chapter in made.chapters:
        out += [f"## {_md(chapter.title)}", "", _md(chapter.about), ""]
        if chapter.lines:
            out += _md_table(HEADINGS, [_cells(line, mark="`") for line in chapter.lines])
        if chapter.off:
            out += [f"Off until a profile turns it on: {_md('; '.join(chapter.off))}.", ""]
    if made.schemes:
        out += ["## Blank schemes", ""]
        out += _md_table(("Scheme", "What it does", "Source", "Backing"), made.schemes)
    if made.choices:
        out += ["## Choices", "", *_md_table(("Choice", "Word"), made.choices)]
    if made.changes:
        out += ["## Changes to the baseline", ""]
        out += _md_table(
            ("Profile", "What", "Before", "Now", "Source", "Backing"),
            [(one.profile, one.what, one.before, one.after, one.source, one.backing) for one in made.changes],
        )
    out += ["## Words", "", *(f"- **{word}**: {meaning}" for word, meaning in BACKING_MEANINGS), ""]
    return "\n".join(out)


def _opening(made: Book) -> str:
    named = ", then ".join(made.profiles) if made.profiles else "baseline"
    return (
        f"Profile: {named}. Detect and Nondetect say what breaking a limit does to a result that was detected and to "
        "one that was not: a published qualifier, note (said, changes nothing), unproven, or - for nothing."
    )


def _cells(line: Line, mark: str) -> tuple[str, ...]:
    name = f"{line.criterion} ({mark}{line.rule}{mark})" if line.rule else ""
    return (name, line.limit, line.detect, line.nondetect, line.source, line.backing, line.evidence)


def _md_table(heads: tuple[str, ...], rows: list[tuple[str, ...]] | tuple[tuple[str, ...], ...]) -> list[str]:
    out = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    out += ["| " + " | ".join(_md(cell) for cell in row) + " |" for row in rows]
    return [*out, ""]


def _md(text: str) -> str:
    """Keep a text on one line and inside its cell."""
    plain = " ".join(text.split())
    for letter in "\\|<*":
        plain = plain.replace(letter, f"\\{letter}")
    return plain


# -- HTML ------------------------------------------------------------------------------------------------------------


def _html(made: Book) -> bytes:
    from vaporqa.report.templating import rendered  # start-up time: Markdown needs none of it

    return rendered("book.html.j2", made=made, opening=_opening(made), headings=HEADINGS, backings=BACKING_MEANINGS)

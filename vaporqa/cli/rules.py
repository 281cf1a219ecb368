"""``vaporqa rules``: the rulebook on the screen, and its examples run."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import click

from vaporqa.criteria import Change, Example, Limit, Option, Rule, Rulebook
from vaporqa.errors import Problem, UsageError, did_you_mean
from vaporqa.rulebook.shipped import Heading
from vaporqa.tables.dictionary import TABLES

WIDTH = 80
_LABEL = 12

_PROFILE = click.option(
    "--profile", "profiles", multiple=True, metavar="NAME", help="Apply a profile; later over earlier."
)
_RULES = click.option(
    "--rules", "further", multiple=True, metavar="PATH", type=click.Path(path_type=Path), help="Further rule files."
)


@click.group("rules", short_help="The rulebook: list, show one rule, run the examples, write the book.")
def command() -> None:
    """The rulebook: what is checked, against which limits, and where they come from."""


@command.command("list")
@_PROFILE
@_RULES
def list_rules(profiles: tuple[str, ...], further: tuple[Path, ...]) -> None:
    """One line a rule, by topic."""
    from vaporqa.rulebook import shipped_headings

    headings = shipped_headings() if not profiles and not further else None
    if headings is not None:
        click.echo(list_text(headings))
        return
    rulebook = _load(profiles, further)
    click.echo(list_text(headings_of(rulebook), rulebook.changes))


@command.command("show")
@click.argument("rule_id", metavar="ID")
@_PROFILE
@_RULES
def show_rule(rule_id: str, profiles: tuple[str, ...], further: tuple[Path, ...]) -> None:
    """One rule in full: limits with their sources, consequences, sentences, examples."""
    rulebook = _load(profiles, further)
    known = [rule.id for rule in rulebook.rules]
    if rule_id not in known:
        built_in = _built_in(rule_id)
        if built_in is not None:
            click.echo(rule_text(built_in, rulebook))
            return
        mend = did_you_mean(rule_id, known) or "`vaporqa rules list` names them"
        raise UsageError(Problem("", 0, 0, f"there is no rule '{rule_id}'", mend))
    click.echo(rule_text(rulebook.rule(rule_id), rulebook))


def _built_in(rule_id: str) -> Rule | None:
    """A rule that stands in no file: what every review does, whatever its rulebook."""
    from vaporqa.review.judgements import JUDGEMENT_STALE  # reads tables, which `list` never needs
    from vaporqa.review.unjudged import RESULT_JUDGED

    return {one.id: one for one in (RESULT_JUDGED, JUDGEMENT_STALE)}.get(rule_id)


@command.command("test")
@click.argument("path", required=False, type=click.Path(exists=True, path_type=Path))
@click.option("--mutate", is_flag=True, help="Change each rule in one place at a time; what no example notices fails.")
def test_rules(path: Path | None, mutate: bool) -> None:
    """Run the examples inside the rules, and move each limit to see whether an example notices.

    With --mutate every rule is attacked: its limits, senses, words, conditions, letters, reach and options are changed
    one at a time, and an example must then fail. A change that survives is named with its file and line.

    PATH is a rule file, a folder of them, or a project folder; without it every shipped rule is run. Exit code 0:
    every example says what it must; 1: one does not, or with --mutate a change survives.
    """
    from vaporqa.examples import (
        mutate_rules,
        nudge_limits,
        run_examples,
    )  # reads tables, which list and show never need

    rulebook, wanted = _load_for_test(path)
    results = run_examples(rulebook, wanted)
    failed = [result for result in results if not result.passed]
    for result in failed:
        click.echo(result.message)
    attack = mutate_rules(rulebook, wanted) if mutate else None
    unnoticed = nudge_limits(rulebook, wanted) if attack is None else []
    for limit in unnoticed:
        click.echo(limit.message)
    for survivor in attack.survivors if attack is not None else ():
        click.echo(survivor.message)
    rules = len(rulebook.rules if wanted is None else wanted)
    said = f"{rules} rule{'' if rules == 1 else 's'}, {len(results)} examples: {len(failed)} failed; "
    if attack is None:
        click.echo(f"{said}{len(unnoticed)} limits that an example does not pin")
    else:
        click.echo(
            f"{said}{attack.mutants} changes, {len(attack.equivalent)} of which cannot matter; "
            f"{len(attack.survivors)} survive ({attack.share:.1%})"
        )
    if failed or (attack is not None and attack.survivors):
        sys.exit(1)


@command.command("book")
@_PROFILE
@_RULES
@click.option(
    "--out", "out", metavar="FILE", required=True, type=click.Path(path_type=Path),
    help="HTML where the name ends in .html, Markdown where it ends in .md.",
)  # fmt: skip
def write_book(profiles: tuple[str, ...], further: tuple[Path, ...], out: Path) -> None:
    """Write the rulebook in force as the acceptance-criteria tables of a quality plan."""
    kinds = {".html": True, ".htm": True, ".md": False, ".markdown": False}
    if out.suffix.lower() not in kinds:
        mend = "end it in .html for a page or in .md for Markdown"
        raise UsageError(Problem("", 0, 0, f"'{out.name}' does not say which form is wanted", mend))
    from vaporqa.report.book import book  # start-up time: list and show never need it
    from vaporqa.report.writing import write_file

    write_file(out, book(_load(profiles, further), html=kinds[out.suffix.lower()]))


def _load(profiles: tuple[str, ...], further: tuple[Path, ...]) -> Rulebook:
    from vaporqa.rulebook import load_rulebook

    return load_rulebook(profiles=profiles, further=further)


def _load_for_test(path: Path | None) -> tuple[Rulebook, list[str] | None]:
    """Return the rulebook and the ids of the rules that stand in `path`; None for all."""
    from vaporqa.rulebook import find_shipped, load_rulebook

    if path is None:
        return load_rulebook(), None
    shipped = find_shipped()
    inside = path.resolve()
    if inside == shipped or inside.is_relative_to(shipped):
        rulebook = load_rulebook()
        shown = "rules/" + inside.relative_to(shipped).as_posix()
        return rulebook, [rule.id for rule in rulebook.rules if inside == shipped or rule.file == shown]
    if (path / "project.yaml").is_file():
        from vaporqa.intake import load_project

        rulebook = load_rulebook(extra=[Path(one) for one in load_project(path).rules], folder=path)
    else:
        rulebook = load_rulebook(further=[path])
    baseline = {rule.id for rule in load_rulebook().rules}
    return rulebook, [rule.id for rule in rulebook.rules if rule.id not in baseline]


def headings_of(rulebook: Rulebook) -> tuple[Heading, ...]:
    """Return the rules of a loaded rulebook at a glance."""
    titles = {name: title for name, (title, _) in rulebook.topics.items()}
    return tuple(Heading(rule.topic, titles[rule.topic], rule.id, rule.title, rule.off) for rule in rulebook.rules)


def list_text(headings: Sequence[Heading], changes: Sequence[Change] = ()) -> str:
    """Return one line a rule, grouped by topic, and what profiles changed."""
    lines: list[str] = []
    widest = max((len(rule.id) for rule in headings), default=0)
    topic = ""
    for rule in headings:
        if rule.topic != topic:
            topic = rule.topic
            lines += ["", f"{rule.topic_title} ({topic})"] if lines else [f"{rule.topic_title} ({topic})"]
        title = textwrap.shorten(rule.title + (" (off)" if rule.off else ""), WIDTH - widest - 4, placeholder=" ...")
        lines.append(f"  {rule.id:<{widest}}  {title}")
    lines += ["", f"{len(headings)} rules. `vaporqa rules show ID` shows one in full."]
    for change in changes:
        lines += _wrapped(f"{change.profile}: {change.what}: {change.before} -> {change.after}", "  ", "      ")
    return "\n".join(lines)


_BUILT_IN = "part of every review; it stands in no rule file"


def rule_text(rule: Rule, rulebook: Rulebook) -> str:
    """Return a rule in full."""
    title = rulebook.topics.get(rule.topic, (rule.topic, ""))[0]
    lines = [rule.id, *_wrapped(rule.title, "", ""), ""]
    tables = ", ".join((rule.row, *rule.also))
    conditions = "; ".join(f"{name} {_condition(value, _unit(rule.row, name))}" for name, value in rule.where.items())
    options = "; ".join(f"{name} {_condition(value)}" for name, value in rule.options.items())
    pairs = [
        ("why", rule.why),
        (
            "topic",
            f"{title} ({rule.file}:{rule.line})" if rule.file else "part of every review; it stands in no rule file",
        ),
        ("row", tables),
        ("where", conditions),
        ("check", f"{rule.check}: {rule.measure}" if rule.measure else rule.check),
        ("options", options),
        ("stage", rule.stage),
        ("reaches", rule.reaches),
        ("air let in", "oxygen and nitrogen take the opposite bias" if rule.air_let_in else ""),
        ("tracer", "the tracer's own result is spared" if rule.spares_tracer else ""),
        ("off", "until a profile turns it on" if rule.off else ""),
    ]
    for label, text in pairs:
        if text:
            lines += _wrapped(text, f"{label:<{_LABEL}}", " " * _LABEL)
    if rule.limits:
        lines += ["", "limits"]
        for limit in rule.limits:
            lines += _limit_lines(limit)
    lines += ["", f"  {'consequence':<20}{'for a detect':<16}for a nondetect"]
    for name, pair in (*rule.consequence.items(), ("no_evidence", rule.no_evidence)):
        lines.append(f"  {name:<20}{pair.detect.word:<16}{pair.nondetect.word}")
    lines += ["", "sentences"]
    for name, sentence in rule.say.items():
        lines += _wrapped(sentence, f"  {name}: ", "      ")
    lines += ["", "examples"] if rule.examples else []
    for example in rule.examples:
        lines += _example_lines(example)
    return "\n".join(lines)


def _limit_lines(limit: Limit) -> Iterator[str]:
    case = "; ".join(f"{name} {_condition(value)}" for name, value in limit.when.items())
    text = limit.written + (f", of {limit.measure}" if limit.measure else "") + (f", where {case}" if case else "")
    yield from _wrapped(text, f"  {limit.name}: ", "      ")
    yield from _wrapped(f"{limit.backing}: {limit.source}", "      ", "      ")
    if limit.profile != "baseline":
        yield f"      set by the profile {limit.profile}"


def _example_lines(example: Example) -> Iterator[str]:
    expected = "; ".join(
        (f"{key}: " if key else "") + (f"{outcome}: {limit}" if limit else outcome)
        for key, (outcome, limit) in example.expect.items()
    )
    yield from _wrapped(f"{example.name} -> {expected}", "  ", "      ")
    rows = [("", example.row)] if example.row else []
    rows += [(f"{table}: ", row) for table, given in example.tables.items() for row in given]
    for label, row in rows:
        cells = ", ".join(f"{column} {cell}" for column, cell in row.items())
        yield from _wrapped(label + cells, "      ", "        ")
    for key, reached in example.reached.items():
        yield from _wrapped(f"{key or 'it'} reaches {', '.join(reached) or 'nothing'}", "      ", "        ")
    for key, pair in example.effect.items():
        yield from _wrapped(f"{key or 'it'} becomes {pair}", "      ", "        ")


def _condition(value: Option, unit: str = "") -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "one of " + ", ".join(_condition(one, unit) for one in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{word.replace('_', ' ')} {_condition(number, unit)}" for word, number in value.items())
    return f"{value:g} {unit}".strip() if isinstance(value, float) else str(value)


def _unit(own: str, name: str) -> str:
    """Return the unit in which a condition's number is held."""
    from vaporqa.quantities.units import CANONICAL  # brings numpy, which a list of rules does not need

    table, _, column = name.rpartition(".")
    spec = TABLES[table or own].column(column)
    if spec is None or spec.kind == "amount":
        return "ppbv" if spec is not None else ""
    return "%" if spec.kind == "percent" else CANONICAL.get(spec.dimension, "")


def _wrapped(text: str, first: str, later: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    )

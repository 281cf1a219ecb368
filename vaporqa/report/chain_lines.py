"""The sentences of a chain: what broke or is unproven in the words of its finding, and what holds with its numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Amounts, Fact
from vaporqa.outcomes import Effect, Letter, Outcome
from vaporqa.report.places import row_place
from vaporqa.report.sentences import Sentences, limit_of, unit_without_limit
from vaporqa.report.wording import NOT_RECORDED, measured_text, plain_number
from vaporqa.review.behind import Place
from vaporqa.review.chain import CAUTIONS, Chain, Link, Said, lacking
from vaporqa.review.values import Review
from vaporqa.review.weighed import Entry

#: What is said besides of a rule that holds, by its check, with facts put in: the first of which all are known.
_HELD: dict[str, tuple[str, ...]] = {
    "elapsed": ("from {from} to {to}",),
    "moves": ("{equipment} cleaned after its use at {last}",),
    "recovery": ("{recovery}, the laboratory's limits {printed_low} to {printed_high}", "{recovery}"),
    "agreement": ("{result} beside {other_result} ({other})",),
    "laboratory_pair": ("{result} beside {other_result}",),
    "blank": ("the blank {blank} holds {found}, the result is {result}",),
    "tune_clock": ("tune {tune}",),
}
#: Entries of one rule on one row that are told apart; a test that counts for many samples has as many.
_ENTRIES = 3
_PLACEHOLDER = re.compile(r"\{([a-z_]+)\}")


@dataclass(frozen=True, slots=True)
class SaidLine:
    """What one rule said of one row, ready to be shown.

    Attributes
    ----------
    rule, title : str
    table, key, place : str
        The row, and its ``file:line``; empty for a whole table.
    outcome : str
        `holds`, `broken` or `unproven`.
    counts : bool
        See `vaporqa.review.chain.Said`.
    effect, letter : str
        On the result of the chain: `-` and empty where it does nothing to it; `caution` for a matter of safety.
    measured, limit, unit : str
        As findings.csv has them; of what holds, the first number and its limit in words.
    sentence : str
    findings : tuple of str
        Ids.
    """

    rule: str
    title: str
    table: str
    key: str
    place: str
    outcome: str
    counts: bool
    effect: str
    letter: str
    measured: str
    limit: str
    unit: str
    sentence: str
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LinkLine:
    """One link, ready to be shown: its rows as (table, key, place), gravest lines first."""

    name: str
    title: str
    state: str
    effect: str
    rows: tuple[tuple[str, str, str], ...]
    said: tuple[SaidLine, ...]
    nothing: str
    cells_read: bool
    idle: tuple[str, ...]
    left_out: tuple[str, ...]


class ChainLines:
    """Puts the chains of one review into words.

    Parameters
    ----------
    review : Review
    sentences : Sentences
    """

    def __init__(self, review: Review, sentences: Sentences) -> None:
        self._review = review
        self._sentences = sentences
        self._cautions = {
            (one.index, one.table, one.row): number for number, one in enumerate(review.cautions)
        }  # fmt: skip

    def links(self, chain: Chain) -> tuple[LinkLine, ...]:
        """Return every link of a chain in words, in its order."""
        # Sentences are composed by the kind of finding, so that asking for all of them at once is cheaper.
        self._sentences.of(finding for link in chain.links for one in link.said for finding in one.findings)
        return tuple(self._link(link) for link in chain.links)

    def lines(self, said: Iterable[Said]) -> tuple[SaidLine, ...]:
        """Return what rules said in words: broken before unproven before what holds."""
        ordered = sorted(said, key=_gravity)
        return tuple(self.line(one) for one in ordered)

    def line(self, said: Said) -> SaidLine:
        """Return what one rule said of one row in words."""
        review = self._review
        rule = review.rules[said.rule]
        table = review.tables.get(said.table)
        here = table is not None and said.row >= 0
        measured, limit, unit = self._numbers(said, rule)
        return SaidLine(
            rule=rule.id,
            title=rule.title,
            table=said.table,
            key=str(table.keys[said.row]) if table is not None and here else "*",
            place=row_place(table, said.row) if table is not None and here else "",
            outcome=said.outcome.words,
            counts=said.counts,
            effect=Effect.CAUTION.word if rule.topic == CAUTIONS else said.effect.word,
            letter=letter_words(said.letters),
            measured=measured,
            limit=limit,
            unit=unit,
            sentence=self.sentence(said),
            findings=tuple(str(review.findings.id[one]) for one in said.findings),
        )

    def sentence(self, said: Said) -> str:
        """Return the sentence of what one rule said: its title and the numbers where it holds."""
        rule = self._review.rules[said.rule]
        if said.outcome is Outcome.HOLDS:
            told = list(dict.fromkeys(text for entry in said.entries if (text := self._held(rule, entry))))
            more = f"; and {len(told) - _ENTRIES} more" if len(told) > _ENTRIES else ""
            # Many titles name the fault ("Holding time grossly exceeded"): "in order" is right after either kind.
            return f"{rule.title}: in order{', ' if told else ''}{'; '.join(told[:_ENTRIES])}{more}."
        if said.findings:
            return " ".join(dict.fromkeys(self._sentences.of(said.findings)))
        return self._without_finding(said, rule)

    def briefly(self, said: Said) -> str:
        """Return rule, number and limit of what holds in a few words; empty where no number is known."""
        rule = self._review.rules[said.rule]
        for entry in said.entries:
            if entry.figures:
                first = entry.figures[0]
                return f"{rule.id} {measured_text(first.value, first.limit)} ({first.limit.written})"
            if told := self._held(rule, entry):
                return f"{rule.id} {told}"
        return ""

    # -- what holds ----------------------------------------------------------------------------------------------

    def _held(self, rule: Rule, entry: Entry) -> str:
        """Measured numbers with the limits that each keeps, and what else is known of it."""
        limits: dict[str, list[str]] = {}
        for figure in entry.figures:
            limits.setdefault(measured_text(figure.value, figure.limit), []).append(figure.limit.written)
        numbers = [f"{text} ({', '.join(dict.fromkeys(written))})" for text, written in limits.items()]
        return ", ".join([*numbers, *self._facts(rule, entry)])

    def _facts(self, rule: Rule, entry: Entry) -> list[str]:
        """Return the first sentence of the check of which every fact is known."""
        if rule.check == "recovery" and entry.figures:
            return []
        facts, at = entry.measured.facts, np.array([entry.index], np.int64)
        for template in _HELD.get(rule.check, ()):
            names = _PLACEHOLDER.findall(template)
            known = all(name in facts and _is_known(facts[name], entry.index) for name in names)
            values = {name: self._sentences.fact(facts[name], at)[0] for name in names} if known else {}
            if known and all(value not in ("", NOT_RECORDED) for value in values.values()):
                parts = _PLACEHOLDER.split(template)
                return ["".join(values[part] if place % 2 else part for place, part in enumerate(parts))]
        return []

    # -- what does not -------------------------------------------------------------------------------------------

    def _without_finding(self, said: Said, rule: Rule) -> str:
        """A rule that is silent about missing evidence, one about a whole group of rows, or a matter of safety."""
        review = self._review
        number = self._cautions.get((said.rule, said.table, said.row))
        if number is not None:
            return self._sentences.caution(number)
        if said.outcome is Outcome.UNPROVEN:
            _, judged = review.judged[said.judged]
            phrase = lacking(judged, said.row) or "the evidence for it"
            return f"{rule.title}: cannot be judged, {phrase} is not recorded."
        of_rule = np.flatnonzero((review.findings.rule == said.rule) & (review.findings.row < 0)).tolist()
        if len(of_rule) == 1:
            return self._sentences.one(of_rule[0])
        return f"{rule.title}: the criterion is not met by the group of rows to which this one belongs."

    def _numbers(self, said: Said, rule: Rule) -> tuple[str, str, str]:
        if said.outcome is Outcome.HOLDS:
            figures = [figure for entry in said.entries for figure in entry.figures]
            if not figures:
                return "", "", ""
            return plain_number(figures[0].value), figures[0].limit.written, figures[0].limit.unit
        if not said.findings:
            return "", "", ""
        finding = said.findings[0]
        value = float(self._review.findings.measured[finding])
        limit = limit_of(self._review, finding)
        if limit is None:
            return plain_number(value), "", "" if np.isnan(value) else unit_without_limit(rule)
        return plain_number(value), limit.written, limit.unit

    def _link(self, link: Link) -> LinkLine:
        rows = tuple(self.row(place) for place in link.rows)
        return LinkLine(
            link.kind.name, link.kind.title, link.state, link.effect.word, rows, self.lines(link.said),
            "" if rows else link.kind.nothing, link.cells_read, link.idle, link.left_out,
        )  # fmt: skip

    def row(self, place: Place) -> tuple[str, str, str]:
        """Return table, key and ``file:line`` of a row."""
        table = self._review.tables.tables[place[0]]
        return place[0], str(table.keys[place[1]]), row_place(table, place[1])


def _gravity(said: Said) -> tuple[bool, int]:
    order = {Outcome.BROKEN: 0, Outcome.UNPROVEN: 1, Outcome.HOLDS: 2}
    return not said.counts and said.outcome is not Outcome.HOLDS, order[said.outcome]


def letter_words(letters: Letter) -> str:
    """Return joined letters as outputs write them; empty for none.

    Examples
    --------
    >>> letter_words(Letter.J_MINUS | Letter.UJ)
    'J- UJ'
    """
    return " ".join(one.word for one in Letter if one is not Letter.NONE and one in letters)


def _is_known(fact: Fact, at: int) -> bool:
    return not isinstance(fact, Amounts) or bool(np.isfinite(fact.values[at]))

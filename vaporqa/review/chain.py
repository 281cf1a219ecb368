"""The chain of a result: from location to reported number, link by link, what every rule said of what stands behind it.

A link is as bad as the gravest outcome of its rules: broken, then unproven, then holds. What a rule says of a row that
merely stands beside the result (a calibration check of another hour) counts only where it reaches the result.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Judged
from vaporqa.outcomes import Effect, Letter, Outcome
from vaporqa.review.behind import Behind, Place, RowsBehind
from vaporqa.review.letters import Given, Letters
from vaporqa.review.values import Review
from vaporqa.review.weighed import Entry, WeighedAgain


@dataclass(frozen=True, slots=True)
class LinkKind:
    """One link: the topics and rules that it holds, the tables whose rows belong to it, and words for none of them.

    A rule that is named under `rules` belongs there whatever its topic; rules on cells (the topic intake) and topics of
    a project's own belong to the link of their table.
    """

    name: str
    title: str
    topics: tuple[str, ...]
    tables: tuple[str, ...]
    nothing: str
    rules: tuple[str, ...] = ()


#: Links in the order in which a result comes about.
LINKS = (
    LinkKind("location", "Location", (), ("locations",), "no location belongs to this sample"),
    LinkKind("installation", "Installation", ("installation",), ("probes",), "no probe belongs to this sample"),
    LinkKind("equipment", "Equipment and cleaning", ("decontamination",), ("equipment_log",),
             "no logged use of equipment belongs to this sample"),
    LinkKind("shut_in", "Shut-in test", ("shut_in",), ("shut_in_tests",), "no shut-in test belongs to this sample"),
    LinkKind("tracer", "Leak tracer", ("leak_tracer",), ("tracer_tests",), "no tracer test belongs to this sample"),
    LinkKind("purge", "Purge", ("purge",), ("purges",), "no purge belongs to this sample"),
    LinkKind("sampling", "Sampling", ("sampling",), ("samples", "containers", "weather"),
             "no row of samples belongs to this result"),
    LinkKind("meters", "Field meters", ("field_instruments",), ("field_readings", "instrument_checks"),
             "no reading of a field meter belongs to this sample"),
    LinkKind("custody", "Custody", ("custody",), ("custody",), "no custody record belongs to this sample"),
    LinkKind("receipt", "Receipt", (), (), "no custody record belongs to this sample",
             ("canister-held", "storage-temperature", "holding-time-left")),
    LinkKind("holding", "Holding time", ("holding_times",), (), ""),
    LinkKind("batch", "Batch control", ("blanks", "recovery", "calibration"), ("lab_qc",),
             "no control sample of the laboratory belongs to this result"),
    LinkKind("duplicates", "Duplicates", ("duplicates",), (), "no duplicate belongs to this result"),
    LinkKind("reporting", "Reported result", ("intake", "reporting", "review"),
             ("results", "screening_levels", "required_analytes"), ""),
)  # fmt: skip
_BY_NAME = {kind.name: kind for kind in LINKS}
_OF_RULE = {rule: kind.name for kind in LINKS for rule in kind.rules}
_OF_TOPIC = {topic: kind.name for kind in LINKS for topic in kind.topics}
_OF_TABLE = {table: kind.name for kind in LINKS for table in kind.tables}
#: Topics whose rules may sit on a row of any table: the table tells the link.
_BY_TABLE = ("intake",)
#: What holds of them is said once a link, or not at all.
CAUTIONS = "cautions"
_SILENT = (*_BY_TABLE, CAUTIONS)
_GRAVITY = {Outcome.BROKEN: 3, Outcome.UNPROVEN: 2, Outcome.HOLDS: 1}


def link_of(rule: Rule, table: str) -> str:
    """Return the name of the link to which a rule on a row of `table` belongs."""
    if rule.id in _OF_RULE:
        return _OF_RULE[rule.id]
    if rule.topic in _OF_TOPIC and rule.topic not in _BY_TABLE:
        return _OF_TOPIC[rule.topic]
    return _OF_TABLE.get(table, "reporting")


@dataclass(frozen=True, slots=True)
class Said:
    """What one rule said of one row behind the result.

    Attributes
    ----------
    rule, judged : int
        Into `Review.rules` and `Review.judged`; `judged` is -1 where the finding alone tells.
    table, row
        -1: a whole table.
    outcome : Outcome
    findings : tuple of int
        Findings of this rule on that row, those that reach the result first.
    counts : bool
        It bears on the result. False: it stands beside it and does not reach it, or it is unproven by a rule that says
        nothing then, or a matter of safety.
    letters : Letter
        What it gives the result.
    entries : tuple of Entry
        Where it holds: what was measured, as far as numbers are kept.
    """

    rule: int
    judged: int
    table: str
    row: int
    outcome: Outcome
    findings: tuple[int, ...]
    counts: bool
    letters: Letter
    entries: tuple[Entry, ...] = ()

    @property
    def effect(self) -> Effect:
        """What it does to the result."""
        return self.letters.effect


@dataclass(frozen=True, slots=True)
class Link:
    """One link of a chain: the rows behind it, and what every rule said of them.

    `idle` are rules of the link that had nothing to say, `left_out` rules and topics that were not reviewed on purpose.
    `cells_read` says that reading the rows was judged and that what held there is not said one by one.
    """

    kind: LinkKind
    rows: tuple[Place, ...]
    said: tuple[Said, ...]
    idle: tuple[str, ...]
    left_out: tuple[str, ...]
    cells_read: bool

    @property
    def state(self) -> str:
        """`broken`, `unproven`, `holds`, `not reviewed`, or `not concerned`: the gravest of what counts."""
        counting = [one.outcome for one in self.said if one.counts]
        if self.cells_read:
            counting.append(Outcome.HOLDS)
        if counting:
            return max(counting, key=lambda outcome: _GRAVITY.get(outcome, 0)).words
        return "not reviewed" if self.left_out and not self.idle else "not concerned"

    @property
    def effect(self) -> Effect:
        """The gravest effect of the link on the result."""
        return max((one.effect for one in self.said), default=Effect.NONE)


@dataclass(frozen=True, slots=True)
class Chain:
    """The chain of one row of results (or of one sample): its links in order, and the letters it was settled from."""

    table: str
    row: int
    links: tuple[Link, ...]
    given: tuple[Given, ...]

    @property
    def effect(self) -> Effect:
        """The gravest effect of any link."""
        return max((link.effect for link in self.links), default=Effect.NONE)


class Chains:
    """Makes the chains of rows of results.

    Parameters
    ----------
    review : Review
    rows : sequence of int
        Rows of results that will be asked for.
    weighed : WeighedAgain or None
        Where the numbers of what holds come from; None for a new one, which gives all of them.
    """

    def __init__(self, review: Review, rows: Sequence[int] = (), weighed: WeighedAgain | None = None) -> None:
        self.review = review
        self._behind = RowsBehind(review.evidence, rows)
        self._letters = Letters(review, rows)
        self._weighed = weighed if weighed is not None else WeighedAgain(review)
        self._left_out = _left_out(review)
        self._reads = any(rule.topic in _BY_TABLE for rule in review.rules)
        self._rules_of: dict[str, list[str]] = {}
        for rule in review.rules:
            if rule.topic not in (*_BY_TABLE, CAUTIONS):
                self._rules_of.setdefault(link_of(rule, rule.row), []).append(rule.id)

    def of_result(self, row: int) -> Chain:
        """Return the chain of a row of results; `row` is one of those that were named."""
        given = self._letters.of(row)
        reaching = frozenset(self.review.findings_of("results", row)) | {one.finding for one in given}
        return self._chain("results", row, self._behind.of_result(row), given, reaching)

    def of_sample(self, row: int) -> Chain:
        """Return the chain of a row of samples, the laboratory's links without rows."""
        review = self.review
        table = review.tables.tables["samples"]
        number = int(review.evidence.sample_ids.of("samples", "sample_id", table.rows)[row])
        reaching = set(review.findings_of("samples", row))
        if number >= 0:
            starts, found = review.sample_findings
            reaching |= set(found[starts[number] : starts[number + 1]].tolist())
        return self._chain("samples", row, self._behind.of_sample(row), (), frozenset(reaching))

    def of_row(self, table: str, row: int) -> tuple[Said, ...]:
        """Return what every rule said of one row of any table."""
        found = self._said({table: [row]}, {}, frozenset(self.review.findings_of(table, row)), {})
        return tuple(said for part in found.values() for said in part)

    def _chain(self, table: str, row: int, behind: Behind, given: tuple[Given, ...], reaching: frozenset[int]) -> Chain:
        letters = {one.finding: one.counts for one in given}
        whole: dict[str, list[int]] = {}
        for name, at in behind.whole:
            whole.setdefault(name, []).append(at)
        beside: dict[str, dict[str, list[int]]] = {}
        for link, places in behind.by_link.items():
            for name, at in places:
                if at not in whole.get(name, []):
                    beside.setdefault(name, {}).setdefault(link, []).append(at)
        said = self._said(whole, beside, reaching, letters)
        self._from_findings(said, reaching, letters, (table, row))
        links = tuple(self._link(kind, said.get(kind.name, []), behind, (table, row)) for kind in LINKS)
        return Chain(table, row, links, given)

    def _link(self, kind: LinkKind, said: list[Said], behind: Behind, at: Place) -> Link:
        concerned = {self.review.rules[one.rule].id for one in said}
        idle = tuple(name for name in self._rules_of.get(kind.name, ()) if name not in concerned)
        rows = [place for place in behind.whole if place[0] in kind.tables]
        rows += [place for place in behind.by_link.get(kind.name, []) if place not in rows]
        if kind.name == "holding":
            rows = [at]
        read = bool(kind.tables) and bool(rows) and self._reads
        return Link(kind, tuple(rows), tuple(said), idle, self._left_out.get(kind.name, ()), read)

    def _said(
        self, whole: dict[str, list[int]], beside: dict[str, dict[str, list[int]]], reaching: frozenset[int],
        letters: dict[int, Letter],
    ) -> dict[str, list[Said]]:  # fmt: skip
        """What every rule said of the rows, by link, in rulebook order."""
        review = self.review
        out: dict[str, list[Said]] = {}
        for number, (index, one) in enumerate(review.judged):
            rule = review.rules[index]
            name = one.table or rule.row
            if name not in whole and name not in beside:
                continue
            link = link_of(rule, name)
            rows = [*whole.get(name, ()), *beside.get(name, {}).get(link, ())]
            for row in rows:
                outcome = Outcome(int(one.state[row])) if row < len(one.state) else Outcome.NOT_CONCERNED
                if outcome not in _GRAVITY or (outcome is Outcome.HOLDS and rule.topic in _SILENT):
                    continue
                said = self._one(number, rule, (name, row), outcome, reaching, letters)
                if said.findings and row in whole.get(name, ()):
                    said = replace(said, counts=True)
                out.setdefault(link, []).append(said)
        return out

    def _one(
        self, number: int, rule: Rule, at: Place, outcome: Outcome, reaching: frozenset[int],
        letters: dict[int, Letter],
    ) -> Said:  # fmt: skip
        (table, row), index = at, self.review.judged[number][0]
        if outcome is Outcome.HOLDS:
            entries = self._weighed.holding(number, row)
            return Said(index, number, table, row, outcome, (), True, Letter.NONE, entries)
        mine = self._findings_on(index, table, row)
        reach = tuple(one for one in mine if one in reaching)
        joined = Letter.NONE
        for one in reach:
            joined |= letters.get(one, Letter.NONE)
        order = (*reach, *(one for one in mine if one not in reach))
        # A finding on a whole group stands on no row; an unproven row without a finding has no consequence at all.
        of_a_group = not mine and outcome is Outcome.BROKEN and rule.topic != CAUTIONS
        counts = bool(reach) or (bool(mine) and rule.reaches == "row") or of_a_group
        return Said(index, number, table, row, outcome, order, counts, joined)

    def _findings_on(self, rule: int, table: str, row: int) -> list[int]:
        """Findings of a rule that stand on a row."""
        review = self.review
        if table not in review.rows_findings:
            return []
        findings = review.findings
        starts, found = review.rows_findings[table]
        out = []
        for one in found[starts[row] : starts[row + 1]].tolist():
            if int(findings.rule[one]) != rule or findings.tables[int(findings.table[one])] != table:
                continue
            if int(findings.row[one]) in (row, -1):
                out.append(int(one))
        return out

    def _from_findings(
        self, said: dict[str, list[Said]], reaching: frozenset[int], letters: dict[int, Letter], at: Place
    ) -> None:
        """Add what reaches the row from rows that no association named."""
        review, findings = self.review, self.review.findings
        named = {finding for part in said.values() for one in part for finding in one.findings}
        for finding in sorted(reaching - named):
            index = int(findings.rule[finding])
            table, row = findings.tables[int(findings.table[finding])], int(findings.row[finding])
            letter = letters.get(finding, Letter.NONE)
            outcome = Outcome(int(findings.outcome[finding]))
            one = Said(index, int(findings.judged[finding]), table, row, outcome, (finding,), True, letter)
            said.setdefault(link_of(review.rules[index], table), []).append(one)


def _left_out(review: Review) -> dict[str, tuple[str, ...]]:
    """Rules and topics that were not reviewed, by link."""
    out: dict[str, list[str]] = {}
    by_id = {rule.id: rule for rule in review.rulebook.rules}
    for one in review.not_reviewed:
        if one.name in by_id:
            links = {link_of(by_id[one.name], by_id[one.name].row)}
        else:
            links = {link_of(rule, rule.row) for rule in review.rulebook.rules if rule.topic == one.name}
        for link in links:
            out.setdefault(link, []).append(one.name)
    return {link: tuple(names) for link, names in out.items()}


def lacking(judged: Judged, row: int) -> str:
    """Return what was missing for an unproven row that earned no finding; empty where nothing was named."""
    for entry in np.flatnonzero(judged.row == row).tolist():
        if judged.outcome[entry] == Outcome.UNPROVEN and judged.want[entry] >= 0:
            return judged.wants[int(judged.want[entry])].phrase
    return ""


__all__ = ["CAUTIONS", "LINKS", "Chain", "Chains", "Link", "LinkKind", "Said", "lacking", "link_of"]

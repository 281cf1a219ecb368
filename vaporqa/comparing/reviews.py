"""One folder under two rulebooks: which rows end otherwise, and which limit moved them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.outcomes import Standing
from vaporqa.review.values import Review
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.values import Int64


@dataclass(frozen=True, slots=True)
class Mover:
    """What differs between the two rulebooks and moved rows.

    Attributes
    ----------
    name : str
        ``rule-id.limit``, a choice such as ``blanks.scheme``, or a rule id.
    before, after : str
        The limit as written, the word chosen, ``on`` or ``off``; empty where the rule has no such limit.
    """

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Moved:
    """A row that ends otherwise; `row` is its number in the table, `movers` what moved it."""

    table: str
    row: int
    key: str
    standing: tuple[Standing, Standing]
    qualifier: tuple[str, str]
    movers: tuple[Mover, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two reviews of the same tables.

    Attributes
    ----------
    before, after : tuple of str
        Profiles of each, in the order applied; empty for the baseline alone.
    differences : tuple of Mover
        Everything that differs between the two rulebooks, whether or not it moved a row.
    moved : tuple of Moved
        By table, in the order of its rows.
    rows : mapping
        Table to number of rows compared.
    """

    before: tuple[str, ...]
    after: tuple[str, ...]
    differences: tuple[Mover, ...]
    moved: tuple[Moved, ...]
    rows: Mapping[str, int]


#: A finding as the two reviews can share it: its id, what it says, and the letters it gives.
_Signature = tuple[str, int, str, int, int]


def compare_reviews(before: Review, after: Review) -> Comparison:
    """Compare two reviews of the same tables under two rulebooks.

    Raises
    ------
    ValueError
        The reviews are not of the same tables.
    """
    if {name: table.rows for name, table in before.tables.tables.items()} != {
        name: table.rows for name, table in after.tables.tables.items()
    }:
        raise ValueError("the two reviews are not of the same tables")
    differences = _differences(before, after)
    causes = _Causes(before, after, differences)
    moved: list[Moved] = []
    for name, table in before.tables.tables.items():
        if name not in before.settled or name not in after.settled:
            continue
        one, other = before.settled[name], after.settled[name]
        rows = np.flatnonzero((one.standing != other.standing) | (one.qualifier != other.qualifier))
        for row in rows.tolist():
            moved.append(
                Moved(
                    name, row, str(table.keys[row]),
                    (Standing(int(one.standing[row])), Standing(int(other.standing[row]))),
                    (_letter(name, int(one.qualifier[row])), _letter(name, int(other.qualifier[row]))),
                    causes.of(name, row),
                )
            )  # fmt: skip
    return Comparison(
        before.rulebook.profiles, after.rulebook.profiles, differences, tuple(moved),
        {name: table.rows for name, table in before.tables.tables.items()},
    )  # fmt: skip


def _letter(table: str, code: int) -> str:
    return QUALIFIERS[code] if table == "results" else ""


def _differences(before: Review, after: Review) -> tuple[Mover, ...]:
    out: list[Mover] = []
    one, other = before.rulebook, after.rulebook
    ids = dict.fromkeys([*(rule.id for rule in one.rules), *(rule.id for rule in other.rules)])
    left, right = {rule.id: rule for rule in one.rules}, {rule.id: rule for rule in other.rules}
    for rule_id in ids:
        out += _of_rule(rule_id, left.get(rule_id), right.get(rule_id))
    for name in dict.fromkeys([*one.choose, *other.choose]):
        was, now = one.choose.get(name, ""), other.choose.get(name, "")
        if was != now:
            out.append(Mover(name, was, now))
    return tuple(out)


def _of_rule(rule_id: str, was: Rule | None, now: Rule | None) -> list[Mover]:
    on_before, on_after = was is not None and not was.off, now is not None and not now.off
    if on_before != on_after:
        return [Mover(rule_id, "on" if on_before else "off", "on" if on_after else "off")]
    if was is None or now is None:
        return []
    out = []
    limits = {limit.name: limit for limit in was.limits}
    later = {limit.name: limit for limit in now.limits}
    for name in dict.fromkeys([*limits, *later]):
        one, other = limits.get(name), later.get(name)
        if one is None or other is None or _differ(one, other):
            out.append(Mover(f"{rule_id}.{name}", one.written if one else "", other.written if other else ""))
    if not out and (was.consequence, was.no_evidence, was.options) != (now.consequence, now.no_evidence, now.options):
        out.append(Mover(rule_id, "", ""))
    return out


def _differ(one: Limit, other: Limit) -> bool:
    def what(limit: Limit) -> tuple[object, ...]:
        return (limit.sense, limit.value, str(limit.upper), limit.words, dict(limit.when), limit.measure)

    return what(one) != what(other)


class _Causes:
    """Finds what moved a row: the findings that it has under one rulebook only, and the limits behind them."""

    def __init__(self, before: Review, after: Review, differences: Iterable[Mover]) -> None:
        self._reviews = (before, after)
        self._differences = tuple(differences)
        self._by_name = {one.name: one for one in self._differences}
        self._made: dict[tuple[tuple[int, ...], tuple[int, ...]], tuple[Mover, ...]] = {}
        self._signatures: tuple[dict[int, _Signature], dict[int, _Signature]] = ({}, {})
        self._result_findings = tuple(_letters_by_pair(review) for review in self._reviews)

    def of(self, table: str, row: int) -> tuple[Mover, ...]:
        """Return what moved the row, in rulebook order."""
        first, second = (tuple(review.findings_of(table, row)) for review in self._reviews)
        if table == "results" and any(row in found for found in self._result_findings):
            return self._find(first, second, table, row)
        if (first, second) not in self._made:
            self._made[first, second] = self._find(first, second, table, row)
        return self._made[first, second]

    def _find(self, first: tuple[int, ...], second: tuple[int, ...], table: str, row: int) -> tuple[Mover, ...]:
        one, other = self._all(0, first, table, row), self._all(1, second, table, row)
        apart = list(((one - other) | (other - one)).elements())
        candidates = [self._behind(signature) for signature in apart]
        found = {movers[0].name: movers[0] for movers in candidates if len(movers) == 1}
        for movers in candidates:
            # Of several that could have moved it, those count that another finding of the row has singled out.
            if not any(mover.name in found for mover in movers):
                found.update({mover.name: mover for mover in movers})
        if not found:
            # Nothing of its own differs: another row counts for it, or a choice decides without a finding.
            found = {mover.name: mover for mover in self._differences if "." in mover.name and self._is_choice(mover)}
        order = {mover.name: place for place, mover in enumerate(self._differences)}
        return tuple(sorted(found.values(), key=lambda mover: (order.get(mover.name, len(order)), mover.name)))

    def _all(self, side: int, indices: tuple[int, ...], table: str, row: int) -> Counter[_Signature]:
        pairs = self._result_findings[side].get(row, {}) if table == "results" else {}
        return Counter(self._signature(side, index, pairs.get(index)) for index in indices)

    def _signature(self, side: int, index: int, pair: tuple[int, int] | None) -> _Signature:
        if index not in self._signatures[side]:
            review = self._reviews[side]
            found = review.findings
            rule = review.rules[int(found.rule[index])]
            limit = int(found.limit[index])
            self._signatures[side][index] = (
                str(found.id[index]), int(found.outcome[index]), rule.limits[limit].name if limit >= 0 else "",
                int(found.detect[index]), int(found.nondetect[index]),
            )  # fmt: skip
        made = self._signatures[side][index]
        return made if pair is None else (*made[:3], *pair)

    def _behind(self, signature: _Signature) -> list[Mover]:
        """What differs in the rule of a finding: its broken limit, else any limit of it, else what it builds on."""
        rule_id, limit = signature[0].partition("/")[0], signature[2]
        if limit and f"{rule_id}.{limit}" in self._by_name:
            return [self._by_name[f"{rule_id}.{limit}"]]
        own = [one for one in self._differences if one.name == rule_id or one.name.startswith(f"{rule_id}.")]
        if own:
            return own
        of = self._rule(rule_id)
        base = of.options.get("of") if of is not None else None
        if isinstance(base, str):
            behind = [one for one in self._differences if one.name.startswith(f"{base}.")]
            if behind:
                return behind
        choices = [one for one in self._differences if self._is_choice(one)]
        chosen = [one for one in choices if of is not None and one.name.partition(".")[0] == of.topic]
        return chosen or choices or [Mover(rule_id, "", "")]

    def _rule(self, rule_id: str) -> Rule | None:
        for review in self._reviews:
            for rule in review.rules:
                if rule.id == rule_id:
                    return rule
        return None

    def _is_choice(self, mover: Mover) -> bool:
        return any(mover.name in review.rulebook.choose for review in self._reviews)


def _letters_by_pair(review: Review) -> dict[int, dict[int, tuple[int, int]]]:
    """Result row to finding to letters, where those differ from pair to pair (blanks)."""
    found = review.findings
    out: dict[int, dict[int, tuple[int, int]]] = {}
    if len(found.results_detect) != len(found.results.entry):
        return out
    entry: Int64 = found.results.entry
    differs = (found.results_detect != found.detect[entry]) | (found.results_nondetect != found.nondetect[entry])
    for place in np.flatnonzero(differs).tolist():
        letters = (int(found.results_detect[place]), int(found.results_nondetect[place]))
        out.setdefault(int(found.results.target[place]), {})[int(entry[place])] = letters
    return out

"""Reasons: the sentence of a rule with the measured number, the limit and the witness put in.

A template is split at its placeholders once and filled by name; text from the tables is never read as a template.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence.judged import Amounts, Fact, Judged, Labels
from vaporqa.outcomes import Outcome
from vaporqa.report.judgements import judged_sentence
from vaporqa.report.places import file_name, finding_place
from vaporqa.report.row_lists import RowLists, row_lists
from vaporqa.report.wording import (
    DIMENSION_UNITS,
    NOT_RECORDED,
    Clock,
    figure,
    measured_text,
    visible,
    with_unit,
)
from vaporqa.review.measured import in_unit_of_limit
from vaporqa.review.values import Review
from vaporqa.tables.values import Int64

_PLACEHOLDER = re.compile(r"\{([a-z_][a-z0-9_]*)\}")
_SMALL_START = re.compile(r"[a-z]{3,}[ ,]")
_READING = "reading"
#: Rules of reading whose detail is what the writer of the cell probably meant.
_NEAREST = {
    "readable-number": "the nearest reading is", "readable-time": "the nearest reading is",
    "known-word": "the nearest word is", "known-unit": "the nearest unit is", "keys-meet": "the nearest key is",
}  # fmt: skip
#: Letters of a word in a sentence where it is a list of our own: every date that a slip may have hidden is named.
_ROOM: Mapping[str, tuple[int]] = {"candidates": (700,)}
_MISSING_AT_ALL = "the evidence for it"
#: How a phrase begins that is a clause of its own: no article, and no value that could be readable, fits before it.
_CLAUSES = ("when ", "how ", "whether ", "what ", "who ", "which ", "where ")


class Sentences:
    """Composes the reasons of one review, each finding once.

    Parameters
    ----------
    review : Review
    """

    def __init__(self, review: Review) -> None:
        self._review = review
        self._made: dict[int, str] = {}
        self._made_by_rules: dict[int, str] = {}
        self._lists: dict[str, RowLists] = {}
        self._clocks = {
            "field": Clock(review.project.time_zone),
            "laboratory": Clock(review.project.lab_time_zone or review.project.time_zone),
        }

    def of(self, findings: Iterable[int]) -> list[str]:
        """Return the reasons of `findings` (indices), in their order, each one whole sentence."""
        wanted = [int(index) for index in findings]
        self._compose(sorted({index for index in wanted if index not in self._made}))
        return [self._made[index] for index in wanted]

    def of_rules(self, findings: Iterable[int]) -> list[str]:
        """Return the reasons of `findings` as their rules give them, without what a judgement adds."""
        wanted = [int(index) for index in findings]
        self.of(wanted)
        return [self._made_by_rules.get(index, self._made[index]) for index in wanted]

    def lists(self, table: str) -> RowLists:
        """Return which findings each row of `table` names, found out once."""
        if table not in self._lists:
            self._lists[table] = row_lists(self._review, table)
        return self._lists[table]

    def one(self, finding: int) -> str:
        """Return the reason of one finding."""
        return self.of((finding,))[0]

    def caution(self, number: int) -> str:
        """Return the sentence of ``review.cautions[number]``."""
        caution = self._review.cautions[number]
        rule_index, judged = self._review.judged[caution.judged]
        rule = self._review.rules[rule_index]
        at = np.array([caution.entry], np.int64)
        limit = int(judged.limit[caution.entry])
        template = _template(rule, limit, Outcome(int(judged.outcome[caution.entry])))
        want = int(judged.want[caution.entry])
        table = self._review.tables.get(caution.table)
        key = str(table.keys[caution.row]) if table is not None and caution.row >= 0 else "*"
        (value,) = in_unit_of_limit(rule, judged.limit[at], judged.measured[at]).tolist()
        given = {
            "measured": [self._in_unit_of(rule, limit, value)],
            "missing": [judged.wants[want].phrase if want >= 0 else _MISSING_AT_ALL],
            "key": [visible(key)],
            "row": [visible(key)],
        }
        return self._filled(template, rule, limit, judged, at, given)[0]

    def _compose(self, wanted: Sequence[int]) -> None:
        found, judged = self._review.findings, self._review.judging.applied
        if not wanted:
            return
        index = np.array(wanted, np.int64)
        group = np.stack(
            [found.judged[index], found.limit[index], found.outcome[index].astype(np.int64), found.row[index] < 0]
        )
        _, number = np.unique(group, axis=1, return_inverse=True)
        number = number.reshape(-1)
        order = np.argsort(number, kind="stable")
        for part in np.split(index[order], np.flatnonzero(np.diff(number[order])) + 1):
            for at, text in zip(part.tolist(), self._of_one_kind(part), strict=True):
                self._made[at] = text
        for at in judged.keys() & set(wanted):
            self._made_by_rules[at] = self._made[at]
            self._made[at] = f"{self._made[at]} {judged_sentence(judged[at])}"

    def _of_one_kind(self, part: Int64) -> list[str]:
        review, found = self._review, self._review.findings
        first = int(part[0])
        rule = review.rules[int(found.rule[first])]
        _, judged = review.judged[int(found.judged[first])]
        limit = int(found.limit[first])
        template = _template(rule, limit, Outcome(int(found.outcome[first])))
        if int(found.row[first]) < 0 and not judged.alone:
            # One finding for many rows: no row's own analyte or key may stand in its sentence.
            about = "for {about}" if "about" in judged.facts else "on any row that it concerns"
            template = f"{rule.title}: cannot be judged {about}; {{missing}} is not recorded."
        keys = [visible(str(key)) for key in found.key[part]]
        given: dict[str, Sequence[str]] = {
            "missing": self._missing(judged, part),
            "key": keys,
            "row": keys,
        }
        if "{measured}" in template:
            given["measured"] = self._measured(rule, limit, found.measured[part].tolist())
        texts = self._filled(template, rule, limit, judged, found.entry[part], given)
        if rule.check == _READING:
            return [self._placed(text, at, rule, judged) for text, at in zip(texts, part.tolist(), strict=True)]
        return texts

    def _missing(self, judged: Judged, part: Int64) -> list[str]:
        """Name what is missing; what stands in its cell and cannot be read is not merely missing."""
        found = self._review.findings
        hard = judged.hard[found.entry[part]].tolist()
        named = (str(want) or _MISSING_AT_ALL for want in found.want[part])
        return [_readably(one) if unread else one for one, unread in zip(named, hard, strict=True)]

    def _measured(self, rule: Rule, limit: int, values: Sequence[float]) -> list[str]:
        made: dict[float, str] = {}
        return [made.get(value) or made.setdefault(value, self._in_unit_of(rule, limit, value)) for value in values]

    @staticmethod
    def _in_unit_of(rule: Rule, limit: int, value: float) -> str:
        if limit >= 0:
            return measured_text(value, rule.limits[limit])
        return NOT_RECORDED if math.isnan(value) else with_unit(figure(value), unit_without_limit(rule))

    def _filled(
        self, template: str, rule: Rule, limit: int, judged: Judged, entry: Int64, given: Mapping[str, Sequence[str]]
    ) -> list[str]:
        pieces = _PLACEHOLDER.split(template)
        columns: list[Sequence[str]] = []
        for place, piece in enumerate(pieces):
            if place % 2 == 0:
                columns.append([piece] * len(entry))
            elif piece == "limit":
                columns.append([limit_text(rule, limit)] * len(entry))
            elif piece in given:
                columns.append(given[piece])
            elif piece == "detail" and rule.check == _READING and piece in judged.facts:
                details = (_detail(rule, judged, at) for at in entry.tolist())
                glued = pieces[place - 1][-1:].isalnum() or pieces[place - 1][-1:] in "'\"})"
                columns.append([f": {text}" if glued and text else text for text in details])
            elif piece in judged.facts:
                columns.append(self.fact(judged.facts[piece], entry, *_ROOM.get(piece, ())))
            else:
                columns.append([NOT_RECORDED] * len(entry))
        return [_finished("".join(parts)) for parts in zip(*columns, strict=True)]

    def fact(self, fact: Fact, entry: Int64, at_most: int = 120) -> list[str]:
        """Return what stands in a sentence for a fact of each of some entries, words of up to `at_most` letters."""
        if isinstance(fact, Labels):
            return [visible(str(text), at_most) for text in fact.values[entry]]
        if isinstance(fact, Amounts):
            values = fact.values[entry].tolist()
            units = [fact.unit] * len(values) if isinstance(fact.unit, str) else fact.unit[entry].tolist()
            made: dict[tuple[float, str], str] = {}
            return [
                made.get(pair) or made.setdefault(pair, with_unit(figure(pair[0], fact.digits), str(pair[1])))
                for pair in zip(values, units, strict=True)
            ]
        written: Callable[[int, bool], str] = self._clocks[fact.zone].written
        stamps = zip(fact.low[entry].tolist(), fact.date_only[entry].tolist(), strict=True)
        return [written(low, date_only) for low, date_only in stamps]

    def _placed(self, text: str, index: int, rule: Rule, judged: Judged) -> str:
        """Name the file, line, header, cell and nearest reading, as far as the rule's sentence does not."""
        review, found = self._review, self._review.findings
        entry = int(found.entry[index])
        file, line, header = finding_place(review, index)
        place = f"{file}:{line}" if line else file
        further = []
        if place and place not in text:
            further.append(place)
        if header and visible(header) not in text:
            further.append(f"column '{visible(header)}'")
        cell, detail = _label(judged, "cell", entry), _detail(rule, judged, entry)
        if cell and cell not in text:
            further.append(f"cell '{cell}'")
        if detail and detail not in text:
            further.append(detail)
        table = review.tables.get(found.tables[int(found.table[index])])
        if not line and table is not None and len(own := _own_rows(review, index)):
            where = file_name(table, int(own[0]))
            first = int(table.line_of[own[0]])
            at = f", first at {where}:{first}" if first else ""
            further.append(f"{len(own):,} row{'s' if len(own) > 1 else ''}{at}")
        if not further:
            return text
        stop = text[-1] if text[-1] in ".?!" else "."
        return f"{text.rstrip('.?!')} ({', '.join(further)}){stop}"


def _readably(missing: str) -> str:
    """Say of what is missing that something stands there which cannot be read."""
    if "readable" in missing:
        return missing
    if missing.startswith(_CLAUSES):
        return f"{missing}, in a form that can be read,"
    return f"a readable value of {missing}"


def _label(judged: Judged, name: str, entry: int) -> str:
    fact = judged.facts.get(name)
    return visible(str(fact.values[entry])) if isinstance(fact, Labels) else ""


def _detail(rule: Rule, judged: Judged, entry: int) -> str:
    """What more there is to say of a cell that was read: the nearest reading where there is one, else a phrase."""
    text = _label(judged, "detail", entry)
    if text and rule.id in _NEAREST and _label(judged, "cell", entry):
        return f"{_NEAREST[rule.id]} {text}"
    return text


def _own_rows(review: Review, index: int) -> Int64:
    own = review.findings.own
    found: Int64 = own.target[own.entry == index]
    return found


def _template(rule: Rule, limit: int, outcome: Outcome) -> str:
    if outcome is Outcome.UNPROVEN and "no_evidence" in rule.say:
        return rule.say["no_evidence"]
    if limit >= 0 and rule.limits[limit].name in rule.say:
        return rule.say[rule.limits[limit].name]
    if "broken" in rule.say and outcome is Outcome.BROKEN:
        return rule.say["broken"]
    if outcome is Outcome.UNPROVEN:
        return f"{rule.title}: cannot be judged, {{missing}} is not recorded."
    return f"{rule.title}: the criterion is not met."


def limit_text(rule: Rule, limit: int) -> str:
    """Return the limit as a person reads it; where none broke, every limit of the rule."""
    if limit >= 0:
        return rule.limits[limit].written
    return " or ".join(dict.fromkeys(one.written for one in rule.limits)) or "none stated"


def unit_without_limit(rule: Rule) -> str:
    """Return the unit of a measured number that was held against no limit."""
    from vaporqa.evidence.measures import MEASURES  # start-up time: only such findings need it

    spec = MEASURES.get(rule.measure)
    return DIMENSION_UNITS.get(spec.dimension, "") if spec is not None else ""


def limit_of(review: Review, index: int) -> Limit | None:
    """Return the limit that a finding broke, or None."""
    found = review.findings
    number = int(found.limit[index])
    return review.rules[int(found.rule[index])].limits[number] if number >= 0 else None


def _finished(text: str) -> str:
    """Close the sentence; a plain word in front gets its capital, an id or a chemical prefix stays as it is."""
    text = text.strip()
    if text and text[-1] not in ".?!":
        text += "."
    if _SMALL_START.match(text):
        text = text[0].upper() + text[1:]
    return text

"""`elapsed`: the time between two stamps against a table of limits by matrix, container, preservation and class.

Limits in minutes or hours are held against elapsed time, limits in days against calendar days. Where only dates are
known an hour limit holds if the longest span fits, is broken if the shortest does not, and is open between.

Limits are weighed in the order of the file. The first whose case certainly fits decides. Where the cell that would tell
is empty, every limit that could fit must agree; nothing is proven where they do not, nor where a word that the cell may
hold is one that none of them is for. An entry that no limit could fit is not concerned.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.criteria import Limit, Option, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.date_slips import ANALYSED, COLLECTED, batches_of, candidates, chain_of
from vaporqa.evidence.judged import Coded, Fact, Judged, Labels, Measured, Stamps, Want, Weighed, is_among, judged_from
from vaporqa.evidence.keeping import ROUNDED, comparison, keeps_limit, rounded
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Float, Int8, Int16, Int64, Texts, UInt8

OPTIONS = {
    "of": "id of the rule whose limits are the base: this rule's own limit is then a multiple of them (`2 x`)",
    "span": "clock of the base's limit to the clock that this rule reads instead",
    "exempt": "{class, from, because}: analytes of the class are spared the limit `from`; a reason names both limits",
}

#: What one limit says of one entry, as bits.
_HOLDS, _BROKEN, _OPEN, _LACKS = 1, 2, 4, 8
_SECONDS_PER_DAY = 86_400.0
_TIME_OF_DAY = Want("the time of day of both ends (dates alone do not decide)")
_TRUE_TIMES = Want("a start of the clock that does not come after its end")
#: Cells that tell which limit is meant, and what a person calls them.
TELLING = {"preserved": Want("how the sample was preserved", (("samples", "preserved"),))}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result by the limit of its case."""
    table = evidence.tables.get(rule.row)
    if table is None:
        return ()
    base = evidence.rulebook.rule(str(rule.options["of"])) if "of" in rule.options else rule
    measured = _clock(rule, base.measure, evidence)
    if not len(measured.row):
        return (judged_from(measured, table.rows, np.empty(0, np.uint8), np.empty(0, np.int16)),)
    analyte = measured.extra["analyte"].astype(np.int64)
    cases = Cases(
        measured.cases, lambda name: np.append(evidence.analytes.in_class(name), False)[analyte], len(measured.row)
    )
    sheet = _Sheet(measured, _words_that_tell(base), comparison(evidence))
    for index, limit in enumerate(base.limits):
        fits, could = cases.fits(limit.when)
        if not (fits | could).any():
            continue
        own = _clock(rule, limit.measure or base.measure, evidence)
        sheet.weigh(rule, base, index, own, fits, could)
    outcome, want = sheet.outcomes()
    broken = outcome == Outcome.BROKEN
    facts: dict[str, Fact] = {
        **measured.facts,
        "from": sheet.began,
        "to": sheet.ended,
        # A core is preserved in the field, by the field's clock; what the laboratory does goes by its own.
        "to_in_the_field": replace(sheet.ended, zone="field"),
        "allowed": Labels(sheet.allowed),
        "exempt": Labels(_exempt(base, measured, cases, broken, sheet.compare)),
    }
    if any("{candidates}" in sentence for sentence in rule.say.values()):
        facts["candidates"] = Labels(_slips(base, sheet, evidence, measured, broken))
    spoken = Measured(
        row=measured.row, concerned=measured.concerned, value=sheet.value, want=want, wants=tuple(sheet.wants),
        hard=sheet.hard & (outcome == Outcome.UNPROVEN), facts=facts,
    )  # fmt: skip
    limit_index = np.where(broken, sheet.limit if base is rule else 0, -1).astype(np.int16)
    judged = judged_from(spoken, table.rows, outcome, limit_index)
    if base is rule and "span" not in rule.options:
        judged = replace(judged, weighed=Weighed(measured.row, outcome, sheet.limit, sheet.value))
    return (judged,)


def _clock(rule: Rule, name: str, evidence: Evidence) -> Measured:
    """Return the measure called `name`, or the one that the rule reads instead of it."""
    span = rule.options.get("span")
    if isinstance(span, Mapping):
        name = str(span.get(name, name))
    (measured,) = evidence.measure(MEASURES[name])
    return measured


def _words_that_tell(base: Rule) -> dict[tuple[str, str], int]:
    """Words that some limit looks for in a cell that tells which limit is meant, each with a bit of its own."""
    told = {(key, word): None for limit in base.limits for key in TELLING for word in _listed(limit.when.get(key, ()))}
    return {word: 1 << number for number, word in enumerate(told)}


def _listed(wanted: Option) -> list[str]:
    return [str(word) for word in (wanted if isinstance(wanted, tuple) else (wanted,))]


@dataclass(slots=True, init=False)
class _Sheet:
    """What the limits said so far of each entry, (m,) each; the first limit weighed gives number, limit and stamps."""

    waiting: Bool
    seen: Int8
    words: dict[tuple[str, str], int]
    compare: str
    covered: Int64
    first: Int16
    limit: Int16
    value: Float
    allowed: Texts
    began: Stamps
    ended: Stamps
    want: Int16
    hard: Bool
    telling_hard: Bool
    wants: list[Want]

    def __init__(self, measured: Measured, words: dict[tuple[str, str], int], compare: str) -> None:
        size = len(measured.row)
        case_unknown = is_among(measured.cases["container"], [""]) | is_among(measured.cases["medium"], [""])
        no_case = measured.concerned & case_unknown
        self.waiting = measured.concerned & ~no_case
        self.seen = np.where(no_case, _LACKS, 0).astype(np.int8)
        self.words, self.covered = words, np.zeros(size, np.int64)
        self.compare = compare
        self.first = np.full(size, -1, np.int16)
        self.limit = self.first.copy()
        self.value = np.full(size, np.nan)
        self.allowed = np.full(size, "", object)
        self.began, self.ended = _stamps(measured, "from"), _stamps(measured, "to")
        self.wants = [_TIME_OF_DAY, _TRUE_TIMES, *TELLING.values(), *measured.wants]
        self.want = np.where(no_case, measured.want + len(self.wants) - len(measured.wants), -1).astype(np.int16)
        self.hard = no_case & measured.hard
        self.telling_hard = measured.extra["preserved_hard"] > 0

    def weigh(self, rule: Rule, base: Rule, index: int, own: Measured, fits: Bool, could: Bool) -> None:
        """Hold the entries that wait, and that a limit fits or could fit, against it."""
        limit = base.limits[index]
        if "span" in rule.options:
            # A clock that had not started by then has spent nothing: there is nothing to say.
            self.waiting &= own.concerned | ~fits
        weighed = self.waiting & (fits | could)
        verdict, number = _verdict(rule, base, limit, own, self.compare)
        verdict = np.where(~own.concerned | (own.want >= 0), _LACKS, verdict)
        if "span" in rule.options:
            # A clock that had not begun by then (a surrogate added after receipt) has used nothing of its time.
            verdict[~own.concerned & (own.want < 0)] = _HOLDS
        self.seen[weighed] |= verdict[weighed]
        self._note_lacking(weighed & (verdict == _LACKS) & (self.want < 0), own)
        new = weighed & (self.first < 0)
        self.first[new] = self.limit[new] = index
        self.value[new] = number[new]
        self.allowed[new] = f"{limit.number:g} {limit.unit}"
        self.began = _mixed(new, _stamps(own, "from"), self.began)
        self.ended = _mixed(new, _stamps(own, "to"), self.ended)
        meant = sum(self.words[key, word] for key in TELLING for word in _listed(limit.when.get(key, ())))
        self.covered[self.waiting & could] |= meant
        self.waiting &= ~fits

    def _note_lacking(self, rows: Bool, own: Measured) -> None:
        if rows.any():
            offset = len(self.wants)
            self.wants.extend(own.wants)
            self.want[rows] = np.where(own.want >= 0, own.want + offset, self.wants.index(_TRUE_TIMES))[rows]
            self.hard |= rows & (own.hard | ~own.concerned)

    def outcomes(self) -> tuple[UInt8, Int16]:
        """Return the outcome of each entry, and what the unproven ones lack."""
        outcome = np.full(len(self.seen), Outcome.NOT_CONCERNED, np.uint8)
        weighed = self.seen > 0
        # Limits that could fit, none that does, and a word that the empty cell may hold and that none of them is for.
        undecided = weighed & self.waiting & (self.covered != sum(self.words.values()))
        outcome[weighed] = Outcome.UNPROVEN
        outcome[(self.seen == _HOLDS) & ~undecided] = Outcome.HOLDS
        outcome[(self.seen == _BROKEN) & ~undecided] = Outcome.BROKEN
        want = self.want.copy()
        bare = (outcome == Outcome.UNPROVEN) & (want < 0)
        dates = bare & ((self.seen & _OPEN) != 0)
        want[dates] = self.wants.index(_TIME_OF_DAY)
        want[bare & ~dates] = self.wants.index(TELLING["preserved"])
        self.hard |= bare & ~dates & self.telling_hard
        return outcome, want


def _verdict(rule: Rule, base: Rule, limit: Limit, own: Measured, compare: str) -> tuple[Int8, Float]:
    """What one limit says of every entry, and the number to print: a time, or its multiple of the limit."""
    low, high = own.extra["shortest"], own.extra["longest"]
    if limit.unit == "d":
        low = high = own.extra["days"] * _SECONDS_PER_DAY
    judge, scale = (limit, 1.0) if base is rule else (rule.limits[0], limit.value)
    least, most = low, high
    if compare == ROUNDED and judge is not limit and not judge.last_digit:
        # A multiple of the limit has no digits of its own: the time is rounded to those of the limit.
        least, most = rounded(limit, low), rounded(limit, high)
    holds, broken = keeps_limit(judge, most / scale, compare), ~keeps_limit(judge, least / scale, compare)
    verdict = np.where(holds, _HOLDS, np.where(broken, _BROKEN, _OPEN)).astype(np.int8)
    return verdict, np.where(broken, low, high) / scale


class Cases:
    """Which entries are of which case; each word is looked for once.

    Parameters
    ----------
    words : mapping
        Name of a case (medium, container, preserved, cas) to the word of each entry, (m,); empty where unknown.
    in_class : callable
        Class of the shipped list to the entries whose analyte is of it, bool (m,).
    size : int
        m.
    """

    def __init__(self, words: Mapping[str, Texts | Coded], in_class: Callable[[str], Bool], size: int) -> None:
        self._words, self._in_class, self._size = words, in_class, size
        self._found: dict[tuple[str, str], Bool] = {}

    def fits(self, when: Mapping[str, Option]) -> tuple[Bool, Bool]:
        """Whether a limit's case certainly fits each entry, and whether it only could."""
        same, unknown = np.ones(self._size, bool), np.zeros(self._size, bool)
        for key, wanted in when.items():
            inside = np.logical_or.reduce([self._is(key, word) for word in _listed(wanted)])
            if key in TELLING:
                blank = self._is(key, "")
                inside = inside | blank
                unknown |= blank
            same &= inside
        return same & ~unknown, same & unknown

    def of_class(self, name: str) -> Bool:
        """Entries whose analyte is of a class of the shipped list."""
        return self._is("class", name)

    def _is(self, key: str, word: str) -> Bool:
        if (key, word) not in self._found:
            found = self._in_class(word) if key == "class" else is_among(self._words[key], [word])
            self._found[key, word] = found
        return self._found[key, word]


def _stamps(measured: Measured, name: str) -> Stamps:
    found = measured.facts[name]
    assert isinstance(found, Stamps)
    return found


def _mixed(rows: Bool, new: Stamps, old: Stamps) -> Stamps:
    return Stamps(
        np.where(rows, new.low, old.low).astype(np.int64), np.where(rows, new.date_only, old.date_only), old.zone
    )


def _exempt(base: Rule, measured: Measured, cases: Cases, broken: Bool, compare: str) -> Texts:
    """For late results of a class that is spared a shorter limit: that limit, and why it is not applied."""
    out: Texts = np.full(len(broken), "", object)
    spared = base.options.get("exempt")
    if isinstance(spared, Mapping) and broken.any():
        limit = base.limit(str(spared["from"]))
        case = {key: wanted for key, wanted in limit.when.items() if key != "class"}
        fits, _ = cases.fits(case)
        late = _verdict(base, base, limit, measured, compare)[0] == _BROKEN
        rows = broken & late & fits & cases.of_class(str(spared["class"]))
        out[rows] = f"The shorter limit of {limit.number:g} {limit.unit} is not applied: {spared['because']}"
    return out


def _slips(base: Rule, sheet: _Sheet, evidence: Evidence, measured: Measured, broken: Bool) -> Texts:
    """Single slips of one date that would bring a grossly late result inside its holding time."""
    allowed = np.array([limit.value for limit in base.limits])[sheet.limit]
    by_day = np.array([limit.unit == "d" for limit in base.limits])[sheet.limit]
    spent = np.where(by_day, measured.extra["days"] * _SECONDS_PER_DAY, measured.extra["shortest"])

    def fits(row: int, stamp: int, shift: int) -> bool:
        moved = {COLLECTED: -shift, ANALYSED: shift}.get(stamp, 0) * _SECONDS_PER_DAY
        return bool(spent[row] + moved <= allowed[row])

    rows: Int64 = measured.row
    return candidates(chain_of(evidence, rows), batches_of(evidence, rows), broken, fits)

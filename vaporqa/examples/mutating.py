"""Rules attacked: each is changed in one place at a time, and an example of it must then fail.

A mutant that no example notices says that the rule could read otherwise without anybody seeing it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from vaporqa.checks import CHECKS
from vaporqa.criteria import Limit, Option, Rule, Rulebook, Sense
from vaporqa.examples.answers import Answers, Case
from vaporqa.examples.equivalent import reason_why_not
from vaporqa.examples.nudging import moves
from vaporqa.examples.running import Judge, held_against, judge_by_check, rules_named, try_case
from vaporqa.outcomes import NOTE, NOTHING, UNPROVEN, Letter, Pair

#: The nearest letter that says something else, for a detect and for a nondetect.
_DETECT = {
    Letter.R: Letter.J, Letter.UNPROVEN: Letter.NOTE, Letter.J: Letter.J_MINUS, Letter.J_MINUS: Letter.J_PLUS,
    Letter.J_PLUS: Letter.J_MINUS, Letter.NJ: Letter.J, Letter.U: Letter.J_PLUS, Letter.NOTE: Letter.NONE,
    Letter.NONE: Letter.J,
}  # fmt: skip
_NONDETECT = {
    Letter.R: Letter.UJ, Letter.UNPROVEN: Letter.NOTE, Letter.UJ: Letter.NONE, Letter.NOTE: Letter.NONE,
    Letter.NONE: Letter.UJ,
}  # fmt: skip
_NO_EVIDENCE = {UNPROVEN: NOTE, NOTE: NOTHING, NOTHING: UNPROVEN}

_ON_THE_LIMIT = {
    Sense.AT_MOST: Sense.UNDER, Sense.UNDER: Sense.AT_MOST, Sense.AT_LEAST: Sense.OVER, Sense.OVER: Sense.AT_LEAST,
}  # fmt: skip
_TURNED = {
    Sense.AT_MOST: Sense.AT_LEAST, Sense.UNDER: Sense.OVER, Sense.AT_LEAST: Sense.AT_MOST, Sense.OVER: Sense.UNDER,
}  # fmt: skip
#: A word that no limit lists.
_NO_WORD = "no such word"

#: What was changed, in words that are the same from run to run, and the rule so changed.
Mutant = tuple[str, Rule]


@dataclass(frozen=True, slots=True)
class Survivor:
    """A changed rule whose examples all answer as before.

    Attributes
    ----------
    rule, what : str
        The rule, and what was changed in it.
    reason : str
        Why the change cannot matter, where that is known (`examples.equivalent`); empty for one that must be mended.
    message : str
        ``file:line: ...``
    """

    rule: str
    what: str
    reason: str
    message: str


@dataclass(frozen=True, slots=True)
class Attack:
    """What came of changing rules: how many mutants were made, and which were not noticed."""

    mutants: int
    survivors: tuple[Survivor, ...]
    equivalent: tuple[Survivor, ...]

    @property
    def share(self) -> float:
        """Survivors for each mutant that can matter, equivalent ones left out of both."""
        return len(self.survivors) / max(self.mutants - len(self.equivalent), 1)


def mutate_rules(rulebook: Rulebook, rule_ids: Sequence[str] | None = None, *, judge: Judge = judge_by_check) -> Attack:
    """Change every rule, or those named, in one place at a time and return what no example noticed.

    Parameters
    ----------
    rulebook, rule_ids, judge
        As for `run_examples`. An example that fails beforehand notices nothing.

    Raises
    ------
    UsageError
        A rule id that does not exist.
    """
    made = 0
    survivors: list[Survivor] = []
    equivalent: list[Survivor] = []
    for rule in rules_named(rulebook, rule_ids):
        cases = [case for example in rule.examples if (case := try_case(rule, example, rulebook)) is not None]
        cases = [case for case in cases if not _notices(rule, case, judge)]
        for what, mutant in mutants_of(rule):
            made += 1
            noticed = next((place for place, case in enumerate(cases) if _notices(mutant, case, judge)), None)
            if noticed is not None:
                cases.insert(0, cases.pop(noticed))  # what noticed one change often notices the next
                continue
            reason = reason_why_not(rule, what)
            message = f"{rule.file}:{rule.line}: no example of {rule.id} notices: {what}"
            (equivalent if reason else survivors).append(Survivor(rule.id, what, reason, message))
    return Attack(made, tuple(survivors), tuple(equivalent))


def _notices(rule: Rule, case: Case, judge: Judge) -> bool:
    try:
        return bool(held_against(Answers(rule, case, judge(rule, case.tables, case.evidence)))[1])
    except Exception:  # a rule that cannot be judged any more is noticed at once
        return True


def mutants_of(rule: Rule) -> Iterator[Mutant]:
    """Yield the rule changed in one place at a time, with the change in words."""
    check = CHECKS.get(rule.check)
    numeric = check is None or check.numeric
    for limit in rule.limits:
        changed = [*_words(limit), *_when(limit)]
        if numeric and limit.sense is not Sense.IS:
            changed += [*_numbers(limit), *_senses(limit)]
        for what, one in changed:
            limits = tuple(one if each is limit else each for each in rule.limits)
            yield f"{limit.name}: {what}", replace(rule, limits=limits)
    for what, where in _less(rule.where):
        yield f"where: {what}", replace(rule, where=where)
    yield from _letters(rule)
    yield from _reach(rule)
    for what, options in _options(rule.options):
        yield f"option {what}", replace(rule, options=options)


# -- limits ----------------------------------------------------------------------------------------------------------


def _numbers(limit: Limit) -> Iterator[tuple[str, Limit]]:
    for on, moved in moves(limit):
        end = "upper number" if moved.upper != limit.upper and limit.sense is Sense.BETWEEN else "number"
        yield f"{end} moved {'across an example on it' if on else 'past'}", moved


def _senses(limit: Limit) -> Iterator[tuple[str, Limit]]:
    if limit.sense in _TURNED:
        for sense in (_ON_THE_LIMIT[limit.sense], _TURNED[limit.sense]):
            yield f"{_said(limit.sense)} read as {_said(sense)}", replace(limit, sense=sense)
    elif limit.sense is Sense.WITHIN:
        yield "within read as at most", replace(limit, sense=Sense.AT_MOST)
        yield "within read as at least", replace(limit, sense=Sense.AT_LEAST, value=-limit.value)
        yield "within turned", replace(limit, sense=Sense.OVER)
    elif limit.sense is Sense.BETWEEN:
        yield "lower end dropped", replace(limit, sense=Sense.AT_MOST, value=limit.upper)
        yield "upper end dropped", replace(limit, sense=Sense.AT_LEAST)
        yield "between turned", replace(limit, value=limit.upper, upper=limit.value)


def _words(limit: Limit) -> Iterator[tuple[str, Limit]]:
    if limit.sense is not Sense.IS:
        return
    for word in limit.words:
        left = tuple(one for one in limit.words if one != word) or (_NO_WORD,)
        yield f"word '{word}' dropped", replace(limit, words=left)


def _when(limit: Limit) -> Iterator[tuple[str, Limit]]:
    for what, when in _less(limit.when):
        yield f"when {what}", replace(limit, when=when)


def _less(stated: Mapping[str, Option]) -> Iterator[tuple[str, Mapping[str, Option]]]:
    """Yield conditions without one of them, and without one of the values that one of them lists."""
    for name, value in stated.items():
        yield f"{name} dropped", MappingProxyType({key: one for key, one in stated.items() if key != name})
        inner = value if isinstance(value, tuple | Mapping) else ()
        for part in inner if len(inner) > 1 else ():
            if isinstance(value, Mapping):
                left: Option = MappingProxyType({key: one for key, one in value.items() if key != part})
            else:
                left = tuple(one for one in inner if one != part)
            yield f"{name}: '{part}' dropped", MappingProxyType({**stated, name: left})


def _said(sense: Sense) -> str:
    return sense.value.replace("_", " ")


# -- consequences ----------------------------------------------------------------------------------------------------


def _letters(rule: Rule) -> Iterator[Mutant]:
    aside, shared = _aside(rule), "broken" in rule.consequence
    names = [limit.name for limit in rule.limits if limit.name not in aside]
    if shared and rule.options.get("either") is True:
        names = [name for name in names if name in rule.consequence]  # all must break, and the graver pair counts
    names += ["broken"] if shared else []
    for name in names:
        pair = rule.pair(name)
        halves = (
            ("a detect", pair.detect, Pair(_DETECT[pair.detect], pair.nondetect)),
            ("a nondetect", pair.nondetect, Pair(pair.detect, _NONDETECT[pair.nondetect])),
        )
        for half, before, changed in halves:
            after = changed.detect if half == "a detect" else changed.nondetect
            consequence = MappingProxyType({**rule.consequence, name: changed})
            yield f"{name}: {before.word} for {half} made {after.word}", replace(rule, consequence=consequence)
    other = _NO_EVIDENCE.get(rule.no_evidence)
    if other is not None:
        yield f"no evidence: {rule.no_evidence} made {other}", replace(rule, no_evidence=other)


def _aside(rule: Rule) -> set[str]:
    """Limits that only say for what, or how surely, another one is judged: nothing ever breaks them."""
    gates = rule.options.get("gate")
    return {str(rule.options.get("proof", "")), *(map(str, gates.values()) if isinstance(gates, Mapping) else ())}


def _reach(rule: Rule) -> Iterator[Mutant]:
    if rule.reaches != "row":
        yield f"reaches: {rule.reaches} made row", replace(rule, reaches="row")
    pairs = [*(rule.pair(limit.name) for limit in rule.limits), rule.pair("broken"), rule.no_evidence]
    turns = any(pair.detect is Letter.J_MINUS or pair.nondetect is Letter.UJ for pair in pairs)
    if turns and (rule.reaches != "row" or "results" in (rule.row, *rule.also)):
        yield f"air let in: {'no' if rule.air_let_in else 'yes'}", replace(rule, air_let_in=not rule.air_let_in)
    if rule.spares_tracer or (rule.row == "tracer_tests" and rule.reaches != "row"):
        spares = not rule.spares_tracer
        yield f"spares tracer: {'yes' if spares else 'no'}", replace(rule, spares_tracer=spares)


# -- options ---------------------------------------------------------------------------------------------------------


def _options(stated: Mapping[str, Option]) -> Iterator[tuple[str, Mapping[str, Option]]]:
    for name, value in stated.items():
        if isinstance(value, bool):
            yield f"{name} made {'no' if value else 'yes'}", MappingProxyType({**stated, name: not value})
        elif isinstance(value, float):
            step = 1.0 if value.is_integer() else 0.1 * abs(value)
            for moved in (value - step, value + step):
                yield f"{name} made {moved:g}", MappingProxyType({**stated, name: moved})
        elif isinstance(value, tuple | Mapping):
            for what, left in _less({name: value}):
                yield what, MappingProxyType({**{k: v for k, v in stated.items() if k != name}, **left})

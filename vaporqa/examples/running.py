"""The examples inside the rules, run: each says what its rule must answer.

An example becomes small typed tables, evidence, and one judgement of its rule; nothing else of the rulebook is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa.checks import CHECKS
from vaporqa.criteria import Example, Rule, Rulebook
from vaporqa.errors import Problem, UsageError, VaporqaError, did_you_mean
from vaporqa.evidence import Evidence
from vaporqa.evidence.absence import Absence
from vaporqa.evidence.judged import Judged
from vaporqa.examples.small_tables import project_of, tables_of
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Table, Tables

#: What judges an example: by default the rule's own check, over evidence made from the example's tables alone.
Judge = Callable[[Rule, Tables, Evidence], Sequence[Judged]]

_WHOLE = "*"


@dataclass(frozen=True, slots=True)
class ExampleResult:
    """What one example expected of its rule, and what the rule answered.

    Attributes
    ----------
    rule, example : str
        Rule id and name of the example.
    passed : bool
    expected, got : str
        Outcomes as rule files write them, by key where there are several.
    message : str
        ``file:line: ...`` saying what differs; empty where it passed.
    file : str
    line : int
    """

    rule: str
    example: str
    passed: bool
    expected: str
    got: str
    message: str
    file: str
    line: int


@dataclass(frozen=True, slots=True)
class Case:
    """An example ready to be judged as often as its limits are moved."""

    example: Example
    tables: Tables
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class _Answer:
    """What a rule said of one key: the outcome, the limits that broke, the results that are reached."""

    outcome: str
    limits: frozenset[str]
    reached: frozenset[str]

    def __str__(self) -> str:
        return f"{self.outcome}: {', '.join(sorted(self.limits))}" if self.limits else self.outcome


def judge_by_check(rule: Rule, tables: Tables, evidence: Evidence) -> Sequence[Judged]:
    """Return what the rule's own check says, and what the rule says where no row is there to be checked."""
    said = CHECKS[rule.check].run(rule, evidence)
    return (*said, *Absence(evidence, evidence.rulebook.rules).of(rule, said))


def run_examples(
    rulebook: Rulebook, rule_ids: Sequence[str] | None = None, *, judge: Judge = judge_by_check
) -> list[ExampleResult]:
    """Run the examples of every rule, or of the rules named.

    Parameters
    ----------
    rulebook : Rulebook
        Without profiles: examples are written against the limits of their own file.
    rule_ids : sequence of str, optional
        Only these rules.
    judge : callable
        ``judge(rule, tables, evidence)``; replace it where a rule is judged by more than its check.

    Returns
    -------
    list of ExampleResult
        In rulebook order.

    Raises
    ------
    UsageError
        A rule id that does not exist.
    """
    results = []
    for rule in rules_named(rulebook, rule_ids):
        for example in rule.examples:
            results.append(_run(rule, example, rulebook, judge))
    return results


def rules_named(rulebook: Rulebook, rule_ids: Sequence[str] | None) -> Iterator[Rule]:
    """Return the rules named, all where none is; UsageError where one does not exist."""
    known = tuple(rule.id for rule in rulebook.rules)
    unknown = [name for name in rule_ids or () if name not in known]
    if unknown:
        raise UsageError(Problem("", 0, 0, f"there is no rule '{name}'", did_you_mean(name, known)) for name in unknown)
    return (rule for rule in rulebook.rules if rule_ids is None or rule.id in rule_ids)


# -- one example -----------------------------------------------------------------------------------------------------


def _case(rule: Rule, example: Example, rulebook: Rulebook) -> Case:
    project = project_of(example)
    tables = tables_of(rule, example, project)
    return Case(example, tables, Evidence(tables, project, rulebook))


def try_case(rule: Rule, example: Example, rulebook: Rulebook) -> Case | None:
    """Return an example ready to be judged; None where its tables cannot be read."""
    try:
        return _case(rule, example, rulebook)
    except VaporqaError:
        return None  # `run_examples` says what is wrong with it


def judged_by(rule: Rule, case: Case, judge: Judge) -> Sequence[Judged]:
    """Return what `judge` says of a case; a fault in a check names the example that met it."""
    try:
        return judge(rule, case.tables, case.evidence)
    except Exception as fault:
        fault.add_note(f"in the example '{case.example.name}' of {rule.id}, {case.example.file}:{case.example.line}")
        raise


def _run(rule: Rule, example: Example, rulebook: Rulebook, judge: Judge) -> ExampleResult:
    expected = _listing({key: _said(*outcome) for key, outcome in example.expect.items()})
    place = f"{example.file}:{example.line}: {rule.id}, example '{example.name}'"

    def result(got: str, wrong: Sequence[str]) -> ExampleResult:
        message = f"{place}: {'; '.join(wrong)}" if wrong else ""
        return ExampleResult(rule.id, example.name, not wrong, expected, got, message, example.file, example.line)

    try:
        case = _case(rule, example, rulebook)
    except VaporqaError as error:
        return result("cannot be read", [f"its tables cannot be read: {error}"])
    judged = judged_by(rule, case, judge)
    got, wrong = {}, []
    for key, (outcome, limit) in example.expect.items():
        answer = _answer(rule, key, judged, case)
        name = f"{key}: " if key else ""
        if answer is None:
            got[key] = "no such row"
            wrong.append(f"{name}{_no_row(rule, key, case.tables)}")
            continue
        got[key] = str(answer)
        if answer.outcome != outcome or (limit and limit not in answer.limits):
            wrong.append(f"{name}expected {_said(outcome, limit)}, got {answer}")
        if key in example.reached and set(example.reached[key]) != answer.reached:
            wrong.append(f"{name}must reach {_set(example.reached[key])}, reached {_set(answer.reached)}")
    return result(_listing(got), wrong)


def _answer(rule: Rule, key: str, judged: Sequence[Judged], case: Case) -> _Answer | None:
    """Return what was said of the row called `key`; None where no table of the rule has such a row."""
    if key == _WHOLE or key.startswith(f"{_WHOLE}:"):
        return _answer_of_whole(rule, key.removeprefix(_WHOLE).removeprefix(":"), judged, case)
    for name in (rule.row, *rule.also):
        table = case.tables.get(name)
        row = _row_of(table, key)
        if row is None:
            continue
        here = [one for one in judged if (one.table or rule.row) == name]
        states = {Outcome(int(one.state[row])) for one in here if len(one.state)} or {Outcome.NOT_CONCERNED}
        chosen = [(one, one.row == row) for one in here]
        return _put_together(rule, max(states, key=_GRAVITY.index), chosen, case)
    return None


_GRAVITY = (Outcome.NOT_CONCERNED, Outcome.NOT_DUE, Outcome.HOLDS, Outcome.UNPROVEN, Outcome.BROKEN)


def _answer_of_whole(rule: Rule, subject: str, judged: Sequence[Judged], case: Case) -> _Answer:
    chosen = []
    for one in judged:
        whole = one.row < 0
        if one.subject is not None:
            whole &= np.array([str(text or "") == subject for text in one.subject], dtype=bool)
        elif subject:
            whole &= False
        chosen.append((one, whole))
    outcomes = [Outcome(int(code)) for one, entries in chosen for code in one.outcome[entries]]
    return _put_together(rule, max(outcomes, key=_GRAVITY.index, default=Outcome.HOLDS), chosen, case)


def _put_together(rule: Rule, outcome: Outcome, chosen: Sequence[tuple[Judged, Bool]], case: Case) -> _Answer:
    limits: set[str] = set()
    reached: set[str] = set()
    for one, entries in chosen:
        broken = entries & (one.outcome == Outcome.BROKEN) & (one.limit >= 0)
        limits |= {rule.limits[number].name for number in one.limit[broken]}
        rows = one.results.target[entries[one.results.entry]]
        samples = one.samples.target[entries[one.samples.entry]]
        if len(samples):
            rows = np.concatenate([rows, case.evidence.results_of_samples(np.unique(samples))])
        results = case.tables.get("results")
        if results is not None:
            reached |= {str(results.keys[row]) for row in rows if row >= 0}
    return _Answer(outcome.words, frozenset(limits) if outcome is Outcome.BROKEN else frozenset(), frozenset(reached))


def _row_of(table: Table | None, key: str) -> int | None:
    if table is None or not table.rows:
        return None
    if not key:
        return 0
    rows = np.flatnonzero(table.keys == key)
    return int(rows[0]) if len(rows) else None


def _no_row(rule: Rule, key: str, tables: Tables) -> str:
    keys = [
        str(one) for name in (rule.row, *rule.also) if (table := tables.get(name)) is not None for one in table.keys
    ]
    if not key:
        return f"the example has no row of {rule.row}"
    return f"no row has this key; {did_you_mean(key, keys) or 'keys: ' + ', '.join(keys)}"


def _said(outcome: str, limit: str) -> str:
    return f"{outcome}: {limit}" if limit else outcome


def _listing(said: Mapping[str, str]) -> str:
    return "; ".join(f"{key}: {one}" if key else one for key, one in said.items())


def _set(keys: object) -> str:
    listed = sorted(keys) if isinstance(keys, frozenset | tuple) else []
    return ", ".join(listed) or "nothing"

"""The examples inside the rules, run: each says what its rule must answer.

An example becomes small typed tables, evidence, and one judgement of its rule; nothing else of the rulebook is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from vaporqa.checks import CHECKS
from vaporqa.criteria import Example, Rule, Rulebook
from vaporqa.errors import Problem, UsageError, VaporqaError, did_you_mean
from vaporqa.evidence import Evidence
from vaporqa.evidence.absence import Absence
from vaporqa.evidence.judged import Judged
from vaporqa.examples.answers import Answers, Case, letters_as_written
from vaporqa.examples.small_tables import project_of, tables_of
from vaporqa.tables.values import Tables

#: What judges an example: by default the rule's own check, over evidence made from the example's tables alone.
Judge = Callable[[Rule, Tables, Evidence], Sequence[Judged]]


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
    got, wrong = held_against(Answers(rule, case, judged_by(rule, case, judge)))
    return result(_listing(got), wrong)


def held_against(answers: Answers) -> tuple[dict[str, str], list[str]]:
    """Return what a rule answered by key, and in words where that is not what its example expects."""
    example = answers.case.example
    got: dict[str, str] = {}
    wrong: list[str] = []
    for key, (outcome, limit) in example.expect.items():
        answer = answers.of(key)
        name = f"{key}: " if key else ""
        if answer is None:
            got[key] = "no such row"
            wrong.append(f"{name}{answers.no_row(key)}")
            continue
        got[key] = str(answer)
        if answer.outcome != outcome or (limit and limit not in answer.limits):
            wrong.append(f"{name}expected {_said(outcome, limit)}, got {answer}")
        if key in example.reached and set(example.reached[key]) != answer.reached:
            wrong.append(f"{name}must reach {_set(example.reached[key])}, reached {_set(answer.reached)}")
    for key, pair in example.effect.items():
        name = f"{key}: " if key else ""
        bits = answers.letters_of(key, *example.expect[key]) if key in example.expect else answers.letters_on(key)
        if bits is None:
            wrong.append(f"{name}the example has no such result")
        elif bits != (int(pair.detect), int(pair.nondetect)):
            wrong.append(f"{name}must become {pair}, became {letters_as_written(bits)}")
    return got, wrong


def _said(outcome: str, limit: str) -> str:
    return f"{outcome}: {limit}" if limit else outcome


def _listing(said: Mapping[str, str]) -> str:
    return "; ".join(f"{key}: {one}" if key else one for key, one in said.items())


def _set(keys: object) -> str:
    listed = sorted(keys) if isinstance(keys, frozenset | tuple) else []
    return ", ".join(listed) or "nothing"

"""Code changed in one place at a time, to see what notices: ``python tests/mutation/mutate_code.py [FILE ...]``.

Each file of `vaporqa/checks` and `vaporqa/settling.py` is parsed; comparisons are flipped, `and` and `or` (and their
numpy forms) swapped, negations dropped, sums turned into differences, numbers moved by one, truths turned round. What
the examples inside the rules of a check do not notice, the sample folders get to see, whose findings are pinned by
`tests/sample_folders`; what they do not notice either, the tests named below, in a child process. It takes
minutes and is no part of a test run. Exit code 1: a change survived.
"""

from __future__ import annotations

import ast
import copy
import importlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import pytest

from vaporqa.checks import CHECKS
from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged
from vaporqa.evidence.made import with_samples
from vaporqa.examples.answers import Answers, Case
from vaporqa.examples.running import held_against, try_case
from vaporqa.intake import load_project, read_folder
from vaporqa.rulebook import load_rulebook

ROOT = Path(__file__).parents[2]
#: What sees a change that no example notices.
TESTS = ("tests/checks", "tests/settling")

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}  # fmt: skip
_SUMS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}  # fmt: skip


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what may stand in the place of a node."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        for other in _COMPARISONS.get(type(node.ops[0]), ()):
            yield ast.Compare(node.left, [other()], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in _SUMS:
        yield ast.BinOp(node.left, _SUMS[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.Invert):
        yield node.operand
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield ast.Constant(node.value + 1)


def mutants(source: str) -> Iterator[tuple[int, str, ast.Module]]:
    """Yield line, change in words and the whole module changed, for every place inside a function."""
    tree = ast.parse(source)
    for number, node in enumerate(ast.walk(tree)):
        for place, _ in enumerate(changes(node)):
            changed = copy.deepcopy(tree)
            target = next(one for at, one in enumerate(ast.walk(changed)) if at == number)
            new = list(changes(target))[place]
            if _put(changed, target, new) and not _annotates(tree, node):
                yield node.lineno, f"{ast.unparse(node)} -> {ast.unparse(new)}", ast.fix_missing_locations(changed)  # type: ignore[attr-defined]


def _put(tree: ast.Module, old: ast.AST, new: ast.AST) -> bool:
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is old:
                setattr(parent, name, new)
                return True
            if isinstance(value, list) and any(one is old for one in value):
                value[:] = [new if one is old else one for one in value]
                return True
    return False


def _annotates(tree: ast.Module, node: ast.AST) -> bool:
    """Whether a node stands in an annotation, or on the module's own level, which nothing runs again."""
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            inside = {id(one) for statement in function.body for one in ast.walk(statement)}
            if id(node) in inside:
                return any(
                    id(node) in {id(one) for one in ast.walk(each.annotation)}
                    for each in ast.walk(function)
                    if isinstance(each, ast.AnnAssign | ast.arg) and each.annotation is not None
                )
    return True  # the module's own level


def functions_of(module: ModuleType) -> dict[str, FunctionType]:
    """Functions and methods of a module by qualified name."""
    found: dict[str, FunctionType] = {}
    for value in list(vars(module).values()):
        members = [value, *vars(value).values()] if isinstance(value, type) else [value]
        for one in members:
            plain = getattr(one, "__func__", one)
            if isinstance(plain, FunctionType) and plain.__module__ == module.__name__:
                found[plain.__qualname__] = plain
    return found


def codes_of(code: CodeType, prefix: str = "") -> Iterator[tuple[str, CodeType]]:
    """Code of the functions and methods that a compiled module defines, by qualified name."""
    for one in code.co_consts:
        if isinstance(one, CodeType):
            yield prefix + one.co_name, one
            yield from codes_of(one, f"{prefix}{one.co_name}.")


def noticed_by_examples(cases: list[tuple[Rule, Case]]) -> bool:
    """Whether an example of a rule no longer answers as it must; a fault counts as noticed."""
    for place, (rule, case) in enumerate(cases):
        try:
            wrong = held_against(Answers(rule, case, CHECKS[rule.check].run(rule, case.evidence)))[1]
        except Exception:
            wrong = ["a fault"]
        if wrong:
            cases.insert(0, cases.pop(place))
            return True
    return False


class Folders:
    """The sample folders, and what the rules of a check say of them while nothing is changed."""

    def __init__(self) -> None:
        self._read = []
        for home in sorted(path.parent for path in (ROOT / "sample_inputs").glob("*/project.yaml")):
            project = load_project(home)
            book = load_rulebook(extra=[Path(one) for one in project.rules], profiles=project.profiles, folder=home)
            self._read.append((book, Evidence(with_samples(read_folder(home, project)), project, book)))
        self._before: list[object] = []

    def look(self, check: str) -> None:
        """Remember what every rule of a check says."""
        self._check = check
        self._before = list(self._said())

    def _said(self) -> Iterator[object]:
        for book, evidence in self._read:
            for rule in book.rules:
                if rule.check == self._check:
                    yield [_columns(one) for one in CHECKS[rule.check].run(rule, evidence)]

    def notice(self) -> bool:
        """Whether any of them is now judged otherwise; a fault counts as noticed."""
        try:
            return any(now != was for now, was in zip(self._said(), self._before, strict=True))
        except Exception:
            return True


def _columns(judged: Judged) -> list[object]:
    columns = [judged.state, judged.row, judged.outcome, judged.limit, judged.hard, judged.quiet, judged.noted]
    for links in (judged.samples, judged.results, judged.own):
        columns += [links.entry, links.target] if links is not None else [None]
    columns += list(judged.letters or ())
    return [column.tolist() if column is not None else None for column in columns]


def noticed_by_tests() -> bool:
    """Whether a test fails in a child process, which has the change in force."""
    child = os.fork()
    if child == 0:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1), os.dup2(null, 2)
        os._exit(int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-m", "not slow", *TESTS])))
    return os.waitpid(child, 0)[1] != 0


def attack(path: Path, cases: list[tuple[Rule, Case]], folders: Folders) -> tuple[int, list[str]]:
    """Return how many changes of a file were made, and which of them nothing noticed."""
    module = importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))
    functions = functions_of(module)
    made, survivors = 0, []
    for line, what, tree in mutants(path.read_text(encoding="utf-8")):
        codes = {name: code for name, code in codes_of(compile(tree, str(path), "exec")) if name in functions}
        before = {name: functions[name].__code__ for name in codes}
        made += 1
        try:
            for name, code in codes.items():
                functions[name].__code__ = code
            if not noticed_by_examples(cases) and not folders.notice() and not noticed_by_tests():
                survivors.append(f"{path.relative_to(ROOT)}:{line}: {what}")
                say(survivors[-1])
        finally:
            for name, code in before.items():
                functions[name].__code__ = code
    return made, survivors


def say(line: str) -> None:
    """Write a line at once: a run takes minutes."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main(names: list[str]) -> int:
    """Attack the files named, all checks and settling where none is."""
    os.chdir(ROOT)
    paths = [Path(name).resolve() for name in names] or [
        *sorted(path for path in (ROOT / "vaporqa/checks").glob("*.py") if path.stem != "__init__"),
        ROOT / "vaporqa/settling.py",
    ]
    rulebook, folders = load_rulebook(), Folders()
    total, alive = 0, 0
    for path in paths:
        mine = [rule for rule in rulebook.rules if rule.check == path.stem]
        cases = [(rule, case) for rule in mine for one in rule.examples if (case := try_case(rule, one, rulebook))]
        folders.look(path.stem)
        made, survivors = attack(path, cases, folders)
        total, alive = total + made, alive + len(survivors)
        say(f"{path.name}: {len(survivors)} of {made} survive")
    say(f"{alive} of {total} survive ({alive / max(total, 1):.1%})")
    return int(alive > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

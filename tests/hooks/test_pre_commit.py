"""The hooks as a person uses them: real `pre-commit` in a temporary git repository.

pre-commit takes the hooks from a repository of their own, which here holds our `.pre-commit-hooks.yaml` as it is. Only
`language` is replaced: `python` would build an environment from the registry, `system` runs the vaporqa under test.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
CONFIG = """\
repos:
  - repo: {hooks}
    rev: {rev}
    hooks:
      - id: vaporqa-check
        args: [., --fail-on, unproven]
        language: system
      - id: vaporqa-rules
        args: [site/rules]
        language: system
"""
RULE = """\
format: 1
topic: Vacuum of this site
about: The plan of this site is stricter than the rulebook.
rules:
  - id: yard-purge-vacuum
    title: Vacuum while purging, by the plan
    why: A high vacuum draws outside air in at joints.
    row: purges
    check: bound
    measure: purge_vacuum
    limits:
      highest:
        at_most: 90 inH2O
        source: {document: Sampling plan, publisher: The project, year: 2025, place: "3"}
        backing: practice
    consequence: {highest: {detect: J-, nondetect: UJ}, no_evidence: unproven}
    reaches: sample
    say:
      highest: "The line was under a vacuum of {measured} in {key} (limit: {limit})."
      no_evidence: "The vacuum of the purge {key} cannot be judged: {missing} is not recorded."
    examples:
      - {name: exactly at the limit, row: {vacuum_highest: 90 inH2O}, expect: holds}
      - {name: just over, row: {vacuum_highest: 91 inH2O}, expect: {broken: highest}}
      - {name: not written down, row: {flow: 100 mL/min}, expect: unproven}
"""


def _run(command: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def _git(folder: Path, *arguments: str) -> str:
    done = _run(["git", *arguments], folder)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def _commit(folder: Path) -> tuple[int, str]:
    """Commit everything, hooks included; return git's code and what was said."""
    _git(folder, "add", "--all")
    done = _run(["git", "commit", "--quiet", "--message", "a step"], folder)
    return done.returncode, done.stdout + done.stderr


def _everything(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and ".git" not in path.relative_to(folder).parts
    }


@pytest.fixture
def repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository with a project folder that is in order, its own rule, and both hooks."""
    for name in [name for name in os.environ if name.startswith(("GIT_", "PRE_COMMIT"))]:
        monkeypatch.delenv(name)
    for who in ("AUTHOR", "COMMITTER"):
        monkeypatch.setenv(f"GIT_{who}_NAME", "crew A")
        monkeypatch.setenv(f"GIT_{who}_EMAIL", "crew-a@example.invalid")
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.devnull)
    monkeypatch.setenv("PRE_COMMIT_HOME", str(tmp_path / "pre-commit"))
    monkeypatch.setenv("VAPORQA_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("PATH", os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]))

    hooks = tmp_path / "hooks"
    hooks.mkdir()
    _git(hooks, "init", "--quiet")
    shutil.copy(ROOT / ".pre-commit-hooks.yaml", hooks)
    _git(hooks, "add", "--all")
    _git(hooks, "commit", "--quiet", "--message", "hooks")

    home = tmp_path / "repository"
    shutil.copytree(ROOT / "sample_inputs" / "larkspur-yard", home / "data" / "larkspur-yard")
    (home / "site" / "rules").mkdir(parents=True)
    (home / "site" / "rules" / "vacuum.yaml").write_text(RULE)
    (home / "notes.txt").write_text("nothing that a hook looks at\n")
    (home / ".pre-commit-config.yaml").write_text(CONFIG.format(hooks=hooks, rev=_git(hooks, "rev-parse", "HEAD")))
    _git(home, "init", "--quiet")
    done = _run(["pre-commit", "install"], home)
    assert done.returncode == 0, done.stdout + done.stderr
    return home


def _replaced(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))


def test_the_manifest_is_valid() -> None:
    done = _run([sys.executable, "-m", "pre_commit", "validate-manifest", ".pre-commit-hooks.yaml"], ROOT)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_commits_in_a_repository(repository: Path) -> None:
    # In order: both hooks run and let it pass.
    before = _everything(repository)
    code, said = _commit(repository)
    assert code == 0, said
    assert said.count("Passed") == 2
    assert _everything(repository) == before
    assert _git(repository, "status", "--porcelain", "--ignored") == ""

    # A vacuum that was written 3O with a letter: line 2 of the form, its tenth field.
    form = repository / "data" / "larkspur-yard" / "purges.csv"
    header, first = form.read_text().splitlines()[:2]
    assert header.split(",")[9] == "vacuum_highest [inH2O]"
    fields = first.split(",")
    _replaced(form, first, ",".join([*fields[:9], "3O", *fields[10:]]))
    broken = _everything(repository)
    code, said = _commit(repository)
    assert code == 1
    assert "purges.csv:2:10" in said
    assert "'3O'" in said
    assert _everything(repository) == broken
    assert _git(repository, "log", "--oneline").count("a step") == 1

    # Mended: it passes, the folder's earlier answer at hand. The rules were not touched, so their hook does not run.
    form.write_bytes(before["data/larkspur-yard/purges.csv"])
    (repository / "data" / "larkspur-yard" / "judgements.yaml").write_text("format: 1\njudgements: []\n")
    code, said = _commit(repository)
    assert code == 0, said
    assert "(no files to check)Skipped" in said

    # What no hook looks at is committed without a review.
    (repository / "notes.txt").write_text("changed\n")
    code, said = _commit(repository)
    assert code == 0, said
    assert said.count("Skipped") == 2


@pytest.mark.parametrize(
    ("path", "old", "new", "said"),
    [
        # Where the value stands: line 3 after "time_zone: ".
        ("data/larkspur-yard/project.yaml", "\ntime_zone: America/Boise", "\ntime_zone: America/Boisee",
         "project.yaml:3:12: there is no time zone 'America/Boisee'; did you mean America/Boise"),
        ("site/rules/vacuum.yaml", "at_most: 90", "at_mots: 90", "vacuum.yaml:13:9"),
        ("site/rules/vacuum.yaml", "row: {vacuum_highest: 90 inH2O}", "row: {vacuum_highest: 90.1 inH2O}",
         "vacuum.yaml:22"),
    ],
)  # fmt: skip
def test_what_stops_a_commit(repository: Path, path: str, old: str, new: str, said: str) -> None:
    _replaced(repository / path, old, new)
    before = _everything(repository)
    code, text = _commit(repository)
    assert code == 1
    assert said in text
    assert _everything(repository) == before

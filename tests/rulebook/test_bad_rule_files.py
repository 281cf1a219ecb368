"""Every bad rule file says in its own comments what must be said of it, and where.

``#! anchor | message | mend`` at the end of a line, once or more: the column is where the anchor begins in that line.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from rule_words import WORDS

from vaporqa.errors import RulebookError
from vaporqa.rulebook import load_rulebook

HERE = Path(__file__).parent
BAD_TOPICS = sorted((HERE / "bad").glob("*.yaml"))
BAD_PROFILES = sorted((HERE / "bad" / "profiles").glob("*.yaml"))


def expected(path: Path) -> list[tuple[int, int, str, str]]:
    found = []
    for number, line in enumerate(path.read_text().splitlines(), start=1):
        code, *marks = line.split("#! ")
        for mark in marks:
            anchor, message, mend = (part.strip() for part in (mark + " ").split(" | ", 2))
            assert anchor in code, f"{path.name}:{number}: the anchor {anchor!r} is not in the line"
            found.append((number, code.index(anchor) + 1, message, mend))
    return sorted(found)


def problems_of(folder: Path) -> list[tuple[int, int, str, str]]:
    with pytest.raises(RulebookError) as raised:
        load_rulebook(shipped=folder, vocabulary=WORDS)
    return sorted((one.line, one.column, one.message, one.mend) for one in raised.value.problems)


@pytest.mark.parametrize("path", BAD_TOPICS, ids=lambda path: path.stem)
def test_everything_wrong_with_a_rule_file_is_said_at_once(path: Path, tmp_path: Path) -> None:
    shutil.copy(path, tmp_path)
    assert problems_of(tmp_path) == expected(path)


@pytest.mark.parametrize("path", BAD_PROFILES, ids=lambda path: path.stem)
def test_everything_wrong_with_a_profile_is_said_at_once(path: Path, tmp_path: Path) -> None:
    shutil.copytree(HERE / "good", tmp_path, dirs_exist_ok=True)
    shutil.copy(path, tmp_path / "profiles")
    assert problems_of(tmp_path) == expected(path)


def test_all_files_are_judged_in_one_go(tmp_path: Path) -> None:
    for name in ("alias.yaml", "no_rules.yaml"):
        shutil.copy(HERE / "bad" / name, tmp_path)
    assert problems_of(tmp_path) == sorted(
        expected(HERE / "bad" / "alias.yaml") + expected(HERE / "bad" / "no_rules.yaml")
    )


def test_a_problem_shows_file_line_column_caret_and_mend(tmp_path: Path) -> None:
    shutil.copy(HERE / "bad" / "no_rules.yaml", tmp_path)
    with pytest.raises(RulebookError) as raised:
        load_rulebook(shipped=tmp_path, vocabulary=WORDS)
    first = str(raised.value).splitlines()[:3]
    assert first[0] == "rules/no_rules.yaml:1:9: '2' is not known here; write one of: 1"
    assert first[1].startswith("    format: 2")
    assert first[2] == "    " + " " * 8 + "^"

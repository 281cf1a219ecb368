"""Which shipped profiles move a row of a sample folder: those that do not are listed here by hand, and by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.comparing import compare_reviews
from vaporqa.intake import load_project, read_folder
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook

ROOT = Path(__file__).parents[2]
#: Profiles under which no row of any folder can end otherwise: what they change never moves a standing or a qualifier.
MOVES_NOTHING = {
    "hawaii": "only lifts the note on a string that was drawn back between 1 and 2 in",
    "landfill": "only turns a note on",
    "pipeline": "only moves a caution, which touches no row",
}


@pytest.fixture(scope="module")
def moving() -> set[str]:
    """Profiles that move at least one row of at least one folder."""
    waiting = {path.stem for path in (ROOT / "rules" / "profiles").glob("*.yaml")}
    books = {name: load_rulebook(profiles=[name]) for name in waiting}
    found: set[str] = set()
    for folder in sorted(path for path in (ROOT / "sample_inputs").iterdir() if path.is_dir()):
        project = load_project(folder)
        tables = read_folder(folder, project)
        own = load_rulebook(profiles=project.profiles)
        before = review_folder(project, tables, own)
        for name in sorted(waiting - found):
            if compare_reviews(before, review_folder(project, tables, books[name])).moved:
                found.add(name)
    return found


def test_every_profile_moves_a_row_or_is_listed(moving: set[str]) -> None:
    every = {path.stem for path in (ROOT / "rules" / "profiles").glob("*.yaml")}
    assert every - moving == set(MOVES_NOTHING)

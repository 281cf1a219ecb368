"""project.yaml, rule files, profiles and judgements of any bytes: read, or refused; never a fault, never long."""

from __future__ import annotations

from pathlib import Path

import pytest
from hostile import anything, many, mutated, survives
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.intake import load_project, read_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.rulebook.judgement_file import read_judgements
from vaporqa.rulebook.vocabulary import Vocabulary

ROOT = Path(__file__).parents[2]
PROJECTS = [path.read_bytes() for path in sorted((ROOT / "sample_inputs").glob("*/project.yaml"))]
RULES = [(ROOT / "rules" / name).read_bytes() for name in ("purge.yaml", "shut_in.yaml", "decontamination.yaml")]
PROFILES = [path.read_bytes() for path in sorted((ROOT / "rules" / "profiles").glob("*.yaml"))]
JUDGEMENTS = [
    b"""format: 1
judgements:
  - finding: purge-volumes/purges/P-1
    date: 2024-05-02
    by: reviewer A
    why: the volume stands on the second page
    effect: note
    detect: "-"
    nondetect: "-"
    original: {effect: estimate, detect: J, nondetect: UJ}
    fingerprint: 0123456789abcdef0123456789abcdef
"""
]
TABLE = b"location_id,note\nL-1,first\n"
WORDS = Vocabulary.installed()


@pytest.fixture(scope="module")
def bare(tmp_path_factory) -> Path:
    """A rulebook of its own, so that one file is judged at a time."""
    return tmp_path_factory.mktemp("bare")


@many(150)
@given(data=st.one_of(mutated(PROJECTS, True), anything()))
def test_project_files(tmp_path, data):
    (tmp_path / "project.yaml").write_bytes(data)
    (tmp_path / "locations.csv").write_bytes(TABLE)
    survives(lambda: read_folder(tmp_path, load_project(tmp_path)))


@many(40)
@given(data=st.one_of(mutated(RULES, True), anything()))
def test_rule_files(tmp_path, bare, data):
    (tmp_path / "own.yaml").write_bytes(data)
    survives(lambda: load_rulebook(shipped=bare, further=[tmp_path / "own.yaml"], vocabulary=WORDS))


@many(60)
@given(data=st.one_of(mutated(PROFILES, True), anything()))
def test_profiles(tmp_path, bare, data):
    (tmp_path / "own.yaml").write_bytes(data)
    survives(lambda: load_rulebook(shipped=bare, further=[tmp_path / "own.yaml"], vocabulary=WORDS))


@many(150)
@given(data=st.one_of(mutated(JUDGEMENTS, True), anything()))
def test_judgements(data):
    survives(lambda: read_judgements(data))

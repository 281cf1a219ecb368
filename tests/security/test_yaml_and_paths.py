"""YAML that multiplies, nests, makes objects or names files outside: refused with its place, at once."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from vaporqa.errors import FolderError, RulebookError, VaporqaError
from vaporqa.intake import load_project, read_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.rulebook.judgement_file import load_judgements

HEAD = "project: P\ntime_zone: UTC\nlab_time_zone: UTC\n"
BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join(['*' + old] * 9)}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)
ATTACKS = {
    "aliases that multiply": (BOMB, "an anchor (&name) is not understood"),
    "lists in lists": ("project: " + "[" * 100_000, "exceeded maximum nesting depth"),
    "lists in lists, fewer": ("project: " + "[" * 50 + "]" * 50, "nested deeper than 40 levels"),
    "mappings in mappings": ("".join(f"{' ' * n}a:\n" for n in range(60)), "nested deeper than 40 levels"),
    "an object of the language": ("project: !!python/object/apply:os.system ['true']\n", "a tag ("),
    "a file of another place": ("project: !include /etc/hostname\n", "a tag (!include) is not understood"),
    "a second document": (HEAD + "---\n" + HEAD, "a second document starts here"),
    "more than a person writes": ("project: " + "x" * 1_000_001, "at most 1,000,000 are read"),
    "a merge of an anchor": ("base: &b {a: 1}\n<<: *b\n", "an anchor (&name) is not understood"),
}


@pytest.mark.parametrize("attack", list(ATTACKS))
@pytest.mark.parametrize("kind", ["project", "rules", "judgements"])
def test_refused_at_once(tmp_path, kind, attack):
    text, said = ATTACKS[attack]
    name = {"project": "project.yaml", "rules": "own.yaml", "judgements": "judgements.yaml"}[kind]
    (tmp_path / name).write_text(text)
    bare = tmp_path / "bare"
    bare.mkdir()
    began = time.monotonic()
    with pytest.raises((FolderError, RulebookError)) as refused:
        if kind == "project":
            load_project(tmp_path)
        elif kind == "rules":
            load_rulebook(shipped=bare, further=[tmp_path / name])
        else:
            load_judgements(tmp_path)
    assert said in str(refused.value)
    assert len(str(refused.value)) < 2000
    assert time.monotonic() - began < 10


@pytest.fixture
def folder(tmp_path) -> Path:
    """A project folder beside things that are none of its own."""
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "locations.csv").write_text("location_id\nSECRET\n")
    (tmp_path / "outside" / "rules.yaml").write_text("SECRET: yes\n")
    (tmp_path / "outside" / "judgements.yaml").write_text("SECRET: yes\n")
    inside = tmp_path / "folder"
    inside.mkdir()
    (inside / "project.yaml").write_text(HEAD)
    (inside / "samples.csv").write_text("sample_id\nS-1\n")
    return inside


def refusal(folder: Path, more: str = "") -> str:
    (folder / "project.yaml").write_text(HEAD + more)
    with pytest.raises(VaporqaError) as refused:
        project = load_project(folder)
        read_folder(folder, project)
        load_rulebook(extra=[Path(one) for one in project.rules], folder=folder)
        load_judgements(folder)
    assert "SECRET" not in str(refused.value)
    return str(refused.value)


@pytest.mark.parametrize(
    "name", ["../outside/locations.csv", "../outside/*.csv", "*/../../outside/*.csv", "./../outside/locations.csv"]
)
def test_a_table_that_lies_outside(folder, name):
    (folder / "inner").mkdir()
    assert "leaves the project folder" in refusal(folder, f"tables: {{locations: {{file: '{name}'}}}}\n")


def test_a_table_named_from_the_root(folder):
    path = folder.parent / "outside" / "locations.csv"
    assert "leaves the project folder" in refusal(folder, f"tables: {{locations: {{file: '{path}'}}}}\n")


@pytest.mark.parametrize("name", ["way/locations.csv", "way/*.csv", "w*/l*.csv", "way/../way/locations.csv"])
def test_a_table_behind_a_linked_folder(folder, name):
    (folder / "way").symlink_to(folder.parent / "outside", target_is_directory=True)
    assert "leaves the project folder" in refusal(folder, f"tables: {{locations: {{file: '{name}'}}}}\n")


@pytest.mark.parametrize("name", ["locations.csv", "locations.tsv"])
def test_a_table_that_is_a_link(folder, name):
    (folder / name).symlink_to(folder.parent / "outside" / "locations.csv")
    assert "the link leaves the project folder" in refusal(folder)


def test_a_link_to_a_device_is_no_table(folder):
    (folder / "locations.csv").symlink_to("/dev/zero")
    assert "the link leaves the project folder" in refusal(folder)


def test_a_pipe_is_no_table(folder):
    os.mkfifo(folder / "locations.csv")
    assert "this is not a regular file" in refusal(folder)


@pytest.mark.parametrize("name", ["../outside/rules.yaml", "../outside", "inner/../../outside/rules.yaml"])
def test_rules_that_lie_outside(folder, name):
    (folder / "inner").mkdir()
    assert "lies outside the project folder" in refusal(folder, f"rules: ['{name}']\n")


def test_rules_named_from_the_root(folder):
    path = folder.parent / "outside" / "rules.yaml"
    assert "lies outside the project folder" in refusal(folder, f"rules: ['{path}']\n")


def test_rules_behind_links(folder):
    (folder / "own").mkdir()
    (folder / "own" / "one.yaml").symlink_to(folder.parent / "outside" / "rules.yaml")
    assert "leaves the project folder" in refusal(folder, "rules: [own]\n")
    (folder / "way").symlink_to(folder.parent / "outside", target_is_directory=True)
    assert "lies outside the project folder" in refusal(folder, "rules: [way]\n")


@pytest.mark.parametrize("name", ["project.yaml", "judgements.yaml"])
def test_a_file_of_ours_that_is_a_link(folder, name):
    (folder / name).unlink(missing_ok=True)
    (folder.parent / "outside" / "project.yaml").write_text(HEAD + "SECRET: yes\n")
    (folder / name).symlink_to(folder.parent / "outside" / name)
    with pytest.raises(FolderError, match="the link leaves the project folder") as refused:
        load_project(folder)
        load_judgements(folder)
    assert "SECRET" not in str(refused.value)


def test_a_zone_is_no_path(folder):
    (folder / "project.yaml").write_text("project: P\ntime_zone: ../../../etc/hostname\n")
    with pytest.raises(FolderError, match="there is no time zone"):
        load_project(folder)

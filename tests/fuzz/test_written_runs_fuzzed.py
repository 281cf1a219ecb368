"""Folders of runs of which any file was mangled: compared, or refused; never a fault, never long."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from hostile import anything, many, mutated, survives
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.cli import run
from vaporqa.errors import FolderError
from vaporqa.library import compare_written
from vaporqa.report.compared_runs import runs_csv, runs_page, runs_text
from vaporqa.verifying import changed_since, read_manifest

FILES = ("run.json", "review.json", "findings.csv", "flags/locations.csv")
VALUES: list[Any] = [
    None, 0, -1, 1e308, True, "", "x", [], {}, [[]], [1], [{}], {"a": 1}, {"a": []}, "\x1b[2J", "../../x", "\ud800",
]  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Path:
    """A project folder and its run."""
    home = tmp_path_factory.mktemp("whole")
    (home / "project").mkdir()
    (home / "project" / "project.yaml").write_text("project: P\ntime_zone: UTC\nlab_time_zone: UTC\n")
    (home / "project" / "locations.csv").write_text("location_id,note\nL-1,first\nL-1,second\nM,\n")
    assert run(["check", str(home / "project"), "--out", str(home / "run"), "--fail-on", "never"]) == 0
    return home / "run"


def copied(whole: Path, tmp_path: Path) -> Path:
    shutil.rmtree(tmp_path / "run", ignore_errors=True)
    shutil.copytree(whole, tmp_path / "run")
    return tmp_path / "run"


def with_right_sum(folder: Path, name: str) -> None:
    """As somebody would do who forges: run.json states what now stands there."""
    path = folder / "run.json"
    stated = json.loads(path.read_bytes())
    if isinstance(stated, dict) and isinstance(stated.get("written"), dict):
        stated["written"][name] = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        path.write_text(json.dumps(stated))


def everything(one: Path, other: Path) -> None:
    def compare() -> None:
        found = compare_written(one, other)
        runs_text(found)
        runs_csv(found)
        runs_page(found)

    survives(compare)

    def verify() -> None:
        manifest = read_manifest(other)
        str(changed_since(manifest, manifest.folder, {}))

    survives(verify)


@many(40)
@given(name=st.sampled_from(FILES), data=st.data())
def test_files_of_a_run_that_were_mangled(whole, tmp_path, name, data):
    folder = copied(whole, tmp_path)
    base = (folder / name).read_bytes()
    (folder / name).write_bytes(data.draw(st.one_of(mutated([base], True), anything())))
    if name != "run.json":
        with_right_sum(folder, name)
    everything(whole, folder)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(place for key, one in inner for place in places(one, (*path, key)))]


@many(25)
@given(name=st.sampled_from(("run.json", "review.json")), data=st.data())
def test_json_of_a_run_with_another_value_somewhere(whole, tmp_path, name, data):
    folder = copied(whole, tmp_path)
    value = json.loads((folder / name).read_bytes())
    top = data.draw(st.sampled_from(sorted(value)))
    place = data.draw(st.sampled_from(places(value[top], (top,))))
    at = value
    for key in place[:-1]:
        at = at[key]
    at[place[-1]] = data.draw(st.sampled_from(VALUES))
    (folder / name).write_text(json.dumps(value))
    if name != "run.json":
        with_right_sum(folder, name)
    everything(whole, folder)
    everything(folder, whole)


@pytest.mark.parametrize(
    "stated",
    [
        {"options": {"profile": 5}}, {"options": {"rules": [5]}}, {"options": {"flags_as": {"a": 1}}},
        {"options": {"flags_as": ["nowhere"]}}, {"options": {"pdf": "yes"}}, {"options": []},
        {"written": {"../x": "0"}}, {"inputs": {"/etc/hostname": "0"}}, {"inputs": {"\0": "0"}}, {"versions": []},
    ],
)  # fmt: skip
def test_a_received_run_json_steers_nothing(whole, tmp_path, stated):
    folder = copied(whole, tmp_path)
    found = json.loads((folder / "run.json").read_bytes())
    (folder / "run.json").write_text(json.dumps({**found, **stated}))
    with pytest.raises(FolderError, match="this is not what a run writes"):
        read_manifest(folder)


@pytest.mark.parametrize("name", ["review.json", "run.json"])
def test_deeply_nested_json_is_refused(whole, tmp_path, capsys, name):
    folder = copied(whole, tmp_path)
    (folder / name).write_text("[" * 100_000)
    assert run(["compare", str(whole), str(folder)]) == 2
    assert run(["verify", str(folder)]) == (2 if name == "run.json" else 1)
    if name == "review.json":  # no folder of ours any more: nothing in it is touched
        assert run(["check", str(whole.parent / "project"), "--out", str(folder)]) == 2
    assert "fault in vaporqa" not in capsys.readouterr().err

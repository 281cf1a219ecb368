"""``vaporqa verify``: the same, or the first difference, whatever was touched since."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from vaporqa.cli import run

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"


@pytest.fixture
def written(tmp_path) -> tuple[Path, Path]:
    """A project folder and its run."""
    shutil.copytree(SAMPLE, tmp_path / "project")
    out = tmp_path / "run"
    assert (
        run(["check", str(tmp_path / "project"), "--out", str(out), "--flags-as", "parquet", "--profile", "michigan"])
        == 0
    )
    return tmp_path / "project", out


def test_a_run_comes_out_again_byte_for_byte(written, capsys):
    capsys.readouterr()
    assert run(["verify", str(written[1])]) == 0
    assert "came out again, byte for byte" in capsys.readouterr().out


def test_a_folder_that_moved_is_named(written, tmp_path, capsys):
    written[0].rename(tmp_path / "elsewhere")
    assert run(["verify", str(written[1])]) == 2
    assert "the project folder of this run is not there; name it with --folder" in capsys.readouterr().err
    assert run(["verify", str(written[1]), "--folder", str(tmp_path / "elsewhere")]) == 0


@pytest.mark.parametrize(
    ("touch", "said"),
    [
        (lambda project, out: (out / "findings.csv").write_text("x"), "file of the run"),
        (lambda project, out: (out / "flags" / "purges.csv").unlink(), "is not there"),
        (lambda project, out: (project / "purges.csv").write_text("purge_id\n"), "input"),
        (lambda project, out: (project / "purges.csv").unlink(), "is not there"),
    ],
)
def test_what_was_touched_since_is_named(written, capsys, touch, said):
    touch(*written)
    assert run(["verify", str(written[1])]) == 1
    text = capsys.readouterr().out
    assert "Not the same" in text
    assert said in text


def test_a_result_that_was_forged_with_its_sum_is_found_by_the_second_run(written, capsys):
    out = written[1]
    path = out / "flags" / "results.csv"
    content = path.read_bytes()
    line = next(number for number, one in enumerate(content.splitlines(), 1) if b",usable," in one)
    path.write_bytes(content.replace(b",usable,", b",rejected,", 1))
    manifest = json.loads((out / "run.json").read_text())
    manifest["written"]["flags/results.csv"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (out / "run.json").write_text(json.dumps(manifest))
    assert run(["verify", str(out)]) == 1
    assert f"flags/results.csv:{line}: was '" in capsys.readouterr().out


def test_rules_named_from_here_are_found_again(tmp_path, monkeypatch):
    shutil.copytree(SAMPLE, tmp_path / "project")
    (tmp_path / "own.yaml").write_text("format: 1\nprofile: own\nabout: Ours.\nchoose: {compare: rounded}\n")
    monkeypatch.chdir(tmp_path)
    assert run(["check", "project", "--out", "run", "--rules", "own.yaml", "--profile", "own"]) == 0
    monkeypatch.chdir(tmp_path.parent)
    assert run(["verify", str(tmp_path / "run")]) == 0


def test_a_rule_file_of_the_project_that_changed_is_named(tmp_path, capsys):
    shutil.copytree(SAMPLE, tmp_path / "project")
    own = tmp_path / "own.yaml"
    profile = (
        "format: 1\nprofile: own\nabout: Ours.\nlimits:\n"
        "  purge-volumes.enough: {at_least: %s, source: {reasoning: ours}, backing: practice}\n"
    )
    own.write_text(profile % "2")
    arguments = ["check", str(tmp_path / "project"), "--out", str(tmp_path / "run"), "--rules", str(own)]
    assert run([*arguments, "--profile", "own"]) == 0
    assert run(["verify", str(tmp_path / "run")]) == 0
    own.write_text(profile % "2.5")
    capsys.readouterr()
    assert run(["verify", str(tmp_path / "run")]) == 1
    assert "rule file" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "this folder holds no run (no run.json); name the folder that"),
        ("[", "run.json: this is not what a run writes"),
        ("[1]", "run.json: this is not what a run writes"),
        ('{"folder": 1}', "run.json: this is not what a run writes"),
    ],
)
def test_what_is_no_run_is_refused(tmp_path, capsys, content, said):
    if content is not None:
        (tmp_path / "run.json").write_text(content)
    assert run(["verify", str(tmp_path)]) == 2
    assert said in capsys.readouterr().err

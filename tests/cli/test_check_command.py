"""``vaporqa check``: options in, exit code out. The review itself is stood in for by one whose standings are known."""

from __future__ import annotations

import datetime as dt
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import vaporqa.cli as cli

sys.path.insert(0, str(Path(__file__).parent.parent / "report"))
from made_reviews import made_review, write_folder

from vaporqa import library

Check = Callable[..., object]


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """Every folder gets the one standing that the test puts here, on its first result."""
    worst = {"standing": 0}

    def check(folder: str | Path, *, profile: object = None, rules: object = ()) -> object:
        review = made_review(Path(folder), standing={"results": [worst["standing"], 0, 0, 0, 0, 0]})
        return library.Checked(library.Report.of(review), {}, dt.datetime.now(dt.UTC))

    monkeypatch.setattr(library, "check", check)
    return worst


@pytest.mark.parametrize(
    ("standing", "level", "code"),
    [
        (0, "estimated", 0), (1, "estimated", 1), (1, "unproven", 0), (2, "unproven", 1), (2, "rejected", 0),
        (3, "rejected", 1), (3, "never", 0),
    ],
)  # fmt: skip
def test_fail_on(stand_in: dict[str, int], tmp_path: Path, standing: int, level: str, code: int) -> None:
    stand_in["standing"] = standing
    folder = write_folder(tmp_path / "yard")
    assert cli.run(["check", str(folder), "--fail-on", level]) == code


def test_rejected_is_the_default_level(stand_in: dict[str, int], tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "yard")
    stand_in["standing"] = 2
    assert cli.run(["check", str(folder)]) == 0
    stand_in["standing"] = 3
    assert cli.run(["check", str(folder)]) == 1


def test_without_out_nothing_is_written(
    stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = write_folder(tmp_path / "yard")
    before = sorted(tmp_path.rglob("*"))
    cli.run(["check", str(folder)])
    assert sorted(tmp_path.rglob("*")) == before
    assert "Nothing was written" in capfd.readouterr().out


def test_out_and_formats(stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = write_folder(tmp_path / "yard")
    arguments = ["check", str(folder), "--out", str(tmp_path / "out"), "--format", "json",
                 "--format", f"sarif={tmp_path / 'f' / 'one.sarif'}"]  # fmt: skip
    assert cli.run(arguments) == 0
    assert json.loads(capfd.readouterr().out) == json.loads((tmp_path / "out" / "review.json").read_bytes())
    assert json.loads((tmp_path / "f" / "one.sarif").read_bytes())["version"] == "2.1.0"


def test_several_folders_under_one_path(stand_in: dict[str, int], tmp_path: Path) -> None:
    for name in ("north", "south"):
        write_folder(tmp_path / "projects" / name)
    assert cli.run(["check", str(tmp_path / "projects"), "--out", str(tmp_path / "out")]) == 0
    assert sorted(path.parent.name for path in (tmp_path / "out").glob("*/review.json")) == ["north", "south"]


def test_one_bad_folder_of_several_counts_and_the_others_are_reviewed(
    tmp_path: Path, stand_in: dict[str, int], capfd: pytest.CaptureFixture[str]
) -> None:
    write_folder(tmp_path / "p" / "north")
    write_folder(tmp_path / "p" / "south", project="project: [broken\n")
    assert cli.run(["check", str(tmp_path / "p"), "--out", str(tmp_path / "out")]) == 2
    assert (tmp_path / "out" / "north" / "review.json").is_file()
    assert not (tmp_path / "out" / "south").exists()
    assert "south/project.yaml" in capfd.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "nowhere"], "there is no such folder"),
        (["check", "{yard}", "--format", "sarf"], "did you mean 'sarif'?"),
        (["check", "{yard}", "--format", "json="], "names no file"),
        (["check", "{yard}", "--format", "json", "--format", "text"], "printed into one another"),
        (["check", "{yard}", "--out", "{yard}"], "among the tables"),
        (["check", "{yard}", "--fail-on", "bad"], "--fail-on"),
        (["check"], "Missing argument"),
        (["chek", "x"], "No such command"),
        (["tables", "reslts"], "did you mean 'results'?"),
    ],
)  # fmt: skip
def test_what_cannot_start_exits_2_and_says_why(
    arguments: list[str], said: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    yard = write_folder(tmp_path / "yard")
    assert cli.run([one.format(yard=yard) for one in arguments]) == 2
    captured = capfd.readouterr()
    assert said in captured.err
    assert captured.out == ""


def test_a_fault_saves_its_trace_and_exits_3(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> object:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(library, "check", broken)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert cli.run(["check", str(write_folder(tmp_path / "yard"))]) == 3
    said = capfd.readouterr().err
    trace = next(tmp_path.glob("vaporqa-fault-*.txt"))
    assert str(trace) in said
    assert "on purpose" in trace.read_text()


def test_interrupted_exits_130(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr(library, "check", stopped)
    assert cli.run(["check", str(write_folder(tmp_path / "yard"))]) == 130


def test_a_closed_pipe_is_quiet() -> None:
    command = f"{sys.executable} -m vaporqa tables results | head -1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("results: ")


def test_colour_is_never_forced_on_a_pipe(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "vaporqa", "--help"]
    done = subprocess.run(command, capture_output=True, check=True, env={**os.environ, "NO_COLOR": "1"})
    assert b"\x1b" not in done.stdout


def test_requests_are_written_beside_everything_else(
    stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = write_folder(tmp_path / "yard")
    for suffix, start in ((".md", "# Evidence asked for"), (".TXT", "Evidence asked for"), (".html", "<!doctype"),
                          (".csv", "supplier,request,")):  # fmt: skip
        target = tmp_path / f"letter{suffix}"
        assert cli.run(["check", str(folder), "--requests", str(target)]) == 0
        assert target.read_text(encoding="utf-8").startswith(start)
    assert "results of field samples" in capfd.readouterr().out


def test_requests_of_a_kind_that_is_not_understood(
    stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = write_folder(tmp_path / "yard")
    assert cli.run(["check", str(folder), "--requests", "letter.docx"]) == 2
    assert capfd.readouterr().err == (
        "letter.docx: a list of requests cannot be written as '.docx'; "
        "name a file that ends in .md, .txt, .html, .csv\n"
    )


def test_requests_serve_one_folder(stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for name in ("north", "south"):
        write_folder(tmp_path / "p" / name)
    target = tmp_path / "letter.md"
    assert cli.run(["check", str(tmp_path / "p"), "--requests", str(target)]) == 2
    assert not target.exists()
    assert capfd.readouterr().err == (
        "vaporqa: a list of requests serves one folder, and there are 2; check the folders one by one\n"
    )


def test_requests_never_replace_an_input(
    stand_in: dict[str, int], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = write_folder(tmp_path / "yard")
    before = (folder / "results.csv").read_bytes()
    assert cli.run(["check", str(folder), "--requests", str(folder / "results.csv")]) == 2
    assert (folder / "results.csv").read_bytes() == before
    assert "this is one of the files that were checked; name another file" in capfd.readouterr().err


def test_a_profile_that_project_yaml_misspells_is_told_with_its_place(tmp_path, capsys):
    (tmp_path / "project.yaml").write_text(
        "project: P\ntime_zone: UTC\nlab_time_zone: UTC\nprofile: [illinois, hawai]\n"
    )
    (tmp_path / "results.csv").write_text("sample_id,analyte,result,unit\nA,benzene,1,ug/m3\n")
    assert cli.run(["check", str(tmp_path), "--profile", "michigen"]) == 2
    said = capsys.readouterr().err
    assert "project.yaml:4:21: there is no profile 'hawai'; did you mean 'hawaii'?" in said
    assert "vaporqa: there is no profile 'michigen'; did you mean 'michigan'?" in said

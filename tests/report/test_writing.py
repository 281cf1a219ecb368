"""The folder of a run: same bytes, stale files gone, strangers' folders refused, tables untouched."""

from __future__ import annotations

import errno
import hashlib
import json
from pathlib import Path

import pytest
from made_reviews import made_review, write_folder

from vaporqa.errors import OutputError
from vaporqa.report import aside, writing
from vaporqa.report.writing import Report, write_run
from vaporqa.review.values import Review


def hashes(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_a_run_has_its_files_and_its_inputs_stay_as_they_were(review: Review, tmp_path: Path) -> None:
    before = hashes(tmp_path / "yard")
    out = write_run(Report.of(review), tmp_path / "out")
    assert set(hashes(out)) == {
        "report.html", "findings.csv", "review.json", "run.json",
        "flags/results.csv", "flags/samples.csv", "flags/tracer_tests.csv",
    }  # fmt: skip
    assert hashes(tmp_path / "yard") == before


def test_two_runs_have_the_same_bytes(review: Review, tmp_path: Path) -> None:
    first = hashes(write_run(Report.of(review), tmp_path / "one"))
    second = hashes(write_run(Report.of(review), tmp_path / "two"))
    del first["run.json"], second["run.json"]
    assert first == second


def test_run_json_names_what_was_written_and_read(review: Review, tmp_path: Path) -> None:
    out = write_run(Report.of(review), tmp_path / "out", command=["vaporqa", "check", "yard"])
    run = json.loads((out / "run.json").read_bytes())
    found = hashes(out)
    del found["run.json"]
    assert run["written"] == found
    assert run["command"] == ["vaporqa", "check", "yard"]
    assert run["inputs"]["results.csv"] == hashes(tmp_path / "yard")["results.csv"]
    assert run["folder"] == str((tmp_path / "yard").resolve())


def test_an_earlier_run_is_replaced_and_its_stale_files_go(review: Review, tmp_path: Path) -> None:
    out = write_run(Report.of(review), tmp_path / "out")
    (out / "kept.txt").write_text("mine")
    fewer = made_review(write_folder(tmp_path / "other", tracer_tests=""))
    write_run(Report.of(fewer), out)
    assert not (out / "flags" / "tracer_tests.csv").exists()
    assert (out / "kept.txt").read_text() == "mine"


def test_a_strangers_folder_is_refused_and_left_alone(review: Review, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "thesis.txt").write_text("mine")
    with pytest.raises(OutputError, match=r"not empty and holds no earlier run \(it has thesis.txt\)"):
        write_run(Report.of(review), out)
    assert [path.name for path in out.iterdir()] == ["thesis.txt"]


def test_somebody_elses_review_json_is_no_earlier_run(review: Review, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "review.json").write_text("[1, 2]")
    with pytest.raises(OutputError, match="no earlier run"):
        write_run(Report.of(review), out)


def test_the_project_folder_itself_is_refused(review: Review, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="among the tables"):
        write_run(Report.of(review), tmp_path / "yard")


def test_a_file_in_the_way_is_refused(review: Review, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("x")
    with pytest.raises(OutputError, match="a file, not a folder"):
        write_run(Report.of(review), tmp_path / "out")
    with pytest.raises(OutputError, match="a file stands where a folder is needed"):
        write_run(Report.of(review), tmp_path / "out" / "deeper")


def test_a_full_disk_is_said_and_nothing_is_left(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> bytes:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(writing, "page", full)
    with pytest.raises(OutputError, match="the disk is full"):
        write_run(Report.of(review), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_interrupt_while_clearing_up_leaves_nothing(
    review: Review, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, calls = aside.shutil.rmtree, []

    def interrupted(path: Path, **more: bool) -> None:
        calls.append(path)
        if len(calls) == 1:
            raise KeyboardInterrupt
        real(path, **more)

    monkeypatch.setattr(aside.shutil, "rmtree", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_run(Report.of(review), tmp_path / "out")
    assert not list((tmp_path / "out").glob(".vaporqa-*"))

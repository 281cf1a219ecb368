"""A run that is killed, finds no room, meets another or a changing file: the old run, the new, or clearly none."""

from __future__ import annotations

import datetime as dt
import errno
import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import vaporqa
from vaporqa.cli import run
from vaporqa.errors import FolderError, OutputError
from vaporqa.intake import folder as reading
from vaporqa.library import compare_written
from vaporqa.report import writing

TABLES = {"locations.csv": "location_id,note\nL-1,first\nL-1,second\nM,\n"}
OURS = {**os.environ, "PYTHONPATH": str(Path(vaporqa.__file__).parents[1])}
CHECK = """
import sys, time
from pathlib import Path
import vaporqa
from vaporqa.report import writing
checked = vaporqa.check(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
slow = float(sys.argv[3])
real = Path.replace
def replace(self, to):
    time.sleep(slow)
    return real(self, to)
Path.replace = replace
for _ in range(int(sys.argv[4])):
    checked.write(sys.argv[2])
"""


def project(home: Path, name: str, note: str) -> Path:
    folder = home / name
    folder.mkdir()
    (folder / "project.yaml").write_text("project: P\ntime_zone: UTC\nlab_time_zone: UTC\n")
    for table, text in TABLES.items():
        (folder / table).write_text(text.replace("first", note))
    return folder


@pytest.fixture
def two(tmp_path) -> tuple[Path, Path]:
    """Two project folders whose runs differ."""
    return project(tmp_path, "one", "first"), project(tmp_path, "two", "another")


def whole(out: Path) -> str:
    """Hash of the inputs of the run, if every file is as run.json states; empty where there is no whole run."""
    try:
        stated = json.loads((out / "run.json").read_bytes())
    except FileNotFoundError:
        return ""
    for name, digest in stated["written"].items():
        assert hashlib.sha256((out / name).read_bytes()).hexdigest() == digest, f"{name} is of another run"
    there = {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()}
    assert {name for name in there if not name.startswith(".vaporqa-")} == {*stated["written"], "run.json"}
    return str(stated["inputs"]["locations.csv"])


def started(folder: Path, out: Path, slow: float, times: int = 1) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", CHECK, str(folder), str(out), str(slow), str(times)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=OURS,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def go(process: subprocess.Popen[str]) -> None:
    assert process.stdin is not None
    process.stdin.write("go\n")
    process.stdin.flush()


def test_killed_at_any_moment_onto_an_earlier_run(two, tmp_path):
    out = tmp_path / "run"
    vaporqa.check(two[0]).write(out)
    old = whole(out)
    chance = random.Random(20)
    ended = set()
    for _ in range(4):
        process = started(two[1], out, 0.02)
        go(process)
        time.sleep(chance.uniform(0.0, 0.3))
        process.send_signal(signal.SIGKILL)
        process.wait()
        now = whole(out)
        ended.add(now)
        if not now:
            with pytest.raises(FolderError, match=r"run\.json: it is missing"):
                compare_written(out, out)
    vaporqa.check(two[0]).write(out)
    assert whole(out) == old
    assert not list(out.glob(".vaporqa-*")), "what the killed runs left behind is gone"


class Killed(BaseException):
    """Stands for the end of the process: nothing below catches it but `finally`."""


def test_killed_before_every_single_step_of_the_move(two, tmp_path, monkeypatch):
    one, other = (vaporqa.check(folder) for folder in two)
    other_hash = hashlib.sha256((two[1] / "locations.csv").read_bytes()).hexdigest()
    steps = 0
    for at in range(40):
        out = tmp_path / f"run-{at}"
        one.write(out)
        old = whole(out)
        count = 0
        real = {name: getattr(Path, name) for name in ("replace", "unlink")}

        def step(name, at=at, real=real):
            def stepped(self, *rest, **more):
                nonlocal count
                if count == at:
                    raise Killed
                count += 1
                return real[name](self, *rest, **more)

            return stepped

        with monkeypatch.context() as patched:
            for name in real:
                patched.setattr(Path, name, step(name))
            try:
                other.write(out)
            except Killed:
                pass
            else:
                steps = at
                assert whole(out) == other_hash
                break
        assert whole(out) in ("", old), "half of the new run is never taken for whole"
        one.write(out)
        assert whole(out) == old
    assert steps >= 5


def test_killed_while_the_first_run_was_moved(two, tmp_path, monkeypatch):
    checked = vaporqa.check(two[0])
    for at in range(5):
        out = tmp_path / f"first-{at}"
        real, left = Path.replace, [at]

        def replace(self, to, real=real, left=left):
            if not left[0]:
                raise Killed
            left[0] -= 1
            return real(self, to)

        with monkeypatch.context() as patched:
            patched.setattr(Path, "replace", replace)
            patched.setattr(writing, "clear", lambda aside: None)  # a killed process takes nothing away
            with pytest.raises(Killed):
                checked.write(out)
        assert whole(out) == ""
        checked.write(out)
        assert whole(out)
        assert not list(out.glob(".vaporqa-*"))


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_full_disk_leaves_the_earlier_run(two, tmp_path, monkeypatch, fault):
    out = tmp_path / "run"
    vaporqa.check(two[0]).write(out)
    old, checked = whole(out), vaporqa.check(two[1])
    real = writing._write
    for at in range(4):
        left = [at]

        def full(path, pieces, left=left):
            if not left[0]:
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(b"half")
                raise OSError(fault, os.strerror(fault))
            left[0] -= 1
            return real(path, pieces)

        monkeypatch.setattr(writing, "_write", full)
        with pytest.raises(OutputError) as told:
            checked.write(out)
        assert fault == errno.EIO or "the disk is full; nothing was put in place" in str(told.value)
        assert whole(out) == old
        assert not list(out.glob(".vaporqa-*"))


def test_a_file_that_may_not_grow_leaves_the_earlier_run(two, tmp_path):
    resource = pytest.importorskip("resource")
    out = tmp_path / "run"
    vaporqa.check(two[0]).write(out)
    old = whole(out)

    def bounded():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4000, 4000))

    command = [sys.executable, "-m", "vaporqa", "check", str(two[1]), "--out", str(out)]
    done = subprocess.run(
        command, check=False, capture_output=True, text=True, preexec_fn=bounded,
        env={**OURS, "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "it cannot be written (File too large)" in done.stderr
    assert whole(out) == old


def test_output_that_may_not_be_written_leaves_the_earlier_run(two, tmp_path, monkeypatch, capsys):
    out = tmp_path / "run"
    vaporqa.check(two[0]).write(out)
    old = whole(out)

    def refuses(*_, **__):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(writing.tempfile, "mkdtemp", refuses)
    assert run(["check", str(two[1]), "--out", str(out)]) == 2
    assert "writing there is not allowed; name a folder that you may write to with --out" in capsys.readouterr().err
    assert whole(out) == old


def test_two_runs_into_one_folder_end_as_one_of_them(two, tmp_path):
    out = tmp_path / "run"
    running = [started(folder, out, 0.003, times=6) for folder in two]
    for process in running:
        go(process)
    for process in running:
        _, error = process.communicate(timeout=120)
        assert process.returncode == 0, error
    assert whole(out) in {hashlib.sha256((folder / "locations.csv").read_bytes()).hexdigest() for folder in two}
    assert not list(out.glob(".vaporqa-*"))


def test_a_run_that_still_writes_keeps_its_own(two, tmp_path):
    out = tmp_path / "run"
    process = started(two[0], out, 0.15)
    go(process)
    while not list(out.glob(".vaporqa-*/run.json")) and process.poll() is None:
        time.sleep(0.005)
    vaporqa.check(two[1]).write(out)
    process.communicate(timeout=60)
    assert process.returncode == 0
    assert whole(out)


def test_a_clock_set_back_changes_nothing_but_run_json(two, tmp_path):
    checked, out = vaporqa.check(two[0]), tmp_path / "run"
    checked.write(out)
    before = {path.name: path.read_bytes() for path in out.rglob("*") if path.is_file() and path.name != "run.json"}
    writing.write_run(checked.report, out, began=dt.datetime(1999, 1, 1, tzinfo=dt.UTC), options=checked.options)
    for path in out.rglob("*"):
        os.utime(path, (0, 0))
    assert whole(out)
    after = {path.name: path.read_bytes() for path in out.rglob("*") if path.is_file() and path.name != "run.json"}
    assert before == after
    assert run(["verify", str(out), "--folder", str(two[0])]) == 0


def test_a_file_that_changes_while_it_is_read_is_said(two, monkeypatch):
    path = two[0] / "locations.csv"
    real = reading.read_text_file

    def slowly(*given, **more):
        found = real(*given, **more)
        path.write_text(path.read_text() + "N,came meanwhile\n")
        return found

    monkeypatch.setattr(reading, "read_text_file", slowly)
    with pytest.raises(FolderError, match=r"locations\.csv: the file changed while it was read; run again"):
        vaporqa.check(two[0])


def test_a_file_that_was_only_touched_while_it_is_read_is_read(two, monkeypatch):
    path = two[0] / "locations.csv"
    real = reading.read_text_file

    def touched(*given, **more):
        found = real(*given, **more)
        os.utime(path, (1, 1))
        return found

    monkeypatch.setattr(reading, "read_text_file", touched)
    assert vaporqa.check(two[0]).flags["locations"].shape[0] == 3


def test_a_file_that_goes_away_while_it_is_read_is_said(two, monkeypatch):
    real = reading.read_text_file

    def gone(*given, **more):
        found = real(*given, **more)
        (two[0] / "locations.csv").unlink()
        return found

    monkeypatch.setattr(reading, "read_text_file", gone)
    with pytest.raises(FolderError, match="the file changed while it was read"):
        vaporqa.check(two[0])


def test_a_project_folder_is_never_written(two, tmp_path):
    before = {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in two[0].iterdir()}
    shutil.rmtree(vaporqa.check(two[0]).write(tmp_path / "run"))
    assert before == {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in two[0].iterdir()}

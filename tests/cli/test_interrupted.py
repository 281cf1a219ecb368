"""Ctrl-C: exit code 130, and what stands in the report's folder is a whole run or nothing."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import vaporqa
from vaporqa.report import aside

ROOT = Path(__file__).parent.parent.parent
LARKSPUR = ROOT / "sample_inputs" / "larkspur-yard"


@pytest.fixture(autouse=True)
def listening() -> Iterator[None]:
    """What a shell starts in the background ignores Ctrl-C, and so would everything started from there."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large") / "yard"
    program = [sys.executable, str(ROOT / "tests" / "benchmarks" / "make_folder.py"), str(folder)]
    subprocess.run([*program, "--results", "100000"], check=True, capture_output=True)
    return folder


def _everything(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def _interrupted(folder: Path, out: Path, *, when: str) -> subprocess.CompletedProcess[str]:
    """Start a run and send it a real SIGINT: soon after its start, or when it has begun to write."""
    command = [sys.executable, "-m", "vaporqa", "check", str(folder), "--out", str(out)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        began = time.monotonic()
        if when == "soon":
            time.sleep(1)
        else:
            while not list(out.glob(".vaporqa-*/flags/*")):
                assert run.poll() is None, run.communicate()
                assert time.monotonic() - began < 120
                time.sleep(0.005)
        os.kill(run.pid, signal.SIGINT)
        said, complained = run.communicate(timeout=120)
    return subprocess.CompletedProcess(command, run.returncode, said, complained)


@pytest.mark.slow
@pytest.mark.parametrize("when", ["soon", "while it writes"])
@pytest.mark.parametrize("there", ["nothing", "an earlier run"])
def test_nothing_half_written(when: str, there: str, large: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    if there == "an earlier run":
        vaporqa.check(LARKSPUR).write(out)
    before = _everything(tmp_path)
    inputs = {path: path.stat().st_mtime_ns for path in large.iterdir()}
    done = _interrupted(large, out, when=when)
    # The line that the terminal writes ^C into is ended first.
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "\nvaporqa: interrupted.\n")
    assert _everything(tmp_path) == before
    assert out.exists() == (there == "an earlier run")
    assert {path: path.stat().st_mtime_ns for path in large.iterdir()} == inputs


def test_interrupted_inside_exec_exits_130_too(tmp_path: Path) -> None:
    """Where modules with dataclasses are imported, the interpreter would end by the signal itself."""
    (tmp_path / "stopped.py").write_text(
        "import vaporqa.cli as cli, vaporqa.cli.tables as tables\n"
        "def stop(*_, **__): exec('raise KeyboardInterrupt')\n"
        "tables.command.callback = stop\n"
        "cli.main(['tables'])"
    )
    done = subprocess.run([sys.executable, "-m", "stopped"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (130, "\nvaporqa: interrupted.\n")


def test_files_of_two_runs_are_never_among_each_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Interrupted between two files that are put in place, the others follow first."""
    out = vaporqa.check(LARKSPUR).write(tmp_path / "out")
    stated = json.loads((out / "run.json").read_bytes())["written"]
    replace, moved = Path.replace, []

    def interrupted(path: Path, target: Path) -> Path:
        moved.append(target.name)
        if len(moved) == 2:
            os.kill(os.getpid(), signal.SIGINT)
        return replace(path, target)

    handler = signal.getsignal(signal.SIGINT)
    checked = vaporqa.check(LARKSPUR, profile="illinois")
    monkeypatch.setattr(Path, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        checked.write(out)
    assert signal.getsignal(signal.SIGINT) is handler
    second = json.loads((out / "run.json").read_bytes())["written"]
    assert second != stated
    assert len(moved) == len(second) + 1
    assert {name: hashlib.sha256((out / name).read_bytes()).hexdigest() for name in second} == second
    assert not list(out.glob(".vaporqa-*"))


def test_interrupted_twice_still_tidies_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    checked = vaporqa.check(LARKSPUR)
    remove = aside.shutil.rmtree

    def interrupted(*_: object) -> bytes:
        raise KeyboardInterrupt

    def again(path: Path, *, ignore_errors: bool) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        remove(path, ignore_errors=ignore_errors)

    monkeypatch.setattr("vaporqa.report.page.page", interrupted)
    monkeypatch.setattr(aside.shutil, "rmtree", again)
    with pytest.raises(KeyboardInterrupt):
        checked.write(tmp_path / "out")
    assert not (tmp_path / "out").exists()

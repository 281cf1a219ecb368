"""The line on the terminal: there after half a second, rewritten in place, gone at the end; never in a pipe."""

from __future__ import annotations

import io
import os
import pty
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from vaporqa.cli import own_process
from vaporqa.cli import progress as module
from vaporqa.cli.progress import progress

LARKSPUR = Path(__file__).parent.parent.parent / "sample_inputs" / "larkspur-yard"


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> _Terminal:
    screen = _Terminal()
    monkeypatch.setattr(module, "sys", SimpleNamespace(stderr=screen, modules=sys.modules))
    monkeypatch.setattr(own_process, "OURS", [True])
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(module, "SILENT_SECONDS", 0.1)
    monkeypatch.setattr(module, "EVERY_SECONDS", 0.05)
    return screen


def test_a_short_run_shows_nothing(terminal: _Terminal, tmp_path: Path) -> None:
    with progress(tmp_path) as tell:
        tell("reading the tables")
    assert terminal.getvalue() == ""


def test_a_long_run_shows_its_steps_and_takes_them_away(terminal: _Terminal, tmp_path: Path) -> None:
    with progress(tmp_path / "yard") as tell:
        tell("reading the tables")
        time.sleep(0.3)
        tell("judging")
        time.sleep(0.2)
    said = terminal.getvalue()
    shown = said.split("\r\x1b[K")
    assert shown[0] == shown[-1] == ""
    assert "yard: reading the tables (0 s)" in shown
    assert "yard: judging (0 s)" in shown
    assert "\n" not in said


def test_it_is_gone_before_anything_else_is_said(terminal: _Terminal, tmp_path: Path) -> None:
    with progress(tmp_path) as tell:
        time.sleep(0.25)
        tell("")
        terminal.write("the review\n")
        time.sleep(0.2)
    assert terminal.getvalue().endswith("\r\x1b[Kthe review\n")


def test_it_is_gone_after_a_failure(terminal: _Terminal, tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), progress(tmp_path):
        time.sleep(0.25)
        raise KeyboardInterrupt
    assert terminal.getvalue().endswith(")\r\x1b[K")


def test_a_folder_s_name_commands_no_terminal(terminal: _Terminal, tmp_path: Path) -> None:
    with progress(tmp_path / "\x1b[31myard"):
        time.sleep(0.25)
    assert "?[31myard: starting" in terminal.getvalue()


@pytest.mark.parametrize("why", ["a pipe", "a dumb terminal", "somebody else's process", "a worker"])
def test_silent_in(why: str, terminal: _Terminal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if why == "a pipe":
        monkeypatch.setattr(terminal, "isatty", lambda: False)
    elif why == "a dumb terminal":
        monkeypatch.setenv("TERM", "dumb")
    elif why == "a worker":
        monkeypatch.setattr("multiprocessing.process.parent_process", object)
    else:
        monkeypatch.setattr(own_process, "OURS", [])
    with progress(tmp_path) as tell:
        tell("judging")
        time.sleep(0.25)
    assert terminal.getvalue() == ""


@pytest.mark.slow
@pytest.mark.parametrize("on_terminal", [True, False])
def test_through_the_command(on_terminal: bool) -> None:
    """A whole run imports and reads for over half a second; stdout is the same with and without a terminal."""
    ours, theirs = pty.openpty() if on_terminal else os.pipe()
    command = [sys.executable, "-m", "vaporqa", "check", str(LARKSPUR), "--no-cache"]
    environment = {**os.environ, "TERM": "xterm"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=theirs, env=environment) as run:
        os.close(theirs)
        out = run.communicate()[0]
    said = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # a terminal whose other end is closed
            break
        if not piece:
            break
        said += piece
    os.close(ours)
    assert out.startswith(b"Larkspur Yard")
    if on_terminal:
        assert b"larkspur-yard: " in said
        assert said.endswith(b"\r\x1b[K")
    else:
        assert said == b""

"""What a long run is at, on one line of a terminal that is rewritten in place and gone at the end."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from vaporqa.cli import own_process

#: Says what the run is at; an empty text takes the line away for good.
Tell = Callable[[str], None]
#: A run shorter than this shows nothing; then the line is rewritten this often.
SILENT_SECONDS, EVERY_SECONDS = 0.5, 0.2
_TAKE_AWAY = "\r\x1b[K"


@contextmanager
def progress(folder: Path) -> Iterator[Tell]:
    """Show what is told while the body runs, where stderr is a terminal of a process of our own."""
    if not _may_show():
        yield _nothing
        return
    line = _Line(folder.resolve().name or str(folder))
    thread = threading.Thread(target=line.run, daemon=True)
    thread.start()
    try:
        yield line.tell
    finally:
        line.tell("")
        thread.join()


def _nothing(_: str) -> None:
    """Tell nobody."""


def _may_show() -> bool:
    if not own_process.OURS or os.environ.get("TERM", "dumb") == "dumb":
        return False
    # A process that another one of ours started shares its terminal: several would write over one another's line.
    of_processes = sys.modules.get("multiprocessing.process")
    if of_processes is not None and of_processes.parent_process() is not None:
        return False
    return sys.stderr is not None and sys.stderr.isatty()


class _Line:
    """One line of the terminal, written by a thread of its own so that no step has to look at the clock."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._step = "starting"
        self._began = time.monotonic()
        self._ended = threading.Event()
        self._lock = threading.Lock()
        self._shown = False

    def tell(self, step: str) -> None:
        with self._lock:
            if step:
                self._step = step
                return
            self._ended.set()
            if self._shown:
                self._shown = False
                self._write(_TAKE_AWAY)

    def run(self) -> None:
        wait = SILENT_SECONDS
        while not self._ended.wait(wait):
            wait = EVERY_SECONDS
            with self._lock:
                if self._ended.is_set():
                    return
                text = f"{self._name}: {self._step} ({time.monotonic() - self._began:.0f} s)"
                self._shown = True
                # One column is left free: a full line would make the terminal start another.
                self._write(_TAKE_AWAY + _printable(text)[: _width() - 1])

    @staticmethod
    def _write(text: str) -> None:
        try:
            sys.stderr.write(text)
            sys.stderr.flush()
        except (OSError, ValueError):  # the terminal has gone away; the review goes on
            return


def _width() -> int:
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text)

"""Where a run is written before it is moved into place, and who holds a folder meanwhile."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

try:
    import fcntl
except ImportError:  # no such locks on Windows: runs into one folder at one time are then not kept apart
    fcntl = None  # type: ignore[assignment]

#: How the name of every file and folder begins that a run in progress writes.
ASIDE = ".vaporqa-"


def clear(aside: Path) -> None:
    """Take a folder away, whole, even where an interrupt comes meanwhile."""
    try:
        shutil.rmtree(aside, ignore_errors=True)
    except BaseException:
        shutil.rmtree(aside, ignore_errors=True)
        raise


@contextmanager
def held(folder: Path, *, wait: bool = False) -> Iterator[bool]:
    """Hold a folder, and yield whether it is held: not where another process has it, or the disk knows no locks.

    The system lets go when the process ends, however it ends; no lock file is left.

    Parameters
    ----------
    folder : Path
    wait : bool
        Until the other process lets go.
    """
    handle = -1
    taken = False
    try:
        if fcntl is not None:
            with contextlib.suppress(OSError):
                handle = os.open(folder, os.O_RDONLY)
                fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
                taken = True
        yield taken
    finally:
        if handle >= 0:
            os.close(handle)


def clear_left_over(out: Path) -> None:
    """Take away what runs left behind that were killed while they wrote; a run that still writes holds its own."""
    for entry in out.iterdir():
        if entry.name.startswith(ASIDE) and entry.is_dir() and not entry.is_symlink():
            with held(entry) as dead:
                if dead:
                    clear(entry)

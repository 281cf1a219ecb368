"""What is installed here, as lines that change when any part does that a review's outcome may hang on.

Names and stamps of files alone: `importlib.metadata` costs three times what the whole answer may.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent
#: A distribution's version stands in the name of its folder.
_VERSIONED = (".dist-info", ".egg-info", ".egg-link")
_ZONES = ("/usr/share/zoneinfo", "/usr/lib/zoneinfo", "/usr/share/lib/zoneinfo", "/etc/zoneinfo")


@cache
def shipped_rules() -> Path:
    """Return the folder of the shipped rules; where there is none the review itself says so.

    Raises
    ------
    FileNotFoundError
    """
    for folder in (_PACKAGE / "shipped_rules", _PACKAGE.parent / "rules"):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(_PACKAGE)


def installed() -> Iterator[str]:
    """Yield the interpreter, vaporqa's own code, every distribution with its version, and the time zones."""
    yield f"python {sys.version} {sys.platform} {sys.byteorder} {sys.flags.optimize}"
    # Size and time of change, as Python itself tells whether its compiled files still hold; so code that was changed
    # in place is other code, whatever its version says.
    yield from (f"code {line}" for line in _stamps(_PACKAGE, deep=True))
    for place in dict.fromkeys(path or os.curdir for path in sys.path):
        yield from (f"with {name}" for name, _ in _entries(Path(place)) if name.endswith(_VERSIONED))
    # The system's time zones count before those of the package tzdata.
    stated = os.environ.get("PYTHONTZPATH")
    yield f"zones {stated}"
    own = [sys.prefix + "/share/zoneinfo"] if stated is None else stated.split(os.pathsep)
    for place in (*own, *_ZONES):
        if place:
            yield from (f"zones {place} {line}" for line in _stamps(Path(place), deep=False))


def _entries(folder: Path) -> list[tuple[str, os.DirEntry[str]]]:
    if not folder.is_dir():
        return []
    with os.scandir(folder) as found:
        return sorted(((entry.name, entry) for entry in found), key=lambda pair: pair[0])


def _stamps(folder: Path, *, deep: bool, under: str = "") -> Iterator[str]:
    for name, entry in _entries(folder):
        if name == "__pycache__":
            continue
        if deep and entry.is_dir(follow_symlinks=False):
            yield from _stamps(folder / name, deep=True, under=f"{under}{name}/")
        else:
            here = entry.stat()
            yield f"{under}{name} {here.st_size} {here.st_mtime_ns}"

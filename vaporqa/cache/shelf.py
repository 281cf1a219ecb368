"""Where answers are kept: one file each in a folder of the user's own, written aside and moved into place.

Whoever can write there could make a folder with rejected rows answer "all usable". So a shelf counts only where it is a
folder and no link, belongs to the user who runs, and nobody else may write to it; and so does each entry.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import stat
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

from vaporqa.cache.keys import Key

#: Another folder for the answers; set, but empty: none are kept.
VARIABLE = "VAPORQA_CACHE"
ENTRY_AT_MOST, SHELF_AT_MOST = 8 << 20, 64 << 20
_FORMAT = 1
_ENDING, _ASIDE = ".answer", ".aside-"
_OURS = re.compile(r"[0-9a-f]{64}\.answer")
_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
#: What a run that was killed left aside; a run that is under way is younger.
_STALE_SECONDS = 3600
_WORST = range(4)


class Answer(NamedTuple):
    """What a review said: the bytes for the screen, and the worst standing of any row, as its number."""

    said: bytes
    worst: int


def shelf() -> Path | None:
    """Return the folder where answers are kept, which may not be there yet; None where none are."""
    stated = os.environ.get(VARIABLE)
    if stated is not None:
        return Path(stated) if stated else None
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        asked = os.environ.get("XDG_CACHE_HOME", "")
        # A relative path there is to be ignored: XDG Base Directory Specification 0.8.
        base = Path(asked) if Path(asked).is_absolute() else home / ".cache"
    return base / "vaporqa"


def lies_in(folder: Path) -> bool:
    """Whether answers would be kept inside a project folder, in which nothing is ever written."""
    home = shelf()
    try:
        return home is not None and home.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        return True


def find(key: Key) -> Answer | None:
    """Return the answer under a key; None where there is none that can be trusted."""
    entry = fetch(key.sha256)
    said, worst = entry.get("said"), entry.get("worst")
    if not isinstance(said, str) or type(worst) is not int or worst not in _WORST:
        return None
    return Answer(said.encode("utf-8"), worst)


def fetch(sha256: str) -> Mapping[str, object]:
    """Return what is kept under a key, as JSON values; empty where nothing is that can be trusted."""
    home = shelf()
    try:
        if home is None or not _is_ours(os.lstat(home), stat.S_ISDIR):
            return {}
        entry = _understood(_read(home / (sha256 + _ENDING)), sha256)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    with contextlib.suppress(OSError):
        os.utime(home / (sha256 + _ENDING))  # what is asked for stays longest
    return entry


def _read(path: Path) -> bytes:
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "rb") as file:
        here = os.fstat(handle)
        if not _is_ours(here, stat.S_ISREG) or here.st_size > 2 * ENTRY_AT_MOST + 100:
            raise ValueError(path)
        return file.read()


def _understood(data: bytes, sha256: str) -> Mapping[str, object]:
    digest, _, body = data.partition(b"\n")
    if digest.decode("ascii") != hashlib.sha256(body).hexdigest():
        raise ValueError(sha256)
    entry = json.loads(body)
    if not isinstance(entry, dict) or entry["format"] != _FORMAT or entry["key"] != sha256:
        raise ValueError(sha256)
    return entry


def _is_ours(here: os.stat_result, kind: Callable[[int], bool]) -> bool:
    if not kind(here.st_mode):
        return False
    if not hasattr(os, "geteuid"):  # another system's rights are not told by these bits
        return True
    return here.st_uid == os.geteuid() and not here.st_mode & _OTHERS_MAY_WRITE


def keep(key: Key, answer: Answer, inputs: Mapping[str, str], rule_files: Mapping[str, str]) -> bool:
    """Keep an answer where what was read is what its key was made of; return whether it was kept.

    Parameters
    ----------
    key : Key
    answer : Answer
    inputs, rule_files : mapping
        Files that the review read, name to sha256.
    """
    if len(answer.said) > ENTRY_AT_MOST or shelf() is None:
        return False
    if not key.stands_for(inputs, rule_files) or not key.still():
        return False
    return store(key.sha256, {"worst": answer.worst, "said": answer.said.decode("utf-8")})


def store(sha256: str, fields: Mapping[str, object]) -> bool:
    """Keep JSON values under a key; return whether they are kept."""
    home = shelf()
    if home is None:
        return False
    try:
        entry = {"format": _FORMAT, "key": sha256, **fields}
        body = json.dumps(entry, ensure_ascii=False).encode("utf-8")
        if len(body) > 2 * ENTRY_AT_MOST:
            return False
        _make(home)
        if not _is_ours(os.lstat(home), stat.S_ISDIR):
            return False
        _write(home, sha256 + _ENDING, hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
        _make_room(home)
    except (OSError, ValueError):
        return False
    return True


def _make(home: Path) -> None:
    if home.is_symlink() or home.exists():
        return
    above = next(folder for folder in home.absolute().parents if folder.exists())
    if hasattr(os, "geteuid") and os.geteuid() == 0 and above.stat().st_uid != 0:
        raise PermissionError(home)  # a folder of root's in somebody's home would keep its owner out for good
    home.parent.mkdir(parents=True, exist_ok=True)
    home.mkdir(mode=0o700, exist_ok=True)


def _write(home: Path, name: str, data: bytes) -> None:
    import tempfile  # start-up time: an answer that is kept already needs none

    handle, aside = tempfile.mkstemp(prefix=_ASIDE, dir=home)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(aside).replace(home / name)
    finally:
        with contextlib.suppress(OSError):
            Path(aside).unlink()


def _make_room(home: Path) -> None:
    """Take the oldest answers away until the rest fit, and what killed runs left aside."""
    kept: list[tuple[float, int, str]] = []
    with os.scandir(home) as found:
        for entry in found:
            with contextlib.suppress(OSError):  # another run may make room at the same time
                here = entry.stat(follow_symlinks=False)
                if _OURS.fullmatch(entry.name):
                    kept.append((here.st_mtime, here.st_size, entry.path))
                elif entry.name.startswith(_ASIDE) and time.time() - here.st_mtime > _STALE_SECONDS:
                    Path(entry.path).unlink()
    total = sum(size for _, size, _ in kept)
    for _, size, path in sorted(kept):
        if total <= SHELF_AT_MOST:
            break
        with contextlib.suppress(OSError):
            Path(path).unlink()
        total -= size

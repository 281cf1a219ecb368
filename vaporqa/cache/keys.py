"""The key of an answer: one sha256 over the folder, the rules, the options and the installation."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from vaporqa.cache.installation import installed, shipped_rules

# Start-up time: a named tuple is made in a third of the time of a dataclass, and nothing else is as dear here.

#: Shape of the key; another number makes every earlier answer unknown.
FORMAT, RULES_FORMAT = "vaporqa answer 1", "vaporqa rules 1"
_RULE_ENDINGS = (".yaml", ".yml")
#: Files whose bytes a review may read, whatever folder they lie in (judgements.yaml and project.yaml among them).
_READ = (".csv", ".tsv", ".xlsx", ".parquet", *_RULE_ENDINGS)
#: Files that are remarked on by name.
_NAMED = (*_READ, ".xls", ".xlsm", ".xlsb", ".xltm", ".xlam", ".txt", ".ods")
#: An earlier run's folder is known by this file, and passed over.
_RUN_FILE = "review.json"
#: Beyond these a folder is reviewed each time: to look through it would cost what the cache saves.
ENTRIES_AT_MOST, BYTES_AT_MOST = 50_000, 4 << 30


class Shows(NamedTuple):
    """What the screen shows: the format's name, and whether in colour."""

    name: str
    colour: bool


class _Entry(NamedTuple):
    """One entry of a folder as it was seen: what is said of it in the key, and what its reading can be told by."""

    said: str
    path: Path
    read: bool
    stamp: tuple[int, ...]


class Key(NamedTuple):
    """What an answer hangs on.

    Attributes
    ----------
    sha256 : str
    folder : Path
        Project folder as it was named.
    rules : tuple of str
        Paths of further rules, as they were named.
    contents : mapping
        Path of every file whose bytes count, to their sha256.
    entries : tuple
        What was seen of the folder and of the further rules.
    """

    sha256: str
    folder: Path
    rules: tuple[str, ...]
    contents: Mapping[str, str]
    entries: tuple[_Entry, ...]

    def still(self) -> bool:
        """Whether every entry of the folder and of the further rules is as it was when the key was made."""
        try:
            return tuple(_entries(self.folder, self.rules)) == self.entries
        except (OSError, ValueError):
            return False

    def stands_for(self, inputs: Mapping[str, str], rule_files: Mapping[str, str]) -> bool:
        """Whether the files that a review read, name to sha256, are those that the key was made of.

        A file that was changed while it was read, or that the key does not know, makes it another review's key.
        """
        shipped = shipped_rules()
        for name, sha256 in inputs.items():
            if self.contents.get(_plain(self.folder / name)) != sha256:
                return False
        for name, sha256 in rule_files.items():
            places = (Path(name), self.folder / name, shipped / name.removeprefix("rules/"))
            if sha256 not in [self.contents.get(_plain(place)) for place in places]:
                return False
        return "project.yaml" in inputs


def key_of(folder: Path, shows: Shows, profiles: Sequence[str], rules: Sequence[Path]) -> Key | None:
    """Return the key of what a review would show; None where no answer is kept.

    Parameters
    ----------
    folder : Path
        Project folder.
    shows : Shows
    profiles : sequence of str
        Names on top of the folder's own.
    rules : sequence of Path
        Further rule files or folders of them.

    Notes
    -----
    Under the key stand: every name in the folder on which a review remarks, the bytes of every file that it may read
    (those no table reads included: what a mapping's pattern finds is not known before it is read), the bytes of the
    shipped and of the further rules, the options, the format, the installation (see `vaporqa.cache.installation`). A
    rule file whose name ends otherwise than `.yaml` or `.yml` is not under the key; `Key.stands_for` then refuses.
    """
    stated = tuple(str(path) for path in rules)
    contents: dict[str, str] = {}
    try:
        if not (folder / "project.yaml").is_file():
            return None
        entries = tuple(_entries(folder, stated))
        if sum(entry.stamp[0] for entry in entries if entry.read) > BYTES_AT_MOST:
            return None
        whole = hashlib.sha256()
        for part in (FORMAT, shows.name, str(shows.colour), *_place(folder, shows), "\0profiles", *profiles):
            _add(whole, part)
        for entry in entries:
            _add(whole, entry.said)
            if entry.read:
                contents[_plain(entry.path)] = digest = sha256_of(entry.path)
                _add(whole, digest)
        contents |= _add_installation(whole)
    except (OSError, ValueError):
        return None
    return Key(whole.hexdigest(), folder, stated, contents, entries)


def rules_key(profiles: Sequence[str]) -> tuple[str, Mapping[str, str]] | None:
    """Return the key of the shipped rules under profiles, and the sha256 of each rule file by its path."""
    whole = hashlib.sha256()
    for part in (RULES_FORMAT, *profiles):
        _add(whole, part)
    try:
        contents = _add_installation(whole)
    except (OSError, ValueError):
        return None
    return whole.hexdigest(), contents


def _add_installation(whole: hashlib._Hash) -> dict[str, str]:
    contents = {}
    for path in _rule_files(shipped_rules()):
        contents[_plain(path)] = digest = sha256_of(path)
        _add(whole, f"shipped {path}")
        _add(whole, digest)
    for line in installed():
        _add(whole, line)
    return contents


def _place(folder: Path, shows: Shows) -> list[str]:
    """Annotations name files from where the command runs; nothing else says where the folder lies."""
    return [str(folder), str(folder.resolve()), str(Path.cwd())] if shows.name == "annotations" else []


def _add(whole: hashlib._Hash, part: str) -> None:
    """Add one part, so that no two lists of parts are the same bytes."""
    data = part.encode("utf-8", "surrogateescape")
    whole.update(len(data).to_bytes(8, "big") + data)


def _plain(path: Path) -> str:
    return os.path.normpath(path)


def _entries(folder: Path, rules: Sequence[str]) -> Iterator[_Entry]:
    """Yield what counts of the folder and of further rules, in the order of names; OSError or ValueError: no key."""
    seen = 0
    for number, root in enumerate((folder, *map(Path, rules))):
        yield _Entry(f"\0root {number} {rules[number - 1] if number else ''}", root, read=False, stamp=())
        if number and root.is_file():
            yield _entry(root.name, root, read=True)
            continue
        for name, entry in _walk(root):
            seen += 1
            if seen > ENTRIES_AT_MOST:
                raise ValueError(root)
            ending = "." + entry.name.rpartition(".")[2].lower()
            at_top = name == entry.name and not name.startswith((".", "~"))
            if at_top or ending in _NAMED or entry.name == _RUN_FILE:
                yield _entry(name, root / name, read=ending in _READ)


def _walk(root: Path, under: str = "") -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Yield every entry below a folder by its name from there; folders that are links are not entered."""
    with os.scandir(root / under) as found:
        entries = sorted(found, key=lambda entry: entry.name)
    for entry in entries:
        name = f"{under}/{entry.name}" if under else entry.name
        yield name, entry
        if entry.is_dir(follow_symlinks=False):
            yield from _walk(root, name)


def _entry(name: str, path: Path, *, read: bool) -> _Entry:
    here = path.lstat()
    said = f"{stat.S_IFMT(here.st_mode):o} {name}"
    if stat.S_ISLNK(here.st_mode):
        said += f" -> {path.resolve()}"
        if not path.exists():
            return _Entry(said + " (nowhere)", path, read=False, stamp=())
        here = path.stat()
        said += f" {stat.S_IFMT(here.st_mode):o}"
    if read and stat.S_ISREG(here.st_mode):
        return _Entry(said, path, True, (here.st_size, here.st_mtime_ns, here.st_ctime_ns, here.st_ino, here.st_dev))
    return _Entry(said, path, read=False, stamp=())


def _rule_files(home: Path) -> list[Path]:
    return [home / name for name, entry in _walk(home) if name.endswith(_RULE_ENDINGS) and entry.is_file()]


def sha256_of(path: Path) -> str:
    """Return the sha256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

"""Whether a run can be had again: what run.json states, against the files as they are now and against a second run."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any

from vaporqa.errors import FolderError, Problem

RUN_FILE = "run.json"
_MEND = "name the folder that `vaporqa check FOLDER --out DIR` wrote"
_SHOWN = 160


@dataclass(frozen=True, slots=True)
class Manifest:
    """What run.json states of a run.

    Attributes
    ----------
    out : Path
        Folder of the run.
    folder : Path
        Project folder that was reviewed.
    options : mapping
        What was asked for: `profile`, `rules`, `flags_as`.
    inputs, rule_files, written : mapping
        File name to sha256.
    version : str
        Of vaporqa.
    """

    out: Path
    folder: Path
    options: Mapping[str, Any]
    inputs: Mapping[str, str]
    rule_files: Mapping[str, str]
    written: Mapping[str, str]
    version: str


@dataclass(frozen=True, slots=True)
class Difference:
    """The first thing that is not the same: where, what was recorded, what is found."""

    place: str
    was: str
    now: str

    def __str__(self) -> str:
        return f"{self.place}: was {self.was}; is {self.now}"


def read_manifest(out: Path) -> Manifest:
    """Read run.json of a run's folder.

    Raises
    ------
    FolderError
        There is none, or it is not what a run writes.
    """
    path = Path(out) / RUN_FILE
    if not path.is_file():
        said = "there is no such folder" if not Path(out).is_dir() else f"this folder holds no run (no {RUN_FILE})"
        raise FolderError(Problem(str(out), 0, 0, said, _MEND))
    try:
        found = json.loads(path.read_bytes())
        folder, version = str(found["folder"]), str(found["versions"]["vaporqa"])
        inputs, rule_files, written = (
            {str(k): str(v) for k, v in found[name].items()} for name in ("inputs", "rule_files", "written")
        )
        options = _options(found["options"])
        if not all(_stays_inside(name) for name in (*inputs, *written)):
            raise ValueError
    except (OSError, ValueError, RecursionError, KeyError, TypeError, AttributeError) as error:
        raise FolderError(Problem(str(path), 0, 0, "this is not what a run writes", _MEND)) from error
    return Manifest(Path(out), Path(folder), options, inputs, rule_files, written, version)


def _options(stated: Mapping[str, Any]) -> dict[str, Any]:
    for name in ("profile", "rules", "flags_as"):
        given = stated.get(name, [])
        if not isinstance(given, list) or not all(isinstance(one, str) for one in given):
            raise TypeError
    if not isinstance(stated.get("pdf", False), bool) or not set(stated.get("flags_as", [])) <= {"parquet", "xlsx"}:
        raise TypeError
    return dict(stated)


def _stays_inside(name: str) -> bool:
    """A received run.json may not have files read, and their first line shown, that are no files of the run."""
    return not Path(name).is_absolute() and ".." not in Path(name).parts and "\0" not in name


def changed_since(manifest: Manifest, folder: Path, rule_files: Mapping[str, str]) -> Difference | None:
    """Return the first file of the run, of the project folder or of the rules that is not as recorded.

    Parameters
    ----------
    manifest : Manifest
    folder : Path
        Project folder now.
    rule_files : mapping
        Rule file to sha256, of the rulebook now.
    """
    found = _files(manifest.out, manifest.written, "file of the run", manifest.out)
    found = found or _files(folder, manifest.inputs, "input", folder)
    if found:
        return found
    for name in dict.fromkeys([*manifest.rule_files, *rule_files]):
        was, now = manifest.rule_files.get(name, ""), rule_files.get(name, "")
        if was != now:
            return Difference(f"rule file {name}", _digest(was), _digest(now))
    return None


def _files(home: Path, recorded: Mapping[str, str], what: str, shown: Path) -> Difference | None:
    for name, was in recorded.items():
        path = home / name
        now = _sha256(path)
        if was and now != was:
            return Difference(f"{what} {shown / name}", _digest(was), _digest(now))
    return None


def _sha256(path: Path) -> str:
    if not path.is_file():
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _digest(sha256: str) -> str:
    return f"sha256 {sha256[:16]}..." if sha256 else "not there"


def first_difference(old: Path, new: Path, names: Sequence[str]) -> Difference | None:
    """Return the first line of the first file in which two runs differ.

    Parameters
    ----------
    old, new : Path
        Folders of the two runs.
    names : sequence of str
        Files of either, relative to both.
    """
    for name in names:
        pair = [folder / name for folder in (old, new)]
        if not all(path.is_file() for path in pair):
            was, now = ("there" if path.is_file() else "not there" for path in pair)
            return Difference(name, was, now)
        if _sha256(pair[0]) != _sha256(pair[1]):
            return _first_line(name, *pair)
    return None


def _first_line(name: str, old: Path, new: Path) -> Difference:
    with old.open("rb") as one, new.open("rb") as other:
        for number, (was, now) in enumerate(zip_longest(one, other), start=1):
            if was != now:
                return Difference(f"{name}:{number}", _shown(was), _shown(now))
    return Difference(name, "other bytes", "other bytes")


def _shown(line: bytes | None) -> str:
    if line is None:
        return "no such line"
    text = line.decode("utf-8", "backslashreplace").rstrip("\r\n")
    return repr(text if len(text) <= _SHOWN else text[:_SHOWN] + "...")

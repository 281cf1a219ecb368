"""A small project folder, its review stood in for by what a review would have read."""

from __future__ import annotations

import hashlib
from pathlib import Path

from vaporqa.cache import Answer, Key, Shows, keep, key_of
from vaporqa.cache.installation import shipped_rules

TEXT = Shows("text", colour=False)
ANSWER = Answer("✓ everything usable\n".encode(), 0)


def write_yard(folder: Path) -> Path:
    (folder / "lab").mkdir(parents=True)
    (folder / "project.yaml").write_text("project: Yard\ntime_zone: America/Boise\n")
    (folder / "samples.csv").write_text("sample_id,kind\nS1,primary\n")
    (folder / "results.csv").write_text("sample_id,cas\nS1,71-43-2\n")
    return folder


def key(folder: Path, *, shows: Shows = TEXT, profiles: tuple[str, ...] = (), rules: tuple[Path, ...] = ()) -> Key:
    found = key_of(folder, shows, profiles, rules)
    assert found is not None
    return found


def inputs(folder: Path) -> dict[str, str]:
    return {name: digest(folder / name) for name in ("project.yaml", "samples.csv", "results.csv")}


def shipped() -> dict[str, str]:
    home = shipped_rules()
    return {f"rules/{path.relative_to(home).as_posix()}": digest(path) for path in home.rglob("*.yaml")}


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def kept(folder: Path, answer: Answer = ANSWER) -> Key:
    """Keep an answer as a review that read the folder as it stands would."""
    one = key(folder)
    assert keep(one, answer, inputs(folder), shipped())
    return one

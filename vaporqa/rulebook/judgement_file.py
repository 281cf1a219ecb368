"""judgements.yaml: what reviewers decided on single findings, read as strictly as a rule file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from vaporqa.errors import FolderError, Problem
from vaporqa.outcomes import Effect, Pair
from vaporqa.tables.yaml_nodes import SIZE_LIMIT

JUDGEMENT_FILE = "judgements.yaml"


@dataclass(frozen=True, slots=True)
class Judgement:
    """One decision on one finding.

    Attributes
    ----------
    finding : str
        Its id.
    date : date
    by, why : str
        Who decided, and the reason.
    effect, pair : Effect, Pair
        What the finding does from now on, and its letters.
    original_effect, original : Effect, Pair
        What the rule itself said.
    measured, limit : str
        What was looked at, for a person to read.
    fingerprint : str
        Of everything that was looked at: where it no longer fits, the judgement is not applied.
    superseded : date or None
        When a later judgement of the finding took its place.
    line : int
        Line of judgements.yaml; 0 for one that no file holds yet.
    """

    finding: str
    date: dt.date
    by: str
    why: str
    effect: Effect
    pair: Pair
    original_effect: Effect
    original: Pair
    measured: str
    limit: str
    fingerprint: str
    superseded: dt.date | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Judgements:
    """What judgements.yaml says: decisions in force and superseded ones, in the order of the file."""

    entries: tuple[Judgement, ...] = ()
    sha256: str = ""
    size: int = 0
    text: str = ""

    @property
    def in_force(self) -> tuple[Judgement, ...]:
        """Decisions that no later one superseded."""
        return tuple(one for one in self.entries if one.superseded is None)


NO_JUDGEMENTS = Judgements()


def load_judgements(folder: Path) -> Judgements:
    """Return what judgements.yaml of a project folder says; nothing where there is none.

    Raises
    ------
    FolderError
        The file is none, leaves the folder, or says something that is not understood; every problem is named.
    """
    path = judgement_path(folder)
    if not path.exists():
        return NO_JUDGEMENTS
    with path.open("rb") as file:
        data = file.read(SIZE_LIMIT + 1)
    return read_judgements(data)


def judgement_path(folder: Path) -> Path:
    """Return where judgements.yaml of a folder lies, any link inside the folder followed.

    Raises
    ------
    FolderError
        It lies outside the folder, or is no file.
    """
    path = Path(folder) / JUDGEMENT_FILE
    if path.is_symlink() and not path.resolve().is_relative_to(Path(folder).resolve()):
        raise FolderError(
            Problem(JUDGEMENT_FILE, 0, 0, "the link leaves the project folder", "copy the file into the folder")
        )
    if path.exists() and not path.is_file():
        raise FolderError(Problem(JUDGEMENT_FILE, 0, 0, "this is no file", "move it out of the project folder"))
    return path.resolve() if path.is_symlink() else path


def read_judgements(data: bytes) -> Judgements:
    """Return what the bytes of a judgements.yaml say.

    Raises
    ------
    FolderError
        With every problem at its line and column.
    """
    # Start-up time: most folders have no such file, and its shapes need pydantic.
    from vaporqa.rulebook.judgement_shapes import judgements_of

    return judgements_of(data)

"""The exceptions of vaporqa, and the located problem that they carry.

::

    VaporqaError
    ├── FolderError      the project folder or a table in it cannot be read as what it says it is
    ├── RulebookError    a rule file, profile or their combination does not load
    ├── UsageError       the call names something that does not exist (a profile, a rule, a table, a key)
    └── OutputError      the results cannot be written where they were asked for

Bad *data* never raises: it becomes a finding. Each error carries every problem that was found, not the first.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

#: What steers a screen, ends a line or turns the reading direction: C0 and C1 controls but the tab, line and paragraph
#: separators, and the format letters of Unicode 15 that a reader does not see.
_STEERS = re.compile(
    r"[\x00-\x08\x0a-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff]"
)
#: A build server takes a line for its command that begins with the one or holds one of the others.
_COMMANDS = re.compile(r"^(\s*)::|##(?=\[|vso)")


def harmless(text: str) -> str:
    r"""Return foreign text on one line, so that nothing in it steers a screen or is a command of a build server.

    Examples
    --------
    >>> harmless("a\x1b[31mb")
    'a\\x1b[31mb'
    >>> harmless("::error::x")
    ': :error::x'
    """
    out = _STEERS.sub(lambda found: found[0].encode("unicode_escape").decode(), text)
    return _COMMANDS.sub(lambda found: "## " if found[0] == "##" else f"{found[1]}: :", out)


def _of_one_width(text: str) -> str:
    """As `harmless`, letter for letter, so that a caret below still points at its place."""
    out = _STEERS.sub("\ufffd", text)
    return _COMMANDS.sub(lambda found: "#\ufffd" if found[0] == "##" else f"{found[1]}:\ufffd", out)


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing that is wrong, where, and how to mend it.

    Attributes
    ----------
    file : str
        Path as shown to a person, relative to the project folder where it lies inside it.
    line, column : int
        Physical position, both from 1; 0 where the whole file is meant.
    message : str
        What is wrong, without a full stop at the end.
    mend : str
        What to write instead; empty where nothing sensible can be said.
    excerpt : str
        The line of the file itself, for a caret to point into; may be empty.
    """

    file: str
    line: int
    column: int
    message: str
    mend: str = ""
    excerpt: str = ""

    def __str__(self) -> str:
        place = self.file
        if self.line:
            place += f":{self.line}:{max(self.column, 1)}"
        text = f"{place}: {self.message}" if place else self.message
        if self.mend:
            text += f"; {self.mend}"
        text = harmless(text)
        if self.excerpt and self.line:
            caret = " " * (max(self.column, 1) - 1) + "^"
            text += f"\n    {_of_one_width(self.excerpt)}\n    {caret}"
        return text


class VaporqaError(Exception):
    """Anything that vaporqa refuses to go on with; carries every problem found."""

    def __init__(self, problems: Problem | Iterable[Problem] | str) -> None:
        if isinstance(problems, str):
            problems = Problem("", 0, 0, problems)
        if isinstance(problems, Problem):
            problems = (problems,)
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class FolderError(VaporqaError):
    """The project folder, its project.yaml or one of its tables cannot be read."""


class RulebookError(VaporqaError):
    """A rule file or profile does not load, or two of them contradict each other."""


class UsageError(VaporqaError):
    """The call names something that does not exist."""


class OutputError(VaporqaError):
    """The results cannot be written."""


def nearest(word: str, known: Sequence[str], *, at_most: int = 1) -> list[str]:
    """Return the known words that `word` was probably meant to be, best first; empty where none is near."""
    folded: dict[str, str] = {}
    for name in known:
        folded.setdefault(name.casefold(), name)
    matches = difflib.get_close_matches(word.casefold(), list(folded), n=at_most, cutoff=0.6)
    return [folded[match] for match in matches]


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return ``did you mean 'x'?`` or an empty string."""
    found = nearest(word, known)
    return f"did you mean '{found[0]}'?" if found else ""

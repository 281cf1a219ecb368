"""Lines for a terminal of 80 columns: wrapped, coloured where wanted, and never a command of a build server."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 80
#: A mark a state, so that colour is never the only sign.
MARKS = {"holds": "●", "broken": "✕", "unproven": "?", "not reviewed": "–", "not concerned": "·"}
#: Select graphic rendition codes by word; only used where the screen wants colour.
_STYLES = {
    "reject": "31;1", "rejected": "31;1", "unproven": "35", "estimate": "33", "estimated": "33", "usable": "32",
    "note": "2", "caution": "31;1", "broken": "31;1", "holds": "32",
}  # fmt: skip


def wrapped(text: str, indent: str = "", hanging: str | None = None) -> Sequence[str]:
    """Return `text` in lines of at most 80 columns wherever no single word is wider."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def no_command(line: str) -> str:
    """A build server takes ``::`` at the start of a line, or ``##[`` anywhere in it, for a command of its own."""
    start = line.lstrip()
    out = line.replace("::", ": :", 1) if start.startswith("::") else line
    return out.replace("##[", "## [").replace("##vso[", "## vso[")


def styled(text: str, word: str, *, colour: bool) -> str:
    """Return `text` in the colour of a standing, effect or outcome."""
    return f"\x1b[{_STYLES[word]}m{text}\x1b[0m" if colour and word in _STYLES else text

"""A judgement written into the text of judgements.yaml: what stands there stays as it is, comments included."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from vaporqa.errors import FolderError, OutputError, Problem
from vaporqa.outcomes import Pair
from vaporqa.rulebook.judgement_file import JUDGEMENT_FILE, Judgement, Judgements, read_judgements

_HEAD = """\
# What reviewers decided on single findings. `vaporqa judge` adds to this file; `vaporqa check` reads it.
# An entry counts only while the values that it judged stand as they were (its fingerprint).
format: 1
judgements:
"""
_BY_HAND = "write the list as `judgements:` with one `- finding: ...` an entry, at the end of the file"


def with_judgement(before: Judgements, new: Judgement) -> bytes:
    """Return judgements.yaml with one entry more; an earlier one of the same finding is kept as superseded.

    Parameters
    ----------
    before : Judgements
        As `load_judgements` returns it; empty for a new file.
    new : Judgement

    Raises
    ------
    OutputError
        The file is written in a way to which no entry can be added, or would grow too large.
    """
    text = before.text or _HEAD
    ends = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines()
    old = next((one for one in before.in_force if one.finding == new.finding), None)
    indent = _indent(lines)
    if not before.entries:
        # An empty list (`judgements: []`) would not take another item.
        lines = [_opened(line) for line in lines]
    if old is not None:
        start = lines[old.line - 1] if old.line else ""
        inside = len(start) - len(start.lstrip(" -"))
        lines.insert(old.line, f"{' ' * inside}superseded: {new.date.isoformat()}")
    data = (ends.join([*lines, *_entry(new, indent)]) + ends).encode()
    _proved(data, before, new, old)
    return data


def _proved(data: bytes, before: Judgements, new: Judgement, old: Judgement | None) -> None:
    """Read the new text back: it must say what stood there and the new entry, and nothing else."""
    expected = [replace(one, superseded=new.date) if one is old else one for one in before.entries]
    try:
        found = read_judgements(data).entries
    except FolderError as error:
        said = error.problems[0]
        message = f"no entry can be added to the file as it is written ({said.message})"
        raise OutputError(Problem(JUDGEMENT_FILE, said.line, said.column, message, _BY_HAND)) from error
    if [replace(one, line=0) for one in found] != [replace(one, line=0) for one in (*expected, new)]:
        message = "no entry can be added to the file as it is written"
        raise OutputError(Problem(JUDGEMENT_FILE, 0, 0, message, _BY_HAND))


def _indent(lines: list[str]) -> int:
    """Blanks before the dash of the last entry."""
    dashes = [line for line in lines if line.lstrip(" ").startswith("- ")]
    return len(dashes[-1]) - len(dashes[-1].lstrip(" ")) if dashes else 0


def _opened(line: str) -> str:
    return "judgements:" if line.replace(" ", "").partition("#")[0] == "judgements:[]" else line


def _entry(one: Judgement, indent: int) -> list[str]:
    lines = [
        f"finding: {_quoted(one.finding)}",
        f"date: {_day(one.date)}",
        f"by: {_quoted(one.by)}",
        f"why: {_quoted(one.why)}",
        f"effect: {one.effect.word}",
        *_letters(one.pair),
        f"original: {{effect: {_quoted(one.original_effect.word)}, {', '.join(_letters(one.original))}}}",
        f"judged: {{measured: {_quoted(one.measured)}, limit: {_quoted(one.limit)}}}",
        f"fingerprint: {_quoted(one.fingerprint)}",
    ]
    blanks = " " * indent
    return [f"{blanks}{'  ' if number else '- '}{line}" for number, line in enumerate(lines)]


def _letters(pair: Pair) -> tuple[str, str]:
    return f"detect: {_quoted(pair.detect.word)}", f"nondetect: {_quoted(pair.nondetect.word)}"


def _day(day: dt.date) -> str:
    return day.isoformat()


def _quoted(text: str) -> str:
    """Return a text in double quotes, with whatever does not print written as its number."""
    out = []
    for letter in text:
        if letter in '"\\':
            out.append("\\" + letter)
        elif letter.isprintable():
            out.append(letter)
        else:
            code = ord(letter)
            out.append(f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}" if code < 65536 else f"\\U{code:08x}")
    return f'"{"".join(out)}"'

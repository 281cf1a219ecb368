"""A draft mapping as YAML: every entry with its reason as a comment, every open one with a question mark."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence

from vaporqa.intake.inspect_entries import DraftMapping, Entry
from vaporqa.report.wording import visible

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./]*(?: [A-Za-z0-9_./]+)*")
_NUMBER = re.compile(r"[1-9][0-9]*")
_NULLS = ("null", "~", "true", "false", "yes", "no", "on", "off", "y", "n")
#: A comment after its entry starts here where the entry leaves room.
_COMMENT_AT = 56
#: Keys of which each holds entries of its own.
_NESTED = ("columns", "formats", "missing", "values", "fixed", "lab_flags", "kinds", "units", "wide")
_NUMERIC = ("header_row", "skip_rows")
_ORDER = ("sheet", "header_row", "skip_rows", "columns", "wide", "formats", "date_only", "decimal", "missing", "values",
          "fixed", "lab_flags", "kinds", "units")  # fmt: skip


def quoted(text: str) -> str:
    r"""Return a text as YAML holds it; what steers a screen is escaped.

    Examples
    --------
    >>> quoted("Client ID"), quoted("? RL"), quoted("no"), quoted("a\x1b[31m")
    ('Client ID', '"? RL"', '"no"', '"a\\u001b[31m"')
    """
    if _PLAIN.fullmatch(text) and text.casefold() not in _NULLS:
        return text
    return "".join(
        letter
        if letter.isprintable()
        else f"\\u{ord(letter):04x}"
        if ord(letter) < 1 << 16
        else f"\\U{ord(letter):08x}"
        for letter in json.dumps(text, ensure_ascii=False)
    ).replace("##", "#\\u0023")  # two of them may begin a command of a build server


def draft_lines(drafts: Sequence[DraftMapping], file: str) -> list[str]:
    """Return the lines of `tables:` for project.yaml.

    Parameters
    ----------
    file : str
        Path of the file inside the project folder.
    """
    lines = ["tables:"]
    for draft in drafts:
        lines.append(f"  {draft.table}:")
        first = f"from: {draft.source}" if draft.source else f"file: {quoted(file)}"
        lines.append(f"    - {first}")
        lines += _mapping(draft.entries)
        if not draft.source and draft.unused:
            shown = ", ".join(visible(header, 60) for header in draft.unused[:30])
            more = f" and {len(draft.unused) - 30:,} more" if len(draft.unused) > 30 else ""
            lines.append(f"      # not mapped, kept as they are: {shown}{more}")
    return lines


def _mapping(entries: Sequence[Entry]) -> Iterator[str]:
    for key in _ORDER:
        of_key = [entry for entry in entries if entry.path[0] == key]
        if not of_key:
            continue
        if key not in _NESTED:
            # Two entries of one key, such as two columns of dates alone, are one list.
            texts = tuple(text for entry in of_key for text in entry.texts)
            reason = "; ".join(entry.reason for entry in of_key)
            yield _line(6, key, Entry((key,), texts, of_key[0].listed, reason), bare=key in _NUMERIC)
            continue
        yield f"      {key}:"
        if key != "values":
            for entry in of_key:
                yield _line(8, entry.path[1], entry)
            continue
        for column in dict.fromkeys(entry.path[1] for entry in of_key):
            yield f"        {column}:"
            for entry in of_key:
                if entry.path[1] == column:
                    yield _line(10, entry.path[2], entry)


def _line(indent: int, key: str, entry: Entry, *, bare: bool = False) -> str:
    texts = [text if bare and _NUMBER.fullmatch(text) else quoted(text) for text in entry.texts]
    value = f"[{', '.join(texts)}]" if entry.listed else texts[0]
    line = f"{' ' * indent}{quoted(key)}: {value}"
    return f"{line.ljust(_COMMENT_AT)}  # {visible(entry.reason, 400)}"

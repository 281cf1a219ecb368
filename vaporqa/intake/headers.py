"""Headers: ``name [unit]``, and how they are matched."""

from __future__ import annotations

import re
from dataclasses import dataclass

#: The pattern takes the square of the length; what is longer is the name of no column.
_LENGTH_LIMIT = 2_000
_HEADER = re.compile(r"(?P<name>[^\[\]]+?)\s*\[(?P<unit>[^\[\]]*)\]")


@dataclass(frozen=True, slots=True)
class Header:
    """One header of a file.

    Attributes
    ----------
    text : str
        Folded: white space and line breaks become one blank, none at the ends.
    name : str
        The part before ``[unit]``, or all of it.
    unit : str or None
        What stands in the brackets; None without brackets.
    field : int
        Physical field number in the file, from 1.
    """

    text: str
    name: str
    unit: str | None
    field: int


def fold(text: str) -> str:
    """Return `text` with white space and line breaks folded to single blanks, none at the ends."""
    return " ".join(text.replace("\ufeff", "").split())


def read_header(text: str, field: int) -> Header:
    """Return the header in `text`, the `field`-th of its file.

    Examples
    --------
    >>> read_header(" depth_top  [ft]", 3)
    Header(text='depth_top [ft]', name='depth_top', unit='ft', field=3)
    """
    folded = fold(text)
    match = _HEADER.fullmatch(folded) if len(folded) <= _LENGTH_LIMIT else None
    if match is None:
        return Header(folded, folded, None, field)
    return Header(folded, match["name"].strip(), match["unit"].strip(), field)


def repeated(headers: list[Header]) -> list[tuple[Header, Header]]:
    """Return each pair of headers that are the same, the empty ones apart."""
    seen: dict[str, Header] = {}
    pairs = []
    for header in headers:
        if header.text and header.text in seen:
            pairs.append((seen[header.text], header))
        seen.setdefault(header.text, header)
    return pairs

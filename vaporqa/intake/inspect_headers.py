"""Where the table begins in a stranger's file: rows that may be the header, the preamble above, units below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from vaporqa.intake.headers import fold
from vaporqa.intake.headings import known_headings, plain
from vaporqa.intake.inspect_files import TopRow
from vaporqa.intake.numbers import numbered
from vaporqa.quantities.units import nearest_units, parse_unit

#: A rival this near the best makes the header row a question.
_NEAR = 0.4
#: Rows under a candidate that are compared with it.
_BELOW = 8
_LIKE_VALUE = re.compile(
    r"[<>]?\s*[+-]?[0-9.,]+(?:\s*[A-Za-z*]{1,2})?|ND|[0-9]{1,4}[/.-][0-9A-Za-z]{1,3}[/.-][0-9]{1,4}.*"
    r"|[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?(?: ?[AaPp][Mm])?"
)
#: What a row of units says of columns that have none.
_NO_UNIT = re.compile(
    r"[-–—().\s]*|\(?(?:text|date|time|none|n/a|unitless|dimensionless|[mdyhs/:\- ]{6,})\)?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class HeaderCandidate:
    """A row that may hold the column names.

    Attributes
    ----------
    row : int
        Physical, from 1.
    score : float
        Comparable within one file only.
    cells : tuple of str
        Folded.
    filled, width : int
        Cells with content, and cells of the widest row near the top.
    known : int
        Cells that are headings which the trade uses.
    values : int
        Cells that look like numbers or dates.
    repeats : int
        Cells whose text stands in the row a second time.
    over_values : int
        Columns of texts here and of numbers or dates in the rows below.
    """

    row: int
    score: float
    cells: tuple[str, ...]
    filled: int
    width: int
    known: int
    values: int
    repeats: int
    over_values: int


@dataclass(frozen=True, slots=True)
class HeaderPlace:
    """Where the table begins.

    Attributes
    ----------
    candidates : tuple of HeaderCandidate
        Best first, three at most; the first is taken.
    sure : bool
        No other row comes near it.
    preamble : tuple of TopRow
        Rows with content above the header.
    units_rows : tuple of int
        Physical rows under the header that name units and nothing else.
    units : tuple of str
        Unit that such a row gives each column, as written; empty where none.
    """

    candidates: tuple[HeaderCandidate, ...]
    sure: bool
    preamble: tuple[TopRow, ...]
    units_rows: tuple[int, ...]
    units: tuple[str, ...]

    @property
    def row(self) -> int:
        """The header's physical row."""
        return self.candidates[0].row


def find_header(top: Sequence[TopRow], declared: int = 0) -> HeaderPlace | None:
    """Return where the table begins.

    Parameters
    ----------
    top : sequence of TopRow
        The first rows of the file.
    declared : int
        The physical row that a person says is the header; 0 to look for it.

    Returns
    -------
    HeaderPlace or None
        None where no row (or not the declared one) has content.
    """
    width = max((row.filled for row in top), default=0)
    found = [_candidate(row, top[at + 1 :], width) for at, row in enumerate(top) if row.filled]
    if declared:
        found = [one for one in found if one.row == declared]
    if not found:
        return None
    ordered = sorted(found, key=lambda one: (-one.score, one.row))
    best = ordered[0]
    # A header that stands again further down is no rival.
    rivals = [one for one in ordered[1:] if one.cells != best.cells]
    sure = bool(declared) or not rivals or best.score - rivals[0].score > _NEAR
    under = [row for row in top if row.row > best.row]
    units_rows, units = _units(under, len(best.cells))
    preamble = tuple(row for row in top if row.row < best.row and row.filled)
    return HeaderPlace((best, *rivals[:2]), sure, preamble, units_rows, units)


def _candidate(row: TopRow, below: Sequence[TopRow], width: int) -> HeaderCandidate:
    cells = tuple(fold(cell) for cell in row.cells)
    texts = [cell for cell in cells if cell]
    values = sum(_is_value(cell) for cell in texts)
    known = sum(_bare(cell) in known_headings() for cell in texts)
    repeats = len(texts) - len(set(texts))
    over = sum(
        bool(cell) and not _is_value(cell) and _values_below(at, below)
        for at, cell in enumerate(cells)
    )  # fmt: skip
    count = max(len(texts), 1)
    score = (
        len(texts) / max(width, 1)
        + (count - values) / count
        + 2 * known / count
        + over / count
        - 0.5 * repeats / count
        - (0.5 if not any(one.filled for one in below) else 0)
    )
    return HeaderCandidate(row.row, score, cells, len(texts), width, known, values, repeats, over)


def _bare(text: str) -> str:
    return plain(re.sub(r"[\[(][^\])]*[\])]", " ", text)) or plain(text)


def _is_value(text: str) -> bool:
    number = numbered(text)
    return _LIKE_VALUE.fullmatch(text) is not None or (number is not None and number.end() == len(text))


def _values_below(at: int, below: Sequence[TopRow]) -> bool:
    cells = [row.cells[at].strip() for row in below[:_BELOW] if at < len(row.cells) and row.cells[at].strip()]
    return bool(cells) and sum(_is_value(cell) for cell in cells) * 2 > len(cells)


def _units(under: Sequence[TopRow], width: int) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Return rows right under the header that name units and nothing else, and the unit of each column."""
    units = [""] * width
    rows = []
    for row in under:
        cells = [fold(cell) for cell in row.cells]
        filled = [cell for cell in cells if cell]
        if not filled:
            continue
        named = [cell for cell in filled if unit_in(cell)]
        others = [cell for cell in filled if not unit_in(cell) and not _NO_UNIT.fullmatch(cell)]
        if not named or others:
            break
        for at, cell in enumerate(cells[:width]):
            units[at] = units[at] or (unit_in(cell) if cell else "")
        rows.append(row.row)
    return tuple(rows), tuple(units)


def unit_in(text: str) -> str:
    """Return the unit that a cell names, its brackets aside; also one that can be read in two ways, such as ``ppb``.

    Examples
    --------
    >>> unit_in("(ug/m3)"), unit_in("ppb"), unit_in("Benzene")
    ('ug/m3', 'ppb', '')
    """
    bare = re.fullmatch(r"[\[(]\s*(.*?)\s*[\])]", text.strip())
    inside = bare[1] if bare else text.strip()
    if not inside or len(inside) > 24:
        return ""
    if parse_unit(inside) is not None:
        return inside
    return inside if len(inside) <= 6 and is_two_units(inside) else ""


def is_two_units(text: str) -> bool:
    """Whether a spelling is no unit here because it can be read as more than one."""
    return parse_unit(text) is None and text.casefold() in ("ppb", "ppm", "ppt", "psig", "psia", "lel") and bool(
        nearest_units(text)
    )  # fmt: skip

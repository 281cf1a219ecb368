"""Lines of the files, quoted on the page: a place that the page names leads to what stands there."""

from __future__ import annotations

from dataclasses import dataclass, field

from vaporqa.report.places import row_place
from vaporqa.report.wording import visible
from vaporqa.review.values import Review

_CELL, _CELLS = 80, 40


@dataclass(frozen=True, slots=True)
class Quoted:
    """One row as its file has it: its anchor, place, and the filled cells as (header, text)."""

    anchor: str
    place: str
    cells: tuple[tuple[str, str], ...]
    left_out: int


@dataclass(slots=True)
class FileLines:
    """Gathers the rows that the page names, each once, as long as there is room.

    Parameters
    ----------
    review : Review
    room : int
        Rows quoted at most.
    """

    review: Review
    room: int
    named: dict[tuple[str, int], str] = field(default_factory=dict)

    def anchor(self, table: str, row: int) -> str:
        """Return the anchor of a row; empty for a whole table, a made row, or where there is no more room."""
        home = self.review.tables.get(table)
        if row < 0 or home is None or home.cells is None:
            return ""
        if (table, row) not in self.named:
            if len(self.named) >= self.room:
                return ""
            self.named[table, row] = f"line-{table}-{row + 1}"
        return self.named[table, row]

    def quoted(self) -> list[Quoted]:
        """Return the rows that were named, by table and row."""
        return [self._quote(table, row, anchor) for (table, row), anchor in sorted(self.named.items(), key=_by_place)]

    def _quote(self, table: str, row: int, anchor: str) -> Quoted:
        home = self.review.tables.tables[table]
        file = home.cells.file_of(row)
        cells = [(str(header), str(home.cells.cell(row, header))) for header in home.cells.headers(file)]
        filled = [(header, text) for header, text in cells if text and text != "None"]
        shown = tuple((visible(header, _CELL), visible(text, _CELL)) for header, text in filled[:_CELLS])
        return Quoted(anchor, row_place(home, row), shown, max(len(filled) - _CELLS, 0))


def _by_place(item: tuple[tuple[str, int], str]) -> tuple[str, int]:
    return item[0]

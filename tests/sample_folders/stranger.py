"""A delivery as a stranger makes it: what its rows mean is kept apart from how its files print them."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter
from paper import Folder, Row

#: A cell of a workbook: text, a number, or a true date.
Cell = str | float | date | datetime | time | None
#: The workbook says when it was made; a fixed time keeps its bytes the same.
MADE_AT = datetime(2026, 5, 4, 8, 0)
DATE_FORMATS = {date: "m/d/yyyy", datetime: "m/d/yyyy h:mm", time: "h:mm"}


@dataclass
class Delivery(Folder):
    """A folder whose sheets hold what the rows mean, and whose files are printed by functions of their own.

    Attributes
    ----------
    prints : dict
        File (a path inside the folder) -> what writes its bytes from the folder's rows.
    """

    prints: dict[str, Callable[[Delivery], bytes]] = field(default_factory=dict)

    def files(self) -> dict[str, bytes]:
        """File name -> content."""
        own = {"project.yaml": self.project.encode(), "README.md": self.readme.encode()}
        return own | {name: print_file(self) for name, print_file in self.prints.items()}

    def keys(self, table: str) -> list[str]:
        """Key of each row; some laboratories state it, of others it is made from cells as written."""
        if table != "results":
            return super().keys(table)
        rows = self.sheets[table].rows
        made = [r["result_id"] or as_written(r) for r in rows]
        places: dict[str, list[int]] = {}
        for place, key in enumerate(made):
            if not rows[place]["result_id"]:
                places.setdefault(key, []).append(place)
        for key, same in places.items():
            # The unit is the first cell in which the two forms of a result differ upwards.
            for number, place in enumerate(sorted(same, key=lambda place: rows[place]["unit"]), 1):
                made[place] = key if number == 1 else f"{key}#{number}"
        return made


def as_written(row: Row) -> str:
    """`sample_id/cas or analyte/method`, the cells as the file has them."""
    return "/".join([shown(row, "sample_id"), shown(row, "cas") or shown(row, "analyte"), row["method"]])


def shown(row: Row, name: str) -> str:
    """How a cell is printed, where that is not what it means."""
    return row.get(f"@{name}", row[name])


@dataclass(frozen=True)
class Page:
    """One sheet of a workbook: rows of cells, and blocks of one column that are merged (first and last row, column)."""

    name: str
    rows: Sequence[Sequence[Cell]]
    merged: Sequence[tuple[int, int, int]] = ()


def workbook(pages: Iterable[Page]) -> bytes:
    """An XLSX workbook with the same bytes at every writing."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True, "strings_to_numbers": False}) as book:
        book.set_properties({"created": MADE_AT})
        formats = {kind: book.add_format({"num_format": text}) for kind, text in DATE_FORMATS.items()}
        for page in pages:
            sheet = book.add_worksheet(page.name)
            for at, cells in enumerate(page.rows):
                for place, cell in enumerate(cells):
                    if isinstance(cell, (date, datetime, time)):
                        sheet.write_datetime(at, place, cell, formats[type(cell)])
                    elif cell not in ("", None):
                        sheet.write(at, place, cell)
            for first, last, place in page.merged:
                cell = page.rows[first - 1][place]
                sheet.merge_range(first - 1, place, last - 1, place, "", formats.get(type(cell)))
                if isinstance(cell, (date, datetime, time)):
                    sheet.write_datetime(first - 1, place, cell, formats[type(cell)])
                else:
                    sheet.write(first - 1, place, cell)
    return stream.getvalue()


def separated(
    rows: Iterable[Sequence[str]], *, mark: str = ",", encoding: str = "utf-8", ends: str = "\n", preamble: str = ""
) -> bytes:  # fmt: skip
    """A text file; `ends` is what ends each line."""
    text = io.StringIO()
    csv.writer(text, delimiter=mark, lineterminator=ends).writerows(rows)
    return (preamble + text.getvalue()).encode(encoding)


def parquet(columns: dict[str, list[str] | list[bool] | list[datetime]]) -> bytes:
    """A Parquet file of typed columns."""
    stream = io.BytesIO()
    pq.write_table(pa.table(columns), stream)
    return stream.getvalue()

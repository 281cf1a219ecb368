"""Formats and zones applied to the time columns of a table, and what came of each."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.intake.time_formats import first_examples, read_declared
from vaporqa.tables.values import Int32, Int64

if TYPE_CHECKING:
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes
    from vaporqa.tables.yaml_nodes import Document


@dataclass(slots=True)
class _Tally:
    """Cells of one mapping's files in one column: all, ISO as they are, with a declared zone, and by format."""

    mapping: FileMapping
    file: str
    header: str
    by_format: Int64
    cells: int = 0
    plain: int = 0
    zoned: int = 0
    examples: list[str] = field(default_factory=list)


class FormatUse:
    """Reads the pieces of one time column and keeps count of what each declared format read."""

    def __init__(self, table: str, column: str) -> None:
        self.table = table
        self.column = column
        self.tallies: dict[int, _Tally] = {}

    def read(self, piece: tuple[Int32, Any], mapping: FileMapping, file: str, header: str) -> tuple[Int32, Any]:
        """Return a piece with its times in ISO 8601, as far as a format or a zone reads them."""
        codes, texts = piece
        formats = mapping.formats.get(self.column, ())
        if not header or not (formats or mapping.zones):
            return piece
        # One entry of project.yaml may feed the table from several files: what matters is the column over all of them.
        tally = self.tallies.setdefault(
            id(mapping.node), _Tally(mapping, file, header, np.zeros(len(formats), np.int64))
        )
        read = read_declared(texts, formats, mapping.zones)
        rows = np.bincount(codes[codes >= 0], minlength=len(texts))
        tally.cells += int(rows.sum())
        tally.plain += int(rows[read.plain].sum())
        tally.zoned += int(rows[read.zoned].sum())
        for at, mask in enumerate(read.by_format):
            tally.by_format[at] += int(rows[mask].sum())
        if len(tally.examples) < 3:
            tally.examples += [str(text) for text in first_examples(texts, rows > 0)]
        return codes, read.texts

    def tell(self, notes: Notes, document: Document | None) -> None:
        """Note what each format read; one that reads nothing where nothing else reads either stops the run."""
        for tally in self.tallies.values():
            formats = tally.mapping.formats.get(self.column, ())
            if formats and tally.cells and not tally.by_format.any() and not tally.plain and document is not None:
                shown = ", ".join(f"'{text}'" for text in tally.examples[:3])
                written = " nor ".join(f"'{text}'" for text in formats)
                message = (
                    f"{f'neither {written} reads any' if len(formats) > 1 else f'{written} reads no'} cell"
                    f" of the column '{tally.header}' in {tally.file}, which feeds {self.table}.{self.column}"
                )
                node = tally.mapping.place(f"formats.{self.column}")
                notes.problem(document.problem(node, message, f"its cells are such as {shown}"))
                continue
            for text, count in zip(formats, tally.by_format, strict=True):
                words = f"reads {int(count):,} cells" if count else "reads no cell"
                notes.remark(tally.file, f"column '{tally.header}' for {self.column}: the format '{text}' {words}")
            if formats and tally.plain:
                notes.remark(
                    tally.file,
                    f"column '{tally.header}' for {self.column}: {tally.plain:,} cells are ISO 8601 as they stand",
                )
            if tally.zoned:
                notes.remark(
                    tally.file,
                    f"column '{tally.header}' for {self.column}: {tally.zoned:,} cells end in a declared zone",
                )

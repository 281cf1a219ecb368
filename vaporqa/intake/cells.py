"""The raw text of a table, cell by cell as the files have it, for passing through to the outputs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from vaporqa.intake.grids import TextFile
from vaporqa.tables.values import Int32


@dataclass(frozen=True, slots=True)
class Cells:
    """Raw cells of one table.

    Attributes
    ----------
    files : tuple of TextFile
        In the order of the table's rows.
    starts : tuple of int
        First table row of each file; one more entry, the number of rows.
    fields : tuple of mapping
        For each file: contract column to the header positions that make it.
    """

    files: tuple[TextFile, ...]
    starts: tuple[int, ...]
    fields: tuple[Mapping[str, tuple[int, ...]], ...]

    @property
    def unpivots(self) -> bool:
        """Whether several rows of the table stand in one row of a file."""
        return any(file.unpivoted is not None for file in self.files)

    def headers(self, file_index: int) -> list[str]:
        """Headers of one file, in its order, folded."""
        return [header.text for header in self.files[file_index].headers]

    @property
    def all_headers(self) -> list[str]:
        """Headers of all files, each once: those of the first file, then what the next ones add."""
        return list(dict.fromkeys(text for index in range(len(self.files)) for text in self.headers(index)))

    def column(self, header: str) -> Any:
        """The cells under `header` over all table rows, a pyarrow.DictionaryArray of strings.

        They are null where a file lacks the column.

        Raises
        ------
        KeyError
            No file has the header.
        """
        import pyarrow as pa

        pieces = []
        coded = pa.dictionary(pa.int32(), pa.string())
        for index, file in enumerate(self.files):
            headers = self.headers(index)
            if header in headers:
                pieces.append(file.columns[headers.index(header)])
            else:
                pieces.append(pa.nulls(self.starts[index + 1] - self.starts[index], coded))
        if not any(header in self.headers(index) for index in range(len(self.files))):
            raise KeyError(header)
        if len(pieces) == 1:
            return pieces[0]
        whole = pa.chunked_array(pieces, coded).unify_dictionaries().combine_chunks()
        return whole if isinstance(whole, pa.DictionaryArray) else whole.chunk(0)

    def codes(self, header: str) -> tuple[Int32, Any]:
        """The same as codes (n,) into a pyarrow string array; -1 where a file lacks the column."""
        column = self.column(header)
        indices = column.indices.fill_null(-1) if column.indices.null_count else column.indices
        codes: Int32 = np.asarray(indices.to_numpy(), np.int32)
        return codes, column.dictionary

    def file_of(self, row: int) -> int:
        """Index of the file that holds `row`."""
        return int(np.searchsorted(np.asarray(self.starts[1:]), row, side="right"))

    def cell(self, row: int, header: str) -> str:
        """Text of one cell, parts of a joined one by `/`; empty where the row's file lacks the column."""
        index = self.file_of(row)
        file = self.files[index]
        places = [at for at, known in enumerate(file.headers) if known.text == header][:1]
        if not places:
            joined = (found for found in self.fields[index].values() if joined_header(file, found) == header)
            places = list(next(joined, ()))
        return "/".join(str(file.columns[at][row - self.starts[index]].as_py()) for at in places)

    def column_number(self, row: int, contract_column: str) -> int:
        """Physical field number, from 1, of a contract column in the file of `row`; 0 where that file lacks it."""
        places = self._places(row, contract_column)
        return self.files[self.file_of(row)].headers[places[0]].field if places else 0

    def header(self, row: int, contract_column: str) -> str:
        """Header of a contract column in the file of `row`, parts of a joined one by `/`; empty where it lacks it."""
        return joined_header(self.files[self.file_of(row)], self._places(row, contract_column))

    def _places(self, row: int, contract_column: str) -> tuple[int, ...]:
        index = self.file_of(row)
        unpivoted = self.files[index].unpivoted
        if unpivoted is not None and contract_column in (unpivoted.to, unpivoted.value):
            return (unpivoted.places[int(unpivoted.which[row - self.starts[index]])],)
        return self.fields[index].get(contract_column, ())


def joined_header(file: TextFile, places: Sequence[int]) -> str:
    """Return the headers at `places` joined by `/`."""
    return "/".join(file.headers[place].text for place in places)

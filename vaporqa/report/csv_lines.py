"""A table written as comma-separated lines, by column: every distinct text is quoted once, never every cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from vaporqa.report.wording import defused
from vaporqa.tables.values import Int64

#: Rows joined at a time: bounds the memory of a run whose flag file is larger than it.
_CHUNK = 65_536
#: Neighbouring columns whose distinct texts make no more pairs than this are joined as texts first.
_PAIRS = 8_192


@dataclass(frozen=True, slots=True)
class Coded:
    """A column as codes (n,) into distinct texts (k,), a pyarrow string array."""

    codes: Int64
    texts: Any

    @staticmethod
    def of(codes: Any, texts: Sequence[str] | Any) -> Coded:
        """A column from codes of any integer type and texts of any kind; code -1 is the empty text."""
        array = texts if isinstance(texts, pa.Array) else pa.array(list(texts), pa.string())
        found: Int64 = np.asarray(codes)
        if len(found) and int(found.min()) < 0:
            array = pa.concat_arrays([array.cast(pa.string()), pa.array([""], pa.string())])
            found = np.where(found < 0, len(array) - 1, found)
        return Coded(found, array.cast(pa.string()))

    @staticmethod
    def each(texts: Any) -> Coded:
        """A column whose cells are (mostly) all different: a pyarrow string array, (n,)."""
        return Coded(np.arange(len(texts), dtype=np.int64), texts.cast(pa.string()))

    def decoded(self) -> Any:
        """The cells as a pyarrow string array, (n,)."""
        return self.texts.take(pa.array(self.codes))


def defused_texts(texts: Any) -> Any:
    """Return distinct texts so that no spreadsheet runs one; numbers stay numbers."""
    first = pc.utf8_slice_codeunits(texts, 0, 1)
    suspect = pc.is_in(first, value_set=pa.array(list("=+-@\t\r\n＝＋－＠")))
    if not pc.any(suspect).as_py():
        return texts
    mended = [defused(text) for text in texts.filter(suspect).to_pylist()]
    return pc.replace_with_mask(texts, suspect, pa.array(mended, pa.string()))


def quoted_texts(texts: Any) -> Any:
    """Return distinct texts as the format wants them: quoted only where a comma, quote or line end stands inside."""
    special = pc.match_substring_regex(texts, '[",\r\n]')
    if not pc.any(special).as_py():
        return texts
    inside = pc.replace_substring(texts.filter(special), '"', '""')
    mended = pc.binary_join_element_wise('"', inside, '"', "")
    return pc.replace_with_mask(texts, special, mended.cast(pa.string()))


def csv_lines(headers: Sequence[str], columns: Sequence[Coded], rows: int) -> Iterator[bytes]:
    """Yield a table as UTF-8 pieces, the header line first.

    Parameters
    ----------
    headers : sequence of str
    columns : sequence of Coded
        One a header, ``rows`` codes each.
    rows : int
    """
    ready = [Coded(column.codes, quoted_texts(defused_texts(column.texts))) for column in columns]
    yield (",".join(quoted_texts(defused_texts(pa.array(list(headers), pa.string()))).to_pylist()) + "\n").encode()
    joined = _merged(ready)
    last = joined[-1]
    joined[-1] = Coded(last.codes, pc.binary_join_element_wise(last.texts, "\n", ""))
    for start in range(0, rows, _CHUNK):
        stop = min(start + _CHUNK, rows)
        parts = [column.texts.take(pa.array(column.codes[start:stop])).cast(pa.large_string()) for column in joined]
        comma = pa.scalar(",", pa.large_string())
        yield _bytes_of(pc.binary_join_element_wise(*parts, comma) if len(parts) > 1 else parts[0])


def _merged(columns: Sequence[Coded]) -> list[Coded]:
    """Join neighbours of few distinct texts, so that fewer pieces are put together for each row."""
    out: list[Coded] = []
    for column in columns:
        before = out[-1] if out else None
        if before is not None and len(before.texts) * len(column.texts) <= min(_PAIRS, max(len(column.codes), 1)):
            width = len(column.texts)
            first = before.texts.take(pa.array(np.repeat(np.arange(len(before.texts)), width)))
            second = column.texts.take(pa.array(np.tile(np.arange(width), len(before.texts))))
            codes = before.codes.astype(np.int64) * width + column.codes
            out[-1] = Coded(codes, pc.binary_join_element_wise(first, second, ","))
        else:
            out.append(column)
    return out


def _bytes_of(texts: Any) -> bytes:
    """The texts one after the other, as one buffer: they already end with their line ends."""
    if isinstance(texts, pa.ChunkedArray):
        return b"".join(_bytes_of(chunk) for chunk in texts.chunks)
    _, offsets, data = texts.buffers()
    if data is None:
        return b""
    places = np.frombuffer(offsets, np.int64)
    first, last = int(places[texts.offset]), int(places[texts.offset + len(texts)])
    return bytes(memoryview(data)[first:last])

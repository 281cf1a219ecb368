"""The shape of the frames that the library hands out: a breach means that vaporqa itself is wrong, never the data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from vaporqa.outcomes import Standing
from vaporqa.settling import BIASES, QUALIFIERS

if TYPE_CHECKING:
    import pandas as pd


class FrameError(AssertionError):
    """A flag frame is not what its documentation says: an internal fault."""


def check_frame(frame: pd.DataFrame, table: str, rows: int, final: bool) -> None:
    """Check one flag frame.

    Parameters
    ----------
    frame : DataFrame
    table : str
    rows : int
        Rows of the table: every row has exactly one line.
    final : bool
        Whether the frame is of results, and has the final columns as numbers.

    Raises
    ------
    FrameError
        Naming every column that is wrong.
    """
    import pandera.errors
    import pandera.pandas as pa

    if len(frame) != rows:
        raise FrameError(f"{table}: {rows} rows, and {len(frame)} lines")
    words = {"standing": [one.word for one in Standing], "qualifier": [*QUALIFIERS], "bias": [*BIASES]}
    columns: dict[str, Any] = {name: pa.Column(checks=pa.Check.isin(known)) for name, known in words.items()}
    columns |= {name: pa.Column(nullable=False) for name in ("key", "reasons", "rules", "findings", "source_file")}
    if final:
        columns |= {name: pa.Column("float64", nullable=True) for name in ("final_value", "final_limit")}
        columns |= {name: pa.Column("boolean", nullable=True) for name in ("final_detected", "final_in_use")}
    try:
        pa.DataFrameSchema(columns, name=table, unique_column_names=True).validate(frame, lazy=True)
    except pandera.errors.SchemaErrors as errors:
        raise FrameError(f"{table}: {errors}") from errors

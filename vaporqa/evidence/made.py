"""The samples table that is made where a folder has none: one row a sample id of results, kind and matrix unknown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.tables.dictionary import MATRICES, SAMPLE_KINDS
from vaporqa.tables.values import Column, Table, Tables, Text, Texts, Word


def with_samples(tables: Tables) -> Tables:
    """Return the tables with a samples table; the same where the folder has one, or has no results."""
    results = tables.get("results")
    text = results.text("sample_id") if results is not None else None
    if "samples" in tables or results is None or text is None:
        return tables
    used = np.unique(text.codes[text.codes >= 0])
    names: Texts = np.array(sorted(str(text.words[code]) for code in used), dtype=object)
    n = len(names)
    columns: dict[str, Column] = {
        "sample_id": Text(np.arange(n, dtype=np.int32), names),
        "kind": Word(np.full(n, SAMPLE_KINDS.index("unknown"), np.int16), SAMPLE_KINDS),
        "matrix": Word(np.full(n, MATRICES.index("unknown"), np.int16), MATRICES),
    }
    made = Table(
        name="samples",
        rows=n,
        columns=columns,
        headers={name: name for name in columns},
        files=(),
        file_of=np.zeros(n, np.int16),
        line_of=np.zeros(n, np.int64),
        keys=names,
        key_stated=True,
        copy_of=np.full(n, -1, np.int32),
        conflicted=np.zeros(n, bool),
    )
    return replace(tables, tables={**tables.tables, "samples": made})


def is_made(table: Table) -> bool:
    """Whether a table was made because the folder has none."""
    return table.cells is None and not table.files

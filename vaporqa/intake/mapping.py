"""How the columns of a file become the columns of a table.

A file called after its table needs no mapping: its headers are the contract's names. `tables:` in project.yaml
names other files and spellings; `vaporqa.intake.mapping_nodes` reads it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from vaporqa.intake.headers import Header

if TYPE_CHECKING:
    from vaporqa.tables.dictionary import ColumnSpec, TableSpec
    from vaporqa.tables.yaml_nodes import Node


@dataclass(frozen=True, slots=True)
class Layout:
    """Where in a file the table stands.

    Attributes
    ----------
    sheet : str
        Of a workbook; empty for its first sheet and for other files.
    header_row : int
        Physical row of the header, from 1; 0 for the first row with content.
    skip_rows : tuple of int
        Physical rows that are no records, from 1.
    """

    sheet: str = ""
    header_row: int = 0
    skip_rows: tuple[int, ...] = ()


#: The first row with content of the only or the first sheet.
ANYWHERE = Layout()


@dataclass(frozen=True, slots=True)
class FlagKey:
    """What the flags of a laboratory mean.

    Attributes
    ----------
    by : str
        The column that names the laboratory of a row; empty where one key serves all rows.
    meanings : mapping
        Laboratory (empty without `by`) to flag to meaning.
    """

    by: str = ""
    meanings: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    def of(self, laboratory: str) -> Mapping[str, str]:
        """Flag to meaning for one laboratory; nothing for one that is not listed."""
        return self.meanings.get(laboratory if self.by else "", {})

    @property
    def flags(self) -> frozenset[str]:
        """Flags that some laboratory declares."""
        return frozenset(flag for key in self.meanings.values() for flag in key)


@dataclass(frozen=True, slots=True)
class Wide:
    """Columns that become rows: the headers `headers` feed the column `to`, their cells the column `value`."""

    headers: tuple[str, ...]
    to: str
    value: str


@dataclass(frozen=True, slots=True)
class FileMapping:
    """How the files of one entry under `tables:` feed a table.

    Attributes
    ----------
    table : str
    file : str
        Path inside the folder, or a glob; empty for the file called after its table.
    source : str
        The table from whose files this one is derived; empty where it has files of its own.
    layout : Layout
    columns : mapping
        Contract column to the headers that make it, joined in order.
    formats : mapping
        Time column to its formats, tried in order.
    date_only : tuple of str
        Time columns whose time part means nothing.
    zones : mapping
        Last part of a time to its offset from UTC.
    decimal : str
        ``.`` or ``,``.
    missing : tuple of str
        Spellings of a missing value in every column.
    column_missing : mapping
        The same for one contract column.
    values : mapping
        Contract column to text in the file to the text that it means.
    fixed : mapping
        Contract column to the one text of every row.
    flags : FlagKey
    kinds : mapping
        Kind of a result to the analyte names that have it.
    rerun_suffixes : tuple of str
    units : mapping
        Contract column to a unit, or to the contract column that holds its unit row by row.
    two_forms : bool
        Rows of one key in a unit by mass and one by volume are the two forms of one result.
    wide : Wide or None
    node : Node or None
        Where the entry stands in project.yaml.
    nodes : mapping
        ``key`` or ``key.column`` to where it stands.
    """

    table: str
    file: str = ""
    source: str = ""
    layout: Layout = ANYWHERE
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    formats: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    date_only: tuple[str, ...] = ()
    zones: Mapping[str, str] = field(default_factory=dict)
    decimal: str = "."
    missing: tuple[str, ...] = ()
    column_missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    flags: FlagKey = FlagKey()
    kinds: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    rerun_suffixes: tuple[str, ...] = ()
    units: Mapping[str, str] = field(default_factory=dict)
    two_forms: bool = False
    wide: Wide | None = None
    node: Node | None = None
    nodes: Mapping[str, Node] = field(default_factory=dict)

    def place(self, *keys: str) -> Node | None:
        """Where the first of `keys` that is written stands, else the entry itself."""
        return next((self.nodes[key] for key in keys if key in self.nodes), self.node)


def sources(
    spec: TableSpec, mapping: FileMapping, headers: Sequence[Header]
) -> tuple[dict[str, tuple[int, ...]], dict[str, tuple[str, ...]]]:
    """Return where each contract column of a file comes from.

    Returns
    -------
    found : dict
        Contract column (and ``<column>_unit``) to positions in `headers`.
    absent : dict
        Mapped contract columns to the headers that the file does not have.
    """
    found: dict[str, tuple[int, ...]] = {}
    absent: dict[str, tuple[str, ...]] = {}
    for name, wanted in mapping.columns.items():
        places = positions(wanted, headers)
        if places and min(places) >= 0:
            found[name] = places
        else:
            absent[name] = tuple(text for text, place in zip(wanted, places, strict=True) if place < 0)
    by_name = {header.name: at for at, header in reversed(list(enumerate(headers)))}
    unpivoted = (mapping.wide.to, mapping.wide.value) if mapping.wide else ()
    # A derived table takes what its mapping names: a column of its source with one of its names means another thing.
    own = spec.keys if mapping.source else own_names(spec)
    for name in own:
        if name not in mapping.columns and name not in mapping.fixed and name not in unpivoted and name in by_name:
            found[name] = (by_name[name],)
    return found, absent


def positions(wanted: Sequence[str], headers: Sequence[Header]) -> tuple[int, ...]:
    """Return where each of the folded texts `wanted` stands among `headers`, whole or before its unit; -1: nowhere."""
    by_text = {header.text: at for at, header in enumerate(headers)}
    by_name = {header.name: at for at, header in reversed(list(enumerate(headers)))}
    return tuple(by_text.get(text, by_name.get(text, -1)) for text in wanted)


def own_names(spec: TableSpec) -> list[str]:
    """Return the names by which a file may hold a column of this table: contract columns, then unit columns."""
    return [column.name for column in spec.columns] + [
        unit_column(column) for column in spec.columns if has_unit(column)
    ]


def has_unit(column: ColumnSpec) -> bool:
    """Whether cells of the column need a unit."""
    return column.kind in ("quantity", "amount")


def unit_column(column: ColumnSpec) -> str:
    """Return the name of the column that would hold this column's unit, row by row."""
    return f"{column.name}_unit"

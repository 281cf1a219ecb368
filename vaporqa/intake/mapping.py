"""How the columns of a file become the columns of a table.

A file called after its table needs no mapping: its headers are the contract's names. `tables:` in project.yaml
names other files and spellings. A key of it that is not read yet stops the run with its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from vaporqa.errors import did_you_mean
from vaporqa.intake.headers import Header, fold
from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.project import MAPPING_KEYS
from vaporqa.tables.yaml_nodes import Document, Entries, Items, Node, Scalar

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes
    from vaporqa.tables.dictionary import ColumnSpec, TableSpec

_READ_NOW = ("file", "columns", "missing", "fixed", "units", "lab_flags")


@dataclass(frozen=True, slots=True)
class FileMapping:
    """How the files of one entry under `tables:` feed a table.

    Attributes
    ----------
    table : str
    file : str
        Path inside the folder, or a glob; empty for the file called after its table.
    columns : mapping
        Contract column to the headers that make it, joined in order.
    missing : tuple of str
        Spellings of a missing value in every column.
    column_missing : mapping
        The same for one contract column.
    fixed : mapping
        Contract column to the one text of every row.
    lab_flags : mapping
        Laboratory flag to its meaning, one of the closed list; the same for every file of the table.
    units : mapping
        Contract column to a unit, or to the contract column that holds its unit row by row.
    node : Node or None
        Where the entry stands in project.yaml.
    """

    table: str
    file: str = ""
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    column_missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    lab_flags: Mapping[str, str] = field(default_factory=dict)
    node: Node | None = None


def read_mappings(node: Node, spec: TableSpec, document: Document, notes: Notes) -> list[FileMapping]:
    """Return the mappings of one table; what is not understood goes to `notes`."""
    entries = list(node) if isinstance(node, Items) else [node]
    found = [mapping for entry in entries if (mapping := _read_one(entry, spec, document, notes)) is not None]
    for mapping in found[1:]:
        if mapping.node is not None and mapping.lab_flags != found[0].lab_flags:
            message = f"the mappings of {spec.name} declare different lab_flags, which is not read by this version"
            notes.problem(document.problem(mapping.node, message, "declare the same meanings for every file"))
    return found


def _read_one(entry: Node, spec: TableSpec, document: Document, notes: Notes) -> FileMapping | None:
    if not isinstance(entry, Entries):
        notes.problem(document.problem(entry, f"a mapping for {spec.name} is expected", "such as {file: lab.csv}"))
        return None
    right = True
    for problem in document.unknown_keys(entry, MAPPING_KEYS, f"tables.{spec.name}"):
        notes.problem(problem)
        right = False
    for key in entry.values:
        if key in MAPPING_KEYS and key not in _READ_NOW:
            message = f"`{key}` in tables.{spec.name} is not read by this version"
            notes.problem(document.problem(entry.keys[key], message, "read now: " + ", ".join(_READ_NOW)))
            right = False
    file = entry.get("file")
    if not isinstance(file, Scalar) or file.is_null:
        notes.problem(
            document.problem(file or entry, f"a mapping for {spec.name} names no file", "write `file: name.csv`")
        )
        return None
    reader = _Fields(spec, document, notes)
    whole, by_column = reader.missing(entry.get("missing"))
    mapping = FileMapping(
        spec.name,
        file.text,
        {
            name: tuple(fold(text) for text in texts)
            for name, texts in reader.lists(entry.get("columns"), "columns").items()
        },
        whole,
        by_column,
        reader.texts(entry.get("fixed"), "fixed"),
        reader.texts(entry.get("units"), "units"),
        _lab_flags(entry.get("lab_flags"), spec, document, notes),
        entry,
    )
    for name in mapping.fixed.keys() & mapping.columns.keys():
        notes.problem(document.problem(entry, f"'{name}' of {spec.name} stands under both `columns` and `fixed`"))
    return mapping if right else None


def _lab_flags(node: Node | None, spec: TableSpec, document: Document, notes: Notes) -> dict[str, str]:
    """Flag to its meaning; a meaning that is not in the closed list is named with the nearest one."""
    if node is None or (isinstance(node, Scalar) and node.is_null):
        return {}
    if not isinstance(node, Entries) or spec.column("lab_flag") is None:
        notes.problem(document.problem(node, "`lab_flags` has flags of the laboratory as its keys, for results"))
        return {}
    found = {}
    for flag, meaning in node.values.items():
        if isinstance(meaning, Scalar) and meaning.text in FLAG_MEANINGS:
            found[flag] = meaning.text
        else:
            word = meaning.text if isinstance(meaning, Scalar) else ""
            mend = did_you_mean(word, FLAG_MEANINGS) or "known: " + ", ".join(FLAG_MEANINGS)
            notes.problem(document.problem(meaning, f"'{word}' is no known meaning of a laboratory flag", mend))
    return found


@dataclass(frozen=True, slots=True)
class _Fields:
    """Reads the parts of one mapping whose keys are columns of the table."""

    spec: TableSpec
    document: Document
    notes: Notes

    def entries(self, node: Node | None, key: str) -> Mapping[str, Node]:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return {}
        if not isinstance(node, Entries):
            self.notes.problem(self.document.problem(node, f"`{key}` has columns of {self.spec.name} as its keys"))
            return {}
        known = [column.name for column in self.spec.columns]
        own = [f"{column.name}_unit" for column in self.spec.columns if column.kind in ("quantity", "amount")]
        found = {}
        for name, value in node.values.items():
            if name in known or name in own:
                found[name] = value
            else:
                message = f"the table {self.spec.name} has no column '{name}'"
                self.notes.problem(self.document.problem(node.keys[name], message, did_you_mean(name, known)))
        return found

    def texts(self, node: Node | None, key: str) -> dict[str, str]:
        found = {}
        for name, value in self.entries(node, key).items():
            if isinstance(value, Scalar):
                found[name] = value.text
            else:
                self.notes.problem(self.document.problem(value, f"`{key}.{name}` is one text"))
        return found

    def lists(self, node: Node | None, key: str) -> dict[str, tuple[str, ...]]:
        return {name: self.list_of(value, f"{key}.{name}") for name, value in self.entries(node, key).items()}

    def list_of(self, node: Node, key: str) -> tuple[str, ...]:
        items: Sequence[Node] = tuple(node) if isinstance(node, Items) else (node,)
        if not items or not all(isinstance(item, Scalar) for item in items):
            self.notes.problem(self.document.problem(node, f"`{key}` is a text or a list of texts"))
            return ()
        return tuple(item.text for item in items if isinstance(item, Scalar))

    def missing(self, node: Node | None) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return (), {}
        if isinstance(node, Entries):
            return (), self.lists(node, "missing")
        return self.list_of(node, "missing"), {}


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
    by_text = {header.text: at for at, header in enumerate(headers)}
    by_name = {header.name: at for at, header in reversed(list(enumerate(headers)))}
    found: dict[str, tuple[int, ...]] = {}
    absent: dict[str, tuple[str, ...]] = {}
    for name, wanted in mapping.columns.items():
        places = [by_text.get(text, by_name.get(text, -1)) for text in wanted]
        if places and min(places) >= 0:
            found[name] = tuple(places)
        else:
            absent[name] = tuple(text for text, place in zip(wanted, places, strict=True) if place < 0)
    for name in own_names(spec):
        if name not in mapping.columns and name not in mapping.fixed and name in by_name:
            found[name] = (by_name[name],)
    return found, absent


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

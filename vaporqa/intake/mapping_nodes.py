"""The entries under `tables:` in project.yaml read as strict values; what is not understood is said with its place."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from vaporqa.errors import did_you_mean
from vaporqa.intake.headers import fold
from vaporqa.intake.mapping import FileMapping, FlagKey, Layout, Wide, has_unit, unit_column
from vaporqa.intake.time_formats import format_fault
from vaporqa.tables.dictionary import FLAG_MEANINGS, RESULT_KINDS, TABLES, TableSpec
from vaporqa.tables.project import MAPPING_KEYS
from vaporqa.tables.yaml_nodes import Document, Entries, Items, Node, Scalar

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes

#: Keys of a derived table; everything else is that of the table it is made from.
DERIVED_KEYS = ("from", "columns", "values", "fixed", "formats", "zones", "units", "date_only", "missing", "decimal")
#: Keys that have a meaning for these tables only.
ONLY_FOR = {
    "lab_flags": ("results", "lab_qc"),
    "kinds": ("results",),
    "rerun_suffixes": ("results",),
    "two_forms": ("results",),
}
_OFFSET = re.compile(r"[+-](?:0[0-9]|1[0-4]):?[0-5][0-9]|Z")


def read_mappings(node: Node, spec: TableSpec, document: Document, notes: Notes) -> list[FileMapping]:
    """Return the mappings of one table; what is not understood goes to `notes`."""
    entries = list(node) if isinstance(node, Items) else [node]
    if not entries:
        notes.problem(document.problem(node, f"no mapping for {spec.name} stands here", "write {file: lab.csv}"))
    return [mapping for entry in entries if (mapping := _Reader(spec, document, notes).read(entry)) is not None]


class _Reader:
    """Reads one entry; `nodes` gathers where its parts stand."""

    def __init__(self, spec: TableSpec, document: Document, notes: Notes) -> None:
        self.spec = spec
        self.document = document
        self.notes = notes
        self.nodes: dict[str, Node] = {}
        self.right = True

    def wrong(self, node: Node | None, message: str, mend: str = "") -> None:
        self.right = False
        self.notes.problem(self.document.problem(node, message, mend))

    def read(self, entry: Node) -> FileMapping | None:
        name = self.spec.name
        if not isinstance(entry, Entries):
            self.wrong(entry, f"a mapping for {name} is expected", "such as {file: lab.csv}")
            return None
        for problem in self.document.unknown_keys(entry, MAPPING_KEYS, f"tables.{name}"):
            self.notes.problem(problem)
            self.right = False
        for key, value in entry.values.items():
            self.nodes[key] = value
            if key in ONLY_FOR and name not in ONLY_FOR[key]:
                self.wrong(entry.keys[key], f"`{key}` has no meaning for the table {name}", "leave it out")
        source = self.source(entry)
        file = "" if source else self.one_text(entry.get("file"), "file")
        if not file and not source and "from" not in entry:
            self.wrong(
                entry.get("file") or entry, f"a mapping for {name} names no file", "write `file: name.csv` or `from:`"
            )
        whole, by_column = self.missing(entry.get("missing"))
        mapping = FileMapping(
            table=name,
            file=file,
            source=source,
            layout=Layout(
                self.one_text(entry.get("sheet"), "sheet"),
                self.row(entry.get("header_row"), "header_row"),
                self.rows(entry.get("skip_rows"), "skip_rows"),
            ),
            columns={
                column: tuple(fold(text) for text in texts)
                for column, texts in self.lists(entry.get("columns"), "columns").items()
            },
            formats=self.formats(entry.get("formats")),
            date_only=self.date_only(entry.get("date_only")),
            zones=self.zones(entry.get("zones")),
            decimal=self.decimal(entry.get("decimal")),
            missing=whole,
            column_missing=by_column,
            values=self.values(entry.get("values")),
            fixed=self.fixed(entry.get("fixed")),
            flags=self.flags(entry.get("lab_flags")),
            kinds=self.kinds(entry.get("kinds")),
            rerun_suffixes=self.suffixes(entry.get("rerun_suffixes")),
            units=self.texts(entry.get("units"), "units"),
            two_forms=self.yes(entry.get("two_forms"), "two_forms"),
            wide=self.wide(entry.get("wide")),
            node=entry,
            nodes=self.nodes,
        )
        self.agree(mapping)
        return mapping if self.right else None

    def source(self, entry: Entries) -> str:
        node = entry.get("from")
        if node is None:
            return ""
        source = self.one_text(node, "from")
        if source not in TABLES:
            self.wrong(node, f"there is no table '{source}'", did_you_mean(source, list(TABLES)))
            return ""
        if source == self.spec.name:
            self.wrong(node, f"the table {source} is derived from itself", "name the table whose files feed it")
        for key in entry.values:
            if key in MAPPING_KEYS and key not in DERIVED_KEYS:
                mend = f"leave it out, or name the file with `file:` instead of `from: {source}`"
                self.wrong(entry.keys[key], f"`{key}` of a derived table is that of its source {source}", mend)
        return source

    def agree(self, mapping: FileMapping) -> None:
        """Say what two parts of a mapping say of the same thing."""
        name = self.spec.name
        for column in mapping.fixed.keys() & mapping.columns.keys():
            self.wrong(
                mapping.place(f"fixed.{column}"),
                f"'{column}' of {name} stands under both `columns` and `fixed`",
                "keep one of them",
            )
        for column, headers in mapping.columns.items():
            for twice in {header for header in headers if headers.count(header) > 1}:
                self.wrong(mapping.place(f"columns.{column}"), f"'{twice}' is joined to itself in {name}.{column}")
        if mapping.wide:
            for column in (mapping.wide.to, mapping.wide.value):
                if column in mapping.columns or column in mapping.fixed:
                    self.wrong(
                        mapping.place("wide"), f"'{column}' of {name} is fed by `wide` and by another key", "keep one"
                    )
        if mapping.layout.header_row in mapping.layout.skip_rows:
            self.wrong(mapping.place("skip_rows"), f"row {mapping.layout.header_row} is the header row", "do not skip")

    def is_nothing(self, node: Node | None) -> bool:
        return node is None or (isinstance(node, Scalar) and node.is_null)

    def one_text(self, node: Node | None, key: str) -> str:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return ""
        if not isinstance(node, Scalar):
            self.wrong(node, f"`{key}` is one text")
            return ""
        return node.text

    def row(self, node: Node | None, key: str) -> int:
        text = self.one_text(node, key)
        if not text:
            return 0
        if not re.fullmatch(r"[1-9][0-9]{0,8}", text):
            self.wrong(node, f"`{key}` is a physical row, from 1, and not '{text}'")
            return 0
        return int(text)

    def rows(self, node: Node | None, key: str) -> tuple[int, ...]:
        if self.is_nothing(node):
            return ()
        items: Sequence[Node] = tuple(node) if isinstance(node, Items) else (node,) if node else ()
        return tuple(sorted({row for item in items if (row := self.row(item, key))}))

    def yes(self, node: Node | None, key: str) -> bool:
        text = self.one_text(node, key).casefold()
        if text not in ("", "true", "yes", "false", "no"):
            self.wrong(node, f"`{key}` is true or false, and not '{text}'")
        return text in ("true", "yes")

    def entries(self, node: Node | None, key: str) -> Mapping[str, Node]:
        """Return the entries of a part whose keys are columns of the table."""
        if self.is_nothing(node):
            return {}
        if not isinstance(node, Entries):
            self.wrong(node, f"`{key}` has columns of {self.spec.name} as its keys")
            return {}
        known = [column.name for column in self.spec.columns]
        own = [unit_column(column) for column in self.spec.columns if has_unit(column)]
        found = {}
        for name, value in node.values.items():
            if name in known or name in own:
                found[name] = value
                self.nodes[f"{key}.{name}"] = node.keys[name]
            else:
                message = f"the table {self.spec.name} has no column '{name}'"
                self.wrong(node.keys[name], message, did_you_mean(name, known))
        return found

    def texts(self, node: Node | None, key: str) -> dict[str, str]:
        found = {}
        for name, value in self.entries(node, key).items():
            if isinstance(value, Scalar):
                found[name] = value.text
            else:
                self.wrong(value, f"`{key}.{name}` is one text")
        return found

    def lists(self, node: Node | None, key: str) -> dict[str, tuple[str, ...]]:
        return {name: self.list_of(value, f"{key}.{name}") for name, value in self.entries(node, key).items()}

    def list_of(self, node: Node, key: str) -> tuple[str, ...]:
        items: Sequence[Node] = tuple(node) if isinstance(node, Items) else (node,)
        if not items or not all(isinstance(item, Scalar) for item in items):
            self.wrong(node, f"`{key}` is a text or a list of texts")
            return ()
        return tuple(item.text for item in items if isinstance(item, Scalar))

    def missing(self, node: Node | None) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
        if node is None or self.is_nothing(node):
            return (), {}
        if isinstance(node, Entries):
            return (), self.lists(node, "missing")
        return self.list_of(node, "missing"), {}

    def time_column(self, name: str, node: Node, key: str) -> bool:
        column = self.spec.column(name)
        if column is None or column.kind != "time":
            times = [item.name for item in self.spec.columns if item.kind == "time"]
            mend = did_you_mean(name, times) or "times of this table: " + (", ".join(times) or "none")
            self.wrong(node, f"`{key}`: '{name}' of {self.spec.name} is no column of times", mend)
            return False
        return True

    def formats(self, node: Node | None) -> dict[str, tuple[str, ...]]:
        found = {}
        for name, formats in self.lists(node, "formats").items():
            if not self.time_column(name, self.nodes[f"formats.{name}"], "formats"):
                continue
            for text in formats:
                fault = format_fault(text)
                if fault:
                    self.wrong(self.nodes[f"formats.{name}"], f"the format '{text}' {fault[0]}", fault[1])
            found[name] = tuple(dict.fromkeys(formats))
        return found

    def date_only(self, node: Node | None) -> tuple[str, ...]:
        if node is None or self.is_nothing(node):
            return ()
        return tuple(name for name in self.list_of(node, "date_only") if self.time_column(name, node, "date_only"))

    def zones(self, node: Node | None) -> dict[str, str]:
        if self.is_nothing(node):
            return {}
        mend = 'write it as `zones: {EDT: "-04:00"}`'
        if not isinstance(node, Entries):
            self.wrong(node, "`zones` gives an offset for each name", mend)
            return {}
        found = {}
        for name, value in node.values.items():
            if not isinstance(value, Scalar) or not _OFFSET.fullmatch(value.text):
                written = value.text if isinstance(value, Scalar) else "a list"
                self.wrong(value, f"'{written}' is no offset from UTC", mend)
            elif not name.strip() or re.search(r"\s", name):
                self.wrong(node.keys[name], f"'{name}' cannot be the last part of a time", mend)
            else:
                found[name] = value.text
        return found

    def decimal(self, node: Node | None) -> str:
        text = self.one_text(node, "decimal")
        if text not in ("", ".", ","):
            self.wrong(node, f"`decimal` is '.' or ',', and not '{text}'")
        return text or "."

    def word_fault(self, name: str, text: str, node: Node) -> None:
        column = self.spec.column(name)
        if column is not None and column.kind == "word" and text and text not in column.words:
            mend = did_you_mean(text, column.words) or "one of: " + ", ".join(column.words)
            self.wrong(node, f"'{text}' is no word of {self.spec.name}.{name}", mend)

    def fixed(self, node: Node | None) -> dict[str, str]:
        found = self.texts(node, "fixed")
        for name, text in found.items():
            self.word_fault(name, text, self.nodes[f"fixed.{name}"])
        return found

    def values(self, node: Node | None) -> dict[str, dict[str, str]]:
        found = {}
        for name, value in self.entries(node, "values").items():
            if not isinstance(value, Entries):
                self.wrong(value, f"`values.{name}` gives a meaning for each text", "{Soil vapor: soil_gas}")
                continue
            meant = {}
            for text, target in value.values.items():
                if not isinstance(target, Scalar):
                    self.wrong(target, f"`values.{name}` gives one text for '{text}'")
                    continue
                meant[text] = "" if target.is_null else target.text
                self.word_fault(name, meant[text], target)
            found[name] = meant
        return found

    def flags(self, node: Node | None) -> FlagKey:
        if self.is_nothing(node):
            return FlagKey()
        mend = "write it as `lab_flags: {J: below_reporting_limit, U: nondetect}`"
        if not isinstance(node, Entries):
            self.wrong(node, "`lab_flags` gives a meaning for each flag", mend)
            return FlagKey()
        if "by" not in node:
            return FlagKey("", {"": self.one_key(node)})
        by = self.one_text(node.get("by"), "lab_flags.by")
        self.nodes["lab_flags.by"] = node.values["by"]
        if not by:
            self.wrong(node.get("by"), "`lab_flags.by` names the column of the laboratory")
        keys = {}
        for laboratory, value in node.values.items():
            if laboratory == "by":
                continue
            if not isinstance(value, Entries):
                self.wrong(
                    value, f"the flags of '{laboratory}' are expected", f"{laboratory}: {{S: surrogate_outside}}"
                )
                continue
            keys[laboratory] = self.one_key(value)
        return FlagKey(fold(by), keys)

    def one_key(self, node: Entries) -> dict[str, str]:
        found = {}
        for flag, value in node.values.items():
            text = self.one_text(value, f"lab_flags.{flag}")
            if text not in FLAG_MEANINGS:
                mend = did_you_mean(text, FLAG_MEANINGS) or "the meanings are: " + ", ".join(FLAG_MEANINGS)
                self.wrong(value, f"'{text}' is no meaning of a flag", mend)
            elif not flag.strip():
                self.wrong(node.keys[flag], "a flag is empty")
            else:
                found[flag.strip()] = text
        return found

    def kinds(self, node: Node | None) -> dict[str, tuple[str, ...]]:
        if self.is_nothing(node):
            return {}
        mend = 'write it as `kinds: {surrogate: ["% Bromofluorobenzene"]}`'
        if not isinstance(node, Entries):
            self.wrong(node, "`kinds` gives the analyte names of each kind", mend)
            return {}
        found: dict[str, tuple[str, ...]] = {}
        for kind, value in node.values.items():
            if kind not in RESULT_KINDS:
                near = did_you_mean(kind, RESULT_KINDS) or "one of: " + ", ".join(RESULT_KINDS)
                self.wrong(node.keys[kind], f"'{kind}' is no kind of a result", near)
                continue
            names = self.list_of(value, f"kinds.{kind}")
            twice = [name for name in names if any(name in others for others in found.values())]
            for name in twice:
                self.wrong(value, f"'{name}' has two kinds", "keep one of them")
            found[kind] = names
        return found

    def suffixes(self, node: Node | None) -> tuple[str, ...]:
        if node is None or self.is_nothing(node):
            return ()
        found = self.list_of(node, "rerun_suffixes")
        if any(not text.strip() for text in found):
            self.wrong(node, "a suffix is empty")
        return found

    def wide(self, node: Node | None) -> Wide | None:
        if self.is_nothing(node):
            return None
        mend = "write it as `wide: {from: [Benzene, Toluene], to: analyte, value: result}`"
        if not isinstance(node, Entries):
            self.wrong(node, "`wide` names the columns that become rows", mend)
            return None
        for problem in self.document.unknown_keys(node, ("from", "to", "value"), "wide"):
            self.notes.problem(problem)
            self.right = False
        headers = node.get("from")
        names = [self.one_text(node.get(key), f"wide.{key}") for key in ("to", "value")]
        if headers is None or not all(names):
            self.wrong(node, "`wide` needs `from`, `to` and `value`", mend)
            return None
        for key, name in zip(("to", "value"), names, strict=True):
            if self.spec.column(name) is None:
                near = did_you_mean(name, [column.name for column in self.spec.columns])
                self.wrong(node.values[key], f"the table {self.spec.name} has no column '{name}'", near)
        texts = tuple(fold(text) for text in self.list_of(headers, "wide.from"))
        self.nodes["wide.from"] = headers
        if len(set(texts)) < len(texts):
            self.wrong(headers, "a header stands twice in `wide.from`", "name each once")
        return Wide(texts, names[0], names[1])

"""project.yaml read as a strict value."""

from __future__ import annotations

import hashlib
import zoneinfo
from collections.abc import Sequence
from pathlib import Path

from vaporqa.errors import FolderError, Problem, did_you_mean, nearest
from vaporqa.intake.unanswered import unanswered
from vaporqa.quantities.units import nearest_units, parse_number_with_unit, parse_unit
from vaporqa.tables.dictionary import TABLES, ColumnSpec
from vaporqa.tables.project import PROJECT_KEYS, PURPOSES, REFERENCE_KEYS, STAGES, Project
from vaporqa.tables.yaml_nodes import Document, Entries, Items, Node, Scalar, read_document

PROJECT_FILE = "project.yaml"
_TO_WRITE = "write one with at least `project: <name>` and `time_zone: <zone, such as America/Boise>`"


def load_project(folder: Path) -> Project:
    """Return what project.yaml of `folder` declares.

    Raises
    ------
    FolderError
        There is no such folder or no project.yaml in it, or the file says something that is not understood; every
        problem is named with its line.
    """
    folder = Path(folder)
    if not folder.exists():
        raise FolderError(Problem(str(folder), 0, 0, "there is no such folder", "name a project folder"))
    if not folder.is_dir():
        raise FolderError(Problem(str(folder), 0, 0, "this is not a folder", "name the folder that holds project.yaml"))
    path = folder / PROJECT_FILE
    if not path.is_file():
        names = sorted(entry.name for entry in folder.iterdir())
        if not names:
            raise FolderError(
                Problem(str(folder), 0, 0, f"the folder is empty; it needs {PROJECT_FILE} and tables", _TO_WRITE)
            )
        near = nearest(PROJECT_FILE, [name for name in names if name.endswith((".yaml", ".yml"))])
        mend = f"rename {near[0]}" if near else _TO_WRITE
        raise FolderError(Problem(str(folder), 0, 0, f"the folder has no {PROJECT_FILE}", mend))
    if not path.resolve().is_relative_to(folder.resolve()):
        raise FolderError(
            Problem(PROJECT_FILE, 0, 0, "the link leaves the project folder", "copy the file into the folder")
        )
    data = path.read_bytes()
    document = read_document(data, PROJECT_FILE)
    reader = _Reader(document, folder)
    project = reader.read(hashlib.sha256(data).hexdigest())
    open_entries = unanswered(document)
    places = {(problem.line, problem.column) for problem in open_entries}
    # What is wrong with a text that is no answer yet is not worth saying.
    others = [problem for problem in reader.problems if (problem.line, problem.column) not in places]
    if open_entries or others:
        raise FolderError(sorted([*open_entries, *others], key=lambda problem: (problem.line, problem.column)))
    return project


class _Reader:
    """Reads one document; what is wrong is gathered in `problems`."""

    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.folder = folder
        self.problems: list[Problem] = list(document.problems)

    def wrong(self, node: Node | None, message: str, mend: str = "") -> None:
        self.problems.append(self.document.problem(node, message, mend))

    def read(self, sha256: str) -> Project:
        root = self.document.root
        if not isinstance(root, Entries):
            if not self.problems:
                self.wrong(
                    root, "the file says nothing" if root is None else "keys and values are expected here", _TO_WRITE
                )
            return Project()
        self.problems += self.document.unknown_keys(root, PROJECT_KEYS)
        temperature, pressure = self.reference(root.get("reference"))
        return Project(
            folder=self.folder,
            name=self.text(root, "project"),
            purpose=self.one_of(root, "purpose", PURPOSES),
            time_zone=self.zone(root, "time_zone"),
            lab_time_zone=self.zone(root, "lab_time_zone"),
            altitude_m=self.quantity(root.get("altitude"), "altitude", "length", "4100 ft"),
            lab_altitude_m=self.quantity(root.get("lab_altitude"), "lab_altitude", "length", "600 ft"),
            reference_temperature=temperature,
            reference_pressure=pressure,
            profiles=self.texts(root.get("profile"), "profile"),
            stage=self.one_of(root, "stage", STAGES) or "2A",
            leave_out=self.leave_out(root.get("leave_out")),
            rules=self.paths(root.get("rules")),
            missing=self.texts(root.get("missing"), "missing", null_is_empty=True),
            units=self.units(root.get("units")),
            tables=self.tables(root.get("tables")),
            sha256=sha256,
            document=self.document,
        )

    def text(self, root: Entries, key: str) -> str:
        node = root.get(key)
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return ""
        if not isinstance(node, Scalar):
            self.wrong(node, f"`{key}` is one text")
            return ""
        return " ".join(node.text.split())

    def one_of(self, root: Entries, key: str, words: Sequence[str]) -> str:
        word = self.text(root, key)
        if word and word not in words:
            mend = did_you_mean(word, words) or "write one of: " + ", ".join(words)
            self.wrong(root.get(key), f"`{key}` cannot be '{word}'", mend)
            return ""
        return word

    def zone(self, root: Entries, key: str) -> str:
        name = self.text(root, key)
        if not name:
            return ""
        try:
            zoneinfo.ZoneInfo(name)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
            near = nearest(name.replace(" ", "_"), sorted(zoneinfo.available_timezones()), at_most=3)
            mend = f"did you mean {' or '.join(near)}?" if near else "write a name such as America/Boise or UTC"
            self.wrong(root.get(key), f"there is no time zone '{name}'", mend)
            return ""
        return name

    def quantity(self, node: Node | None, key: str, dimension: str, example: str) -> float | None:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return None
        if not isinstance(node, Scalar):
            self.wrong(node, f"`{key}` is a number with its unit", f"such as {example}")
            return None
        try:
            number, unit = parse_number_with_unit(node.text, dimension)
        except ValueError as error:
            self.wrong(node, f"`{key}`: {error}")
            return None
        return float(unit.to_canonical(number))

    def reference(self, node: Node | None) -> tuple[float, float]:
        defaults = Project()
        temperature, pressure = defaults.reference_temperature, defaults.reference_pressure
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return temperature, pressure
        if not isinstance(node, Entries):
            self.wrong(node, "`reference` has a temperature and a pressure", "{temperature: 25 degC, pressure: 1 atm}")
            return temperature, pressure
        self.problems += self.document.unknown_keys(node, REFERENCE_KEYS, "reference")
        kelvin_above = self.quantity(node.get("temperature"), "reference.temperature", "temperature", "25 degC")
        absolute = self.quantity(node.get("pressure"), "reference.pressure", "pressure", "1 atm")
        if kelvin_above is not None and kelvin_above <= -273.15:
            self.wrong(node.get("temperature"), "the reference temperature lies at or under absolute zero")
        if absolute is not None and absolute <= 0:
            self.wrong(node.get("pressure"), "the reference pressure must be over 0")
        return (temperature if kelvin_above is None else kelvin_above, pressure if absolute is None else absolute)

    def texts(self, node: Node | None, key: str, *, null_is_empty: bool = False) -> tuple[str, ...]:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return ()
        if isinstance(node, Scalar):
            return (node.text,)
        if isinstance(node, Entries):
            self.wrong(node, f"`{key}` is one text or a list of texts")
            return ()
        found = []
        for item in node:
            if not isinstance(item, Scalar):
                self.wrong(item, f"`{key}` is a list of texts")
            elif item.text or null_is_empty:
                found.append(item.text)
            else:
                self.wrong(item, f"an entry of `{key}` is empty")
        return tuple(found)

    def leave_out(self, node: Node | None) -> dict[str, str]:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return {}
        mend = 'write it as `leave_out: {leak_tracer: "no field forms were supplied"}`'
        if not isinstance(node, Entries):
            self.wrong(node, "`leave_out` gives a reason for each topic or rule", mend)
            return {}
        found = {}
        for key, value in node.values.items():
            if not isinstance(value, Scalar) or value.is_null or not value.text.strip():
                self.wrong(node.keys[key], f"'{key}' is left out without a reason", mend)
            else:
                found[key] = " ".join(value.text.split())
        return found

    def paths(self, node: Node | None) -> tuple[str, ...]:
        found = self.texts(node, "rules")
        items = list(node) if isinstance(node, Items) else [node] * len(found)
        root = self.folder.resolve()
        for text, item in zip(found, items, strict=False):
            path = self.folder / text
            if Path(text).is_absolute() or not path.resolve().is_relative_to(root):
                self.wrong(item, f"'{text}' lies outside the project folder", "copy the rules into the folder")
            elif not path.exists():
                names = sorted(str(entry.relative_to(self.folder)) for entry in self.folder.iterdir())
                self.wrong(item, f"there is no '{text}' in the project folder", did_you_mean(text.rstrip("/"), names))
        return found

    def units(self, node: Node | None) -> dict[str, str]:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return {}
        if not isinstance(node, Entries):
            self.wrong(node, "`units` gives a unit for each column", "write it as `units: {probes.depth_top: ft}`")
            return {}
        found = {}
        for key, value in node.values.items():
            spec = self.column(key, node.keys[key])
            if spec is None:
                continue
            if not isinstance(value, Scalar) or value.is_null:
                self.wrong(value, f"'{key}' has no unit", "write a unit after it")
                continue
            message = unit_fault(value.text, spec)
            if message:
                self.wrong(value, f"'{key}': {message[0]}", message[1])
            else:
                found[key] = value.text
        return found

    def column(self, dotted: str, node: Scalar) -> ColumnSpec | None:
        table, _, name = dotted.partition(".")
        spec = TABLES.get(table)
        if spec is None or not name:
            known = [f"{other}.{column.name}" for other, item in TABLES.items() for column in item.columns]
            self.wrong(node, f"'{dotted}' is no column", did_you_mean(dotted, known) or "write table.column")
            return None
        column = spec.column(name)
        if column is None:
            near = did_you_mean(name, [item.name for item in spec.columns])
            self.wrong(node, f"the table {table} has no column '{name}'", near)
            return None
        if column.kind not in ("quantity", "amount", "coordinate"):
            self.wrong(node, f"'{dotted}' takes no unit ({column.kind})", "leave it out")
            return None
        return column

    def tables(self, node: Node | None) -> Entries | None:
        if node is None or (isinstance(node, Scalar) and node.is_null):
            return None
        if not isinstance(node, Entries):
            self.wrong(
                node, "`tables` names tables and their files", "write it as `tables: {results: {file: lab.csv}}`"
            )
            return None
        self.problems += self.document.unknown_keys(node, tuple(TABLES), "tables")
        return node


def unit_dimension(spec: ColumnSpec) -> str:
    """Return the dimension that a unit of this column must have; empty where the column takes none."""
    return {"amount": "amount", "quantity": spec.dimension, "percent": "percent"}.get(spec.kind, "")


def unit_fault(text: str, spec: ColumnSpec) -> tuple[str, str] | None:
    """Return what is wrong with `text` as the unit of a column, and how to mend it; None where it is right."""
    if spec.kind == "coordinate":
        if parse_unit(text, "length") or parse_unit(text, "angle"):
            return None
        near = nearest_units(text, "length") or ["m", "ft", "deg"]
        return f"'{text}' is no unit of a coordinate", f"did you mean {' or '.join(near)}?"
    dimension = unit_dimension(spec)
    if parse_unit(text, dimension):
        return None
    near = nearest_units(text, dimension)
    offer = f"did you mean {' or '.join(near)}?" if near else f"write a unit of {dimension}"
    other = parse_unit(text)
    if other is not None:
        return f"'{text}' is a unit of {other.dimension}, and {dimension} is wanted", offer
    return f"the unit '{text}' is not known", offer

"""What project.yaml says, as a value, and the JSON Schema of that file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vaporqa.tables.dictionary import FLAG_MEANINGS, TABLES
from vaporqa.tables.yaml_nodes import Document, Entries

PURPOSES = ("property transaction", "landfill", "pipeline", "remediation", "groundwater", "other")
STAGES = ("1", "2A", "2B")
PROJECT_KEYS = (
    "project", "purpose", "time_zone", "lab_time_zone", "altitude", "lab_altitude", "reference", "profile", "stage",
    "leave_out", "rules", "missing", "units", "tables",
)  # fmt: skip
REFERENCE_KEYS = ("temperature", "pressure")
MAPPING_KEYS = (
    "file", "sheet", "header_row", "skip_rows", "columns", "formats", "date_only", "zones", "decimal", "missing",
    "values", "fixed", "lab_flags", "kinds", "rerun_suffixes", "units", "two_forms", "from", "wide",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Project:
    """What project.yaml declares.

    Attributes
    ----------
    folder : Path or None
        None for tables that were made in memory.
    name, purpose : str
        `project:` and `purpose:`; empty where not stated.
    time_zone, lab_time_zone : str
        Names of the IANA time-zone database; empty where not declared.
    altitude_m, lab_altitude_m : float or None
    reference_temperature : float
        degC.
    reference_pressure : float
        kPa.
    profiles : tuple of str
        In order, later over earlier.
    stage : str
        `1`, `2A` or `2B`.
    leave_out : mapping
        Topic or rule id to the reason for leaving it out.
    rules : tuple of str
        Further rule files and folders, relative to `folder`.
    missing : tuple of str
        Spellings of a missing value besides the empty cell.
    units : mapping
        ``table.column`` to a unit spelling.
    tables : Entries or None
        The mapping nodes as written, read by `vaporqa.intake.mapping`.
    sha256 : str
        Of project.yaml; empty in memory.
    document : Document or None
        The file itself, for located problems.
    notes : tuple of str
        What is worth saying about how the file was read.
    """

    folder: Path | None = None
    name: str = ""
    purpose: str = ""
    time_zone: str = ""
    lab_time_zone: str = ""
    altitude_m: float | None = None
    lab_altitude_m: float | None = None
    reference_temperature: float = 25.0
    reference_pressure: float = 101.325
    profiles: tuple[str, ...] = ()
    stage: str = "2A"
    leave_out: Mapping[str, str] = field(default_factory=dict)
    rules: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    units: Mapping[str, str] = field(default_factory=dict)
    tables: Entries | None = None
    sha256: str = ""
    document: Document | None = None
    notes: tuple[str, ...] = ()


def project_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 7) of project.yaml, for editors."""
    texts = {"type": "array", "items": {"type": "string"}}
    text_by_name = {"type": "object", "additionalProperties": {"type": "string"}}
    quantity = {"type": "string", "pattern": r"^\s*[-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*[^\s0-9.].*$"}
    some_texts = {"type": "array", "items": {"type": ["string", "number", "boolean", "null"]}}
    properties: dict[str, Any] = {
        "project": {"type": "string", "description": "Name of the project."},
        "purpose": {"enum": list(PURPOSES)},
        "time_zone": {"type": "string", "description": "Zone of local times in the field, such as America/Boise."},
        "lab_time_zone": {"type": "string", "description": "Zone of local times in the laboratory's tables."},
        "altitude": {**quantity, "description": "Of the field, with its unit, such as 4100 ft."},
        "lab_altitude": {**quantity, "description": "Of the laboratory, with its unit."},
        "reference": {
            "type": "object",
            "additionalProperties": False,
            "properties": dict.fromkeys(REFERENCE_KEYS, quantity),
        },
        "profile": {"oneOf": [{"type": "string"}, texts]},
        "stage": {"enum": [1, *STAGES]},
        "leave_out": {**text_by_name, "description": "Topics or rule ids not reviewed, each with its reason."},
        "rules": {**texts, "description": "Further rule files, paths inside the folder."},
        "missing": some_texts,
        "units": {
            "type": "object",
            "patternProperties": {r"^[a-z_]+\.[a-z_]+$": {"type": "string"}},
            "additionalProperties": False,
        },
        "tables": {
            "type": "object",
            "additionalProperties": False,
            "properties": {name: {"$ref": "#/definitions/mappings"} for name in TABLES},
        },
    }
    return {
        "$schema": "http://json-schema.org/draft-07/schema#",
        "title": "vaporqa project.yaml",
        "type": "object",
        "additionalProperties": False,
        "properties": properties,
        "definitions": {
            "mappings": {
                "oneOf": [
                    {"$ref": "#/definitions/mapping"},
                    {"type": "array", "items": {"$ref": "#/definitions/mapping"}},
                ]
            },
            "mapping": _mapping_schema(),
        },
    }


def _mapping_schema() -> dict[str, Any]:
    texts = {"type": "array", "items": {"type": ["string", "number", "boolean", "null"]}}
    one_or_more = {"oneOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}, "minItems": 1}]}
    meaning = {"enum": list(FLAG_MEANINGS)}
    anything = {"type": "object"}
    properties = {
        "file": {"type": "string", "description": "Path inside the folder, or a glob."},
        "from": {"enum": list(TABLES)},
        "sheet": {"type": "string"},
        "header_row": {"type": "integer", "minimum": 1},
        "skip_rows": {"type": "array", "items": {"type": "integer", "minimum": 1}},
        "columns": {"type": "object", "additionalProperties": one_or_more},
        "formats": {"type": "object", "additionalProperties": one_or_more},
        "date_only": {"type": "array", "items": {"type": "string"}},
        "zones": {"type": "object", "additionalProperties": {"type": "string"}},
        "decimal": {"enum": [".", ","]},
        "missing": {"oneOf": [texts, {"type": "object", "additionalProperties": texts}]},
        "values": anything,
        "fixed": anything,
        "lab_flags": {"type": "object", "additionalProperties": {"oneOf": [meaning, anything, {"type": "string"}]}},
        "kinds": anything,
        "rerun_suffixes": {"type": "array", "items": {"type": "string"}},
        "units": {"type": "object", "additionalProperties": {"type": "string"}},
        "two_forms": {"type": "boolean"},
        "wide": anything,
    }
    return {"type": "object", "additionalProperties": False, "properties": properties}

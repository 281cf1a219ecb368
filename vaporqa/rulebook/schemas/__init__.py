"""JSON Schemas (draft 7) of the YAML files that people write, generated from the shapes, for editors.

An editor tells a misspelt key at once; what the words mean is judged by `vaporqa rules test` and by every run.
``python -m vaporqa.rulebook.schemas`` writes them beside this file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from vaporqa.rulebook.judgement_shapes import JudgementFile
from vaporqa.rulebook.models import ProfileFile, TopicFile
from vaporqa.rulebook.vocabulary import Vocabulary
from vaporqa.tables.project import project_schema

#: Where the shipped schemas lie.
HERE = Path(__file__).parent

# The language server that most editors use is safe only up to draft 7.
DRAFT = "http://json-schema.org/draft-07/schema#"

JsonSchema = dict[str, Any]


def schemas(vocabulary: Vocabulary | None = None) -> Mapping[str, JsonSchema]:
    """Return every schema by the name of its file."""
    words = vocabulary or Vocabulary.installed()
    rules = _schema(TopicFile, "vaporqa rule file")
    rule = rules["definitions"]["RuleShape"]["properties"]
    rule["check"] = {"enum": sorted(words.checks), "description": rule["check"]["description"]}
    rule["row"]["description"] += ", such as probes or samples"
    for option in words.options():
        about = sorted({spec.options[option] for spec in words.checks.values() if option in spec.options})
        rule.setdefault(option, {"description": "; ".join(about)})
    return {
        "rules.schema.json": rules,
        "profile.schema.json": _schema(ProfileFile, "vaporqa profile"),
        "project.schema.json": project_schema(),
        "judgements.schema.json": _schema(JudgementFile, "vaporqa judgements.yaml"),
    }


def text_of(schema: JsonSchema) -> str:
    """Return a schema as its file holds it."""
    return json.dumps(schema, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def write_schemas() -> list[Path]:
    """Write the shipped schemas and return their paths."""
    written = []
    for name, schema in schemas().items():
        path = HERE / name
        path.write_text(text_of(schema), encoding="utf-8")
        written.append(path)
    return written


def _schema(shape: type[BaseModel], title: str) -> JsonSchema:
    made = shape.model_json_schema(by_alias=True, ref_template="#/definitions/{model}")
    made["definitions"] = made.pop("$defs", {})
    return {"$schema": DRAFT, **_plainer(made), "title": title}


def _plainer(part: Any) -> Any:
    """Drop the titles that only repeat a key, and the null of keys that may be left out."""
    if isinstance(part, list):
        return [_plainer(inner) for inner in part]
    if not isinstance(part, dict):
        return part
    kept = {key: _plainer(inner) for key, inner in part.items() if not (key == "title" and isinstance(inner, str))}
    if kept.get("default", 0) in (None, "") or kept.get("default") in ({}, []):
        del kept["default"]
    options = kept.get("anyOf")
    if isinstance(options, list) and {"type": "null"} in options:
        options.remove({"type": "null"})
        if len(options) == 1:
            del kept["anyOf"]
            kept = {**options[0], **kept}
    kept.pop("discriminator", None)
    return kept

"""The shipped JSON Schemas are those of the shapes, are draft 7, and accept every shipped file."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest
import yaml
from rule_words import WORDS

from vaporqa.rulebook import find_shipped
from vaporqa.rulebook.schemas import HERE as SCHEMA_FOLDER
from vaporqa.rulebook.schemas import schemas, text_of

HERE = Path(__file__).parent
NAMES = ("rules.schema.json", "profile.schema.json", "project.schema.json", "judgements.schema.json")


class EditorLoader(yaml.SafeLoader):
    """YAML 1.2 as editors read it: only true and false are yes and no, and a time is a text."""


EditorLoader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in found if tag.rpartition(":")[2] in ("int", "float", "null")]
    for first, found in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("true|false"), list("tf"))


def shipped(*patterns: str) -> list[Path]:
    return sorted(path for pattern in patterns for path in find_shipped().glob(pattern))


def check(path: Path, schema: object) -> None:
    jsonschema.Draft7Validator(schema).validate(yaml.load(path.read_text(encoding="utf-8"), Loader=EditorLoader))


@pytest.mark.parametrize("name", NAMES)
def test_the_shipped_schema_is_the_generated_one(name: str) -> None:
    assert (SCHEMA_FOLDER / name).read_text(encoding="utf-8") == text_of(schemas()[name]), (
        "run python -m vaporqa.rulebook.schemas"
    )


@pytest.mark.parametrize("name", NAMES)
def test_the_schema_is_draft_seven(name: str) -> None:
    schema = json.loads((SCHEMA_FOLDER / name).read_text(encoding="utf-8"))
    assert schema["$schema"] == "http://json-schema.org/draft-07/schema#"
    jsonschema.Draft7Validator.check_schema(schema)


@pytest.mark.parametrize("path", shipped("*.yaml"), ids=lambda path: path.stem)
def test_every_shipped_rule_file_fits_the_schema(path: Path) -> None:
    check(path, schemas()["rules.schema.json"])


@pytest.mark.parametrize("path", shipped("profiles/*.yaml"), ids=lambda path: path.stem)
def test_every_shipped_profile_fits_the_schema(path: Path) -> None:
    check(path, schemas()["profile.schema.json"])


@pytest.mark.parametrize("path", sorted((HERE / "good").glob("*.yaml")), ids=lambda path: path.stem)
def test_good_rule_files_fit_the_schema(path: Path) -> None:
    check(path, schemas(WORDS)["rules.schema.json"])


def test_a_good_profile_fits_the_schema() -> None:
    check(HERE / "good" / "profiles" / "illinois.yaml", schemas(WORDS)["profile.schema.json"])


@pytest.mark.parametrize("name", ["keys", "words", "schemes"])
def test_a_bad_rule_file_is_refused_by_the_schema_too(name: str) -> None:
    value = yaml.load((HERE / "bad" / f"{name}.yaml").read_text(encoding="utf-8"), Loader=EditorLoader)
    assert not jsonschema.Draft7Validator(schemas(WORDS)["rules.schema.json"]).is_valid(value)

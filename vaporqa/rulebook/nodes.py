"""From YAML nodes to values that the shapes take, and from what the shapes refuse back to a place in the file."""

from __future__ import annotations

import types
from collections.abc import Iterator, Sequence
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from vaporqa.errors import Problem, did_you_mean, nearest
from vaporqa.tables.yaml_nodes import Document, Entries, Items, Node, Scalar

Path = tuple[str | int, ...]
Plain = Any


def plain(node: Node | None) -> Plain:
    """Return a node as texts, lists and mappings; None where nothing stands there."""
    if isinstance(node, Entries):
        return {key: plain(value) for key, value in node.values.items()}
    if isinstance(node, Items):
        return [plain(item) for item in node.items]
    if node is None or node.is_null:
        return None
    return node.text


def node_at(root: Node | None, path: Path) -> Node | None:
    """Return the node at `path`, or the deepest one above it that the file has."""
    node = root
    for part in path:
        found = _step(node, part)
        if found is not None:
            node = found
    return node


def key_at(root: Node | None, path: Path) -> Node | None:
    """Return the key that stands at `path`; where it is no key of a mapping, the node itself."""
    parent = node_at(root, path[:-1])
    if path and isinstance(parent, Entries) and path[-1] in parent.keys:
        return parent.keys[str(path[-1])]
    return node_at(root, path)


def stands_at(root: Node | None, path: Path) -> bool:
    """Whether the file has something under exactly this path."""
    node = root
    for part in path:
        node = _step(node, part)
        if node is None:
            return False
    return True


def _step(node: Node | None, part: str | int) -> Node | None:
    if isinstance(node, Entries) and isinstance(part, str):
        return node.get(part)
    if isinstance(node, Items) and isinstance(part, int) and part < len(node):
        return node.items[part]
    return None


def problem_at(document: Document, path: Path, message: str, mend: str = "", *, key: bool = False) -> Problem:
    """Return a problem at `path` in the file: at the value, or at its key."""
    node = key_at(document.root, path) if key else node_at(document.root, path)
    return document.problem(node, message, mend)


def shape_problems(
    error: ValidationError, document: Document, base: Path, shape: type[BaseModel], more_keys: Sequence[str] = ()
) -> Iterator[tuple[Path, Problem | None]]:
    """Yield path and problem for everything that a shape refused; None where another problem says it already.

    Parameters
    ----------
    error : ValidationError
    document : Document
        The file that the values came from.
    base : path
        Where in the file the validated value stands.
    shape : type
        The model that refused.
    more_keys : sequence of str
        Keys that are known at the top of the shape besides its own fields.
    """
    details = error.errors(include_url=False, include_input=True)
    paths = [tuple(part for part in detail["loc"] if isinstance(part, str | int)) for detail in details]
    misspelt: set[Path] = set()  # what an unknown key was probably meant to be is not missing besides
    for detail, inner in zip(details, paths, strict=True):
        if detail["type"] == "extra_forbidden":
            near = nearest(str(inner[-1]), keys_of(_shape_at(shape, inner[:-1])))
            misspelt |= {(*inner[:-1], word) for word in near}
    for detail, inner in zip(details, paths, strict=True):
        if detail["type"] == "missing" and inner in misspelt:
            yield base + inner, None
        else:
            yield base + inner, _sentence(detail, document, base, inner, shape, more_keys)


def _sentence(
    detail: ErrorDetails, document: Document, base: Path, inner: Path, shape: type[BaseModel], more_keys: Sequence[str]
) -> Problem:
    kind, context = detail["type"], detail.get("ctx", {})
    path = base + inner
    name = inner[-1] if inner else ""
    if kind == "missing":
        owner = _shape_at(shape, inner[:-1])
        message = f"'{name}' is missing{_where(base + inner[:-1])}"
        return problem_at(document, path[:-1], message, f"{name}: {_about(owner, str(name))}", key=True)
    if kind == "extra_forbidden":
        owner = _shape_at(shape, inner[:-1])
        known = [*keys_of(owner), *(more_keys if len(inner) == 1 else ())]
        mend = did_you_mean(str(name), known) or "known here: " + ", ".join(known)
        return problem_at(document, path, f"unknown key '{name}'{_where(path[:-1])}", mend, key=True)
    if kind == "refused":
        return problem_at(document, path, str(context["message"]), str(context["mend"]))
    if kind == "not_listed":
        word, words = str(context["word"]), context["words"]
        mend = did_you_mean(word, words) or "write one of: " + ", ".join(words)
        return problem_at(document, path, f"'{word}' is not known here", mend)
    if detail["input"] is None:
        mend = f"{name}: {_about(_shape_at(shape, inner[:-1]), str(name))}"
        return problem_at(document, path, f"nothing stands under '{name}'", mend if mend[-1] != " " else "", key=True)
    if kind in ("too_short", "too_long"):
        count = context["min_length"] if kind == "too_short" else context["max_length"]
        return problem_at(document, path, f"'{name}' has {context['actual_length']} entries", f"write {count}")
    wanted = _WANTED.get(kind)
    if wanted:
        return problem_at(document, path, f"'{name}' is {_form(detail['input'])}; {wanted} is wanted here")
    return problem_at(document, path, f"'{name}': {detail['msg']}")


_WANTED = {
    "string_type": "a text",
    "dict_type": "a mapping (key: value)",
    "model_type": "a mapping (key: value)",
    "model_attributes_type": "a mapping (key: value)",
    "list_type": "a list",
}


def _form(value: object) -> str:
    if isinstance(value, dict):
        return "a mapping"
    return "a list" if isinstance(value, list) else "a text"


def _where(path: Path) -> str:
    """Return `` in limits.leak`` for a place inside a rule; nothing for the top of a file."""
    names = [str(part) for part in path if isinstance(part, str) and part != "rules"]
    return " in " + ".".join(names) if names else ""


def keys_of(shape: type[BaseModel] | None) -> list[str]:
    """Return the keys that a shape knows, as files write them."""
    if shape is None:
        return []
    return [field.alias or name for name, field in shape.model_fields.items()]


def _about(shape: type[BaseModel] | None, key: str) -> str:
    if shape is not None:
        for name, field in shape.model_fields.items():
            if key in (field.alias, name):
                return field.description or ""
    return ""


def _shape_at(shape: type[BaseModel], path: Path) -> type[BaseModel] | None:
    """Return the shape of the value at `path` below `shape`, or None where it is no shape."""
    kind: object = shape
    for part in path:
        model = _model_in(kind)
        if model is not None:
            fields = {field.alias or name: field for name, field in model.model_fields.items()}
            if part in fields:
                kind = fields[str(part)].annotation
            continue
        inner = [argument for argument in _arguments(kind) if argument is not str]
        kind = inner[-1] if inner else None
    return _model_in(kind)


def _arguments(kind: object) -> tuple[object, ...]:
    """Return what a list or mapping holds, looking through optional and annotated types."""
    origin = get_origin(kind)
    if origin is Annotated:
        return _arguments(get_args(kind)[0])
    if origin in (Union, types.UnionType):
        return next((found for option in get_args(kind) if (found := _arguments(option))), ())
    return get_args(kind)


def _model_in(kind: object) -> type[BaseModel] | None:
    origin = get_origin(kind)
    if origin is Annotated:
        return _model_in(get_args(kind)[0])
    if origin in (Union, types.UnionType):
        return next((found for option in get_args(kind) if (found := _model_in(option))), None)
    return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None


def scalar_at(root: Node | None, path: Path) -> Scalar | None:
    """Return the scalar at exactly `path`, or None."""
    if not stands_at(root, path):
        return None
    node = node_at(root, path)
    return node if isinstance(node, Scalar) else None

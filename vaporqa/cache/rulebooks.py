"""The shipped rules as they were read, kept as JSON: reading and judging their YAML costs a fifth of a small review.

Only what is the same for every project is kept: the shipped files under the profiles named, no project's own. What
comes back equals what was kept, value for value and type for type, or the files are read again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from enum import Enum
from types import MappingProxyType
from typing import Any

from vaporqa.cache.keys import rules_key
from vaporqa.cache.shelf import fetch, store
from vaporqa.criteria import (
    Backing,
    Change,
    Comparison,
    Example,
    Limit,
    Rule,
    Rulebook,
    Scheme,
    SchemeCell,
    Sense,
    Source,
)
from vaporqa.outcomes import Letter, Pair

_VALUES = {
    kind.__name__: kind
    for kind in (Change, Comparison, Example, Limit, Pair, Rule, Rulebook, Scheme, SchemeCell, Source)
}
_WORDS: Mapping[str, type[Enum]] = {kind.__name__: kind for kind in (Backing, Letter, Sense)}
#: Tags of a mapping that may not be written to, and of a plain one.
_FROZEN, _PLAIN = "", "{}"
_ITSELF = (str, int, float, bool, type(None))


def kept_rulebook(profiles: Sequence[str], load: Callable[[], Rulebook]) -> Rulebook:
    """Return the shipped rules under `profiles`: as kept, or as `load` reads them, which are then kept.

    Raises whatever `load` raises.
    """
    key = rules_key(profiles)
    if key is None:
        return load()
    sha256, contents = key
    kept = fetch(sha256).get("rulebook")
    if kept is not None:
        try:
            rulebook = _value(kept)
        except (LookupError, TypeError, ValueError, AttributeError, RecursionError):
            rulebook = None
        if isinstance(rulebook, Rulebook):
            return rulebook
    rulebook = load()
    if sorted(rulebook.files.values()) == sorted(contents.values()):  # else a file was changed while it was read
        try:
            store(sha256, {"rulebook": _plain(rulebook)})
        except TypeError:
            return rulebook
    return rulebook


def _plain(value: Any) -> Any:
    """Return a value as JSON has it; TypeError where it holds what would not come back as it was."""
    kind = type(value)
    if kind in _ITSELF:
        return value
    if kind is tuple:
        return [_plain(one) for one in value]
    if kind is dict or kind is MappingProxyType:
        if not all(type(name) is str for name in value):
            raise TypeError(kind)
        return {_PLAIN if kind is dict else _FROZEN: {name: _plain(one) for name, one in value.items()}}
    if _VALUES.get(kind.__name__) is kind:
        return {kind.__name__: [_plain(getattr(value, field.name)) for field in fields(kind)]}
    if _WORDS.get(kind.__name__) is kind:
        return {kind.__name__: value.value}
    raise TypeError(kind)


def _value(kept: Any) -> Any:
    kind = type(kept)
    if kind is list:
        return tuple(map(_value, kept))
    if kind is not dict:
        return kept
    ((tag, inside),) = kept.items()
    if tag in _VALUES:
        return _VALUES[tag](*map(_value, inside))
    if tag in _WORDS:
        return _WORDS[tag](inside)
    found = {name: _value(one) for name, one in inside.items()}
    return found if tag == _PLAIN else MappingProxyType(found)

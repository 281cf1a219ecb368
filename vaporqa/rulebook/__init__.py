"""Rule files and profiles, read strictly: YAML nodes with places, shapes, meaning, profiles, JSON Schemas.

`load_rulebook` is the way in; every problem of every file comes in one `RulebookError`.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vaporqa.rulebook.loading import load_rulebook, profile_summaries
    from vaporqa.rulebook.shipped import find_shipped, shipped_headings
    from vaporqa.rulebook.vocabulary import Vocabulary

__all__ = ["Vocabulary", "find_shipped", "load_rulebook", "profile_summaries", "shipped_headings"]

_HOMES = {
    "Vocabulary": "vocabulary",
    "find_shipped": "shipped",
    "load_rulebook": "loading",
    "profile_summaries": "loading",
    "shipped_headings": "shipped",
}


def __getattr__(name: str) -> Any:
    # Start-up time: a list of rules needs no shapes, and no arrays.
    if name in _HOMES:
        return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

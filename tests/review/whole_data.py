"""Reviews of small tables with standings set by hand: what is said of the data as a whole follows from those alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Standing
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.settling import BIASES, QUALIFIERS, Settlement
from vaporqa.tables.project import Project

SHIPPED = load_rulebook()
Cells = dict[str, str]


def reviewed(
    rows: Mapping[str, Sequence[Cells]], settled: Mapping[int, tuple[Standing, str, str]] | None = None,
    *, rpd_limit: float | None = 50.0,
) -> Review:  # fmt: skip
    """Review without any rule in force, every result usable but those of `settled`: row to standing, letter, bias."""
    project = Project(time_zone="UTC", lab_time_zone="UTC", leave_out=dict.fromkeys(TOPICS, "not of this test"))
    book = SHIPPED
    if rpd_limit is None:
        book = replace(SHIPPED, rules=tuple(rule for rule in SHIPPED.rules if rule.id != "duplicate-agreement"))
    made = review_folder(project, tables_from_text({name: list(given) for name, given in rows.items()}, project), book)
    size = made.tables.tables["results"].rows
    standing, qualifier, bias = np.zeros(size, np.uint8), np.zeros(size, np.int8), np.zeros(size, np.int8)
    for row, (worth, letter, direction) in (settled or {}).items():
        standing[row], qualifier[row], bias[row] = worth, QUALIFIERS.index(letter), BIASES.index(direction)
    return replace(made, settled={**made.settled, "results": Settlement(standing, qualifier, bias)})


TOPICS = tuple(SHIPPED.topics)

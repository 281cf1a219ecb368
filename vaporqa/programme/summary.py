"""What one project folder comes to: numbers and short texts alone, so that they travel between processes as JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class RuleCounts:
    """A rule that spoke: findings by outcome, and the field results that its broken findings bear on."""

    rule: str
    title: str
    broken: int
    unproven: int
    results: int


@dataclass(frozen=True, slots=True)
class Group:
    """Field results of one laboratory or crew by standing (4,), from usable to rejected; empty name: not stated."""

    name: str
    counts: tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Duplicates:
    """Duplicate pairs of one analyte, as `vaporqa.review.indicators.Precision` counts them; per cent, nan of none."""

    analyte: str
    cas: str
    pairs: int
    both_detected: int
    neither_detected: int
    rejected: int
    largest_rpd: float
    pooled_rsd: float


@dataclass(frozen=True, slots=True)
class Summary:
    """One folder, reviewed.

    Attributes
    ----------
    project : str
        Its name in project.yaml.
    profiles : tuple of str
    samples, findings : int
    results : tuple of int (4,)
        Results of field samples by standing, from usable to rejected.
    worst : int
        Worst standing of any row of any table.
    rules, laboratories, crews
        Only what spoke, and only what is named by a counted result.
    duplicates : tuple of Duplicates
        By analyte.
    """

    project: str
    profiles: tuple[str, ...]
    samples: int
    findings: int
    results: tuple[int, int, int, int]
    worst: int
    rules: tuple[RuleCounts, ...]
    laboratories: tuple[Group, ...]
    crews: tuple[Group, ...]
    duplicates: tuple[Duplicates, ...]

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return dataclasses.asdict(self)

    @staticmethod
    def of_json(found: Mapping[str, Any]) -> Summary:
        """Return the summary that `as_json` was made of."""
        return Summary(
            project=found["project"], profiles=tuple(found["profiles"]), samples=found["samples"],
            findings=found["findings"], results=_four(found["results"]), worst=found["worst"],
            rules=tuple(RuleCounts(**one) for one in found["rules"]),
            laboratories=tuple(Group(one["name"], _four(one["counts"])) for one in found["laboratories"]),
            crews=tuple(Group(one["name"], _four(one["counts"])) for one in found["crews"]),
            duplicates=tuple(Duplicates(**one) for one in found["duplicates"]),
        )  # fmt: skip


def _four(numbers: Any) -> tuple[int, int, int, int]:
    usable, estimated, unproven, rejected = numbers
    return usable, estimated, unproven, rejected


class End(StrEnum):
    """How the review of a folder ended."""

    REVIEWED = "reviewed"
    NOT_DONE = "not reviewed"
    FAULT = "fault in vaporqa"
    LOST = "worker lost"


@dataclass(frozen=True, slots=True)
class Member:
    """One folder of a programme.

    Attributes
    ----------
    name : str
        Folder of its report, below that of the programme.
    folder : str
        The project folder as it was named.
    end : End
    error : str
        Why it was not reviewed; empty where it was.
    summary : Summary or None
        None where it was not reviewed.
    """

    name: str
    folder: str
    end: End
    error: str
    summary: Summary | None

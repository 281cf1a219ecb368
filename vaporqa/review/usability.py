"""What the data as a whole can be used for: indicators, decisions at screening levels, stage that can be claimed."""

from __future__ import annotations

from dataclasses import dataclass

from vaporqa.review.decisions import Decisions, decisions_of
from vaporqa.review.indicators import Indicators, indicators_of
from vaporqa.review.stages import ValidationStage, stage_of
from vaporqa.review.values import Review


@dataclass(frozen=True, slots=True)
class Usability:
    """Statements on the whole set of data; none of them changes a row.

    `indicators` is None without results, `decisions` is None without results or screening levels.
    """

    indicators: Indicators | None
    decisions: Decisions | None
    stage: ValidationStage


def usability_of(review: Review) -> Usability:
    """Compute what a review says of the data as a whole."""
    return Usability(indicators_of(review), decisions_of(review), stage_of(review))

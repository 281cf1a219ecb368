"""Letters as rule files write them, as values."""

from __future__ import annotations

from vaporqa.outcomes import LETTERS, Letter, Pair
from vaporqa.rulebook.models import PairShape


def letter_from(word: str) -> Letter:
    """Return the letter that a rule file writes; ``none`` is ``-``."""
    return Letter.NONE if word == "none" else LETTERS[word]


def pair_from(shape: PairShape) -> Pair:
    """Return the pair of letters that a shape states."""
    return Pair(letter_from(shape.detect), letter_from(shape.nondetect))

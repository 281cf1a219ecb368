from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from made_reviews import RULES, UNPROVEN, Said, made_review, write_folder

from vaporqa.evidence.judged import Amounts, Labels, Stamps
from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.review.values import Review

#: 2025-05-06 15:30 UTC is 09:30 in the mountain zone of the project (UTC-6 in summer).
HALF_PAST_NINE = 1_746_545_400_000_000


def labels(text: str) -> Labels:
    values = np.empty(1, dtype=object)
    values[0] = text
    return Labels(values)


def leak(row: int, share: float, limit: int, sample: str, reached: int) -> Said:
    pair = RULES[1].pair(RULES[1].limits[limit].name)
    return Said(
        1, "tracer_tests", row, Outcome.BROKEN, pair, limit, share, samples=(sample,), reached=reached,
        facts={
            "tracer": labels("helium"), "train": Amounts(np.array([1.01]), "%v"),
            "shroud": Amounts(np.array([20.0]), "%v"),
            "when": Stamps(np.array([HALF_PAST_NINE]), np.array([False])),
        },
    )  # fmt: skip


@pytest.fixture
def review(tmp_path: Path) -> Review:
    """Two leaks, an unreadable cell, a whole table that is not there, a flag of the laboratory, one exact copy."""
    said = [
        Said(0, "results", 3, Outcome.UNPROVEN, UNPROVEN, column="result",
             facts={"cell": labels("1O.5"), "detail": labels("10.5")}),
        leak(0, 5.05, 0, "S1", 2),
        leak(1, 22.5, 1, "S2", 3),
        Said(2, "samples", -1, Outcome.UNPROVEN, UNPROVEN, want="the purges table", own=(0, 1), samples=("S1", "S2"),
             reached=5),
        Said(3, "results", 0, Outcome.BROKEN, Pair(Letter.J_PLUS, Letter.NONE), facts={"analyte": labels("=cmd()")}),
    ]  # fmt: skip
    return made_review(
        write_folder(tmp_path / "yard"), said,
        standing={"results": [2, 2, 3, 3, 0, 3], "tracer_tests": [1, 3], "samples": [2, 2, 0]},
        qualifier=["J", "UJ", "R", "R", "U", "R"], caution=True,
    )  # fmt: skip

"""The words that rule files may use: checks and measures by name, and the closed lists of the format itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vaporqa.checks import CheckSpec
from vaporqa.evidence.judged import MeasureSpec

#: How far a finding goes besides its own row.
REACHES = ("row", "sample", "analyte", "batch", "calibration", "standard", "run", "results")
STAGES = ("1", "2A", "2B")

#: Outcomes that an example may expect.
OUTCOMES = ("holds", "broken", "unproven", "not concerned")

#: Names that stand beside the names of limits, and so cannot be one.
BROKEN, NO_EVIDENCE = "broken", "no_evidence"

#: Placeholders of every sentence; the facts of the measure and of the check come on top.
COMMON_PLACEHOLDERS = ("measured", "limit", "missing", "key", "row")

#: The check whose findings come from reading the files: its rules have no numbers and no limits to nudge.
READING = "reading"

#: What a profile may choose, and the words it may choose from. The words of ``blanks.scheme`` are the schemes.
SCHEME_CHOICE = "blanks.scheme"
#: Limits that stand for a letter of the scheme that is chosen, by check; an empty letter stands for all of it.
SCHEME_LIMITS: Mapping[str, Mapping[str, str]] = {
    "blank": {"nondetect": "U", "high": "J+"},
    "equipment_blank": {"no_detect": ""},
}
CHOICES: Mapping[str, tuple[str, ...]] = {
    SCHEME_CHOICE: (),
    "compare": ("exact", "rounded"),
    "duplicates.basis": ("reporting_limit", "detection_limit"),
}
BASELINE_CHOICES: Mapping[str, str] = {
    SCHEME_CHOICE: "five-times",
    "compare": "exact",
    "duplicates.basis": "reporting_limit",
}


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The checks and measures that rule files may name."""

    checks: Mapping[str, CheckSpec]
    measures: Mapping[str, MeasureSpec]

    @staticmethod
    def installed() -> Vocabulary:
        """Everything that this installation knows."""
        from vaporqa.checks import CHECKS
        from vaporqa.evidence.measures import MEASURES

        return Vocabulary(CHECKS, MEASURES)

    def options(self) -> tuple[str, ...]:
        """Every option of every check, sorted."""
        return tuple(sorted({option for spec in self.checks.values() for option in spec.options}))

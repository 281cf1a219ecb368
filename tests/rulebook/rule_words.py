"""A small vocabulary for rule files in tests, so that the loader is judged apart from the shipped checks."""

from __future__ import annotations

from vaporqa.checks import CheckSpec
from vaporqa.evidence.judged import MeasureSpec
from vaporqa.rulebook import Vocabulary


def never(*_: object) -> None:
    """No rule of these tests is run."""
    raise AssertionError("the loader must not run a check")


CHECKS = {
    spec.name: spec
    for spec in (
        CheckSpec(
            "bound", "holds a measured quantity against limits", never, measured=True,
            options={"either": "any one limit holding is enough", "allowance": "subtracted before judging"},
        ),
        CheckSpec("present", "something must be there", never, numeric=False, facts=("absent_table",)),
        CheckSpec("reading", "what reading the files found", never, numeric=False),
        CheckSpec("frequency", "one in so many", never, dimension="ratio", facts=("group",)),
    )
}  # fmt: skip
MEASURES = {
    spec.name: spec
    for spec in (
        MeasureSpec(
            "leak_fraction", "tracer_tests", "ratio", "tracer in the train over the shroud", never,
            facts=("tracer", "train", "shroud"), cases=("basis",),
        ),
        MeasureSpec("top_depth", "probes", "length", "top of the interval", never, cases=("kind", "install_method")),
        MeasureSpec("hold_time", "results", "duration", "to analysis", never, cases=("container", "analyte_class")),
        MeasureSpec("gas_recovery", "results", "percent", "recovery", never),
        MeasureSpec("tube_material", "probes", "words", "tubing material", never, facts=("material",)),
        MeasureSpec("lowest_shroud", "tracer_tests", "amount", "lowest shroud reading", never),
    )
}  # fmt: skip
WORDS = Vocabulary(CHECKS, MEASURES)

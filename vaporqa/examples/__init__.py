"""The examples inside the rules, run; the limits nudged across them; the rules changed under them."""

from vaporqa.examples.mutating import Attack, Survivor, mutate_rules
from vaporqa.examples.nudging import UnnoticedLimit, nudge_limits
from vaporqa.examples.running import ExampleResult, Judge, judge_by_check, run_examples

__all__ = [
    "Attack",
    "ExampleResult",
    "Judge",
    "Survivor",
    "UnnoticedLimit",
    "judge_by_check",
    "mutate_rules",
    "nudge_limits",
    "run_examples",
]

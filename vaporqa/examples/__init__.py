"""The examples inside the rules, run, and the limits nudged across them."""

from vaporqa.examples.nudging import UnnoticedLimit, nudge_limits
from vaporqa.examples.running import ExampleResult, Judge, judge_by_check, run_examples

__all__ = ["ExampleResult", "Judge", "UnnoticedLimit", "judge_by_check", "nudge_limits", "run_examples"]

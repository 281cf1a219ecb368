"""What moved: between two rulebooks over one folder (`reviews`), and between two runs that were written (`runs`)."""

from vaporqa.comparing.reviews import Comparison, Moved, Mover, compare_reviews
from vaporqa.comparing.runs import Run, RunComparison, compare_runs, read_run

__all__ = [
    "Comparison", "Moved", "Mover", "Run", "RunComparison", "compare_reviews", "compare_runs", "read_run",
]  # fmt: skip

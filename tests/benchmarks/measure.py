"""Whole-process ratios: a review of a seeded folder against `pandas.read_csv` of its results table, in one run.

    python tests/benchmarks/measure.py [--results 100000 1000000] [--repeat 3]

Each side is a process of its own; the best of `--repeat` runs counts. Peak memory is the largest resident set of the
process. What is printed is a Markdown table for the README.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from make_folder import make

READ = "import sys, pandas; pandas.read_csv(sys.argv[1])"


def run(command: list[str]) -> tuple[float, float]:
    """Seconds and peak MiB of one process."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    words = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        raise SystemExit(f"{command} failed:\n{words.decode()}")
    return time.perf_counter() - began, usage.ru_maxrss / 1024


def best(command: list[str], repeat: int) -> tuple[float, float]:
    """Best of several runs, and the peak memory of that run."""
    return min(run(command) for _ in range(repeat))


def reviewed(folder: Path, out: Path) -> list[str]:
    """The command that reviews a folder and writes every file."""
    return [sys.executable, "-m", "vaporqa", "check", str(folder), "--out", str(out), "--fail-on", "never"]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--results", type=int, nargs="+", default=[100_000, 1_000_000])
    parser.add_argument("--repeat", type=int, default=3)
    asked = parser.parse_args()
    print("| results | read_csv (R) | whole review | time | R's memory | peak memory |")
    print("|---|---|---|---|---|---|")
    for count in asked.results:
        with tempfile.TemporaryDirectory() as scratch:
            folder = Path(scratch) / "folder"
            make(folder, count, seed=7)
            read = best([sys.executable, "-c", READ, str(folder / "results.csv")], asked.repeat)
            review = best(reviewed(folder, Path(scratch) / "out"), asked.repeat)
        print(
            f"| {count:,} | {read[0]:.2f} s | {review[0]:.2f} s | {review[0] / read[0]:.1f} R | {read[1]:.0f} MiB "
            f"| {review[1] / read[1]:.1f} R |",
            flush=True,
        )


if __name__ == "__main__":
    main()

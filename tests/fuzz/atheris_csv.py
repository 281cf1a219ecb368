"""Coverage-guided bytes as project.yaml and results.csv; by hand, not in CI.

``pip install atheris; python tests/fuzz/atheris_csv.py -max_total_time=180 -rss_limit_mb=2048``. The first line that is
``\\0`` ends project.yaml; what follows is the table. Every input that ends in anything but a refusal becomes a test.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["vaporqa.intake", "vaporqa.tables", "yaml"]):
    from vaporqa.errors import VaporqaError
    from vaporqa.intake import load_project, read_folder

FOLDER = Path(tempfile.mkdtemp(prefix="vaporqa-atheris-"))
PROJECT = b"project: Larkspur Yard\ntime_zone: America/Boise\n"


def one_input(data: bytes) -> None:
    project, parted, table = data.partition(b"\0")
    (FOLDER / "project.yaml").write_bytes(project if parted else PROJECT)
    (FOLDER / "results.csv").write_bytes(table if parted else data)
    try:
        read_folder(FOLDER, load_project(FOLDER))
    except VaporqaError:
        return


def main() -> None:
    seeds = FOLDER.with_name(FOLDER.name + "-seeds")
    seeds.mkdir()
    for number, folder in enumerate(sorted((Path(__file__).parents[2] / "sample_inputs").iterdir())):
        if (folder / "results.csv").is_file():
            head = b"".join((folder / "results.csv").read_bytes().splitlines(keepends=True)[:4])
            (seeds / str(number)).write_bytes((folder / "project.yaml").read_bytes() + b"\0" + head)
    atheris.Setup([*sys.argv, str(seeds)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()

"""What must not change a flag, and what must never improve one: over the sample folders, through the library."""

from __future__ import annotations

import csv
import random
import shutil
from pathlib import Path

import pytest

import vaporqa

FOLDERS = Path(__file__).parents[2] / "sample_inputs"
NAMES = ("alder-crossing", "cutbank-terminal")
WORTH = {"usable": 0, "estimated": 1, "unproven": 2, "rejected": 3}
Verdicts = dict[str, list[tuple[str, ...]]]


def read(path: Path) -> tuple[list[str], list[list[str]], str]:
    delimiter = "\t" if path.suffix == ".tsv" else ","
    with path.open(newline="", encoding="utf-8-sig") as stream:
        header, *rows = csv.reader(stream, delimiter=delimiter)
    return header, rows, delimiter


def write(path: Path, header: list[str], rows: list[list[str]], delimiter: str = ",") -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, delimiter=delimiter).writerows([header, *rows])


def copy(name: str, to: Path) -> Path:
    folder = to / name
    shutil.copytree(FOLDERS / name, folder)
    return folder


def table_files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.suffix in (".csv", ".tsv"))


def verdicts(folder: Path) -> Verdicts:
    """Key, standing, qualifier, bias and rules of every row, sorted: what must not depend on the order of rows."""
    out: Verdicts = {}
    for table, frame in vaporqa.check(folder).flags.items():
        columns = ["key", "standing", "qualifier", "bias", "rules"]
        out[table] = sorted(tuple(map(str, row)) for row in frame[columns].to_numpy().tolist())
    return out


@pytest.fixture(scope="module", params=NAMES)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def plain(name: str) -> Verdicts:
    return verdicts(FOLDERS / name)


def test_the_order_of_rows_does_not_matter(name: str, plain: Verdicts, tmp_path: Path) -> None:
    folder = copy(name, tmp_path)
    rng = random.Random(11)
    for path in table_files(folder):
        header, rows, delimiter = read(path)
        rng.shuffle(rows)
        write(path, header, rows, delimiter)
    assert verdicts(folder) == plain


def test_the_order_of_columns_does_not_matter(name: str, plain: Verdicts, tmp_path: Path) -> None:
    folder = copy(name, tmp_path)
    for path in table_files(folder):
        header, rows, delimiter = read(path)
        write(path, header[::-1], [row[::-1] for row in rows], delimiter)
    got = verdicts(folder)
    assert {table: got[table] for table in got if table != "results"} == {
        table: plain[table] for table in plain if table != "results"
    }
    assert got["results"] == plain["results"]


UNITS = {
    "in": ("cm", 2.54), "ft": ("m", 0.3048), "inH2O": ("kPa", 0.24908891), "mL/min": ("L/min", 0.001),
    "mL": ("L", 0.001),
}  # fmt: skip


def test_the_units_of_the_forms_do_not_matter(name: str, plain: Verdicts, tmp_path: Path) -> None:
    folder = copy(name, tmp_path)
    changed = 0
    for path in table_files(folder):
        header, rows, delimiter = read(path)
        for at, title in enumerate(header):
            unit = title.partition("[")[2].rstrip("]")
            if unit in UNITS:
                other, factor = UNITS[unit]
                header[at] = title.replace(f"[{unit}]", f"[{other}]")
                for row in rows:
                    row[at] = converted(row[at], factor)
                changed += 1
        write(path, header, rows, delimiter)
    assert changed > 5
    assert verdicts(folder) == plain


def converted(cell: str, factor: float) -> str:
    try:
        return repr(float(cell) * factor)
    except ValueError:
        return cell


def test_splitting_a_table_into_two_files_does_not_matter(name: str, plain: Verdicts, tmp_path: Path) -> None:
    folder = copy(name, tmp_path)
    path = folder / "purges.csv"
    header, rows, _ = read(path)
    write(folder / "purges_1.csv", header, rows[: len(rows) // 2])
    write(folder / "purges_2.csv", header, rows[len(rows) // 2 :])
    path.unlink()
    project = folder / "project.yaml"
    text = project.read_text()
    entry = "  purges:\n    - {file: purges_1.csv}\n    - {file: purges_2.csv}\n"
    text = text.replace("tables:\n", "tables:\n" + entry) if "tables:\n" in text else text + "tables:\n" + entry
    project.write_text(text)
    assert verdicts(folder) == plain


def test_no_row_is_lost_and_each_has_one_line(name: str, plain: Verdicts) -> None:
    for path in table_files(FOLDERS / name):
        assert len(plain[path.stem]) == len(read(path)[1]), path.name


@pytest.mark.parametrize("table", ["tracer_tests", "purges"])
def test_a_form_that_is_taken_away_never_makes_a_result_usable(
    name: str, plain: Verdicts, table: str, tmp_path: Path
) -> None:
    folder = copy(name, tmp_path)
    next(path for path in table_files(folder) if path.stem == table).unlink()
    got = {key: standing for key, standing, *_ in verdicts(folder)["results"]}
    for key, standing, *_ in plain["results"]:
        if standing != "usable":
            assert got[key] != "usable", key


def test_more_tracer_never_improves_a_result(name: str, plain: Verdicts, tmp_path: Path) -> None:
    folder = copy(name, tmp_path)
    path = next(path for path in table_files(folder) if path.stem == "tracer_tests")
    header, rows, delimiter = read(path)
    at = next(i for i, title in enumerate(header) if title.startswith("train_reading"))
    for row in rows:
        row[at] = converted(row[at], 8.0)
    write(path, header, rows, delimiter)
    got = {key: standing for key, standing, *_ in verdicts(folder)["results"]}
    for key, standing, *_ in plain["results"]:
        assert WORTH[got[key]] >= WORTH[standing], key

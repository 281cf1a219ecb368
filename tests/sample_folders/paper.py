"""The paper that a folder is made of: tables of text cells, how numbers are printed, how files are written."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

Row = dict[str, str]

#: Key columns of each table, as the data contract lists them.
KEYS = {
    "locations": ("location_id",), "probes": ("probe_id",), "equipment_log": ("event_id",),
    "shut_in_tests": ("test_id",), "tracer_tests": ("test_id",), "purges": ("purge_id",), "samples": ("sample_id",),
    "custody": ("custody_id",), "containers": ("container_id",), "weather": ("at",),
    "instrument_checks": ("check_id",), "field_readings": ("reading_id",), "results": ("result_id",),
    "lab_qc": ("qc_id",), "screening_levels": ("cas", "matrix"), "required_analytes": ("cas",),
}  # fmt: skip


@dataclass
class Sheet:
    """One table: contract column -> header in the file, and its rows in file order."""

    headers: dict[str, str]
    rows: list[Row] = field(default_factory=list)

    def add(self, **cells: str) -> Row:
        """Append a row; cells not named stay empty, a cell without a column is a mistake."""
        strangers = set(cells) - set(self.headers)
        if strangers:
            raise KeyError(strangers)
        row = {name: cells.get(name, "") for name in self.headers}
        self.rows.append(row)
        return row


@dataclass
class Folder:
    """One project folder before it is written."""

    name: str
    project: str  # text of project.yaml
    sheets: dict[str, Sheet]
    separated_by_tabs: tuple[str, ...] = ()
    derived: tuple[str, ...] = ()  # tables that have no file: the project file reads them out of another's
    file_names: dict[str, str] = field(default_factory=dict)  # where a table's file is not called after it
    readme: str = ""

    def rows(self, table: str, **wanted: str) -> list[Row]:
        """Rows whose cells equal all of `wanted`."""
        return [r for r in self.sheets[table].rows if all(r[k] == v for k, v in wanted.items())]

    def one(self, table: str, **wanted: str) -> Row:
        """The only row whose cells equal all of `wanted`."""
        found = self.rows(table, **wanted)
        if len(found) != 1:
            raise LookupError(f"{self.name}: {len(found)} rows of {table} with {wanted}")
        return found[0]

    def drop(self, table: str, **wanted: str) -> None:
        """Take the only such row out."""
        self.sheets[table].rows.remove(self.one(table, **wanted))

    def keys(self, table: str) -> list[str]:
        """Key of each row: stated, or made from the row for results without ids, as the data contract says."""
        sheet = self.sheets[table]
        if table == "results" and "result_id" not in sheet.headers:
            return made_keys(sheet.rows)
        return ["/".join(row[part] for part in KEYS[table]) for row in sheet.rows]

    def files(self) -> dict[str, bytes]:
        """File name -> content, in UTF-8 with line feeds."""
        out = {"project.yaml": self.project.encode(), "README.md": self.readme.encode()}
        for name, sheet in self.sheets.items():
            if name in self.derived:
                continue
            tabs = name in self.separated_by_tabs
            text = io.StringIO()
            writer = csv.writer(text, delimiter="\t" if tabs else ",", lineterminator="\n")
            writer.writerow(sheet.headers.values())
            writer.writerows([row[column] for column in sheet.headers] for row in sheet.rows)
            out[f"{self.file_names.get(name, name)}.{'tsv' if tabs else 'csv'}"] = text.getvalue().encode()
        return out

    def write(self, parent: Path) -> None:
        """Write the folder anew below `parent`."""
        place = parent / self.name
        place.mkdir(parents=True, exist_ok=True)
        files = self.files()
        for old in place.rglob("*"):
            if old.is_file() and old.relative_to(place).as_posix() not in files:
                old.unlink()
        for name, content in files.items():
            (place / name).parent.mkdir(exist_ok=True, parents=True)
            (place / name).write_bytes(content)


def made_keys(rows: list[Row]) -> list[str]:
    """`sample_id/cas or analyte/method/run_id/fraction`, empty parts at the end dropped, repeats numbered."""
    seen: dict[str, int] = {}
    keys = []
    for row in rows:
        parts = [row["sample_id"], row["cas"] or row["analyte"], row["method"], row["run_id"], row.get("fraction", "")]
        while parts and not parts[-1]:
            parts.pop()
        key = "/".join(parts)
        seen[key] = seen.get(key, 0) + 1
        keys.append(key if seen[key] == 1 else f"{key}#{seen[key]}")
    return keys


def sig(value: float, figures: int = 3) -> str:
    """A number as a laboratory prints it: so many significant figures, never in powers of ten."""
    if value == 0:
        return "0"
    exponent = int(f"{value:.{figures - 1}e}".split("e")[1])
    return f"{float(f'{value:.{figures - 1}e}'):.{max(0, figures - 1 - exponent)}f}"


def stamp(at: datetime, offset: str = "") -> str:
    """Local time to the minute; an offset where the clock prints one."""
    return at.strftime("%Y-%m-%dT%H:%M") + offset


def minutes(count: float) -> timedelta:
    """So many minutes."""
    return timedelta(minutes=count)


def standard_atmosphere(feet: float) -> float:
    """Barometer in inHg at an altitude: standard atmosphere, constants from memory."""
    return float(29.921 * (1 - 6.8754e-6 * feet) ** 5.2559)

"""A new project folder: project.yaml with every key explained, and one empty table a file, units in its headers."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files

from vaporqa.intake.unanswered import MARK
from vaporqa.tables.dictionary import TABLES, ColumnSpec
from vaporqa.tables.project import PURPOSES

#: Sets of units that the headers of new tables may have.
UNITS = ("us", "metric")
PROJECT_FILE = "project.yaml"
#: The schema lies in the folder, out of sight, so that editors find it on every machine.
SCHEMA_FILE = ".project.schema.json"

#: Dimension to its unit in US customary and in metric headers. Volumes and flows of sampling are metric in both.
_BY_DIMENSION: Mapping[str, tuple[str, str]] = {
    "length": ("ft", "m"), "volume": ("mL", "mL"), "flow": ("mL/min", "mL/min"), "pressure": ("inHg", "kPa"),
    "duration": ("min", "min"), "temperature": ("degF", "degC"), "amount": ("%v", "%v"),
}  # fmt: skip
#: Columns whose instrument or form has another one.
_BY_COLUMN: Mapping[str, tuple[str, str]] = {
    "bore_diameter": ("in", "mm"), "rod_outer_diameter": ("in", "mm"), "tubing_inner_diameter": ("in", "mm"),
    "tubing_outer_diameter": ("in", "mm"), "container_volume": ("L", "L"), "barometer": ("inHg", "hPa"),
    "probe_pressure": ("inH2O", "Pa"), "rain": ("in", "mm"), "rain_period": ("h", "h"),
}  # fmt: skip
#: A table gives a result in one form or in both; new ones start with one.
_OTHER_FORMS = ("_mass", "_volume")
_WITH_FORMS = ("result", "unit", "reporting_limit", "detection_limit", "limit_of_detection")


def new_folder(name: str, units: str, tables: Sequence[str] = ()) -> dict[str, str]:
    """Return the files of a new project folder: name to text.

    Parameters
    ----------
    name : str
        Of the project, as its folder is called.
    units : str
        One of `UNITS`.
    tables : sequence of str
        Tables of the data dictionary; empty for all.
    """
    wanted = [table for table in TABLES if not tables or table in tables]
    schema = files("vaporqa").joinpath("rulebook", "schemas", "project.schema.json").read_text(encoding="utf-8")
    return {
        PROJECT_FILE: project_text(name),
        SCHEMA_FILE: schema,
        **{f"{table}.csv": header_line(table, units) for table in wanted},
    }


def header_line(table: str, units: str) -> str:
    r"""Return the header of an empty table.

    Examples
    --------
    >>> header_line("weather", "metric")
    'at,rain [mm],rain_period [h],barometer [hPa],temperature [degC],ponded\n'
    """
    at = UNITS.index(units)
    names = []
    for column in TABLES[table].columns:
        if not (column.name.endswith(_OTHER_FORMS) and column.name.rpartition("_")[0] in _WITH_FORMS):
            unit = _unit(column)
            names.append(f"{column.name} [{unit[at]}]" if unit else column.name)
    return ",".join(names) + "\n"


def _unit(column: ColumnSpec) -> tuple[str, str] | None:
    if column.kind == "quantity":
        return _BY_COLUMN.get(column.name) or _BY_DIMENSION[column.dimension]
    return _BY_DIMENSION["amount"] if column.kind == "amount" and not column.unit_column else None


def project_text(name: str) -> str:
    """Return project.yaml of a new folder; what only a person knows waits for an answer."""
    zone = json.dumps(f"{MARK}such as America/Boise")
    return f"""\
# yaml-language-server: $schema={SCHEMA_FILE}
#
# What this folder holds and how its tables are read. An entry that starts with
# "? " waits for your answer: no run starts before. `vaporqa tables` lists the
# tables, `vaporqa tables samples` the columns of one. A table that you do not
# have: remove its file. A unit in a header may be changed (depth_top [cm]).

project: {json.dumps(name, ensure_ascii=False)}

# What the results are for: {", ".join(PURPOSES[:4])},
# {", ".join(PURPOSES[4:])}.
purpose: "{MARK}one of these"

# Zone in which the crew wrote its times; a time with an offset needs none.
time_zone: {zone}

# Zone of the laboratory's times, and of the last receipt in custody.
lab_time_zone: {zone}

# Heights above the sea, with a unit: gauges read against the local barometer.
altitude: "{MARK}of the field, such as 4100 ft"
lab_altitude: "{MARK}of the laboratory, such as 600 ft"

# At which a concentration by volume and one by mass are converted.
reference: {{temperature: 25 degC, pressure: 1 atm}}

# Published validation stage that the review is meant to reach: 1, 2A or 2B.
stage: 2A

# Criteria in place of the shipped defaults, later over earlier:
# profile: california-2015

# Rule topics or ids that are not reviewed, each with its reason:
# leave_out: {{leak_tracer: "no field forms were supplied"}}

# Rule files of your own, paths inside this folder:
# rules: [our_rules/]

# Spellings of a missing value besides the empty cell:
# missing: ["--", "n/a"]

# Units of columns whose headers name none:
# units: {{probes.depth_top: ft}}

# Tables that somebody else made; `vaporqa inspect FILE` drafts an entry:
# tables: {{results: {{file: deliverables/lab.xlsx}}}}
"""

"""What laboratories and crews write over their columns, and in columns of words: general words of the trade.

From experience with many tables and from no one's export format; common practice, no published list stands behind it.
A heading of the first list means its column wherever it stands alone. One of the second list may mean it: what is
drafted from it waits for a person's answer. Both lists stand in `headings.csv` beside this file, `*` for any table.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from vaporqa.tables.dictionary import TABLES

#: What laboratories write where there is nothing; read only where a project declares it.
NOTHING = ("--", "-", "---", "n/a", "na", "n.a.", "nan", "null", "none", "not analyzed", "not reported", "nr",
           "not given", ".", "?")  # fmt: skip

#: Column to text in a cell (plain form) to the word that it usually means.
WORDS: Mapping[str, Mapping[str, str]] = {
    "matrix": {
        "soil vapor": "soil_gas", "soil gas": "soil_gas", "sg": "soil_gas", "sv": "soil_gas", "vapor": "soil_gas",
        "sub slab": "subslab_gas", "sub slab vapor": "subslab_gas", "sub slab soil gas": "subslab_gas",
        "subslab": "subslab_gas", "ss": "subslab_gas", "outdoor air": "ambient_air", "ambient": "ambient_air",
        "outdoor": "ambient_air", "indoor": "indoor_air", "ia": "indoor_air", "oa": "ambient_air",
        "groundwater": "water", "surface water": "water", "wg": "water", "ground water": "water", "gw": "water",
        "aqueous": "water", "so": "soil", "solid": "soil",
    },
    "kind": {
        "n": "primary", "normal": "primary", "reg": "primary", "sample": "primary", "regular": "primary",
        "environmental": "primary", "fd": "field_duplicate", "duplicate": "field_duplicate", "dup": "field_duplicate",
        "replicate": "field_replicate", "eb": "equipment_blank", "rinsate": "equipment_blank", "tb": "trip_blank",
        "fb": "field_blank", "mb": "method_blank", "lb": "laboratory_blank", "ambient": "ambient_air",
        "lcs": "control_sample", "lcsd": "control_sample_duplicate", "blank spike": "control_sample",
        "method blank": "method_blank", "laboratory control sample": "control_sample", "ccv": "calibration_check",
        "ical": "initial_calibration", "icv": "second_source_check", "ld": "laboratory_duplicate", "surr": "surrogate",
        "trg": "target", "target compound": "target", "istd": "internal_standard", "is": "internal_standard",
        "tic": "tentative",
    },
    "container": {
        "can": "canister", "6 l canister": "canister", "1 l canister": "canister", "tube": "sorbent_tube",
        "thermal desorption tube": "sorbent_tube", "gas bag": "bag", "bulb": "glass_bulb", "voa vial": "vial",
    },
}  # fmt: skip

#: Flag to the meaning that it has in many laboratories; in some it has another one.
FLAGS: Mapping[str, str] = {
    "U": "nondetect", "ND": "nondetect", "<": "nondetect", "J": "below_reporting_limit", "E": "over_range",
    "B": "in_blank", "D": "diluted", "S": "surrogate_outside", "H": "late", "N": "tentative", "T": "tentative",
    "Q": "control_outside", "R": "rejected_by_laboratory", "I": "interference", "UJ": "nondetect", "*": "other",
}  # fmt: skip

_SPELLED = {"no": "number", "num": "number", "nr": "number", "analysed": "analyzed", "anl": "analysis", "dt": "date",
            "nm": "name", "rpt": "reporting", "lev": "level", "cd": "code", "val": "value", "vapour": "vapor",
            "pct": "percent", "units": "unit", "datetime": "date time", "smp": "sample"}  # fmt: skip


def plain(text: str) -> str:
    """Return a heading or a word without letter case, signs and blanks that mean nothing.

    Examples
    --------
    >>> plain("Client_SampleID"), plain("CAS No."), plain("% Recovery")
    ('client sample id', 'cas number', 'percent recovery')
    """
    split = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text).casefold()
    split = split.replace("#", " number ").replace("%", " percent ")
    words = re.findall(r"[^\W_]+", split)
    return " ".join(_SPELLED.get(word, word) for word in words)


@lru_cache(maxsize=1)
def _listed() -> dict[tuple[str, str], tuple[list[str], list[str]]]:
    """Return, by table (or ``*``) and column, the headings that mean it and those that may mean it."""
    with Path(__file__).with_name("headings.csv").open(encoding="utf-8", newline="") as lines:
        return {
            (row["table"], row["column"]): (row["means"].split("|"), list(filter(None, row["may_mean"].split("|"))))
            for row in csv.DictReader(lines)
        }


@lru_cache(maxsize=len(TABLES))
def headings_of(table: str) -> tuple[Mapping[str, tuple[str, ...]], Mapping[str, tuple[str, ...]]]:
    """Return two mappings of a table: plain heading to the columns that it means, and to those that it may mean."""
    means: dict[str, list[str]] = {}
    may_mean: dict[str, list[str]] = {}
    listed = _listed()
    for column in TABLES[table].columns:
        means.setdefault(plain(column.name), []).append(column.name)
        for home in (table, "*"):
            sure, loose = listed.get((home, column.name), ([], []))
            for heading in sure:
                means.setdefault(plain(heading), []).append(column.name)
            for heading in loose:
                may_mean.setdefault(plain(heading), []).append(column.name)
    return (
        {heading: tuple(dict.fromkeys(columns)) for heading, columns in means.items()},
        {heading: tuple(dict.fromkeys(columns)) for heading, columns in may_mean.items()},
    )


@lru_cache(maxsize=1)
def known_headings() -> frozenset[str]:
    """Return every plain heading that means a column of some table."""
    return frozenset(heading for table in TABLES for heading in headings_of(table)[0])

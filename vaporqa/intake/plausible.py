"""Columns whose values look like another unit, or like a fraction where a percentage is declared.

Nothing is changed: a note says so and a person looks. The thresholds are wide on purpose; each says why it stands
where it does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.tables.values import READ, Column, Number

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes


@dataclass(frozen=True, slots=True)
class Threshold:
    """Numbers of these columns that are hardly in the declared unit.

    Attributes
    ----------
    columns : tuple of str
    at_most : float
        In the canonical unit; a value over it speaks.
    at_least : float
        A value under it speaks.
    unit : str
        For the sentence.
    reason : str
    """

    columns: tuple[str, ...]
    at_most: float
    at_least: float
    unit: str
    reason: str


_DEPTHS = (
    "depth_top",
    "depth_bottom",
    "total_depth",
    "sand_pack_top",
    "sand_pack_bottom",
    "rod_length",
    "water_depth",
    "retraction",
)
_DIAMETERS = ("bore_diameter", "rod_outer_diameter", "tubing_inner_diameter", "tubing_outer_diameter")
_VACUA = ("vacuum_start", "vacuum_end", "vacuum_dispatch", "vacuum_receipt", "vacuum_highest")

#: One value is enough. Common practice, no published limit stands behind these.
THRESHOLDS = (
    Threshold(
        _DEPTHS,
        300 * 0.3048,
        -np.inf,
        "m",
        "soil-gas points reach 300 ft (91 m) at the deepest; inches or centimetres?",
    ),
    Threshold(_DIAMETERS, 0.5, -np.inf, "m", "no bore, rod or tube of soil-gas work is half a metre wide"),
    Threshold(_VACUA, 31 * 3.38639, -np.inf, "kPa", "no gauge vacuum exceeds the highest barometer, 31 inHg (105 kPa)"),
    Threshold(("barometer",), 110.0, 45.0, "kPa", "the open air has 45 kPa (over 20,000 ft) to 110 kPa"),
    Threshold(("temperature",), 70.0, -60.0, "degC", "air and coolers have -60 to 70 degC"),
    Threshold(("flow",), 20_000.0, -np.inf, "mL/min", "soil gas is drawn at a few litres a minute at the most"),
    Threshold(
        ("sand_pack_porosity", "dry_seal_porosity"), 1.0, 0.0, "", "a porosity is a fraction from 0 to 1; per cent?"
    ),
)

#: Percentages whose every value lies under 2 are fractions. Differences and deviations can be that small in truth.
FRACTIONS = ("recovery", "recovery_low", "recovery_high", "rpd_high")
FRACTION_UNDER = 2.0
FRACTION_VALUES = 3


def look_for_other_units(table: str, columns: Mapping[str, Column], notes: Notes) -> None:
    """Note the columns of a table whose numbers look like another unit than the declared one."""
    for threshold in THRESHOLDS:
        for name in threshold.columns:
            column = columns.get(name)
            if not isinstance(column, Number):
                continue
            values = column.values[column.state == READ]
            beyond = values[(values > threshold.at_most) | (values < threshold.at_least)]
            if len(beyond):
                farthest = float(beyond[np.argmax(np.abs(beyond))])
                words = f"{len(beyond):,} of {len(values):,} values, up to {farthest:.4g} {threshold.unit}".rstrip()
                notes.on_column("units-as-declared", table, name, name, f"{words}: {threshold.reason}", note=True)
    for name in FRACTIONS:
        column = columns.get(name)
        if isinstance(column, Number):
            values = np.abs(column.values[column.state == READ])
            if len(values) >= FRACTION_VALUES and values.max() < FRACTION_UNDER and values.max() > 0:
                words = f"every one of {len(values):,} values is under 2: fractions, where per cent is declared?"
                notes.on_column("units-as-declared", table, name, name, words, note=True)

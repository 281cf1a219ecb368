"""Results that stand in two forms, by mass and by volume: whether the two say the same at the declared reference.

Mass concentration = volume fraction x molar mass / molar volume; the molar volume is that of the declared reference
temperature and pressure. What rounding leaves open is half of the last figure of each number as it is written in the
file; zeros that end a whole number are not figures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.reported import Values
from vaporqa.evidence.reported import values_of as amounts_of
from vaporqa.quantities.units import BY_MASS, BY_VOLUME
from vaporqa.tables.values import Amount, Bool, Float, Int8, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: What a row may give in two forms, and what a person calls it.
QUANTITIES = ("result", "reporting_limit", "detection_limit", "limit_of_detection")
_NUMBER = re.compile(r"(?P<whole>[0-9]*)(?:[.,](?P<part>[0-9]*))?(?:[eE](?P<power>[+-]?[0-9]+))?")


@dataclass(frozen=True, slots=True)
class Pairs:
    """Numbers in two forms, (m,).

    Attributes
    ----------
    row : int64
        Row of results that the pair stands on: the one by mass.
    other : int64
        Row by volume; the same where one row gives both.
    quantity : int8
        Which of `QUANTITIES`.
    mass, volume : float64
        ug/m3 and ppbv.
    converted : float64
        The volume as mass at the declared reference, ug/m3; nan where the molar mass is not known.
    """

    row: Int64
    other: Int64
    quantity: Int8
    mass: Float
    volume: Float
    converted: Float

    def take(self, index: Int64 | Bool) -> Pairs:
        """Select pairs."""
        return Pairs(*(getattr(self, name)[index] for name in self.__slots__))

    @property
    def off(self) -> Float:
        """How far the mass lies from the converted volume, as a share of it."""
        return np.asarray(self.mass / self.converted - 1.0)


def pairs_of(ev: Evidence) -> Pairs | None:
    """Gather every number that the folder gives in both forms; None where it has no results."""
    table, results = ev.tables.get("results"), ev.results
    if table is None or results is None:
        return None
    judged = judged_results(ev)
    found = []
    for place, quantity in enumerate(QUANTITIES):
        plain = amounts_of(table.amount(quantity), table.rows)
        mass = _of_family(amounts_of(table.amount(f"{quantity}_mass"), table.rows), plain, BY_MASS)
        volume = _of_family(amounts_of(table.amount(f"{quantity}_volume"), table.rows), plain, BY_VOLUME)
        rows = np.flatnonzero(judged & mass.known & volume.known & (mass.value > 0) & (volume.value > 0))
        found.append(_paired(ev, place, rows, rows, mass.value, volume.value))
        if table.form_of is not None:
            other = np.flatnonzero(table.form_of >= 0)
            row = table.form_of[other].astype(np.int64)
            both = judged[row] & plain.known[row] & plain.known[other]
            both &= (plain.family[row] == BY_MASS) & (plain.family[other] == BY_VOLUME)
            both &= (plain.value[row] > 0) & (plain.value[other] > 0)
            found.append(_paired(ev, place, row[both], other[both], plain.value, plain.value))
    return Pairs(*(np.concatenate([getattr(one, name) for one in found]) for name in Pairs.__slots__))


def _of_family(own: Values, plain: Values, family: int) -> Values:
    """The column of one form; where it is empty the plain column, if it stands in that form."""
    mine = Values(own.value, own.family, own.known & (own.family == family), own.hard)
    same = Values(plain.value, plain.family, plain.known & (plain.family == family), plain.hard)
    return mine.or_else(same)


def _paired(ev: Evidence, place: int, row: Int64, other: Int64, mass: Float, volume: Float) -> Pairs:
    assert ev.results is not None
    factor = ev.molar_mass(ev.results.analyte[row]) / ev.molar_volume
    return Pairs(
        row.astype(np.int64), other.astype(np.int64), np.full(len(row), place, np.int8), mass[row], volume[other],
        volume[other] * factor,
    )  # fmt: skip


def rounding(table: Table, pairs: Pairs) -> Float:
    """How far rounding alone can part the two numbers of each pair, as a share."""
    return _half_figures(table, pairs, "mass", pairs.row) + _half_figures(table, pairs, "volume", pairs.other)


def _half_figures(table: Table, pairs: Pairs, form: str, rows: Int64) -> Float:
    out = np.zeros(len(rows))
    for place in np.unique(pairs.quantity).tolist():
        mine = np.flatnonzero(pairs.quantity == place)
        column = f"{QUANTITIES[place]}_{form}"
        if column not in table or not _has(table.amount(column), rows[mine]).all():
            column = QUANTITIES[place]
        amount = table.amount(column)
        if amount is None:
            continue
        written = np.abs(amount.written[rows[mine]])
        texts = _texts(table, column, rows[mine], written)
        with np.errstate(divide="ignore", invalid="ignore"):
            out[mine] = np.array([half_figure(str(text)) for text in texts.tolist()]) / written
    return out


def _has(amount: Amount | None, rows: Int64) -> Bool:
    return np.isfinite(amount.written[rows]) if amount is not None else np.zeros(len(rows), bool)


def _texts(table: Table, column: str, rows: Int64, written: Float) -> Texts:
    """Cells as the files have them; a number of which no cell is kept is taken as it prints."""
    out: Texts = np.array([f"{one!r}" for one in written.tolist()], dtype=object)
    cells = table.cells
    if cells is None:
        return out
    file_of = np.searchsorted(np.asarray(cells.starts[1:]), rows, side="right")
    for file in np.unique(file_of).tolist():
        mine = np.flatnonzero(file_of == file)
        header = cells.header(int(rows[mine[0]]), column)
        if not header:
            continue
        codes, dictionary = cells.codes(header)
        words = np.array([*dictionary.to_pylist(), ""], dtype=object)
        out[mine] = words[codes[rows[mine]]]
    return out


@lru_cache(maxsize=200_000)
def half_figure(text: str) -> float:
    """Return half of the last figure of the first number in a text.

    Examples
    --------
    >>> half_figure("3.20"), half_figure("<1200 U"), half_figure("7"), half_figure("1.5e3")
    (0.005, 50.0, 0.5, 50.0)
    """
    for match in _NUMBER.finditer(text):
        whole, part = match["whole"], match["part"]
        if not whole and not part:
            continue
        power = int(match["power"] or 0)
        if part is not None and (part or match["power"]):
            return 0.5 * float(10.0 ** (power - len(part)))
        if part is not None:
            return 0.5 * float(10.0**power)
        figures = whole.rstrip("0")
        return 0.5 * float(10.0 ** (power + (len(whole) - len(figures) if figures else 0)))
    return 0.0


def steady_ratio(ratio: Float, room: Float, least: int, share: float) -> float:
    """Return the one ratio that explains the pairs which can tell it from 1; nan where there is none.

    Parameters
    ----------
    ratio : float64 (m,)
        Mass over converted volume.
    room : float64 (m,)
        What rounding and the limit allow, as a share.
    least : int
        Fewer pairs than this show nothing.
    share : float
        Share of the pairs precise enough to tell that must fit.
    """
    apart = np.abs(ratio - 1.0) > room
    if int(apart.sum()) < least:
        return float("nan")
    middle = float(np.median(ratio[apart]))
    tells = np.abs(middle - 1.0) > 2.0 * room
    fits = np.abs(ratio / middle - 1.0) <= room
    if int((tells & fits).sum()) < least or float((tells & fits).sum()) < share * float(tells.sum()):
        return float("nan")
    return middle

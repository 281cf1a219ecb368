"""Blank schemes as values: the cells of a scheme, in the order in which they are tried."""

from __future__ import annotations

from vaporqa.criteria import Backing, Comparison, Scheme, SchemeCell
from vaporqa.rulebook.bounds import source_from
from vaporqa.rulebook.models import CellShape, CommonFactor, ComparisonShape, SchemeShape
from vaporqa.rulebook.pairs import letter_from


def scheme_from(shape: SchemeShape, name: str, file: str, line: int) -> Scheme:
    """Return the scheme that a shape states.

    Raises
    ------
    ValueError
        A cell can never be reached, or some result would fit none.
    """
    cells = tuple(_cell_from(cell) for cell in shape.cells)
    for number, cell in enumerate(cells, start=1):
        always = cell.nondetect is None and not cell.conditions
        if always and number < len(cells):
            raise ValueError(f"cell {number} of {len(cells)} fits always, and the ones after it never; put it last")
        if not always and number == len(cells):
            raise ValueError("a result may fit no cell; end with a cell without conditions, such as {then: none}")
    return Scheme(name, shape.about, cells, source_from(shape.source), Backing(shape.backing), file, line)


def _cell_from(shape: CellShape) -> SchemeCell:
    statuses = [met for met in shape.sample if isinstance(met, str)]
    if len(statuses) > 1:
        raise ValueError("a cell names both nondetect and detect; keep one of the two")
    nondetect = statuses[0] == "nondetect" if statuses else None
    conditions = tuple(_comparison_from(met) for met in shape.sample if isinstance(met, ComparisonShape))
    return SchemeCell(nondetect, conditions, letter_from(shape.then), shape.at)


def _comparison_from(shape: ComparisonShape) -> Comparison:
    factor = getattr(shape, shape.sense.value)
    if isinstance(factor, CommonFactor):
        return Comparison(shape.sense, factor.other, factor.common_contaminant, shape.of)
    return Comparison(shape.sense, factor, factor, shape.of)

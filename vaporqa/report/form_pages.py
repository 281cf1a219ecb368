"""Forms to print: every form on one page file for a size of paper, without network or script."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vaporqa import __version__
from vaporqa.report.form_columns import Form, FormColumn, Forms
from vaporqa.report.templating import rendered

#: Sizes of paper, as the style sheet calls them.
PAPERS = ("A4", "Letter")
#: A form of more columns is printed as a block a record; a narrower one as lines.
_NARROW = 10
_LINES, _BLOCKS, _SPARE = 10, 4, 2
#: Words that fit beside their boxes; a longer list is printed under the form.
_BESIDE = 6


@dataclass(frozen=True, slots=True)
class Printed:
    """A form as it is printed: `blocks` or lines, what is written in each already, and lists too long for a cell."""

    form: Form
    blocks: bool
    rows: tuple[Mapping[str, str], ...]
    lists: tuple[tuple[str, str], ...]

    @staticmethod
    def of(form: Form, probes: tuple[Mapping[str, str], ...]) -> Printed:
        """Lay out a form; one that belongs to probes has a place for each probe of the folder."""
        blocks = len(form.columns) > _NARROW
        names = {column.spec.name for column in form.columns}
        rows = form.rows
        if not rows and "probe_id" in names and blocks:
            rows = tuple({name: cell for name, cell in row.items() if name in names} for row in probes)
        empty: Mapping[str, str] = {}
        spare = max(_SPARE, _BLOCKS - len(rows)) if blocks else max(_SPARE, _LINES - len(rows))
        lists = tuple(
            (column.spec.name, ", ".join(column.spec.words))
            for column in form.columns if column.spec.words and not (blocks and beside(column))
        )  # fmt: skip
        return Printed(form, blocks, (*rows, *(empty,) * spare), lists)


def beside(column: FormColumn) -> tuple[str, ...]:
    """Return the words that are printed with a box to tick."""
    words = ("yes", "no") if column.spec.kind == "yes_no" else column.spec.words
    return words if len(words) <= _BESIDE else ()


def forms_page(forms: Forms, paper: str) -> bytes:
    """Return every form for one size of paper, one of `PAPERS`."""
    assert paper in PAPERS
    probes = next(form.rows for form in forms.forms if form.table.name == "probes")
    printed = [Printed.of(form, probes) for form in forms.forms]
    return rendered("forms.html.j2", forms=forms, printed=printed, paper=paper, beside=beside, version=__version__,
                    profiles=", then ".join(forms.profiles) or "baseline")  # fmt: skip

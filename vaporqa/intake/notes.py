"""What reading finds, gathered while it goes on: problems that stop the run, readings of cells, remarks."""

from __future__ import annotations

import numpy as np

from vaporqa.errors import FolderError, Problem
from vaporqa.tables.values import Bool, Int32, Int64, Reading, Remark, Texts

#: Lines named in one message; the count of all is always given.
NAMED_AT_MOST = 20

#: Distinct cells for which the nearest reading is looked for. A column with more is not mistyped but another column:
#: then nothing is offered for any of them, so that what is said does not depend on the order of rows.
OFFERS_AT_MOST = 20_000
WORD_OFFERS_AT_MOST = 500
UNIT_OFFERS_AT_MOST = 100


class Notes:
    """The one value of intake that is filled in while it is read; frozen copies leave with `Tables`."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.readings: list[Reading] = []
        self.remarks: list[Remark] = []
        self.files_of: dict[str, str] = {}

    def problem(self, problem: Problem) -> None:
        """Note something that stops the run."""
        if problem not in self.problems:
            self.problems.append(problem)

    def remark(self, file: str, text: str, *, urgent: bool = False) -> None:
        """Note something about how the tables were read; no finding."""
        remark = Remark(file, text, urgent)
        if remark not in self.remarks:
            self.remarks.append(remark)

    def remark_on_table(self, table: str, text: str) -> None:
        """Note something about a column over all files of a table."""
        self.remark(self.files_of.get(table, table), text)

    def reading(self, rule: str, table: str, column: str, rows: Int64, detail: Texts, *, note: bool = False) -> None:
        """Note what is wrong with the cells of `column` in `rows`; nothing where there are none."""
        if len(rows):
            self.readings.append(Reading(rule, table, column, rows.astype(np.int64), detail, note))

    def on_column(
        self,
        rule: str,
        table: str,
        column: str,
        whole: str,
        detail: str,
        *,
        rows: Int64 | None = None,
        note: bool = False,
    ) -> None:
        """Note a finding on a whole table, its subject `whole`; `rows` are the rows that it concerns."""
        concerned = np.empty(0, np.int64) if rows is None else rows.astype(np.int64)
        self.readings.append(Reading(rule, table, column, concerned, one_text(detail), note, whole))

    def stop(self) -> None:
        """Raise what stops the run, all of it at once.

        Raises
        ------
        FolderError
            There is at least one problem.
        """
        if self.problems:
            raise FolderError(self.problems)


def one_text(text: str) -> Texts:
    """Return `text` as an array of one."""
    found: Texts = np.empty(1, dtype=object)
    found[0] = text
    return found


def rows_of(codes: Int32, wrong: Bool) -> Int64:
    """Return the rows whose text is `wrong`, a mask over the distinct texts; an empty cell never is."""
    if not wrong.any():
        return np.empty(0, np.int64)
    return np.flatnonzero(np.append(wrong, False)[codes]).astype(np.int64)


def named(lines: list[int]) -> str:
    """Return line numbers as a person lists them, cut after `NAMED_AT_MOST`."""
    shown = ", ".join(str(line) for line in lines[:NAMED_AT_MOST])
    more = len(lines) - NAMED_AT_MOST
    return f"line{'s' if len(lines) > 1 else ''} {shown}" + (f" and {more:,} more" if more > 0 else "")

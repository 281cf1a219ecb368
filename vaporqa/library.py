"""The public face: check a project folder, look at the flags, write the report."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vaporqa.comparing import Comparison, compare_reviews
from vaporqa.errors import VaporqaError
from vaporqa.intake import load_project, read_folder
from vaporqa.outcomes import Standing
from vaporqa.report.flagged import frames
from vaporqa.report.machine import as_json, review_json
from vaporqa.report.request_files import WRITERS
from vaporqa.report.requests import requests_of
from vaporqa.report.screen import screen
from vaporqa.report.writing import Report, write_run
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.values import Tables

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Checked:
    """One project folder, checked.

    Attributes
    ----------
    report : Report
        The review with its counts and sentences.
    options : mapping
        What was asked for: `profile`, `rules`.
    """

    report: Report
    options: Mapping[str, Any]
    began: dt.datetime

    @property
    def review(self) -> Review:
        """Everything that the run found."""
        return self.report.review

    @cached_property
    def flags(self) -> dict[str, pd.DataFrame]:
        """Table to its flag file: one row a table row, standing, qualifier and reasons beside the file's columns."""
        return frames(self.review, self.report.sentences)

    @property
    def worst(self) -> Standing:
        """The worst standing of any row of any table."""
        counts = self.report.tally.tables.values()
        return max((standing for standing in Standing for one in counts if one[standing]), default=Standing.USABLE)

    def write(self, out: str | Path, *, command: Sequence[str] = ()) -> Path:
        """Write report.html, the flag files, findings.csv, review.json and run.json into `out`.

        Parameters
        ----------
        out : str or Path
            A new or empty folder, or an earlier run's.
        command : sequence of str
            The command line, for run.json.

        Raises
        ------
        OutputError
            The folder holds something else, or cannot be written.
        """
        return write_run(self.report, Path(out), command=command, began=self.began, options=self.options)

    def text(self, *, colour: bool = False, out: Path | None = None) -> str:
        """Return the review as text for a terminal of 80 columns."""
        return screen(self.review, self.report.tally, self.report.sentences, colour=colour, out=out)

    def json(self) -> bytes:
        """Return review.json."""
        return as_json(review_json(self.review, self.report.tally, self.report.sentences))

    def requests(self, suffix: str = ".md") -> bytes:
        """Return the list of missing evidence to ask for, by who can supply it.

        Parameters
        ----------
        suffix : str
            `.md`, `.txt`, `.html` or `.csv`.
        """
        asked = requests_of(self.review, self.report.tally.evidence, self.report.sentences)
        return WRITERS[suffix](asked, self.review)

    def __repr__(self) -> str:
        counts = ", ".join(f"{int(self.report.tally.of_field[one]):,} {one.word}" for one in Standing)
        return f"<Checked {self.review.project.name!r}: {counts}; {len(self.review.findings):,} findings>"


def check(
    folder: str | Path, *, profile: str | Sequence[str] | None = None, rules: Sequence[str | Path] = ()
) -> Checked:
    """Check a project folder by the rules in force.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and its tables.
    profile : str or sequence of str, optional
        Profiles on top of those that project.yaml names, later over earlier.
    rules : sequence of str or Path
        Further rule files, profile files, or folders of them.

    Returns
    -------
    Checked
        `flags` are DataFrames, `write` writes the report.

    Raises
    ------
    FolderError
        The folder, its project.yaml or a table cannot be read.
    RulebookError
        A rule file or profile does not load.
    UsageError
        A profile that does not exist.

    Examples
    --------
    >>> checked = check("sample_inputs/larkspur_yard")  # doctest: +SKIP
    >>> checked.flags["results"][["key", "standing", "qualifier", "reasons"]]  # doctest: +SKIP
    """
    began = dt.datetime.now(dt.UTC)
    home = Path(folder)
    profiles = [profile] if isinstance(profile, str) else list(profile or ())
    project = load_project(home)
    faults: list[VaporqaError] = []
    rulebook, tables = None, None
    try:
        rulebook = load_rulebook(
            extra=[Path(one) for one in project.rules],
            profiles=(*project.profiles, *profiles),
            folder=home,
            further=[Path(one) for one in rules],
        )
    except VaporqaError as fault:
        faults.append(fault)
    try:
        tables = read_folder(home, project)
    except VaporqaError as fault:
        faults.append(fault)
    if rulebook is None or tables is None:
        # Rules and tables are read apart, so that one run names everything that is wrong with either.
        raise type(faults[0])(problem for fault in faults for problem in fault.problems)
    options = {"profile": profiles, "rules": [str(one) for one in rules]}
    return Checked(Report.of(review_folder(project, tables, rulebook)), options, began)


@dataclass(frozen=True, slots=True)
class Compared:
    """One project folder under two sets of profiles: the comparison, and the tables that its rows stand in."""

    comparison: Comparison
    tables: Tables


def compare(folder: str | Path, *, against: str | Sequence[str], rules: Sequence[str | Path] = ()) -> Compared:
    """Compare a folder as it declares itself with the same folder under other profiles.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and its tables.
    against : str or sequence of str
        Profiles in place of those that project.yaml names, later over earlier. The project's own rule and profile
        files count on both sides.
    rules : sequence of str or Path
        Further rule files, profile files, or folders of them, for the other side alone.

    Raises
    ------
    FolderError, RulebookError, UsageError
        As `check`.
    """
    home = Path(folder)
    project = load_project(home)
    extra = [Path(one) for one in project.rules]
    other = (against,) if isinstance(against, str) else tuple(against)
    books = [
        load_rulebook(extra=extra, profiles=project.profiles, folder=home),
        load_rulebook(extra=extra, profiles=other, folder=home, further=[Path(one) for one in rules]),
    ]
    tables = read_folder(home, project)
    before, after = (review_folder(project, tables, book) for book in books)
    return Compared(compare_reviews(before, after), before.tables)

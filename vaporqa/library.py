"""The public face: check a project folder, look at the flags, write the report."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vaporqa import __version__
from vaporqa.comparing import Comparison, Run, RunComparison, compare_reviews, compare_runs, read_run
from vaporqa.criteria import Rulebook
from vaporqa.errors import FolderError, OutputError, Problem, VaporqaError
from vaporqa.intake import load_project, read_folder
from vaporqa.judging import Decision, Weighed, decide
from vaporqa.outcomes import Standing
from vaporqa.report.flagged import frames
from vaporqa.report.machine import as_json, review_json
from vaporqa.report.request_files import WRITERS
from vaporqa.report.requests import requests_of
from vaporqa.report.screen import screen
from vaporqa.report.trace import Trace, trace
from vaporqa.report.weighed import judged_text
from vaporqa.report.writing import Report, write_file, write_run
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.review.weighed import WeighedAgain
from vaporqa.rulebook import load_rulebook
from vaporqa.rulebook.judgement_file import (
    JUDGEMENT_FILE,
    NO_JUDGEMENTS,
    Judgements,
    judgement_path,
    load_judgements,
)
from vaporqa.rulebook.judgement_lines import with_judgement
from vaporqa.tables.project import Project
from vaporqa.tables.values import InputFile, Tables
from vaporqa.verifying import Difference, changed_since, first_difference, read_manifest

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

    def write(
        self, out: str | Path, *, command: Sequence[str] = (), flags_as: Sequence[str] = (), pdf: bool = False
    ) -> Path:
        """Write report.html, the flag files, findings.csv, review.json and run.json into `out`.

        Parameters
        ----------
        out : str or Path
            A new or empty folder, or an earlier run's.
        command : sequence of str
            The command line, for run.json.
        flags_as : sequence of str
            Further forms of the flag files: `parquet`, `xlsx`.
        pdf : bool
            Write report.pdf as well.

        Raises
        ------
        OutputError
            The folder holds something else, or cannot be written.
        """
        options = {**self.options, "flags_as": list(flags_as), "pdf": pdf}
        return write_run(
            self.report, Path(out), command=command, began=self.began, options=options, flags_as=flags_as, pdf=pdf
        )

    def text(self, *, colour: bool = False, out: Path | None = None) -> str:
        """Return the review as text for a terminal of 80 columns."""
        return screen(self.review, self.report.tally, self.report.sentences, colour=colour, out=out)

    def json(self) -> bytes:
        """Return review.json."""
        return as_json(review_json(self.review, self.report.tally, self.report.sentences))

    def trace(self, table: str, key: str) -> Trace:
        """Trace the rows under a key: what each is worth, how it was settled, and everything that stands behind it.

        Parameters
        ----------
        table : str
            Name in the data dictionary.
        key : str
            As the flag files have it; parts of a made key joined by `/`. Several rows may stand under one.

        Returns
        -------
        Trace
            Of a result its chain from location to reported number, link by link; numbers of what holds included.

        Raises
        ------
        UsageError
            The folder has no such table, or the table no such key; the nearest are offered.
        """
        return trace(self.review, self.report.sentences, table, key, self._weighed)

    @cached_property
    def _weighed(self) -> WeighedAgain:
        """What rules measured where they hold, kept from one trace to the next."""
        return WeighedAgain(self.review)

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
    project, tables, rulebook, judgements = _read(home, profiles, rules)
    options = {"profile": profiles, "rules": [str(Path(one).resolve()) for one in rules]}
    return Checked(Report.of(review_folder(project, tables, rulebook, judgements)), options, began)


def _read(
    home: Path, profiles: Sequence[str], rules: Sequence[str | Path]
) -> tuple[Project, Tables, Rulebook, Judgements]:
    """Read everything that a review is made of, judgements.yaml named among the inputs."""
    project = load_project(home)
    faults: list[VaporqaError] = []
    rulebook, tables, judgements = None, None, NO_JUDGEMENTS
    try:
        rulebook = load_rulebook(
            extra=[Path(one) for one in project.rules],
            profiles=(*project.profiles, *profiles),
            folder=home,
            further=[Path(one) for one in rules],
            stated=project.document,
        )
    except VaporqaError as fault:
        faults.append(fault)
    try:
        tables = read_folder(home, project)
    except VaporqaError as fault:
        faults.append(fault)
    try:
        judgements = load_judgements(home)
    except VaporqaError as fault:
        faults.append(fault)
    if rulebook is None or tables is None or faults:
        # Rules, tables and judgements are read apart, so that one run names everything that is wrong with any.
        raise type(faults[0])(problem for fault in faults for problem in fault.problems)
    return project, _with_file(tables, judgements), rulebook, judgements


def _with_file(tables: Tables, judgements: Judgements) -> Tables:
    if not judgements.sha256:
        return tables
    file = InputFile(JUDGEMENT_FILE, judgements.sha256, judgements.size, ())
    return replace(tables, files=(*tables.files, file))


@dataclass(frozen=True, slots=True)
class JudgedFinding:
    """A professional judgement: the reviews before and after it, the file, and whether it was written."""

    weighed: Weighed
    path: Path
    written: bool

    def text(self) -> str:
        """Return what was decided, what it moves and what was written where, for a terminal."""
        return judged_text(self.weighed, str(self.path) if self.written else "")


def judge(
    folder: str | Path, decision: Decision, *, profile: str | Sequence[str] | None = None,
    rules: Sequence[str | Path] = (), write: bool = True,
) -> JudgedFinding:  # fmt: skip
    """Judge one finding of a project folder, and write the judgement into its judgements.yaml.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and its tables. Nothing but judgements.yaml is written.
    decision : Decision
        Finding, effect, letters, who, why and when.
    profile, rules
        As for `check`: the finding is looked for under them.
    write : bool
        False weighs the decision and writes nothing.

    Raises
    ------
    FolderError, RulebookError, UsageError
        As `check`; and where the decision does not stand (see `vaporqa.judging.decide`).
    OutputError
        judgements.yaml cannot be written.
    """
    home = Path(folder)
    profiles = [profile] if isinstance(profile, str) else list(profile or ())
    project, tables, rulebook, judgements = _read(home, profiles, rules)
    weighed = decide(decision, project, tables, rulebook, judgements)
    content = with_judgement(judgements, weighed.judgement)
    if write:
        if load_judgements(home).sha256 != judgements.sha256:
            raise OutputError(Problem(JUDGEMENT_FILE, 0, 0, "the file was changed meanwhile", "judge again"))
        try:
            write_file(judgement_path(home), content)
        except OutputError as error:
            mend = "see to it that the project folder can be written to"
            raise OutputError(replace(one, file=JUDGEMENT_FILE, mend=mend) for one in error.problems) from error
    return JudgedFinding(weighed, home / JUDGEMENT_FILE, write)


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
        load_rulebook(extra=extra, profiles=project.profiles, folder=home, stated=project.document),
        load_rulebook(extra=extra, profiles=other, folder=home, further=[Path(one) for one in rules]),
    ]
    judgements = load_judgements(home)
    tables = _with_file(read_folder(home, project), judgements)
    before, after = (review_folder(project, tables, book, judgements) for book in books)
    return Compared(compare_reviews(before, after), before.tables)


def compare_written(old: str | Path, new: str | Path) -> RunComparison:
    """Compare two runs that `Checked.write` (or ``vaporqa check --out``) wrote.

    Parameters
    ----------
    old, new : str or Path
        Folders of the earlier and the later run.

    Raises
    ------
    FolderError
        A folder holds no run, or a run that is not whole; all problems of both at once.
    """
    runs: list[Run] = []
    faults: list[VaporqaError] = []
    for folder in (old, new):
        try:
            runs.append(read_run(Path(folder)))
        except VaporqaError as fault:
            faults.append(fault)
    if faults:
        raise type(faults[0])(problem for fault in faults for problem in fault.problems)
    return compare_runs(*runs)


@dataclass(frozen=True, slots=True)
class Verified:
    """Whether a run came out again: the first difference (None where there is none), and how many files were compared.

    `note` says what else is not the same, such as the version of vaporqa.
    """

    difference: Difference | None
    files: int
    note: str = ""


def verify(out: str | Path, *, folder: str | Path | None = None) -> Verified:
    """Run again what the run.json of a run states, and compare every file with what comes out.

    Parameters
    ----------
    out : str or Path
        Folder of the run.
    folder : str or Path, optional
        Project folder, where it is no longer where run.json says.

    Raises
    ------
    FolderError
        The folder holds no run, or the project folder cannot be read.
    """
    manifest = read_manifest(Path(out))
    home = Path(folder) if folder is not None else manifest.folder
    if not home.is_dir():
        mend = "name it with --folder"
        raise FolderError(Problem(str(home), 0, 0, "the project folder of this run is not there", mend))
    note = ""
    if manifest.version != __version__:
        note = f"the run was made by vaporqa {manifest.version}, this is {__version__}"
    lost = changed_since(manifest, home, manifest.rule_files)
    if lost is not None:
        return Verified(lost, 0, note)
    options = manifest.options
    again = check(home, profile=options.get("profile") or (), rules=options.get("rules") or ())
    lost = changed_since(manifest, home, again.review.rulebook.files)
    if lost is not None:
        return Verified(lost, 0, note)
    with tempfile.TemporaryDirectory(prefix="vaporqa-") as scratch:
        second = again.write(
            Path(scratch) / "run", flags_as=options.get("flags_as") or (), pdf=bool(options.get("pdf"))
        )
        names = dict.fromkeys([*manifest.written, *read_manifest(second).written])
        return Verified(first_difference(manifest.out, second, list(names)), len(names), note)

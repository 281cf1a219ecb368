"""The public face: check a project folder, look at the flags, write the report."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vaporqa import __version__
from vaporqa.cache.rulebooks import kept_rulebook
from vaporqa.criteria import Rulebook
from vaporqa.errors import FolderError, OutputError, Problem, VaporqaError
from vaporqa.intake import load_project, read_folder
from vaporqa.outcomes import Standing
from vaporqa.report.screen import screen
from vaporqa.report.writing import Report, write_file, write_run
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook.judgement_file import (
    JUDGEMENT_FILE,
    NO_JUDGEMENTS,
    Judgements,
    judgement_path,
    load_judgements,
)
from vaporqa.tables.project import Project
from vaporqa.tables.values import InputFile, Tables

# Start-up time: what a plain check never calls is imported where it is called.
if TYPE_CHECKING:
    import pandas as pd

    from vaporqa.comparing import Comparison, RunComparison
    from vaporqa.judging import Decision, Weighed
    from vaporqa.planning import Plan
    from vaporqa.report.form_columns import Forms
    from vaporqa.report.trace import Trace
    from vaporqa.review.weighed import WeighedAgain
    from vaporqa.verifying import Difference


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
        from vaporqa.report.flagged import frames

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
        from vaporqa.report.machine import as_json, review_json

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
        from vaporqa.report.trace import trace

        return trace(self.review, self.report.sentences, table, key, self._weighed)

    @cached_property
    def _weighed(self) -> WeighedAgain:
        """What rules measured where they hold, kept from one trace to the next."""
        from vaporqa.review.weighed import WeighedAgain

        return WeighedAgain(self.review)

    def requests(self, suffix: str = ".md") -> bytes:
        """Return the list of missing evidence to ask for, by who can supply it.

        Parameters
        ----------
        suffix : str
            `.md`, `.txt`, `.html` or `.csv`.
        """
        from vaporqa.report.request_files import WRITERS
        from vaporqa.report.requests import requests_of

        asked = requests_of(self.review, self.report.tally.evidence, self.report.sentences)
        return WRITERS[suffix](asked, self.review)

    def __repr__(self) -> str:
        counts = ", ".join(f"{int(self.report.tally.of_field[one]):,} {one.word}" for one in Standing)
        return f"<Checked {self.review.project.name!r}: {counts}; {len(self.review.findings):,} findings>"


def check(
    folder: str | Path, *, profile: str | Sequence[str] | None = None, rules: Sequence[str | Path] = (),
    tell: Callable[[str], None] | None = None, cached: bool = False,
) -> Checked:  # fmt: skip
    """Check a project folder by the rules in force.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and its tables.
    profile : str or sequence of str, optional
        Profiles on top of those that project.yaml names, later over earlier.
    rules : sequence of str or Path
        Further rule files, profile files, or folders of them.
    tell : callable, optional
        Is told each step as it begins, such as "reading the tables".
    cached : bool
        Whether the shipped rules may be taken from the user's cache folder as they were read before, and kept there.

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
    say = tell or _tell_nobody
    project, tables, rulebook, judgements = _read(home, profiles, rules, say, cached=cached)
    options = {"profile": profiles, "rules": [str(Path(one).resolve()) for one in rules]}
    say("judging")
    review = review_folder(project, tables, rulebook, judgements)
    say("counting")
    return Checked(Report.of(review), options, began)


def _tell_nobody(_: str) -> None:
    """Leave a step untold."""


def _read(
    home: Path, profiles: Sequence[str], rules: Sequence[str | Path], tell: Callable[[str], None] = _tell_nobody,
    *, cached: bool = False,
) -> tuple[Project, Tables, Rulebook, Judgements]:  # fmt: skip
    """Read everything that a review is made of, judgements.yaml named among the inputs."""
    project = load_project(home)
    faults: list[VaporqaError] = []
    rulebook, tables, judgements = None, None, NO_JUDGEMENTS
    tell("reading the rules")
    try:
        rulebook = _rulebook(home, project, (*project.profiles, *profiles), rules, cached=cached)
    except VaporqaError as fault:
        faults.append(fault)
    tell("reading the tables")
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


def _rulebook(
    home: Path, project: Project, profiles: Sequence[str], rules: Sequence[str | Path], *, cached: bool
) -> Rulebook:
    def load() -> Rulebook:
        from vaporqa.rulebook import load_rulebook  # start-up time: rules that are kept need neither YAML nor shapes

        return load_rulebook(
            extra=[Path(one) for one in project.rules],
            profiles=profiles,
            folder=home,
            further=[Path(one).resolve() for one in rules],
            stated=project.document,
        )

    return kept_rulebook(profiles, load) if cached and not project.rules and not rules else load()


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
        from vaporqa.report.weighed import judged_text

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
    from vaporqa.judging import decide
    from vaporqa.rulebook.judgement_lines import with_judgement

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
class Planned:
    """What is left to be sampled, planned by the rules in force."""

    plan: Plan

    def text(self, *, colour: bool = False, out: Path | None = None) -> str:
        """Return the plan as text for a terminal of 80 columns."""
        from vaporqa.report.plan_text import plan_text  # start-up time

        return plan_text(self.plan, colour=colour, out=out)

    def csv(self) -> bytes:
        """Return plan.csv: one line a probe and item, with rule, limit, source and backing."""
        from vaporqa.report.plan_rows import plan_csv  # start-up time

        return plan_csv(self.plan)

    def page(self) -> bytes:
        """Return plan.html, one page to print."""
        from vaporqa.report.plan_page import plan_page  # start-up time

        return plan_page(self.plan)

    def write(self, out: str | Path) -> Path:
        """Write plan.html and plan.csv into `out`, a new or empty folder or an earlier plan's.

        Raises
        ------
        OutputError
            The folder holds something else, or cannot be written.
        """
        from vaporqa.report.plan_writing import write_plan  # start-up time

        return write_plan(self.plan, Path(out))


def plan(
    folder: str | Path, *, profile: str | Sequence[str] | None = None, rules: Sequence[str | Path] = (),
    flow: str | None = None, stroke: str | None = None, day: str | None = None,
) -> Planned:  # fmt: skip
    """Plan what is left to be sampled in a project folder.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and a probes table; every other table may be empty or half filled.
    profile, rules
        As for `check`: every limit of the plan is that of the rules in force.
    flow : str, optional
        Planned flow with its unit, such as ``150 mL/min``; where none is given, the highest that the rules allow.
    stroke : str, optional
        One stroke of a hand pump with its unit, such as ``100 mL``.
    day : str, optional
        When sampling begins where the samples table does not say, such as ``2026-12-01T08:00``.

    Raises
    ------
    FolderError, RulebookError, UsageError
        As `check`; and where the folder has no probes, or flow, stroke or day cannot be read.
    """
    home = Path(folder)
    profiles = [profile] if isinstance(profile, str) else list(profile or ())
    project, tables, rulebook, judgements = _read(home, profiles, rules)
    from vaporqa.planning import plan_of, read_wishes  # start-up time

    wishes = read_wishes(project, flow=flow, stroke=stroke, day=day)
    return Planned(plan_of(review_folder(project, tables, rulebook, judgements), wishes))


def forms(folder: str | Path, *, profile: str | Sequence[str] | None = None, rules: Sequence[str | Path] = ()) -> Forms:
    """Return blank forms with the columns that the rules in force judge by, a form a field table.

    Parameters
    ----------
    folder : str or Path
        Holds project.yaml and at least one table, which may be empty. Its locations and probes stand on the forms.
    profile, rules
        As for `check`.

    Raises
    ------
    FolderError, RulebookError
        As `check`.

    See Also
    --------
    vaporqa.report.form_writing.write_forms : Writes them as pages and workbooks.
    """
    home = Path(folder)
    profiles = [profile] if isinstance(profile, str) else list(profile or ())
    project, tables, rulebook, _ = _read(home, profiles, rules)
    from vaporqa.report.form_columns import forms_of  # start-up time

    return forms_of(project, tables, rulebook)


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
    from vaporqa.comparing import compare_reviews
    from vaporqa.rulebook import load_rulebook

    home = Path(folder)
    project = load_project(home)
    extra = [Path(one) for one in project.rules]
    other = (against,) if isinstance(against, str) else tuple(against)
    books = [
        load_rulebook(extra=extra, profiles=project.profiles, folder=home, stated=project.document),
        load_rulebook(extra=extra, profiles=other, folder=home, further=[Path(one).resolve() for one in rules]),
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
    from vaporqa.comparing import Run, compare_runs, read_run

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
    from vaporqa.verifying import changed_since, first_difference, read_manifest

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

"""``vaporqa check``: the review of project folders."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say
from vaporqa.errors import OutputError, Problem, UsageError, did_you_mean

if TYPE_CHECKING:
    from vaporqa.library import Checked

_PROJECT_FILE = "project.yaml"
FORMATS = ("text", "json", "sarif", "junit", "annotations")
#: Formats of which several may be printed one after the other.
_SEVERAL = ("text", "annotations")
#: What --requests writes, by suffix.
_LETTERS = (".md", ".txt", ".html", ".csv")
_LEVELS = ("rejected", "unproven", "estimated", "never")


@dataclass(frozen=True, slots=True)
class Asked:
    """A format asked for, and the file it goes to; None is the screen."""

    name: str
    path: Path | None


@dataclass(frozen=True, slots=True)
class Written:
    """What a run writes besides its usual files."""

    flags_as: tuple[str, ...]
    pdf: bool
    requests: Path | None


_HELP = {
    "--profile": "Profile on top of the folder's own; repeatable, later over earlier.",
    "--rules": "Further rule or profile files, or folders of them; repeatable.",
    "--out": "Write the report here: a new or empty folder, or an earlier run's.",
    "--format": f"What to print: {', '.join(FORMATS)}; with =PATH into a file. Repeatable. Default: text.",
    "--flags-as": "Write the flags in this form as well: parquet (a file a table) or xlsx (one workbook). Repeatable.",
    "--pdf": "Write report.pdf beside report.html.",
    "--requests": "Write what to ask for, by who can supply it: .md, .txt, .html or .csv.",
    "--fail-on": "Exit with 1 when any row of any table is this or worse.",
    "--jobs": "Review so many folders at a time, each in a process of its own from 2 up; every one takes its memory.",
    "--scheduler": "Review the folders on the Dask cluster of this scheduler; every worker must see the same paths.",
}
_PATH = click.Path(path_type=Path)


_Command = Callable[..., int]


def _option(flag: str, name: str, metavar: str | None, **more: Any) -> Callable[[_Command], _Command]:
    return click.option(flag, name, metavar=metavar, help=_HELP[flag], **more)


_EXAMPLES = """\b
Examples:
  vaporqa check my_project
  vaporqa check my_project --out my_report
  vaporqa check my_project --requests letter.md
  vaporqa check my_project --format json | jq .counts.results
  vaporqa check projects/ --out reports/ --fail-on unproven --jobs 4
"""


@click.command("check", epilog=_EXAMPLES)
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=_PATH)
@_option("--profile", "profiles", "NAME", multiple=True)
@_option("--rules", "rules", "PATH", multiple=True, type=_PATH)
@_option("--out", "out", "DIR", type=_PATH)
@_option("--format", "formats", "F[=PATH]", multiple=True)
@_option("--flags-as", "flags_as", None, multiple=True, type=click.Choice(("parquet", "xlsx")))
@_option("--pdf", "pdf", None, is_flag=True)
@_option("--requests", "requests", "FILE", type=_PATH)
@_option("--fail-on", "fail_on", None, type=click.Choice(_LEVELS), default="rejected", show_default=True)
@_option("--jobs", "at_a_time", "N", type=click.IntRange(1, 512), default=1, show_default=True)
@_option("--scheduler", "scheduler", "ADDRESS")
def command(
    folders: tuple[Path, ...], profiles: tuple[str, ...], rules: tuple[Path, ...], out: Path | None,
    formats: tuple[str, ...], flags_as: tuple[str, ...], pdf: bool, requests: Path | None, fail_on: str,
    at_a_time: int, scheduler: str | None,
) -> int:  # fmt: skip
    """Review each FOLDER: every row of every table gets a flag with its reasons.

    A FOLDER holds project.yaml and its tables. A path that holds several such folders reviews each, into
    DIR/<folder name>/, and DIR/programme.html rolls them up; the screen has one line a folder, and with --format text
    the text of each. Without --out nothing is written.
    """
    asked = _asked(formats)
    for option, given in (("--flags-as", flags_as), ("--pdf", pdf)):
        if given and out is None:
            raise UsageError(Problem("", 0, 0, f"{option} writes beside the report", "name a folder with --out"))
    if requests is not None:
        _check_suffix(requests)
    more = Written(flags_as, pdf, requests)
    found, several = _projects(folders)
    several |= scheduler is not None
    alone = [one.name for one in asked if one.path is not None or one.name not in _SEVERAL]
    if several and alone:
        message = f"the format '{alone[0]}' serves one folder, and there are {len(found)}"
        raise UsageError(Problem("", 0, 0, message, "check the folders one by one, or use --out"))
    if several and requests is not None:
        message = f"a list of requests serves one folder, and there are {len(found)}"
        raise UsageError(Problem("", 0, 0, message, "check the folders one by one"))
    if several:
        from vaporqa.cli.programme import Wanted, check_programme  # start-up time: one folder needs none of it

        prints = asked[0].name if formats else ""
        wanted = Wanted(profiles, tuple(map(str, rules)), flags_as, pdf, prints, _wants_colour(), fail_on)
        return check_programme(found, out, wanted, at_a_time, scheduler)
    return _review(found[0], out, asked, profiles, rules, more, fail_on)


def _asked(formats: Sequence[str]) -> list[Asked]:
    out = []
    for text in formats or ("text",):
        name, equals, path = text.partition("=")
        if name not in FORMATS:
            mend = did_you_mean(name, FORMATS) or f"write one of: {', '.join(FORMATS)}"
            raise UsageError(Problem("", 0, 0, f"there is no format '{name}'", mend))
        if equals and not path:
            raise UsageError(Problem("", 0, 0, f"'{text}' names no file", f"write {name}=PATH, or {name} alone"))
        out.append(Asked(name, Path(path) if path else None))
    if sum(one.path is None for one in out) > 1:
        message = "two formats would be printed into one another"
        raise UsageError(Problem("", 0, 0, message, "give all but one a file, as in json=review.json"))
    return out


def _check_suffix(path: Path) -> None:
    if path.suffix.lower() not in _LETTERS:
        message = f"a list of requests cannot be written as '{path.suffix or path.name}'"
        raise UsageError(Problem(str(path), 0, 0, message, f"name a file that ends in {', '.join(_LETTERS)}"))


def _check_no_input(path: Path, folder: Path, names: Sequence[str]) -> None:
    if path.resolve() in {(folder / name).resolve() for name in (*names, _PROJECT_FILE)}:
        raise OutputError(Problem(str(path), 0, 0, "this is one of the files that were checked", "name another file"))


def _projects(folders: Sequence[Path]) -> tuple[list[Path], bool]:
    """Return each project folder, and whether the reports of several go side by side."""
    found: list[Path] = []
    nested = False
    for folder in folders:
        inside = _projects_in(folder)
        nested |= bool(inside)
        found += inside or [folder]
    found = list(dict.fromkeys(found))
    return found, nested or len(found) > 1


def _projects_in(folder: Path) -> list[Path]:
    if not folder.is_dir() or (folder / _PROJECT_FILE).exists():
        return []
    return sorted(entry for entry in folder.iterdir() if entry.is_dir() and (entry / _PROJECT_FILE).is_file())


def _review(
    folder: Path, into: Path | None, asked: Sequence[Asked], profiles: Sequence[str], rules: Sequence[Path],
    more: Written, fail_on: str,
) -> int:  # fmt: skip
    leave_pandas_out()
    from vaporqa.library import check  # start-up time: --help needs none of it
    from vaporqa.outcomes import Standing
    from vaporqa.report.flags_as import check_forms
    from vaporqa.report.pdf import check_pdf
    from vaporqa.report.writing import check_destination, write_file

    check_forms(more.flags_as)
    if more.pdf:
        check_pdf()
    if into is not None:
        check_destination(into, folder)
    checked = check(folder, profile=profiles, rules=rules)
    if into is not None:
        checked.write(into, command=["vaporqa", *sys.argv[1:]], flags_as=more.flags_as, pdf=more.pdf)
    if more.requests is not None:
        _check_no_input(more.requests, folder, [one.name for one in checked.review.tables.files])
        write_file(more.requests, checked.requests(more.requests.suffix.lower()))
    for one in asked:
        if one.path is not None:
            write_file(one.path, _content(checked, one.name, into, colour=False))
    for one in asked:
        if one.path is None:
            say(_content(checked, one.name, into, colour=_wants_colour()))
    if fail_on == "never":
        return 0
    return int(checked.worst >= Standing[fail_on.upper()])


def _content(checked: Checked, name: str, into: Path | None, *, colour: bool) -> bytes:
    if name == "text":
        return checked.text(colour=colour, out=into).encode("utf-8", "replace")
    if name == "json":
        return checked.json()
    from vaporqa.report.exchange import WRITERS

    return WRITERS[name](checked.report)


def _wants_colour() -> bool:
    """A screen that is one, and nobody who asks for none (https://no-color.org)."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"

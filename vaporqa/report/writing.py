"""A run's folder: written aside, then moved into place, so that nobody ever reads half a report."""

from __future__ import annotations

import datetime as dt
import errno
import hashlib
import json
import os
import signal
import tempfile
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vaporqa.errors import OutputError, Problem
from vaporqa.report.aside import ASIDE, clear, clear_left_over, held
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import Tally, tally_of
from vaporqa.review.values import Review

#: An earlier run's folder is known by this file.
REVIEW_FILE = "review.json"
RUN_FILE = "run.json"
_OURS = ("report.html", "findings.csv", REVIEW_FILE, RUN_FILE)
_FLAGS = "flags"


@dataclass(frozen=True, slots=True)
class Report:
    """A review with what every output needs of it, made once.

    Attributes
    ----------
    review : Review
    sentences : Sentences
    tally : Tally
    """

    review: Review
    sentences: Sentences
    tally: Tally

    @staticmethod
    def of(review: Review) -> Report:
        """Count a review and make ready to compose its sentences."""
        sentences = Sentences(review)
        return Report(review, sentences, tally_of(review, sentences.lists("results")))


def write_run(
    report: Report,
    out: Path,
    *,
    command: Sequence[str] = (),
    began: dt.datetime | None = None,
    options: Mapping[str, Any] | None = None,
    flags_as: Sequence[str] = (),
    pdf: bool = False,
) -> Path:
    """Write every file of a run into `out`.

    Parameters
    ----------
    report : Report
    out : Path
        A new or empty folder, or an earlier run's, whose files are replaced and whose stale ones go.
    command, began, options
        For run.json.
    flags_as : sequence of str
        Further forms of the flag files: `parquet`, `xlsx`.
    pdf : bool
        Write report.pdf as well.

    Returns
    -------
    Path
        `out`.

    Raises
    ------
    OutputError
        The folder holds something else, or cannot be written.
    """
    from vaporqa.report.machine import as_json, run_json

    began = began or dt.datetime.now(dt.UTC)
    out = Path(out)
    check_destination(out, report.review.project.folder)
    fresh = not out.exists()
    with told(out), ExitStack() as until_written:
        out.mkdir(parents=True, exist_ok=True)
        with held(out, wait=True):
            clear_left_over(out)
            aside = Path(tempfile.mkdtemp(prefix=ASIDE, dir=out))
            until_written.enter_context(held(aside))
        try:
            written = {name: _write(aside / name, pieces) for name, pieces in _contents(report, flags_as, pdf)}
            run = run_json(report.review, command=command, began=began, options=options or {}, written=written)
            _write(aside / RUN_FILE, [as_json(run)])
            with held(out, wait=True), undisturbed():
                _move(aside, out, list(written))
        finally:
            with undisturbed():
                clear(aside)
                if fresh and not any(out.iterdir()):
                    out.rmdir()
    return out


def check_destination(out: Path, folder: Path | None = None) -> None:
    """Refuse a folder that is neither new, empty nor an earlier run's, or that holds the project's own files.

    Raises
    ------
    OutputError
        With what to do instead.
    """
    out = Path(out)
    if folder is not None and _same(out, folder):
        raise OutputError(
            Problem(str(out), 0, 0, "the report would be written among the tables", "name another folder with --out")
        )
    if not out.exists() and not out.is_symlink():
        return
    if not out.is_dir():
        raise OutputError(Problem(str(out), 0, 0, "this is a file, not a folder", "name a new folder with --out"))
    try:
        names = sorted(entry.name for entry in out.iterdir() if not entry.name.startswith(ASIDE))
    except OSError as error:
        raise OutputError(_fault(out, error)) from error
    if names and not _is_earlier_run(out):
        message = f"the folder is not empty and holds no earlier run (it has {_some(names)})"
        raise OutputError(Problem(str(out), 0, 0, message, "name a new or empty folder with --out"))


def _same(out: Path, folder: Path) -> bool:
    return out.resolve() == folder.resolve()


def _is_earlier_run(out: Path) -> bool:
    try:
        found = json.loads((out / REVIEW_FILE).read_bytes())
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(found, dict) and "format" in found and "counts" in found


def _some(names: Sequence[str]) -> str:
    shown = ", ".join(names[:3])
    return f"{shown} and {len(names) - 3} more" if len(names) > 3 else shown


def _contents(report: Report, flags_as: Sequence[str], pdf: bool) -> Iterator[tuple[str, Iterable[bytes]]]:
    # Start-up time, as wherever a function here imports: a review that is only shown composes no file.
    from vaporqa.report.flagged import findings_file, flag_file
    from vaporqa.report.flags_as import WORKBOOK, parquet_file, workbook_file
    from vaporqa.report.machine import as_json, review_json
    from vaporqa.report.page import page
    from vaporqa.report.pdf import PDF_FILE, pdf_file

    review, sentences = report.review, report.sentences
    for table in review.tables.tables:
        yield f"{_FLAGS}/{table}.csv", flag_file(review, table, sentences)
        if "parquet" in flags_as:
            yield f"{_FLAGS}/{table}.parquet", [parquet_file(review, table, sentences)]
    if "xlsx" in flags_as:
        yield WORKBOOK, [workbook_file(review, sentences)]
    yield "findings.csv", findings_file(review, sentences)
    yield REVIEW_FILE, [as_json(review_json(review, report.tally, sentences))]
    made = page(review, report.tally, sentences)
    yield "report.html", [made]
    if pdf:
        yield PDF_FILE, [pdf_file(made)]


def _write(path: Path, pieces: Iterable[bytes]) -> str:
    """Write a file and return its sha256."""
    path.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with path.open("wb") as file:
        for piece in pieces:
            digest.update(piece)
            file.write(piece)
    return digest.hexdigest()


def _move(aside: Path, out: Path, names: Sequence[str]) -> None:
    """Put new files in place of old ones.

    run.json goes first and comes last: a folder without it was cut short, and nobody takes it for whole. review.json
    comes first, so that such a folder is still known as ours and the next run mends it.
    """
    from vaporqa.report.flags_as import WORKBOOK
    from vaporqa.report.pdf import PDF_FILE

    (out / RUN_FILE).unlink(missing_ok=True)
    (aside / REVIEW_FILE).replace(out / REVIEW_FILE)
    (out / _FLAGS).mkdir(exist_ok=True)
    for name in names:
        if name != REVIEW_FILE:
            (aside / name).replace(out / name)
    keep = {*names, RUN_FILE}
    for stale in (out / _FLAGS).iterdir():
        if stale.suffix in (".csv", ".parquet") and f"{_FLAGS}/{stale.name}" not in keep:
            stale.unlink()
    for name in (*_OURS, WORKBOOK, PDF_FILE):
        if name not in keep:
            (out / name).unlink(missing_ok=True)
    (aside / RUN_FILE).replace(out / RUN_FILE)


def write_file(path: Path, content: bytes) -> None:
    """Write one file aside and move it into place.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    path = Path(path)
    with told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=ASIDE, dir=path.parent)
        aside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            aside.chmod(0o666 & ~_umask())
            aside.replace(path)
        finally:
            aside.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@contextmanager
def undisturbed() -> Iterator[None]:
    """Hold back Ctrl-C, and a wish to end that the process has a handler for, until the body is done.

    Files of two runs must not be left among each other. Only the main thread is ever interrupted.
    """
    held: list[int] = []
    before = {}
    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGINT, signal.SIGTERM):
            if callable(signal.getsignal(number)):  # else it is ignored, or ends the process at once
                before[number] = signal.signal(number, lambda number, _: held.append(number))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for one in dict.fromkeys(held):
            signal.raise_signal(one)


@contextmanager
def told(out: Path) -> Iterator[None]:
    """Turn what the system says into what a person can do about it."""
    try:
        yield
    except OSError as error:
        raise OutputError(_fault(out, error)) from error


def _fault(out: Path, error: OSError) -> Problem:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return Problem(str(out), 0, 0, "the disk is full; nothing was put in place", "free some space and run again")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return Problem(str(out), 0, 0, "writing there is not allowed", "name a folder that you may write to with --out")
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return Problem(str(out), 0, 0, "a file stands where a folder is needed", "name another folder with --out")
    said = error.strerror or str(error)
    return Problem(str(out), 0, 0, f"it cannot be written ({said})", "name another folder with --out")

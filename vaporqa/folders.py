"""Many project folders, each reviewed by itself: here, side by side, or on a cluster; and what they come to together.

One folder's failure never stops another. Results are the same for any number of workers.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import socket
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vaporqa import __version__, library
from vaporqa.errors import FolderError, Problem, UsageError, VaporqaError
from vaporqa.programme import End, Member, Programme, Summary, pool
from vaporqa.programme.cluster import Unanswered, on_cluster
from vaporqa.programme.names import names_of
from vaporqa.programme.workers import Lost, in_processes, in_this_process
from vaporqa.report.flags_as import check_forms
from vaporqa.report.folder_summary import summary_of
from vaporqa.report.pdf import check_pdf
from vaporqa.report.programme_files import prepare, write_programme
from vaporqa.report.writing import RUN_FILE, check_destination

#: How long a file that a worker elsewhere wrote may take to be seen here.
_SEEN_SECONDS = 5.0


@dataclass(frozen=True, slots=True)
class Order:
    """One folder to be reviewed.

    Attributes
    ----------
    name : str
        Folder of its report below that of the programme.
    folder : str
        The project folder.
    into : str
        Folder of its report; empty writes none.
    shown_folder, shown_into : str
        The same as a person named them.
    profiles, rules, flags_as, pdf, command
        As `vaporqa.check` and `Checked.write` have them.
    prints : str
        `text` or `annotations`, for the answer to carry; empty for neither.
    colour : bool
    elsewhere : bool
        A worker on another machine may do it.
    version : str
        Of vaporqa: a worker that has another refuses.
    """

    name: str
    folder: str
    into: str
    shown_folder: str
    shown_into: str
    profiles: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    flags_as: tuple[str, ...] = ()
    pdf: bool = False
    command: tuple[str, ...] = ()
    prints: str = ""
    colour: bool = False
    elsewhere: bool = False
    version: str = __version__

    def as_text(self) -> str:
        """Return the order as JSON."""
        return json.dumps(dataclasses.asdict(self))

    @staticmethod
    def of_text(text: str) -> Order:
        """Return the order that `as_text` was made of."""
        found: dict[str, Any] = json.loads(text)
        values: dict[str, Any] = {name: tuple(one) if isinstance(one, list) else one for name, one in found.items()}
        return Order(**values)


@dataclass(frozen=True, slots=True)
class Ended:
    """What came of an order.

    Attributes
    ----------
    end : End
    summary : Summary or None
        None where the folder was not reviewed.
    problems : tuple of Problem
        Why it was not, each with its place.
    trace : str
        Of a fault in vaporqa.
    printed : str
        What was asked for by `prints`.
    run_sha256 : str
        Of the run.json that was written; empty where none was.
    """

    end: End
    summary: Summary | None = None
    problems: tuple[Problem, ...] = ()
    trace: str = ""
    printed: str = ""
    run_sha256: str = ""

    def as_text(self) -> str:
        """Return the answer as JSON."""
        return json.dumps({**dataclasses.asdict(self), "end": self.end.value})

    @staticmethod
    def of_text(text: str) -> Ended:
        """Return the answer that `as_text` was made of."""
        found: dict[str, Any] = json.loads(text)
        summary = Summary.of_json(found["summary"]) if found["summary"] is not None else None
        problems = tuple(Problem(**one) for one in found["problems"])
        return Ended(End(found["end"]), summary, problems, found["trace"], found["printed"], found["run_sha256"])

    def member(self, order: Order) -> Member:
        """The folder as the programme lists it."""
        error = "; ".join(str(dataclasses.replace(one, excerpt="")) for one in self.problems)
        return Member(order.name, order.shown_folder, self.end, error, self.summary)


def review_one(text: str) -> str:
    """Review one folder: an `Order` as text in, an `Ended` as text out. Raises nothing that is not the end of all."""
    order = Order.of_text(text)
    try:
        return _reviewed(order).as_text()
    except VaporqaError as error:
        return Ended(End.NOT_DONE, problems=tuple(_in_folder(order, one) for one in error.problems)).as_text()
    except Exception as error:
        if isinstance(error, OSError) and not Path(order.folder).is_dir():
            gone = Problem(order.shown_folder, 0, 0, "the folder went away during the review", "run again")
            return Ended(End.NOT_DONE, problems=(gone,)).as_text()
        fault = Problem(order.shown_folder, 0, 0, f"a fault in vaporqa itself, not in your data ({_kind(error)})")
        return Ended(End.FAULT, problems=(fault,), trace=traceback.format_exc()).as_text()


def _reviewed(order: Order) -> Ended:
    if order.version != __version__:
        message = f"the worker has vaporqa {__version__}, and this is {order.version}"
        raise UsageError(Problem(order.shown_folder, 0, 0, message, "install the same version everywhere"))
    folder, into = Path(order.folder), Path(order.into) if order.into else None
    if order.elsewhere and not folder.is_dir():
        message = f"the worker on {socket.gethostname()} does not see this folder"
        raise FolderError(Problem(order.shown_folder, 0, 0, message, "use a path that every worker sees"))
    check_written(order.flags_as, order.pdf)
    if into is not None:
        check_destination(into, folder)
    checked = library.check(folder, profile=order.profiles, rules=order.rules)
    sha256 = ""
    if into is not None:
        checked.write(into, command=order.command, flags_as=order.flags_as, pdf=order.pdf)
        sha256 = hashlib.sha256((into / RUN_FILE).read_bytes()).hexdigest()
    return Ended(End.REVIEWED, summary_of(checked.report), (), "", _printed(checked, order), sha256)


def check_written(flags_as: Sequence[str], pdf: bool) -> None:
    """Refuse, before anything is judged, what cannot be written for want of a package.

    Raises
    ------
    UsageError
        With how to install what is missing.
    """
    check_forms(flags_as)
    if pdf:
        check_pdf()


def _printed(checked: library.Checked, order: Order) -> str:
    if order.prints == "text":
        return checked.text(colour=order.colour, out=Path(order.shown_into) if order.shown_into else None)
    if order.prints == "annotations":
        from vaporqa.report.exchange import WRITERS

        return WRITERS["annotations"](checked.report).decode("utf-8", "replace")
    return ""


def _kind(error: BaseException) -> str:
    said = str(error).strip().splitlines()
    return f"{type(error).__name__}: {said[0][:120]}" if said else type(error).__name__


def _in_folder(order: Order, problem: Problem) -> Problem:
    """Place a problem in its folder, as the person named it."""
    file = problem.file
    for real, shown in ((order.into, order.shown_into), (order.folder, order.shown_folder)):
        if real and (file == real or file.startswith(f"{real}/")):
            return dataclasses.replace(problem, file=shown + file[len(real) :])
    if file.startswith((order.shown_folder, *order.rules)):
        return problem
    return dataclasses.replace(problem, file=str(Path(order.shown_folder) / file))


def review_folders(
    orders: Sequence[Order], *, jobs: int = 1, scheduler: str | None = None,
    prepare_worker: Callable[[], None] | None = None,
) -> Iterator[Ended]:  # fmt: skip
    """Yield what came of each order, in the order given.

    Parameters
    ----------
    orders : sequence of Order
    jobs : int
        Worker processes at a time; 1 reviews in this process.
    scheduler : str, optional
        Address of a Dask scheduler, in place of worker processes.
    prepare_worker : callable, optional
        A function at the top of a module that each worker process calls first.

    Raises
    ------
    UsageError
        The scheduler cannot be used.
    """
    texts = [order.as_text() for order in orders]
    answers: Iterator[str | Lost | Unanswered]
    if scheduler is not None:
        answers = on_cluster(review_one, texts, scheduler)
    elif jobs > 1:
        answers = in_processes(review_one, texts, jobs, prepare_worker)
    else:
        answers = in_this_process(review_one, texts)
    for order, answer in zip(orders, answers, strict=True):
        yield _ended(order, answer)


def _ended(order: Order, answer: str | Lost | Unanswered) -> Ended:
    if isinstance(answer, Lost | Unanswered):
        mend = "run again with fewer --jobs, or check this folder alone" if isinstance(answer, Lost) else ""
        said = str(answer) if isinstance(answer, Lost) else f"the cluster gave no answer ({answer})"
        return Ended(End.LOST, problems=(Problem(order.shown_folder, 0, 0, said, mend),))
    ended = Ended.of_text(answer)
    if order.elsewhere and ended.run_sha256 and not _is_here(Path(order.into) / RUN_FILE, ended.run_sha256):
        message = "the worker wrote the report where this machine does not see it"
        mend = "name a folder with --out that every worker and this machine see under one path"
        return Ended(End.NOT_DONE, problems=(Problem(order.shown_into, 0, 0, message, mend),))
    return ended


def _is_here(path: Path, sha256: str) -> bool:
    """Whether a file written elsewhere is seen here; a shared disk may take a moment to show it."""
    until = time.monotonic() + _SEEN_SECONDS
    while True:
        try:
            if hashlib.sha256(path.read_bytes()).hexdigest() == sha256:
                return True
        except OSError:
            pass
        if time.monotonic() > until:
            return False
        time.sleep(0.2)


def check_folders(
    folders: Sequence[str | Path], *, out: str | Path | None = None, profile: str | Sequence[str] | None = None,
    rules: Sequence[str | Path] = (), flags_as: Sequence[str] = (), pdf: bool = False, jobs: int = 1,
    scheduler: str | None = None,
) -> Programme:  # fmt: skip
    """Check many project folders, and pool what they come to.

    Parameters
    ----------
    folders : sequence of str or Path
        Each holds project.yaml and its tables.
    out : str or Path, optional
        Each report goes into a folder below it, and the roll-up beside them. Without it nothing is written.
    profile, rules, flags_as, pdf
        As `vaporqa.check` and `Checked.write` have them, for every folder.
    jobs : int
        Worker processes at a time; 1 reviews in this process. In a script, call this below
        ``if __name__ == "__main__":``, since each process imports the script.
    scheduler : str, optional
        Address of a Dask scheduler, in place of worker processes; every worker must see the folders, the rules and
        `out` under the same paths and have the same version of vaporqa.

    Returns
    -------
    Programme
        A folder that could not be reviewed has its error in `members`; it stops no other.

    Raises
    ------
    UsageError
        No folder, two folders whose reports would share a place, `jobs` below 1, or a scheduler that cannot be used.
    OutputError
        `out` holds something else, or cannot be written.
    """
    if jobs < 1:
        raise UsageError(Problem("", 0, 0, f"jobs is {jobs}", "write 1 or more"))
    if scheduler is None:
        check_written(flags_as, pdf)
    if not folders:
        raise UsageError(Problem("", 0, 0, "there is no folder to check", "name one or more"))
    profiles = (profile,) if isinstance(profile, str) else tuple(profile or ())
    paths = [Path(folder) for folder in folders]
    home = Path(out) if out is not None else None
    places = list(zip(paths, names_of(paths), strict=True))
    if home is not None:
        prepare(home, [name for _, name in places])
    orders = orders_of(
        places,
        home,
        profiles=profiles,
        rules=[str(one) for one in rules],
        flags_as=flags_as,
        pdf=pdf,
        elsewhere=bool(scheduler),
    )
    ended = review_folders(orders, jobs=jobs, scheduler=scheduler)
    programme = pool(one.member(order) for order, one in zip(orders, ended, strict=True))
    if home is not None:
        write_programme(programme, home)
    return programme


def orders_of(
    places: Sequence[tuple[Path, str]], out: Path | None, *, profiles: Sequence[str] = (), rules: Sequence[str] = (),
    flags_as: Sequence[str] = (), pdf: bool = False, command: Sequence[str] = (), prints: str = "",
    colour: bool = False, elsewhere: bool = False,
) -> list[Order]:  # fmt: skip
    """Return an order for each folder and the name that its report has below `out`.

    Folders are made absolute where a worker elsewhere may read them: it stands in another folder. Rule files always
    are, since every report names them by the path that it was given.
    """

    def real(path: Path) -> str:
        return str(path.absolute()) if elsewhere else str(path)

    rule_files = tuple(str(Path(one).resolve()) for one in rules)
    orders = []
    for folder, name in places:
        into = out / name if out is not None else None
        orders.append(
            Order(
                name, real(folder), real(into) if into is not None else "", str(folder),
                str(into) if into is not None else "", tuple(profiles), rule_files,
                tuple(flags_as), pdf, tuple(command), prints, colour, elsewhere,
            )
        )  # fmt: skip
    return orders

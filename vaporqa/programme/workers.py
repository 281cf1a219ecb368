"""Work done side by side in processes of our own, answered in the order in which it was asked.

A pool of the standard library gives up everything that waits when one of its processes is killed, and does not say
which piece of work it was at. Here each process is told one piece at a time, so that it is known. Orders and answers
are JSON texts; nothing that comes back is unpickled.
"""

from __future__ import annotations

import multiprocessing
import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from types import FrameType

Work = Callable[[str], str]

#: When so many processes in a row end before they were ready, and none ever was, no more are started.
_TRIES = 3
_PATIENCE_SECONDS = 10.0
_READY = b"ready"


@dataclass(frozen=True, slots=True)
class Lost:
    """A process that ended before it answered: the signal that killed it (0 for none), or its exit code."""

    signal: int
    code: int
    began: bool

    def __str__(self) -> str:
        if self.signal:
            try:
                name = signal.Signals(self.signal).name
            except ValueError:
                name = f"signal {self.signal}"
            why = f"was killed ({name})"
        else:
            why = f"ended with exit code {self.code}"
        return f"the worker process {why}" + ("" if self.began else " before it could begin")


def in_this_process(work: Work, orders: Sequence[str]) -> Iterator[str | Lost]:
    """Yield the answer to each order, one after the other."""
    for order in orders:
        yield work(order)


def in_processes(
    work: Work, orders: Sequence[str], processes: int, prepare: Callable[[], None] | None = None
) -> Iterator[str | Lost]:
    """Yield the answer to each order in the order given, whichever is ready first.

    Parameters
    ----------
    work : callable
        A function at the top of a module, text to text, that raises nothing.
    orders : sequence of str
    processes : int
        At most so many at a time, from 1.
    prepare : callable, optional
        A function at the top of a module; each process calls it once, first.

    Notes
    -----
    Processes are spawned, never forked: a fork copies the locks of threads that it does not copy. When the reader
    stops early (an interrupt), the processes are asked to end, and clear away what they have half written.
    """
    crew = _Crew(work, prepare, orders, min(processes, len(orders)))
    try:
        yield from crew.answers()
    finally:
        crew.dismiss()


@dataclass(slots=True)
class _Worker:
    process: BaseProcess
    line: Connection
    at: int
    ready: bool = False


class _Crew:
    """The processes, what each is at, and the answers that came before their turn."""

    def __init__(self, work: Work, prepare: Callable[[], None] | None, orders: Sequence[str], processes: int) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._work, self._prepare, self._orders = work, prepare, orders
        self._waiting = deque(range(len(orders)))
        self._processes = processes
        self._workers: list[_Worker] = []
        self._answers: dict[int, str | Lost] = {}
        self._ever_ready = False
        self._failed = 0

    def answers(self) -> Iterator[str | Lost]:
        for number in range(len(self._orders)):
            while number not in self._answers:
                self._step()
            yield self._answers.pop(number)

    def _step(self) -> None:
        while self._waiting and len(self._workers) < self._processes:
            self._workers.append(self._start(self._waiting.popleft()))
        for line in wait([worker.line for worker in self._workers]):
            worker = next(one for one in self._workers if one.line is line)
            try:
                said = worker.line.recv_bytes()
            except (EOFError, OSError):
                self._lose(worker)
            else:
                self._hear(worker, said)

    def _start(self, order: int) -> _Worker:
        ours, theirs = self._context.Pipe()
        process = self._context.Process(target=_serve, args=(theirs, self._work, self._prepare), daemon=True)
        with _interrupts_held():
            process.start()
        # Only the worker may hold its end, or its death would not close the line.
        theirs.close()
        return _Worker(process, ours, order)

    def _hear(self, worker: _Worker, said: bytes) -> None:
        if worker.ready:
            self._answers[worker.at] = said.decode()
            if not self._waiting:
                self._workers.remove(worker)
                worker.line.close()
                return
            worker.at = self._waiting.popleft()
        worker.ready = self._ever_ready = True
        with suppress(OSError):  # it has just been killed: the line says so at the next step
            worker.line.send_bytes(self._orders[worker.at].encode())

    def _lose(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        worker.line.close()
        worker.process.join(_PATIENCE_SECONDS)
        code = worker.process.exitcode or 0
        lost = Lost(max(-code, 0), max(code, 0), worker.ready)
        self._answers[worker.at] = lost
        self._failed += not worker.ready
        if not self._ever_ready and self._failed >= _TRIES:
            while self._waiting:
                self._answers[self._waiting.popleft()] = lost

    def dismiss(self) -> None:
        for worker in self._workers:
            worker.process.terminate()
        for worker in self._workers:
            worker.process.join(_PATIENCE_SECONDS)
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
            worker.line.close()


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back, so that a process that starts meanwhile never has it.

    It reaches every process of the group; the first one decides, and ends the others in order.
    """
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    # Starting the tracker of multiprocessing lets interrupts through again; once it runs it does not.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(line: Connection, work: Work, prepare: Callable[[], None] | None) -> None:
    """Answer orders until the line is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _end)
    if prepare is not None:
        prepare()
    line.send_bytes(_READY)
    while True:
        try:
            order = line.recv_bytes()
        except (EOFError, OSError):
            return
        answer = work(order.decode())
        with suppress(OSError):  # nobody listens any more
            line.send_bytes(answer.encode())


def _end(number: int, frame: FrameType | None) -> None:
    """Turn the wish to end into an exit that passes through everything that clears up."""
    raise SystemExit(128 + number)

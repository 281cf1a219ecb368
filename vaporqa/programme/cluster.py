"""Work done on a Dask cluster that somebody else runs, answered in the order in which it was asked."""

from __future__ import annotations

import socket
import uuid
from collections.abc import Iterator, Sequence
from importlib import import_module
from typing import Any
from urllib.parse import urlsplit

from vaporqa.errors import Problem, UsageError
from vaporqa.programme.workers import Work

#: How long a scheduler may take to answer, and to have a worker.
PATIENCE_SECONDS = 10


class Unanswered(str):
    """Why the cluster has no answer to an order."""

    __slots__ = ()


def on_cluster(work: Work, orders: Sequence[str], address: str) -> Iterator[str | Unanswered]:
    """Yield the answer to each order in the order given.

    Parameters
    ----------
    work : callable
        A function at the top of a module that every worker can import, text to text, that raises nothing.
    orders : sequence of str
        Folders that they name must be seen by every worker under the same path.
    address : str
        Of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Raises
    ------
    UsageError
        The package is not installed, no scheduler answers, or it has no worker.
    """
    try:
        distributed: Any = import_module("distributed")  # an extra: nothing else needs it
    except ImportError as error:
        message = "--scheduler needs the package distributed, which is not installed"
        raise UsageError(Problem("", 0, 0, message, "pip install 'vaporqa[cluster]'")) from error
    try:
        _knock(address)
        client = distributed.Client(address, timeout=PATIENCE_SECONDS, set_as_default=False)
    except (OSError, ValueError, RuntimeError) as error:
        message = f"no Dask scheduler answers at '{address}' ({_brief(error)})"
        mend = "write the address that the scheduler printed when it started, as in tcp://10.0.0.5:8786"
        raise UsageError(Problem("", 0, 0, message, mend)) from error
    with client:
        try:
            client.wait_for_workers(1, timeout=PATIENCE_SECONDS)
        except TimeoutError as error:
            message = f"the Dask scheduler at '{address}' has no worker"
            raise UsageError(Problem("", 0, 0, message, "start workers, then run again")) from error
        # A result is kept under its key: one that is never used again makes sure that every call reviews anew.
        call = uuid.uuid4().hex
        futures = [
            client.submit(work, order, key=f"vaporqa-{call}-{number}", pure=False)
            for number, order in enumerate(orders)
        ]
        try:
            for future in futures:
                fault = future.exception()
                yield Unanswered(f"{type(fault).__name__}: {_brief(fault)}") if fault is not None else future.result()
        finally:
            client.cancel(futures)


def _knock(address: str) -> None:
    """See whether anybody listens: a client that never connected complains on the screen when it is taken away."""
    found = urlsplit(address if "://" in address else f"tcp://{address}")
    if not found.hostname or not found.port:
        raise ValueError("it names no host and port")
    socket.create_connection((found.hostname, found.port), timeout=PATIENCE_SECONDS).close()


def _brief(error: BaseException) -> str:
    lines = str(error).strip().splitlines()
    return lines[0][:200] if lines else type(error).__name__

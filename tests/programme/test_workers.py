"""Worker processes: answers in order, a death told for the one order it was at, nothing left over at an interrupt."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from pathlib import Path

import pytest

from vaporqa.programme.workers import Lost, in_processes, in_this_process


def answer(order: str) -> str:
    """Work that a spawned process finds by its name."""
    what, _, rest = order.partition(" ")
    if what == "sleep":
        time.sleep(float(rest))
    if what == "kill":
        os.kill(os.getpid(), signal.SIGKILL)
    if what == "exit":
        os._exit(int(rest))
    if what == "tidy":
        mark = Path(rest)
        mark.write_text("half")
        try:
            time.sleep(60)
        finally:
            mark.unlink()
    return f"done {order}"


def never_ready() -> None:
    os._exit(7)


def test_answers_come_in_the_order_asked() -> None:
    orders = ["sleep 0.6", "a", "b", "c"]
    expected = [f"done {order}" for order in orders]
    assert list(in_this_process(answer, orders)) == expected
    assert list(in_processes(answer, orders, 2)) == expected


def test_a_large_answer_comes_whole() -> None:
    order = "x" * 3_000_000
    assert list(in_processes(answer, [order, "é"], 2)) == [f"done {order}", "done é"]


def test_a_killed_worker_costs_its_own_order_alone() -> None:
    orders = ["a", "kill", "b", "exit 9", "c", "d"]
    found = list(in_processes(answer, orders, 2))
    assert [one for one in found if isinstance(one, str)] == ["done a", "done b", "done c", "done d"]
    assert (found[1], found[3]) == (Lost(int(signal.SIGKILL), 0, True), Lost(0, 9, True))
    assert "SIGKILL" in str(found[1])
    assert "exit code 9" in str(found[3])


def test_workers_that_never_start_are_not_tried_for_ever() -> None:
    found = list(in_processes(answer, [str(number) for number in range(30)], 2, never_ready))
    assert set(found) == {Lost(0, 7, False)}
    assert len(found) == 30
    assert "before it could begin" in str(found[0])


def test_an_interrupt_ends_the_workers_and_they_clear_up(tmp_path: Path) -> None:
    mark = tmp_path / "half-written"
    seen: list[bool] = []

    def interrupt() -> None:
        until = time.monotonic() + 20
        while not mark.exists() and time.monotonic() < until:
            time.sleep(0.02)
        seen.append(mark.exists())
        os.kill(os.getpid(), signal.SIGINT)

    threading.Thread(target=interrupt).start()
    with pytest.raises(KeyboardInterrupt):
        list(in_processes(answer, ["a", f"tidy {mark}", "b", "c"], 2))
    assert seen == [True]
    assert not mark.exists()
    assert not multiprocessing.active_children()

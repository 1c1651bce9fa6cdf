"""A second process, which writes some of the workbooks: openpyxl keeps to one core."""

from __future__ import annotations

import contextlib
import signal
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor


@contextlib.contextmanager
def second_process() -> Iterator[Executor]:
    """A process beside this one; it starts at once, so that it has its libraries when it is first asked."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(1, get_context("spawn"), _begin)
    try:
        with _no_interruption():
            pool.submit(_ready)
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


@contextlib.contextmanager
def _no_interruption() -> Iterator[None]:
    """Ctrl-C waits, and in a process that is started meanwhile it waits until that says otherwise, where the system can."""
    if sys.platform == "win32":
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # it lets Ctrl-C through again, so it must not be started meanwhile
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _begin() -> None:
    # Ctrl-C ends it as it ends this one, which has something to say about it.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _ready() -> None:
    import duckdb  # noqa: F401
    import openpyxl  # noqa: F401

    from brewcost import report  # noqa: F401

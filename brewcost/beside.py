"""A second process, which writes some of the workbooks: openpyxl keeps to one core."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor


@contextlib.contextmanager
def second_process() -> Iterator[Executor]:
    """A process beside this one; it starts at once, so that it has its libraries when it is first asked."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(1, get_context("spawn"), _begin) as pool:
        pool.submit(_ready)
        yield pool


def _begin() -> None:
    # Ctrl-C ends it as it ends this one, which has something to say about it.
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _ready() -> None:
    import duckdb  # noqa: F401
    import openpyxl  # noqa: F401

    from brewcost import report  # noqa: F401

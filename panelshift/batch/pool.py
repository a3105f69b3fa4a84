"""Processes of this machine, replaced when one of them dies."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.context import SpawnContext, SpawnProcess
from types import ModuleType
from typing import Any, ClassVar, Final, ParamSpec, TypeVar

from .products import Making
from .worker import start_process

P = ParamSpec("P")
T = TypeVar("T")

_HIDING: Final = threading.Lock()


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


class LocalPool:
    """A pool of processes that outlives the death of any of them.

    Processes are spawned, not forked: a fork of a process with threads may hang.

    Parameters
    ----------
    workers : int
        Number of processes.
    makings : sequence of Making
        What they are to be ready for.
    """

    def __init__(self, workers: int, makings: Sequence[Making]) -> None:
        self._workers = workers
        self._makings = tuple(makings)
        self._pool = self._start()

    def _start(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            self._workers,
            mp_context=_Context(),
            initializer=start_process,
            initargs=(self._makings,),
        )

    def submit(self, work: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Hand over some work."""
        return self._pool.submit(work, *args, **kwargs)

    def renew(self) -> None:
        """Start anew after a process has died; what was handed over is lost."""
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = self._start()

    def close(self) -> None:
        """End the processes once they have done what they are at."""
        self._pool.shutdown(wait=True, cancel_futures=True)


class _Process(SpawnProcess):
    @staticmethod
    def _Popen(process_obj: Any) -> Any:  # noqa: N802  (multiprocessing's name)
        with _main_hidden():
            return SpawnProcess._Popen(process_obj)


class _Context(SpawnContext):
    """Spawns processes that do not import the program which started them.

    They need nothing of it. A script without ``if __name__ == "__main__"`` would otherwise
    start its batch again in each of them, and a long script would hold each of them up.
    """

    # The stubs want the very class that is replaced here.
    Process: ClassVar[Any] = _Process


@contextmanager
def _main_hidden() -> Iterator[None]:
    # Spawning takes the main module's name from here, and has no switch to leave it out.
    with _HIDING:
        main = sys.modules["__main__"]
        sys.modules["__main__"] = ModuleType("__main__")
        try:
            yield
        finally:
            sys.modules["__main__"] = main

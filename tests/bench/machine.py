"""The machine that measures: what it is, and how much of it others take."""

from __future__ import annotations

import os
import platform
import resource
import time
from importlib.metadata import version
from pathlib import Path
from typing import Final

_LIBRARIES: Final = ("numpy", "lxml", "scipy", "shapely", "pydantic")
_BUSY_CORES: Final = 0.2
"""From here on the page says that the table is not to be trusted."""


def described() -> str:
    """The machine and its libraries in plain words."""
    cores = len(os.sched_getaffinity(0))
    libraries = ", ".join(f"{name} {version(name)}" for name in _LIBRARIES)
    return (
        f"{cores} cores, {platform.system()} on {platform.machine()}, Python "
        f"{platform.python_version()}, {libraries}."
    )


class Watch:
    """Seconds that pass, and what this process, its children and others compute meanwhile."""

    def __init__(self) -> None:
        self._clock = time.perf_counter()
        self._busy, self._own, self._children = _busy(), time.process_time(), _by_children()

    @property
    def seconds(self) -> float:
        """Seconds since it was made."""
        return time.perf_counter() - self._clock

    @property
    def own(self) -> float:
        """Seconds of computing by this process."""
        return time.process_time() - self._own

    @property
    def children(self) -> float:
        """Seconds of computing by its children that have ended."""
        return _by_children() - self._children

    @property
    def others(self) -> float:
        """Cores that all other processes took, on average."""
        return max(0.0, (_busy() - self._busy - self.own - self.children) / self.seconds)

    def warning(self) -> str:
        """What to say of the others' share."""
        others = self.others
        text = f"Other processes took {others:.1f} cores meanwhile"
        return f"{text}: **measure again.**" if others > _BUSY_CORES else f"{text}."


def _by_children() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def _busy() -> float:
    """Seconds that all cores together have computed since the machine was started."""
    # proc(5): user, nice, system, idle, iowait, irq, softirq, steal.
    fields = [int(word) for word in Path("/proc/stat").read_text().split("\n")[0].split()[1:9]]
    return (sum(fields) - fields[3] - fields[4]) / os.sysconf("SC_CLK_TCK")

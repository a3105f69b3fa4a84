"""Where each step's time goes: samples, each given to the part of panelshift that was at work."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from pyinstrument import Profiler
from pyinstrument.frame import Frame

from .steps import STEPS, draft

SECONDS: Final = 8.0
SHOWN: Final = 5
_INTERVAL: Final = 0.0005


def hot_spots() -> str:
    """Return a Markdown table: for each step, the functions that take most of its time."""
    lines = ["| step | share of the job | where its time goes |", "| --- | --- | --- |"]
    shares = _shares()
    whole = sum(part.total() for part in shares.values())
    for step, own in shares.items():
        total = own.total()
        spots = ", ".join(
            f"`{function}` {100.0 * seconds / total:.0f} %"
            for function, seconds in own.most_common(SHOWN)
        )
        lines.append(f"| {step.replace('_', ' ')} | {100.0 * total / whole:.0f} % | {spots} |")
    return "\n".join(lines)


def _shares() -> dict[str, Counter[str]]:
    """Seconds of each function of panelshift, with the libraries that it calls, for each step."""
    shares: dict[str, Counter[str]] = {step.__name__: Counter() for step in STEPS}
    _job()
    profiler = Profiler(interval=_INTERVAL)
    with profiler:
        until = time.perf_counter() + SECONDS
        while time.perf_counter() < until:
            _job()
    session = profiler.last_session
    root = session.root_frame() if session else None
    if root is None:
        raise RuntimeError("the profiler took no samples")
    for frame in _inside(root):
        if frame.function in shares and (frame.file_path or "").endswith("/bench/steps.py"):
            _add(frame, "", shares[frame.function])
    return shares


def _job() -> None:
    made: Any = draft()
    for step in STEPS:
        made = step(made)


def _inside(frame: Frame) -> Iterator[Frame]:
    yield frame
    for child in frame.children:
        yield from _inside(child)


def _add(frame: Frame, owner: str, shares: Counter[str]) -> None:
    """Give a frame's own time to the nearest function of panelshift that called it."""
    path = frame.file_path or ""
    if "/panelshift/" in path and not frame.function.startswith("<"):
        module = path.rsplit("/panelshift/", 1)[1].removesuffix(".py").replace("/", ".")
        owner = f"{module}.{frame.function}"
    children = sum(child.time for child in frame.children)
    if owner:
        shares[owner] += max(0.0, frame.time - children)
    for child in frame.children:
        _add(child, owner, shares)

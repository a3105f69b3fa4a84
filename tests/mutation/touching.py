"""Which tests touch a line: collected once, by running them all under coverage's contexts.

python -m pytest -p tests.mutation.touching -n 0 [--touching FOLDER]

What several tests share (a fixture of a module, a cached function, a cached property) is made in
the first of them only. So it has a context of its own, and each test that takes it counts as
touching its lines.
"""

from __future__ import annotations

import functools
import json
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import coverage
import pytest

from .touched import LINES, TESTS

_OURS: Final = ("panelshift", "tests")


class _Recorder:
    """The context that is running, and which contexts took which others."""

    def __init__(self) -> None:
        self.data: dict[str, set[int]] | None = None
        self.lines: defaultdict[str, defaultdict[str, set[int]]] = defaultdict(
            lambda: defaultdict(set)
        )
        self._at = ""
        self.running = ""
        self.taken: defaultdict[str, set[str]] = defaultdict(set)

    def take(self, shared: str) -> None:
        if shared != self.running:
            self.taken[self.running].add(shared)

    def within(self, context: str, work: Callable[[], Any]) -> Any:
        before, self.running = self.running, context
        self.switch(context)
        try:
            return work()
        finally:
            self.running = before
            self.switch(before)

    def switch(self, context: str) -> None:
        """Keep what ran since the last switch for the context that ran it.

        Coverage's own switch writes to a database each time, which took six times as long as
        the tests.
        """
        if self.data is None:
            return
        found = self.lines[self._at]
        for name, lines in self.data.items():
            if lines:
                found[name] |= lines
                lines.clear()
        self._at = context


_RECORDER: Final = _Recorder()


def _watched_cache(function: Callable[..., Any], cached: Any) -> Any:
    """A cached function whose answers have a context of their own."""
    name = f"cache {function.__module__}.{function.__qualname__}"

    @functools.wraps(function)
    def call(*args: Any, **options: Any) -> Any:
        _RECORDER.take(name)
        return cached(*args, **options)

    call.cache_clear = cached.cache_clear  # type: ignore[attr-defined]
    call.cache_info = cached.cache_info  # type: ignore[attr-defined]
    return call


def _making(function: Callable[..., Any]) -> Callable[..., Any]:
    name = f"cache {function.__module__}.{function.__qualname__}"

    @functools.wraps(function)
    def make(*args: Any, **options: Any) -> Any:
        return _RECORDER.within(name, lambda: function(*args, **options))

    return make


def _ours(function: Callable[..., Any]) -> bool:
    return function.__module__.partition(".")[0] in _OURS


_LRU: Final = functools.lru_cache
_PROPERTY: Final = functools.cached_property


def _lru_cache(maxsize: Any = 128, typed: bool = False) -> Any:
    if callable(maxsize):
        function = maxsize
        plain = _LRU(128, typed)
        return (
            _watched_cache(function, plain(_making(function)))
            if _ours(function)
            else plain(function)
        )

    def decorate(function: Callable[..., Any]) -> Any:
        plain = _LRU(maxsize, typed)
        if not _ours(function):
            return plain(function)
        return _watched_cache(function, plain(_making(function)))

    return decorate


def _cache(function: Callable[..., Any]) -> Any:
    return _lru_cache(None)(function)


class _WatchedProperty(_PROPERTY):  # type: ignore[type-arg]
    """A cached property that is asked each time, so that who takes it is known."""

    def __get__(self, instance: Any, owner: Any = None) -> Any:
        if instance is None or not _ours(self.func):
            return super().__get__(instance, owner)
        name = f"cache {self.func.__module__}.{self.func.__qualname__}"
        _RECORDER.take(name)
        held = instance.__dict__
        if self.attrname not in held:
            held[self.attrname] = _RECORDER.within(name, lambda: self.func(instance))
        return held[self.attrname]

    def __set__(self, instance: Any, value: Any) -> None:
        instance.__dict__[self.attrname] = value

    def __delete__(self, instance: Any) -> None:
        del instance.__dict__[self.attrname]


functools.lru_cache = _lru_cache  # type: ignore[assignment]
functools.cache = _cache
functools.cached_property = _WatchedProperty  # type: ignore[misc]


def pytest_addoption(parser: pytest.Parser) -> None:
    """Where the answers are written."""
    parser.addoption("--touching", default="touching", metavar="FOLDER")


class _Collecting:
    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self._times: dict[str, float] = {}
        self._failed: set[str] = set()

    def pytest_collection(self) -> None:
        made = coverage.Coverage(
            data_file=None, config_file=False, source=["panelshift"], branch=False
        )
        made.start()
        self._coverage = made
        _RECORDER.data = made._collector.data  # type: ignore[union-attr,assignment]

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Iterator[None]:
        """What a file works out while it is collected, all of its tests take."""
        if not isinstance(collector, pytest.Module):
            return (yield)
        _RECORDER.switch(f"file {collector.nodeid}")
        try:
            return (yield)
        finally:
            _RECORDER.switch("")

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        begun = time.process_time()
        _RECORDER.running = item.nodeid
        _RECORDER.switch(item.nodeid)
        try:
            return (yield)
        finally:
            _RECORDER.running = ""
            _RECORDER.switch("")
            self._times[item.nodeid] = time.process_time() - begun
            _RECORDER.taken[item.nodeid].add(f"file {item.nodeid.partition('::')[0]}")
            for name, definitions in item._fixtureinfo.name2fixturedefs.items():
                _RECORDER.taken[item.nodeid].update(
                    f"fixture {d.baseid} {name}" for d in definitions if d.scope != "function"
                )

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[None]:
        before = _RECORDER.running
        shared = fixturedef.scope != "function"
        if shared:
            _RECORDER.running = f"fixture {fixturedef.baseid} {fixturedef.argname}"
            _RECORDER.switch(_RECORDER.running)
        try:
            return (yield)
        finally:
            if shared:
                _RECORDER.running = before
                _RECORDER.switch(before)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed or (report.when == "setup" and report.skipped):
            self._failed.add(report.nodeid)

    def pytest_sessionfinish(self) -> None:
        _RECORDER.switch("")
        _RECORDER.data = None
        self._coverage.stop()
        root = Path(__file__).parents[2]
        lines = {
            context: {
                str(Path(file).relative_to(root)): sorted(found) for file, found in files.items()
            }
            for context, files in _RECORDER.lines.items()
        }
        (self._folder / LINES).write_text(json.dumps(lines), encoding="utf-8")
        told = {
            "times": self._times,
            "failed": sorted(self._failed),
            "taken": {key: sorted(value) for key, value in _RECORDER.taken.items()},
        }
        (self._folder / TESTS).write_text(json.dumps(told), encoding="utf-8")


def pytest_configure(config: pytest.Config) -> None:
    """Watch this session."""
    config.pluginmanager.register(_Collecting(Path(config.getoption("--touching")).resolve()))

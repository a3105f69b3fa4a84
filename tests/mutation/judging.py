"""Whether tests notice a mutant; no file is ever changed.

Most mutants lie in the body of a function. For those the tests are collected once, and a fork
of that process puts the mutant's code into the function and runs them: that costs a tenth of a
start. All others (constants, decorators, defaults) stand in for the module while a fresh
process imports it.
"""

from __future__ import annotations

import gc
import importlib
import importlib.util
import json
import mmap
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any, Final

from .putting_in import put_in

KILLED, SURVIVED, TIMED_OUT = "killed", "survived", "timed out"

_LIBRARIES: Final = (
    *("numpy", "scipy.interpolate", "scipy.integrate", "scipy.optimize", "scipy.special"),
    *("hypothesis.strategies", "hypothesis.internal.conjecture.engine", "lxml.etree", "pydantic"),
    *("shapely", "svgpathtools", "tinycss2", "pytest"),
)
_EXAMPLES: Final = 10
_MEMORY: Final = 2 << 30
_SLOWER: Final = 5.0
"""A mutant that needs so many times the processor time of the tests alone never ends."""

_SPARE_S: Final = 10.0
_WHOLE_S: Final = 60.0
_BUSY: Final = 20.0
"""Seconds of the clock allowed for each second of processor time."""

_PASSED: Final = 0
_FAILED: Final = 1
_NO_TEST: Final = 0xFFFFFFFF


def load_libraries() -> None:
    """Import what every process needs, once, with one thread each."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"
    for name in _LIBRARIES:
        importlib.import_module(name)


def quick_verdicts(
    module: str, sources: Sequence[str], tests: Sequence[str]
) -> Iterator[tuple[int, str]]:
    """Judge mutants that lie in bodies of functions; yields the index and verdict of each.

    Nothing is yielded if the tests fail as they are.

    Parameters
    ----------
    module : str
        Full name of the module.
    sources : sequence of str
        The module's source as each mutant has it.
    tests : sequence of str
        Paths for pytest from the working directory.
    """
    reading, writing = os.pipe()

    def collect_and_judge() -> int:
        os.close(reading)
        with os.fdopen(writing, "w") as out:
            return _pytest(tests, _Quick(module, sources, out))

    child = _fork(collect_and_judge)
    os.close(writing)
    with os.fdopen(reading) as verdicts:
        for line in verdicts:
            index, verdict = json.loads(line)
            yield index, verdict
    os.waitpid(child, 0)


def whole_verdict(module: str, path: Path, source: str, tests: Sequence[str]) -> str:
    """Judge one source by importing it in the module's place."""

    def import_and_run() -> int:
        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
        _limit_processor(_WHOLE_S)
        sys.meta_path.insert(0, _Substitute(module, path, source))
        return _pytest(tests, _FewExamples(), "-x")

    return _verdict(_fork(import_and_run), _WHOLE_S)


# -- processes --------------------------------------------------------------------------


def _fork(work: Callable[[], int]) -> int:
    """Start a child that does the work, silently, and ends with its status."""
    child = os.fork()
    if child:
        return child
    status = _FAILED
    try:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        status = work()
    finally:
        os._exit(status)


def _verdict(child: int, processor_s: float) -> str:
    """Wait for a child; end it when it has had far more time than the tests need."""
    end = time.monotonic() + _BUSY * processor_s
    pause = 0.005
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            if code in (-signal.SIGXCPU, -signal.SIGKILL):
                return TIMED_OUT
            return SURVIVED if code == _PASSED else KILLED
        time.sleep(pause)
        pause = min(1.2 * pause, 0.1)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return TIMED_OUT


def _limit_processor(seconds: float) -> None:
    used = resource.getrusage(resource.RUSAGE_SELF)
    end = int(used.ru_utime + used.ru_stime + seconds) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (end, end + 5))


# -- pytest -----------------------------------------------------------------------------


def _pytest(tests: Sequence[str], plugin: object, *options: str) -> int:
    import pytest

    # Nobody reads why a test fails: to say so takes longer than most tests.
    silent = ["--assert=plain", "--tb=native", "-o", "addopts="]
    none = ["-p", "no:cacheprovider", "-p", "no:cov"]
    return int(pytest.main([*silent, *none, *options, *tests], plugins=[plugin]))


class _FewExamples:
    """Fewer examples than the suite's own, always the same, never shrunk."""

    def pytest_sessionstart(self) -> None:
        from hypothesis import HealthCheck, Phase, settings

        settings.register_profile(
            "mutation",
            derandomize=True,
            deadline=None,
            database=None,
            max_examples=_EXAMPLES,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        settings.load_profile("mutation")


class _Quick(_FewExamples):
    """Instead of running the collected tests: runs them against each mutant in a fork."""

    def __init__(self, module: str, sources: Sequence[str], out: Any) -> None:
        self._module, self._sources, self._out = module, sources, out

    def pytest_runtestloop(self, session: Any) -> bool:
        items = session.items
        times = _times(session)
        if len(times) < len(items) or session.testsfailed:
            return True
        limit = _SLOWER * sum(times) + _SPARE_S
        found = [0] * len(items)
        failed = mmap.mmap(-1, 4)
        gc.freeze()  # or each child would copy what its collector looks at
        for index, source in enumerate(self._sources):
            # First those tests that find most mutants, then the shortest.
            order = sorted(range(len(items)), key=lambda i: (-found[i], times[i]))

            def against_mutant(source: str = source, order: list[int] = order) -> int:
                resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
                _limit_processor(limit)
                put_in(sys.modules[self._module], source)
                ran = 0

                def tell(_: float) -> None:
                    nonlocal ran
                    ran += 1

                status = _run(session, [items[i] for i in order], tell)
                if status == _FAILED:
                    failed[:] = order[ran].to_bytes(4, "little")
                return status

            failed[:] = _NO_TEST.to_bytes(4, "little")
            verdict = _verdict(_fork(against_mutant), limit)
            test = int.from_bytes(failed[:], "little")
            if test != _NO_TEST:
                found[test] += 1
            self._out.write(json.dumps([index, verdict]) + "\n")
            self._out.flush()
        return True


def _times(session: Any) -> list[float]:
    """Processor time of each test without any mutant, up to the first that fails."""
    reading, writing = os.pipe()

    def plainly() -> int:
        with os.fdopen(writing, "w") as out:
            return _run(session, session.items, lambda seconds: out.write(f"{seconds}\n"))

    child = _fork(plainly)
    os.close(writing)
    with os.fdopen(reading) as lines:
        times = [float(line) for line in lines]
    os.waitpid(child, 0)
    return times


def _run(
    session: Any, items: Sequence[Any], tell: Callable[[float], object] = lambda _: None
) -> int:
    """Run tests up to the first that fails."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        begun = time.process_time()
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return _FAILED
        tell(time.process_time() - begun)
    return _PASSED


# -- a mutant in the module's place -----------------------------------------------------


class _Substitute(MetaPathFinder):
    """Finds one module and gives it another source."""

    def __init__(self, module: str, path: Path, source: str) -> None:
        self._module, self._path, self._source = module, path, source

    def find_spec(
        self, fullname: str, path: object = None, target: object = None
    ) -> ModuleSpec | None:
        if fullname != self._module:
            return None
        loader = _Loader(fullname, self._path, self._source)
        return importlib.util.spec_from_file_location(fullname, self._path, loader=loader)


class _Loader(SourceFileLoader):
    def __init__(self, fullname: str, path: Path, source: str) -> None:
        super().__init__(fullname, str(path))
        self._source = source

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._source, self.path, "exec")

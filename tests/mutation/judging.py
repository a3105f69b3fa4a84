"""Whether tests notice a mutant; no file is ever changed.

All tests are collected once, and a fork of that process puts the mutant's code into its functions
and runs those tests that touch it: that costs a tenth of a start. What is worked out while a module
is imported (a constant, a default, a field) stands in for the module while a fresh process imports
it.
"""

from __future__ import annotations

import ast
import functools
import gc
import importlib
import importlib.util
import json
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any, Final, Literal

from .mutants import Mutant, mutated
from .putting_in import put_in

Verdict = Literal["killed", "timed out", "survived", "untouched"]

_LIBRARIES: Final = (
    *("numpy", "scipy.interpolate", "scipy.integrate", "scipy.optimize", "scipy.special"),
    *("hypothesis.strategies", "hypothesis.internal.conjecture.engine", "lxml.etree", "pydantic"),
    *("shapely", "svgpathtools", "tinycss2", "pytest", "pikepdf", "click"),
)
_MEMORY: Final = 3 << 30
_SLOWER: Final = 3.0
"""A mutant that needs so many times the processor time of the tests alone never ends."""

_SPARE_S: Final = 5.0
_BUSY: Final = 20.0
"""Seconds of the clock allowed for each second of processor time."""

_PASSED, _FAILED, _ELSEWHERE, _OURS = 0, 1, 77, 78
"""Exit codes of a child; the last two: the fault lies in no function, and wants a fresh process;
and what judges has a fault itself."""

Task = tuple[Mutant, Sequence[str], float]
"""A mutant, the tests that touch it in the order to run them, and their processor time."""


def verdicts(
    root: Path, tasks: Sequence[Task], *, afresh: bool = False
) -> Iterator[tuple[Mutant, Verdict, str]]:
    """Judge mutants one after the other; yields each with its verdict and the test that failed.

    *afresh*: each in a fresh process, for what is worked out while tests are collected.
    """
    _load_libraries()
    whole: list[Task] = list(tasks) if afresh else []
    for index, status, test in () if afresh else _quick(root, tasks):
        if status == _ELSEWHERE:
            whole.append(tasks[index])
        else:
            yield tasks[index][0], _verdict(status), test
    for mutant, tests, seconds in whole:
        status, test = _wait(
            _fork(lambda m=mutant, t=tests, s=seconds: _afresh(root, m, t, s)), seconds
        )
        yield mutant, _verdict(status), test


def _verdict(status: int) -> Verdict:
    if status in (-signal.SIGXCPU, -signal.SIGKILL):
        return "timed out"
    return "survived" if status == _PASSED else "killed"


def _load_libraries() -> None:
    """Import what every process needs, once, with one thread each."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ[name] = "1"
    for name in _LIBRARIES:
        importlib.import_module(name)


def _module(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def _code(root: Path, mutant: Mutant) -> CodeType:
    path = root / mutant.module
    tree: ast.Module = mutated(path.read_text(encoding="utf-8"), mutant)
    return compile(tree, str(path), "exec")


# -- processes --------------------------------------------------------------------------


def _fork(work: Callable[[], tuple[int, str]]) -> tuple[int, int]:
    """Start a child that does the work, silently; its number, and where its words come from."""
    reading, writing = os.pipe()
    child = os.fork()
    if child:
        os.close(writing)
        return child, reading
    status = _OURS
    try:
        os.setsid()
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        status, words = work()
        os.write(writing, words.encode()[:4000])
    except BaseException:
        os.write(writing, traceback.format_exc().encode()[-4000:])
    finally:
        os._exit(status)


def _wait(started: tuple[int, int], processor_s: float) -> tuple[int, str]:
    """Wait for a child; end it when it has had far more time than the tests need."""
    child, reading = started
    end = time.monotonic() + _BUSY * (_SLOWER * processor_s + _SPARE_S)
    pause, status = 0.005, -signal.SIGKILL
    while time.monotonic() < end:
        done, raw = os.waitpid(child, os.WNOHANG)
        if done:
            status = os.waitstatus_to_exitcode(raw)
            break
        time.sleep(pause)
        pause = min(1.2 * pause, 0.1)
    else:
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as told:
        os.set_blocking(reading, False)
        words = (told.read() or b"").decode()
    if status == _OURS:
        raise RuntimeError(words)
    return int(status), words


def _limit(processor_s: float) -> None:
    resource.setrlimit(resource.RLIMIT_DATA, (_MEMORY, _MEMORY))
    used = resource.getrusage(resource.RUSAGE_SELF)
    end = int(used.ru_utime + used.ru_stime + _SLOWER * processor_s + _SPARE_S) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (end, end + 5))


# -- pytest -----------------------------------------------------------------------------


def _pytest(arguments: Iterable[str], plugin: object) -> int:
    import pytest

    # Nobody reads why a test fails: to say so takes longer than most tests.
    silent = ["--assert=plain", "--tb=native", "-q", "-n", "0", "-m", ""]
    none = ["-p", "no:cacheprovider", "-p", "no:cov"]
    return int(pytest.main([*silent, *none, *arguments], plugins=[plugin]))


def _run(session: Any, items: Sequence[Any]) -> str:
    """Run tests up to the first that fails, and name it."""
    for item, following in zip(items, [*items[1:], None], strict=True):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return str(item.nodeid)
    return ""


def _quick(root: Path, tasks: Sequence[Task]) -> Iterator[tuple[int, int, str]]:
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        os.close(reading)
        null, status = os.open(os.devnull, os.O_RDWR), _OURS
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        try:
            with os.fdopen(writing, "w") as out:
                files = sorted({t.partition("::")[0] for _, tests, _ in tasks for t in tests})
                status = _pytest(files, _Collected(root, tasks, out))
        except BaseException:
            Path("judging.log").write_text(traceback.format_exc(), encoding="utf-8")
        finally:
            os._exit(status)
    os.close(writing)
    with os.fdopen(reading) as told:
        for line in told:
            index, status, test = json.loads(line)
            yield index, status, test
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if tasks and status != _PASSED:
        raise RuntimeError(f"the tests could not be collected: pytest ended with {status}")


class _Collected:
    """Instead of running the collected tests: runs some against each mutant in a fork."""

    def __init__(self, root: Path, tasks: Sequence[Task], out: Any) -> None:
        self._root, self._tasks, self._out = root, tasks, out

    def pytest_runtestloop(self, session: Any) -> bool:
        items = {item.nodeid: item for item in session.items}
        _warm(self._root)
        gc.freeze()  # or each child would copy what its collector looks at
        for index, (mutant, tests, seconds) in enumerate(self._tasks):
            chosen = [items[test] for test in tests if test in items]

            def against(mutant: Mutant = mutant, chosen: Any = chosen, s: float = seconds) -> Any:
                code = _code(self._root, mutant)
                try:
                    if not put_in(importlib.import_module(_module(mutant.module)), code):
                        return _ELSEWHERE, ""
                except Exception:
                    # The module could not even be imported so.
                    return _FAILED, "its import"
                _clear_caches()
                _limit(s)
                test = _run(session, chosen)
                return (_FAILED if test else _PASSED), test

            status, test = _wait(_fork(against), seconds)
            self._out.write(json.dumps([index, status, test]) + "\n")
            self._out.flush()
        return True


def _warm(root: Path) -> None:
    """Import what commands import late, and build what is built at the first job: once for all."""
    from panelshift.fit.html_page import fit_page
    from panelshift.job import read_job, resolve
    from panelshift.job.result import cut, fit_job

    for path in sorted((root / "panelshift").rglob("*.py")):
        if "extension" not in path.parts and path.stem not in ("__main__", "solver"):
            importlib.import_module(_module(str(path.relative_to(root))))
    job = resolve(read_job(root / "sample_patterns" / "hourglass.toml"))
    fit_page(fit_job(job, cut(job).shifted, lay_cloth=False))


def _clear_caches() -> None:
    """What was worked out while tests were collected knows nothing of the mutant."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("panelshift", "tests"):
            for value in list(vars(module).values()):
                if isinstance(value, functools._lru_cache_wrapper):
                    value.cache_clear()


# -- a mutant in the module's place -----------------------------------------------------


def _afresh(root: Path, mutant: Mutant, tests: Sequence[str], seconds: float) -> tuple[int, str]:
    """Run tests with a mutant in the module's place while it is imported."""
    _limit(seconds + _SPARE_S)
    code = _code(root, mutant)
    sys.meta_path.insert(0, _Substitute(_module(mutant.module), root / mutant.module, code))
    ordered = _InOrder(tests)
    status = _pytest([*sorted({test.partition("::")[0] for test in tests}), "-x"], ordered)
    return (_PASSED if status == _PASSED else _FAILED), ordered.failed


class _InOrder:
    """Runs chosen tests alone, in a given order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self._places = {test: place for place, test in enumerate(tests)}
        self.failed = "while it was imported"

    def pytest_collection_finish(self, session: Any) -> None:
        chosen = [item for item in session.items if item.nodeid in self._places]
        session.items[:] = sorted(chosen, key=lambda item: self._places[item.nodeid])

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            self.failed = report.nodeid


class _Substitute(MetaPathFinder):
    """Finds one module and gives it another code."""

    def __init__(self, module: str, path: Path, code: CodeType) -> None:
        self._module, self._path, self._code = module, path, code

    def find_spec(
        self, fullname: str, path: object = None, target: object = None
    ) -> ModuleSpec | None:
        if fullname != self._module:
            return None
        loader = _Loader(fullname, str(self._path))
        loader.code = self._code
        return importlib.util.spec_from_file_location(fullname, self._path, loader=loader)


class _Loader(SourceFileLoader):
    code: CodeType

    def get_code(self, fullname: str) -> CodeType:
        return self.code

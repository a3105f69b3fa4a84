"""How a run of the tests is divided between two processes, and what all tests share.

A whole run takes two workers, a few files one process; `-n 0` and `-n 2` say otherwise. The tests
of a file stay together, and so do those that share something dear, which is then made once a run.
"""

from __future__ import annotations

import gc
import os
from collections import Counter
from collections.abc import Generator
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
    from xdist.remote import Producer
    from xdist.scheduler import LoadScopeScheduling

# Before numpy is imported: matrices here are small, and threads that wait for each other took a
# third of the processor's time. What commands do by themselves.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Thousands of collected tests live to the end: looking through them again and again for rubbish
# took a good part of the processor's time.
gc.set_threshold(200_000, 50, 50)

WORKERS: Final = 2

TOGETHER: Final = {
    "tests/browser/": "one browser",
    "tests/printing/": "one set of printed pages",
}
"""What starts so goes to one worker, for what stands behind it."""

FIRST: Final = (
    "tests/browser/",
    "tests/printing/",
    "tests/docs/test_site.py",
    "tests/table/",
    "tests/fit/",
    "tests/batch/",
    "tests/hostile/",
    "tests/oracles/",
    "tests/draft/",
    "tests/form/",
    "tests/cli/",
    "tests/exports/",
    "tests/properties/",
)
"""Long ones: begun last, they would leave the other worker with nothing to do."""


FEW: Final = 2
"""Cases of one test that every run takes."""

ALL_CASES: Final = ("tests/oracles/", "tests/readings/")
"""Checks against what is known from outside are made whole."""


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Examples are in the docstrings of the code: looking for some in tests took seconds."""
    found = yield
    # Not of a class below it, as what looks for examples is.
    return [one for one in found if type(one) is pytest.Module]


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    """Two workers for the whole; starting them takes longer than a few files do."""
    option = config.option
    # pytest-cov has looked for workers before this: where it counts, the command line names them.
    alone = option.usepdb or getattr(option, "cov_source", None)
    whole = "tests" in config.args and not alone
    # Workers take the same arguments; without pytest-xdist there is no such option.
    if whole and not hasattr(config, "workerinput") and getattr(option, "numprocesses", 0) is None:
        option.numprocesses, option.dist = WORKERS, "loadscope"


def pytest_configure(config: pytest.Config) -> None:
    """Fewer examples where what is slow is left out as well."""
    from tests.support.examples import load_profile

    load_profile(whole="not slow" not in config.option.markexpr)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadScopeScheduling:
    """Hand out files, or what belongs together, in the order of `FIRST`."""
    from xdist.scheduler import LoadScopeScheduling

    class Units(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            for start, shared in TOGETHER.items():
                if nodeid.startswith(start):
                    return shared
            return nodeid.partition("::")[0]

    config.option.loadscopereorder = False
    return Units(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Bring the long ones to the front; of many cases a whole run leaves three of four to CI."""
    counts: Counter[str] = Counter()
    for item in items if "tests" in config.args else ():
        test = item.nodeid.partition("[")[0]
        counts[test] += 1
        if counts[test] > FEW and counts[test] % 4 and not item.nodeid.startswith(ALL_CASES):
            item.add_marker(pytest.mark.slow)

    def rank(item: pytest.Item) -> int:
        starts = (place for place, start in enumerate(FIRST) if item.nodeid.startswith(start))
        return next(starts, len(FIRST))

    items.sort(key=rank)

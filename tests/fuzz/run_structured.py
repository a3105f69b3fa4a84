"""Structures nearly right, by the thousand, in processes that are bounded; see README.md here.

python -m tests.fuzz.run_structured [--cases N] [--seed S] [--kind KIND] [--write]
"""

from __future__ import annotations

import argparse
import contextlib
import multiprocessing
import os
import resource
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Final

from .structured import KINDS, judge, kind_of

PAGE: Final = Path(__file__).parents[2] / "docs" / "reliability.md"
_BEGIN: Final = "<!-- remade by fuzz.run_structured -->"
_END: Final = "<!-- end -->"

MOST_S: Final = 10.0
"""Processor time of a case, of its two or three commands together."""

MOST_WAIT_S: Final = 300.0
"""By the clock, after which a case hangs."""

MOST_MIB: Final = 900
"""Memory of its own that a process may have, libraries included; the system refuses it more."""


@dataclass(frozen=True)
class Ended:
    """How a case ended: "whole", "refused" or "broken", with words, processor time and memory."""

    number: int
    verdict: str
    words: str = ""
    seconds: float = 0.0
    mib: float = 0.0


def carry_out(numbers: Sequence[int], seed: int) -> Iterator[Ended]:
    """Judge cases one after the other in a process that is renewed when it dies or hangs."""
    # Threads that wait for each other would count as processor time.
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    waiting = list(reversed(numbers))
    while waiting:
        ours, theirs = multiprocessing.get_context("spawn").Pipe()
        process = multiprocessing.get_context("spawn").Process(
            target=_work, args=(theirs, seed), daemon=True
        )
        process.start()
        theirs.close()
        with contextlib.suppress(BrokenPipeError), ours:
            while waiting:
                ours.send(waiting[-1])
                words = ""
                if not ours.poll(MOST_WAIT_S):
                    words = f"still at it after {MOST_WAIT_S:.0f} s"
                else:
                    try:
                        yield Ended(*ours.recv())
                    except EOFError:
                        words = "the process died"
                number = waiting.pop()
                if words:
                    yield Ended(number, "broken", words)
                    break
        process.kill()
        process.join()


def _work(pipe: Connection, seed: int) -> None:
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_MIB << 20, MOST_MIB << 20))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    os.chdir(folder)
    with contextlib.suppress(EOFError), contextlib.ExitStack() as ends:
        ends.callback(shutil.rmtree, folder, ignore_errors=True)
        while True:
            number = pipe.recv()
            pipe.send(_one(seed, number, folder / str(number)))


def _one(seed: int, number: int, folder: Path) -> tuple[int, str, str, float, float]:
    folder.mkdir()
    _forget_peak()
    begun, words = time.process_time(), ""
    try:
        verdict: str = judge(seed, number, folder)
    except BaseException:
        verdict, words = "broken", traceback.format_exc(limit=-6)
    seconds, mib = time.process_time() - begun, _peak()
    if seconds > MOST_S:
        verdict, words = "broken", f"took {seconds:.1f} s of processor time\n{words}"
    if verdict != "broken":
        shutil.rmtree(folder)
    return number, verdict, words.replace(str(folder), "."), seconds, mib


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def _peak() -> float:
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024.0 for line in lines if line[:6] == "VmHWM:"), 0.0)


def table(ended: Sequence[Ended]) -> str:
    """What came of each kind."""
    by_kind = defaultdict(list)
    for case in ended:
        by_kind[kind_of(case.number)].append(case)
    lines = [
        "| | cases | whole | refused | broken | most processor time | most memory |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, cases in [(name, by_kind[name]) for name in KINDS] + [("all", list(ended))]:
        count = Counter(case.verdict for case in cases)
        longest = max((case.seconds for case in cases), default=0.0)
        largest = max((case.mib for case in cases), default=0.0)
        lines.append(
            f"| {name} | {len(cases):,} | {count['whole']:,} | {count['refused']:,} | "
            f"{count['broken']:,} | {longest:.1f} s | {largest:.0f} MiB |"
        )
    return "\n".join(lines)


def main() -> int:
    """Carry cases out, print what came of them, and end with 1 if a promise is broken."""
    parser = argparse.ArgumentParser(prog="run_structured", description=__doc__)
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--kind", choices=KINDS, help="this kind alone")
    parser.add_argument("--write", action="store_true", help="the numbers into docs/reliability.md")
    options = parser.parse_args()
    numbers = [
        number
        for number in range(options.first, options.first + options.cases)
        if options.kind in (None, kind_of(number))
    ]
    ended = []
    for case in carry_out(numbers, options.seed):
        ended.append(case)
        if case.verdict == "broken":
            print(f"--- {kind_of(case.number)}, case {case.number}\n{case.words}", flush=True)
        elif case.seconds > 0.3 * MOST_S:
            print(f"--- slow: {kind_of(case.number)}, case {case.number}, {case.seconds:.1f} s")
    told = f"Seed {options.seed}:\n\n{table(ended)}"
    print(told)
    if options.write:
        head, _, rest = PAGE.read_text(encoding="utf-8").partition(_BEGIN)
        _, _, tail = rest.partition(_END)
        PAGE.write_text(f"{head}{_BEGIN}\n{told}\n{_END}{tail}", encoding="utf-8")
    return int(any(case.verdict == "broken" for case in ended))


if __name__ == "__main__":
    sys.exit(main())

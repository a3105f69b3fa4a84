"""Mutation score of every room; see README.md here.

python -m tests.mutation.run_mutation --touching FOLDER ... --results FILE [ROOM ...] [--write]
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import sys
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final, get_args

from .judging import Task, verdicts
from .mutants import Kind, Mutant, mutants
from .touched import Touched

HERE: Final = Path(__file__).resolve().parent
ROOT: Final = HERE.parents[1]
PAGE: Final = ROOT / "docs" / "reliability.md"
_BEGIN: Final = "<!-- remade by mutation.run_mutation -->"
_END: Final = "<!-- end -->"

EACH: Final = 20
"""Mutants judged of each room."""

MOST_S: Final = 20.0
"""Processor time of tests that are tried on a mutant: the cheapest of those that touch it."""


def main() -> int:
    """Judge a sample of every room and print the scores."""
    options = _options()
    os.chdir(ROOT)
    rooms = options.rooms or sorted(
        path.name for path in (ROOT / "panelshift").iterdir() if (path / "__init__.py").exists()
    )
    results: dict[str, list[str]] = {}
    if options.results.exists():
        results = json.loads(options.results.read_text(encoding="utf-8"))
    samples = {room: sample(room, options.each, options.past) for room in rooms}
    touched = Touched(options.touching, ROOT)
    tasks = []
    # Room by room in turn: a run that is stopped has judged some of each.
    for mutant in _in_turn(samples.values()):
        known = results.get(mutant.name, ["", ""])[0]
        if known in ("killed", "timed out") or (known and not options.again):
            continue
        task = _task(mutant, touched, options.seconds)
        if task[1]:
            tasks.append(task)
        else:
            results[mutant.name] = ["untouched", ""]
    for mutant, verdict, test in verdicts(ROOT, tasks, afresh=options.afresh):
        results[mutant.name] = [verdict, test]
        options.results.write_text(json.dumps(results, indent=1), encoding="utf-8")
        print(f"{verdict:10} {mutant.name}  {test}", flush=True)
    options.results.write_text(json.dumps(results, indent=1), encoding="utf-8")
    told = table(samples, {name: verdict for name, (verdict, _) in results.items()}, reasons())
    print(told)
    if options.write:
        head, _, rest = PAGE.read_text(encoding="utf-8").partition(_BEGIN)
        _, _, tail = rest.partition(_END)
        PAGE.write_text(f"{head}{_BEGIN}\n{told}\n{_END}{tail}", encoding="utf-8")
    return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="run_mutation", description=__doc__)
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help="folders of panelshift; else all")
    parser.add_argument(
        "--touching", type=Path, action="append", required=True, help="what `touching` wrote"
    )
    parser.add_argument("--results", type=Path, required=True, help="verdicts, kept between runs")
    parser.add_argument("--each", type=int, default=EACH, help="mutants of each room")
    parser.add_argument("--past", type=int, default=0, help="leave out so many, judged before")
    parser.add_argument("--seconds", type=float, default=MOST_S, help="of tests for a mutant")
    parser.add_argument("--again", action="store_true", help="judge what lived once more")
    parser.add_argument("--afresh", action="store_true", help="each in a process of its own")
    parser.add_argument("--write", action="store_true", help="the table into docs/reliability.md")
    options = parser.parse_args()
    options.results = options.results.resolve()
    options.touching = [folder.resolve() for folder in options.touching]
    return options


def sample(room: str, each: int, past: int = 0) -> list[Mutant]:
    """Mutants of a room: kinds in turn, within a kind by chance that no other fault changes.

    *past*: so many of the first are left out, for a score by faults that no test was written for.
    """
    kinds: defaultdict[str, list[Mutant]] = defaultdict(list)
    for path in sorted((ROOT / "panelshift" / room).rglob("*.py")):
        module = str(path.relative_to(ROOT))
        for mutant in mutants(module, path.read_text(encoding="utf-8")):
            kinds[mutant.kind].append(mutant)
    rows = [sorted(kinds[kind], key=lambda mutant: mutant.rank) for kind in get_args(Kind)]
    return list(_in_turn(rows))[past : past + each]


def _in_turn(rows: Iterator[Sequence[Mutant]] | Sequence[Sequence[Mutant]]) -> Iterator[Mutant]:
    listed = list(rows)
    for place in range(max(map(len, listed), default=0)):
        yield from (row[place] for row in listed if place < len(row))


def _task(mutant: Mutant, touched: Touched, most_s: float) -> Task:
    tests = touched.tests(mutant, ast.parse((ROOT / mutant.module).read_text(encoding="utf-8")))
    chosen, spent = [], 0.0
    for test in tests:
        if spent + touched.seconds[test] <= most_s or not chosen:
            chosen.append(test)
            spent += touched.seconds[test]
    return mutant, chosen, spent


def reasons() -> Mapping[str, str]:
    """Why a mutant is none: no input tells it from the code."""
    listed = tomllib.loads((HERE / "equivalent.toml").read_text(encoding="utf-8"))
    return {name: group["reason"] for group in listed.get("equal", []) for name in group["mutants"]}


def table(
    samples: Mapping[str, Sequence[Mutant]],
    verdict_of: Mapping[str, str],
    equal: Mapping[str, str],
) -> str:
    """Score of each room; what lived is named below it."""
    lines = ["| room | judged | equal | killed | score |", "| --- | --- | --- | --- | --- |"]
    total: Counter[str] = Counter()
    lived = []
    for room, chosen in samples.items():
        judged = [mutant for mutant in chosen if mutant.name in verdict_of]
        killed = [m for m in judged if verdict_of[m.name] in ("killed", "timed out")]
        same = [m for m in judged if m not in killed and m.name in equal]
        lived += [m for m in judged if m not in killed and m.name not in equal]
        count = Counter(judged=len(judged), equal=len(same), killed=len(killed))
        total += count
        lines.append(_row(room, count))
    lines.append(_row("all", total))
    print("\n".join(f"LIVES: {m.name} ({verdict_of[m.name]})" for m in lived))
    return "\n".join(lines)


def _row(room: str, count: Counter[str]) -> str:
    judged, equal, killed = count["judged"], count["equal"], count["killed"]
    score = 100.0 * killed / max(judged - equal, 1)
    return f"| `{room}` | {judged} | {equal} | {killed} | {score:.0f} % |"


if __name__ == "__main__":
    sys.exit(main())

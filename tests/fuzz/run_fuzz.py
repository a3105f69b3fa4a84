"""Coverage-guided fuzzing of the reader, the assembly and the job file; see README.md here.

python -m tests.fuzz.run_fuzz TARGET [WORKING_CORPUS] [libFuzzer options]
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent
TARGETS: Final = ("svg", "grammar", "job", "cut")

INSTRUMENTED: Final = ("panelshift", "tests.support", "tomllib")
"""Our own modules, and the one that parses job files: what the others do inside is theirs, and
watching it would slow every run."""


def main() -> None:
    """Hand the arguments on to libFuzzer, with the target's seeds and dictionary."""
    if len(sys.argv) < 2 or sys.argv[1] not in TARGETS:
        raise SystemExit(f"usage: run_fuzz {'|'.join(TARGETS)} [WORKING_CORPUS] [options]")
    import atheris

    with atheris.instrument_imports(include=[*INSTRUMENTED]):
        harness = importlib.import_module("tests.fuzz.harness")
    name, *rest = sys.argv[1:]
    seeds = [str(HERE / folder / name) for folder in ("corpus", "cases")]
    words = HERE / f"{name}.dict"
    options = [f"-dict={words}"] if words.exists() else []
    atheris.Setup([sys.argv[0], *options, *rest, *seeds], harness.TARGETS[name])
    atheris.Fuzz()


if __name__ == "__main__":
    main()

"""What the drawing program runs: the open drawing goes in, the same with all layers comes out.

It runs in the Python of the program, needs nothing but that, and calls panelshift in its own, as
``panelshift_layers.json`` beside it says.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path


def job_of(given: str, drawing: str) -> Path:
    """Return the job file: the one given, or the only one there that names the drawing.

    That of the drawing's own name is taken before others.
    """
    if given and Path(given).is_file():
        return Path(given)
    if not drawing:
        sys.exit("Save the drawing first: its job file lies beside it, or is chosen in the dialog.")
    own = Path(drawing).with_suffix(".toml")
    others = (path for path in sorted(own.parent.glob("*.toml")) if _names(path, Path(drawing)))
    there = [own] if own.is_file() else list(others)
    if len(there) != 1:
        what = "several job files of it lie" if there else "no job file of it lies"
        sys.exit(
            f"{own}: {what} beside the drawing. Choose one in the dialog, or write one with: "
            f"panelshift new {drawing}"
        )
    return there[0]


def _names(job: Path, drawing: Path) -> bool:
    """Whether a job file speaks of the drawing: another corset's job would give its layers."""
    return f'{drawing.name}"' in job.read_text(encoding="utf-8", errors="replace")


def main() -> None:
    """Write the drawing with its layers to standard output; say what is to be looked at."""
    parser = argparse.ArgumentParser()
    for name, usual in (("job", ""), ("pages", "false"), ("paper", "a4")):
        parser.add_argument(f"--{name}", default=usual)
    # The program names what is selected, too.
    asked, others = parser.parse_known_args()
    drawing = others[-1]
    command = json.loads(Path(__file__).with_suffix(".json").read_text(encoding="utf-8"))
    job = job_of(asked.job, os.environ.get("DOCUMENT_PATH", ""))
    # The program's own modules are none of panelshift's.
    around = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}

    def panelshift(*arguments: str) -> bytes:
        """Run a command, tell what is to be looked at, and return what it printed."""
        done = subprocess.run(
            [*command, *arguments, "--drawing", drawing, "--json"],
            capture_output=True,
            env=around,
            check=False,
        )
        try:
            told = json.loads(done.stderr if "-" in arguments else done.stdout)
        except ValueError:
            sys.exit(done.stderr.decode(errors="replace") or "panelshift gave no answer")
        if told["error"]:
            error = told["error"]
            place = ", ".join(part for part in (error["source"], error["element"]) if part)
            sys.exit(f"{place}: {error['problem']}\nWhat to do: {error['remedy']}")
        for said in told["look_at"]:
            print(f"Look at: {said['words']}", file=sys.stderr)
        return done.stdout

    drawn = panelshift("layers", str(job), "-")
    if asked.pages == "true":
        panelshift("tile", str(job), "--out", str(job.parent / "pages"), "--paper", asked.paper)
    sys.stdout.buffer.write(drawn)


if __name__ == "__main__":
    main()

"""Run the command line and look at what it leaves behind."""

from __future__ import annotations

import contextlib
import inspect
import io
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, TextIO

import click
import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from panelshift.cli import main

_APART: Final[dict[str, Any]] = (
    {"mix_stderr": False} if "mix_stderr" in inspect.signature(CliRunner).parameters else {}
)
"""Before version 8.2 click's runner makes one stream of standard output and error."""


_SCHEMAS: Final = Path(__file__).parents[2] / "docs" / "schemas"
OUTPUT: Final = Draft202012Validator(json.loads((_SCHEMAS / "output.json").read_bytes()))
"""What every command prints with ``--json``."""


def run(*arguments: str | Path, given: bytes | None = None) -> Result:
    """Run panelshift in this process; standard output and error are kept apart.

    *given*: what comes in by standard input.
    """
    runner = CliRunner(**_APART)
    return runner.invoke(main, [str(a) for a in arguments], given, prog_name="panelshift")


class Bar:
    """Stands for the bars of the commands, which no terminal shows here."""

    pos, length = 0, 0

    def __enter__(self) -> Bar:
        return self

    def __exit__(self, *how: object) -> None:
        pass

    def update(self, by: int) -> None:
        self.pos += by

    @classmethod
    def watched(cls, monkeypatch: pytest.MonkeyPatch) -> Bar:
        """The bar that the next command shows."""
        bar = cls()

        def begun(*, length: int, label: str, file: TextIO) -> Bar:
            assert label
            with contextlib.redirect_stderr(io.StringIO()) as heard:
                file.write(label)
            assert heard.getvalue() == label
            bar.pos, bar.length = 0, length
            return bar

        monkeypatch.setattr(click, "progressbar", begun)
        return bar


def answered(*arguments: str | Path, exits: int = 0, given: bytes | None = None) -> dict[str, Any]:
    """The object that a command prints with ``--json``, held against the published schema."""
    result = run(*arguments, "--json", given=given)
    assert result.exit_code == exits, (result.exit_code, result.output, result.exception)
    found: dict[str, Any] = json.loads(result.stdout)
    for fault in OUTPUT.iter_errors(found):
        raise AssertionError(f"{fault.json_path}: {fault.message:.500}")
    assert found["exit"] == exits
    return found


def process(
    *arguments: str | Path, env: Mapping[str, str] | None = None, folder: Path | None = None
) -> subprocess.CompletedProcess[str]:
    """Run ``python -m panelshift`` in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "panelshift", *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        errors="surrogateescape",
        env={**os.environ, **(env or {})},
        cwd=folder,
        timeout=60,
        check=False,
    )


def listing(folder: Path) -> dict[str, bytes | None]:
    """Every path below a folder with its content (None for directories).

    But for the index of a batch, which no file depends on and every run writes in.
    """
    return {
        str(path.relative_to(folder)): None if path.is_dir() else path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if not path.name.startswith(".panelshift-batch.sqlite")
    }


def refused(*arguments: str | Path, folder: Path) -> str:
    """Message of a run that must fail with exit code 2 and leave the folder as it was."""
    before = listing(folder)
    result = run(*arguments)
    assert result.exit_code == 2, (result.exit_code, result.output, result.exception)
    assert isinstance(result.exception, SystemExit), result.exception
    assert result.stdout == ""
    assert result.stderr.startswith("panelshift: ")
    assert "What to do: " in result.stderr
    assert "Traceback" not in result.stderr
    assert listing(folder) == before
    return result.stderr

"""Reads the pages of the documentation: their fenced blocks, and what these promise.

- ``python`` blocks of a page are run in order in one namespace; a ``text`` block that follows one
  is what it prints.
- ``console`` blocks hold commands after ``$`` and what they print; a line ``[...]`` stands for any
  number of lines.
- a comment ``<!-- file: NAME -->`` before a block says that the block is that file's content, and
  ``<!-- not run: WHY -->`` that it is not run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"

_FENCE = re.compile(r"^```(\w*)[^\n]*\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_NOTE = re.compile(r"<!-- (file|not run): (.+?) -->\s*\Z")


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, text and line, and the note that stands before it."""

    language: str
    text: str
    line: int
    start: int
    end: int
    note: str = ""
    value: str = ""


def blocks(page: Path) -> list[Block]:
    """All fenced blocks of a page."""
    text = page.read_text(encoding="utf-8")
    found = []
    for match in _FENCE.finditer(text):
        note = _NOTE.search(text[: match.start()])
        found.append(
            Block(
                match[1],
                match[2],
                text.count("\n", 0, match.start()) + 2,
                match.start(2),
                match.end(2),
                note[1] if note else "",
                note[2] if note else "",
            )
        )
    return found


def printed_by(page: Path) -> list[tuple[Block, Block | None]]:
    """Blocks of Python that are to be run, each with the block of its output."""
    text = page.read_text(encoding="utf-8")
    every = blocks(page)
    result = []
    for block, after in zip(every, [*every, None][1:], strict=True):
        if block.language != "python" or block.note == "not run":
            continue
        follows = after is not None and after.language == "text"
        between = text[block.end : after.start] if after else ""
        near = follows and not between.replace("```text", "").replace("```", "").strip()
        result.append((block, after if near else None))
    return result


def commands(block: Block) -> list[tuple[str, str]]:
    """The commands of a console block, each with what it is said to print."""
    parts = re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]
    return [(head, rest) for head, _, rest in (part.partition("\n") for part in parts)]


def is_shortened(printed: str, shown: str) -> bool:
    """Whether `shown` is `printed` with some lines replaced by ``[...]``."""
    parts = re.split(r"^\[\.\.\.\]\n", _plain(shown), flags=re.MULTILINE)
    pattern = r"(?:.*\n)*?".join(re.escape(part) for part in parts)
    return re.fullmatch(pattern, _plain(printed)) is not None


def _plain(text: str) -> str:
    return "".join(f"{line.rstrip()}\n" for line in text.strip("\n").splitlines())

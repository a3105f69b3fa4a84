"""A corpus of strange drawings, each with all that it reads as.

How each was made stands in its name. When a reading is meant to change, look at every line of the
difference for being right, and then refresh:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/readings
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.readings.asked import ASKED
from tests.readings.told import told, told_form
from tests.support.examples import thinned
from tests.support.golden import REFRESH

HERE: Final = Path(__file__).parent
DRAWINGS: Final = HERE / "drawings"
FORMS: Final = HERE / "forms"

NEAR: Final = 0.0201
"""Numbers have two decimals; another platform, or another numpy, may differ by one of the last."""

_NUMBER = re.compile(r"(?<![\w#])-?\d+(?:\.\d+)?|(?<=[MLCQ])-?\d+(?:\.\d+)?")

DRAFTS: Final = sorted(path.stem for path in DRAWINGS.iterdir())
BODIES: Final = sorted(path.stem for path in FORMS.iterdir())


def _draft(name: str) -> list[str]:
    (path,) = DRAWINGS.glob(f"{name}.*")
    return told(path.read_bytes(), ASKED.get(name))


def _form(name: str) -> list[str]:
    return told_form((FORMS / f"{name}.svg").read_bytes())


PAGES: Final = {
    "readings.txt": (DRAFTS, _draft),
    "forms.txt": (BODIES, _form),
}


def _known(page: str) -> dict[str, list[str]]:
    """The lines of a page by the name of what they are read from."""
    known: dict[str, list[str]] = {}
    for line in (HERE / page).read_text(encoding="utf-8").splitlines():
        if line.startswith("== "):
            known[line[3:]] = []
        else:
            known[next(reversed(known))].append(line)
    return known


def _refresh() -> None:
    for page, (names, read) in PAGES.items():
        lines = [line for name in names for line in (f"== {name}", *_lines(read(name)))]
        (HERE / page).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _lines(found: list[str]) -> list[str]:
    """As a file has them: no line is broken by what a drawing says."""
    return [line.replace("\n", "\\n").rstrip() for line in found]


if REFRESH:
    _refresh()

KNOWN: Final = {page: _known(page) for page in PAGES}


@pytest.mark.parametrize("name", thinned(DRAFTS))
def test_a_drawing_reads_as_it_is_known_to(name: str) -> None:
    differences = list(_differences(KNOWN["readings.txt"][name], _lines(_draft(name))))
    assert not differences, "\n".join(differences)


@pytest.mark.parametrize("name", thinned(BODIES))
def test_a_traced_body_measures_as_it_is_known_to(name: str) -> None:
    differences = list(_differences(KNOWN["forms.txt"][name], _lines(_form(name))))
    assert not differences, "\n".join(differences)


def test_every_entry_has_its_drawing() -> None:
    assert list(KNOWN["readings.txt"]) == DRAFTS
    assert list(KNOWN["forms.txt"]) == BODIES
    assert set(DRAFTS) >= set(ASKED)


def test_a_number_may_differ_by_its_last_digit_and_a_word_may_not() -> None:
    assert list(_differences(["a 2 at (1.00, -0.00)"], ["a 2 at (1.01, 0.01)"])) == []
    assert list(_differences(["M0,0L1.5,2"], ["M0,0L1.51,2Z"])) == [
        "- M0,0L1.5,2",
        "+ M0,0L1.51,2Z",
    ]
    assert list(_differences(["at 1.00", "b"], ["at 1.05", "b"])) == ["- at 1.00", "+ at 1.05"]
    assert list(_differences(["shape p1"], ["shape p2"])) == ["- shape p1", "+ shape p2"]


def _differences(known: list[str], found: list[str]) -> Iterator[str]:
    """Lines that differ, as a patch has them; those that are alike are told by what was known."""
    if len(known) == len(found):
        found = [a if _alike(a, b) else b for a, b in zip(known, found, strict=True)]
    for line in difflib.unified_diff(known, found, n=0, lineterm=""):
        if not line.startswith(("---", "+++", "@@")):
            yield f"{line[0]} {line[1:]}"


def _alike(a: str, b: str) -> bool:
    if a == b:
        return True
    if _NUMBER.split(a) != _NUMBER.split(b):
        return False
    pairs = zip(_NUMBER.findall(a), _NUMBER.findall(b), strict=True)
    return all(abs(float(x) - float(y)) <= NEAR for x, y in pairs)

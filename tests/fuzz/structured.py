"""Structures that are nearly right, given to the commands, and what must come of each.

A case is told by its kind, a seed and a number. What must hold: exit 0 with a whole set of files,
numbers that are finite, and `check` that does not refuse; or one refusal with exit 2 that names a
file and a remedy, and nothing written. A key that nothing knows is refused by its name, and a value
that is changed changes what is written or told, or the two runs say the same of it.
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
from lxml import etree

from panelshift.batch import BatchJob, Outcome, iter_table, read_table
from panelshift.body.form import FormErrors
from panelshift.body.support import Sections
from panelshift.cli import main
from panelshift.errors import PanelshiftError
from panelshift.form.section_file import MeasuredForm, section_file
from tests.support.batches import inline
from tests.support.drawings import half, svg
from tests.support.pdfs import POINTS, made

from .harness import BAD_NUMBER, BrokenError
from .plausible import base, drawn_job, drawn_table, holder, leaves, toml
from .spoiling import (
    Cells,
    encoded,
    spoilt_cells,
    spoilt_drawing,
    spoilt_text,
    spoilt_tree,
    spoilt_words,
    written,
)

Verdict = Literal["whole", "refused"]

LONGEST_MESSAGE: Final = 20_000
"""Letters: what a hundred faults need. A huge text in a file must not be told back."""


@dataclass(frozen=True)
class Run:
    """What a command came to."""

    code: int
    out: str
    err: str
    answer: Mapping[str, Any] | None


def run(*args: str) -> Run:
    """Run the command line in this process; anything but an exit code is a traceback."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8") for _ in range(2))
    code: Any = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            main.main(list(args), prog_name="panelshift")
        except SystemExit as end:
            code = end.code
    told, said = (stream.buffer.getvalue().decode() for stream in (out, err))  # type: ignore[attr-defined]
    answer = json.loads(told) if "--json" in args and told.startswith("{") else None
    return Run(code or 0, told, said, answer)


# -- what must hold ---------------------------------------------------------------------


def judged(run: Run, folder: Path, named: str = "") -> Verdict:
    """Hold one run of a command that writes into `out` against what must be."""
    out = folder / "out"
    there = sorted(path for path in out.rglob("*") if path.is_file() and path.name[0] != ".")
    if len(run.out) + len(run.err) > LONGEST_MESSAGE * (10 if run.code == 0 else 1):
        raise BrokenError(f"a message of {len(run.out) + len(run.err)} letters")
    if run.code == 2:
        _refusal(run, folder)
        if there or out.exists():
            raise BrokenError(f"refused, but {[path.name for path in there]} written")
        said = run.out + run.err
        # Of many faults those of the drawing wait for those of the job, and those for its TOML.
        waits = "faults" in said or "not a TOML file" in said
        if named and named not in said and ascii(named)[1:-1] not in said and not waits:
            raise BrokenError(f"refused without a word of {named!r}: {run.out}{run.err}")
        return "refused"
    if run.code != 0:
        raise BrokenError(f"exit {run.code}: {run.out[-500:]}{run.err[-500:]}")
    if named:
        raise BrokenError(f"{named!r} is silently ignored")
    if run.answer is not None and sorted(map(Path, run.answer["files"])) != there:
        raise BrokenError("the files that are told are not those that are there")
    for path in there:
        _whole_file(path)
    return "whole"


def _refusal(run: Run, folder: Path) -> None:
    if run.answer is not None:
        error = run.answer["error"] or {}
        parts = error.get("problem"), error.get("remedy"), error.get("source")
    else:
        head, _, remedy = run.err.partition("\n  What to do: ")
        parts = head, remedy, head
    if not all(parts):
        raise BrokenError(f"no refusal with file and remedy: {run.out}{run.err}")
    if str(folder) not in str(parts[2]) and "/dev/" not in str(parts[2]):
        raise BrokenError(f"the refusal names no file of the case: {run.out}{run.err}")


def _whole_file(path: Path) -> None:
    content = path.read_bytes()
    if path.suffix == ".svg":
        root = etree.fromstring(content)
        content = re.sub(rb"(?s)<(text|title|desc|metadata).*?</\1>", b"", content)
        # Names are makers' own words.
        content = re.sub(rb'\s(id|data-[\w-]+|aria-[\w-]+|[\w]+:[\w-]+)="[^"]*"', b"", content)
        if BAD_NUMBER.search(content):
            raise BrokenError(f"{path.name} holds a number that is not finite")
        if len(root) == 0:
            raise BrokenError(f"{path.name} is empty")
    if not content:
        raise BrokenError(f"{path.name} is empty")


def _check_agrees(job: Path, verdict: Verdict) -> None:
    found = run("check", str(job))
    if found.code not in (0, 1, 2) or (verdict == "whole" and found.code == 2):
        raise BrokenError(f"cut is {verdict}, check exits {found.code}: {found.err[-400:]}")
    if found.code == 2:
        _refusal(found, job.parent)


# -- what cases are made of -------------------------------------------------------------


@cache
def draft() -> bytes:
    """Three panels of a half, with levels, a grainline, a notch and a bone channel."""
    body = ""
    for panel in half(3):
        middle, y = panel.x + panel.waist / 2.0, panel.y
        body += (
            panel.panel() + panel.line("bust", 70.0, over=4.0) + panel.line("hip", -60.0, over=4.0)
        )
        body += f'<path id="grain {panel.name}" d="M{middle} {y - 60}V{y + 60}"/>'
        body += f'<path id="bone {panel.name}" d="M{middle - 9} {y - 118}V{y + 98}"/>'
        body += f'<text x="{middle - 8}" y="{y + 30}" font-size="6">{panel.name}</text>'
    return svg(body).encode()


@cache
def sections() -> bytes:
    """A section file of a plain body."""
    heights = np.linspace(-160.0, 180.0, 5)
    round_body = Sections.of_support(
        lambda psi: 42.0 + 6.0 * np.cos(2.0 * psi) + 0.0 * heights[:, None]
    )
    return section_file(
        MeasuredForm(heights, round_body, "scan", FormErrors(), names={"bust": 70.0})
    )


SWATCHES: Final[Cells] = [
    ["inner", "outer", "former_mm", "length_mm", "overhang_mm", "note"],
    ["coutille", "brocade", "80", "180", "4.1", ""],
    ["coutille", "brocade", "60", "180", "5.2", "by Ann"],
    ["coutille", "brocade", "100", "180", "3.4", ""],
]
_BONES: Final = ["coutille", "brocade", "80", "180", "4", "7", "1.5"]
BONED: Final[Cells] = [
    ["inner", "outer", "former", "length", "bones", "bone_width", "bone_thickness"]
    + ["flat_overhang", "overhang"],
    [*_BONES, "2.9", "6.0"],
    [*_BONES, "2.9", "5.6"],
    [*_BONES, "2.7", "5.8"],
]
PIECES: Final[Cells] = [
    ["test", "layer", "inner", "way", "before", "after", "short", "count"],
    ["quilting", "brocade", "", "girth", "200", "190", "", ""],
    ["give", "brocade", "", "girth", "300", "304", "", ""],
    ["channels", "coutille", "", "", "90", "88.5", "", "9"],
    ["fold", "brocade", "coutille", "", "", "", "3.1", "3"],
]
TABLE: Final[Cells] = [
    ["name", "pattern.lacing_gap", "stack.fabric.brocade.thickness", "sheet.client", "note"],
    ["Ann", "12.5", "0.7", "A. B.", ""],
    ["Bo B.", "1 in", "", "", "keeps the brocade"],
]


def _put(folder: Path, job: str | bytes) -> Path:
    """A folder with a job and all that it may name."""
    (folder / "draft.svg").write_bytes(draft())
    (folder / "sections.json").write_bytes(sections())
    (folder / "swatches.csv").write_text(written(random.Random(0), SWATCHES), encoding="utf-8")
    path = folder / "job.toml"
    path.write_bytes(job if isinstance(job, bytes) else job.encode())
    return path


def _cut(chance: random.Random, folder: Path, job: Path, named: str = "") -> Verdict:
    asked = ["--json"] if chance.random() < 0.5 else []
    asked += ["--dxf"] if chance.random() < 0.1 else []
    verdict = judged(run("cut", str(job), "--out", str(folder / "out"), *asked), folder, named)
    _check_agrees(job, verdict)
    return verdict


# -- the kinds --------------------------------------------------------------------------


def job(chance: random.Random, folder: Path) -> Verdict:
    """A job that could be right, then one or two things of it spoilt, or its text."""
    tree = drawn_job(chance, chance.choice((0, 1, 2, 4, 8)))
    named = ""
    if chance.random() < 0.8:
        # A third stays as it is: together keys may say what none says alone.
        for _ in range(chance.choice((0, 0, 1, 1, 1, 2))):
            if not leaves(tree):
                break
            found = spoilt_tree(chance, tree)
            # One name that is surely wrong is enough: the next fault may drop it.
            tree, named = found.tree, found.named if not named else ""
        if named and named in toml(tree) and named.isascii():
            text = toml(tree)
        else:
            text, named = toml(tree), ""
    else:
        text = spoilt_text(chance, toml(tree)).tree
    if _FREE.search(named):
        named = ""
    raw = encoded(chance, text) if not named else text.encode()
    return _cut(chance, folder, _put(folder, raw), named)


_FREE: Final = re.compile(r"^[+-]?[0-9]")


def changed(chance: random.Random, folder: Path) -> Verdict:
    """A right job, then one value of it another: what is written or told must be other as well."""
    tree = drawn_job(chance, chance.choice((1, 2, 3)))
    path = _put(folder, toml(tree))
    first = run("cut", str(path), "--out", str(folder / "out"))
    before = _written(folder)
    if first.code != 0:
        return judged(first, folder)
    place, value = chance.choice(leaves(tree))
    other = _other(chance, value)
    if other is None or _idle(place):
        return "whole"
    holder(tree, place)[place[-1]] = other
    _put(folder, toml(tree))
    second = run("cut", str(path), "--out", str(folder / "out"), "--overwrite")
    if second.code == 2:
        return "refused"
    if (first.out, before) == (second.out, _written(folder)):
        raise BrokenError(f"{'.'.join(map(str, place))} = {other!r} for {value!r} changes nothing")
    return "whole"


def _written(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (folder / "out").glob("*.*")}


def _other(chance: random.Random, value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * chance.choice((1.5, 0.5)) if value else 3.0
    return None


IDLE: Final[Mapping[str, str]] = {
    "fit": "of the fit sheet alone",
    "extras": "cut only where other keys ask for it",
    "record": "shown only where it is asked for",
}
"""Tables whose keys need not change what `cut` writes, and why."""

_IDLE_KEYS: Final = frozenset(
    # Layouts of cloth, on the fit sheet:
    ("cloth_widths", "nap", "folded", "shrinkage", "shrinkage_width", "spare", "give")
    # What is not known, on the fit sheet:
    + ("thickness_uncertainty", "loft_uncertainty", "coverage_uncertainty", "take_up_uncertainty")
    + ("fold_factor_uncertainty", "standing_uncertainty", "error", "stretch")
    # On printed pages alone; where lines have gaps alone:
    + ("strip", "join_tolerance")
)


def _idle(place: tuple[str | int, ...]) -> bool:
    return place[0] in IDLE or not _IDLE_KEYS.isdisjoint(place)


def table(chance: random.Random, folder: Path) -> Verdict:
    """A table of clients; every job is whole, or failed by name with nothing written.

    A row that says what the job says already is cut as the job is.
    """
    tree, cells, named = base(), TABLE, ""
    same = chance.random() < 0.6
    if same:
        tree, cells = drawn_table(chance)
    for _ in range(chance.choice((0, 1, 1, 2) if not same else (0, 0, 1))):
        found = spoilt_cells(chance, cells)
        cells, named, same = found.tree, found.named if not named else "", False
    main_job = _put(folder, toml(tree))
    text = written(chance, cells)
    (folder / "clients.csv").write_bytes(text.encode() if same else encoded(chance, text))
    out = folder / "out"
    try:
        if chance.random() < 0.6:
            jobs = list(read_table(folder / "clients.csv", main_job).jobs)
        else:
            jobs = list(iter_table(folder / "clients.csv", main_job))
        outcomes = inline(jobs, out, summary=True)
    except PanelshiftError as error:
        told = Run(2, "", f"panelshift: {error}\n", None)
        return judged(told, folder)
    if named and named in cells[0] and named.strip().lower() not in ("name", "note"):
        raise BrokenError(f"the column {named!r} is silently ignored")
    for outcome in outcomes:
        failed = outcome.status == "failed"
        if failed != bool(outcome.error) or failed == bool(outcome.files):
            raise BrokenError(
                f"{outcome.name} is {outcome.status}, with {len(outcome.files)} files"
            )
        for path in outcome.files:
            _whole_file(Path(path))
    if same:
        (plain,) = inline([BatchJob("Ann", main_job)], folder / "plain")
        if plain.status != outcomes[0].status or _digests(plain) != _digests(outcomes[0]):
            raise BrokenError(f"{cells[:2]} is not cut as the job is: {plain} {outcomes[0]}")
    return "whole" if all(outcome.status == "done" for outcome in outcomes) else "refused"


def _digests(outcome: Outcome) -> list[tuple[str, str]]:
    return sorted((Path(path).name, digest) for path, digest in outcome.files.items())


def swatch(chance: random.Random, folder: Path) -> Verdict:
    """A file of readings, by the command, or by a job that names it."""
    cells, named = chance.choice((SWATCHES, SWATCHES, BONED, PIECES)), ""
    in_job = chance.random() < 0.3
    for _ in range(chance.choice((0, 1, 1, 2))):
        found = spoilt_cells(chance, cells)
        cells, named = found.tree, found.named if not named else ""
    tree = base()
    if in_job:
        tree["stack"]["swatches"] = "swatches.csv"
    path = _put(folder, toml(tree))
    text = written(chance, cells)
    (folder / "swatches.csv").write_bytes(encoded(chance, text))
    if in_job:
        return _cut(chance, folder, path)
    asked = ["--json"] if chance.random() < 0.5 else []
    found_run = run("swatch", "--csv", str(folder / "swatches.csv"), "--job", str(path), *asked)
    if found_run.code == 0 and re.search(r"\b(nan|inf)\b", found_run.out):
        raise BrokenError(f"a number that is not finite: {found_run.out}")
    known = named if named in cells[0] and not re.search(r"(^|[_ (])(mm|cm|in)\)?$", named) else ""
    return judged(found_run, folder, known if not re.search("[éq]", known) else "")


def section(chance: random.Random, folder: Path) -> Verdict:
    """A job of a measured body whose section file is spoilt."""
    tree = base()
    tree["body"] = {"model": "form", "file": "sections.json"}
    path = _put(folder, toml(tree))
    if chance.random() < 0.5:
        data = json.loads(sections())
        for _ in range(chance.choice((1, 1, 2))):
            data = spoilt_tree(chance, data).tree
        text = json.dumps(data, default=str)
    else:
        text = spoilt_words(chance, sections().decode(), ",").tree
    (folder / "sections.json").write_bytes(encoded(chance, text))
    return _cut(chance, folder, path)


def drawing(chance: random.Random, folder: Path) -> Verdict:
    """A job whose drawing is spoilt."""
    path = _put(folder, toml(base()))
    content = draft()
    for _ in range(chance.choice((1, 1, 2, 4))):
        content = spoilt_drawing(chance, content).tree
    (folder / "draft.svg").write_bytes(content)
    return _cut(chance, folder, path)


def _other_drawing(chance: random.Random, folder: Path, name: str, content: bytes) -> Verdict:
    tree = base()
    tree["pattern"]["file"] = name
    path = _put(folder, toml(tree))
    (folder / name).write_bytes(content)
    return _cut(chance, folder, path)


def pdf(chance: random.Random, folder: Path) -> Verdict:
    """A job whose drawing is a PDF with operators spoilt."""
    content = page()
    for _ in range(chance.choice((0, 1, 1, 2))):
        content = spoilt_words(chance, content).tree
    raw = made([content.replace("\x00", "")], (400.0, 400.0))
    if chance.random() < 0.2:
        raw = spoilt_words(chance, raw.decode("latin-1"), "\n").tree.encode("latin-1", "replace")
    return _other_drawing(chance, folder, "draft.pdf", raw)


def _lines() -> Iterator[etree._Element]:
    """Outlines and waistlines: where nothing has a name, further lines are asked about."""
    paths = etree.fromstring(draft()).iter("{*}path")
    return (path for path in paths if path.get("id", "").partition(" ")[0] in ("panel", "waist"))


@cache
def page() -> str:
    """The draft as operators of a PDF's page."""
    scale = POINTS
    words = [f"{scale:.6f} 0 0 {-scale:.6f} 0 {400.0 * scale:.6f} cm 0.3 w"]
    for element in _lines():
        steps = re.findall(r"([MLCHVZ])([^MLCHVZ]*)", element.get("d", ""))
        x = y = "0"
        for letter, numbers in steps:
            parts = numbers.split()
            if letter == "H":
                parts = [parts[0], y]
            elif letter == "V":
                parts = [x, parts[0]]
            if parts:
                x, y = parts[-2:]
            words += [*parts, {"M": "m", "C": "c", "Z": "h"}.get(letter, "l")]
        words.append("S")
    return " ".join(words)


def dxf(chance: random.Random, folder: Path) -> Verdict:
    """A job whose drawing is a DXF with records spoilt."""
    text = dxf_text()
    for _ in range(chance.choice((0, 1, 1, 2))):
        text = spoilt_words(chance, text, "\n").tree
    return _other_drawing(chance, folder, "draft.dxf", text.encode("utf-8", "replace"))


@cache
def dxf_text() -> str:
    """The draft as a DXF of release 12: polylines alone."""
    lines = ["0", "SECTION", "2", "ENTITIES"]
    for element in _lines():
        ends = []
        for letter, numbers in re.findall(r"([MLCHV])([^MLCHVZ]*)", element.get("d", "")):
            parts = list(map(float, numbers.split()))
            if letter in "HV":
                parts = [parts[0], -ends[-1][1]] if letter == "H" else [ends[-1][0], parts[0]]
            ends.append((parts[-2], -parts[-1]))
        closed = "Z" in element.get("d", "")
        lines += ["0", "POLYLINE", "8", element.get("id", "0"), "66", "1", "70", str(int(closed))]
        for x, y in ends[: -1 if closed and ends[0] == ends[-1] else None]:
            lines += ["0", "VERTEX", "8", "0", "10", str(x), "20", str(y)]
        lines += ["0", "SEQEND"]
    return "\n".join([*lines, "0", "ENDSEC", "0", "EOF", ""])


def traced(chance: random.Random, folder: Path) -> Verdict:
    """A body traced as curves, spoilt, for `panelshift form`."""
    content = body()
    for _ in range(chance.choice((0, 1, 1, 2))):
        content = spoilt_drawing(chance, content).tree
    (folder / "body.svg").write_bytes(content)
    asked = ["--json"] if chance.random() < 0.5 else []
    return judged(
        run("form", str(folder / "body.svg"), "--out", str(folder / "out"), *asked), folder
    )


@cache
def body() -> bytes:
    """Three ellipses traced at their heights, each with its plumb line and its front marked."""
    rings = ""
    for k, (name, a, b) in enumerate(
        (("waist", 120, 95), ("bust 150", 150, 120), ("hip -200", 165, 130))
    ):
        x = 250 + 400 * k
        rings += (
            f'<g aria-label="{name}"><ellipse cx="{x}" cy="300" rx="{a}" ry="{b}"/>'
            f'<circle id="plumb{k}" cx="{x}" cy="300" r="2"/>'
            f'<circle id="cf{k}" cx="{x}" cy="{300 - b}" r="2"/></g>'
        )
    return svg(rings, size=(1400.0, 600.0)).encode()


KINDS: Final[Mapping[str, tuple[Callable[[random.Random, Path], Verdict], int]]] = {
    "job files": (job, 6),
    "values changed": (changed, 2),
    "tables of clients": (table, 3),
    "swatch files": (swatch, 4),
    "section files": (section, 2),
    "drawings, SVG": (drawing, 4),
    "drawings, PDF": (pdf, 2),
    "drawings, DXF": (dxf, 2),
    "traced bodies": (traced, 1),
}
"""What each kind is called, what makes and judges a case of it, and its share of all."""


def kind_of(number: int) -> str:
    """The kind of a case by its number: all kinds in turn, by their shares."""
    row = [name for name, (_, share) in KINDS.items() for _ in range(share)]
    # A prime that shares no divisor with the length spreads them evenly.
    return row[number * 7 % len(row)]


def judge(seed: int, number: int, folder: Path) -> Verdict:
    """Make and judge one case in an empty folder.

    Raises `BrokenError`, or whatever the code lets through, if a promise is broken.
    """
    work, _ = KINDS[kind_of(number)]
    return work(random.Random(f"{seed} {number}"), folder)

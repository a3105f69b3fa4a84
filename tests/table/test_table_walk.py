"""Walks through whole jobs on the page: every answer, as what it changes of the one before it.

Each request is the one that a control of the page sends. A walk tells of the first page all of it,
and then only pieces that are other than on the last answer of that kind: so nothing on the page
goes by unseen. When it is meant to change, look at what is new and then refresh it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest -m "" tests/table/test_table_walk.py
"""

from __future__ import annotations

import difflib
import io
import json
import re
import shutil
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import httpx
import numpy as np
import pytest

from panelshift.table.server import HEADERS
from tests.support.drawings import half, panels, path, svg, text
from tests.support.golden import changes, equipped_job
from tests.support.pdfs import made as pdf
from tests.support.runs import SAMPLES

from .client import ORIGIN, Table
from .test_table_edits import _BONES, _SHELL, _STRIP
from .test_table_mending import GAP, other_word, two_sizes

pytestmark = pytest.mark.slow

Step = tuple[str, str, dict[str, str]]
"""Method, path, and the fields of its form."""


def get(address: str) -> Step:
    return "GET", address, {}


def post(address: str, **fields: str) -> Step:
    return "POST", address, fields


def edit(edited: str, **fields: str) -> Step:
    return post(f"/edit/{edited}", **fields)


def setting(place: str, value: str) -> Step:
    return edit("setting", place=place, value=value)


def sewing(place: Sequence[object], kind: str, value: str) -> Step:
    form = {"place": json.dumps(place), "kind": kind, "label": "a field", "value": value}
    return edit("sewing", **form)


def sew(table: str, kinds: dict[str, str], **values: str) -> Step:
    return edit("sew", table=table, kinds=json.dumps(kinds), **values)


class Walk:
    """Answers of one table, told by what is other than before."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self._before: dict[str, list[str]] = {}

    def told(self, step: Step, files: Any = None) -> Iterator[str]:
        method, address, fields = step
        said = ", ".join(f"{key} = {value!r}" for key, value in fields.items())
        yield f"== {method} {address} {said}"
        headers = self.table._headers()
        if method == "POST":
            headers |= {"origin": ORIGIN, "hx-request": "true", "hx-trigger": "field"}
            data = {"revision": self.table.revision, **fields}
            answer = self.table.ask("POST", address, data=data, headers=headers, files=files)
        else:
            answer = self.table.ask("GET", address, headers=headers)
        yield f"{answer.status_code} {self._headers(answer)}"
        # Every change is answered with the page, unless there is nothing of that name.
        page = address in ("/", "/work", "/paper") or method == "POST"
        page = page and answer.status_code == 200
        yield from self._body(answer, "page" if page else address.partition("?")[0])

    def _headers(self, answer: httpx.Response) -> str:
        """Those that are not the same for every answer."""
        own = {k: v for k, v in answer.headers.items() if HEADERS.get(k) != v}
        own.pop("content-length", None)
        missing = sorted(set(HEADERS) - set(answer.headers))
        return f"{sorted(own.items())} without {missing}"

    def _body(self, answer: httpx.Response, kind: str) -> Iterator[str]:
        form = answer.headers.get("content-type", "")
        if form.startswith("application/zip"):
            with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
                yield f"zip of {', '.join(archive.namelist())}"
        elif form.startswith("application/json"):
            yield f"JSON {_brief(answer.json())}"
        elif form.startswith(("text/", "image/svg")):
            words = answer.text.replace(str(self.table.folder), "FOLDER")
            words = re.sub(r"[0-9a-f]{16,}(-[0-9a-f]{8})?", "HASH", words)
            words = _COLOUR.sub(_parts, _LONG.sub(_means, words))
            pieces = words.replace("<", "\n<").replace(">", ">\n").splitlines()
            lines = [line for line in (" ".join(piece.split()) for piece in pieces) if line]
            before, self._before[kind] = self._before.get(kind, []), lines
            for line in difflib.unified_diff(before, lines, n=0, lineterm=""):
                # What has gone was told; ends of elements say nothing by themselves.
                if line[0] == "+" and line[:3] != "+++" and not line.startswith("+</"):
                    yield line[1:]
        elif answer.content:
            yield f"{form} that begins with {answer.content[:5]!r}"


_LONG: Final = re.compile(r'(?<= )(d|points)="([^"]{160,})"')
_NUMBER: Final = re.compile(r"-?\d+(?:\.\d+)?")


def _means(found: re.Match[str]) -> str:
    """Long lines by their letters, and how many numbers they have, with means of them."""
    letters = re.sub("[^A-Za-z]", "", found[2])
    runs = re.sub(r"(\w)\1+", lambda run: f"{run[1]}{len(run[0])}", letters)
    return f'{found[1]}="{runs} {_mean([float(x) for x in _NUMBER.findall(found[2])])}"'


_COLOUR: Final = re.compile(r"(?<=[\"' ])#([0-9a-f]{6})\b")


def _parts(found: re.Match[str]) -> str:
    """Red, green and blue as thousandths, of which one more or less is rounding."""
    return " ".join(f"{part / 1000.0:.3f}" for part in bytes.fromhex(found[1]))


def _mean(numbers: Sequence[float]) -> str:
    flat = np.array(numbers)
    ramp = np.cos(np.arange(len(flat)))
    means = (flat.mean(), np.abs(flat).mean(), (flat * ramp).mean())
    return f"{len(flat)} of {' '.join(f'{mean + 0.0:.3f}' for mean in means)}"


def _brief(value: Any) -> Any:
    """JSON with long rows of numbers by their means."""
    if isinstance(value, dict):
        return {key: _brief(item) for key, item in value.items()}
    if isinstance(value, list):
        if len(value) > 12 and not isinstance(value[0], dict):
            return _mean(np.ravel(np.array(value, dtype=float)).tolist())
        return [_brief(item) for item in value]
    return value


ALL: Final = (
    get("/look?look=overlay"),
    get("/look?look=overlay&panel=1&layer=coutille&enlarged=5&part=50"),
    get("/look/overlay?panel=9&layer=none&enlarged=4&part=400"),
    get("/look?look=solid"),
    get("/look/solid?layer=brocade&by=class&lift=9&aside=-40&above=60"),
    get("/look/solid?by=strain&lift=0&aside=999&above=-99"),
    get("/look?look=wrap&wrapped=40&cut=70"),
    get("/look/wrap?level=none&wrapped=0&cut=100"),
    get("/look/none"),
    get("/look?look=against"),
    get("/tables"),
    get("/solid.json"),
    get("/solid.svg?by=growth&layer=lining"),
    get("/card.svg?named=1"),
    get("/card.svg"),
)

SEWN: Final = (
    get("/"),
    *ALL,
    get("/section?section=waist"),
    get("/section?section=none"),
    get("/strips.pdf?of=bones"),
    get("/strips.pdf?of=none"),
    get("/tried?readings="),
    get("/tried?readings=test,layer,way,before,after%0Aquilting,brocade,girth,200,190"),
    get("/tried?readings=nothing"),
    setting("pattern.units", "in"),
    get("/look?look=wrap"),
    get("/look?look=solid"),
    get("/tables"),
    edit("fabric", fabric="brocade", key="thickness", value="2"),
    edit("fabric", fabric="brocade", key="coverage", value="40 %"),
    edit("fabric", fabric="brocade", key="thickness", value="thick"),
    setting("pattern.units", "mm"),
    sewing(["construction", "top"], "choice", "bound"),
    sewing(["construction", "lacing"], "number", "3"),
    sewing(["stack", "fabric", 0, "stretch"], "share", "1,2 %"),
    sewing(["stack", "fabric", 0, "from"], "height", "-40 mm"),
    sew("shell", _SHELL, layers="lining\ncoutille", seams="open", graded="8, 5"),
    sew("bones", _BONES, on="coutille", width="7", thickness="1.5", bends="yes"),
    sew("strip", _STRIP, on="", width="25", thickness="0.4", edge="centre_front"),
    get("/tables"),
    edit("body", model="section", ratio="1,3"),
    edit("girth", level="waist", value="300"),
    edit("body", model="tapes", level="waist", breadth="90", depth="7 cm"),
    get("/section?section=waist"),
    edit("body", model="classes"),
    edit("alter", seam="panel 1 to panel 2", way="let_out", whole="6"),
    edit("alter", edge="top", way="raise", **{"at centre front": "8", "at centre back": "0"}),
    get("/look?look=overlay"),
    edit("unalter", place="1"),
    edit("reading", inner="coutille", outer="brocade", former="80", length="180", overhang="9"),
    edit("reading", inner="coutille", outer="brocade", former="80", length="18", overhang="9"),
    edit("unread", place="0"),
    post("/job/keep"),
    edit("fabric", fabric="lining", key="thickness", value="0.9"),
    get("/look?look=against"),
    get("/look/against?layer=lining&panel=2"),
    post("/job/back"),
    post("/job/forget"),
    post("/undo"),
    post("/redo"),
    post("/redo"),
    get("/pulse?mark=none"),
    get("/parcel.zip?part=cut&part=job"),
    get("/parcel.zip"),
    get("/parcel.zip?part=pages&paper=none"),
    get("/parcel/none"),
    post("/job/redraft", name="second"),
    edit("remove", fabric="coutille"),
    get("/look?look=overlay"),
    post("/job/copy", name="third"),
    get("/jobs"),
    post("/open", name="job.toml"),
    post("/open", name="nothing.toml"),
    post("/job/none"),
    edit("text", text="[pattern"),
    get("/help/"),
    get("/help/none"),
    get("/help/figures/none"),
    post("/job/new"),
    get("/section"),
    get("/look"),
    get("/solid.svg"),
    get("/parcel.zip?part=cut"),
)


def test_a_walk_through_an_equipped_job_is_as_it_was_looked_over(tmp_path: Path) -> None:
    table = Table(tmp_path, equipped_job(tmp_path).name)
    walk = Walk(table)
    told = [line for step in SEWN for line in walk.told(step)]
    assert changes("walk-equipped.txt", "\n".join(told)) == []


def test_a_walk_through_the_sewn_sample_is_as_it_was_looked_over(tmp_path: Path) -> None:
    for name in ("hourglass.svg", "hourglass_sewn.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    walk = Walk(Table(tmp_path, "hourglass_sewn.toml"))
    steps = (
        get("/look?look=solid"),
        get("/look/wrap?level=hip"),
        get("/look/overlay"),
        get("/tables"),
        get("/section?section=hip"),
        edit("body", model="mean"),
        get("/tables"),
        get("/section?section=hip"),
        get("/look/wrap?level=hip"),
    )
    told = [line for step in steps for line in walk.told(step)]
    assert changes("walk-sample.txt", "\n".join(told)) == []


ONE, TWO = half(2)
DROPPED: Final = {
    "draft.svg": svg(panels((ONE, TWO)) + path("M0 260H300", "hip") + text("ease", 70, 230)),
    "gap.svg": GAP,
    "word.svg": other_word(),
    "sizes.svg": two_sizes(),
    "open.svg": svg(ONE.pieces(9.0) + TWO.panel() + ONE.line()),
    "none.svg": svg(text("no lines", 10, 10)),
    "no.svg": "<svg",
    "pages.pdf": pdf(["10 10 m 200 10 l S", "10 20 m 300 20 l 300 400 l S"]),
    "photo.jpg": b"\xff\xd8\xff\xe0" + bytes(40),
}
MENDING: Final = {
    "gap.svg": (edit("mend", key="join_tolerance", value="0.8"),),
    "sizes.svg": (edit("mend", key="size", value="outermost"),),
    "pages.pdf": (edit("mend", key="page", value="2"),),
}


def test_drafts_that_are_dropped_are_shown_as_it_was_looked_over(tmp_path: Path) -> None:
    walk = Walk(Table(tmp_path))
    told = list(walk.told(get("/")))
    for name, content in DROPPED.items():
        raw = content if isinstance(content, bytes) else content.encode()
        told.append(f"== {name}")
        told += walk.told(post("/pattern"), {"pattern": (name, raw, "image/svg+xml")})
        for step in MENDING.get(name, ()):
            told += walk.told(step)
    told += walk.told(post("/pattern"))
    told += walk.told(post("/undo"))
    told.append(", ".join(sorted(file.name for file in tmp_path.iterdir())))
    assert changes("walk-dropped.txt", "\n".join(told)) == []

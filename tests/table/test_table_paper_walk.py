"""A walk through the tracing of a draft on paper: every answer of the page, as what it changes.

What came of a tracing is given here, so that the page's own part is all there is to it. Refresh it
as tests/table/test_table_walk.py.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any, Final

import pytest
from PIL import Image

from panelshift.table import paper_desk
from panelshift.table.paper_work import HOME
from tests.support.drawings import half, panels, svg
from tests.support.golden import changes

from .client import Table
from .test_table_walk import Step, Walk, get, post

pytest.importorskip("cv2")

pytestmark = pytest.mark.slow


def _spot(kind: str, x: float, y: float, words: str, remedy: str = "") -> dict[str, Any]:
    return {"kind": kind, "place": [x, y], "words": words, "remedy": remedy}


def _panel(mark: str, x: float, **more: Any) -> dict[str, Any]:
    plain = {
        "mark": mark,
        "inside": [x + 20.123, 60.456],
        "pointed": [],
        "size": [41.26, 219.94],
        "gore": False,
        "waist": "40.1",
        "lines": [[x + 20.26, 99.94], [x + 20.04, 150.0]],
        "path": f"M{x},20L{x + 40},20L{x + 40},220L{x},220Z",
    }
    return plain | more


TRACED: Final = {
    "size": [301.26, 240.04],
    "trusted": ["strip A is 0.2 mm off", "lines lie within 0.1 mm"],
    "spots": [
        _spot("line", 10.0, 90.0, "a line was struck out"),
        _spot("line", 299.0, 239.0, "a line of about 30 mm (--strike 299 239)", "Strike it out."),
        _spot("gap", 100.04, 2.0, "an outline is open", "Draw it through (--scan)."),
        _spot("panel", -5.0, 500.0, "a gap was closed"),
    ],
    "panels": [
        _panel("aa", 20.0),
        _panel("bb", 80.0, waist=None, lines=[]),
        _panel("cc", 140.0, gore=True, pointed=[[[150.0, 60.0], [170.0, 61.0]]]),
    ],
}
GOOD: Final = TRACED | {"spots": TRACED["spots"][:1], "panels": TRACED["panels"][:1]}
REFUSED: Final = {
    "refused": {"problem": "no strip (--cards) is seen", "remedy": "Lay some.", "source": "a.jpg"}
}


def _photo(shade: int, kind: str = "PNG") -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), (shade, shade, shade)).save(stream, kind)
    return stream.getvalue()


def test_a_walk_through_a_tracing_is_as_it_was_looked_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    comes: list[dict[str, Any]] = [TRACED]

    def start(desk: paper_desk.PaperDesk) -> None:
        keys = {"key": desk.wish.key, "seen_key": desk.wish.seen_key}
        desk._outcome = comes[-1] | keys

    monkeypatch.setattr(paper_desk.PaperDesk, "_start", start)
    table = Table(tmp_path)
    walk, desk = Walk(table), table.session.paper
    given = [("photos", (f"{n}.png", _photo(20 * n), "image/png")) for n in (1, 2, 3)]
    told = list(walk.told(get("/")))
    told += walk.told(post("/photos"), given)
    told += walk.told(post("/photos"), given[:1])
    told += walk.told(post("/photos"))
    told += walk.told(post("/photos"), [("photos", ("x.png", b"none", "image/png"))])

    def go(*steps: Step) -> None:
        for step in steps:
            told.extend(walk.told(step))
            told.append(f"wished: {desk.wish}")

    length = {"length": "A to D 612.5 mm\n B to E 24 in "}
    place = {"x": "5,5", "y": "1 cm"}
    go(
        post("/paper/trace", length="A to D"),
        post("/paper/trace", length="A to D 300 mm"),
        post("/paper/trace", **length, scaled="yes"),
        post("/paper/trace", **length, scans="yes"),
        get("/paper"),
        get("/paper/picture.png"),
        post("/paper/strike", **place),
        post("/paper/strike", x="wide", y="1"),
        post("/paper/waist", mark="bb", **place),
        post("/paper/waist", mark="cc", **place, x2="70", y2="8"),
        post("/paper/gore", mark="bb"),
        post("/paper/leave", mark="cc"),
        post("/paper/leave", mark="dd"),
        post("/paper/approve", mark="aa", value="yes"),
        post("/paper/approve", mark="bb", value="yes"),
        post("/paper/approve", mark="bb"),
        post("/paper/back", kind="waists", number="0"),
        post("/paper/back", kind="struck", number="4"),
        post("/paper/back", kind="nothing", number="0"),
        post("/paper/use"),
        post("/paper/none"),
        get("/cards.pdf?paper=letter"),
    )
    comes.append(REFUSED)
    go(post("/paper/back", kind="struck", number="0"))
    comes.append(GOOD)
    go(post("/paper/trace", **length), post("/paper/approve", mark="aa", value="yes"))
    (tmp_path / HOME / "drawing.svg").write_text(svg(panels(half(2))))
    go(post("/paper/use"), get("/work"))
    go(post("/paper/remove", name=desk.wish.photos[0][0]), post("/paper/stop"))
    told.append(", ".join(sorted(p.name for p in (tmp_path / HOME).iterdir())))
    go(post("/paper/discard"))
    told.append(", ".join(sorted(p.name for p in tmp_path.rglob("*"))))
    found = re.sub(r"(?<=\d-)[0-9a-f]{4}(?=\.png)", "MARK", "\n".join(told))
    assert changes("walk-paper.txt", re.sub("[0-9a-f]{16,}", "HASH", found)) == []

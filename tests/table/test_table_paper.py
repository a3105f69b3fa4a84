"""A draft on paper by photographs: taken in, traced, pointed at, approved, and then the draft."""

from __future__ import annotations

import io
import json
import re
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from panelshift.errors import PhotoError
from panelshift.outline import Curve
from panelshift.sources.paper.doubts import Doubts, refuse_unmeasured
from panelshift.sources.paper.followed import TracedPanel
from panelshift.sources.paper.photos import PaperSeen
from panelshift.sources.paper.rectified import Rectified
from panelshift.sources.paper.spots import Pointed, Spot
from panelshift.sources.paper.tracing import Tracing, trace_paper
from panelshift.table import paper_desk, paper_trace, paper_view
from panelshift.table.paper_view import paper_words
from panelshift.table.paper_work import HOME, MOST_PHOTOS
from panelshift.table.server import UPLOADS
from panelshift.table.session import Session
from tests.paper.drawn_paper import INK, RED, Stroke, drawn, one_panel
from tests.support.drawings import drawing, half, panels

from .client import Answer, Table, inner, tree

pytest.importorskip("cv2")

LENGTH = "A to D 612.5 mm"


def photo(shade: int = 200, kind: str = "JPEG") -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), (shade, shade, shade)).save(stream, kind)
    return stream.getvalue()


def drop(table: Table, *files: tuple[str, bytes]) -> Answer:
    given = [("photos", (name, content, "image/jpeg")) for name, content in files]
    return table.post("/photos", {}, files=given, of="photo-form")


def do(table: Table, act: str, of: str = "", **fields: str) -> Answer:
    return table.post(f"/paper/{act}", fields, of=of or f"paper-{act}")


def held(table: Table) -> list[str]:
    return sorted(path.name for path in (table.folder / HOME).glob("*"))


@pytest.fixture
def table(tmp_path: Path) -> Table:
    return Table(tmp_path)


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Trace in this very process, and see a paper that was drawn: a panel whose waistline is in
    pencil, another with a red one, and a line that does not count."""
    one, wide = one_panel(), 140.0
    move = np.array([[1.0, 0.0, 70.0], [0.0, 1.0, 0.0]])
    lines = [one.outlines[0].flatten(0.05), one.outlines[0].transformed(move).flatten(0.05)]
    strokes = [Stroke(line, INK) for line in lines]
    strokes.append(Stroke(one.waists[0].flatten(0.05), INK))
    strokes.append(Stroke(one.waists[0].transformed(move).flatten(0.05), RED))
    strokes.append(Stroke(np.array([(70.0, 20.0), (76.0, 95.0)]), INK))
    image = drawn(strokes, (wide, one.size[1]))
    found: dict[str, Any] = {"seen": 0}
    rectified = Rectified(image, np.ones(image.shape[:2], dtype=bool), 0.2, 0.1, ("a.jpg",))
    found["rectified"] = rectified

    def see(paths: Any, lengths: Any, **more: Any) -> PaperSeen:
        assert all(path.is_file() for path in paths)
        refuse_unmeasured(lengths)
        found["seen"] += 1
        return PaperSeen(rectified, Doubts(0.1, (0.2, "C", 0), 0.1, (0.1, "E"), 0.1), ("A",), 1.0)

    monkeypatch.setattr(paper_trace, "see_paper", see)

    def start(desk: paper_desk.PaperDesk) -> None:
        paper_trace.trace_in(desk.home, lambda part: None)
        desk._outcome = paper_desk.read_outcome(desk.home)

    monkeypatch.setattr(paper_desk.PaperDesk, "_start", start)
    return found


def test_photos_are_kept_beside_the_job_and_are_there_after_a_restart(table: Table) -> None:
    answer = drop(table, ("../IMG 1.JPG", photo(10)), ("IMG_2.jpg", photo(20)))
    assert answer.said == "2 photos taken in: now say what you measured."
    kept = held(table)
    assert [name[:5] for name in kept] == ["img-1", "img-2", "paper"]
    assert sorted(path.name for path in table.folder.iterdir()) == [HOME]
    assert "These photos are here already" in drop(table, ("again.jpg", photo(10))).said

    again = Table(table.folder)
    page = tree(again.get("/").text)
    assert len(page.xpath("//ul[@id='paper-photos']/li")) == 2
    assert len(page.xpath("//input[@name='length']")) == 2
    (table.folder / HOME / ".outcome.json.0a1b2c3d").write_bytes(b"a process was stopped here")
    assert do(again, "remove", name=kept[0]).said.startswith("img-1")
    assert held(table) == kept[1:]
    (table.folder / HOME / "notes.txt").write_text("the maker's own")
    assert "your own are where they were" in do(again, "remove", name=kept[1]).said
    assert held(table) == ["notes.txt"]
    assert not tree(again.get("/").text).xpath("//ul[@id='paper-photos']")


def test_what_is_traced_in_a_folder_ends_when_another_one_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = Session(tmp_path / "one")
    first = session.paper
    assert session.paper is first
    stopped = []
    monkeypatch.setattr(paper_desk.PaperDesk, "stop", lambda desk: stopped.append(desk))
    session.folder = tmp_path / "two"
    assert session.paper.folder == tmp_path / "two"
    assert stopped == [first]


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ([("a.jpg", photo()), ("b.svg", b"<svg/>")], "Photo b.svg: this is no picture"),
        ([("a.heic", b"\0\0\0\x24ftypheic")], "saved as HEIC or AVIF"),
        ([(f"{k}.jpg", photo(k)) for k in range(MOST_PHOTOS + 1)], "pictures are too many at once"),
        ([], "No file came with that"),
    ],
)
def test_what_is_no_photo_is_refused_and_nothing_is_kept(
    table: Table, files: list[tuple[str, bytes]], words: str
) -> None:
    answer = drop(table, *files) if files else table.post("/photos", {}, of="photo-form")
    assert answer.refused
    assert words in inner(answer.text, "photo-file-why")
    assert list(table.folder.iterdir()) == []


def test_bounds_and_what_is_not_there(table: Table) -> None:
    length = str(UPLOADS["/photos"] + 1)
    headers = {**table._headers(), "content-length": length, "origin": "http://127.0.0.1:8765"}
    assert table.ask("POST", "/photos", headers=headers).status_code == 413
    assert table.get("/paper/picture.png").status_code == 404
    assert table.get("/cards.pdf?paper=letter").content.startswith(b"%PDF-")
    assert table.ask("POST", "/paper/nothing", headers=headers | {"content-length": "0"}).is_error
    (table.folder / HOME).write_text("in the way")
    answer = drop(table, ("a.jpg", photo()))
    assert "is in the way: it is no folder" in inner(answer.text, "photo-file-why").lower()
    assert do(table, "use").refused
    # What is not the page's own is not removed.
    do(table, "discard")
    assert (table.folder / HOME).read_text() == "in the way"


def test_without_the_package_it_says_what_to_install(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> None:
        raise PhotoError("photos cannot be read", remedy="run: pip install '.[paper]'")

    assert "paper-missing" not in table.get("/").text
    monkeypatch.setattr(paper_desk, "opencv", missing)
    monkeypatch.setattr(paper_view, "opencv", missing)
    monkeypatch.setattr(paper_view, "find_spec", lambda name: None)
    assert "run: pip install '.[paper]'" in inner(table.get("/").text, "paper-missing")
    answer = drop(table, ("a.jpg", photo()))
    assert "run: pip install '.[paper]'" in inner(answer.text, "photo-file-why")
    assert list(table.folder.iterdir()) == []


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "No measured length"),
        ("waist to hem 412 mm", "names no two strips and a length"),
        ("A to D 300 mm", "is shorter than 350 mm"),
        (LENGTH, "One photo does not show the lens"),
    ],
)
def test_what_was_typed_stays_beside_its_refusal(table: Table, typed: str, words: str) -> None:
    drop(table, ("a.jpg", photo()))
    answer = do(table, "trace", of="paper-form", length=typed)
    assert answer.refused
    why = inner(answer.text, "paper-form-why")
    assert words in why
    assert "--" not in why
    assert len(tree(answer.text).xpath("//input[@name='length']")) == 2
    (box,) = tree(answer.text).xpath("//input[@id='paper-length-0']")
    assert box.get("value") == typed


def test_what_came_of_a_tracing_is_kept_and_shown(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    drop(table, ("a.jpg", photo(10)), ("b.jpg", photo(20)))
    desk = table.session.paper
    view = paper_view.paper_view(desk)
    assert (view["lengths"], view["traced"], view["refused"]) == (["", ""], None, "")
    blank = Rectified(
        np.zeros((400, 300, 3), dtype=np.uint8), np.ones((400, 300), dtype=bool), 0.2, 0.1, ("a",)
    )
    seen = PaperSeen(blank, Doubts(0.1, (0.2, "C", 0), 0.1, (0.1, "E"), 0.1), ("A",), 1.0)
    spots = (
        Spot("line", (10.0, 90.0), "a line was struck out"),
        Spot("gap", (70.0, 10.0), "a gap is wide", remedy="Close it."),
    )
    asked: list[Any] = []

    def see(paths: Any, lengths: Any, *, advance: Any, **how: Any) -> PaperSeen:
        asked.append((paths, lengths, how))
        advance(0.4)
        return seen

    panel = one_panel()
    traced = TracedPanel(panel.outlines[0], None, panel.waists[0])
    tracing = Tracing(drawing(panels(half(2))), (traced,), spots, photo(30, "PNG"))
    monkeypatch.setattr(paper_trace, "see_paper", see)
    monkeypatch.setattr(paper_trace, "trace_paper", lambda rectified, pointed: tracing)
    told: list[float] = []
    paper_trace.trace_in(desk.home, told.append)
    paper_trace.trace_in(desk.home, told.append)
    # Seen once; traced anew from what was kept.
    assert told == [0.4]
    assert [path.name for path in asked[0][0]] == [name for name, _ in desk.wish.photos]
    kept = json.loads((desk.home / "outcome.json").read_bytes())
    assert kept["trusted"] == seen.trusted
    assert kept["size"] == pytest.approx([60.0, 80.0])
    assert [spot["words"] for spot in kept["spots"]] == [spot.words for spot in spots]
    low, high = panel.outlines[0].bounds()
    assert kept["panels"][0]["size"] == pytest.approx((high - low).round(1))
    met = panel.waists[0].vertices[[0, -1]]
    assert float(kept["panels"][0]["waist"]) == pytest.approx(np.hypot(*(met[1] - met[0])), abs=9.0)
    desk._outcome = paper_desk.read_outcome(desk.home)
    shown = paper_view.paper_view(desk)["traced"]
    # What must be mended comes first.
    assert [(s["number"], s["words"]) for s in shown["spots"]] == [
        (1, "a gap is wide"),
        (2, "a line was struck out"),
    ]
    assert (shown["faults"], shown["waits"], shown["ready"]) == (1, [1], False)
    assert shown["trusted"] == seen.trusted
    assert shown["spots"][0]["at"] == [60.0, 10.0]
    assert shown["spots"][1]["at"] == [10.0, 80.0]
    for spot in shown["spots"]:
        assert 0.0 < spot["flag"][0] < 60.0
        assert 0.0 < spot["flag"][1] < 80.0
    assert paper_trace._width(np.array([(1.0, 1.0), (9.0, 9.0), (4.0, 5.0)])) == "5"
    run = SimpleNamespace(part=0.426, words="finding strips")
    assert paper_view.run_view(SimpleNamespace(run=run)) == {"part": 43, "words": "finding strips"}
    assert paper_view.run_view(SimpleNamespace(run=None))["part"] == 0


def test_what_is_pointed_at_ends_the_tracing_that_runs_and_begins_another(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    drop(table, ("a.jpg", photo(10)), ("b.jpg", photo(20)))
    desk = table.session.paper
    told: list[str] = []
    begun: list[Pointed] = []

    def start(desk: paper_desk.PaperDesk) -> None:
        told.append("another" if desk.run is None else "two run")
        begun.append(desk.wish.pointed)

    monkeypatch.setattr(paper_desk.PaperDesk, "_start", start)
    panel = {"mark": "m", "inside": [30.0, 40.0], "pointed": []}
    place = {"x": "5", "y": "6,5"}
    acts = (
        ("strike", place),
        ("waist", {"mark": "m", **place}),
        ("waist", {"mark": "m", **place, "x2": "7 cm", "y2": "8"}),
        ("gore", {"mark": "m"}),
        ("back", {"kind": "waists", "number": "0"}),
        ("leave", {"mark": "m"}),
        ("back", {"kind": "struck", "number": "0"}),
    )
    for act, form in acts:
        desk._outcome = {"key": "", "seen_key": desk.wish.seen_key, "panels": [panel]}
        desk.run = SimpleNamespace(ended=False, stop=lambda: told.append("ended"))
        desk.act(act, form)
    assert told == ["ended", "another"] * len(acts)
    middle, here, line = (30.0, 40.0), (5.0, 6.5), ((5.0, 6.5), (70.0, 8.0))
    struck, gored = Pointed(struck=(here,)), Pointed(struck=(here,), gores=(middle,))
    assert begun == [
        struck,
        replace(struck, waists=((here,),)),
        replace(struck, waists=((here,), line)),
        replace(gored, waists=((here,), line)),
        replace(gored, waists=(line,)),
        replace(gored, waists=(line,), left_out=(middle,)),
        Pointed(gores=(middle,), waists=(line,), left_out=(middle,)),
    ]


def test_a_place_in_a_panel_lies_inside_it() -> None:
    def inside(points: list[tuple[float, float]]) -> list[float]:
        return paper_trace._inside(Curve.polyline(np.array(points), closed=True))

    square = [(10.0, 20.0), (50.0, 20.0), (50.0, 80.0), (10.0, 80.0)]
    assert inside(square) == pytest.approx([30.0, 50.0])
    # The middle of what is open to the right lies outside.
    hollow = [(0, 0), (60, 0), (60, 10), (10, 10), (10, 50), (60, 50), (60, 60), (0, 60)]
    assert inside([(float(x), float(y)) for x, y in hollow]) == pytest.approx([5.0, 30.0])


def test_a_panel_is_told_whole_with_what_was_pointed_at_in_it() -> None:
    outline = Curve.polyline(
        np.array([(10.0, 20.0), (50.0, 20.0), (50.0, 80.0), (10.0, 80.0)]), closed=True
    )
    waist = Curve.polyline(np.array([(8.0, 50.0), (52.0, 50.0)]))
    across = Curve.polyline(np.array([(9.0, 30.0), (51.0, 34.0)]))
    bone = Curve.polyline(np.array([(30.0, 40.0), (30.0, 70.0)]))
    inside, outside = ((12.0, 40.0), (48.0, 44.0)), ((60.0, 40.0), (90.0, 40.0))
    pointed = Pointed(waists=(outside, inside, ((30.0, 25.0),)))
    told = paper_trace._panel(TracedPanel(outline, None, waist, marks=(across, bone)), pointed)
    assert re.fullmatch("[0-9a-f]{12}", told.pop("mark"))
    assert told == {
        "inside": [30.0, 50.0],
        "pointed": [inside, ((30.0, 25.0),)],
        "size": [40.0, 60.0],
        "gore": False,
        "waist": "40",
        "lines": [[30.0, 32.0]],
        "path": "M10,20L50,20L50,80L10,80Z",
    }
    wide = Curve.polyline(
        np.array([(0.0, 0.0), (40.04, 0.0), (40.04, 60.06), (0.0, 60.06)]), closed=True
    )
    assert paper_trace._panel(TracedPanel(wide, None, None), Pointed())["size"] == [40.0, 60.1]


@pytest.mark.slow
def test_from_photos_to_the_draft_of_a_job(table: Table, at_once: dict[str, Any]) -> None:
    drop(table, ("a.jpg", photo(10)), ("b.jpg", photo(20)))
    answer = do(table, "trace", of="paper-form", length=LENGTH)
    # The same words as the command has, but for its options.
    tracing = trace_paper(at_once["rectified"])
    shown = inner(answer.text, "paper-spots")
    assert len(tracing.faults) == 2
    for spot in tracing.faults:
        assert paper_words(f"{spot.words}. {spot.remedy}") in shown
    assert "--" not in shown
    assert table.get("/paper/picture.png").content == tracing.picture
    assert "2 things must be mended first" in inner(answer.text, "paper-use-why")
    assert do(table, "use").refused

    def control(text: str, start: str, number: int = 0) -> dict[str, str]:
        """What a button sends."""
        (button, *_) = tree(text).xpath(f"//button[starts-with(@id, '{start}')]")[number:]
        return {key: str(value) for key, value in json.loads(button.get("hx-vals")).items()}

    answer = do(table, "strike", **control(answer.text, "paper-strike-"))
    assert "a line was struck out" in inner(answer.text, "paper-spots")
    answer = do(table, "gore", **control(answer.text, "paper-gore-"))
    # Its line in pencil across it may be a seam: a gore has none but red ones.
    assert "dark lines divide panel 1" in inner(answer.text, "paper-spots")
    answer = do(table, "back", kind="gores", number="0")
    answer = do(table, "waist", **control(answer.text, "paper-line-"))
    assert "the waistline of panel 1 is the one that you pointed at" in answer.text
    # Seen from above once only; a restart finds all of it.
    assert at_once["seen"] == 1
    table = Table(table.folder)
    page = table.get("/work").text
    assert "Approve, or leave out, panels 1, 2 first" in inner(page, "paper-use-why")

    first, second = (control(page, "paper-approve-", k) for k in (0, 1))
    do(table, "approve", **first)
    answer = do(table, "leave", mark=second["mark"])
    assert "a piece was left out, as you said" in inner(answer.text, "paper-spots")
    # What was approved stays so: the first panel is as it was.
    assert "It becomes the draft of the job" in inner(answer.text, "paper-use-why")
    answer = do(table, "back", kind="left_out", number="0")
    assert "panel 2 first" in inner(answer.text, "paper-use-why")
    do(table, "approve", mark=first["mark"], value="")
    assert do(table, "use").refused
    for panel in (first, second):
        do(table, "approve", **panel)
    answer = do(table, "use")
    assert answer.said.startswith("2 panels read from paper-draft.svg")
    assert "The photos that gave paper-draft.svg" in answer.text
    assert (table.folder / "paper-draft.svg").is_file()
    state = table.session.state()
    assert state is not None
    assert state.pattern.value is not None
    assert len(state.pattern.value.panels) == 2
    assert state.pattern.value.waist == pytest.approx(4 * 44.0, abs=0.4)

    # A waistline between two places; what is not there any more; a place that is none.
    ends = {"x": "17", "y": "31", "x2": "55", "y2": "33,5"}
    answer = do(table, "waist", mark=first["mark"], **ends)
    assert "panel 1 first" in inner(answer.text, "paper-use-why")
    for act, fields in (
        ("waist", {"mark": first["mark"], **ends}),
        ("strike", {"x": "a", "y": "1"}),
        ("back", {"kind": "approved", "number": "0"}),
    ):
        answer = do(table, act, **fields)
        assert answer.refused
        assert inner(answer.text, "paper-why")
    # What was seen from above is damaged: then it is seen again.
    (table.folder / HOME / "above.json").write_bytes(b'{"key": 1}')
    do(table, "strike", x="1", y="1")
    assert at_once["seen"] == 2
    # Another length is another picture: nothing of it counts any more.
    before = at_once["seen"]
    answer = do(table, "trace", of="paper-form", length="A to D 600 mm", scaled="yes")
    assert at_once["seen"] == before + 1
    assert "paper-pointed" not in answer.text


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("outcome.json", b""),
        ("outcome.json", b"[1]"),
        ("outcome.json", b"\xff\x00"),
        ("paper.json", b'{"photos": [["../a.jpg", "1"]]}'),
        ("tracing.png", b""),
    ],
)
def test_damaged_files_break_nothing(table: Table, name: str, content: bytes) -> None:
    drop(table, ("a.jpg", photo(10)), ("b.jpg", photo(20)))
    wish = table.session.paper.wish
    outcome = {"key": wish.key, "seen_key": wish.seen_key, "panels": [{"mark": 3}], "spots": 1}
    (table.folder / HOME / "outcome.json").write_text(json.dumps(outcome))
    (table.folder / HOME / name).write_bytes(content)
    again = Table(table.folder)
    assert again.get("/").status_code == 200
    assert do(again, "use").refused
    assert not drop(again, ("c.jpg", photo(30))).refused


@pytest.mark.slow
def test_a_process_of_its_own_that_can_be_stopped(table: Table) -> None:
    drop(table, ("a.jpg", photo()), ("b.png", b"\x89PNG\r\n\x1a\nnothing"))
    do(table, "trace", of="paper-form", length=LENGTH)
    run = table.session.paper.run
    assert run is not None
    assert "Tracing: " in table.get("/paper").text
    assert do(table, "stop").said == "Stopped."
    assert run.ended
    assert not (table.folder / HOME / "outcome.json").exists()

    do(table, "trace", of="paper-form", length=LENGTH)
    for _ in range(600):
        if not table.session.paper.running:
            break
        time.sleep(0.1)
    answer = table.get("/paper")
    assert answer.headers["hx-retarget"] == "#work"
    why = inner(answer.text, "paper-refused")
    # A picture that is none names its file; the page goes on.
    assert "this is no picture that can be read" in why
    assert "b-" in why

    do(table, "trace", of="paper-form", length="A to D 500 mm")
    table.session.paper.run._process.kill()
    while table.session.paper.running:
        time.sleep(0.05)
    assert "ended without an answer" in inner(table.get("/work").text, "paper-refused")

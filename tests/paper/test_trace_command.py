"""What `panelshift trace` hands on, says and writes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.sources.paper import photos, tracing
from panelshift.sources.paper.doubts import Doubts, parse_measured
from panelshift.sources.paper.photos import SEEN, PaperSeen
from panelshift.sources.paper.rectified import Rectified
from panelshift.sources.paper.spots import Pointed, Spot
from panelshift.sources.paper.tracing import Tracing
from tests.paper.drawn_paper import INK, Stroke, drawn, one_panel
from tests.support.drawings import drawing, half, panels
from tests.support.terminal import OUTPUT, Bar, answered, run

pytest.importorskip("cv2")


@pytest.mark.slow
def test_faults_are_listed_their_picture_is_written_and_a_line_can_be_struck_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = one_panel()
    stray = Stroke(np.array([(70.0, 20.0), (76.0, 95.0)]), INK)
    image = drawn([*draft.strokes(INK), stray], draft.size)
    rectified = Rectified(image, np.ones(image.shape[:2], dtype=bool), 0.2, 0.1, ("draft.jpg",))

    def from_above(paths: list[Path], lengths: object, **more: object) -> photos.PaperSeen:
        doubts = Doubts(0.1, (0.2, "C", 0), 0.1, (0.1, "E"), 0.1)
        return photos.PaperSeen(rectified, doubts, ("A", "B"), 1.0)

    monkeypatch.setattr(photos, "see_paper", from_above)
    ask = ["trace", "draft.jpg", "--length", "A to B 500 mm", "--out", str(tmp_path / "draft.svg")]
    refused = CliRunner().invoke(main, ask)
    assert refused.exit_code == 2
    assert "a red circle or question mark stands at what must be mended" in refused.output
    said = " ".join(refused.output.split())
    assert "mm belongs to no closed outline, 73 mm from the left and 5" in said
    assert [path.name for path in tmp_path.glob("draft*")] == ["draft-tracing.png"]

    words = said.partition("--strike ")[2].split()
    strike = ["--strike", words[0], words[1].rstrip(".)")]
    done = CliRunner().invoke(main, [*ask, *strike, "--overwrite"])
    assert done.exit_code == 0, done.output
    assert "draft.svg: 1 panel" in done.output
    assert "a line was struck out" in done.output
    assert (tmp_path / "draft.svg").is_file()
    assert "came out within 0.10 mm" in done.output
    told = json.loads(CliRunner().invoke(main, [*ask, *strike, "--overwrite", "--json"]).stdout)
    assert OUTPUT.is_valid(told)
    assert told["data"] is not None
    assert told["files"][0] == str(tmp_path / "draft.svg")

    # Its own red waistline, a place beside every line, and no place at all.
    for waist, words in (
        ("33 60", "the waistline of panel 1 is the one that you pointed at"),
        ("33 80", "panel 1 has not one line from edge to edge where its waistline was pointed at"),
        ("33", "'33' is no place, nor two"),
        ("a b", "Write mm from the left"),
    ):
        again = CliRunner().invoke(main, [*ask, *strike, "--waist", waist, "--overwrite"])
        assert (again.exit_code == 0) == (waist == "33 60")
        assert words in " ".join(again.output.split())


def test_trace_hands_on_what_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, object] = {}
    faults: list[Spot] = []
    bar = Bar.watched(monkeypatch)
    blank = np.zeros((4, 4, 3), dtype=np.uint8)

    def see(paths: object, lengths: object, *, advance: Callable[..., None], **how: bool) -> object:
        asked.update(paths=paths, lengths=lengths, **how)
        advance(SEEN)
        above = Rectified(blank, np.ones((4, 4), dtype=bool), 0.2, 0.1, ("a.jpg",))
        return PaperSeen(above, Doubts(0.1, (0.2, "C", 0), 0.1, (0.1, "E"), 0.1), ("A", "B"), 1.0)

    def trace(rectified: Rectified, pointed: Pointed) -> Tracing:
        asked["pointed"] = pointed
        told = Spot("gap", (5.0, 6.0), "a gap was closed")
        return Tracing(drawing(panels(half(3))), (), (told, *faults), b"a picture")

    monkeypatch.setattr(photos, "see_paper", see)
    monkeypatch.setattr(tracing, "trace_paper", trace)
    out = tmp_path / "own.svg"
    pointed = ["--strike", "1", "2", "--gore", "5", "6", "--waist", "3 4"]
    pointed += ["--waist", "80 212, 171 209"]
    given = ("trace", "a.jpg", "b.jpg", "--length", "A to D 612.5 mm", *pointed, "--out", out)
    found = answered(*given, "--scan")
    assert (bar.pos, bar.length) == (1000, 1000)
    assert found["files"] == [str(out), str(tmp_path / "own-tracing.png")]
    assert [said["words"] for said in found["look_at"]] == ["a gap was closed"]
    assert asked["paths"] == (Path("a.jpg"), Path("b.jpg"))
    assert asked["lengths"] == [parse_measured("A to D 612.5 mm")]
    assert (asked["scaled"], asked["scans"]) == (False, True)
    waists = (((3.0, 4.0),), ((80.0, 212.0), (171.0, 209.0)))
    assert asked["pointed"] == Pointed(((1.0, 2.0),), (), waists, ((5.0, 6.0),))
    assert b"<svg" in out.read_bytes()
    assert (tmp_path / "own-tracing.png").read_bytes() == b"a picture"
    assert f"wrote {out}: 0 panels" in run(*given, "--overwrite", "--scale-to-length").stdout
    assert (asked["scaled"], asked["scans"]) == (True, False)
    # What must be mended leaves no drawing, but the picture that shows where.
    out.unlink()
    faults.append(Spot("line", (7.0, 8.0), "a line ends", remedy="Close it."))
    found = answered(*given, "--overwrite", exits=2)
    assert found["files"] == [str(tmp_path / "own-tracing.png")]
    assert [said["words"] for said in found["must_be_mended"]] == ["a line ends: Close it."]
    assert found["error"]["remedy"] == "Close it."
    for waist in ("3", "1 2 3", "1 inf", "a b", ""):
        told = run("trace", "a.jpg", "--waist", waist, "--out", out).stderr
        assert "is no place, nor two" in told
    assert not out.exists()

"""What `panelshift trace` says and writes where lines cannot be read."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.sources.paper import photos
from panelshift.sources.paper.doubts import Doubts
from panelshift.sources.paper.rectified import Rectified
from tests.paper.drawn_paper import INK, Stroke, drawn, one_panel
from tests.support.terminal import OUTPUT

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

"""Words, order and warnings of a job that could be exchanged or lost."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.errors import ScaleError
from panelshift.job import cut, read_job, resolve
from panelshift.job.checks import check_scale
from panelshift.job.result import print_job
from tests.support.drawings import Draft, half, panels, write_job
from tests.support.prints import options

NAMES = ("a", "b", "c")


@pytest.mark.slow
def test_prints_bear_the_numbers_and_the_order_of_the_cutting_files(tmp_path: Path) -> None:
    job = resolve(read_job(write_job(tmp_path, panels(half(3)))))
    stems = [name.removesuffix(".svg") for name in cut(job).drawings if name != "overlay.svg"]
    assert stems == ["layer-1-lining", "layer-2-coutille", "layer-3-brocade"]
    assert [item.name for item in print_job(job, options("a3"))] == [f"{s}-a3.pdf" for s in stems]
    chosen = print_job(job, options("a3"), layers=["brocade", "lining"])
    assert [item.name for item in chosen] == [f"{stems[0]}-a3.pdf", f"{stems[2]}-a3.pdf"]


def test_the_first_page_lists_the_panels_from_centre_front(tmp_path: Path) -> None:
    job = resolve(read_job(write_job(tmp_path, panels(half(3)))))
    (item,) = print_job(job, options(), layers=["coutille"])
    document = pypdfium2.PdfDocument(item.printed.data)
    words = " ".join(document[0].get_textpage().get_text_bounded().split())
    document.close()
    assert "panels: panel 1, panel 2, panel 3" in words


def test_a_chain_of_joins_keeps_every_warning_of_the_drawing(tmp_path: Path) -> None:
    rest = '[panel.b]\njoins = "a"\n[panel.a]\njoins = "c"\n'
    body = panels(half(3, names=NAMES))
    job = write_job(tmp_path, body, rest=rest)
    draft = tmp_path / "draft.svg"
    draft.write_text(draft.read_text().replace('mm"', '"'))
    pattern = resolve(read_job(job)).pattern
    assert [panel.name for panel in pattern.panels] == ["b", "a", "c"]
    assert any("96 px are taken for an inch" in words for words in pattern.warnings)


def test_a_join_frees_the_panel_that_had_that_neighbour_before(tmp_path: Path) -> None:
    """By place a, b, c, d; c joins b: b no longer follows a, and d is what no panel joins."""
    rest = '[panel.a]\njoins = "c"\n[panel.c]\njoins = "b"\n[panel.b]\njoins = "d"\n'
    job = write_job(tmp_path, panels(half(4, names=(*NAMES, "d"))), rest=rest)
    assert [panel.name for panel in resolve(read_job(job)).pattern.panels] == ["a", "c", "b", "d"]


@pytest.mark.parametrize(("drafted", "words"), [(100.0, "too large"), (300.0, "too small")])
def test_too_large_is_told_from_too_small(tmp_path: Path, drafted: float, words: str) -> None:
    draft = Draft("1", waist=70.0)
    job = write_job(tmp_path, draft.panel(), head=f"drafted_waist = {drafted}")
    result = CliRunner().invoke(main, ["cut", str(job), "--out", str(tmp_path / "out")])
    assert result.exit_code == 2
    assert words in result.output


def test_a_single_piece_is_never_cut_mirrored(tmp_path: Path) -> None:
    rest = '[panel."panel 1"]\ncut = 1\n[panel."panel 2"]\ncut = 4\n'
    job = resolve(read_job(write_job(tmp_path, panels(half(3)), rest=rest)))
    told = [job.plan.cutting(job.pattern, index).words() for index in range(3)]
    assert told == [("cut 1",), ("cut 4", "half mirrored"), ("cut 2", "one mirrored")]


def _scale_remedy(tmp_path: Path, waist: float, svg: str) -> str:
    (tmp_path / "draft.svg").write_text(svg)
    (tmp_path / "job.toml").write_text(
        f'[pattern]\nfile = "draft.svg"\ndrafted_waist = {waist}\n'
        '[[stack.fabric]]\nname = "drill"\nthickness = 0.5\n'
    )
    job = resolve(read_job(tmp_path / "job.toml"))
    with pytest.raises(ScaleError) as caught:
        check_scale(job.pattern, waist, "mm")
    return caught.value.remedy


TWO = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="700mm" height="300mm" viewBox="0 0 700 300">'
    '<path id="1-centre-front" d="M10 20H170V220H10Z"/>'
    '<path id="2-centre-back" d="M210 20H370V220H210Z"/><path id="waist" d="M0 120H690"/></svg>'
)


def test_a_waist_too_large_by_an_allowance_says_how_wide_it_would_be(tmp_path: Path) -> None:
    # Two panels of one half have eight edges in both: 640 - 8 x 8.
    remedy = _scale_remedy(tmp_path, 576.0, TWO)
    assert "pattern.allowance_drawn = 8," in remedy
    assert "over 8 edges" in remedy
    assert "allowance" not in _scale_remedy(tmp_path, 630.0, TWO)


def test_a_waist_too_small_asks_for_a_lost_panel_before_a_scale(tmp_path: Path) -> None:
    remedy = _scale_remedy(tmp_path, 770.0, TWO)
    assert remedy.startswith("See whether a panel is missing: 2 were read.")
    assert remedy.index("missing") < remedy.index("pattern.scale")

"""One small job against files that were looked over by eye.

When the drawing is meant to change, look at the new files and then refresh the golden ones:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/cutting/test_cutting_golden.py
"""

from __future__ import annotations

import pytest

from panelshift.cutting.verdict import verdict
from panelshift.job import CutResult, cut, read_job, resolve
from panelshift.needs.cutting_list import list_csv, list_words
from tests.support.golden import GOLDEN, REFRESH, changes, differences, equipped_job, golden_job

FILES = ["layer-1-lining.svg", "layer-2-coutille.svg", "layer-3-brocade.svg", "overlay.svg"]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    job = golden_job(tmp_path_factory.mktemp("golden"))
    return dict(cut(resolve(read_job(job))).drawings)


@pytest.mark.parametrize("name", FILES)
def test_cutting_file_is_the_golden_one(written: dict[str, bytes], name: str) -> None:
    if REFRESH:
        GOLDEN.mkdir(exist_ok=True)
        (GOLDEN / name).write_bytes(written[name])
    assert differences(written[name], (GOLDEN / name).read_bytes()) == []


def test_no_file_is_without_a_golden_one(written: dict[str, bytes]) -> None:
    assert sorted(written) == sorted(path.name for path in GOLDEN.glob("*.svg")) == FILES


@pytest.fixture(scope="module")
def equipped(tmp_path_factory: pytest.TempPathFactory) -> CutResult:
    return cut(resolve(read_job(equipped_job(tmp_path_factory.mktemp("equipped")))))


@pytest.mark.parametrize(
    "name", ["facings-and-strips.svg", "layer-2-coutille.svg", "layer-3-brocade.svg"]
)
def test_what_is_cut_of_all_that_may_be_is_the_golden_page(equipped: CutResult, name: str) -> None:
    assert changes(f"equipped-{name}", equipped.drawings[name].decode()) == []


def test_the_list_of_all_that_may_be_cut_is_the_golden_page(equipped: CutResult) -> None:
    told = [list_csv(equipped.lines).decode(), *equipped.warnings]
    told += verdict(equipped.shifted, equipped.job.plan).words(equipped.job.plan)
    told += list_words(equipped.lines, equipped.job.plan, ())
    assert changes("equipped-list.txt", "\n".join(told)) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'id="cut-line"', b'id="cut-lines"'),
        (b'stroke-dasharray="4 1.6"', b'stroke-dasharray="4 1.7"'),
        (b">panel 1<", b">panel 9<"),
        (b'id="waistline-panel-1" d="M', b'id="waistline-panel-1" d="M1'),
        (b"<title>Golden: coutille</title>", b""),
        (b"Z", b""),
    ],
)
def test_comparison_sees_a_change(old: bytes, new: bytes) -> None:
    golden = (GOLDEN / "layer-2-coutille.svg").read_bytes()
    assert old in golden
    assert differences(golden.replace(old, new, 1), golden)


def test_comparison_does_not_mind_layout_and_attribute_order() -> None:
    a = b'<svg><g id="x" fill="none"><path d="M1.001,2"/></g></svg>'
    b = b'<svg>\n <g fill="none" id="x">\n  <path d="M1.002,2"/>\n </g>\n</svg>'
    assert differences(a, b) == []
    assert differences(a, b.replace(b"1.002", b"1.003"))

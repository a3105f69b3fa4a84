"""Bones, seams and test pieces on the page: reckoned with the job's fabrics, nothing changed."""

from __future__ import annotations

import html

import pytest

from panelshift.swatch.strip_kinds import sheet_bytes

from .client import sample

BONES = (
    "inner,outer,former,length,bones,bone_width,bone_thickness,flat_overhang,overhang\n"
    "coutille,brocade,80,180,4,7,1.5,2.9,6.0\n"
)
PIECES = "test,layer,inner,way,before,after,short,count\nfold,brocade,coutille,,,,3.1,3\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (BONES, "bones under brocade stand"),
        (PIECES, "coutille to brocade: fold factor of seams turned in together"),
        (PIECES.replace("brocade,coutille", "satin,coutille"), "there is no layer 'satin'"),
        (PIECES.replace("fold", "<b>"), "test is '<b>'"),
        ("layer\n", "no column"),
        (" ", ""),
    ],
)
def test_readings_are_reckoned_and_nothing_is_changed(tmp_path, text: str, words: str) -> None:
    table = sample(tmp_path)
    before = table.text
    answer = table.get("/tried", params={"readings": text})
    assert answer.status_code == 200
    assert "<b>" not in answer.text
    assert words in html.unescape(answer.text)
    assert table.text == before


@pytest.mark.parametrize("kind", ["bones", "pieces"])
def test_other_sheets_are_those_of_the_command(tmp_path, kind: str) -> None:
    answer = sample(tmp_path).get("/strips.pdf", params={"of": kind})
    assert answer.content == sheet_bytes((80.0,), ".pdf", kind)


def test_no_other_sheet_is_given(tmp_path) -> None:
    assert sample(tmp_path).get("/strips.pdf", params={"of": "x"}).status_code == 404

"""Paper sizes against their standards, and sizes that are none."""

from __future__ import annotations

import pytest

from panelshift.errors import PrintError
from panelshift.printing import PAPERS, PageOptions, parse_paper

# ISO 216, A series, in mm. A0 is a square metre with sides as 1 to the root of 2, each next
# size half of it across, rounded down: the standard's own rule, from which it is recomputed.
ISO_216 = {
    "a0": (841, 1189),
    "a1": (594, 841),
    "a2": (420, 594),
    "a3": (297, 420),
    "a4": (210, 297),
}

# ASME Y14.1, sizes A and B, in inches; legal from memory (no standard names it).
INCHES = {"letter": (8.5, 11.0), "tabloid": (11.0, 17.0), "legal": (8.5, 14.0)}


@pytest.mark.parametrize(("name", "size"), ISO_216.items())
def test_a_series_is_that_of_iso_216(name: str, size: tuple[int, int]) -> None:
    paper = parse_paper(name)
    assert (paper.width, paper.height) == size
    order = int(name[1])
    height, width = (1000.0 * 2.0 ** (0.25 - 0.5 * (order + k)) for k in (0, 1))
    assert (int(width + 0.5), int(height + 0.5)) == pytest.approx(size, abs=1)
    assert paper.height / paper.width == pytest.approx(2.0**0.5, abs=0.003)


@pytest.mark.parametrize(("name", "size"), INCHES.items())
def test_inch_sizes_are_those_of_asme_y14_1(name: str, size: tuple[float, float]) -> None:
    paper = parse_paper(name.upper())
    # 1 in = 25.4 mm exactly.
    assert (paper.width, paper.height) == pytest.approx([25.4 * v for v in size], abs=1e-12)


def test_letter_is_215_9_by_279_4_mm() -> None:
    # checks.md, case 18.
    assert (PAPERS["letter"].width, PAPERS["letter"].height) == pytest.approx((215.9, 279.4))


@pytest.mark.parametrize(
    ("text", "name", "width", "height"),
    [
        ("300x400", "300x400", 300.0, 400.0),
        ("300 x 400", "300x400", 300.0, 400.0),
        ("24x36in", "24x36in", 609.6, 914.4),
        ("30cmx40cm", "30x40cm", 300.0, 400.0),
        ("12inx400mm", "12inx400mm", 304.8, 400.0),
        ("roll:914", "roll", 914.0, 0.0),
        ("Roll:36in", "roll", 914.4, 0.0),
    ],
)
def test_sizes_of_one_s_own(text: str, name: str, width: float, height: float) -> None:
    paper = parse_paper(text)
    assert paper.name == name
    assert (paper.width, paper.height) == pytest.approx((width, height))
    assert paper.is_roll == text.lower().startswith("roll")


@pytest.mark.parametrize(
    "text",
    ["", "a5", "A4 landscape", "-100x200", "100x-200", "nanxnan", "1e3x200", "300", "infxinf"],
)
def test_unknown_paper_lists_what_is_known(text: str) -> None:
    with pytest.raises(PrintError, match="unknown paper") as caught:
        parse_paper(text)
    for name in [*PAPERS, "300x400", "roll:914"]:
        assert name in caught.value.remedy


@pytest.mark.parametrize(
    "text", ["0x300", "300x0", "0x0", "60000x300", "roll:0", "roll:-5", "roll:60m"]
)
def test_paper_without_a_usable_size_is_refused(text: str) -> None:
    with pytest.raises(PrintError, match=r"no usable size|unknown unit"):
        parse_paper(text)


@pytest.mark.parametrize(
    "text", ["roll:", "roll:wide", "roll:nan", "roll:1e999", "300x400furlongs"]
)
def test_paper_whose_length_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(PrintError, match=r"not a length|not a finite|unknown unit") as caught:
        parse_paper(text)
    assert caught.value.element == "paper"


@pytest.mark.parametrize(
    ("margin", "overlap", "words"),
    [
        (-1.0, 10.0, "a margin of -1 mm"),
        (float("nan"), 10.0, "a margin of nan mm"),
        (10.0, -0.1, "an overlap of -0.1 mm"),
        (10.0, float("inf"), "an overlap of inf mm"),
        (10.0, float("nan"), "an overlap of nan mm"),
        (105.0, 10.0, "leave 0 mm of 210 mm paper"),
        (80.0, 0.0, "leave 50 mm of 210 mm paper"),
        (10.0, 160.0, "leave 30 mm of 210 mm paper"),
        (10.0, 96.0, "more than half"),
    ],
)
def test_margins_and_overlaps_must_leave_room(margin: float, overlap: float, words: str) -> None:
    with pytest.raises(PrintError, match=words):
        PageOptions(PAPERS["a4"], margin, overlap)


def test_a_roll_has_no_overlap_to_leave_room_for() -> None:
    assert PageOptions(parse_paper("roll:80"), 10.0, 500.0).paper.is_roll
    with pytest.raises(PrintError, match="margins of 20 mm leave 40 mm of 80 mm paper"):
        PageOptions(parse_paper("roll:80"), 20.0)

"""Gores in slits: the line found by name, cut off at the panel's edge, or refused."""

from __future__ import annotations

import pytest

from panelshift.draft import Gore, Reading, assemble
from panelshift.errors import PatternError
from panelshift.outline.measure import length
from panelshift.pattern.panel import Span
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.gored import HEM, TOP, Point, box, gored_svg, slit, wedge

LONG = 100.0
HIP = slit("hip slit", 1, (55.0, HEM - 1.5), (55.0, HEM + LONG))
IN_SLIT = Gore("gore", slit="hip slit")


def read(
    *said: Gore, lines: str = HIP, gores: dict[str, list[Point]] | None = None, **more: object
) -> Pattern:
    gores = {"gore": wedge(LONG)} if gores is None else gores
    return assemble(
        read_svg(gored_svg(gores, extra=lines, **more)),  # type: ignore[arg-type]
        Reading(gores=said or (IN_SLIT,), halves="half"),
    )


def test_a_gore_stands_in_its_slit() -> None:
    found = read()
    assert [panel.name for panel in found] == ["front", "side", "gore", "back"]
    side, gore = found["side"], found["gore"]
    (own,) = side.slits
    # What is drawn beyond the edge is cut off; the slit runs upwards.
    ends = side.frame.to_panel([own.curve.start, own.curve.end])
    assert ends[:, 0] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert ends[:, 1] == pytest.approx([HEM, HEM + LONG], abs=1e-6)
    assert (own.opens_at, own.piece, own.ident) == ("bottom", "gore", "hip slit")
    assert side.frame.to_panel(own.tip)[1] == pytest.approx(HEM + LONG)
    # The gore's tip is as high as the slit's.
    assert gore.frame.to_panel(gore.edge("front").end) == pytest.approx([0.0, HEM + LONG])
    walked = {w.name: (w.first, w.second) for w in found.walk()}
    assert list(walked) == ["front to side", "side to gore", "gore to side", "side to back"]
    assert walked["side to gore"] == pytest.approx((LONG, LONG))
    assert walked["gore to side"] == pytest.approx((LONG, LONG))
    spans = [(seam.first_span, seam.second_span) for seam in found.seams]
    assert spans == [
        (None, None),
        (Span(slit="gore"), None),
        (None, Span(slit="gore")),
        (None, None),
    ]
    assert [walked.name for walked in found.walk() if walked.seam in found.waist_seams] == [
        "front to side",
        "side to back",
    ]
    assert found.open_edges() == {(0, "front"), (3, "back")}
    assert found.edge_kind(2, "front") == found.edge_kind(2, "back") == "seam"
    assert any("a slit of side, open at the bottom" in note for note in found.notes)
    assert found.warnings == ()
    # It goes along when the pattern is drawn otherwise.
    larger = found.mirrored().larger(1.0, 2.0)
    assert length(larger["side"].slits[0].curve) == pytest.approx(2.0 * LONG)
    assert larger.part({"front", "side", "back"}).walk()[-1].name == "side to back"
    assert len(found["side"]._repr_svg_()) > len(found["front"]._repr_svg_())


def test_slits_from_both_ends_and_short_of_the_edge() -> None:
    lines = (
        slit("one", 1, (70.0, TOP - 0.4), (66.0, 60.0))
        + slit("two", 1, (40.0, TOP), (44.0, 60.0))
        + slit("three", 1, (50.0, HEM + LONG), (55.0, HEM))
    )
    long = length(
        read(Gore("a", slit="three"), lines=lines, gores={"a": wedge(LONG)})["side"].slits[0].curve
    )
    gores = {"a": wedge(90.0, 15.0, up=False), "b": wedge(90.0, 15.0, up=False), "c": wedge(long)}
    said = (Gore("a", slit="one"), Gore("c", slit="three"), Gore("b", slit="two"))
    found = read(*said, lines=lines, gores=gores)
    # From front to back, wherever the gores lie on the sheet.
    assert [panel.name for panel in found] == ["front", "side", "b", "c", "a", "back"]
    opens = [one.opens_at for one in found["side"].slits]
    assert opens == ["top", "bottom", "top"]
    tips = [found["side"].frame.to_panel(one.tip)[1] for one in found["side"].slits]
    assert tips == pytest.approx([60.0, HEM + LONG, 60.0])
    assert all(abs(walked.difference) < 0.5 for walked in found.walk())


def test_a_gore_in_a_slit_and_one_in_the_seam_beside_it() -> None:
    said = IN_SLIT, Gore("other", ("side", "back"))
    found = read(*said, gores={"other": wedge(90.0), "gore": wedge(LONG)})
    assert [panel.name for panel in found] == ["front", "side", "gore", "other", "back"]
    assert [walked.name for walked in found.walk()] == [
        "front to side",
        "side to gore",
        "gore to side",
        "side to other",
        "other to back",
        "side to back",
    ]


ONE = [IN_SLIT]
AGAIN = slit("other", 1, (62.0, HEM), (58.0, HEM + LONG))


@pytest.mark.parametrize(
    ("said", "lines", "words"),
    [
        ([Gore("gore", slit="slot")], HIP, "no line called 'slot'"),
        ([Gore("gore")], HIP, "either in a seam"),
        ([Gore("gore", ("side", "back"), slit="hip slit")], HIP, "either in a seam"),
        ([Gore("gore", slit="hip slit", tip="hip")], HIP, "either in a seam"),
        ([Gore("gore", slit="front")], HIP, "is a closed outline"),
        (ONE, HIP + HIP.replace('id="hip slit"', 'id="x" data-panel="hip slit"'), ""),
        (
            [Gore("gore", slit="twin")],
            HIP.replace("hip slit", "a").replace("<path", '<path data-panel="twin"')
            + HIP.replace("hip slit", "b").replace("<path", '<path data-panel="twin"'),
            "2 lines are called 'twin'",
        ),
        ([IN_SLIT, Gore("cup", slit="hip slit")], HIP, "two gores are to stand in the slit"),
        (ONE, slit("hip slit", 1, (55.0, -120.0), (55.0, -50.0)), "reaches no edge of a panel"),
        (ONE, slit("hip slit", 1, (55.0, HEM), (55.0, TOP)), "more than once"),
        (ONE, slit("hip slit", 1, (-4.0, -100.0), (55.0, -60.0)), "begins at the front edge"),
        (ONE, slit("hip slit", 1, (55.0, HEM - 60.0), (55.0, HEM - 0.5)), "does not lead into"),
        (
            ONE,
            slit("hip slit", 1, (55.0, HEM), (55.0, -70.0), (60.0, -90.0)),
            "turns back, or lies flat",
        ),
        (ONE, slit("hip slit", 1, (-4.0, HEM), (4.0, -50.5)), "runs into the front edge of side"),
        (ONE, slit("hip slit", 1, (55.0, HEM), (55.0, -2.0)), "reaches the waist of side"),
        (ONE, slit("hip slit", 1, (55.0, HEM), (55.0, 30.0)), "reaches the waist of side"),
        (
            ONE,
            slit("hip slit", 1, (55.0, HEM), (55.0, HEM + 90.0)),
            "its front edge is 100.0 mm long, its slit 'hip slit' 90.0 mm",
        ),
        ([IN_SLIT, Gore("cup", slit="other")], HIP + AGAIN, "all but meet"),
    ],
)
def test_what_is_no_slit_is_refused(said: list[Gore], lines: str, words: str) -> None:
    gores = {"gore": wedge(LONG), **({"cup": wedge(LONG)} if len(said) > 1 else {})}
    if not words:
        # An id is one line's alone.
        assert read(*said, lines=lines, gores=gores)["side"].slits[0].ident == "hip slit"
        return
    with pytest.raises(PatternError, match=words):
        read(*said, lines=lines, gores=gores)


def test_a_waistline_does_not_cross_a_gore_in_a_slit() -> None:
    with pytest.raises(PatternError, match="but its slit ends short of the waist"):
        read(lines=HIP + '<path id="waist gore" d="M60 640 H140"/>')


def test_a_line_called_a_slit_without_a_gore_is_told() -> None:
    drawing = read_svg(gored_svg({}, extra=HIP))
    found = assemble(drawing, Reading(halves="half"))
    (warning,) = [remark for remark in found.ledger if remark.kind == "warning"]
    assert (warning.code, warning.elements) == ("slit-alone", ("hip slit",))
    assert [mark.ident for mark in found["side"].marks] == ["hip slit"]


def test_slits_in_both_halves_of_a_full_pattern() -> None:
    panels = {f"{side} {k}": box(150.0) for side in ("left", "right") for k in (1, 2)}
    lines = slit("a slit", 1, (75.0, HEM), (75.0, HEM + LONG)) + slit(
        "b slit", 2, (75.0, HEM), (75.0, HEM + LONG)
    )
    said = Gore("a", slit="a slit"), Gore("b", slit="b slit")
    drawing = read_svg(gored_svg({"a": wedge(LONG), "b": wedge(LONG)}, panels=panels, extra=lines))
    found = assemble(drawing, Reading(gores=said))
    names = [panel.name for panel in found]
    assert sorted(names) == sorted([*panels, "a", "b"])
    assert found.open_edges() == {
        (0, "back"),
        (names.index("left 1"), "front"),
        (names.index("right 1"), "front"),
        (names.index("right 2"), "back"),
    }
    with pytest.raises(PatternError, match="one half of the pattern has 1 gore, the other 0"):
        assemble(drawing, Reading(gores=said[:1], leave_out=("b", "b slit")))


def test_a_panel_across_the_centre_front_has_no_slit() -> None:
    panels = {"left": box(200.0), "middle": box(200.0), "right": box(200.0)}
    line = slit("hip slit", 1, (100.0, HEM), (100.0, HEM + LONG))
    drawing = read_svg(gored_svg({"gore": wedge(LONG)}, panels=panels, extra=line))
    with pytest.raises(PatternError, match="lies across the centre front"):
        assemble(drawing, Reading(gores=(IN_SLIT,), order=tuple(panels), halves="full"))

"""Drawings that tempt a reader into another pattern, each with what it really is.

Made as an enemy would make them: one thing is drawn that a program or a maker does draw, and the
pattern must come out as it is, or be refused with its cause. All from one invented figure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final
from xml.sax.saxutils import escape

import numpy as np
from shapely import box
from shapely.affinity import translate

from panelshift import PanelshiftError, Reading
from panelshift.job import JobFile, resolve
from panelshift.job.drafted import read_pattern as read_job_pattern
from panelshift.job.said import check_pattern
from panelshift.outline import Curve
from panelshift.outline.measure import length, position_at_length
from panelshift.outline.planar import polygon
from panelshift.sources.svg import read_svg
from tests.routes.drafts import (
    DASHED,
    NAMES,
    SOLID,
    THIN,
    Draft,
    Placed,
    Truth,
    placed,
    plain_panel,
    sheet,
    truth,
)
from tests.routes.judging import Outcome, judge
from tests.support.drafts import Figure, PanelDraft, both_halves, path_data

FIGURE: Final = Figure(
    waists=(70.0, 78.0, 84.0, 68.0),
    bust=(1.2, 1.45, 1.25, 1.1),
    hip=(1.15, 1.3, 1.45, 1.2),
    shares=(0.0, 0.45, 0.5, 0.85),
)


def panels() -> list[PanelDraft]:
    """Four panels of a half block, 300 mm at the waist."""
    return [replace(panel, name=name) for panel, name in zip(FIGURE.panels(), NAMES, strict=True)]


RED: Final = "fill:none;stroke:#ff0000;stroke-width:0.5"
WIDE: Final = (1600.0, 900.0)

SIZES: Final = ("size", "net_outline")
HALVES: Final = ("halves", "left or right")
WAIST: Final = ("waist",)
ALLOWANCE: Final = ("allowance",)


@dataclass(frozen=True)
class Case:
    """A drawing, what is said of it in the job file, and what it is."""

    draft: Draft
    reading: Reading | None = None
    plain: bool = False
    """Whether nothing but the right pattern will do."""


def judged(made: Case) -> Outcome:
    """What came of it: read, and held against its job as `panelshift check` does."""
    svg = made.draft.svg.encode()
    outcome = judge(made.draft, svg, made.reading)
    if outcome.verdict not in ("right", "WRONG"):
        return outcome
    said = made.reading or Reading()
    keys = {
        name: getattr(said, name)
        for name in ("drafted_waist", "size", "net_outline", "allowance_drawn", "halves")
    }
    keys = {name: value for name, value in keys.items() if value}
    fabric = {"fabric": [{"name": "cloth", "thickness": 0.5}]}
    job = JobFile.model_validate({"pattern": {"file": "draft.svg", **keys}, "stack": fabric})
    try:
        read = read_job_pattern(job, drawing=read_svg(svg))
        found = resolve(job, pattern=read, keep_faults=True)
    except PanelshiftError as error:
        words = f"{error.problem} {error.remedy}"
        named = any(word in words.lower() for word in made.draft.told)
        return Outcome("refused" if named else "refused for another reason", words)
    check = check_pattern(found.pattern, job, also=found.doubts)
    for kind, findings in (("refused", check.faults), ("warned", check.warnings)):
        for finding in findings:
            told = finding.code in made.draft.told
            told |= kind == "refused" and any(word in finding.words for word in made.draft.told)
            if told and (kind == "refused" or outcome.verdict == "WRONG"):
                return Outcome(kind, finding.words, outcome.off)  # type: ignore[arg-type]
    return outcome


MAKERS: Final[list[Callable[[], Case]]] = []


def made(maker: Callable[[], Case]) -> Callable[[], Case]:
    """Add a case."""
    MAKERS.append(maker)
    return maker


def case(
    about: str,
    body: str,
    real: Truth | None,
    told: Sequence[str],
    reading: Reading | None = None,
    *,
    size: tuple[float, float] = WIDE,
    plain: bool = False,
) -> Case:
    """One drawing; `told` are words of which a refusal must hold one."""
    return Case(Draft(about, about, sheet(body, *size), real, tuple(told)), reading, plain)


def scaled(curve: Curve, x: float, y: float) -> Curve:
    """A curve stretched about the middle of the waist."""
    return curve.transformed(np.array([[x, 0.0, 0.0], [0.0, y, 0.0]]))


def buffered(curve: Curve, by: float) -> Curve:
    """A mitred line so far outside a panel, or inside it."""
    ring = polygon(curve).buffer(by, join_style="mitre")
    return Curve.polyline(np.asarray(ring.exterior.coords)[:-1], closed=True)


def graded(panel: PanelDraft, sides: float, ends: float, front: float | None = None) -> Curve:
    """The panel in another size: its sides moved outwards, its ends up and down.

    Ends that stay where they are run on along their own lines.
    """
    first = sides if front is None else front
    runs = []
    for edge, step in ((panel.front, -first), (panel.back, sides)):
        low, high = float(edge.start[1]), float(edge.end[1])
        control = edge.control.copy()
        control[..., 0] += step
        y = control[..., 1]
        up, down = (0.0, 0.0) if ends else (step * _slope(panel, end) for end in ("end", "start"))
        control[..., 1] = np.where(
            y > 0.0, y * (high + ends + up) / high, y * (low - ends + down) / low
        )
        runs.append(Curve(control, edge.degree))
    one, two = runs
    over = [Curve.polyline([one.end, two.end]), Curve.polyline([two.start, one.start])]
    return Curve.chain([one, over[0], two.reversed(), over[1]], closed=True)


def _slope(panel: PanelDraft, end: str) -> float:
    step = getattr(panel.back, end) - getattr(panel.front, end)
    return float(step[1] / step[0])


def drawn(
    draw: Callable[[Placed], str], of: Sequence[PanelDraft] | None = None, **place: float
) -> str:
    """All panels of the figure, or others."""
    return "".join(draw(item) for item in placed(of or panels(), **place))


def basic(item: Placed, *, style: str = SOLID, over: float = 8.0) -> str:
    """An outline with its name, and a waistline that runs on beyond it."""
    return item.path(item.panel.outline(), style, item.panel.name) + item.across(
        0.0, THIN, f"waist {item.panel.name}", over
    )


HALF: Final = truth(panels())

# -- two sizes ----------------------------------------------------------------------------


def two(
    inner: Callable[[PanelDraft], Curve],
    outer: Callable[[PanelDraft], Curve],
    *,
    names: tuple[str, str] = ("", ""),
    styles: tuple[str, str] = (SOLID, SOLID),
    words: tuple[str, str] = ("", ""),
    waists: bool = False,
    over: float = 20.0,
    layers: tuple[str, str] = ("", ""),
) -> str:
    """Two outlines round each other on every panel."""
    bodies = []
    for k, shape in enumerate((inner, outer)):

        def draw(item: Placed, k: int = k, shape: Callable[[PanelDraft], Curve] = shape) -> str:
            curve = shape(item.panel)
            name = f"{item.panel.name} {names[k]}" if names[k] else ""
            if not any(names) and k == 0:
                name = item.panel.name
            body = item.path(curve, styles[k], name)
            if words[k]:
                corner = curve.bounds()[0]
                body += item.word(words[k], float(corner[0]), float(corner[1]) + 1.0, 3.0)
            if waists:
                low, high = curve.bounds()[:, 0]
                line = Curve.polyline([(low - 1.0 - k, 0.0), (high + 1.0 + k, 0.0)])
                body += item.path(line, THIN, f"waist {k} {item.panel.name}")
            return body

        body = drawn(draw)
        bodies.append(f'<g id="{layers[k]}">{body}</g>' if layers[k] else body)
    if not waists:
        bodies.append(drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", over)))
    return "".join(bodies)


def net(panel: PanelDraft) -> Curve:
    return panel.outline()


def cut(by: float) -> Callable[[PanelDraft], Curve]:
    return lambda panel: buffered(panel.outline(), by)


def by_scale(x: float, y: float) -> Callable[[PanelDraft], Curve]:
    return lambda panel: scaled(panel.outline(), x, y)


def by_grade(
    sides: float, ends: float, front: float | None = None
) -> Callable[[PanelDraft], Curve]:
    return lambda panel: graded(panel, sides, ends, front)


@made
def two_scaled_sizes() -> Case:
    return case("two sizes, 6 % apart", two(net, by_scale(1.06, 1.06)), None, SIZES)


@made
def two_scaled_sizes_far() -> Case:
    return case("two sizes, 20 % apart", two(net, by_scale(1.2, 1.2)), None, SIZES)


@made
def two_scaled_sizes_across() -> Case:
    return case("two sizes, 10 % wider, as high", two(net, by_scale(1.1, 1.0)), None, SIZES)


@made
def two_scaled_sizes_little() -> Case:
    return case("two sizes, 1.5 % apart", two(net, by_scale(1.015, 1.015)), None, SIZES)


@made
def two_graded_sizes() -> Case:
    return case("two sizes, 3 mm a side edge", two(net, by_grade(3.0, 0.0)), None, SIZES)


@made
def two_graded_sizes_higher() -> Case:
    return case("two sizes, 4 mm a side, 6 mm higher", two(net, by_grade(4.0, 6.0)), None, SIZES)


@made
def two_graded_sizes_at_the_sides() -> Case:
    body = two(net, by_grade(4.0, 3.0, 0.0))
    return case("two sizes, graded at the back edges only", body, None, SIZES)


@made
def two_sizes_by_words() -> Case:
    body = two(net, by_grade(6.0, 6.0), words=("size 36", "size 38"))
    return case("two sizes 6 mm apart, told by words", body, None, SIZES)


@made
def two_sizes_by_letters() -> Case:
    body = two(net, by_grade(6.0, 6.0), words=("S", "M"))
    return case("two sizes 6 mm apart, told by letters", body, None, SIZES)


@made
def two_sizes_by_layers() -> Case:
    body = two(net, by_grade(6.0, 6.0), layers=("36", "38"))
    return case("two sizes 6 mm apart, told by layers", body, None, SIZES)


@made
def two_sizes_by_names() -> Case:
    body = two(net, by_grade(6.0, 6.0), names=("size 36", "size 38"))
    return case("two sizes 6 mm apart, told by names", body, None, SIZES)


@made
def two_sizes_with_waists() -> Case:
    body = two(net, by_grade(7.0, 7.0), waists=True)
    return case("two sizes 7 mm apart, each with its waistline", body, None, SIZES)


@made
def two_sizes_named_picked() -> Case:
    body = two(net, by_scale(1.06, 1.06))
    return case("two sizes, the inner one asked for", body, HALF, SIZES, Reading(size="1"))


@made
def two_sizes_outer_picked() -> Case:
    body = two(by_scale(0.94, 0.94), net)
    return case("two sizes, the outer one asked for", body, HALF, SIZES, Reading(size="outermost"))


@made
def two_sizes_outer_beyond_its_waistline() -> Case:
    body = two(by_scale(0.9, 0.9), net, over=-3.0)
    picked = Reading(size="2")
    return case("two sizes, the outer one not reached by its line", body, HALF, SIZES, picked)


@made
def two_sizes_unreached() -> Case:
    body = two(by_scale(0.85, 0.85), net, over=-3.5)
    return case("two sizes, a waistline up to the inner", body, None, SIZES)


@made
def three_close_sizes() -> Case:
    grown = drawn(lambda i: i.path(scaled(i.panel.outline(), 1.015, 1.0), SOLID))
    body = two(net, by_scale(1.03, 1.0)) + grown
    return case("three sizes, 1.5 % apart", body, None, ("size",))


@made
def three_close_sizes_picked() -> Case:
    grown = drawn(lambda i: i.path(scaled(i.panel.outline(), 1.015, 1.0), SOLID))
    body = two(net, by_scale(1.03, 1.0)) + grown
    return case("three sizes, 1.5 % apart, the inner one", body, HALF, SIZES, Reading(size="1"))


@made
def two_sizes_with_drafted_waist() -> Case:
    body = two(net, by_scale(1.06, 1.06))
    said = Reading(drafted_waist=HALF.waist)
    return case("two sizes, the inner one as drafted", body, HALF, SIZES, said)


@made
def two_sizes_outer_as_drafted() -> Case:
    body = two(by_scale(0.94, 0.94), net)
    said = Reading(drafted_waist=HALF.waist)
    return case("two sizes, the outer one as drafted", body, HALF, SIZES, said)


@made
def two_sizes_on_one_panel() -> Case:
    def draw(item: Placed) -> str:
        body = basic(item, over=20.0)
        if item.panel.name.startswith("2"):
            body += item.path(scaled(item.panel.outline(), 1.08, 1.04), SOLID)
        return body

    return case("two sizes of one panel only", drawn(draw), None, SIZES)


@made
def two_sizes_that_share_the_front() -> Case:
    body = two(net, by_grade(9.0, 8.0, 0.0))
    return case("two sizes with one centre front line", body, None, SIZES)


@made
def two_sizes_that_cross() -> Case:
    body = two(net, lambda p: scaled(p.outline(), 1.08, 0.97))
    return case("two sizes that cross, the larger lower", body, None, ("size",))


# -- allowances ---------------------------------------------------------------------------


def allowed(by: float, **how: object) -> str:
    return two(net, cut(by), **how)  # type: ignore[arg-type]


for _by in (6.0, 10.0, 15.0, 25.0):

    def _allowance(by: float = _by) -> Case:
        return case(
            f"allowance of {by:g} mm round the net line", allowed(by), HALF, SIZES, plain=True
        )

    MAKERS.append(_allowance)


@made
def narrow_allowance_with_words() -> Case:
    word = drawn(lambda i: i.word("seam allowance 3 mm", i.low + 8.0, 30.0, 3.0))
    return case("allowance of 3 mm, told by words", allowed(3.0) + word, HALF, SIZES)


@made
def narrow_allowance_stated() -> Case:
    said = Reading(net_outline="inner")
    return case("allowance of 3 mm, stated", allowed(3.0), HALF, SIZES, said)


@made
def allowance_of_the_ends_bound() -> Case:
    body = two(net, by_grade(10.0, 0.0))
    return case("allowance at the side edges, ends bound", body, HALF, SIZES)


def only_beyond(panel: PanelDraft, low: float) -> Curve:
    """A cut line 10 mm round a panel, but along its straight front edge."""
    ring = polygon(panel.outline()).buffer(10.0, join_style="mitre")
    rest = ring.intersection(box(low, -999.0, 999.0, 999.0))
    return Curve.polyline(np.asarray(rest.exterior.coords)[:-1], closed=True)


@made
def allowance_on_the_fold() -> Case:
    def draw(item: Placed) -> str:
        front = float(item.panel.front.start[0])
        low = front if item.panel.name.startswith("1") else -999.0
        return item.path(only_beyond(item.panel, low), DASHED)

    body = drawn(draw) + drawn(lambda i: basic(i, over=14.0))
    return case("allowance, none at the fold", body, HALF, SIZES, plain=True)


@made
def allowance_wider_at_the_back() -> Case:
    def draw(item: Placed) -> str:
        ring = polygon(item.panel.outline()).buffer(10.0, join_style="mitre")
        if item.panel.name.startswith("4"):
            ring = ring.union(translate(ring, 20.0))
        return item.path(Curve.polyline(np.asarray(ring.exterior.coords)[:-1], closed=True), DASHED)

    body = drawn(draw) + drawn(lambda i: basic(i, over=34.0))
    return case("allowance, wider at the lacing", body, HALF, SIZES)


@made
def allowance_alone_said() -> Case:
    word = drawn(lambda i: i.word("incl. seam allowance 10 mm", i.low + 8.0, 30.0, 3.0))
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    return case("allowance drawn in, told by words", body + word, None, ALLOWANCE)


@made
def allowance_alone_by_drafted() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    said = Reading(drafted_waist=HALF.waist)
    return case("allowance drawn in, drafted waist stated", body, None, ALLOWANCE, said)


@made
def allowance_in_the_name() -> Case:
    def draw(item: Placed) -> str:
        name = f"{item.panel.name} with allowance"
        return item.path(buffered(item.panel.outline(), 10.0), SOLID, name) + item.across(
            0.0, THIN, f"waist {item.panel.name}", 14.0
        )

    return case("the only outline named with allowance", drawn(draw), None, ALLOWANCE)


@made
def cut_line_alone() -> Case:
    def draw(item: Placed) -> str:
        name = f"{item.panel.name} cut line"
        return item.path(buffered(item.panel.outline(), 10.0), SOLID, name) + item.across(
            0.0, THIN, f"waist {item.panel.name}", 14.0
        )

    return case("the only outline named cut line", drawn(draw), None, ("allowance", "cut line"))


@made
def cut_lines_in_a_layer_net_lines_gone() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body = f'<g id="Cutting lines">{body}</g>'
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    return case("outlines in a layer of cutting lines", body, None, ("allowance", "cut"))


@made
def words_of_allowance_on_some() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    body += '<text x="60" y="600" style="font-size:6px">SA 1 cm included in all pieces</text>'
    return case("allowance said in short in a corner", body, None, ALLOWANCE)


@made
def allowance_on_some_panels() -> Case:
    def draw(item: Placed) -> str:
        body = basic(item, over=14.0)
        if item.panel.name[0] in "12":
            body += item.path(buffered(item.panel.outline(), 10.0), DASHED)
        return body

    return case("allowance round two of four panels", drawn(draw), HALF, SIZES)


@made
def net_lines_on_some_panels() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(buffered(item.panel.outline(), 10.0), SOLID, item.panel.name)
        if item.panel.name[0] in "12":
            body += item.path(item.panel.outline(), DASHED)
        return body + item.across(0.0, THIN, f"waist {item.panel.name}", 14.0)

    return case("net lines in two of four cut lines", drawn(draw), None, ("outline", "allowance"))


# -- half or full -------------------------------------------------------------------------


def row(names: Sequence[str], *, both: bool, words: str = "") -> str:
    of = both_halves(panels()) if both else panels()
    of = [replace(panel, name=name) for panel, name in zip(of, names, strict=True)]

    def draw(item: Placed) -> str:
        body = basic(item, over=2.0)
        return body + (item.word(words, item.low + 10.0, 30.0) if words else "")

    return drawn(draw, of)


def both_truth() -> Truth:
    found = truth(both_halves(panels()), full=True)
    left = tuple(edges[::-1] for edges in found.edges[:4])
    return replace(found, edges=left + found.edges[4:])


_EIGHT = {
    "L R": ("L4", "L3", "L2", "L1", "R1", "R2", "R3", "R4"),
    "left right": tuple(f"{k} {s}" for s, ks in (("left", "4321"), ("right", "1234")) for k in ks),
    "1 to 8": tuple(str(k) for k in range(1, 9)),
    "letters": tuple("abcdefgh"),
    "numbers twice": ("4", "3", "2", "1", "1 b", "2 b", "3 b", "4 b"),
    "CB CF CB": ("CB", "sb", "sf", "CF", "CF b", "sf b", "sb b", "CB b"),
}
for _key, _names in _EIGHT.items():

    def _full(key: str = _key, names: tuple[str, ...] = _names) -> Case:
        return case(f"both halves named {key}", row(names, both=True), both_truth(), HALVES)

    MAKERS.append(_full)


@made
def both_halves_cut_one() -> Case:
    body = row([f"piece {k}" for k in "abcdefgh"], both=True, words="cut 1")
    return case("both halves, each cut once", body, both_truth(), HALVES)


@made
def both_halves_with_cut_two() -> Case:
    body = row([f"piece {k}" for k in "abcdefgh"], both=True, words="cut 2")
    return case("both halves, though cut 2 (lining and shell)", body, both_truth(), HALVES)


@made
def a_half_named_by_one_side() -> Case:
    body = row([f"R{k}" for k in range(1, 5)], both=False)
    return case("a half named R1 to R4", body, HALF, HALVES)


@made
def a_half_numbered_from_the_back() -> Case:
    body = row(["4 front", "3", "2", "1 back"], both=False)
    return case("a half numbered from the back", body, HALF, HALVES)


@made
def a_half_block_of_equal_panels() -> Case:
    figure = replace(FIGURE, waists=(51.0,) * 6, bust=(1.2,) * 6, hip=(1.2,) * 6, shares=(0.5,) * 6)
    of = figure.panels()
    names = ["1 centre front", *"2345", "6 centre back"]
    of = [replace(panel, name=name) for panel, name in zip(of, names, strict=True)]
    return case(
        "a half of equal panels", drawn(lambda i: basic(i, over=2.0), of), truth(of), HALVES
    )


@made
def a_half_block_without_names() -> Case:
    figure = replace(
        FIGURE,
        waists=(51.0,) * 6,
        bust=(1.2,) * 6,
        hip=(1.2,) * 6,
        shares=(0.5, 0.5, 0.5, 0.5, 0.5, 0.5),
        straight_front=False,
    )
    of = [replace(panel, name="") for panel in figure.panels()]
    body = drawn(
        lambda i: i.path(i.panel.outline(), SOLID) + i.across(0.0, THIN, f"waist {i.low:.0f}"), of
    )
    return case("equal panels without names", body, truth(of), HALVES)


@made
def a_half_and_its_mirror_below() -> Case:
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    other = [
        PanelDraft(f"{p.name} b", p.back.transformed(mirror), p.front.transformed(mirror))
        for p in panels()
    ]
    body = drawn(basic) + drawn(basic, other, down=600.0)
    return case("both halves, one below the other", body, None, HALVES)


@made
def a_half_drawn_twice_apart() -> Case:
    other = [replace(p, name=f"{p.name} copy") for p in panels()]
    body = drawn(basic) + drawn(basic, other, down=600.0)
    return case("a half drawn twice on one sheet", body, None, (*HALVES, "twice", "copy"))


@made
def front_panel_whole() -> Case:
    whole = panels()[0]
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    back = whole.back
    first = PanelDraft("1 centre front", back.transformed(mirror), back)
    body = drawn(basic, [first, *panels()[1:]])
    return case("a centre front drawn whole beside halves", body, None, ("mirror image",))


@made
def front_panel_whole_unnamed() -> Case:
    whole = panels()[0]
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    first = PanelDraft("a", whole.back.transformed(mirror), whole.back)
    rest = [replace(p, name=n) for p, n in zip(panels()[1:], "bcd", strict=True)]
    body = drawn(basic, [first, *rest])
    return case(
        "a whole front beside halves, no names", body, None, ("mirror image", "whole-front")
    )


@made
def seven_panels_of_both_halves() -> Case:
    whole = panels()[0]
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    middle = PanelDraft("front", whole.back.transformed(mirror), whole.back)
    rest = panels()[1:]
    other = [
        PanelDraft(f"l{p.name}", p.back.transformed(mirror), p.front.transformed(mirror))
        for p in reversed(rest)
    ]
    of = [*other, middle, *[replace(p, name=f"r{p.name}") for p in rest]]
    of = [replace(p, name=n) for p, n in zip(of, "abcdefg", strict=True)]
    real = truth(of, full=True)
    left = tuple(edges[::-1] for edges in real.edges[:3])
    real = replace(real, edges=left + real.edges[3:])
    return case("seven panels right round the body", drawn(basic, of), real, HALVES)


# -- dashes -------------------------------------------------------------------------------


def dashes(
    item: Placed,
    v: float,
    *,
    on: float = 6.0,
    off: float = 3.0,
    over: float = 2.0,
    style: str = THIN,
    named: str = "",
    start: float = 0.0,
) -> str:
    """A line across a panel, each dash a line of its own."""
    begin, end = item.low - over, item.high + over
    body = ""
    for count, a in enumerate(np.arange(begin + start, end, on + off), 1):
        dash = Curve.polyline([(a, v), (min(a + on, end), v)])
        body += item.path(dash, style, named.format(k=count, panel=item.panel.name))
    return body


def dashed_case(
    about: str, draw: Callable[[Placed], str], *, space: float = 30.0, told: Sequence[str] = WAIST
) -> Case:
    of = placed(panels())
    left, moved = 40.0, []
    for item in of:
        matrix = item.matrix.copy()
        matrix[0, 2] = left - item.low
        moved.append(replace(item, matrix=matrix))
        left += item.high - item.low + space
    return case(about, "".join(map(draw, moved)), HALF, told)


for _named, _what in (
    ("", "without names"),
    ("waist {k}", "each named"),
    ("{panel} waist {k}", "by panel"),
):
    for _space in (30.0, 10.0, 4.0):

        def _dashed(named: str = _named, what: str = _what, space: float = _space) -> Case:
            def draw(item: Placed) -> str:
                body = item.path(item.panel.outline(), SOLID, item.panel.name)
                body += dashes(item, 0.0, named=named)
                return body + item.across(item.panel.levels["hip"], THIN)

            return dashed_case(
                f"a waistline in dashes {what}, {space:g} mm apart", draw, space=space
            )

        MAKERS.append(_dashed)


@made
def dotted_waistline() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += dashes(item, 0.0, on=0.4, off=1.6)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("a waistline of dots, a solid hip line", draw)


@made
def dash_dot_waistline() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += dashes(item, 0.0, on=8.0, off=8.0) + dashes(item, 0.0, on=1.0, off=15.0, start=11.5)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("a dash-dot waistline, a solid hip line", draw)


@made
def long_dashes() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += dashes(item, 0.0, on=30.0, off=12.0)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("a waistline of long dashes, a solid hip line", draw)


@made
def waist_solid_hip_dashed() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += item.across(0.0, THIN)
        return body + dashes(item, item.panel.levels["hip"])

    return dashed_case("a solid line at the waist, a dashed hip line, no names", draw)


@made
def waist_curved_dashes() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        low, high = item.low - 2.0, item.high + 2.0
        for a in np.arange(low, high, 5.0):
            u = np.array([a, min(a + 3.0, high)])
            body += item.path(Curve.polyline(np.column_stack([u, 0.0 * u])), THIN)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("short dashes with the last cut off", draw)


@made
def waist_line_in_two_halves() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        middle = 0.5 * (item.low + item.high)
        for a, b in ((item.low - 2.0, middle), (middle, item.high + 2.0)):
            body += item.path(Curve.polyline([(a, 0.0), (b, 0.0)]), THIN)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("a waistline in two halves, a whole hip line", draw)


@made
def waist_line_in_three_parts_with_gaps() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        reach = np.linspace(item.low - 2.0, item.high + 2.0, 4)
        for a, b in zip(reach[:-1], reach[1:] - 1.5, strict=True):
            body += item.path(Curve.polyline([(a, 0.0), (b, 0.0)]), THIN)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("a waistline in three parts, a whole hip line", draw)


@made
def only_ticks_at_the_waist() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        half = 0.5 * HALF.waists[int(item.panel.name[0]) - 1]
        for u in (-half, half):
            body += item.path(Curve.polyline([(u - 4.0, 0.0), (u + 4.0, 0.0)]), THIN)
        return body + item.across(item.panel.levels["hip"], THIN)

    return dashed_case("ticks at the waist, a line at the hip", draw)


@made
def hip_line_alone() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        return body + item.across(item.panel.levels["hip"], THIN, f"hip {item.panel.name}")

    return Case(replace(dashed_case("a hip line and no waist", draw).draft, truth=None))


@made
def word_beside_the_hip_line() -> Case:
    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += item.across(item.panel.levels["hip"], THIN)
        return body + item.word("hip", item.low + 12.0, item.panel.levels["hip"] + 2.0)

    return Case(
        replace(dashed_case("the only line has the word hip beside it", draw).draft, truth=None)
    )


# -- dashes alone, and rows of panels near each other ---------------------------------------


for _space in (3.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 14.0, 20.0):

    def _only_dashed(space: float = _space) -> Case:
        def draw(item: Placed) -> str:
            outline = item.path(item.panel.outline(), SOLID, item.panel.name)
            return outline + dashes(item, 0.0, over=0.0)

        about = f"a waistline in dashes alone, panels {space:g} mm apart"
        return dashed_case(about, draw, space=space)

    def _named_dashed(space: float = _space) -> Case:
        def draw(item: Placed) -> str:
            body = item.path(item.panel.outline(), SOLID, item.panel.name)
            body += dashes(item, 0.0, over=0.0, named="waist {k}")
            return body + dashes(item, item.panel.levels["hip"], over=0.0, named="hip {k}")

        about = f"dashes named by their lines, panels {space:g} mm apart"
        return dashed_case(about, draw, space=space)

    MAKERS += [_only_dashed, _named_dashed]


@made
def dashes_of_the_outline_too() -> Case:
    def draw(item: Placed) -> str:
        curve = item.panel.outline()
        size = float(length(curve))
        body = ""
        for a in np.arange(0.0, size - 6.0, 9.0):
            s = position_at_length(curve, [a, a + 6.0])
            body += item.path(curve.piece(float(s[0]), float(s[1])), SOLID)
        return body + item.across(0.0, THIN, f"waist {item.panel.name}", 6.0)

    return dashed_case("outlines in dashes", draw, told=("waist", "outline", "closed"))


# -- pieces left out ------------------------------------------------------------------------


def _piece(x: float, y: float, w: float, h: float, name: str = "", style: str = SOLID) -> str:
    label = f' id="{name}"' if name else ""
    return (
        f'<path{label} style="{style}" d="M{x} {y}h{w}c-4 {h / 3:.1f} -4 {2 * h / 3:.1f} 0 {h}'
        f'h{-w}c4 {-h / 3:.1f} 4 {-2 * h / 3:.1f} 0 {-h}Z"/>'
    )


for _name in ("yoke", "", "gore", "cup"):

    def _left_piece(name: str = _name) -> Case:
        body = drawn(basic) + _piece(700.0, 560.0, 130.0, 70.0, name)
        return case(f"a piece {name or 'without a name'} below", body, None, ("leave_out",))

    MAKERS.append(_left_piece)


@made
def a_gore_with_its_waist_named_hip() -> Case:
    body = drawn(basic) + _piece(700.0, 560.0, 60.0, 150.0, "gore")
    body += f'<path id="hip gore" style="{THIN}" d="M690 640H770"/>'
    return case("a gore with a hip line alone", body, None, ("leave_out",))


@made
def a_panel_whose_waistline_stops_short() -> Case:
    def draw(item: Placed) -> str:
        short = item.panel.name.startswith("3")
        return basic(item, over=-5.0 if short else 4.0)

    told = ("waistline", "leave_out")
    return case("a waistline that stops short of one panel", drawn(draw), None, told)


@made
def a_panel_whose_waistline_is_missing() -> Case:
    def draw(item: Placed) -> str:
        if item.panel.name.startswith("3"):
            return item.path(item.panel.outline(), SOLID, item.panel.name)
        return basic(item)

    return case("one panel without a waistline", drawn(draw), None, ("leave_out",))


@made
def a_panel_that_is_open() -> Case:
    def draw(item: Placed) -> str:
        if not item.panel.name.startswith("3"):
            return basic(item)
        curve = item.panel.outline()
        return item.path(curve.piece(0.0, len(curve) - 0.02), SOLID, item.panel.name) + item.across(
            0.0, THIN, f"waist {item.panel.name}", 6.0
        )

    return case("one panel with a gap", drawn(draw), None, ("open", "gap"))


@made
def a_panel_without_its_bottom() -> Case:
    def draw(item: Placed) -> str:
        if not item.panel.name.startswith("3"):
            return basic(item)
        curve = item.panel.outline()
        return item.path(curve.piece(0.0, len(curve) - 1.0), SOLID, item.panel.name) + item.across(
            0.0, THIN, f"waist {item.panel.name}", 6.0
        )

    return case("one panel without its bottom edge", drawn(draw), None, ("open", "gap"))


@made
def a_panel_of_loose_pieces() -> Case:
    def draw(item: Placed) -> str:
        if not item.panel.name.startswith("3"):
            return basic(item)
        shift = np.array([[1.0, 0.0, 1.5], [0.0, 1.0, 1.5]])
        p = item.panel
        over = Curve.polyline([p.front.end, p.back.end]).transformed(shift)
        under = Curve.polyline([p.front.start, p.back.start]).transformed(shift)
        body = "".join(item.path(c, SOLID) for c in (p.front, over, p.back, under))
        return body + item.across(0.0, THIN, f"waist {p.name}", 6.0)

    told = ("open", "gap", "join")
    return case("one panel in pieces 2 mm apart", drawn(draw), None, told)


@made
def a_panel_in_pieces_far_apart_alone() -> Case:
    def draw(item: Placed) -> str:
        p = item.panel
        body = item.path(p.front, SOLID) + item.path(p.back, SOLID)
        return body + item.across(0.0, THIN, f"waist {p.name}", 6.0)

    return case("side edges alone", drawn(draw), None, ("closed", "open", "Close"))


@made
def a_panel_drawn_from_its_neighbour() -> Case:
    """Panels that share their seams: drawn once for both."""
    items = placed(panels())
    body = items[0].path(items[0].panel.outline(), SOLID, "a")
    edge = items[0].panel.back
    right = edge.transformed(np.array([[1.0, 0.0, 80.0], [0.0, 1.0, 0.0]]))
    for c in (
        Curve.polyline([edge.end, right.end]),
        Curve.polyline([edge.start, right.start]),
        right,
    ):
        body += items[0].path(c, SOLID)
    low, high = items[0].low - 5.0, items[0].high + 90.0
    body += items[0].path(Curve.polyline([(low, 0.0), (high, 0.0)]), THIN, "waist")
    return case("two panels that share a seam line", body, None, ("open", "gap", "closed", "piece"))


@made
def a_second_garment_with_its_own_waists() -> Case:
    half = [replace(p, name=f"belt {p.name}") for p in panels()]
    short = [
        PanelDraft(p.name, *(scaled(e, 1.0, 0.5) for e in (p.front, p.back)), p.levels)
        for p in half
    ]
    body = drawn(basic) + drawn(basic, short, down=600.0)
    return case("a second garment on the sheet", body, None, ("halves", "copy", "half", "names"))


@made
def panels_twice_one_hidden_by_style() -> Case:
    hidden = drawn(lambda i: i.path(scaled(i.panel.outline(), 0.9, 0.9), SOLID, "old"))
    body = f'<g style="display:none">{hidden}</g>' + drawn(basic)
    return case("an older version hidden by display none", body, HALF, SIZES, plain=True)


@made
def panels_twice_one_invisible() -> Case:
    hidden = drawn(lambda i: i.path(scaled(i.panel.outline(), 0.9, 0.9), SOLID, "old"))
    body = f'<g style="visibility:hidden">{hidden}</g>' + drawn(basic)
    return case("an older version not visible", body, HALF, (*SIZES, "not-read"))


@made
def panels_twice_one_transparent() -> Case:
    hidden = drawn(lambda i: i.path(scaled(i.panel.outline(), 0.9, 0.9), SOLID, "old"))
    body = f'<g style="opacity:0">{hidden}</g>' + drawn(basic)
    return case("an older version without opacity", body, HALF, SIZES)


@made
def white_older_version() -> Case:
    white = "fill:none;stroke:#ffffff;stroke-width:0.5"
    hidden = drawn(lambda i: i.path(scaled(i.panel.outline(), 0.9, 0.9), white, "old"))
    return case("an older version in white", hidden + drawn(basic), HALF, SIZES)


@made
def an_older_waistline() -> Case:
    old = drawn(lambda i: i.across(14.0, THIN, f"old waist {i.panel.name}", 6.0))
    return case("two waistlines on each panel", old + drawn(basic), None, ("waistlines",))


@made
def an_older_waistline_hidden() -> Case:
    old = drawn(lambda i: i.across(14.0, THIN, f"old waist {i.panel.name}", 6.0))
    body = f'<g style="display:none">{old}</g>' + drawn(basic)
    return case("an older waistline hidden", body, HALF, ("waistlines",), plain=True)


@made
def waistline_named_on_the_hip() -> Case:
    """The line that is called waist lies at the hip on one panel."""

    def draw(item: Placed) -> str:
        v = item.panel.levels["hip"] if item.panel.name.startswith("2") else 0.0
        return item.path(item.panel.outline(), SOLID, item.panel.name) + item.across(
            v, THIN, f"waist {item.panel.name}", 6.0
        )

    told = ("seam", "waist")
    return case("a waistline at the hip of one panel", drawn(draw), None, told)


# -- pages and scale ------------------------------------------------------------------------


for _width in (300.0, 520.0, 181.0):

    def _page(width: float = _width) -> Case:
        body = drawn(plain_panel)
        return case(
            f"a page {width:g} mm wide cuts it off", body, None, ("page",), size=(width, 440.0)
        )

    MAKERS.append(_page)


@made
def page_clipped_for_good() -> Case:
    """Outlines end in the page's edge, closed along it."""
    ring = [polygon(i.panel.outline().transformed(i.matrix)) for i in placed(panels())]
    page = box(0.0, 0.0, 330.0, 440.0)
    body = ""
    for k, one in enumerate(ring):
        part = one.intersection(page)
        if not part.is_empty:
            points = " ".join(f"{x:.3f},{y:.3f}" for x, y in part.exterior.coords[:-1])
            body += f'<polygon id="p{k}" style="{SOLID}" points="{points}"/>'
    body += f'<path id="waist" style="{THIN}" d="M10 230H330"/>'
    return case("outlines closed along the page's edge", body, None, ("page",), size=(330.0, 440.0))


@made
def page_that_ends_between_panels() -> Case:
    """The first page of two: its panels are whole."""
    body = "".join(plain_panel(item) for item in placed(panels())[:2])
    said = Reading(drafted_waist=HALF.waist)
    return case("two of four panels, drafted waist stated", body, None, ("missing",), said)


@made
def px_without_a_unit() -> Case:
    svg = sheet(drawn(basic), *WIDE).replace('mm"', '"')
    draft = Draft("a drawing in px", "", svg, None, ("scale-unchecked",))
    return Case(draft)


@made
def inches_for_mm() -> Case:
    svg = sheet(drawn(basic), *WIDE).replace(
        'width="1600mm" height="900mm"', 'width="1600in" height="900in"'
    )
    return Case(
        Draft("a drawing in inches for mm", "", svg, None, ("m", "scale", "waist", "large"))
    )


@made
def shrunk_by_a_printer() -> Case:
    body = f'<g transform="scale(0.94)">{drawn(basic)}</g>'
    said = Reading(drafted_waist=HALF.waist)
    return case("all lines 6 % smaller, drafted waist stated", body, None, ("scale",), said)


# -- gaps, duplicates, order ----------------------------------------------------------------


@made
def outlines_twice_a_little_off() -> Case:
    def draw(item: Placed) -> str:
        shift = np.array([[1.0, 0.0, 0.4], [0.0, 1.0, 0.3]])
        return basic(item) + item.path(item.panel.outline().transformed(shift), SOLID)

    return case(
        "outlines drawn twice, 0.5 mm off", drawn(draw), None, ("top of each other", "drawn")
    )


@made
def outlines_twice_far_off() -> Case:
    def draw(item: Placed) -> str:
        shift = np.array([[1.0, 0.0, 6.0], [0.0, 1.0, 3.0]])
        return basic(item, over=20.0) + item.path(item.panel.outline().transformed(shift), SOLID)

    return case("outlines drawn twice, 7 mm off", drawn(draw), None, ("top of each other", "drawn"))


@made
def a_gap_wider_than_the_tolerance_raised() -> Case:
    def draw(item: Placed) -> str:
        p = item.panel
        shift = np.array([[1.0, 0.0, 1.0], [0.0, 1.0, 1.0]])
        over = Curve.polyline([p.front.end, p.back.end]).transformed(shift)
        under = Curve.polyline([p.front.start, p.back.start]).transformed(shift)
        body = "".join(item.path(c, SOLID) for c in (p.front, over, p.back, under))
        return body + item.across(0.0, THIN, f"waist {p.name}", 6.0)

    return case("gaps of 1.4 mm", drawn(draw), None, ("open", "gap"))


@made
def names_that_contradict_places() -> Case:
    """Numbers run against the places: the pattern follows the numbers, and its seams must walk."""
    names = ("1 centre front", "3 side back", "2 side front", "4 centre back")
    of = [replace(p, name=n) for p, n in zip(panels(), names, strict=True)]
    real = truth([of[0], of[2], of[1], of[3]])
    return case("panels numbered against their places", drawn(basic, of), real, ("seam", "order"))


@made
def front_on_the_right() -> Case:
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    of = [
        PanelDraft(p.name, p.back.transformed(mirror), p.front.transformed(mirror), p.levels)
        for p in reversed(panels())
    ]
    return case("centre front on the right", drawn(basic, of), HALF, HALVES, plain=True)


@made
def upside_down() -> Case:
    body = f'<g transform="rotate(180 800 450)">{drawn(plain_panel)}</g>'
    return case("upside down, levels named", body, HALF, HALVES, plain=True)


@made
def upside_down_without_levels() -> Case:
    body = f'<g transform="rotate(180 800 450)">{drawn(basic)}</g>'
    return case("upside down, no level named", body, HALF, ("upside", "top", "seam"))


# -- allowance taken off --------------------------------------------------------------------


TEN: Final = dict.fromkeys(("seam", "centre_front", "centre_back", "top", "bottom"), 10.0)


@made
def allowance_taken_off() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    said = Reading(allowance_drawn=TEN)
    return case("allowance drawn in, stated", body, HALF, ALLOWANCE, said)


@made
def allowance_taken_off_though_net_lines_are_drawn() -> Case:
    said = Reading(allowance_drawn=TEN)
    return case("net and cut line, and allowance stated", allowed(10.0), HALF, ALLOWANCE, said)


@made
def allowance_taken_off_though_named_net_lines_are_drawn() -> Case:
    body = two(net, cut(10.0), names=("stitch line", "cut line"))
    said = Reading(allowance_drawn=TEN)
    return case("named net and cut line, and allowance stated", body, HALF, ALLOWANCE, said)


@made
def allowance_of_the_wrong_width() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    said = Reading(allowance_drawn=dict.fromkeys(TEN, 15.0), drafted_waist=HALF.waist)
    return case("allowance stated too wide, waist stated", body, None, ("allowance", "waist"), said)


@made
def words_of_an_allowance_alone() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    word = '<text x="60" y="600" style="font-size:6px">seam allowance 10 mm</text>'
    return case("seam allowance 10 mm, included or not", body + word, None, ALLOWANCE)


@made
def words_of_a_cutting_line() -> Case:
    body = drawn(lambda i: i.path(buffered(i.panel.outline(), 10.0), SOLID, i.panel.name))
    body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 14.0))
    body += drawn(lambda i: i.word("cutting line", i.low + 8.0, 60.0, 3.0))
    return case("the words cutting line on cut lines alone", body, None, ALLOWANCE)


@made
def words_that_deny_an_allowance() -> Case:
    word = '<text x="60" y="600" style="font-size:6px">no seam allowance included</text>'
    return case("no seam allowance, by words", drawn(basic) + word, HALF, ALLOWANCE, plain=True)


# -- traced and stroked ---------------------------------------------------------------------


def outlined_twice(item: Placed, by: float, step: float, style: str) -> str:
    """The two sides of a panel's line, as a tracing of a picture leaves them."""
    ring, d = polygon(item.panel.outline()), ""
    for side in (by, -by):
        part = ring.buffer(side, join_style="mitre").exterior
        along = np.arange(0.0, part.length, step)
        points = [part.interpolate(a) for a in along]
        curve = Curve.polyline([(p.x, p.y) for p in points], closed=True)
        d += path_data(curve.transformed(item.matrix))
    return f'<path style="{style}" d="{d}"/>'


@made
def traced_picture() -> Case:
    fill = "fill:#000000;fill-rule:evenodd;stroke:none"

    def draw(item: Placed) -> str:
        low, high = item.low - 2.0, item.high + 2.0
        bar = Curve.polyline([(low, 0.3), (high, 0.3), (high, -0.3), (low, -0.3)], closed=True)
        return outlined_twice(item, 0.5, 2.0, fill) + item.path(bar, fill)

    return case("a traced picture", drawn(draw), None, ("traced",))


@made
def traced_picture_with_a_waistline_drawn() -> Case:
    fill = "fill:#000000;fill-rule:evenodd;stroke:none"

    def draw(item: Placed) -> str:
        return outlined_twice(item, 0.5, 2.0, fill) + item.across(0.0, THIN, "waist", 8.0)

    return case("a traced picture, waistlines drawn on it", drawn(draw), None, ("traced",))


@made
def traced_by_a_wide_pen() -> Case:
    fill = "fill:#000000;fill-rule:evenodd;stroke:none"

    def draw(item: Placed) -> str:
        return outlined_twice(item, 1.5, 2.0, fill) + item.across(0.0, THIN, "waist", 8.0)

    told = ("traced", "strokes", "size", "thick line")
    return case("a traced picture of a marker pen", drawn(draw), None, told)


@made
def strokes_turned_into_outlines_painted() -> Case:
    def draw(item: Placed) -> str:
        ring = polygon(item.panel.outline())
        body = ""
        for side in (0.4, -0.4):
            part = ring.buffer(side, join_style="mitre").exterior
            body += item.path(Curve.polyline(np.asarray(part.coords)[:-1], closed=True), SOLID)
        return body + item.across(0.0, THIN, f"waist {item.panel.name}", 8.0)

    told = ("strokes", "thick line")
    return case("the two sides of strokes, as lines", drawn(draw), None, told)


# -- nothing but the seams tells ------------------------------------------------------------


for _by in (6.0, 10.0, 12.7, 15.0):

    def _silent_allowance(by: float = _by) -> Case:
        body = drawn(lambda i: i.path(buffered(i.panel.outline(), by), SOLID, i.panel.name))
        body += drawn(lambda i: i.across(0.0, THIN, f"waist {i.panel.name}", 20.0))
        return case(f"allowance of {by:g} mm drawn in without a word", body, None, ALLOWANCE)

    MAKERS.append(_silent_allowance)


# -- only words, or seams, tell the order -----------------------------------------------------


def worded(of: Sequence[PanelDraft], words: Sequence[str]) -> str:
    """Panels without names in the file, in the order in which they lie, and a word on each."""
    body = ""
    for item, word in zip(placed(of), words, strict=True):
        body += item.path(item.panel.outline(), SOLID) + item.across(0.0, THIN, "", 8.0)
        body += item.word(word, item.low + 16.0, 30.0) if word else ""
    return body


@made
def laid_from_the_back() -> Case:
    mirrored = both_halves(panels())[:4]
    words = ["4 / cut 2", "3 / cut 2", "2 / cut 2", "1 / cut 2"]
    return case("laid from the back, by words", worded(mirrored, words), HALF, (), plain=True)


@made
def centre_backs_together() -> Case:
    mirrored = both_halves(panels())[:4]
    body = worded([*panels(), *mirrored], [*NAMES, *NAMES[::-1]])
    return case("both halves, centre backs together, by words", body, both_truth(), (), plain=True)


@made
def moved_to_fit_on_the_sheet() -> Case:
    own = panels()
    body = worded([own[k] for k in (2, 0, 3, 1)], [""] * 4)
    return case("panels moved about on the sheet, no words", body, None, ("order", "seam"))


@made
def called_a_quarter_of_its_size() -> Case:
    body = f'<g transform="scale(0.25)">{drawn(basic)}</g>'
    body += '<text x="20" y="150" style="font-size:4px">Scale 1:4</text>'
    return case("drawn at a quarter, and called so", body, None, ("scale",))


@made
def marked_at_the_waist() -> Case:
    def draw(item: Placed) -> str:
        edges = (item.panel.front, item.panel.back)
        joints = [np.vstack([edge.control[:, 0], edge.control[-1:, 3]]) for edge in edges]
        u = [float(at[int(np.argmin(np.abs(at[:, 1]))), 0]) for at in joints]
        ticks = "".join(
            item.path(
                Curve.polyline([(x, 0.0), (x + step, 0.0)]), THIN, f"waist {k} {item.panel.name}"
            )
            for k, (x, step) in enumerate(zip(u, (5.0, -5.0), strict=True))
        )
        return item.path(item.panel.outline(), SOLID, item.panel.name) + ticks

    return case("two marks at the waist", drawn(draw), HALF, ("waist",), plain=True)


# -- gentle corners -----------------------------------------------------------------------


def front_with_bottom(low: Curve) -> tuple[str, Truth]:
    """The first panel with another bottom, which leads from its front to its back."""
    first, *rest = panels()
    front, back = Curve.polyline([low.start, first.front.end]), first.back
    top = Curve.polyline([front.end, back.end])
    outline = Curve.chain([front, top, back.reversed(), low.reversed()], closed=True)
    one, *others = placed([first, *rest])
    body = one.path(outline, SOLID, first.name) + one.across(0.0, THIN, "waist 1", 8.0)
    edges = ((float(length(front)), HALF.edges[0][1]), *HALF.edges[1:])
    return body + "".join(map(basic, others)), replace(HALF, edges=edges)


for _degrees in (15.0, 25.0, 34.0):

    def _cutaway(degrees: float = _degrees) -> Case:
        start, end = panels()[0].front.start * [1.0, 0.4], panels()[0].back.start
        lean = np.radians(degrees)
        out = start + 30.0 * np.array([np.sin(lean), -np.cos(lean)])
        low = Curve.cubics(np.array([[start, out, end - [25.0, 0.0], end]]))
        body, real = front_with_bottom(low)
        about = f"a front cut away from {degrees:g} degrees beside the busk"
        return case(about, body, real, (), plain=True)

    MAKERS.append(_cutaway)


@made
def cut_away_in_a_straight_line() -> Case:
    start, end = panels()[0].front.start * [1.0, 0.2], panels()[0].back.start
    lines = Curve.polyline([start, end + [-20.0, 0.0], end])
    body, _ = front_with_bottom(lines)
    return case("a front cut away in a straight line", body, None, ("bends by",))


@made
def front_that_comes_down_to_a_blunt_tip() -> Case:
    start, end = panels()[0].front.start, panels()[0].back.start
    tip = start - [0.0, 120.0]
    body, real = front_with_bottom(Curve.polyline([tip, tip + [10.0, 0.0], end]))
    return case("a front down to a blunt tip", body, real, (), plain=True)


# -- the centre front at the right --------------------------------------------------------

for _note, _x, _y in (
    ("CF at the right", 300.0, 430.0),
    ("Centre front is on the right, centre back on the left", 300.0, 430.0),
    ("<- centre back", 300.0, 430.0),
    ("CF →", 300.0, 430.0),
    ("CF", 0.0, 150.0),
    ("busk edge", -25.0, 150.0),
):

    def _noted(note: str = _note, x: float = _x, y: float = _y) -> Case:
        mirrored = both_halves(panels())[:4]
        body, last = worded(mirrored, [""] * 4), placed(mirrored)[-1]
        right = x if x > 0.0 else float(last.matrix[0, 2]) + last.high + 3.0 + x
        body += f'<text x="{right:g}" y="{y:g}" style="font-size:4px">{escape(note)}</text>'
        return case(f"without names, and the note {note}", body, None, ("elsewhere",))

    MAKERS.append(_noted)


# -- rectangles that hold words -----------------------------------------------------------


def boxed(width: float, height: float, words: str) -> str:
    """The usual draft, and a rectangle below it with words in it."""
    box = f'<rect x="40" y="460" width="{width:g}" height="{height:g}" style="{SOLID}"/>'
    words = f'<text x="50" y="480" style="font-size:5px">{words}</text>'
    return drawn(basic) + box + words


for _words in ("binding, cut 1", "Scale 1:1", "Legend"):

    def _boxed(words: str = _words) -> Case:
        return case(f"a box with {words}", boxed(300.0, 50.0, words), HALF, (), plain=True)

    MAKERS.append(_boxed)


@made
def panel_without_its_waistline_called_to_scale() -> Case:
    body = boxed(60.0, 290.0, "Scale 1:1")
    return case("a straight panel without a waistline", body, None, ("no waistline crosses it",))


@made
def seam_drawn_a_little_wrong() -> Case:
    """One edge 1.3 mm longer than its mate, where the other seams would fit both ways round."""
    first, *rest = panels()
    low = first.back.start
    longer = low + [0.0, -1.3]
    back = Curve.chain([Curve.polyline([longer, low]), first.back])
    one = replace(first, back=back)
    edges = ((HALF.edges[0][0], HALF.edges[0][1] + 1.3), *HALF.edges[1:])
    real = replace(HALF, edges=edges)
    return case("a seam 1.3 mm off", drawn(basic, [one, *rest]), real, (), plain=True)


@made
def numbers_from_the_right_of_which_one_is_missing() -> Case:
    body = worded(both_halves(panels())[:4], ["4", "", "2", "1"])
    return case("numbers from right to left, one gone", body, None, ("the numbers on them",))


@made
def panels_that_lie_about_in_all_directions() -> Case:
    """Their places say nothing of their fronts, and their seams are about as long both ways."""
    body = ""
    for k, (item, turned) in enumerate(zip(placed(panels()), (200, 20, 60, -120), strict=True)):
        x = item.matrix[0, 2]
        body += (
            f'<g transform="translate({300 * k + 200} 400) rotate({turned}) translate({-x} -230)">'
        )
        body += basic(item) + item.across(item.panel.levels["hip"], THIN, f"hip {k}") + "</g>"
    return case("panels in all directions", body, HALF, (), plain=True)

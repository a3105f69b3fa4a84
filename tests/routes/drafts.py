"""Drafts that go wrong for one reason each, and what each really is.

All are drawn from formulas: the figure is invented. A draft is an SVG as its maker would have
it open in a drawing program: named, at true size, with words beside the lines. What a program
leaves of that is the matter of the test.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final
from xml.sax.saxutils import escape

import numpy as np

from panelshift.outline import Curve, FloatArray
from panelshift.outline.measure import length
from panelshift.outline.planar import polygon
from tests.support.drafts import Figure, PanelDraft, both_halves, path_data

SOLID: Final = "fill:none;stroke:#000000;stroke-width:0.5"
THIN: Final = "fill:none;stroke:#555555;stroke-width:0.3"
DASHED: Final = f"{THIN};stroke-dasharray:6 3"

FIGURE: Final = Figure(
    waists=(48.0, 52.0, 56.0, 44.0),
    bust=(1.2, 1.45, 1.25, 1.1),
    hip=(1.15, 1.3, 1.45, 1.2),
    shares=(0.0, 0.45, 0.5, 0.85),
)
NAMES: Final = ("1 centre front", "2 side front", "3 side back", "4 centre back")

_LEFT: Final = 40.0
_WAIST: Final = 230.0
_SPACE: Final = 30.0


@dataclass(frozen=True)
class Truth:
    """What a draft is: waist and side edges of each panel in mm, and whether both halves are there.

    `edges` are front and back.
    """

    waists: tuple[float, ...]
    edges: tuple[tuple[float, float], ...]
    full: bool = False

    @property
    def waist(self) -> float:
        """Of the whole body, without the gap."""
        return sum(self.waists) * (1.0 if self.full else 2.0)


@dataclass(frozen=True)
class Draft:
    """One draft.

    Parameters
    ----------
    cause : str
        Short name of what makes it hard.
    about : str
        The same as a phrase for people.
    svg : str
    truth : Truth or None
        None if nothing but a refusal is right.
    told : tuple of str
        A refusal must hold one of these words: they name the cause.
    """

    cause: str
    about: str
    svg: str
    truth: Truth | None
    told: tuple[str, ...]


def panels() -> list[PanelDraft]:
    """Four panels of an invented half block."""
    return [replace(panel, name=name) for panel, name in zip(FIGURE.panels(), NAMES, strict=True)]


def truth(drafts: Sequence[PanelDraft], *, full: bool = False) -> Truth:
    """What the panels measure, from their own curves."""
    waists = tuple(float(_at_waist(panel.back) - _at_waist(panel.front)) for panel in drafts)
    return Truth(
        waists,
        tuple((float(length(panel.front)), float(length(panel.back))) for panel in drafts),
        full,
    )


def _at_waist(edge: Curve) -> float:
    # Every edge has a joint at the waist.
    joints = np.vstack([edge.control[:, 0], edge.control[-1:, 3]])
    return float(joints[int(np.argmin(np.abs(joints[:, 1]))), 0])


@dataclass(frozen=True)
class Placed:
    """A panel on the sheet."""

    panel: PanelDraft
    matrix: FloatArray
    low: float
    high: float

    def path(self, curve: Curve, style: str, name: str = "") -> str:
        """A path element of a curve in the panel's coordinates."""
        label = f' id="{escape(name.replace(" ", "-"))}"' if name else ""
        return f'<path{label} style="{style}" d="{path_data(curve.transformed(self.matrix))}"/>'

    def across(self, height: float, style: str, name: str = "", over: float = 2.0) -> str:
        """A line across the panel."""
        u = _reach(self.panel, height)
        return self.path(
            Curve.polyline([(u[0] - over, height), (u[1] + over, height)]), style, name
        )

    def word(self, text: str, u: float, v: float, size: float = 4.0) -> str:
        """A word on the panel."""
        x, y = self.matrix[:, :2] @ np.array([u, v]) + self.matrix[:, 2]
        return f'<text x="{x:.3f}" y="{y:.3f}" style="font-size:{size:g}px">{escape(text)}</text>'


def _reach(panel: PanelDraft, height: float) -> tuple[float, float]:
    return tuple(
        float(np.interp(height, *_samples(edge).T[::-1])) for edge in (panel.front, panel.back)
    )  # type: ignore[return-value]


def _samples(edge: Curve) -> FloatArray:
    t = np.linspace(0.0, 1.0, 65)[:, None, None]
    p = edge.control
    points = (
        (1 - t) ** 3 * p[:, 0]
        + 3 * t * (1 - t) ** 2 * p[:, 1]
        + 3 * t**2 * (1 - t) * p[:, 2]
        + t**3 * p[:, 3]
    )
    return points.transpose(1, 0, 2).reshape(-1, 2)


def placed(drafts: Sequence[PanelDraft], left: float = _LEFT, down: float = _WAIST) -> list[Placed]:
    """Panels side by side, centre front on the left, v upwards."""
    found = []
    for panel in drafts:
        (low, _), (high, _) = panel.bounds()
        matrix = np.array([[1.0, 0.0, left - low], [0.0, -1.0, down]])
        found.append(Placed(panel, matrix, float(low), float(high)))
        left += float(high - low) + _SPACE
    return found


def sheet(body: str, width: float = 620.0, height: float = 440.0) -> str:
    """An SVG at true size."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">{body}</svg>'
    )


def plain_panel(item: Placed, *, waist: str = THIN, level: str = THIN) -> str:
    """Outline, waistline, two level lines and words."""
    panel = item.panel
    body = item.path(panel.outline(), SOLID, panel.name)
    body += item.across(0.0, waist, f"waist {panel.name}")
    for name in ("bust", "hip"):
        body += item.across(panel.levels[name], level, f"{name} {panel.name}")
    body += item.word(panel.name, item.low + 16.0, 30.0)
    body += item.word("waist", item.low + 16.0, 3.0)
    return body


def _of(panels_: Sequence[PanelDraft], draw: Callable[[Placed], str] = plain_panel) -> str:
    return sheet("".join(draw(item) for item in placed(panels_)))


# -- the drafts ---------------------------------------------------------------------------


def usual() -> Draft:
    """Everything as docs/marking-your-draft.md asks for it."""
    return Draft("usual", "drawn as the docs ask", _of(panels()), truth(panels()), ("waist",))


def waist_only() -> Draft:
    """No line across but the waist."""

    def draw(item: Placed) -> str:
        return (
            item.path(item.panel.outline(), SOLID, item.panel.name)
            + item.across(0.0, THIN, f"waist {item.panel.name}")
            + item.word(item.panel.name, item.low + 16.0, 30.0)
        )

    svg = _of(panels(), draw)
    return Draft("waist-only", "one line across each panel", svg, truth(panels()), ("waist",))


def dashed_waist() -> Draft:
    """A dashed waistline above a solid hip line."""

    def draw(item: Placed) -> str:
        body = item.path(item.panel.outline(), SOLID, item.panel.name)
        body += item.across(0.0, DASHED, f"waist {item.panel.name}")
        return body + item.across(item.panel.levels["hip"], THIN, f"hip {item.panel.name}")

    about = "a dashed waistline, a solid hip line"
    return Draft("dashed-waist", about, _of(panels(), draw), truth(panels()), ("waist",))


def sizes() -> Draft:
    """Three sizes nested on one waist, each with a dash of its own."""
    scales = (0.94, 1.0, 1.06)
    styles = (f"{SOLID};stroke-dasharray:2 2", SOLID, f"{SOLID};stroke-dasharray:8 3")
    body = ""
    for item in placed(panels(), down=_WAIST):
        for scale, style in zip(scales, styles, strict=True):
            grown = item.panel.outline().transformed(
                np.array([[scale, 0.0, 0.0], [0.0, scale, 0.0]])
            )
            body += item.path(grown, style, f"size {scale:g} {item.panel.name}")
        body += item.across(0.0, THIN, f"waist {item.panel.name}", over=6.0)
    return Draft("sizes", "three nested sizes", sheet(body), None, ("size",))


def full() -> Draft:
    """Both halves, called left and right."""
    both = both_halves(panels())
    svg = sheet("".join(plain_panel(item) for item in placed(both)), width=1240.0)
    found = truth(both, full=True)
    # Of the left half the edge that comes first on the sheet is the back one.
    left = tuple(edges[::-1] for edges in found.edges[: len(NAMES)])
    found = replace(found, edges=left + found.edges[len(NAMES) :])
    return Draft("full", "both halves", svg, found, ("halves", "waist"))


def allowance_in() -> Draft:
    """The cut line alone, 10 mm round the net one; the words say so."""

    def draw(item: Placed) -> str:
        grown = polygon(item.panel.outline()).buffer(10.0, join_style="mitre")
        outline = Curve.polyline(np.asarray(grown.exterior.coords)[:-1], closed=True)
        return (
            item.path(outline, SOLID, item.panel.name)
            + item.across(0.0, THIN, f"waist {item.panel.name}", over=14.0)
            + item.word("seam allowance 10 mm included", item.low + 6.0, 30.0, 3.0)
        )

    about = "seam allowance drawn in, no net line"
    return Draft("allowance-in", about, _of(panels(), draw), None, ("allowance",))


def short_panel() -> Draft:
    """A yoke above the side panel, which stops below the bust."""
    top, rest = 60.0, panels()
    svg = sheet(
        "".join(plain_panel(item) for item in placed(rest))
        + f'<path id="yoke" style="{SOLID}" d="M300 20H420C415 40 415 60 418 {20 + top}H302'
        'C306 60 306 40 300 20Z"/>'
    )
    about = "a yoke that no waistline crosses"
    return Draft("yoke", about, svg, None, ("yoke", "leave_out", "waist", "left out"))


def one_page() -> Draft:
    """One page of a print on several: the third panel runs off its edge."""
    svg = sheet("".join(plain_panel(item) for item in placed(panels())), width=300.0, height=440.0)
    return Draft("one-page", "one page of several", svg, None, ("page",))


def gaps() -> Draft:
    """Outlines in four pieces with gaps of 0.3 mm."""

    def draw(item: Placed) -> str:
        panel = item.panel
        shift = np.array([[1.0, 0.0, 0.15], [0.0, 1.0, 0.0]])
        top = Curve.polyline([panel.front.end, panel.back.end])
        bottom = Curve.polyline([panel.front.start, panel.back.start])
        body = item.path(panel.front, SOLID) + item.path(panel.back, SOLID)
        body += item.path(top.transformed(shift), SOLID)
        body += item.path(bottom.transformed(shift), SOLID)
        return body + item.across(0.0, THIN, f"waist {panel.name}")

    about = "outlines in pieces, 0.15 mm apart"
    return Draft("gaps", about, _of(panels(), draw), truth(panels()), ("gap", "waist", "open"))


def stroked() -> Draft:
    """Strokes turned into outlines: every line is two."""

    def draw(item: Placed) -> str:
        ring = polygon(item.panel.outline())
        d = ""
        for side in (0.4, -0.4):
            part = ring.buffer(side, join_style="mitre")
            d += path_data(
                Curve.polyline(np.asarray(part.exterior.coords)[:-1], closed=True).transformed(
                    item.matrix
                )
            )
        body = f'<path style="fill:#000000;fill-rule:evenodd;stroke:none" d="{d}"/>'
        u = _reach(item.panel, 0.0)
        bar = Curve.polyline(
            [(u[0] - 2, 0.3), (u[1] + 2, 0.3), (u[1] + 2, -0.3), (u[0] - 2, -0.3)], closed=True
        )
        return body + item.path(bar, "fill:#000000;stroke:none", f"waist {item.panel.name}")

    about = "strokes turned into outlines"
    return Draft("stroked", about, _of(panels(), draw), None, ("stroke", "twice", "outline"))


def _waists(item: Placed) -> str:
    return item.path(item.panel.outline(), SOLID, item.panel.name) + item.across(
        0.0, THIN, f"waist {item.panel.name}"
    )


SIX: Final = replace(
    FIGURE,
    waists=(44.0, 48.0, 56.0, 58.0, 54.0, 50.0),
    bust=(1.1, 1.3, 1.2, 1.15, 1.1, 1.05),
    hip=(1.1, 1.2, 1.4, 1.3, 1.2, 1.1),
    shares=(0.0, 0.45, 0.5, 0.55, 0.6, 0.9),
)
"""Six panels, 310 mm together at the waist."""


def symmetric_half() -> Draft:
    """A half of equal panels: its second three mirror its first three."""
    equal = replace(SIX, waists=(51.0,) * 6, bust=(1.2,) * 6, hip=(1.2,) * 6, shares=(0.5,) * 6)
    half = equal.panels()
    # Straight at the centre back as at the centre front.
    last = half[-1]
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    half[-1] = replace(
        last, front=half[0].back.transformed(mirror), back=half[0].front.transformed(mirror)
    )
    names = ("1 centre front", "2", "3", "4", "5", "6 centre back")
    half = [replace(panel, name=name) for panel, name in zip(half, names, strict=True)]
    svg = sheet("".join(map(_waists, placed(half))), width=800.0)
    about = "a half of equal panels, straight at both ends"
    return Draft("symmetric-half", about, svg, truth(half), ("halves", "one half"))


def numbered_full() -> Draft:
    """Both halves, their panels numbered through from 1 to 12."""
    both = [replace(p, name=str(k)) for k, p in enumerate(both_halves(SIX.panels()), 1)]
    found = truth(both, full=True)
    left = tuple(edges[::-1] for edges in found.edges[:6])
    svg = sheet("".join(map(_waists, placed(both))), width=1400.0)
    about = "both halves, numbered 1 to 12"
    real = replace(found, edges=left + found.edges[6:])
    return Draft("numbered-full", about, svg, real, ("halves", "one half"))


def whole_front() -> Draft:
    """The panel at the centre front drawn whole, beside those of one half."""
    half = SIX.panels()
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    half[0] = replace(half[0], front=half[0].back.transformed(mirror))
    names = ("1 centre front", "2", "3", "4", "5", "6 centre back")
    half = [replace(panel, name=name) for panel, name in zip(half, names, strict=True)]
    svg = sheet("".join(map(_waists, placed(half))), width=900.0)
    about = "a centre front drawn whole beside halves"
    return Draft("whole-front", about, svg, None, ("mirror image", "whole-front"))


def drafts() -> list[Draft]:
    """All of them."""
    return [
        make()
        for make in (
            usual,
            waist_only,
            dashed_waist,
            sizes,
            full,
            allowance_in,
            short_panel,
            one_page,
            gaps,
            stroked,
            symmetric_half,
            numbered_full,
            whole_front,
        )
    ]

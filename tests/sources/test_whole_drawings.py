"""Whole drawings as they are read from SVG, PDF and DXF, with all that is said of them.

Every curve with its control points, every word, name, colour and doubt: against what was looked
over by eye. When it is meant to change, look at the new one and then refresh it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest -m "" tests/sources/test_whole_drawings.py
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import Any, Final

import ezdxf
import numpy as np
import pikepdf
import pytest

from panelshift.errors import PanelshiftError
from panelshift.outline import Curve
from panelshift.outline.bezier import LINE
from panelshift.pattern.drawing import Drawing, LineStyle, Shape, Text
from panelshift.sources.drawings import read_drawing
from panelshift.sources.svg import drawing_svg
from panelshift.sources.svg.document import MOST_ATTRIBUTES
from tests.support.golden import changes
from tests.support.pdfs import made as pdf

SVG: Final = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
INKSCAPE: Final = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
MM: Final = 'width="200mm" height="300mm" viewBox="0 0 200 300"'


def svg(body: str, root: str = MM) -> bytes:
    return f"<svg {SVG} {INKSCAPE} {root}>{body}</svg>".encode()


def lines_of(curve: Curve) -> str:
    """A curve as path data, in mm."""
    words = ["M{:.4f},{:.4f}".format(*(curve.control[0, 0] + 0.0))]
    for degree, points in zip(curve.degree, curve.control + 0.0, strict=True):
        if degree == LINE:
            words.append("L{:.4f},{:.4f}".format(*points[3]))
        else:
            words.append("C" + " ".join(f"{x:.4f},{y:.4f}" for x, y in points[1:]))
    return "".join([*words, "Z" if curve.closed else ""])


def of_shape(shape: Shape) -> str:
    said: dict[str, Any] = {
        "names": shape.names,
        "groups": shape.groups,
        "data": dict(shape.data),
        "classes": shape.classes,
        "element": shape.element,
        "clip": None if shape.clip is None else np.round(shape.clip + 0.0, 4).tolist(),
    }
    known = ", ".join(f"{key} {value}" for key, value in said.items() if value)
    style = shape.style
    dash = ",".join(f"{part:.4f}" for part in style.dash)
    width = "none" if style.width is None else f"{style.width:.4f}"
    return f"{shape.ident} [{known}] {style.colour} {width} ({dash}) {lines_of(shape.curve)}"


def of_text(text: Text) -> str:
    x, y = text.anchor + 0.0
    bold, mirrored = " bold" * text.bold, " mirrored" * text.mirrored
    return (
        f"words {text.content!r} {text.ident} {text.groups} at {x:.4f},{y:.4f} size "
        f"{text.size:.4f} angle {text.angle:.4f} {text.align}{bold}{mirrored}"
    )


def of_drawing(drawing: Drawing) -> Iterator[str]:
    """Everything that a drawing holds."""
    page = None if drawing.page is None else np.round(drawing.page, 4).tolist()
    yield (
        f"{drawing.title!r} from {drawing.source!r}, page {page}, in px {drawing.in_px} "
        f"({drawing.px_per_inch}), shrunk {drawing.shrunk}, unit {drawing.unit_taken!r}"
    )
    yield from map(of_shape, drawing.shapes)
    yield from map(of_text, drawing.texts)
    yield from (f"left out: {one.ident}: {one.reason}" for one in drawing.left_out)
    yield from (f"warned: {words}" for words in drawing.warnings)
    yield from (f"note: {words}" for words in drawing.notes)


def told(data: bytes, **how: Any) -> list[str]:
    try:
        return list(of_drawing(read_drawing(data, **how)))
    except PanelshiftError as error:
        return [f"REFUSED {error} ({error.key})"]


PATHS: Final = (
    "M10 10h20v15H5V30l4,-3 7.5.5-.5.5z m5 5 10 0 0 10",
    "M10,10 C20,0 30,20 40,10 S60,20 70,10 c5-5 10-5 15 0s10 5 15 0",
    "M10 50Q20 30 30 50T50 50t20 0 q5 10 10 0zl3 3",
    "M20 80a15 10 30 0 1 25 5A15 10 30 1 0 60 90 a 4 4 0 1110 0a2,9 0 00-10 0",
    "M10 10a0 5 0 0 1 20 0A5 5 0 0 1 30 10 a1 1 0 0 1 40 0",
    "M1e1-1E+1.5.5L+12-.5e1 M5 5",
    "M0 0L10 0M20 0L30 0M40 0Z",
)

BROKEN: Final = (
    *(f'<path id="p" d="{d}"/>' for d in ("M10 10 L20", "L10 10", "M1 1 X 2", "M1,,2", "", "none")),
    '<path id="p" d="M1 1 A2 2 0 2 1 5 5"/>',
    '<path id="p" d="M1 1 1e400 2"/>',
    '<polyline points="1 1 2"/>',
    '<rect id="u" width="3furlongs" height="2"/>',
    '<circle cx="wide" r="3"/>',
    '<rect width="-3" height="2"/>',
    '<g id="h"><path d="M1 1h5" transform="spin(4)"/></g>',
    '<g id="h" transform="scale(1 2 3)"><path d="M1 1h5"/></g>',
    '<path d="M1 1h5" transform="rotate(x)"/>',
    '<use id="self" href="#self"/>',
    '<g id="a"><use id="b" href="#a"/></g>',
    '<text font-size="large" x="3">a</text>',
    '<path d="M1 1h5e9"/>',
)

SVGS: Final = {
    "paths": svg("".join(f'<path id="p{k}" d="{d}"/>' for k, d in enumerate(PATHS))),
    "plain shapes": svg(
        '<rect x="10" y="20" width="30" height="40"/><rect x="1cm" y="5%" width="20" height="10" '
        'rx="3"/><rect width="20" height="10" rx="50" ry="2"/><circle cx="50" cy="60" r="10"/>'
        '<circle r="5%"/><ellipse cx="80" cy="20" rx="10" ry="5"/><line x1="1" y1="2" x2="30" '
        'y2="40"/><polyline points="1,1 5 9 -3,4"/><polygon points="10 10 20,10 20 30"/>'
        '<rect width="0" height="5"/><circle r="0"/><circle r="-2"/>'
        '<polygon points="1 1"/><line x1="3" y1="3" x2="3" y2="3"/><ellipse rx="4"/>'
        '<image id="i" width="5" height="5"/>'
        '<foreignObject id="f" width="5" height="5"/>'
    ),
    "transforms": svg(
        '<g transform="translate(10) scale(2)"><path id="a" d="M1 1h5"/></g>'
        '<g transform="rotate(90 10 20)"><path d="M1 1h5" transform="matrix(1 .5 -.5 1 3 4)"/></g>'
        '<path id="c" d="M1 1h5" transform="skewX(45) , skewY(-30)"/>'
        '<path id="d" d="M1 1h5" transform="scale(-1,2)translate(5,6)"/>'
        '<path id="e" d="M1 1h5" style="transform: rotate(0.25turn) translate(1mm, 2px)"/>'
        '<path id="f" d="M1 1h5" transform="scale(0)"/>'
        '<path id="h" d="M1 1h5" transform="rotate(30)" transform-origin="10 20"/>'
    ),
    "styles": svg(
        "<style>/* all */ path { stroke: navy; stroke-width: 2 } .thin{stroke-width:.5mm}"
        "#own, g > path.deep {stroke: rgb(10%, 20, 30)} g path{stroke-dasharray: 4 2 1}"
        ".late { stroke: lime !important } @media print { path { stroke: red } } "
        "path[id=x] { stroke: #abc } path:first-child { stroke-width: 9 }</style>"
        '<path id="one" d="M1 1h5"/><path class="thin cut" d="M1 2h5"/>'
        '<path id="own" d="M1 3h5" stroke="red"/>'
        '<g stroke="teal" stroke-width="3" style="color:#123456"><path class="deep" d="M1 4h5"/>'
        '<path class="late" d="M1 5h5" style="stroke:currentColor"/>'
        '<path d="M1 6h5" style="stroke:currentColor;stroke-dasharray:none"/></g>'
        '<path d="M1 7h5" style="stroke:none"/><path d="M1 8h5" style="stroke:url(#paint) red"/>'
        '<path d="M1 9h5" style="stroke:hsl(120,100%,25%);stroke-width:1%" />'
        '<path d="M1 10h5" style="stroke-dasharray:5" transform="scale(2)"/>'
        '<path d="M1 11h5" style="stroke:#0f08;stroke-width:-1"/>'
        '<path d="M1 12h5" style="vector-effect:non-scaling-stroke" transform="scale(2)"/>'
    ),
    "what is hidden": svg(
        '<path id="a" d="M1 1h5" display="none"/><path id="b" d="M1 2h5" visibility="hidden"/>'
        '<g visibility="hidden"><path id="c" d="M1 3h5" style="visibility:visible"/></g>'
        '<path id="d" d="M1 4h5" opacity="0"/><path id="e" d="M1 5h5" stroke-opacity="0"/>'
        '<g display="none"><path id="f" d="M1 6h5"/><text>gone</text></g>'
        '<g inkscape:groupmode="layer" inkscape:label="old" style="display:none">'
        '<path id="g" d="M1 7h5"/></g><defs><path id="h" d="M1 8h5"/></defs>'
        '<path id="i" d="M1 9h5" stroke="none" fill="none"/>'
        '<path id="j" d="M1 10h5v5z" fill="red"/>'
        '<switch><path id="k" d="M1 11h5"/><path id="l" d="M1 12h5"/></switch>'
        '<marker><path id="m" d="M1 13h5"/></marker><mask id="n"><path d="M1 14h5"/></mask>'
    ),
    "used again": svg(
        '<defs><path id="leaf" d="M1 1h5"/><g id="twig" stroke="red"><use href="#leaf" x="10"/>'
        '<path d="M2 2h5"/></g></defs><symbol id="sign" viewBox="0 0 10 10"><path id="s" '
        'd="M0 0L10 10"/></symbol><use id="u1" xlink:href="#leaf" y="5" stroke="blue"/>'
        '<use id="u2" href="#twig" transform="scale(2)"/><use href="#sign" width="20" height="40"/>'
        '<use href="#none"/><use href="other.svg#a"/>'
        '<use href="#leaf" id="u3"><title>Front</title></use>'
    ),
    "names": svg(
        "<title>  A draft\n of mine </title><desc>d</desc>"
        '<g id="layer1" inkscape:groupmode="layer" inkscape:label="Panels"><g id="g2">'
        '<path id="path10" inkscape:label="Front" class="panel cut" data-kind="outline" '
        'data-cut="2" d="M1 1h5v5z"><title>Panel 1</title><desc>x</desc></path></g></g>'
        '<a><path d="M1 2h5M1 3h5" id="both"/></a><path d="M1 4h5"/><path d="M1 5h5" id=""/>'
        '<path id="both" d="M1 6h5"/><g><path d="M1 7h5" aria-label="Back"/></g>'
    ),
    "words": svg(
        '<text id="t1" x="10" y="20" font-size="5">Front  <tspan x="12" y="30" '
        'font-weight="bold">two</tspan> more</text><text x="1cm" y="2" dx="3" dy="4" '
        'style="font:bold 8px sans;text-anchor:middle">mid</text>'
        '<text transform="translate(20 30) rotate(90)" text-anchor="end">up</text>'
        '<text transform="scale(-1 1)" x="-50" y="60" font-weight="700">back</text>'
        '<text x="5 6 7" y="9" rotate="30">abc</text><text/><text> </text>'
        '<g font-size="2em"><text font-size="150%" y="70">em</text></g>'
        '<text><textPath href="#p">along</textPath></text><text y="80">a<tspan dy="5">b</tspan>'
        '<tspan x="40">c</tspan></text><text xml:space="preserve" y="90"> a  b </text>'
    ),
    "clips": svg(
        '<clipPath id="c"><rect x="10" y="10" width="50" height="60"/></clipPath>'
        '<clipPath id="r"><circle r="9"/></clipPath><clipPath id="o" '
        'clipPathUnits="objectBoundingBox"><rect width="1" height="1"/></clipPath>'
        '<g clip-path="url(#c)"><path id="a" d="M0 0L100 100"/><g transform="translate(20 0)" '
        'clip-path="url(#c)"><path id="b" d="M0 0L100 90"/></g></g>'
        '<path id="d" clip-path="url(#r)" d="M0 0L100 80"/>'
        '<path id="e" clip-path="url(#o)" d="M0 0L100 70"/>'
        '<path id="f" clip-path="url(#none)" d="M0 0L100 60"/>'
        '<path id="g" transform="rotate(20)" clip-path="url(#c)" d="M0 0L100 50"/>'
    ),
    "a drawing in inches": svg(
        '<path d="M0 0H10"/>', 'width="4in" height="6in" viewBox="5 5 100 100"'
    ),
    "stretched": svg(
        '<path d="M0 0H10"/>',
        'width="100mm" height="300mm" viewBox="0 0 50 50" preserveAspectRatio="none"',
    ),
    "at the corner": svg(
        '<path d="M0 0H10"/>',
        'width="100mm" height="300mm" viewBox="0 0 50 50" preserveAspectRatio="xMaxYMin slice"',
    ),
    "no size": svg('<path d="M0 0H10"/>', 'viewBox="0 0 50 50"'),
    "a width alone": svg('<path d="M0 0H10"/>', 'width="50mm" viewBox="0 0 100 200"'),
    "nothing said": svg('<path d="M0 0H10"/>', ""),
    "in px": svg('<path d="M0 0H10"/>', 'width="800" height="1000px"'),
    "as a program for 72 px writes": svg(
        '<path d="M0 0H10"/>', 'width="595.28px" height="841.89px" viewBox="0 0 595.28 841.89"'
    ),
    "of a program whose px are points": svg(
        '<path d="M0 0H10"/>',
        'xmlns:x="http://ns.adobe.com/AdobeIllustrator/10.0/" width="600px" height="801px"',
    ),
    "of an old program": svg(
        '<path d="M0 0H10"/>', 'inkscape:version="0.91 r13725" width="600px" height="801px"'
    ),
    "of its next release": svg(
        '<path d="M0 0H10"/>', 'inkscape:version="0.92.3" width="600px" height="801px"'
    ),
    "shares of nothing": svg('<path d="M0 0H10"/>', 'width="100%" height="100%"'),
    "a drawing in a drawing": svg(
        '<svg x="10" y="20" width="50" height="50" viewBox="0 0 10 10"><path d="M0 0H20"/>'
        '<svg><path d="M0 5H5"/></svg></svg>'
    ),
    "all drawn smaller": svg(
        "".join(
            f'<path d="M{20 * k} 0h10v{50 + k}h-10z" transform="matrix(.97 0 0 -.97 {k} 290)"/>'
            for k in range(8)
        )
    ),
    "no drawing": b"<html/>",
    "no XML": b"<svg",
    "nothing in it": svg(""),
    "a picture": b"\x89PNG" + bytes(30),
    "another picture": b"RIFF1234WEBP",
    "a telephone's": b"\0\0\0\x18ftypheic" + bytes(20),
}


def test_whole_drawings_of_svg_are_as_they_were_looked_over() -> None:
    found: list[str] = []
    for about, data in SVGS.items():
        found += [f"== {about}", *told(data, name="draft.svg")]
    for body in BROKEN:
        found += [f"== {body}", *told(svg(body))]
    found += ["== page 2", *told(SVGS["names"], page=2)]
    assert changes("drawings-svg.txt", "\n".join(found)) == []


@pytest.mark.parametrize("name", ["names", "words", "styles", "clips", "plain shapes"])
def test_whole_drawings_that_are_saved_are_as_they_were_looked_over(name: str) -> None:
    saved = drawing_svg(read_drawing(SVGS[name], name="draft.svg"))
    text = saved if isinstance(saved, str) else saved.decode()
    assert changes(f"saved-{name.replace(' ', '-')}.svg", text) == []


def dxf(draw: Callable[[Any, Any], object], units: int = 4) -> bytes:
    document = ezdxf.new("R2010", units=units)
    draw(document, document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def _curves(_: Any, space: Any) -> None:
    space.add_line((0, 0), (10, 20))
    space.add_line((5, 5), (5, 5))
    space.add_arc((50, 50), 10, 20, 200)
    space.add_circle((80, 20), 5)
    space.add_ellipse((20, 80), (10, 5), 0.5, 0.3, 4.0)
    space.add_lwpolyline([(0, 0), (30, 0, 0, 0, 0.5), (30, 30), (0, 30)], close=True)
    space.add_lwpolyline([(100, 0), (130, 0), (100, 0)])
    space.add_polyline2d([(0, 100), (10, 110, 0, 0, -1), (20, 100)], format="xyseb")
    space.add_polyline3d([(0, 0, 5), (10, 5, 7)])
    space.add_spline([(0, 0), (10, 20), (20, 0), (20, 0), (40, 10)])
    space.add_open_spline([(0, 200), (10, 220), (20, 180), (40, 200), (60, 210)])
    space.add_rational_spline([(0, 5), (10, 9), (20, 5), (30, 9)], [1, 2, 2, 1])
    space.add_point((1, 1))
    space.add_point((2, 2))
    space.add_hatch()
    space.add_ray((0, 0), (1, 1))


def _looks(document: Any, space: Any) -> None:
    layers = document.layers
    document.linetypes.add("DASHES", [6.0, 4.0, -2.0], description="- -")
    document.linetypes.add("ODD", [3.0, 1.0, -1.0, 1.0], description="-")
    layers.add("seams", color=5, linetype="DASHES", lineweight=35)
    layers.add("hidden").off()
    layers.add("cold").freeze()
    space.add_line((0, 0), (9, 0), {"layer": "seams"})
    space.add_line((0, 1), (9, 1), {"layer": "seams", "color": 1, "lineweight": 50})
    space.add_line((0, 2), (9, 2), {"layer": "unknown", "true_color": 0x123456})
    space.add_line((0, 3), (9, 3), {"linetype": "ODD"})
    space.add_line((0, 4), (9, 4), {"layer": "Hidden"})
    space.add_line((0, 5), (9, 5), {"layer": "cold"})
    space.add_line((0, 6), (9, 6), {"invisible": 1})
    space.add_line((0, 7), (9, 7), {"color": 0})


def _blocks(document: Any, space: Any) -> None:
    leaf = document.blocks.new("leaf", base_point=(1, 2))
    leaf.add_line((1, 2), (11, 2))
    leaf.add_attdef("SIZE", (3, 3), "M")
    twig = document.blocks.new("twig")
    twig.add_blockref("leaf", (5, 0), {"rotation": 90})
    twig.add_line((0, 0), (0, 9), {"layer": "inner"})
    space.add_blockref("twig", (100, 0), {"xscale": 2, "yscale": -1, "zscale": 1})
    many = space.add_blockref("leaf", (0, 50))
    many.grid(size=(2, 3), spacing=(10, 20))
    one = space.add_blockref("leaf", (0, 200))
    one.add_attrib("SIZE", "XL", (3, 203))
    space.add_line((0, 0), (0, 300))


def _written(_: Any, space: Any) -> None:
    space.add_line((0, 0), (0, 300))
    space.add_text("plain", height=5, rotation=30).set_placement((10, 20))
    space.add_text("below", height=5, dxfattribs={"extrusion": (0, 0, -1), "insert": (9, 9)})
    space.add_text("back", height=5, dxfattribs={"text_generation_flag": 2, "insert": (9, 19)})
    space.add_text("down", height=5, dxfattribs={"text_generation_flag": 4, "insert": (9, 29)})
    space.add_mtext(
        "{\\fArial;two}\\Plines", {"char_height": 7, "insert": (50, 60), "rotation": 90}
    )
    space.add_text("   ", height=5)


def _interchange(_: Any, space: Any) -> None:
    for number in (1, 4, 7, 8, 14, 84):
        space.add_line((0, number), (200, number), {"layer": str(number)})


def _bars(high: float) -> Callable[[Any, Any], object]:
    return lambda _, space: space.add_line((3, 4), (3, high))


DXFS: Final = {
    "curves": lambda: dxf(_curves),
    "looks, in cm": lambda: dxf(_looks, 5),
    "blocks": lambda: dxf(_blocks),
    "words, in inches": lambda: dxf(_written, 1),
    "numbered layers": lambda: dxf(_interchange),
    "no unit, tall": lambda: dxf(_bars(704), 0),
    "no unit, small": lambda: dxf(_bars(24), 0),
    "no unit, and none to be told": lambda: dxf(_bars(54_000), 0),
    "in miles": lambda: dxf(_bars(2), 3),
    "in feet": lambda: dxf(_bars(5), 2),
    "in metres": lambda: dxf(_bars(5), 6),
    "too far": lambda: dxf(_bars(105), 6),
    "nothing in it": lambda: dxf(lambda *_: None),
    "all hidden": lambda: dxf(lambda _, s: s.add_line((0, 0), (1, 1), {"invisible": 1})),
    "of points alone": lambda: dxf(
        lambda _, s: s.add_spline([(0, 0), (9, 9), (18, 0)], dxfattribs={"flags": 1})
    ),
    "damaged": lambda: b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\nx\n20\n",
}


@pytest.mark.slow
def test_whole_drawings_of_dxf_are_as_they_were_looked_over() -> None:
    found: list[str] = []
    for about, data in DXFS.items():
        found += [f"== {about}", *told(data(), name="draft.dxf")]
    found += ["== page 1", *told(DXFS["in feet"](), page=1)]
    assert changes("drawings-dxf.txt", "\n".join(found)) == []


MOVES: Final = "1 w 10 10 m 200 10 l S 0.2 0.4 0.6 RG 3 w [6 3] 1 d 10 20 m 90 60 90 10 v S"
LETTERS: Final = (
    "10 400 m 500 400 l S BT /F 12 Tf 1 0 0 1 50 700 Tm (Front) Tj 80 0 Td (two) Tj ET "
    "BT /F 20 Tf 0 1 -1 0 300 300 Tm [(P) -50 (a) -900 (nel)] TJ ET "
    "BT /F 10 Tf 14 TL 100 500 Td (one) Tj T* (next) Tj (third) ' 2 1 (fourth) \" ET "
    "BT /F 10 Tf 3 Tr 100 600 Td (unseen) Tj ET BT 0 Tr /F 9 Tf -1 0 0 1 400 100 Tm (mirror) Tj ET"
)
PDFS: Final = {
    "lines and curves": lambda: pdf(
        [
            f"q {MOVES} Q 10 30 50 20 re S 10 60 m 30 60 l 30 90 l s 10 100 m 60 100 l 60 130 l f "
            "1 0 0 RG 100 100 m 150 100 l 150 150 l h 160 100 m 190 100 l B 0 0 m 0 0 l S "
            "0.5 G 20 200 m 40 260 80 260 90 200 c S 0 1 1 0 K 20 300 m 40 300 90 360 y S "
            "100 300 m 200 300 l n 100 310 m 200 310 l b* 5 5 m"
        ]
    ),
    "clipped": lambda: pdf(
        [
            "q 20 20 100 100 re W n 0 0 m 300 300 l S q 50 50 200 20 re W n 0 60 m 300 60 l S Q Q "
            "q 0 0 m 100 0 l 50 80 l W n 0 10 m 300 10 l S Q 0 500 m 400 500 l S"
        ]
    ),
    "forms in forms": lambda: pdf(
        ["q 2 0 0 2 10 10 cm /A Do Q 0 1 -1 0 300 0 cm /B Do /None Do"],
        forms={
            "A": ("0 0 m 50 0 l S /B Do", {"/Matrix": pikepdf.Array([1, 0, 0, 1, 5, 7])}),
            "B": ("3 w 0 0 m 0 40 l S", {"/BBox": pikepdf.Array([-5, -5, 30, 30])}),
        },
    ),
    "layers": lambda: pdf(
        [
            "/OC /L0 BDC 0 10 m 90 10 l S /OC /L1 BDC 0 20 m 90 20 l S EMC EMC "
            "/Tag <</X 1>> BDC 0 30 m 90 30 l S EMC /OC /L9 BDC 0 40 m 90 40 l S EMC /C Do"
        ],
        layers={"Panels": True, "Old": False},
        forms={"C": ("0 50 m 90 50 l S", {"/OC": 0})},
    ),
    "words": lambda: pdf([LETTERS]),
    "turned, with a unit": lambda: pdf(
        [MOVES], page={"Rotate": 90, "UserUnit": 2.0, "CropBox": pikepdf.Array([5, 9, 300, 500])}
    ),
    "two pages": lambda: pdf([MOVES, LETTERS]),
    "page 2 of two": lambda: pdf([MOVES, LETTERS]),
    "page 5 of two": lambda: pdf([MOVES, LETTERS]),
    "far off": lambda: pdf(["0 0 m 100 100 l S 5000 5000 m 6000 6000 l S"]),
    "states": lambda: pdf(
        [
            "q 1 0 0 RG 5 w q 0 0 1 RG 0 10 m 90 10 l S Q 0 20 m 90 20 l S Q 0 30 m 90 30 l S Q "
            "/Cs cs 0.3 SC 0 40 m 90 40 l S [4 -2 1] 0 d 0 50 m 90 50 l S [] 0 d 2 J 1 j 4 M "
            "0 60 m 90 60 l S 0 w 0 70 m 90 70 l S "
            "/None gs /Pattern CS /P1 SCN 0 80 m 90 80 l S 0.1 0.2 SC 0 90 m 90 90 l S"
        ]
    ),
    "numbers amiss": lambda: pdf(["1 2 m (x) 3 l S"]),
    "bare": lambda: pdf([""]),
    "words alone": lambda: pdf(["BT /F 12 Tf 50 700 Td (Front) Tj ET"]),
    "cut off": lambda: pdf([MOVES])[:500],
}
PAGES: Final = {"page 2 of two": 2, "page 5 of two": 5}


def test_whole_drawings_of_pdf_are_as_they_were_looked_over() -> None:
    found: list[str] = []
    for about, data in PDFS.items():
        found += [f"== {about}", *told(data(), name="draft.pdf", page=PAGES.get(about))]
    assert changes("drawings-pdf.txt", "\n".join(found)) == []


def test_a_line_that_is_scaled_has_all_its_lengths_scaled() -> None:
    plain = read_drawing(SVGS["styles"])
    for before, after in zip(plain.shapes, plain.scaled(2.0).shapes, strict=True):
        wanted = LineStyle(
            before.style.colour,
            None if before.style.width is None else 2.0 * before.style.width,
            tuple(2.0 * part for part in before.style.dash),
        )
        assert after.style == wanted
        assert np.array_equal(after.curve.control, 2.0 * before.curve.control)


def test_an_element_may_have_as_many_attributes_as_may_be() -> None:
    def path(count: int) -> bytes:
        more = " ".join(f"a{k}='{k}'" for k in range(count - 1))
        return svg(f'<path d="M1 1h5" {more}/>')

    assert len(read_drawing(path(MOST_ATTRIBUTES)).shapes) == 1
    assert told(path(MOST_ATTRIBUTES + 1))[0].startswith("REFUSED")

"""Basic shapes, their missing, automatic and excessive sizes, and lengths in percent."""

from __future__ import annotations

from typing import Final

from .case import FINE, Case

_SHAPES: Final = {
    "rect": '<rect id="p" x="300" y="400" width="2000" height="1500"/>',
    "rect-without-place": '<rect id="p" width="2000" height="1500"/>',
    "rect-round": '<rect id="p" x="300" y="400" width="2000" height="1500" rx="300" ry="500"/>',
    "rect-round-rx-only": '<rect id="p" x="300" y="400" width="2000" height="1500" rx="300"/>',
    "rect-round-ry-only": '<rect id="p" x="300" y="400" width="2000" height="1500" ry="300"/>',
    "rect-round-too-much": '<rect id="p" width="2000" height="1500" rx="3000" ry="400"/>',
    "rect-round-both-too-much": '<rect id="p" width="2000" height="1500" rx="3000" ry="4000"/>',
    "rect-round-one-for-both": '<rect id="p" width="2000" height="1500" rx="900"/>',
    "rect-round-zero": '<rect id="p" width="2000" height="1500" rx="0" ry="300"/>',
    "rect-round-percent": '<rect id="p" width="2000" height="1500" rx="5%"/>',
    "rect-whole-round": '<rect id="p" width="2000" height="1500" rx="1000" ry="750"/>',
    "circle": '<circle id="p" cx="1500" cy="1400" r="900"/>',
    "circle-without-centre": '<circle id="p" r="900"/>',
    "ellipse": '<ellipse id="p" cx="1500" cy="1400" rx="900" ry="400"/>',
    "ellipse-rx-only": '<ellipse id="p" cx="1500" cy="1400" rx="900"/>',
    "line": '<line id="p" x1="300" y1="400" x2="2500" y2="1900"/>',
    "line-from-origin": '<line id="p" x2="2500" y2="1900"/>',
    "polyline": '<polyline id="p" points="300,400 2500,1900 800 2300"/>',
    "polygon": '<polygon id="p" points="300,400 2500,1900 800 2300"/>',
    "polygon-run-together": '<polygon id="p" points="300-400+2500-.5.8e3 2300"/>',
    "polygon-closed-already": '<polygon id="p" points="300,400 2500,1900 800,2300 300,400"/>',
    "polygon-double-points": '<polygon id="p" points="300,400 300,400 2500,1900 800,2300"/>',
    "percent-rect": '<rect id="p" x="10%" y="20%" width="50%" height="30%"/>',
    "percent-circle": '<circle id="p" cx="40%" cy="50%" r="20%"/>',
    "percent-ellipse": '<ellipse id="p" cx="40%" cy="50%" rx="30%" ry="10%"/>',
    "percent-line": '<line id="p" x1="5%" y1="10%" x2="80%" y2="90%"/>',
    "em-rect": '<rect id="p" font-size="400" x="1em" y="2em" width="3em" height="1.5em"/>',
    "em-from-group": '<g font-size="300"><rect id="p" width="3em" height="150%"/></g>',
    "units-rect": '<rect id="p" x="200mm" y="10cm" width="500pt" height="5in"/>',
    "units-more": '<rect id="p" x="50pc" y="900px" width="1000Q" height="20pc"/>',
    "upper-case-units": '<rect id="p" x="200MM" y="10Cm" width="500PT" height="5IN"/>',
}

_NOTHING: Final = {
    "rect-no-width": ('<rect id="q" height="1500"/>', "width is 0"),
    "rect-zero-height": ('<rect id="q" width="900" height="0"/>', "height is 0"),
    "rect-negative": ('<rect id="q" width="-900" height="9"/>', "width is negative"),
    "circle-no-radius": ('<circle id="q" cx="900" cy="900"/>', "r is 0"),
    "ellipse-zero": ('<ellipse id="q" cx="900" cy="900" rx="0" ry="300"/>', "rx is 0"),
    "path-empty": ('<path id="q" d=""/>', "no path data"),
    "path-none": ('<path id="q" d="none"/>', "no path data"),
    "path-point": ('<path id="q" d="M900 900"/>', "only a point"),
    "polygon-empty": ('<polygon id="q" points=""/>', "no points"),
    "line-point": ('<line id="q" x1="900" y1="900" x2="900" y2="900"/>', "only a point"),
}

CASES: Final[list[Case]] = [
    *(Case(f"shape-{name}", body) for name, body in _SHAPES.items()),
    *(
        Case(f"nothing-{name}", body + '<rect id="p" width="500" height="700"/>', left_out=why)
        for name, (body, why) in _NOTHING.items()
    ),
    Case(
        "rect-auto-attribute",
        '<rect id="p" width="2000" height="1500" rx="auto" ry="300"/>',
        refused="auto",
    ),
    Case(
        "ellipse-auto-attribute",
        '<ellipse id="p" cx="1500" cy="1400" rx="auto" ry="700"/>',
        refused="auto",
    ),
    Case("path-length-attribute", '<path id="p" pathLength="9" d="M300 300H1500V900Z"/>'),
    Case(
        "percent-of-wide-page",
        '<rect id="p" x="10%" y="10%" width="30%" height="30%"/>'
        '<circle id="c" cx="50%" cy="50%" r="10%"/>',
        root='width="40mm" height="20mm" viewBox="0 0 4000 2000"',
    ),
    Case(
        "percent-of-shifted-page",
        '<rect id="p" x="10%" y="10%" width="30%" height="30%"/>',
        root='width="40mm" height="40mm" viewBox="-1000 -500 4000 4000"',
    ),
    Case(
        "percent-without-viewbox",
        '<rect id="p" x="10%" y="10%" width="30%" height="30%"/>',
        root='width="40mm" height="30mm"',
    ),
    Case(
        "polygon-odd-numbers",
        '<polygon id="p" points="300,400 2500,1900 800"/>',
        refused="one x has no y",
    ),
    Case(
        "rect-negative-radius",
        '<rect id="p" width="2000" height="1500" rx="-300"/>',
        refused="negative",
    ),
    Case("unit-ex", '<rect id="p" width="9ex" height="500"/>', refused="a unit"),
    Case("unit-rem", '<rect id="p" width="9rem" height="500"/>', refused="a unit"),
    Case("unit-viewport", '<rect id="p" width="9vw" height="500"/>', refused="a unit"),
    Case("length-word", '<rect id="p" width="wide" height="500"/>', refused="not a length"),
    Case("length-space", '<rect id="p" width="90 mm" height="500"/>', refused="space"),
    Case(
        "shapes-many",
        '<rect id="a" width="500" height="700"/><circle id="b" cx="1500" cy="700" r="300"/>'
        '<line id="c" x1="100" y1="2000" x2="900" y2="2500"/>'
        '<polyline id="d" points="1500,2000 2000,2500 2500,2000"/>',
        root=FINE,
    ),
]

"""Elliptical arcs: all flags, rotations and faults, and arcs under every kind of transform.

No radius is above 20 mm on the sheet but in the case named so: the browser draws an arc in
cubics of a quarter turn each, which stray from it by 0.00027 of its radius.
"""

from __future__ import annotations

from typing import Final

from .case import Case, paths

_TURNED: Final = '<path id="p" d="M500 1200A900 350 30 1 1 1500 1500L800 2400Z"/>'

_TRANSFORMS: Final = {
    "mirror-x": "translate(3000 0) scale(-1 1)",
    "mirror-y": "translate(0 3500) scale(1 -1)",
    "skew-x": "skewX(25)",
    "skew-y": "skewY(-20) translate(0 800)",
    "stretch": "scale(1.05 .97)",
    "stretch-more": "scale(.4 1.3)",
    "stretch-turned": "rotate(40 1000 1000) scale(1.2 .7)",
    "mirror-turned": "matrix(.6 .8 .8 -.6 300 900)",
    "skew-mirror-stretch": "matrix(-.7 .4 .2 1.1 1700 -200)",
    "half-turn": "rotate(180 1500 1500)",
}

CASES: Final[list[Case]] = [
    *paths(
        "arc",
        {
            "small-left": "M900 1500A700 700 0 0 0 1900 1500L1400 2500Z",
            "small-right": "M900 1500A700 700 0 0 1 1900 1500L1400 2500Z",
            "large-left": "M900 1500A700 700 0 1 0 1900 1500L1400 2000Z",
            "large-right": "M900 1500A700 700 0 1 1 1900 1500L1400 2000Z",
            "relative": "m900 1500a700 500 0 1 1 1000 0l-500 500z",
            "many": "M900 1500A700 500 0 0 1 1900 1500 500 300 20 0 1 1500 2300Z",
            "many-relative": "m900 1500a700 500 0 0 1 1000 0 500 300 20 0 1-400 800z",
            "turned-small": "M900 1500A900 400 35 0 1 1900 1700L1400 2700Z",
            "turned-large": "M900 1500A900 400 35 1 1 1900 1700L1400 2300Z",
            "turned-large-left": "M900 1500A900 400 35 1 0 1900 1700L1400 2300Z",
            "turned-90": "M900 1500A900 500 90 0 1 1900 1700L1400 2700Z",
            "turned-negative": "M900 1500A900 400 -35 1 1 1900 1700L1400 2300Z",
            "turned-past-360": "M900 1500A900 400 755 1 1 1900 1700L1400 2300Z",
            "half-circle": "M900 1500A500 500 0 0 1 1900 1500Z",
            "half-circle-other-flag": "M900 1500A500 500 0 1 1 1900 1500Z",
            "radii-too-small": "M900 1500A100 50 20 0 1 2300 1900Z",
            "radii-too-small-large": "M900 1500A100 50 20 1 0 2300 1900Z",
            "radius-zero": "M900 1500A0 500 0 0 1 1900 1500L1400 2500Z",
            "radius-negative": "M900 1500A-700 -500 20 1 1 1900 1500L1400 2000Z",
            "no-distance": "M900 1500A700 500 0 1 1 900 1500L1900 1500V2500Z",
            "nearly-straight": "M900 1500A90000 90000 0 0 1 1900 1500L1400 2500Z",
            "nearly-whole": "M1500 900A600 600 0 1 1 1499.9 900Z",
            "whole-in-two": "M900 1500A600 400 15 1 1 2059.11 1810.58A600 400 15 1 1 900 1500Z",
            "flat": "M900 1500A450 5 10 0 1 1600 1600L1400 2500Z",
            "smooth-after": "M900 1500A700 700 0 0 1 1900 1500S2300 2500 1400 2500Z",
            "smooth-quadratic-after": "M900 1500A700 700 0 0 1 1900 1500T1400 2500Z",
        },
    ),
    *paths(
        "flags",
        {
            "run-together": "M900 1500A700 500 20 1 11900 1700L1400 2700Z",
            "run-together-all": "M900 1500a700 500 20 111000 200l-500 700z",
            "run-together-signed": "M1900 1500a700 500 20 10-1000 200l500 700z",
            "run-together-point": "M900 1500a700 500 20 01.5e3 200l-500 700z",
            "run-together-many": "M900 1500a700 500 0 011000 0 300 400 0 01-500 500z",
            "commas": "M900,1500A700,500,20,1,1,1900,1700L1400,2700Z",
        },
    ),
    *paths("flags", {"two": "M900 1500A700 500 20 2 1 1900 1700Z"}, "a flag, 0 or 1"),
    *paths("flags", {"decimal": "M900 1500A700 500 20 1.0 1 1900 1700Z"}, "a flag, 0 or 1"),
    Case(
        "arc-of-200-mm",
        '<path id="p" d="M10 210A200 200 0 0 1 410 210"/>',
        root='width="1920px" height="960px" viewBox="0 0 508 254"',
        browser_strays="it draws each quarter as one cubic, which strays by 0.00027 of the radius",
    ),
    *(
        Case(f"arc-under-{name}", f'<g transform="{transform}">{_TURNED}</g>')
        for name, transform in _TRANSFORMS.items()
    ),
    *(
        Case(
            f"shape-under-{name}",
            f'<g transform="{transform}">'
            '<ellipse id="e" cx="900" cy="900" rx="700" ry="300"/>'
            '<circle id="c" cx="1900" cy="1600" r="400"/>'
            '<rect id="r" x="600" y="1500" width="900" height="600" rx="300" ry="120"/></g>',
        )
        for name, transform in _TRANSFORMS.items()
    ),
]

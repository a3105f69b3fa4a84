"""Every form of transform, how forms and groups nest, and where CSS puts transforms."""

from __future__ import annotations

from typing import Final

from .case import PROBE, Case

_FORMS: Final = {
    "translate-two": "translate(500 300)",
    "translate-one": "translate(500)",
    "translate-comma": "translate(500,300)",
    "scale-one": "scale(1.7)",
    "scale-two": "scale(1.7 .6)",
    "scale-negative": "translate(2000 0) scale(-1.3 1)",
    "rotate": "translate(1500 500) rotate(33)",
    "rotate-about": "rotate(33 900 700)",
    "rotate-about-commas": "rotate(33,900,700)",
    "rotate-negative": "translate(500 1500) rotate(-71.5)",
    "rotate-90": "translate(1500 500) rotate(90)",
    "rotate-450": "translate(1500 500) rotate(450)",
    "skew-x": "skewX(31)",
    "skew-x-negative": "translate(900 0) skewX(-31)",
    "skew-y": "skewY(17.5)",
    "matrix": "matrix(.9 .3 -.2 1.1 400 300)",
    "matrix-commas": "matrix(.9,.3,-.2,1.1,400,300)",
    "matrix-mirror": "matrix(-.9 .3 .2 1.1 1200 300)",
    "matrix-run-together": "matrix(.9.3-.2 1.1 4e2 300)",
    "list-spaces": "translate(500 300) rotate(20) scale(1.2 .8)",
    "list-commas": "translate(500 300),rotate(20),scale(1.2 .8)",
    "list-nothing-between": "translate(500 300)rotate(20)scale(1.2 .8)",
    "list-order": "scale(1.2 .8) rotate(20) translate(500 300)",
    "list-long": "translate(900 900) rotate(10) rotate(10) rotate(10) skewX(9) scale(.5) scale(2)",
    "spaces": "  translate  (  500  ,  300  )  ",
    "empty": "",
    "tiny-scale-and-back": "scale(1e-4) scale(1e4)",
}

_NESTED: Final = {
    "two": ("translate(500 300)", "rotate(20)"),
    "order-matters": ("rotate(20)", "translate(500 300)"),
    "three": ("scale(1.3 .7)", "rotate(35)", "translate(300 -200)"),
    "mirror-in-mirror": ("translate(2500 0) scale(-1 1)", "translate(0 2500) scale(1 -1)"),
    "skew-in-rotate-in-stretch": ("scale(.8 1.4)", "rotate(-15 900 900)", "skewX(20)"),
    "matrix-in-matrix": ("matrix(.9 .3 -.2 1.1 400 300)", "matrix(1 -.2 .3 .8 200 300)"),
    "six": ("scale(2)", "scale(.5)", "rotate(90)", "rotate(-60)", "translate(800)", "skewY(9)"),
}

_CSS: Final = {
    "rotate": "transform:rotate(20deg)",
    "rotate-turn": "transform:translate(1500px,0) rotate(.1turn)",
    "rotate-rad": "transform:rotate(.4rad)",
    "rotate-grad": "transform:rotate(30grad)",
    "translate-px": "transform:translate(500px,300px)",
    "translate-mm": "transform:translate(90mm,50mm)",
    "translate-percent": "transform:translate(10%,5%)",
    "translate-x-y": "transform:translateX(500px) translateY(3in)",
    "scale": "transform:scale(1.2,.8)",
    "scale-percent": "transform:scale(120%,80%)",
    "scale-x-y": "transform:scaleX(.7) scaleY(1.5)",
    "skew-two": "transform:skew(20deg,5deg)",
    "skew-x-y": "transform:skewX(20deg) skewY(5deg)",
    "matrix": "transform:matrix(.9,.3,-.2,1.1,400,300)",
    "none-over-attribute": "transform:none",
    "list": "transform:translate(500px,300px) rotate(20deg) scale(1.2)",
    "calm-case": "TRANSFORM:Translate(500PX,300px) ROTATE(20DEG)",
    "origin-px": "transform:rotate(20deg);transform-origin:900px 700px",
    "origin-percent": "transform:rotate(20deg);transform-origin:50% 25%",
    "origin-words": "transform:rotate(20deg);transform-origin:center",
    "origin-words-swapped": "transform:rotate(20deg);transform-origin:bottom left",
    "origin-word-and-length": "transform:rotate(20deg);transform-origin:left 900px",
    "origin-one-length": "transform:rotate(10deg);transform-origin:900px",
    "origin-one-word": "transform:rotate(10deg);transform-origin:bottom",
    "origin-with-depth": "transform:rotate(20deg);transform-origin:900px 700px 0",
    "origin-view-box": "transform:rotate(20deg);transform-origin:50% 50%;transform-box:view-box",
    "important": "transform:rotate(20deg)!important;transform:rotate(50deg)",
}

_ORIGIN_ATTRIBUTE: Final = {
    "numbers": 'transform="rotate(20)" transform-origin="900 700"',
    "px": 'transform="rotate(20)" transform-origin="900px 700px"',
    "percent": 'transform="scale(.5)" transform-origin="50% 25%"',
    "words": 'transform="scale(.5)" transform-origin="right top"',
    "with-list": 'transform="translate(300 200) scale(.5 .8)" transform-origin="900 700"',
    "without-transform": 'transform-origin="900 700"',
}

CASES: Final[list[Case]] = [
    *(
        Case(f"transform-{name}", f'<g transform="{transform}">{PROBE}</g>')
        for name, transform in _FORMS.items()
    ),
    Case(
        "transform-on-shape",
        '<path id="p" transform="rotate(20) scale(1.5 .8)" d="M300 300A600 200 10 0 1 1500 900Z"/>',
    ),
    *(
        Case(
            f"nested-{name}",
            "".join(f'<g transform="{transform}">' for transform in transforms)
            + PROBE
            + "</g>" * len(transforms),
        )
        for name, transforms in _NESTED.items()
    ),
    *(
        Case(f"css-{name}", f'<g transform="skewX(40)" style="{style}">{PROBE}</g>')
        for name, style in _CSS.items()
    ),
    *(
        Case(f"origin-{name}", f"<g {attributes}>{PROBE}</g>")
        for name, attributes in _ORIGIN_ATTRIBUTE.items()
    ),
    Case(
        "transform-flat",
        f'<g transform="scale(1 0)">{PROBE}</g><rect id="r" width="500" height="500"/>',
        left_out="flatten",
    ),
    Case(
        "transform-fault-unit",
        f'<g transform="translate(5mm 3mm)">{PROBE}</g>',
        refused="cannot be read",
    ),
    Case("transform-fault-name", f'<g transform="turn(20)">{PROBE}</g>', refused="not known"),
    Case("transform-fault-count", f'<g transform="rotate(20 3)">{PROBE}</g>', refused="not known"),
    Case("transform-fault-end", f'<g transform="rotate(20">{PROBE}</g>', refused="cannot be read"),
    Case("css-rotate-property", f'<g style="rotate:20deg">{PROBE}</g>', refused="is not followed"),
    Case(
        "css-fill-box-without-origin",
        f'<g style="transform:rotate(20deg);transform-box:fill-box">{PROBE}</g>',
        refused="transform-box",
    ),
    Case(
        "css-fill-box-translate",
        f'<g style="transform:translate(500px,300px);transform-box:fill-box">{PROBE}</g>',
    ),
    Case(
        "css-variable",
        f'<g style="--a:20deg;transform:rotate(var(--a))">{PROBE}</g>',
        refused="is not an angle",
    ),
    Case(
        "css-calc",
        f'<g style="transform:rotate(calc(20deg + 5deg))">{PROBE}</g>',
        refused="is not an angle",
    ),
    Case(
        "css-offset-path",
        f"<g style=\"offset-path:path('M0 0L900 900')\">{PROBE}</g>",
        refused="is not followed",
    ),
    Case(
        "transform-css-syntax-in-attribute",
        f'<g transform="rotate(20deg)">{PROBE}</g>',
        refused="cannot be read",
    ),
    Case(
        "animated-transform",
        '<rect id="p" width="900" height="500"><animateTransform attributeName="transform" '
        'type="rotate" from="30" to="60" dur="900s"/></rect>',
        refused="animation",
    ),
    Case(
        "animated-set",
        '<rect id="p" width="900" height="500"><set attributeName="width" to="50"/></rect>',
        refused="animation",
    ),
    Case(
        "animated-colour",
        f'{PROBE}<rect id="p" width="900" height="500"><animate attributeName="fill" '
        'values="red;blue" dur="9s"/></rect>',
    ),
    Case("css-zoom", f'<g style="zoom:2">{PROBE}</g>', refused="is not followed"),
    Case(
        "css-three-dimensions",
        f'<g style="transform:rotateX(20deg)">{PROBE}</g>',
        refused="is not known here",
    ),
    Case(
        "css-fill-box",
        f'<g style="transform:rotate(20deg);transform-box:fill-box;transform-origin:center">'
        f"{PROBE}</g>",
        refused="transform-box",
    ),
    Case(
        "css-unitless-angle",
        f'<g style="transform:rotate(20)">{PROBE}</g>',
        refused="is not an angle",
    ),
    Case(
        "root-transform",
        PROBE,
        root='width="40mm" height="40mm" viewBox="0 0 4000 4000" transform="rotate(10)"',
        refused="outermost <svg> has a transform",
    ),
]

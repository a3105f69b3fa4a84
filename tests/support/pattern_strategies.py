"""Hypothesis strategies for whole SVG files: drafted patterns, drawn untidily, and wild ones."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from .drafts import drawn
from .strategies import figures, sheets
from .svg_grammar import document

documents = st.binary(max_size=400).map(document)
"""Any document of the grammar that the fuzzer uses as well."""


@dataclass(frozen=True)
class Untidy:
    """One pattern, drawn clean and drawn as programs and people leave it."""

    clean: bytes
    untidy: bytes


_STRAY = (
    '<path d="M5 5l.001 0"/>',
    '<path id="none" d=""/>',
    '<g id="Layer 1"/>',
    '<image href="a.png" width="9" height="9"/>',
    '<defs><path id="unused" d="M0 0H9V9Z"/></defs>',
    "<metadata><x/></metadata>",
    '<circle r="0"/>',
)


@st.composite
def untidy_patterns(draw: st.DrawFn) -> Untidy:
    """A drafted pattern and the same in nested groups, with strays and odd white space."""
    clean = drawn(draw(figures()).panels(), draw(sheets))
    head, _, rest = clean.partition(b">")
    body = rest.removesuffix(b"</svg>").decode()
    for stray in draw(st.lists(st.sampled_from(_STRAY), max_size=4)):
        body = stray + body if draw(st.booleans()) else body + stray
    for transform in draw(
        st.lists(st.sampled_from(("rotate(30)", "scale(2 .5)", "matrix(0 1 -1 0 3 4)")), max_size=3)
    ):
        inverse = {
            "rotate(30)": "rotate(-30)",
            "scale(2 .5)": "scale(.5 2)",
            "matrix(0 1 -1 0 3 4)": "matrix(0 -1 1 0 -4 3)",
        }[transform]
        body = f'<g transform="{transform}">\n<g transform="{inverse}">{body}</g></g>'
    if draw(st.booleans()):
        body = body.replace("Z", " z ").replace("L", "\n L ").replace("<path", "<!-- a --><path\t")
    return Untidy(clean, head + b">" + body.encode() + b"</svg>")

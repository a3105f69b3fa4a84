"""A stack as a picture for notebooks: its fabrics above each other, as thick as they build up."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from .stack import Stack

_LINE: Final = 14.0
"""Height of a line of words; lengths of the picture are px."""

_TALLEST: Final = 60.0
"""Of the thickest fabric."""


def stack_picture(stack: Stack) -> str:
    """SVG text: the outside above, the body below, and how far each middle lies from the draft."""
    surfaces = stack.surfaces()
    scale = _TALLEST / max(*(fabric.build for fabric in stack.fabrics), 1e-9)
    rows = []
    y = _LINE
    told = list(zip(stack.fabrics, surfaces.middles.tolist(), strict=True))
    for fabric, middle in reversed(told):
        thick = max(fabric.build * scale, 1.0)
        words = f"{fabric.name}: {fabric.build:.2f} mm, {middle:+.2f} mm from the draft"
        if fabric.name == stack.drafted:
            words = f"{fabric.name}: {fabric.build:.2f} mm, drafted"
        high = max(thick, _LINE)
        width = 120.0 * fabric.coverage
        rows.append(
            f'<rect x="4" y="{y:.1f}" width="{width:.1f}" height="{thick:.1f}" fill="currentColor" '
            f'fill-opacity="{0.35 if fabric.name == stack.drafted else 0.12}"/>'
            f'<text x="136" y="{y + 0.5 * thick + 4.0:.1f}">{escape(words)}</text>'
        )
        y += high + 3.0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 480 {y + 6.0:.1f}" width="480" '
        'font-family="sans-serif" font-size="12" fill="currentColor" stroke="none">'
        f"<title>{escape('stack from the outside to the body')}</title>"
        + "".join(rows).replace("<rect ", '<rect stroke="currentColor" stroke-width="1" ')
        + "</svg>"
    )

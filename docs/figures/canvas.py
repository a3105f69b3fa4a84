"""A small drawing surface: SVG that can be read on a phone, on a white ground.

All figures are 360 units wide and letter at 11 or more, so that at 390 px they are about full
size; the white ground keeps them legible on dark pages.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Final

import numpy as np
import numpy.typing as npt

from panelshift.outline import Curve
from panelshift.outline.pathtext import number, path_data

WIDTH: Final = 360.0
SHOWN_PX: Final = 500
"""Width on a page that has room."""

INK, GREY, PALE = "#222222", "#767676", "#e8e4dc"
GREEN, BLUE, ORANGE, RED = "#1b7f5c", "#1f4e9e", "#b35900", "#b0182c"


class Canvas:
    """Collects shapes and returns them as one SVG file.

    Parameters
    ----------
    title : str
        What the figure shows, for those who do not see it.
    height : float
    """

    def __init__(self, title: str, height: float) -> None:
        self._title, self._height, self._parts = title, height, list[str]()

    def line(
        self,
        points: npt.ArrayLike | Curve,
        colour: str = INK,
        width: float = 1.0,
        *,
        dash: str = "",
        fill: str = "none",
        closed: bool = False,
    ) -> None:
        """Draw a line through points of shape (m, 2), or a curve."""
        curve = points if isinstance(points, Curve) else Curve.polyline(points, closed=closed)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<path d="{path_data(rounded(curve))}" fill="{fill}" stroke="{colour}" '
            f'stroke-width="{number(width)}" stroke-linejoin="round"{dashes}/>'
        )

    def arrow(self, start: npt.ArrayLike, end: npt.ArrayLike, colour: str = INK) -> None:
        """Draw an arrow; a short one is all head."""
        a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        size = float(np.hypot(*(b - a)))
        if size < 0.3:
            return
        way = (b - a) / size
        head = min(4.0, size)
        side = 0.4 * head * np.array([-way[1], way[0]])
        self.line([a, b - 0.5 * head * way], colour, 0.7)
        self.line([b, b - head * way + side, b - head * way - side], colour, 0.1, fill=colour)

    def dot(self, at: npt.ArrayLike, radius: float, colour: str) -> None:
        """Draw a filled circle."""
        x, y = np.asarray(at, dtype=float)
        self._parts.append(
            f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{colour}"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str | Sequence[str],
        *,
        size: float = 12.0,
        anchor: str = "start",
        colour: str = INK,
        bold: bool = False,
    ) -> None:
        """Write one line or several."""
        lines = [words] if isinstance(words, str) else words
        weight = ' font-weight="bold"' if bold else ""
        for place, line in enumerate(lines):
            self._parts.append(
                f'<text x="{number(x)}" y="{number(y + 1.25 * size * place)}" '
                f'font-size="{number(size)}" text-anchor="{anchor}" fill="{colour}"{weight}>'
                f"{escape(line)}</text>"
            )

    def note(
        self,
        at: tuple[float, float],
        target: npt.ArrayLike,
        words: str | Sequence[str],
        *,
        colour: str = INK,
    ) -> None:
        """Write words at the left or the right of something, with a line that leads to it.

        The first line of words stands at the height of `at`; they end there if the target lies to
        the right of it, and begin there if it lies to the left.
        """
        x, y = at
        end = np.asarray(target, dtype=float)
        rightwards = float(end[0]) > x
        gap = 4.0 if rightwards else -4.0
        self.line([(x + gap, y - 4.0), end], GREY, 0.7)
        self.dot(end, 1.8, GREY)
        self.text(x, y, words, anchor="end" if rightwards else "start", colour=colour)

    def badge(self, at: tuple[float, float], words: str) -> None:
        """A number in a filled circle, which the page's list explains."""
        self.dot(at, 10.0, BLUE)
        x, y = at
        self.text(x, y + 4.5, words, size=13, anchor="middle", colour="#ffffff", bold=True)

    def part(self, markup: str) -> None:
        """Put in SVG that was drawn elsewhere."""
        self._parts.append(markup)

    def svg(self) -> str:
        """Return the file."""
        height = number(self._height)
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{SHOWN_PX}" '
                f'height="{round(SHOWN_PX * self._height / WIDTH)}" '
                f'viewBox="0 0 {number(WIDTH)} {height}" role="img" '
                'font-family="Helvetica, Arial, sans-serif">',
                f"<title>{escape(self._title)}</title>",
                f'<rect width="{number(WIDTH)}" height="{height}" rx="6" fill="#ffffff"/>',
                *self._parts,
                "</svg>\n",
            ]
        )


def rounded(curve: Curve) -> Curve:
    """To a hundredth: no screen shows more, and no platform's last bit shows."""
    return Curve.trusted(np.round(curve.control, 2) + 0.0, curve.degree, curve.closed)


def signed(value: float, places: int = 2) -> str:
    """Return a number with its sign, a true minus, and none for nought."""
    words = f"{abs(value):.{places}f}"
    if float(words) == 0.0:
        return words
    return ("+" if value > 0 else "\N{MINUS SIGN}") + words

"""What a case of the geometry oracle is, and the probes that most of them draw."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Final

FINE: Final = 'width="1.5in" height="1.5in" viewBox="0 0 3810 3810"'
"""The usual root: 100 units to the mm, on a page that is a whole number of px: the browser snaps
the page to 1/64 px, which would scale all else by up to 1/10000. Its getTotalLength flattens
curves to half a unit, so that coarser units would leave it too inexact to compare with."""

FLAG: Final = (
    '<polygon id="flag" points="0,0 600,0 600,100 200,100 200,300 500,300 500,400 200,400 '
    '100,900 0,900"/>'
)
"""No two symmetries map it onto itself: a mirror or a turn too many shows."""

BOW: Final = (
    '<path id="bow" d="M200 100A300 150 25 1 0 700 400C800 600 600 800 300 700Q100 500 200 100Z"/>'
)
"""A rotated arc, a cubic and a quadratic in one outline."""

PROBE: Final = FLAG + BOW


@dataclass(frozen=True)
class Case:
    """A small drawing and what is to be said of it.

    Parameters
    ----------
    name : str
    body : str
        What stands inside the outermost svg.
    root : str
        Attributes of the outermost svg.
    refused : str
        Words of the error with which panelshift refuses it; empty if it is read.
    left_out : str
        Words of the reason with which panelshift lists an element that the browser draws.
    before : str
        What stands before the outermost svg.
    floating : bool
        Whether the browser centres the page in its window, so that only shape and size count.
    browser_blank : str
        Why this browser draws nothing of what is read; the second renderer must then agree.
    browser_strays : str
        Why this browser's points are wrong; a test of its own shows it.
    """

    name: str
    body: str
    root: str = FINE
    refused: str = ""
    left_out: str = ""
    before: str = ""
    floating: bool = False
    browser_blank: str = ""
    browser_strays: str = ""

    @property
    def svg(self) -> str:
        """The whole file."""
        return (
            f'{self.before}<svg xmlns="http://www.w3.org/2000/svg" '
            f'xmlns:xlink="http://www.w3.org/1999/xlink" {self.root}>{self.body}</svg>'
        )

    @property
    def digest(self) -> str:
        """Tells whether answers were given for this very file."""
        return hashlib.sha256(self.svg.encode()).hexdigest()[:12]


def paths(
    prefix: str, data: dict[str, str], refused: str = "", browser_blank: str = ""
) -> list[Case]:
    """One case for each path, in units of 0.01 mm."""
    return [
        Case(
            f"{prefix}-{name}",
            f'<path id="p" d="{d}"/>',
            refused=refused,
            browser_blank=browser_blank,
        )
        for name, d in data.items()
    ]

"""Paper sizes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from ..errors import PrintError, UnitError
from ..files.plain_values import held_to_types
from ..units import MM_PER_INCH, length_parts, tidy, to_mm

LARGEST_PAPER_MM: Final = 50_000.0


@dataclass(frozen=True)
class Paper:
    """A paper size.

    Parameters
    ----------
    name : str
    width, height : float
        In mm, upright. The height of a roll is 0: as long as is needed.
    """

    name: str
    width: float
    height: float

    @property
    def is_roll(self) -> bool:
        """Whether it is a roll, cut off where the drawing ends."""
        return self.height == 0.0

    def turned(self) -> Paper:
        """Return the paper lying on its long side."""
        return Paper(self.name, self.height, self.width)


def _inches(width: float, height: float) -> tuple[float, float]:
    return width * MM_PER_INCH, height * MM_PER_INCH


PAPERS: Final[dict[str, Paper]] = {
    name: Paper(name, *size)
    for name, size in {
        # ISO 216, table of the A series, in mm.
        "a4": (210.0, 297.0),
        "a3": (297.0, 420.0),
        "a2": (420.0, 594.0),
        "a1": (594.0, 841.0),
        "a0": (841.0, 1189.0),
        # ANSI/ASME Y14.1: sizes A (letter) and B (tabloid), in inches.
        "letter": _inches(8.5, 11.0),
        "tabloid": _inches(11.0, 17.0),
        # What A4 and letter both hold: prints alike on either, at 100 %.
        "a4-letter": (210.0, 11.0 * MM_PER_INCH),
        # Common office size in North America, in inches, from memory.
        "legal": _inches(8.5, 14.0),
    }.items()
}

_SIDE = r"([^-+a-z\u00d7\"]*[0-9\u00bc-\u00be][^-+a-z\u00d7\"]*)([a-z\"]*?)"
_SIZE = re.compile(rf"{_SIDE}\s*[x\u00d7]\s*{_SIDE}")
"""Two lengths with their units; a sign belongs to no side of paper."""


@held_to_types
def parse_paper(text: str, *, bare: str = "mm") -> Paper:
    """Read a paper: a name, a size such as 300x400 or 24x36in, or a roll such as roll:914.

    Parameters
    ----------
    text : str
        A unit after one side counts for both. Case does not matter.
    bare : {"mm", "cm", "in"}
        The unit of a size that names none.

    Returns
    -------
    Paper
        Upright; sides in mm.

    Raises
    ------
    PrintError
        If the paper is unknown or has no size; the message lists what is known.

    Examples
    --------
    >>> parse_paper("a4").width
    210.0
    >>> parse_paper("24x36in").height
    914.4
    >>> parse_paper("roll:36in").is_roll
    True
    """
    words = text.strip().lower()
    if words in PAPERS:
        return PAPERS[words]
    try:
        if words.startswith("roll:"):
            return _checked(Paper("roll", to_mm(words.removeprefix("roll:"), bare=bare), 0.0), text)
        match = _SIZE.fullmatch(words)
        if match:
            across, unit, down, last = match.groups()
            plain = "" if unit or last or bare == "mm" else bare
            across, down = across + (unit or last or plain), down + (last or unit or plain)
            return _checked(_sized(across, down), text)
    except UnitError as error:
        raise PrintError(error.problem, remedy=error.remedy, element="paper") from None
    raise PrintError(
        f"unknown paper {text!r}",
        remedy=f"Use one of {', '.join(PAPERS)}, a size such as 300x400 (mm) or 24x36in, or a "
        "roll such as roll:914.",
        element="paper",
    )


def _sized(across: str, down: str) -> Paper:
    """A paper named as it was asked for: a maker sees it in the summary and the file name."""
    (wide, unit), (high, last) = length_parts(across), length_parts(down)
    name = f"{tidy(wide)}{unit if unit != last else ''}x{tidy(high)}{last}"
    return Paper(name, to_mm(across), to_mm(down))


def _checked(paper: Paper, text: str) -> Paper:
    sides = (paper.width,) if paper.name == "roll" else (paper.width, paper.height)
    if not all(0.0 < side <= LARGEST_PAPER_MM for side in sides):
        raise PrintError(
            f"paper {text!r} has no usable size",
            remedy="Both sides must be more than 0 and at most 50 m.",
            element="paper",
        )
    return paper

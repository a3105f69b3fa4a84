"""What a picture of lines and words fills, against its frame."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from lxml import etree

from panelshift.outline import FloatArray
from panelshift.sheets import lettering

_SVG = "{http://www.w3.org/2000/svg}"
_FROM = {"start": 0.0, "middle": 0.5, "end": 1.0}
_PAIR = re.compile(r"(-?[\d.]+)[ ,](-?[\d.]+)")


@dataclass(frozen=True)
class Drawn:
    """A line, or the box of a word by true widths: *box* is (left, top, right, bottom)."""

    words: str
    points: FloatArray

    @property
    def box(self) -> FloatArray:
        return np.concatenate([self.points.min(axis=0), self.points.max(axis=0)])


@dataclass(frozen=True)
class Picture:
    """A picture without transforms: lines and words in its own units."""

    width: float
    height: float
    lines: list[Drawn]
    words: list[Drawn]

    @classmethod
    def of(cls, content: str | bytes) -> Picture:
        root = etree.fromstring(content)
        assert not root.xpath("//*[@transform]")
        left, top, width, height = (float(v) for v in root.get("viewBox").split())
        assert left == top == 0.0
        lines = [
            Drawn("", np.array(_PAIR.findall(path.get("d")), dtype=np.float64))
            for path in root.iter(f"{_SVG}path")
        ]
        return cls(width, height, lines, [_word(text) for text in root.iter(f"{_SVG}text")])

    def beyond(self) -> list[Drawn]:
        """What reaches out of the frame."""
        frame = np.array([self.width, self.height])
        return [
            each
            for each in (*self.lines, *self.words)
            if (each.box[:2] < 0.0).any() or (each.box[2:] > frame).any()
        ]

    def word(self, words: str) -> Drawn:
        """The one word that is so."""
        (found,) = (each for each in self.words if each.words == words)
        return found

    def lapping(self) -> list[tuple[str, str]]:
        """Words that lie on each other."""
        return [
            (one.words, other.words)
            for k, one in enumerate(self.words)
            for other in self.words[k + 1 :]
            if (one.box[:2] < other.box[2:]).all() and (other.box[:2] < one.box[2:]).all()
        ]


def _word(text: etree._Element) -> Drawn:
    """From the baseline up by a capital's height, 0.7 of a letter."""
    words, size = "".join(text.itertext()), float(text.get("font-size"))
    wide = lettering.width(words) * size
    left = float(text.get("x")) - _FROM[text.get("text-anchor", "start")] * wide
    base = float(text.get("y"))
    return Drawn(words, np.array([[left, base - 0.7 * size], [left + wide, base]]))

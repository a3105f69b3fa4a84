"""What is to be said of a drawing that was read: left out, settled, to be looked at."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

RemarkKind = Literal["left out", "note", "warning", "fault"]

CODES: Final[dict[str, str]] = {
    "file": "the drawing file itself is in doubt, such as its scale",
    "shrunk-page": "all lines are drawn a little smaller than their own numbers say",
    "not-read": "the reader of the file could not use it",
    "hatching": "parallel lines at equal distances",
    "copy": "drawn twice, one line on top of the other",
    "dashes-joined": "short pieces in a row are one dashed line",
    "speck": "a stray line too short to mean anything",
    "joined": "an outline was joined from several pieces",
    "waistline-alone": "a line was taken as the waistline, being the only one across",
    "waistline-unused": "a waistline that crosses no panel, or lies on another",
    "net-outline-by-place": "which of two outlines is the net one was told by their places",
    "allowance-drawn": "the allowance that is drawn in was taken off",
    "several-outlines": "more than two outlines lie round each other: several sizes, perhaps",
    "other-size": "of another size than the one asked for",
    "seam-allowance": "an outline round another is its seam allowance",
    "frame": "an outline round panels is a frame",
    "mark-inside": "an outline inside another is taken as a mark on it",
    "too-small": "crossed by a waistline, but far too small for a panel",
    "no-waistline": "it looks like a panel, but no waistline crosses it",
    "short-panel": "it looks like a panel, but is far shorter than the others",
    "cut-off": "an outline runs along or off the edge of the page, or of its clip",
    "left-out": "the maker asked to leave it out",
    "lies-sideways": "which end of a panel is its top was told from its place alone",
    "order": "how the order of the panels was told",
    "halves": "how it was told whether one half or both are drawn",
    "halves-weak": "little tells whether one half or both are drawn",
    "halves-doubted": "some evidence speaks against what was taken, one half or both",
    "whole-front": "the panel at the centre front may be drawn whole beside halves",
    "set-aside": "its name says that it is no part of a panel",
    "nowhere": "it lies on no panel",
    "scale-unchecked": "nothing was stated that would tell a wrong scale",
    "outline-unchecked": "nothing was stated that would tell a wrong net outline",
}
"""Codes of remarks, which stay the same from release to release, and what each is about."""


@dataclass(frozen=True)
class Remark:
    """One thing said of a drawing.

    Parameters
    ----------
    kind : {"left out", "note", "warning", "fault"}
        A drawn thing that takes no part; how a doubtful point was settled; what the maker
        should look at; what must be mended before anything is cut.
    code : str
        One of `CODES`.
    words : str
        For people. Of a thing left out: why.
    elements : tuple of str
        Ids of what it is about; of a thing left out that one, or the first of several.
    remedy : str
        Of a fault: what to do about it.
    """

    kind: RemarkKind
    code: str
    words: str
    elements: tuple[str, ...] = ()
    remedy: str = ""


@dataclass(frozen=True)
class Ledger:
    """The remarks of one drawing, in the order in which they were made."""

    remarks: list[Remark] = field(default_factory=list)

    def leave_out(self, code: str, why: str, *elements: str) -> None:
        """Say that a drawn thing takes no part."""
        self.remarks.append(Remark("left out", code, why, elements))

    def note(self, code: str, words: str, *elements: str) -> None:
        """Say how a doubtful point was settled."""
        self.remarks.append(Remark("note", code, words, elements))

    def fault(self, code: str, words: str, *elements: str, remedy: str) -> None:
        """Say what must be mended before anything is cut."""
        self.remarks.append(Remark("fault", code, words, elements, remedy))

    def warn(self, code: str, words: str, *elements: str) -> None:
        """Say what the maker should look at."""
        self.remarks.append(Remark("warning", code, words, elements))

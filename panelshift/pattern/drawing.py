"""What a reader hands over: named curves and texts in millimetres, free of any file format."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ..outline import Curve, FloatArray


@dataclass(frozen=True, eq=False)
class Shape:
    """One drawn curve, in sheet coordinates (mm, y downwards).

    Parameters
    ----------
    curve : Curve
        A single unbroken curve; a path with several subpaths makes several shapes.
    ident : str
        The element's id, or a description of its place in the file where it has none;
        unique in the drawing.
    names : tuple of str
        What the element itself is called: id, label, title; may be empty.
    groups : tuple of str
        Names of the groups it lies in, outermost first.
    data : mapping of str to str
        The element's data attributes without the ``data-`` prefix.
    classes : tuple of str
        The element's classes. They may say what kind of line it is, as names do.
    element : str
        What `ident` would be without a number for the subpath, if it is one of several of
        its element; else empty.
    """

    curve: Curve
    ident: str
    names: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    data: Mapping[str, str] = field(default_factory=dict)
    classes: tuple[str, ...] = ()
    element: str = ""


@dataclass(frozen=True, eq=False)
class Text:
    """One run of drawn text.

    Parameters
    ----------
    content : str
    anchor : ndarray, shape (2,)
        Start of the baseline, in sheet mm.
    size : float
        Font size in mm.
    angle : float
        Direction of the baseline in radians, from x towards y.
    ident : str
        As for `Shape`.
    groups : tuple of str
        As for `Shape`.
    """

    content: str
    anchor: FloatArray
    size: float
    angle: float
    ident: str
    groups: tuple[str, ...] = ()


@dataclass(frozen=True)
class LeftOut:
    """A drawn thing that takes no part in the pattern, and why."""

    ident: str
    reason: str


@dataclass(frozen=True, eq=False)
class Drawing:
    """All that was read from one file.

    Parameters
    ----------
    shapes, texts : tuples
        In document order.
    left_out : tuple of LeftOut
        What the reader could not use; nothing is dropped without a word.
    warnings : tuple of str
        Doubts about the whole file, such as an unstated scale.
    in_px : bool
        Whether the file gives its size in px alone. It was then read at 96 px to the inch,
        as CSS has it, which not every program means.
    source : str
        File name or other origin, for messages.
    """

    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    warnings: tuple[str, ...] = ()
    source: str = ""
    in_px: bool = False

    def scaled(self, scale: float) -> Drawing:
        """Return the drawing with all lengths multiplied by a factor.

        Raises
        ------
        CurveError
            If that carries a curve beyond 100 m.
        """
        return replace(
            self,
            shapes=tuple(replace(s, curve=s.curve.scaled(scale)) for s in self.shapes),
            texts=tuple(
                replace(text, anchor=text.anchor * scale, size=text.size * scale)
                for text in self.texts
            ),
        )

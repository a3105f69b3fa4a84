"""Sections traced round a body and drawn in true size: one closed or half curve a level."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..body.form import FormErrors
from ..body.support import Sections
from ..errors import FormError, PanelshiftError
from ..files.plain_values import held_to_types
from ..outline import Curve, FloatArray
from ..outline.measure import length, position_at_length
from ..outline.planar import self_crossing
from ..pattern.drawing import Drawing, Shape
from ..sources.drawings import read_drawing
from ..units import to_mm
from .convex import Fitted, convex_fit
from .section_file import MeasuredForm

MOST_HOLLOW_MM: Final = 12.0
"""By how much a traced curve may lie inside the convex one that fits it: cloth bridges hollows,
and a curve that is deeper was pressed into one or is no section."""

MOST_NOISE_MM: Final = 6.0
"""Root mean square by which a curve may miss the one that fits it."""

_SMOOTHED_MM: Final = 0.9
"""What smoothing takes from a body's sharp places: from trials with points that have no noise."""

_LEFT: Final = 0.35
"""Part of the noise of points that it leaves: a fit to 170 of them has about 20 numbers to find."""

_REACHES: Final = 1.02
"""From so many times as long as the curve on, the tape round its points is said: points that err by
1 mm each stay below, corners as of a box do not (trials)."""

_GIRTHS: Final = (350.0, 2200.0)
_STEP_MM: Final = 4.0
_DOT_MM: Final = 30.0
"""Closed curves shorter than this are dots."""

_LONGEST_MM: Final = 5_000.0
"""Round a body, traced twice: more is no section, and its points would fill the memory."""

_NEAR_MIDDLE_MM: Final = 20.0
"""How far from the line through centre front and plumb mark a half curve may end."""

_DEEP_MM: Final = 80.0
"""No body is less deep."""

_INSIDE: Final = 0.35
"""Part of a curve's depth by which its centre front may be marked behind the foremost point: one
mark for all levels lies behind the bust. An axis lies deeper."""

_ABOVE: Final = ("underbust", "under bust", "bust", "chest", "top", "armpit")
_BELOW: Final = ("high hip", "hip", "seat", "bottom")
_LEVEL: Final = re.compile(
    r"(?P<word>[a-z][a-z ]*?)?\s*(?P<height>[+-]?\s*\d[\d.,/ ]*\s*(?:mm|cm|in|\")?)?"
)
_FRONT: Final = ("cf", "centre front", "center front", "front")
_PLUMB: Final = ("plumb", "plumb line", "plumb mark", "axis")


@dataclass(eq=False)
class _TracedLevel:
    """What was drawn of one level."""

    name: str
    height: float
    curves: list[Shape] = field(default_factory=list)
    front: FloatArray | None = None
    plumb: FloatArray | None = None


@held_to_types
def measure_traced(source: str | os.PathLike[str] | bytes) -> MeasuredForm:
    """Measure a body from curves traced round it, seen from above.

    Parameters
    ----------
    source : path or bytes
        An SVG in true size. Each level's curve, or its group, is called by the level's name
        and its upright height from the waist: ``waist``, ``bust 160``, ``hip -210 mm``. A mark
        called ``cf`` shows the centre front and one called ``plumb`` where the plumb line hung;
        both lie in each level's group, or one of each serves all.

    Returns
    -------
    MeasuredForm
        Half curves are mirrored in the line from the plumb mark to the centre front.

    Raises
    ------
    FormError
        If a level has no height, a mark is missing, a curve is open, crosses itself or is too
        hollow, there are fewer than three levels, or the waist is not among them.
    SvgError
        If the file is no SVG or its true size cannot be told.

    Examples
    --------
    >>> rings = "".join(f'<circle id="{n}" cx="200" cy="200" r="110"/>'
    ...                 for n in ("waist", "bust 150", "hip -180"))
    >>> marks = '<path id="cf" d="M200 85v2"/><path id="plumb" d="M200 200v2"/>'
    >>> found = measure_traced(
    ...     f'<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" '
    ...     f'viewBox="0 0 400 400">{rings}{marks}</svg>'.encode())
    >>> found.shown_girth(0.0, "cm")
    '69.1 cm'
    """
    levels, fits = _read(read_drawing(source))
    heights = np.array([level.height for level in levels])
    sections = Sections(np.vstack([fit.sections.coefficients for fit in fits]))
    noise = float(np.sqrt(np.mean([fit.noise**2 for fit in fits])))
    words = [_said(level, fit) for level, fit in zip(levels, fits, strict=True)]
    errors = FormErrors(
        surface=float(np.hypot(_SMOOTHED_MM, _LEFT * noise)),
        front=float(np.radians(1.0)),
        waist=4.0,
    )
    names = {level.name: level.height for level in levels}
    return MeasuredForm(heights, sections, "traced", errors, tuple(words), names)


def _said(level: _TracedLevel, fit: Fitted) -> str:
    girth = float(fit.sections.girths[0])
    words = f"{level.name}: {girth:.0f} mm round, the traced points within {fit.rms:.1f} mm of it"
    if fit.reach > _REACHES * girth:
        words += (
            f"; a tape round the outermost of them is {fit.reach:.0f} mm: the curve has corners "
            "that no body has, or was traced unsteadily"
        )
    return words


def _read(drawing: Drawing) -> tuple[list[_TracedLevel], list[Fitted]]:
    """Levels and the curves that fit them; faults name the drawing."""
    try:
        levels = _levels(drawing)
        return levels, [_fitted(level) for level in levels]
    except PanelshiftError as error:
        raise error.located(source=drawing.source) from None


def _levels(drawing: Drawing) -> list[_TracedLevel]:
    """Levels from the lowest to the highest, each with its marks."""
    found: dict[float, _TracedLevel] = {}
    common: dict[str, FloatArray] = {}
    strays: list[tuple[str, Shape]] = []
    for shape in drawing.shapes:
        mark = _mark(shape)
        level = _level_of(shape, found)
        if mark and level:
            setattr(level, mark, _middle(shape.curve))
        elif mark:
            common[mark] = _middle(shape.curve)
        elif level:
            level.curves.append(shape)
        else:
            strays.append((shape.ident, shape))
    levels = sorted(found.values(), key=lambda level: level.height)
    levels = [level for level in levels if level.curves]
    if strays and not levels:
        raise FormError(
            f"no curve is called by its level; {strays[0][0]} is one of {len(strays)} without",
            remedy="Call each curve (or its group) by level and height above the waist, such as "
            "'waist', 'bust 160' or 'hip -210'.",
            element=strays[0][0],
        )
    if len(levels) < 3 or not any(level.height == 0.0 for level in levels):
        raise FormError(
            f"{len(levels)} levels are too few, or the waist is not among them",
            remedy="Trace the waist and at least one level above and one below it; seven are "
            "better. The waist's curve is called 'waist'.",
        )
    for level in levels:
        for mark, words in (("front", "centre front"), ("plumb", "plumb line")):
            if getattr(level, mark) is None:
                if mark not in common:
                    raise FormError(
                        f"level {level.name!r} has no mark of the {words}",
                        remedy="Draw a short line or a dot there and call it "
                        f"'{'cf' if mark == 'front' else 'plumb'}'.",
                        element=level.curves[0].ident,
                    )
                setattr(level, mark, common[mark])
    return levels


def _words(shape: Shape) -> Iterator[str]:
    """Names of the element, then of its groups from the innermost."""
    for name in (*shape.names, *reversed(shape.groups)):
        yield re.sub(r"[_\s]+", " ", name).strip().lower()


def _mark(shape: Shape) -> str:
    for name in shape.names:
        plain = re.sub(r"[_\-\s]+", " ", name).strip().lower().rstrip("0123456789 ")
        if plain in _FRONT:
            return "front"
        if plain in _PLUMB:
            return "plumb"
    return ""


def _level_of(shape: Shape, found: dict[float, _TracedLevel]) -> _TracedLevel | None:
    for name in _words(shape):
        match = _LEVEL.fullmatch(name)
        if match is None or not (match["word"] or match["height"]):
            continue
        word = (match["word"] or "").strip()
        if word and word not in (*_ABOVE, *_BELOW, "waist", "level", "height"):
            continue
        if word == "waist" and not match["height"]:
            height = 0.0
        elif not match["height"]:
            raise FormError(
                f"level {name!r} has no height",
                remedy=f"Add its height above the waist, less than 0 below it: '{name} "
                f"{'-200' if word in _BELOW else '150'}'.",
                element=shape.ident,
            )
        else:
            height = to_mm(match["height"].replace(" ", ""))
        if (word in _ABOVE and height <= 0.0) or (word in _BELOW and height >= 0.0):
            raise FormError(
                f"level {name!r} lies on the wrong side of the waist",
                remedy="Heights are counted upwards from the waist: bust 160, hip -210 (with a "
                "space before the minus).",
                element=shape.ident,
            )
        return found.setdefault(height, _TracedLevel(name, height))
    return None


def _middle(curve: Curve) -> FloatArray:
    """Middle of a mark's box."""
    low, high = curve.bounds()
    return np.asarray(0.5 * (low + high))


def _fitted(level: _TracedLevel) -> Fitted:
    """The convex curve of one level, in the body's frame."""
    front, plumb = level.front, level.plumb
    assert front is not None
    assert plumb is not None
    away = front - plumb
    size = float(np.hypot(*away))
    if size < 20.0:
        raise FormError(
            f"the marks of centre front and plumb line at level {level.name!r} lie "
            f"{size:.0f} mm apart",
            remedy="Hang the plumb line farther before the body, or mark an axis inside the curve.",
            element=level.curves[0].ident,
        )
    middle = np.mean([_middle(shape.curve) for shape in level.curves], axis=0)
    # The plumb line hangs before the body, behind it or, as an axis, inside the curve.
    ahead = away / size * (1.0 if (front - middle) @ away > 0.0 else -1.0)
    # Seen from above with the front up the page (y downwards) the wearer's left is at the left.
    left = np.array([ahead[1], -ahead[0]])
    frame = np.column_stack([left, ahead])
    half = True
    runs, whole = [], 0.0
    for shape in level.curves:
        whole += length(shape.curve)
        if whole > _LONGEST_MM:
            raise FormError(
                f"the curves of level {level.name!r} are more than {_LONGEST_MM / 1000.0:.0f} m "
                "long together",
                remedy="Trace each level once; remove what is no section of the body.",
                element=shape.ident,
            )
        half &= _is_half(
            shape, level, (shape.curve.start - plumb) @ frame, (shape.curve.end - plumb) @ frame
        )
        runs.append((_sampled(shape.curve) - plumb) @ frame)
    points = np.vstack(runs)
    inside = float(points[:, 1].max() - (front - plumb) @ ahead)
    if inside > _INSIDE * float(np.ptp(points[:, 1])):
        raise FormError(
            f"the mark of the centre front lies {inside:.0f} mm inside the curve of level "
            f"{level.name!r}: which way is forward cannot be told",
            remedy="Put 'cf' on the curve or before the body, and 'plumb' where the plumb line "
            "hung; see that the two are not exchanged.",
            element=level.curves[0].ident,
        )
    if half:
        points = points * np.array([np.sign(float(points[:, 0].mean())) or 1.0, 1.0])
    fit = convex_fit(points, symmetric=half)
    _refuse_unlike(level, fit)
    return fit


def _is_half(shape: Shape, level: _TracedLevel, start: FloatArray, end: FloatArray) -> bool:
    """Whether an open curve runs from centre front to centre back on one side."""
    crossing = self_crossing(shape.curve)
    if crossing is not None:
        raise FormError(
            f"the curve of level {level.name!r} crosses itself",
            remedy="Draw it again as one round line, or move the crossing ends apart.",
            element=shape.ident,
            at=(float(crossing[0]), float(crossing[1])),
        )
    if _goes_round(shape):
        return False
    if max(abs(start[0]), abs(end[0])) < _NEAR_MIDDLE_MM and abs(start[1] - end[1]) > _DEEP_MM:
        return True
    raise FormError(
        f"the curve of level {level.name!r} is open: its ends lie "
        f"{float(np.hypot(*(start - end))):.0f} mm apart",
        remedy="Close it; or, for one side only, let it begin at the centre front and end at the "
        "centre back.",
        element=shape.ident,
    )


def _goes_round(shape: Shape) -> bool:
    gap = float(np.hypot(*(shape.curve.end - shape.curve.start)))
    return shape.curve.closed or gap < _NEAR_MIDDLE_MM


def _sampled(curve: Curve) -> FloatArray:
    """Points every 4 mm, or one at a small mark's middle: traced points are drawn as dots."""
    whole = length(curve)
    if whole < _DOT_MM:
        return _middle(curve)[None]
    count = max(int(np.ceil(whole / _STEP_MM)), 12)
    lengths = np.linspace(0.0, whole, count, endpoint=not curve.closed)
    return curve.points(position_at_length(curve, lengths))


def _refuse_unlike(level: _TracedLevel, fit: Fitted) -> None:
    girth = float(fit.sections.girths[0])
    element = level.curves[0].ident
    rings = [s for s in level.curves if _goes_round(s) and length(s.curve) >= _DOT_MM]
    if fit.hollow > MOST_HOLLOW_MM and len(rings) > 1:
        raise FormError(
            f"{len(rings)} closed curves that do not lie together are called {level.name!r}",
            remedy="Keep one of them, and call each of the others by its own level and height, or "
            "remove it.",
            element=rings[1].ident,
        )
    if fit.hollow > MOST_HOLLOW_MM:
        raise FormError(
            f"the curve of level {level.name!r} is hollow by {fit.hollow:.0f} mm "
            f"(more than {MOST_HOLLOW_MM:.0f})",
            remedy="Cloth bridges hollows: lay the flexible curve over them, or draw across.",
            element=element,
        )
    if not _GIRTHS[0] <= girth <= _GIRTHS[1]:
        raise FormError(
            f"level {level.name!r} is {girth:.0f} mm round: no adult's body",
            remedy="Draw the curves in true size; check the drawing's units.",
            element=element,
        )
    if fit.rms > MOST_NOISE_MM:
        raise FormError(
            f"the curve of level {level.name!r} misses any round one by {fit.rms:.0f} mm",
            remedy="Trace it again; one curve a level, and nothing else under its name.",
            element=element,
        )

"""Drawings of a pattern for the page: what was read, where a warning belongs, who is what class.

Everything is drawn from panelshift's own curves; nothing of an uploaded file's markup gets here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree
from markupsafe import Markup

from ..errors import PanelshiftError
from ..fit.sections import short_names
from ..job.said import Finding
from ..outline import Curve, FloatArray
from ..outline.pathtext import number
from ..pattern.drawing import Drawing, Shape
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern
from ..sheets.lettering import width
from ..sheets.svg_writer import finished, picture

_LETTER: Final = 0.026
"""Font size as a part of the picture's longer side."""

_TALL: Final = 0.05
"""Largest font size as a part of the shorter side, for rows of many panels."""

_FLAG_HEIGHT: Final = 2.7
"""Of a flag over its place, in letters."""

_MOST_SHAPES: Final = 3000
"""Shapes of a file that could not be made a pattern that are drawn."""


@dataclass(frozen=True, eq=False)
class Flag:
    """A numbered remark, and where on the sheet (mm) it belongs; None if nowhere.

    `curve` is what it is about, where that is no panel and so would not be drawn otherwise.
    """

    number: int
    words: str
    at: FloatArray | None
    curve: Curve | None = None


@dataclass(frozen=True)
class Pointing:
    """Shapes that can be pointed at as an answer.

    *control*: id of the control that does the same. *letter*: beside them; may be empty.
    *elements*: ids of the shapes.
    """

    control: str
    letter: str
    elements: tuple[str, ...]


def safe(svg: str) -> Markup:
    """Return a picture of our own as markup."""
    # Built by lxml from panelshift's own curves and numbers; lxml has escaped every name in it.
    return Markup(svg)


def flags(
    findings: Sequence[Finding], pattern: Pattern, drawing: Drawing | None
) -> tuple[Flag, ...]:
    """Give findings numbers, from 1 on, and a place at what they are about."""
    shapes_at = {} if drawing is None else _shape_middles(drawing)
    shapes_at |= {panel.ident: _middle(panel) for panel in pattern.panels}
    seams_at = _seam_ends(pattern)
    panels = {panel.ident for panel in pattern.panels}
    shapes = () if drawing is None else drawing.shapes
    curves = {shape.ident: shape.curve for shape in shapes if shape.ident not in panels}
    return tuple(
        Flag(
            number,
            found.words,
            seams_at[found.seam] if found.seam else shapes_at.get(found.element),
            curves.get(found.element),
        )
        for number, found in enumerate(findings, start=1)
    )


def error_flag(error: PanelshiftError, drawing: Drawing | None, *, brief: bool = False) -> Flag:
    """Why a drawing is no pattern, and where on it the fault lies.

    *brief*: without what to do about it, where a button does it.
    """
    at = None if error.at is None else np.array(error.at)
    if at is None and drawing is not None:
        at = _shape_middles(drawing).get(error.element)
    about = f"{error.element}: " if error.element else ""
    remedy = "." if brief else f". {error.remedy}"
    return Flag(1, f"{about}{error.problem}{remedy}", at)


def _shape_middles(drawing: Drawing) -> dict[str, FloatArray]:
    return {shape.ident: shape.curve.hull_box.mean(axis=0) for shape in drawing.shapes}


def _seam_ends(pattern: Pattern) -> dict[str, FloatArray]:
    """Where each seam meets the waist, on its first panel."""
    found = {}
    for walked in pattern.walk():
        seam = walked.seam
        panel, edge = pattern.panels[seam.first], seam.first_edge
        curve = panel.stretch(edge, seam.first_span) if seam.in_slit else panel.edge(edge)
        waist = None if seam.in_slit else panel.waist_end(edge)
        middle = curve.points(0.5 * len(curve))[0] if waist is None else waist
        found[walked.name] = middle
    return found


def _middle(panel: Panel) -> FloatArray:
    return np.asarray(panel.outline.bounds().mean(axis=0))


def pattern_picture(
    pattern: Pattern,
    title: str,
    remarks: Sequence[Flag] = (),
    classes: Sequence[str] | None = None,
    *,
    options: Mapping[Pointing, Sequence[Curve]] | None = None,
    before: Sequence[Panel] = (),
) -> str:
    """Draw all panels as they lie on the sheet.

    *title*: read out for those who do not see it. *classes*: of each panel; they are then drawn
    with their classes and can be clicked on. *options*: what can be pointed at. *before*: panels as
    they were, drawn under those that they have become.
    """
    others = [flag.curve for flag in remarks if flag.curve is not None]
    chosen = options or {}
    outlines = [*(panel.outline for panel in (*pattern.panels, *before)), *others]
    outlines += [curve for curves in chosen.values() for curve in curves]
    sheet = _PatternSheet.of(np.stack([curve.bounds() for curve in outlines]), remarks, title)
    names = short_names([panel.name for panel in pattern.panels])
    if classes is not None:
        _weaves(sheet)
    # All names in one size that can be read: along the panels where some are too narrow for them.
    said = [names[panel.name] for panel in pattern.panels]
    said += [] if classes is None else list(classes)
    narrowest = min(panel.waist_width for panel in pattern.panels if panel.waist)
    upright = 1.09 * sheet.letter * max(map(width, said)) > narrowest
    for panel in before:
        sheet.path(sheet.root, panel.outline, "draft-line")
    for index, panel in enumerate(pattern.panels):
        group = sheet.group("panel" if classes is None else f"panel of-{classes[index]}")
        group.set("data-panel", str(index))
        if classes is not None:
            group.set("data-class", classes[index])
        etree.SubElement(group, "title").text = panel.name
        body = sheet.path(group, panel.outline, "outline")
        if classes is not None:
            body.set("fill", f"url(#weave-{classes[index]})")
        for level in panel.level_lines:
            sheet.path(group, level.curve, "waist" if level is panel.waist else "level")
        for mark in panel.marks:
            sheet.path(group, mark.curve, f"mark {mark.kind}")
        for slit in panel.slits:
            sheet.path(group, slit.curve, "mark slit")
        # Below the waist there is room in most panels, and the waistline stays to be seen.
        up = panel.frame.up if upright else np.zeros(2)
        at = panel.middle - (0.8 if upright else 1.6) * sheet.letter * panel.frame.up
        if upright:
            at = at + np.array([0.35 if classes is None else -0.3, 0.0]) * sheet.letter
        sheet.words(group, names[panel.name], at, "name", along=up)
        if classes is not None:
            beside = np.array([1.25, 0.0] if upright else [0.0, 1.25]) * sheet.letter
            sheet.words(group, classes[index], at + beside, "class-name", 0.8, along=up)
    _level_names(sheet, pattern)
    for curve in others:
        sheet.path(sheet.root, curve, "at-fault")
    _options(sheet, chosen)
    for flag in remarks:
        sheet.flag(flag)
    return finished(sheet.root)


def drawing_picture(
    drawing: Drawing,
    title: str,
    flag: Flag | None = None,
    element: str = "",
    options: Sequence[Pointing] = (),
) -> str:
    """Draw all curves of a file that is no pattern yet, with the fault at its place.

    *element*: id of the element at fault, drawn bold. *options*: what can be clicked on.
    """
    shapes = drawing.shapes[:_MOST_SHAPES]
    boxes = np.stack([shape.curve.hull_box for shape in shapes])
    sheet = _PatternSheet.of(boxes, () if flag is None else (flag,), title)
    for shape in shapes:
        sheet.path(sheet.root, shape.curve, "at-fault" if shape.ident == element else "drawn")
    _options(sheet, option_curves(options, shapes))
    if flag is not None:
        sheet.flag(flag)
    return finished(sheet.root)


def option_curves(
    options: Sequence[Pointing], shapes: Sequence[Shape]
) -> dict[Pointing, list[Curve]]:
    """The curves of what can be pointed at."""
    curves = {shape.ident: shape.curve for shape in shapes}
    return {
        option: [curves[ident] for ident in option.elements if ident in curves]
        for option in options
    }


def _options(sheet: _PatternSheet, options: Mapping[Pointing, Sequence[Curve]]) -> None:
    """Draw what can be pointed at as an answer, each with a broad strip round it to be hit."""
    for option, curves in options.items():
        group = sheet.group("option")
        group.set("data-answer", option.control)
        for curve in curves:
            sheet.path(group, curve, "hit")
            sheet.path(group, curve, "line")
        if option.letter and curves:
            first = min(curves, key=lambda curve: float(curve.bounds()[0, 0]))
            left = float(first.bounds()[0, 0]) - 0.5 * sheet.letter
            at = np.array([left, float(first.bounds()[:, 1].mean()) + 0.35 * sheet.letter])
            sheet.words(group, option.letter, at, "name", anchor="end")


def _level_names(sheet: _PatternSheet, pattern: Pattern) -> None:
    """Names of the level lines, each at the left of all lines of that name."""
    leftmost: dict[str, FloatArray] = {}
    for panel in pattern.panels:
        for level in panel.level_lines:
            left = min((level.curve.start, level.curve.end), key=lambda end: float(end[0]))
            if level.name not in leftmost or left[0] < leftmost[level.name][0]:
                leftmost[level.name] = left
    for name, left in leftmost.items():
        at = left + np.array([-0.3 * sheet.letter, 0.3 * sheet.letter])
        sheet.words(sheet.root, name, at, "level-name", 0.62, anchor="end")


def _weaves(sheet: _PatternSheet) -> None:
    """Fills that tell the classes apart without colour: plain, slanting lines, dots."""
    defs = etree.SubElement(sheet.root, "defs")
    size = number(0.5 * sheet.letter)
    for name, mark in (
        ("front", ""),
        ("side", f"M0,{size}L{size},0"),
        ("back", f"M0,0L{size},{size}M0,{size}L{size},0"),
    ):
        weave = etree.SubElement(
            defs,
            "pattern",
            {
                "id": f"weave-{name}",
                "width": size,
                "height": size,
                "patternUnits": "userSpaceOnUse",
            },
        )
        ground = {"width": size, "height": size, "class": f"ground of-{name}"}
        etree.SubElement(weave, "rect", ground)
        if mark:
            thin = number(0.045 * sheet.letter)
            attributes = {"d": mark, "class": f"thread of-{name}", "stroke-width": thin}
            etree.SubElement(weave, "path", attributes)


@dataclass(frozen=True, eq=False)
class _PatternSheet:
    """A picture in mm, its origin moved to the drawing's top left."""

    root: etree._Element
    origin: FloatArray
    letter: float

    @classmethod
    def of(cls, boxes: FloatArray, remarks: Sequence[Flag], title: str) -> _PatternSheet:
        """Return an empty picture that holds boxes, shape (n, 2, 2), and remarks."""
        places = [flag.at for flag in remarks if flag.at is not None]
        corners = np.vstack([boxes.reshape(-1, 2), *places]) if places else boxes.reshape(-1, 2)
        low, high = corners.min(axis=0), corners.max(axis=0)
        letter = max(float(min(_LETTER * (high - low).max(), _TALL * (high - low).min())), 1e-3)
        low, high = low - np.array([4.6, 1.6]) * letter, high + 1.6 * letter
        for place in places:
            low = np.minimum(low, place - _FLAG_HEIGHT * letter)
        width, height = (float(size) for size in high - low)
        root = picture(width, height, title)
        root.set("class", "sheet")
        root.set("fill", "none")
        root.set("font-size", number(letter))
        root.set("stroke-width", number(0.07 * letter))
        return cls(root, low, letter)

    def group(self, css: str) -> etree._Element:
        return etree.SubElement(self.root, "g", {"class": css})

    def path(self, parent: etree._Element, curve: Curve, css: str) -> etree._Element:
        # Finer than a screen shows, and half the text of the curves themselves.
        points = curve.flatten(0.02 * self.letter) - self.origin
        d = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points) + ("Z" if curve.closed else "")
        return etree.SubElement(parent, "path", {"d": d, "class": css})

    def words(
        self,
        parent: etree._Element,
        content: str,
        at: FloatArray,
        css: str,
        scale: float = 1.0,
        *,
        anchor: str = "middle",
        along: FloatArray | None = None,
    ) -> None:
        """Add a line of text; one that runs *along* a direction ends at its place."""
        x, y = (number(float(value)) for value in at - self.origin)
        attributes = {
            "x": x,
            "y": y,
            "class": css,
            "font-size": number(scale * self.letter),
            "text-anchor": anchor,
        }
        if along is not None and along.any():
            # Read from below, as on the back of a book.
            angle = float(np.degrees(np.arctan2(along[1], along[0])))
            attributes |= {"transform": f"rotate({number(angle)} {x} {y})", "text-anchor": "end"}
        etree.SubElement(parent, "text", attributes).text = content

    def flag(self, flag: Flag) -> None:
        """Draw a remark's number in a ring, with a stem to its place."""
        if flag.at is None:
            return
        group = self.group("flag")
        group.set("data-flag", str(flag.number))
        etree.SubElement(group, "title").text = flag.words
        point = flag.at - self.origin
        head = point - np.array([0.0, 1.7 * self.letter])
        x, y, foot = (number(float(v)) for v in (point[0], head[1], point[1]))
        etree.SubElement(group, "path", {"d": f"M{x},{foot}V{y}"})
        etree.SubElement(group, "circle", {"cx": x, "cy": foot, "r": number(0.22 * self.letter)})
        etree.SubElement(group, "circle", {"cx": x, "cy": y, "r": number(0.8 * self.letter)})
        text = {"x": x, "y": number(float(head[1]) + 0.36 * self.letter), "text-anchor": "middle"}
        etree.SubElement(group, "text", text).text = str(flag.number)

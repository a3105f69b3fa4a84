"""The library's front door: the few functions that drafting scripts call."""

from __future__ import annotations

import io
import math
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Final, Literal

import numpy as np

from .body import BodyModel, ClassModel, MeanFormModel, Measures, infer_classes
from .body.mean_form import bust_of
from .body.turn import TurnOfCloth, turn_of_cloth
from .construction.sewing import Construction
from .construction.sewn import Sewn
from .cutting.layer_sheets import layer_sheet, overlay_sheet
from .cutting.plan import CutPlan, cut_layers
from .draft import Reading, assemble
from .draft.halves import POSSIBLE_GIRTHS_MM
from .errors import BodyError, PatternError, ScaleError, UnknownNameError, WrongTypeError
from .files import write_whole
from .files.plain_values import held_to_types
from .pattern.pattern import Pattern
from .printing import PageOptions
from .sheets.svg_writer import sheet_svg
from .shift import LayerPattern, Shifted, shift
from .sources.drawings import read_drawing
from .sources.scripts import DraftPanel, draft_drawing
from .stack import Stack

_MET_MM: Final = 1e-3
_MOST_SECANTS: Final = 20

_SVG_TEXT: Final = re.compile("\ufeff?\\s*<")
_DECLARED: Final = re.compile(r"""^(\s*<\?xml[^>]*?)\s+encoding\s*=\s*(?:"[^"]*"|'[^']*')""")

Target = str | os.PathLike[str] | IO[bytes]
"""Where output goes: a path, or anything open for writing bytes."""


@held_to_types
def read_pattern(
    source: str | os.PathLike[str] | bytes,
    *,
    reading: Reading | None = None,
    page: int | None = None,
) -> Pattern:
    """Read a drafted pattern.

    Parameters
    ----------
    source : path, str or bytes
        Path of an SVG or PDF file; or what it holds, as bytes, or as SVG text that begins with
        ``<``.
    reading : Reading, optional
        What names and position do not say: order, halves, waistlines, corners.

    page : int, optional
        Of a PDF of several pages, from 1 on. Tiled pages are joined without it.

    Returns
    -------
    Pattern
        In sheet mm.

    Raises
    ------
    SvgError, PdfError
        If the source is not readable SVG or PDF.
    PatternError
        If its shapes do not make up panels.
    ScaleError
        If the waist is not the drafted one that the reading states, to 1 %.
    UnknownNameError
        If the reading names corners of a panel, or a line to split at, that there is not.

    Examples
    --------
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="200mm"
    ...  viewBox="0 0 100 200"><path id="side" d="M20 20 H80 V180 H20 Z"/>
    ...  <path id="waist" d="M20 110 H80"/></svg>'''
    >>> read_pattern(svg).panels[0].waist_width
    60.0
    """
    if isinstance(source, str) and _SVG_TEXT.match(source):
        # What an XML declaration says of bytes does not hold of text that was made of them.
        source = _DECLARED.sub(r"\1", source.removeprefix("\ufeff"), count=1).encode()
    pattern = assemble(read_drawing(source, page=page), reading)
    if reading and reading.drafted_waist:
        from .job.checks import check_scale

        check_scale(pattern, reading.drafted_waist, "mm")
    for name in reading.corners if reading else ():
        pattern.index(name)  # corners of a misspelt panel would be those of none
    if reading and reading.split_at:
        marks = (mark for panel in pattern for mark in panel.marks if mark.kind == "split")
        known = (*pattern.level_names(), *dict.fromkeys(mark.name for mark in marks))
        for name in reading.split_at:
            if name not in known:
                raise UnknownNameError.of("line or level to split at", name, known)
    return pattern


@held_to_types
def pattern_from_panels(
    panels: Sequence[DraftPanel], *, halves: Literal["half", "full"] = "half"
) -> Pattern:
    """Make a pattern from arrays, in the order given: centre front to centre back.

    Parameters
    ----------
    panels : sequence of DraftPanel
        Where they lie does not matter. If one lies on another, all are laid side by side in a row
        behind the first, each as high or low as it is drawn; else they stay.
    halves : {"half", "full"}
        Whether they are half the body, or go right round it from one lacing edge to the other.

    Returns
    -------
    Pattern

    Raises
    ------
    CurveError
        If an array has the wrong shape or holds numbers that are not finite.
    PatternError
        If a waist does not cross its panel, two panels have one name, or an outline crosses
        itself.

    Examples
    --------
    >>> import numpy as np
    >>> box, waist = np.array([(0, 0), (60, 0), (60, 160), (0, 160)]), [(0, 90), (60, 90)]
    >>> pattern_from_panels([DraftPanel(name, box, waist) for name in "abc"]).waist
    360.0
    """
    names = [panel.name for panel in panels]
    if len(set(names)) < len(names) or not names:
        raise PatternError(
            "two panels have one name" if names else "a pattern without panels",
            remedy="Give at least one panel, and each its own name.",
            source="script",
        )
    drawing, waists, corners = draft_drawing(panels)
    return assemble(
        drawing, Reading(order=tuple(names), halves=halves, waistlines=waists, corners=corners)
    )


@held_to_types
def shift_pattern(
    pattern: Pattern,
    stack: Stack,
    body: BodyModel | None = None,
    *,
    classes: Sequence[str] | None = None,
    gap: float | Measures = 0.0,
    construction: Construction | None = None,
) -> Shifted:
    """Shift a pattern to every layer of a fabric stack.

    Parameters
    ----------
    pattern : Pattern
    stack : Stack
    body : BodyModel, optional
        If not given, the mean form of women and men, its bust at the pattern's level of that name;
        or, where classes are given, the class model.
    classes : sequence of {"front", "side", "back"}, optional
        Of each panel, for the class model; inferred from their places if not given.
    gap : float or Measures
        Lacing gap in mm, one for all heights or by height.
    construction : Construction, optional
        How it is sewn; if not given all layers lie flat on each other.

    Returns
    -------
    Shifted
        A pattern for each layer, from the body outwards.

    Raises
    ------
    ScaleError
        If the pattern's waist is under 50 mm or above 10 m: it is in other units.
    BodyError
        If the body model cannot answer, or the gap is wider than the waist.
    StackError
        If the stack does not fit the pattern.
    ConstructionError
        If the construction fits neither.
    ShiftError
        If a layer would fold a panel.

    Notes
    -----
    A layer at distance d grows by d cos(tilt) theta across a panel that turns through theta
    (Meusnier's theorem) and by d (tilt(0) - tilt(v)) along it from the waist. Right round a
    closed body that is 2 pi d (Steiner's formula). See docs/how-it-works.md.

    Examples
    --------
    >>> from panelshift import Fabric, Stack, pattern_from_panels, DraftPanel
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> shifted = shift_pattern(pattern, Stack([Fabric("a", 0.5), Fabric("b", 0.5)]))
    >>> [round(layer.pattern.waist - 120, 3) for layer in shifted.layers]  # 2 pi d
    [0.0, 3.142]
    """
    _refuse_other_units(pattern, gap)
    return _shifted(pattern, stack, body, classes, gap, construction)


@held_to_types
def turn_pattern(
    pattern: Pattern,
    body: BodyModel | None = None,
    *,
    classes: Sequence[str] | None = None,
    gap: float | Measures = 0.0,
) -> TurnOfCloth:
    """How much each panel turns and leans on a body, without any fabric or layer.

    Parameters
    ----------
    pattern : Pattern
    body, classes, gap
        As for `shift_pattern`.

    Returns
    -------
    TurnOfCloth
        Asked by ``angle_at(panel, height)`` in radians, ``growth_at(panel, height)`` in mm for each
        mm of distance, and ``width_at(panel, height)`` in mm.

    Raises
    ------
    ScaleError, BodyError
        As for `shift_pattern`.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
    >>> turn = turn_pattern(pattern_from_panels([DraftPanel(name, box, waist) for name in "abc"]))
    >>> round(sum(turn.angle_at(name, 0.0) for name in "abc"), 6)  # a half goes half round
    3.141593
    """
    _refuse_other_units(pattern, gap)
    return _turned(pattern, body, classes, gap)


def _refuse_other_units(pattern: Pattern, gap: float | Measures) -> None:
    """Refuse a waist and a gap that no job file may have either: they are in other units."""
    low, high = POSSIBLE_GIRTHS_MM
    if not low <= pattern.waist <= high:
        raise ScaleError(
            f"the whole waist of the pattern is {pattern.waist:.4g} mm",
            remedy="All lengths are mm: multiply those in inches by 25.4 before they make a "
            "pattern; or see whether the drawing is in true size.",
            source=pattern.source,
        )
    opening = _at_waist(gap)
    if opening > pattern.waist:
        raise BodyError(
            f"the lacing gap of {opening:.6g} mm is wider than the whole waist of "
            f"{pattern.waist:.6g} mm",
            remedy="Give the opening at the centre back in mm, 0 if the edges meet.",
        )


def _at_waist(gap: float | Measures) -> float:
    return float(gap.at(np.zeros(1))[0]) if isinstance(gap, Measures) else gap


def _shifted(
    pattern: Pattern,
    stack: Stack,
    body: BodyModel | None,
    classes: Sequence[str] | None,
    gap: float | Measures,
    construction: Construction | None = None,
) -> Shifted:
    """As `shift_pattern`, in any size."""
    turn = _turned(pattern, body, classes, gap)
    sewn = None if construction is None else Sewn(construction, stack)
    return shift(pattern, stack, turn, sewn)


def _turned(
    pattern: Pattern,
    body: BodyModel | None,
    classes: Sequence[str] | None,
    gap: float | Measures,
) -> TurnOfCloth:
    if body is None:
        mean = MeanFormModel(bust_height=bust_of(pattern))
        body = mean if classes is None else ClassModel()
    if classes is None:
        widths = np.array([panel.waist_width for panel in pattern.panels])
        classes = infer_classes(widths, full=pattern.full)
    able = None if isinstance(body, type) else getattr(body, "turn", None)
    WrongTypeError.unless(able, Callable, "the body's turn", "a body model")
    return turn_of_cloth(pattern, body, classes, gap=gap)


@held_to_types
def drafted_waist_for(
    pattern: Pattern,
    stack: Stack,
    body: BodyModel | None = None,
    *,
    inside: float | None = None,
    outside: float | None = None,
    classes: Sequence[str] | None = None,
    gap: float | Measures = 0.0,
) -> float:
    """Drafted waist of all panels that gives a finished measure round the waist.

    The pattern is made wider or narrower by one factor across, every panel about its own middle
    and at every height; lengths, levels, stack, body and gap stay. ``pattern.larger(found /
    pattern.waist)`` is the pattern with the waist found.

    Parameters
    ----------
    pattern : Pattern
    stack : Stack
    body, classes, gap
        As for `shift_pattern`.
    inside : float, optional
        Finished girth in mm at the waist on the skin side, lacing gap counted.
    outside : float, optional
        The same on the outermost fabric, lying flat: a tape over bones reads more. One of the two
        is given.

    Returns
    -------
    float
        In mm, both halves, without the gap; the finished measure is met within 0.01 mm.

    Raises
    ------
    PatternError
        If none or both measures are given, or no pattern wider than nothing has it.
    ScaleError
        If the measure is under 50 mm or above 10 m: it is in other units.
    BodyError, StackError
        As for `shift_pattern`.

    Notes
    -----
    Found by secants on the girths of the fit sheet. On an upright body the answer is the measure
    less the gap and less 2 pi times the surface's distance from the drafted layer (Steiner).

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> stack = Stack([Fabric("coutille", 0.5), Fabric("brocade", 0.7)], "coutille")
    >>> round(drafted_waist_for(pattern, stack, inside=700, gap=40), 3)  # 700 - 40 + 2 pi 0.25
    661.571
    """
    from .fit.girths import OUTSIDE, SKIN, finished_girths

    if (inside is None) == (outside is None):
        raise PatternError(
            "a drafted waist for both measures, or for none",
            remedy="Give either inside or outside, in mm.",
        )
    wanted = float(inside if inside is not None else outside or 0.0)
    low, high = POSSIBLE_GIRTHS_MM
    if not low <= wanted <= high:
        raise ScaleError(
            f"a finished waist of {wanted:.4g} mm",
            remedy="Give the measure in mm: multiply inches by 25.4.",
            source=pattern.source,
        )
    surface = OUTSIDE if inside is None else SKIN

    def missing(factor: float) -> float:
        turn = _shifted(pattern.larger(factor), stack, body, classes, gap).turn
        rows = finished_girths(turn, stack, stack.drafted, gap=_at_waist(gap))
        return wanted - next(row.closed[surface] for row in rows if row.level == "waist")

    before, lacks_before = 1.0, missing(1.0)
    lacks = lacks_before
    factor = before + lacks_before / pattern.waist
    for _ in range(_MOST_SECANTS):
        if not (math.isfinite(factor) and factor > 0.0):
            break
        lacks = missing(factor)
        if abs(lacks) < _MET_MM or lacks == lacks_before:
            break
        slope = (lacks - lacks_before) / (factor - before)
        before, lacks_before, factor = factor, lacks, factor - lacks / slope
    if not (factor > 0.0 and abs(lacks) < _MET_MM):
        raise PatternError(
            f"no pattern of this shape comes out {wanted:g} mm round the waist",
            remedy="Check the measure and the lacing gap, both in mm: the gap counts in it.",
            source=pattern.source,
        )
    return factor * pattern.waist


@held_to_types
def layer_svg(shifted: Shifted, layer: str, plan: CutPlan | None = None) -> bytes:
    """Return the cutting file of one layer as SVG.

    Parameters
    ----------
    shifted : Shifted
    layer : str
        Name of a fabric that is cut out.
    plan : CutPlan, optional
        Title, allowances, how often panels are cut.

    Returns
    -------
    bytes
        An SVG document at true size.

    Raises
    ------
    UnknownNameError
        If no layer of that name is cut.

    Examples
    --------
    >>> from panelshift import Fabric, Stack, pattern_from_panels, DraftPanel
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> layer_svg(shift_pattern(pattern, Stack([Fabric("drill", 0.5)])), "drill")[:5]
    b'<?xml'
    """
    return sheet_svg(layer_sheet(shifted, _layer_to_cut(shifted, layer), plan or CutPlan()))


def _layer_to_cut(shifted: Shifted, name: str) -> LayerPattern:
    cut = {layer.fabric.name: layer for layer in cut_layers(shifted)}
    if name not in cut:
        raise UnknownNameError.of("layer to cut", name, cut)
    return cut[name]


@held_to_types
def overlay_svg(shifted: Shifted, plan: CutPlan | None = None) -> bytes:
    """Return all layers on top of each other as SVG, to look at.

    Parameters
    ----------
    shifted : Shifted
    plan : CutPlan, optional
        Title, allowances, how often panels are cut.

    Returns
    -------
    bytes
        An SVG document at true size.

    Examples
    --------
    >>> from panelshift import Fabric, Stack, pattern_from_panels, DraftPanel
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> b"overlay" in overlay_svg(shift_pattern(pattern, Stack([Fabric("drill", 0.5)])))
    True
    """
    return sheet_svg(overlay_sheet(shifted, plan or CutPlan()))


@held_to_types
def layer_pdf(
    shifted: Shifted, layer: str, options: PageOptions, plan: CutPlan | None = None
) -> bytes:
    """Return one layer as a PDF of pages at true size.

    Parameters
    ----------
    shifted : Shifted
    layer : str
        Name of a fabric that is cut out.
    options : PageOptions
        Paper, margin and overlap.
    plan : CutPlan, optional
        Title, allowances, how often panels are cut.

    Returns
    -------
    bytes
        A PDF document.

    Raises
    ------
    UnknownNameError
        If no layer of that name is cut.
    PrintError
        If it does not fit the paper.

    Examples
    --------
    >>> from panelshift import Fabric, Stack, pattern_from_panels, DraftPanel
    >>> from panelshift import PageOptions, parse_paper
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> shifted = shift_pattern(pattern, Stack([Fabric("drill", 0.5)]))
    >>> layer_pdf(shifted, "drill", PageOptions(parse_paper("a4")))[:5]
    b'%PDF-'
    """
    from .printing.layer_prints import print_layers

    # One by its name: a job's choice of layers may be several, with commas between them.
    chosen = _layer_to_cut(shifted, layer).fabric.name
    (file,) = print_layers(shifted, plan or CutPlan(), options, layers=[chosen])
    return file.printed.data


@held_to_types
def save(data: bytes, target: Target) -> None:
    """Write bytes whole to a path, or to anything open for writing bytes.

    Parameters
    ----------
    data : bytes
    target : path or binary file
        A file's path, or anything with a ``write`` that takes bytes. Directories on the way to a
        path are made.

    Raises
    ------
    OutputError
        If a path cannot be written; nothing is left half-written.
    WrongTypeError
        If the target is neither, or takes text, or is open for reading.

    Examples
    --------
    >>> import io
    >>> buffer = io.BytesIO()
    >>> save(b"<svg/>", buffer)
    >>> buffer.getvalue()
    b'<svg/>'
    """
    if isinstance(target, (str, os.PathLike)):
        write_whole({Path(target): data})
    else:
        wanted = "a path, or a file that is open for writing bytes"
        if isinstance(target, io.TextIOBase):
            WrongTypeError.unless(target, (), "the target", wanted)
        WrongTypeError.unless(
            getattr(target, "write", None), Callable, "the target's write", wanted
        )
        try:
            target.write(data)
        except io.UnsupportedOperation:
            raise WrongTypeError(
                "the target is open for reading", remedy=f"Give {wanted}."
            ) from None

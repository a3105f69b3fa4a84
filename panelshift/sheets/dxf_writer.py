"""A sheet as DXF for cutting machines: one block a panel, lines by kind on numbered layers."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Final

from ..errors import OutputError
from ..outline import Curve
from .palette import STYLES, LineKind
from .sheet import Sheet, Stroke

LAYERS: Final[dict[LineKind, str]] = {
    "cut-line": "1",
    "fold-line": "6",
    "notches": "4",
    "grainlines": "7",
    "stitch-line": "14",
    "waistline": "8",
    "level-lines": "8",
    "bone-channels": "8",
    "marks": "8",
}
"""Layers of files for pattern interchange (from memory, no source at hand): 1 the cut line, 4
notches, 6 the mirror line, 7 grain, 8 internal lines, 14 the stitch line."""

FLAT_MM: Final = 0.005
"""Distance between a curve and its polyline: what machines cut is made of straight steps."""


def sheet_dxf(sheet: Sheet) -> bytes:
    """DXF (R2010, mm) of the panels on a sheet; the same sheet always gives the same bytes.

    Curves become polylines within 0.005 mm. What belongs to no panel, such as the sheet's head, is
    left out: a machine would cut it.

    Raises `OutputError` if the package ezdxf is not installed.
    """
    try:
        from ezdxf._options import options
        from ezdxf.filemanagement import new
    except ImportError:
        raise OutputError(
            "DXF cannot be written: the package ezdxf is missing",
            remedy="In your copy of the repository run: pip install '.[cad]'",
        ) from None
    fixed = options.write_fixed_meta_data_for_testing
    # Without it every file holds the time and a number by chance.
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", units=4)
        for number in sorted(set(LAYERS.values()), key=int):
            document.layers.add(number)
        for kind, style in STYLES.items():
            if style.dash:
                # Dashes are positive, spaces negative, the sum of both first.
                parts = [-part if k % 2 else part for k, part in enumerate(style.dash)]
                document.linetypes.add(kind, [sum(style.dash), *parts], description=style.label)
        space = document.modelspace()
        for place, (panel, strokes) in enumerate(_by_panel(sheet).items(), start=1):
            block = document.blocks.new(f"PIECE-{place}")
            for stroke in strokes:
                look = {"layer": LAYERS[stroke.kind]}
                if STYLES[stroke.kind].dash:
                    look["linetype"] = stroke.kind
                block.add_lwpolyline(
                    _points(stroke.curve, sheet.height),
                    close=stroke.curve.closed,
                    dxfattribs=look,
                )
            low = min(float(s.curve.hull_box[0, 0]) for s in strokes)
            high = min(float(s.curve.hull_box[0, 1]) for s in strokes)
            words = [f"Piece Name: {panel}", f"Material: {sheet.title}"]
            for line, text in enumerate(words):
                block.add_text(text, height=5.0, dxfattribs={"layer": "1"}).set_placement(
                    (low, sheet.height - high + 6.0 + 7.0 * (len(words) - line))
                )
            space.add_blockref(f"PIECE-{place}", (0.0, 0.0), dxfattribs={"layer": "1"})
        stream = io.StringIO()
        document.write(stream)
        return stream.getvalue().encode()
    finally:
        options.write_fixed_meta_data_for_testing = fixed


def _by_panel(sheet: Sheet) -> dict[str, list[Stroke]]:
    found: dict[str, list[Stroke]] = {}
    for stroke in sheet.strokes:
        if stroke.panel and stroke.kind in LAYERS:
            found.setdefault(stroke.panel, []).append(stroke)
    return found


def _points(curve: Curve, height: float) -> Iterable[tuple[float, float]]:
    """Corners of the polyline, y upwards; a closed one does not repeat its first."""
    points = curve.flatten(FLAT_MM)
    if curve.closed:
        points = points[:-1]
    return [(round(float(x), 5), round(height - float(y), 5)) for x, y in points]

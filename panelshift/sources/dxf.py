"""Reading drafted panels from DXF, the exchange format of CAD programs, by the library ezdxf.

In: a file's bytes. Out: a Drawing: what model space shows, layers as groups, blocks as groups of
their own names.
"""

from __future__ import annotations

import io
import logging
import math
from array import array
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ..errors import DxfError
from ..outline.bezier import CUBIC, LINE
from ..pattern.drawing import Drawing, LeftOut, LineStyle, Shape, Text
from ..units import LONGEST_MM, MM_PER_INCH, MM_PER_UNIT
from .affine import Affine
from .limits import MOST_CHARACTERS, refuse_too_many
from .outlines import Outline, placed

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

MOST_BYTES: Final = 64 * 1024 * 1024
"""No drafted pattern needs 64 MiB; larger files are refused."""

MOST_EXPANDED: Final = 20_000
"""Entities drawn through blocks at most: a few lines of DXF can ask for billions."""

DAMAGE: Final = (
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    AssertionError,
    RecursionError,
)
"""What the library raises where a file is not as it should be."""

AGAIN: Final = "Open it in a CAD program and save it as DXF (2010) again."

_DEEPEST: Final = 24
_MARGIN_MM: Final = 10.0

_MM: Final = {1: MM_PER_INCH, 2: 12 * MM_PER_INCH, 4: 1.0, 5: 10.0, 6: 1000.0, 13: 1e-3, 14: 100.0}
"""Length in mm of each unit by its code in ``$INSUNITS``."""

_TALL_MM: Final = (100.0, 2_500.0)
"""How tall the largest line of a pattern is, where the file does not say its unit."""

INTERCHANGE: Final = {
    "1": "cut line",
    "4": "notches",
    "7": "grain",
    "8": "internal lines",
    "14": "stitch line",
}
"""What numbered layers hold in files for pattern interchange (from memory, no source at hand)."""

_ARC_PIECES: Final = 16
"""Cubics in a whole turn: they miss a circle by less than 1e-7 of its radius."""

_SPLINE_LEVEL: Final = 7
"""Splines that are no plain cubics become 2^7 cubics between two knots."""

_FITTED: Final = 2 | 4
"""Flags of a polyline that has a fitted curve or a fitted spline in it."""

_CURVED: Final = frozenset(("ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LINE"))
_CHAINED: Final = frozenset(("LWPOLYLINE", "POLYLINE"))
_WRITTEN: Final = frozenset(("TEXT", "MTEXT", "ATTRIB"))


@dataclass(frozen=True)
class _Entity:
    """An entity in its place, with the blocks that it came through."""

    entity: Any
    blocks: tuple[str, ...]


def read_dxf(data: bytes, *, name: str = "") -> Drawing:
    """Read the curves and texts of a DXF file.

    Lines stay lines; arcs and splines are cubics within 1e-3 mm. *name*: for messages.

    Raises `DxfError` if the file cannot be read, or its unit is neither stated nor to be guessed.
    """
    try:
        document = _opened(data)
        entities = list(_drawn(document))
        outlines, others, texts, gone, doubts = _gathered(document, entities)
        if not outlines:
            reasons = f" ({gone[0].reason})" if gone else ""
            raise DxfError(
                f"no lines are drawn in its model space{reasons}",
                remedy="Move the pattern into model space, show its layers, and save it again.",
            )
        rows = np.concatenate([np.frombuffer(outline.rows) for outline in outlines]).reshape(-1, 2)
        if not np.isfinite(rows).all():
            raise DxfError("a coordinate in it is no number", remedy=AGAIN)
        unit, scale, warnings = _unit(document, outlines)
        low, high = rows.min(axis=0), rows.max(axis=0)
        if float(np.abs(high - low).max()) * scale > LONGEST_MM:
            raise DxfError("it reaches further than 100 m", remedy="Check the unit of the drawing.")
        to_mm = Affine(
            scale, 0.0, 0.0, -scale, _MARGIN_MM - scale * low[0], _MARGIN_MM + scale * high[1]
        )
        curves = placed(outlines, [to_mm] * len(outlines), [other[0] for other in others])
        shapes = tuple(
            Shape(curve, ident, names, groups, style=_to_scale(style, scale))
            for curve, (ident, names, groups, style) in zip(curves, others, strict=True)
        )
        size = scale * (high - low) + 2.0 * _MARGIN_MM
        return Drawing(
            shapes,
            tuple(_placed_text(text, to_mm, scale) for text in texts),
            tuple(gone),
            (*warnings, *doubts),
            name,
            page=np.array([[0.0, 0.0], size]),
            unit_taken=unit,
        )
    except DxfError as error:
        raise error.located(source=name) from error.__cause__
    except DAMAGE as error:
        # Anything may stand where a number or a name should.
        raise _damaged(error).located(source=name) from error


def _damaged(error: object) -> DxfError:
    reason = " ".join(str(error).split())[:160] or type(error).__name__
    return DxfError(f"the DXF is damaged: {reason}", remedy=AGAIN)


class _Repairs(logging.Handler):
    """Keeps what the library says of numbers that it put right by guessing."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.words.append(record.getMessage())


def _opened(data: bytes) -> Document:
    try:
        from ezdxf import recover
        from ezdxf.lldxf.const import DXFError as LibraryError
    except ImportError:
        raise DxfError(
            "DXF cannot be read: the package ezdxf is missing",
            remedy="In your copy of the repository run: pip install '.[cad]'",
        ) from None
    if len(data) > MOST_BYTES:
        raise DxfError(
            f"the file holds more than {MOST_BYTES // 1024**2} MiB",
            remedy="Save the pattern alone, without pictures and hatching.",
        )
    repairs, log = _Repairs(), logging.getLogger("ezdxf")
    log.addHandler(repairs)
    speaks, log.propagate = log.propagate, False
    try:
        document, auditor = recover.read(io.BytesIO(data))
    except (LibraryError, OSError, *DAMAGE) as error:
        raise _damaged(error) from None
    finally:
        log.propagate = speaks
        log.removeHandler(repairs)
    if auditor.has_errors or repairs.words:
        raise _damaged(auditor.errors[0].message if auditor.has_errors else repairs.words[0])
    return document


def _drawn(document: Document) -> Iterator[_Entity]:
    """Entities of model space, those in blocks in the places where the blocks are put."""
    space = list(document.modelspace())
    if sum(_count(entity, document, {}, ()) for entity in space) > MOST_EXPANDED:
        raise DxfError(
            f"its blocks make up more than {MOST_EXPANDED} entities",
            remedy="Delete copies that are not needed, and hatching.",
        )
    waiting = [_Entity(entity, ()) for entity in reversed(space)]
    while waiting:
        one = waiting.pop()
        if one.entity.dxftype() != "INSERT":
            yield one
            continue
        insert = one.entity
        blocks = (*one.blocks, str(insert.dxf.name))
        inner = [
            _Entity(entity, blocks)
            for single in (insert.multi_insert() if insert.mcount > 1 else [insert])
            for entity in (*single.virtual_entities(), *single.attribs)
        ]
        waiting += reversed(inner)


def _count(entity: Any, document: Document, known: dict[str, int], above: tuple[str, ...]) -> int:
    """How many entities one makes up, reckoned without drawing any."""
    if entity.dxftype() != "INSERT":
        return 1
    name = str(entity.dxf.name)
    if name in above or len(above) >= _DEEPEST:
        raise DxfError("blocks lie in blocks without end", remedy="Explode the blocks.")
    if name not in known and name in document.blocks:
        inner = document.blocks.get(name)
        known[name] = 1 + sum(_count(e, document, known, (*above, name)) for e in inner)
    return int(entity.mcount) * known.get(name, 1) + len(entity.attribs)


_Other = tuple[str, tuple[str, ...], tuple[str, ...], LineStyle]


def _gathered(
    document: Document, entities: Sequence[_Entity]
) -> tuple[list[Outline], list[_Other], list[Text], list[LeftOut], tuple[str, ...]]:
    """Outlines with what else is known of them, texts, what is left out, and what is doubtful."""
    hidden = {
        layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()
    }
    used = {str(one.entity.dxf.layer) for one in entities}
    numbered = "1" in used and all(name == "0" or name.isdecimal() for name in used)
    outlines: list[Outline] = []
    others: list[_Other] = []
    texts: list[Text] = []
    left: Counter[str] = Counter()
    count: Counter[str] = Counter()
    doubts: dict[str, None] = {}
    segments = 0
    for one in entities:
        entity, kind = one.entity, one.entity.dxftype()
        layer = str(entity.dxf.layer)
        if layer.lower() in hidden:
            left[f"the layer {layer!r} is switched off"] += 1
            continue
        if entity.dxf.get("invisible", 0):
            left["it is hidden, whatever its layer is"] += 1
            continue
        meaning = INTERCHANGE.get(layer, layer) if numbered else layer
        groups = (*one.blocks, *([meaning] if meaning != "0" else []))
        if kind in _WRITTEN:
            text = _text(entity, groups, f"text {len(texts) + 1}")
            if text is not None:
                refuse_too_many(0, 0, len(texts) + 1, DxfError)
                texts.append(text)
            continue
        mesh = kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline)
        if mesh or (kind not in _CURVED and kind not in _CHAINED):
            left[f"{_WHAT.get(kind, f'an entity {kind}')} is not read"] += 1
            if kind not in _WHAT:
                doubts.setdefault(f"an entity {kind} is not read: if it is a line, explode it")
            continue
        outline = _outline(entity)
        if outline is None or outline.is_point:
            continue
        count[kind] += 1
        segments += len(outline.degrees)
        refuse_too_many(len(outlines) + 1, segments, 0, DxfError)
        outlines.append(outline)
        others.append((f"{kind.lower()} {count[kind]}", (), groups, _style(document, entity)))
    gone = [
        LeftOut("model space", f"{why} ({n} times)" if n > 1 else why) for why, n in left.items()
    ]
    return outlines, others, texts, gone, tuple(doubts)


_WHAT: Final = {
    "HATCH": "a hatching",
    "IMAGE": "a picture",
    "POINT": "a point",
    "DIMENSION": "a dimension",
    "3DFACE": "a face in space",
    "VIEWPORT": "a viewport",
}


def _outline(entity: Any) -> Outline | None:
    """Lines and cubics of an entity, in units of the drawing."""
    from ezdxf.path import Command, make_path

    # Any: which of its parts a step has hangs on its type.
    pen: Any
    step: Any
    if entity.dxftype() in _CHAINED:
        if entity.dxftype() == "POLYLINE" and entity.dxf.flags & _FITTED:
            # Its corners and those of the smooth line stand in one row.
            raise DxfError(
                "a polyline in it is made smooth by fitting, which is not read",
                remedy="Explode it, or make it a plain polyline or a spline, and save again.",
            )
        parts = [make_path(part, segments=_ARC_PIECES) for part in entity.virtual_entities()]
        closed = bool(entity.is_closed)
        plain = entity.dxftype() == "LWPOLYLINE"
        corners = entity.vertices_in_wcs() if plain else entity.points_in_wcs()
        pen = next(iter(corners), None)
    else:
        if entity.dxftype() == "SPLINE" and not _is_drawn_through(entity):
            return None
        parts = [make_path(entity, segments=_ARC_PIECES, level=_SPLINE_LEVEL)]
        closed = bool(parts[0].is_closed)
        pen = parts[0].start
    rows: array[float] = array("d")
    degrees = bytearray()
    for part in parts:
        # An arc has one direction, whichever way the polyline runs along it.
        turned = pen.distance(part.end) < pen.distance(part.start)
        path = part.reversed() if turned else part
        pen = path.start
        for step in path.commands():
            end = step.end
            if step.type == Command.LINE_TO:
                degrees.append(LINE)
                first, second = pen, end
            elif step.type == Command.CURVE4_TO:
                degrees.append(CUBIC)
                first, second = step.ctrl1, step.ctrl2
            else:
                degrees.append(CUBIC)
                first = pen + (step.ctrl - pen) * (2.0 / 3.0)
                second = end + (step.ctrl - end) * (2.0 / 3.0)
            rows.extend((pen.x, pen.y, first.x, first.y, second.x, second.y, end.x, end.y))
            pen = end
    return Outline(rows, bytes(degrees), closed) if degrees else None


def _is_drawn_through(spline: Any) -> bool:
    """Whether a spline goes anywhere; of one through points, each counts once, made ready for that.

    Between two points in one place no direction is to be had.
    """
    from ezdxf.math import Vec3

    if spline.control_point_count():
        return True
    if spline.closed:
        raise DxfError(
            "a closed spline in it is given by points that it goes through alone, not by its curve",
            remedy="Turn it into a polyline or a spline with control points, and save again.",
        )
    points = Vec3.list(spline.fit_points)
    distinct = points[:1]
    for point in points[1:]:
        if point.distance(distinct[-1]) > 1e-12 * max(1.0, point.magnitude):
            distinct.append(point)
    spline.fit_points = distinct
    return len(distinct) > 1


def _style(document: Document, entity: Any) -> LineStyle:
    """Colour, width in mm, and dash in units of the drawing."""
    from ezdxf import colors
    from ezdxf.lldxf import const

    layer = document.layers.get(entity.dxf.layer) if entity.dxf.layer in document.layers else None
    number = entity.dxf.get("color", colors.BYLAYER)
    if entity.dxf.hasattr("true_color"):
        red, green, blue = colors.int2rgb(entity.dxf.true_color)
    else:
        if number in (colors.BYLAYER, colors.BYBLOCK):
            number = abs(layer.dxf.color) if layer is not None else 7
        # Number 7 is black on paper.
        red, green, blue = (0, 0, 0) if number == 7 else colors.aci2rgb(number)
    kind = str(entity.dxf.get("linetype", "BYLAYER"))
    if kind.upper() in ("BYLAYER", "BYBLOCK"):
        kind = str(layer.dxf.linetype) if layer is not None else "CONTINUOUS"
    dash: tuple[float, ...] = ()
    if kind in document.linetypes:
        pattern = document.linetypes.get(kind).pattern_tags.compile()
        dash = tuple(abs(float(part)) for part in pattern)
        dash = dash * 2 if len(dash) % 2 else dash
    # Weights are hundredths of a millimetre, whatever the drawing's unit; below 0 another's.
    weight = entity.dxf.get("lineweight", const.LINEWEIGHT_BYLAYER)
    if weight in (const.LINEWEIGHT_BYLAYER, const.LINEWEIGHT_BYBLOCK) and layer is not None:
        weight = layer.dxf.get("lineweight", const.LINEWEIGHT_DEFAULT)
    return LineStyle(f"#{red:02x}{green:02x}{blue:02x}", max(0.0, weight / 100.0), dash)


def _to_scale(style: LineStyle, scale: float) -> LineStyle:
    return replace(style, dash=tuple(part * scale for part in style.dash))


def _text(entity: Any, groups: tuple[str, ...], ident: str) -> Text | None:
    """A text in units of the drawing, y upwards: see `_placed_text`."""
    many = entity.dxftype() == "MTEXT"
    words = " ".join((entity.plain_text() if many else str(entity.dxf.text)).split())
    if not words or len(words) > MOST_CHARACTERS:
        return None
    size = float(entity.dxf.char_height if many else entity.dxf.height)
    angle = float(entity.get_rotation() if many else entity.dxf.get("rotation", 0.0))
    at, below = entity.dxf.insert, entity.dxf.extrusion.z < 0.0
    # Letters may run backwards, and stand upside down.
    flags = 0 if many else int(entity.dxf.get("text_generation_flag", 0))
    if not many:
        # A text seen from below has axes of its own; one of several lines has those of the sheet.
        at = entity.ocs().to_wcs(at)
        angle = (180.0 - angle if below else angle) + (180.0 if flags & 2 else 0.0)
    mirrored = below ^ bool(flags & 2) ^ bool(flags & 4)
    place = np.array([at.x, at.y])
    return Text(words, place, size, math.radians(angle), ident, groups, mirrored=mirrored)


def _placed_text(text: Text, to_mm: Affine, scale: float) -> Text:
    anchor = np.array(to_mm.point(*text.anchor.tolist()))
    return replace(text, anchor=anchor, size=text.size * scale, angle=-text.angle)


def _unit(document: Document, outlines: Sequence[Outline]) -> tuple[str, float, tuple[str, ...]]:
    """The unit of the drawing if it is only taken so, mm in it, and what is doubtful about it."""
    code = int(document.header.get("$INSUNITS", 0))
    if code in _MM:
        return "", _MM[code], ()
    if code:
        raise DxfError(
            f"its unit has the code {code}, which is no length of patterns",
            remedy="Set the unit of the drawing to millimetres, and save it again.",
        )
    spans = [np.ptp(np.frombuffer(outline.rows).reshape(-1, 2), axis=0) for outline in outlines]
    tall = float(np.max(spans))
    fitting = [
        (unit, words)
        for unit, words in (("mm", "millimetres"), ("in", "inches"))
        if _TALL_MM[0] <= tall * MM_PER_UNIT[unit] <= _TALL_MM[1]
    ]
    if len(fitting) != 1:
        raise DxfError(
            f"it does not say its unit, and its longest line of {tall:.4g} tells none",
            remedy="Set the unit of the drawing to millimetres or inches, and save it again.",
        )
    ((unit, words),) = fitting
    mm = MM_PER_UNIT[unit]
    return (
        unit,
        mm,
        (
            f"the file does not say its unit; {words} are taken, which make its longest line "
            f"{tall * mm:.0f} mm: state drafted_waist to be sure",
        ),
    )

"""What tells cut lines and sizes from net outlines: margins, names, words, and what seams say."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from ..errors import PatternError, few
from ..outline import Curve, FloatArray
from ..outline.measure import length, turning
from ..outline.nearness import apart
from ..pattern.drawing import Drawing, spaced
from ..pattern.panel import EDGE_NAMES, EdgeName, Panel
from ..pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from .draft import Draft, FoundPanel

if TYPE_CHECKING:
    from .sizes import Size

_STEP_MM: Final = 2.0

_STEEP: Final = float(np.cos(np.radians(30.0)))
"""Side edges lean no further from the vertical than 60 degrees."""

_NONE_MM: Final = 0.5
"""Edges nearer to each other have no allowance, as on a fold."""

_NARROW_MM: Final = 5.0
"""Seam allowances are wider; common practice, no source: from 6 mm, a quarter of an inch."""

_UNEVEN_MM: Final = 1.0

_UNEVEN: Final = 0.15
"""Allowances along one edge, and of seams on different panels, differ by less."""

_SIZE: Final = re.compile(r"x*[sl]|m|[1-6]?\d")

_NAMED_SIZE: Final = re.compile(r"\bsize \w+")

_ALLOWANCE: Final = re.compile(r"\b(allowances?|s a|sa)\b|\b(cut|cutting|stitch|seam) ?lines?\b")

_LIKELY_MM: Final = (4.0, 30.0)
"""Seam allowances in use, from narrow to wide; common practice, no source."""

_WALKS_MM: Final = 0.02

FAR_LESS: Final = 0.1
"""Seams that were trued on the net lines differ by so small a part of what the cut lines differ."""

_MOST: Final = 0.75
_ALONG: Final = 0.75
"""Parts of all side edges, and of the length of one, that lines along them need."""

_FEWEST_SEAMS: Final = 3
"""One seam or two may come to be alike by chance."""

_SAID: Final = re.compile(
    r"\b(?:allowances?|sa|s a)\b[^/]*\b(?:includ(?:es|ed?)|incl|drawn in|added)\b"
    r"|\b(?:includ(?:es|ed?|ing)|incl|with)\b[^/]*\b(?:allowances?|sa|s a)\b"
)

_DENIED: Final = re.compile(r"\b(no|without|not|add|excl|excluded|excluding|net)\b")

_DENIED_ALLOWANCE: Final = re.compile(
    r"\b(no|without|not|add|adding|excl|excluded|excluding|plus)\b.*\b(allowances?|sa|s a)\b"
    r"|\b(allowances?|sa|s a)\b.*\b(not|excl|excluded|to be added)\b"
)

_NET: Final = re.compile(r"\b(stitch|stitching|seam|sewing) ?lines?\b|\bnet\b")

_SPOKEN: Final = re.compile(
    r"\b(allowances?|sa|s a)\b|\b(cut|cutting) ?lines?\b"
    r"|\bcut (on|along) (the |this )?(outer|solid|lines?)\b"
)

_AMOUNT: Final = re.compile(r"(\d+(?:[.,]\d+)?) ?(mm|cm|in(?:ch)?|\")")


def doubts_of_sizes(
    draft: Draft, nested: Sequence[FoundPanel], families: Sequence[Sequence[Size]]
) -> list[str]:
    """What speaks for two sizes, rather than for a net outline and its cut line."""
    found = [doubt for panel in nested for doubt in panel.doubts[:1]][:1]
    tokens = [_size_words(families, ring) for ring in (0, -1)]
    if all(tokens) and tokens[0] != tokens[1]:
        found.append(f"they are called {_either(tokens[0])} and {_either(tokens[1])}")
    lines = [
        (panel.waistline.ident, outer.waistline.ident)
        for panel, sizes in zip(nested, families, strict=True)
        for outer in sizes[-1].drawn
        if isinstance(outer, FoundPanel) and outer.waistline is not panel.waistline
    ]
    if lines:
        found.append(f"each has a waistline of its own ({lines[0][0]} and {lines[0][1]})")
    if 0 < len(nested) < len(draft.panels) and all(
        not panel.companions for panel in draft.panels if not panel.by_place
    ):
        found.append(
            f"{len(draft.panels) - len(nested)} of {len(draft.panels)} panels have one outline only"
        )
    if not _speaks_of_allowance(draft):
        found += _of_margins(nested, families)
    return found


def _of_margins(nested: Sequence[FoundPanel], families: Sequence[Sequence[Size]]) -> Iterator[str]:
    """How the distance between two outlines differs from any allowance's."""
    least, most = [], []
    varied: list[tuple[float, float, str]] = []
    for panel, sizes in zip(nested, families, strict=True):
        sides = [m for m in _margins(panel, sizes[-1].drawn[0].outline) if np.median(m) >= _NONE_MM]
        if not sides:
            continue
        medians = [float(np.median(side)) for side in sides]
        least.append(min(medians))
        most.append(max(medians))
        for side, middle in zip(sides, medians, strict=True):
            low, high = np.quantile(side, (0.05, 0.95)).tolist()
            if high - low > max(_UNEVEN_MM, _UNEVEN * middle):
                varied.append((low, high, panel.ident))
    if not least:
        yield "they lie apart at the top and bottom edges alone"
        return
    if varied:
        low, high, ident = max(varied, key=lambda item: item[1] - item[0])
        yield f"their distance along one side edge goes from {low:.1f} to {high:.1f} mm ({ident})"
    if max(most) < _NARROW_MM:
        yield f"at the side edges they lie {min(least):.1f} to {max(most):.1f} mm apart"
    if max(least) - min(least) > max(_UNEVEN_MM, _UNEVEN * float(np.median(least))):
        yield f"they lie {min(least):.1f} mm apart on one panel, {max(least):.1f} mm on another"


def _margins(panel: FoundPanel, outer: Curve) -> Iterator[FloatArray]:
    """Distances of points of a panel's two side edges from an outline round it, in mm."""
    line = panel.outline.flatten()
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = max(int(along[-1] / _STEP_MM), 8)
    steps = np.linspace(0.0, along[-1], count, endpoint=False)
    points = np.column_stack([np.interp(steps, along, line[:, k]) for k in (0, 1)])
    across = panel.waist.points[1] - panel.waist.points[0]
    moves = np.roll(points, -1, axis=0) - points
    steep = np.abs(moves @ across) < _STEEP * np.hypot(*across) * np.hypot(*moves.T)
    for crossing in panel.waist.points:
        begin = int(np.argmin(np.hypot(*(points - crossing).T)))
        ends = []
        for way in (1, -1):
            k = 0
            while k < count and steep[(begin + way * k) % count]:
                k += 1
            ends.append(k)
        run = points[np.arange(begin - ends[1] + 1, begin + ends[0]) % count]
        if len(run) < 8:
            continue
        margins = apart(run, outer)[0]
        # Next to a corner the neighbouring edge's cut line is nearer.
        skip = min(int(np.median(margins) / _STEP_MM) + 1, len(run) // 3)
        yield margins[skip : len(run) - skip]


def _size_words(families: Sequence[Sequence[Size]], ring: int) -> set[str]:
    """What one of two outlines is called on the panels that sounds like a size."""
    found = Counter[str]()
    for sizes in families:
        size = sizes[ring]
        said = [spaced(word) for word in (*size.told["layer"], *size.told["word"])]
        found.update({word for word in said if _SIZE.fullmatch(word) or "size" in word.split()})
        names = (name for drawn in size.drawn for name in drawn.shapes[0].names)
        found.update({m.group() for name in names if (m := _NAMED_SIZE.search(spaced(name)))})
    # Numbers of panels stand on one panel each.
    return {word for word, count in found.items() if count > 1 or len(families) == 1}


def _either(words: set[str]) -> str:
    return " or ".join(sorted(words))


def _speaks_of_allowance(draft: Draft) -> bool:
    """Whether the drawing has a word of an allowance, or of a cut line, beside the panels."""
    words = (spaced(text.content) for text in draft.drawing.texts)
    return any(_ALLOWANCE.search(text) for text in words)


def refuse_said(draft: Draft) -> None:
    """Words on the drawing may say that its outlines are cut lines."""
    if any(panel.companions for panel in draft.panels):
        return
    _refuse_spoken_of(draft)
    for text in draft.drawing.texts:
        words = spaced(text.content)
        if _SAID.search(words) and not _DENIED.search(words):
            raise PatternError(
                f"the seam allowance is drawn in, as its words say ({text.content:.60}), and no "
                "net line is drawn",
                remedy=f"Say how wide it is: [pattern] allowance_drawn = "
                f"{spoken_amount(draft.drawing):g} in the job file (in "
                "mm; a table gives each kind of edge its own), and it is taken off; 0 if the "
                "lines are the stitch lines all the same.",
                element="pattern.allowance_drawn",
                key="allowance_drawn",
                at=(float(text.anchor[0]), float(text.anchor[1])),
            )


def _refuse_spoken_of(draft: Draft) -> None:
    """Words of an allowance or a cut line that do not say whether it is drawn in."""
    contents = [text.content for text in draft.drawing.texts]
    words = [spaced(content) for content in contents]
    settled = any(_SAID.search(w) or _DENIED_ALLOWANCE.search(w) or _NET.search(w) for w in words)
    cut = any(draft.kind(shape) == "allowance" for shape in draft.shapes)
    if settled or cut or draft.reading.drafted_waist is not None:
        return
    for content, said in zip(contents, words, strict=True):
        if _SPOKEN.search(said):
            raise PatternError(
                f"it is not plain whether the outlines are net lines or cut lines: the words "
                f"{content!r:.60} stand on the drawing, and each panel has one outline",
                remedy="Say in the job file how much seam allowance is in the outlines: [pattern] "
                "allowance_drawn = 10 takes 10 mm off, 0 says that they are the stitch lines. Or "
                "state drafted_waist, which tells.",
                element="pattern.allowance_drawn",
                key="allowance_drawn",
            )


def spoken_amount(drawing: Drawing) -> float:
    """The allowance in mm that the words of a drawing state, or 10 if they state none."""
    for text in drawing.texts:
        if _SPOKEN.search(spaced(text.content)) and (found := _AMOUNT.search(text.content)):
            number = float(found.group(1).replace(",", "."))
            return number * {"mm": 1.0, "cm": 10.0}.get(found.group(2), 25.4)
    return 10.0


def width_by_seams(pattern: Pattern) -> float | None:
    """The allowance in mm without which all seams would walk as they do not with it, if any.

    What is taken off tells in proportion: see `_rates`.
    """
    walks = [walked for walked in pattern.walk() if not walked.seam.in_slit]
    drawn = np.array([-walked.difference for walked in walks])
    if len(drawn) < _FEWEST_SEAMS or np.abs(drawn).max() <= _WALKS_MM:
        return None
    rates = [_rates(panel) for panel in pattern.panels]
    rate = np.array(
        [
            rates[s.second][s.second_edge] - rates[s.first][s.first_edge]
            for s in (walked.seam for walked in walks)
        ]
    )
    by = float(-(drawn @ rate) / max(float(rate @ rate), 1e-12))
    fits = float(np.abs(drawn + by * rate).max()) <= FAR_LESS * float(np.abs(drawn).max())
    return by if fits and _LIKELY_MM[0] <= by <= _LIKELY_MM[1] else None


def refuse_lines_along(draft: Draft, pattern: Pattern) -> None:
    """Lines along the sides of all panels, as far in as an allowance is wide, may be stitch lines.

    Rows of stitching look the same: a drafted waist, or what is said of the allowance, settles it.
    """
    said = draft.reading
    if said.allowance_drawn is not None or any(panel.companions for panel in draft.panels):
        return
    shapes = [shape for shape in draft.shapes if not shape.curve.closed]
    called = {shape.ident for shape in shapes if draft.kind(shape) == "net"}
    plain = {shape.ident for shape in shapes if draft.role(shape) is None}
    asked = called if said.drafted_waist is not None else called | plain
    inside: dict[EdgeKind, list[float]] = {kind: [] for kind in EDGE_KINDS}
    lines: list[str] = []
    sides = 0
    for k, panel in enumerate(pattern.panels if asked else ()):
        drawn = [(mark.ident, mark.curve) for mark in panel.marks]
        drawn += [(level.ident, level.curve) for level in panel.levels]
        for edge in EDGE_NAMES:
            kind = pattern.edge_kind(k, edge)
            sides += kind == "seam"
            run = panel.edge(edge)
            found = [(_even(run, line), ident) for ident, line in drawn if ident in asked]
            if found := [(by, ident) for by, ident in found if by]:
                inside[kind].append(min(found)[0])
                lines.append(min(found)[1])
    usual = float(np.median(inside["seam"])) if inside["seam"] else 0.0
    alike = [by for by in inside["seam"] if abs(by - usual) <= max(_UNEVEN_MM, _UNEVEN * usual)]
    if called.isdisjoint(lines) and len(alike) < max(_MOST * sides, _FEWEST_SEAMS):
        return
    widths = ", ".join(
        f"{kind} = {np.median(inside[kind]) if inside[kind] else 0.0:.3g}" for kind in EDGE_KINDS
    )
    raise PatternError(
        f"the seam allowance seems to be drawn in: {len(lines)} lines run along the edges of the "
        f"panels, evenly inside them, as stitch lines do ({few(lines)})",
        remedy="If they are the stitch lines, say how much allowance is in the outlines: [pattern] "
        f"allowance_drawn = {{ {widths} }}, in mm, as measured here. If they are rows of "
        "stitching, 0, or put the word channel into their names. Or state drafted_waist, which "
        "tells, or draw each stitch line as one closed outline.",
        element="pattern.allowance_drawn",
        key="allowance_drawn",
    )


def _even(run: Curve, line: Curve) -> float:
    """How far from an edge a line runs along all of it, evenly, as an allowance does; or 0."""
    if line.closed or length(line, 1e-2) < _ALONG * length(run, 1e-2):
        return 0.0
    away = apart(line.points(np.linspace(0.1, 0.9, 17) * len(line)), run)[0]
    by = float(np.median(away))
    even = float(np.ptp(away)) <= max(_UNEVEN_MM, _UNEVEN * by)
    return by if even and _LIKELY_MM[0] <= by <= _LIKELY_MM[1] else 0.0


def _rates(panel: Panel) -> dict[EdgeName, float]:
    """How much longer each edge becomes for each mm that is taken off all round.

    That is its turning, with the tangent of half of each corner's: both are negative where a panel
    is convex, on the way up the front, over the top and down the back.
    """
    runs = [(name, run.transformed(panel.frame.matrix)) for name, run in panel.runs()]
    curves = [run for _, run in runs]
    tips = []
    for before, after in zip(curves, [*curves[1:], curves[0]], strict=True):
        a, b = ends_at(before, after)
        turn = math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b))
        tips.append(math.tan(0.5 * min(max(turn, -3.0), 3.0)))
    return {name: turning(run) + tips[k - 1] + tips[k] for k, (name, run) in enumerate(runs)}


def ends_at(before: Curve, after: Curve) -> tuple[FloatArray, FloatArray]:
    """Unit tangents on both sides of a joint."""
    return before.end_tangents()[-1, 1], after.end_tangents()[0, 0]

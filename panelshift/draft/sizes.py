"""Several sizes in one drawing: more outlines round each other than one panel has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError
from ..outline import Curve
from ..outline.crossing import crossings, nearest_position
from ..outline.nearness import is_copy
from ..outline.planar import area
from ..pattern.drawing import Ledger, Shape
from ..units import trimmed
from .clues import doubts_of_sizes
from .draft import Candidate, Draft, FoundPanel
from .finding import settle
from .names import colour_name, described
from .nested import sort_nested

_SPREAD_MM: Final = 60.0
"""The largest size is no further from the smallest on either side of a panel."""

_BESIDE_MM: Final = 12.0
"""A word beside an outline stands no further from it."""

_SAME_WAIST: Final = 0.01
_REMEDY: Final = (
    "Say which to read: [pattern] size in the job file takes any one thing that is told of it "
    'here, such as size = "innermost"; or leave out the layers of the other sizes '
    "(leave_layers), or their outlines by id (leave_out)."
)

Aspect = Literal["place", "layer", "dash", "colour", "width", "word"]

_LOOKS: Final[tuple[Aspect, ...]] = ("layer", "dash", "colour", "width", "word")


@dataclass(frozen=True, eq=False)
class Size:
    """One of several outlines of a panel, and all that tells it from the others.

    *drawn*: The outline, and copies on top of it. *told*: By place from inside, layer, dash,
    colour, width or word: what may be said of it. *waist*: Its width in mm along the waistline;
    None if that does not cross it twice.
    """

    drawn: tuple[Candidate, ...]
    told: Mapping[Aspect, tuple[str, ...]]
    waist: float | None

    def fits(self, said: str, aspect: Aspect) -> bool:
        """Whether what the maker says, with or without the aspect before it, fits this one."""
        plain = _plain(said)
        return any(plain in (_plain(v), f"{aspect} {_plain(v)}") for v in self.told[aspect])

    def __str__(self) -> str:
        words = [f"place {' or '.join(self.told['place'])} from inside"]
        words += [f"{a} {value!r}" for a in _LOOKS for value in self.told[a]]
        if self.waist is not None:
            words.append(f"{self.waist:.1f} mm at the waist")
        return f"{described(self.drawn[0].shapes[0])}: {', '.join(words)}"


def tell_sizes(draft: Draft, crossed: Draft) -> None:
    """Say of each panel that several outlines lie round each other, if that may be sizes.

    A panel has a net outline and a cut line at most: which of three is the net one cannot be told
    by their places. Of two the inner one is the net outline, unless anything about them speaks for
    two sizes.

    *draft*: with its panels settled. *crossed*: the same before outlines round each other were
    sorted.
    """
    nested = [panel for panel in draft.panels if panel.by_place]
    families = [sizes_of(panel, crossed) for panel in nested]
    doubts = [] if _is_settled(draft) else doubts_of_sizes(draft, nested, families)
    for panel, sizes in zip(nested, families, strict=True):
        if panel.by_place > 1:
            words = f"{len(sizes)} outlines lie round each other, as several sizes do"
            remedy = _REMEDY
        elif doubts:
            words = (
                "two outlines lie round each other, two sizes or a net outline and its seam "
                f"allowance, and it is not plain which: {'; '.join(doubts)}"
            )
            remedy = (
                'If it is seam allowance, say net_outline = "inner" in the job file, or put the '
                "words stitch line into the names of the net outlines. If they are sizes: "
                f"{_REMEDY} "
                "Delete what is drawn twice, or put frame into the name of what is neither."
            )
        else:
            continue
        draft.ledger.fault(
            "several-outlines",
            f"{panel.ident}: {words}: {'; '.join(map(str, sizes))}",
            panel.ident,
            *(shape.ident for shape in panel.companions),
            remedy=remedy,
        )


def _is_settled(draft: Draft) -> bool:
    """Whether the maker has said which of two outlines is the net one, or how wide it is."""
    waist = draft.reading.drafted_waist
    if draft.reading.net_outline != "auto":
        return True
    drawn = sum(np.hypot(*(p.waist.points[1] - p.waist.points[0])) for p in draft.panels)
    return waist is not None and min(abs(drawn / waist - k) for k in (0.5, 1.0)) <= _SAME_WAIST


def pick_size(draft: Draft) -> Draft:
    """Leave out the outlines of all sizes but the one that the maker asked for.

    Raises `PatternError` if what she said fits no outline of a panel, or several, or if there is
    one size only.
    """
    said = draft.reading.size
    if not said:
        return draft
    trial = replace(draft, ledger=Ledger(), reading=replace(draft.reading, net_outline="inner"))
    found = settle(sort_nested(trial)).panels
    families = [sizes_of(panel, draft) for panel in found]
    if all(len(sizes) == 1 for sizes in families):
        raise PatternError(
            f"there is no size {said!r:.60} to pick: no outlines lie round each other",
            remedy="Take the key size out of the job file.",
            element="pattern.size",
            key="size",
        )
    picked = _picked(said, families)
    kept = {s.ident for size in picked for found in size.drawn for s in found.shapes}
    gone: set[str] = set()
    lines = {
        size.drawn[0].ident: panel.waistline
        for panel, sizes in zip(found, families, strict=True)
        for size in sizes
    }
    for size, sizes in zip(picked, families, strict=True):
        why = f"of another size than {said}, which was asked for: {size.drawn[0].ident} is read"
        for other in (s for s in sizes if s is not size):
            idents = [shape.ident for found in other.drawn for shape in found.shapes]
            draft.ledger.leave_out("other-size", why, *idents)
            gone.update(idents)
    # A waistline may end at the smallest size.
    reached = [c for c in draft.outlines if c.ident in kept and c.ident in lines]
    short = [_drawn_up_to(c, lines[c.ident]) for c in reached]
    draft = replace(
        draft,
        panels=(*(p for p in draft.panels if p.ident not in gone), *short),
        outlines=tuple(c for c in draft.outlines if c.ident not in gone and c not in reached),
    )
    draft = _without_layers(draft, _layers_of_others(picked, families), kept)
    return _without_words(draft, picked, families)


def _picked(said: str, families: Sequence[Sequence[Size]]) -> list[Size]:
    """The one outline of each panel that fits what was said, in whatever respect."""
    even = len({len(sizes) for sizes in families}) == 1
    # Where panels have unequally many sizes, the second one is not the same size on all.
    aspects: tuple[Aspect, ...] = ("place", *_LOOKS) if even else _LOOKS
    fitting = [
        [size for size in sizes if any(size.fits(said, aspect) for aspect in aspects)]
        for sizes in families
    ]
    for sizes, found in zip(families, fitting, strict=True):
        if len(found) != 1:
            ident = described(sizes[0].drawn[0].shapes[0])
            how = f"{len(found)} outlines" if found else "no outline"
            uneven = "" if even else " (a place does not, as panels have unequally many sizes)"
            raise PatternError(
                f"size {said!r:.60} fits {how} of the panel {ident}{uneven}",
                remedy="Say one thing that is told of just one outline of each panel, if need be "
                'with what it is before it, such as size = "layer 2" or "place 2". There are: '
                f"{'; '.join(map(str, sizes))}.",
                element="pattern.size",
                key="size",
            )
    picked = [found[0] for found in fitting]
    for aspect in _LOOKS:
        _refuse_contradiction(said, aspect, picked, families)
    return picked


def _refuse_contradiction(
    said: str, aspect: Aspect, picked: Sequence[Size], families: Sequence[Sequence[Size]]
) -> None:
    """Sizes that are told apart by their look on every panel must be picked alike on every one."""
    values = [[size.told[aspect] for size in sizes] for sizes in families]
    tells = all(len(set(family)) == len(family) and () not in family for family in values)
    if not tells or len({frozenset(family) for family in values}) > 1:
        return
    other = next((s for s in picked if s.told[aspect] != picked[0].told[aspect]), None)
    if other is not None:
        raise PatternError(
            f"size {said!r:.60} is not the same {aspect} on all panels: {picked[0]}; {other}",
            remedy=f"Say the {aspect} of the size that you want, if that is right; or leave out "
            "the other outlines (leave_out).",
            element="pattern.size",
            key="size",
        )


def sizes_of(panel: FoundPanel, crossed: Draft) -> list[Size]:
    """All outlines of a panel from the innermost outwards, and what tells them apart."""
    idents = {panel.ident, *(shape.ident for shape in panel.companions)}
    found = [c for c in (*crossed.panels, *crossed.outlines) if c.ident in idents]
    rings: list[list[Candidate]] = []
    for candidate in sorted(found, key=lambda c: area(c.outline)):
        if rings and is_copy(rings[-1][0].outline, candidate.outline):
            rings[-1].append(candidate)
        else:
            rings.append([candidate])
    words = _words_beside(rings, crossed)
    shared = set.intersection(*(set(ring[0].shapes[0].groups) for ring in rings))
    return [
        Size(tuple(ring), _told(ring[0].shapes[0], place, len(rings), shared, beside), waist)
        for place, (ring, beside) in enumerate(zip(rings, words, strict=True), 1)
        for waist in [_width(ring[0], panel.waistline)]
    ]


def _told(
    shape: Shape, place: int, count: int, shared: set[str], words: tuple[str, ...]
) -> dict[Aspect, tuple[str, ...]]:
    """What may be said of one outline of several; `shared` are the layers of them all."""
    ends = {1: ("innermost",), count: ("outermost",)}.get(place, ())
    style = shape.style
    dash = ("dashed " + " ".join(trimmed(d, 2) for d in style.dash)) if style.dash else "solid"
    painted = style.width is not None
    colours = dict.fromkeys((colour_name(style.colour), style.colour)) if style.colour else ()
    return {
        "place": (str(place), *ends),
        "layer": tuple(dict.fromkeys(g for g in shape.groups if g not in shared)),
        "dash": (dash,) if painted else (),
        "colour": tuple(colours),
        "width": (f"{trimmed(style.width, 2)} mm",) if style.width is not None else (),
        "word": words,
    }


def _words_beside(rings: Sequence[Sequence[Candidate]], crossed: Draft) -> list[tuple[str, ...]]:
    """Of each outline, the texts that begin nearest to it among all outlines of all panels."""
    words: list[list[str]] = [[] for _ in rings]
    own = {found.ident: k for k, ring in enumerate(rings) for found in ring}
    pool = (*crossed.panels, *crossed.outlines)
    low, high = np.array([c.outline.hull_box for c in pool]).transpose(1, 0, 2)
    last = [c.ident for c in pool].index(rings[-1][0].ident)
    for text in crossed.drawing.texts:
        near = (text.anchor >= low - _BESIDE_MM) & (text.anchor <= high + _BESIDE_MM)
        within = np.flatnonzero(near.all(axis=1)).tolist()
        if last not in within or not text.content.strip():
            continue
        apart, nearest = min((nearest_position(pool[k].outline, text.anchor)[1], k) for k in within)
        ring = own.get(pool[nearest].ident)
        if ring is not None and apart < _BESIDE_MM:
            words[ring].append(" ".join(text.content.split()))
    return [tuple(dict.fromkeys(found)) for found in words]


def _drawn_up_to(candidate: Candidate, line: Shape) -> FoundPanel:
    """An outline with the waistline of a smaller one, drawn on to it."""
    waist = crossings(candidate.outline, line.curve, reach=_SPREAD_MM)
    if len(waist) != 2:
        raise PatternError(
            f"the waistline {described(line)} does not reach across the size that was asked for, "
            f"{described(candidate.shapes[0])}",
            remedy="Draw it on to the edges of the largest size.",
            element=candidate.ident,
        )
    line = replace(line, curve=Curve.polyline(waist.points)) if len(line.curve) == 1 else line
    return FoundPanel(
        candidate.outline, candidate.shapes, candidate.gap, waistline=line, waist=waist
    )


def _width(candidate: Candidate, waistline: Shape) -> float | None:
    # A waistline drawn up to the smallest size lies across the others drawn on.
    found = crossings(candidate.outline, waistline.curve, reach=_SPREAD_MM)
    return float(np.hypot(*(found.points[1] - found.points[0]))) if len(found) == 2 else None


def _layers_of_others(picked: Sequence[Size], families: Sequence[Sequence[Size]]) -> set[str]:
    """Layers that hold outlines of other sizes, and none of the one that was picked."""
    layers = {name for sizes in families for size in sizes for name in size.told["layer"]}
    mine = (s.groups for size in picked for found in size.drawn for s in found.shapes)
    return layers.difference(*mine)


def _without_layers(draft: Draft, layers: set[str], kept: set[str]) -> Draft:
    """The marks and words of other sizes go with their outlines."""
    gone = [s for s in draft.shapes if s.ident not in kept and not layers.isdisjoint(s.groups)]
    for shape in gone:
        why = "in the layer of another size than the one asked for"
        draft.ledger.leave_out("other-size", why, shape.ident)
    texts = tuple(t for t in draft.drawing.texts if layers.isdisjoint(t.groups))
    return replace(draft.without(gone), drawing=replace(draft.drawing, texts=texts))


def _without_words(
    draft: Draft, picked: Sequence[Size], families: Sequence[Sequence[Size]]
) -> Draft:
    """Words that stand beside other sizes on several panels, such as M, go with their outlines.

    A panel's own name stands on one panel alone.
    """
    count: Counter[str] = Counter()
    for size, sizes in zip(picked, families, strict=True):
        own = set(size.told["word"])
        count.update({w for s in sizes for w in s.told["word"] if w not in own})
    gone = {word for word, panels in count.items() if panels > 1}
    gone -= {word for size in picked for word in size.told["word"]}
    texts = draft.drawing.texts
    kept = tuple(t for t in texts if " ".join(t.content.split()) not in gone)
    for text in texts:
        if text not in kept:
            draft.ledger.leave_out("other-size", "a word beside another size", text.ident)
    return replace(draft, drawing=replace(draft.drawing, texts=kept))


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())

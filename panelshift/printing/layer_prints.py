"""Print layers of a shifted pattern, or a single drawing such as a cutting file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..cutting.composing import Arrange, compose, rowed
from ..cutting.layer_sheets import (
    layer_stem,
    layer_words,
    nested_sheet,
    nested_words,
    spread_words,
)
from ..cutting.loose import (
    LOOSE_STEM,
    LOOSE_TITLE,
    LOOSE_WORDS,
    LoosePiece,
    loose_parts,
    loose_sheet,
)
from ..cutting.parts import Breaks, Part, layer_parts, nested_parts, parts_of_layers
from ..cutting.plan import CutPlan, cut_layers, drawn_larger
from ..cutting.verdict import told_apart, verdict
from ..errors import JobError, UnknownNameError
from ..files import safe_name
from ..outline import FloatArray
from ..sheets.palette import LAYER_STYLES
from ..sheets.sheet import Sheet
from ..shift import LayerPattern, Shifted
from ..units import caliper_length
from .arranging import Footprint, Pages, arrange_for_pages, snapping_rows
from .sheet_prints import (
    PrintedFile,
    fits_one_page,
    print_projected,
    print_roll,
    print_sheets,
    print_tiles,
    print_warnings,
    print_whole,
)
from .tiling import PageOptions, drawn_lines

Progress = Callable[[str], None]


def print_layers(
    shifted: Shifted,
    plan: CutPlan,
    options: PageOptions,
    *,
    layers: Sequence[str] = (),
    nested: bool = False,
    keep_together: bool = False,
    one_file: bool = False,
    share: bool = False,
    listed: Sequence[str] = (),
    loose: Sequence[LoosePiece] = (),
    progress: Progress = lambda title: None,
) -> list[PrintedFile]:
    """Print layers of a shifted pattern.

    *layers*: names of fabrics, also several in one with commas; all that are cut if none. *nested*:
    whether all layers of a panel lie in each other on one print. *keep_together*: whether to put
    each panel on as few pages as can be. *one_file*: all layers in one document, on one grid of
    pages or on one roll. *share*: only the papers that the verdict asks for. *listed*: the
    cutting list, for the cover of one file. *loose*: what is cut beside the panels, printed after
    them unless layers are chosen by name. *progress*: called with a title before each print.

    Raises `PanelshiftError` if a layer is not to be had, or see `print_tiles` and `print_roll`.
    """
    chosen = _chosen(shifted, layers)
    order = _Order(shifted, plan, replace(options, unit=plan.unit), keep_together)
    judged = verdict(shifted, plan)
    if share:
        # The paper that serves a chosen layer may be another layer's.
        names = {layer.fabric.name for layer in chosen}
        papers = [p for p in judged.papers if names & {layer.fabric.name for layer in p}]
        serving = {paper[0].fabric.name for paper in papers}
        chosen = [layer for layer in cut_layers(shifted) if layer.fabric.name in serving]
    words = judged.words(plan) if len(cut_layers(shifted)) > 1 else []
    beside = [] if layers else loose_parts(loose, plan)
    if one_file and not nested and (len(chosen) > 1 or beside):
        progress(f"{plan.title}: all layers")
        return [_whole_job(order, chosen, listed, words, beside)]
    prints = []
    if nested:
        progress(f"{plan.title}: layers nested")
        # What has pieces of its own does not lie in the others.
        alike = [layer for layer in chosen if not layer.fabric.own_pieces]
        if alike:
            prints.append(_nested(order, alike))
        chosen = [layer for layer in chosen if layer.fabric.own_pieces]
    # Words of a panel stand in one place on all layers: the room for them is sought once.
    every = parts_of_layers(shifted, chosen, plan)
    for layer, parts in zip(chosen, every, strict=True):
        progress(f"{plan.title}: {layer.fabric.name}")
        own = judged.words(plan, layer.fabric.name) if words else []
        prints.append(_layer(order, layer, parts, own))
    if beside:
        progress(f"{plan.title}: {LOOSE_TITLE}")
        prints.append(_beside(order, beside))
    return prints


def _chosen(shifted: Shifted, names: Sequence[str]) -> list[LayerPattern]:
    cut = cut_layers(shifted)
    known = [layer.fabric.name for layer in cut]
    if not cut:
        raise JobError(
            "no layer of the stack is cut out of cloth",
            remedy="Set cut_out = true on at least one fabric.",
            element="stack",
        )
    for name in _split(names, known):
        if name not in known:
            every = [layer.fabric.name for layer in shifted.layers]
            what = "panel to cut in layer" if name in every else "layer"
            raise UnknownNameError.of(what, name, known)
    wanted = _split(names, known)
    return [layer for layer in cut if not names or layer.fabric.name in wanted]


def _split(names: Sequence[str], known: Sequence[str]) -> list[str]:
    """Names given with commas between them; a name that holds commas itself is left whole."""
    found: list[str] = []
    for name in names:
        whole = name if name in known else name.strip()
        found += [whole] if whole in known else [part.strip() for part in whole.split(",")]
    return found


_Build = Callable[[Sequence[Part], Arrange, bool], Sheet]
"""A sheet of parts, placed so, with a head or without."""

_Make = Callable[[Breaks], list[Part]]
"""Parts whose words keep clear of the ends of pages."""


@dataclass(frozen=True, eq=False)
class _Order:
    """What is printed how."""

    shifted: Shifted
    plan: CutPlan
    options: PageOptions
    keep_together: bool


def _beside(order: _Order, parts: Sequence[Part]) -> PrintedFile:
    """What is cut beside the panels."""

    def build(own: Sequence[Part], arrange: Arrange, headed: bool) -> Sheet:
        return loose_sheet(own, order.plan, arrange=arrange, headed=headed)

    return _print(order, lambda breaks: list(parts), build, LOOSE_STEM, LOOSE_WORDS)


def _layer(
    order: _Order, layer: LayerPattern, plain: list[Part], judged: Sequence[str]
) -> PrintedFile:
    """One layer, of which `plain` are the parts where no page ends on them."""
    plan, fabric = order.plan, layer.fabric
    words = layer_words(order.shifted, layer, plan.unit)
    own = layer.pieced
    names = ", ".join(own.whole.panels[i].name for i in own.covered)
    thick = caliper_length(fabric.thickness, plan.unit)
    about = [
        *words[:-1],
        f"fabric: {fabric.name}, {thick} thick; panels: {names}",
        *judged,
        *plan.record,
    ]

    def make(breaks: Breaks) -> list[Part]:
        return layer_parts(order.shifted, layer, plan, breaks) if breaks else plain

    def build(parts: Sequence[Part], arrange: Arrange, headed: bool) -> Sheet:
        head = [*words, *plan.record]
        return compose(f"{plan.title}: {fabric.name}", head, parts, arrange, headed=headed)

    return _print(order, make, build, layer_stem(layer), about)


def _whole_job(
    order: _Order,
    layers: Sequence[LayerPattern],
    listed: Sequence[str],
    judged: Sequence[str],
    beside: Sequence[Part],
) -> PrintedFile:
    """All layers in one document: each panel at one place of one grid, or all on one roll."""
    shifted, plan, options = order.shifted, order.plan, order.options
    own_parts = parts_of_layers(shifted, layers, plan)
    about = [
        f"{layer_words(shifted, layer)[0]}: {layer.fabric.name}"
        + (f", {larger}" if (larger := drawn_larger(layer.fabric)) else "")
        for layer in layers
    ]
    about += [*judged, *plan.record]
    stem, title = f"{safe_name(plan.title)}-all-layers", f"{plan.title}: all layers"
    every = [part for parts in (*own_parts, beside) for part in parts]

    def build(parts: Sequence[Part], arrange: Arrange, headed: bool) -> Sheet:
        return compose(title, about, parts, arrange, headed=headed)

    if options.projector or options.paper.is_roll or _whole(every, build, options) is not None:
        return _print(order, lambda breaks: every, build, stem, about)
    of_panel: dict[str, list[Part]] = {}
    for part in every[: len(every) - len(beside)]:
        of_panel.setdefault(part.strokes[0].panel, []).append(part)
    pieces = [_footprint(parts) for parts in of_panel.values()]
    arrange, turned = arrange_for_pages(
        pieces, options, keep_together=order.keep_together, plain_width=plan.sheet_width
    )
    spots, wide, high = arrange([piece.box for piece in pieces])
    at = dict(zip(of_panel, spots, strict=True))
    boxes = [piece.box for piece in pieces]
    breaks = _breaks(list(of_panel), boxes, spots, options, turned=turned)
    own_parts = parts_of_layers(shifted, layers, plan, breaks)
    sheets = [
        compose(
            f"{plan.title}: {layer.fabric.name}",
            [],
            parts,
            _fixed([at[part.strokes[0].panel] for part in parts], wide, high),
            headed=False,
        )
        for layer, parts in zip(layers, own_parts, strict=True)
    ]
    if beside:
        # A strip of pages side by side goes on as one.
        one_row = options.strip and len({float(spot[1]) for spot in spots}) == 1
        placing = snapping_rows(options, np.inf if one_row else wide, turned=turned)
        sheets.append(loose_sheet(beside, plan, arrange=placing, headed=False))
    printed = print_sheets(title, sheets, options, about, listed, turned=turned)
    warnings = (words for sheet in sheets for words in print_warnings(printed, sheet))
    return PrintedFile(f"{stem}-{safe_name(options.paper.name)}.pdf", title, printed, (*warnings,))


def _footprint(parts: Sequence[Part]) -> Footprint:
    """What of a panel's parts, one on the other, matters for placing it."""
    every = np.array([part.box() for part in parts])
    box = np.array([every[:, 0].min(axis=0), every[:, 1].max(axis=0)])
    return Footprint(
        box, [line for part in parts for line in drawn_lines(part.strokes, part.labels)]
    )


def _breaks(
    names: Sequence[str],
    boxes: Sequence[FloatArray],
    places: Sequence[FloatArray],
    options: PageOptions,
    *,
    turned: bool,
) -> dict[str, list[FloatArray]]:
    """Lines along the middle of the strips that pages share, where they cross panels."""
    step = Pages.of(options.paper.turned() if turned else options.paper, options).step
    found: dict[str, list[FloatArray]] = {}
    for name, box, place in zip(names, boxes, places, strict=True):
        lines = []
        for axis in (0, 1):
            low, high = box[:, axis] + place[axis]
            first = int(np.ceil((low - 0.5 * options.overlap) / step[axis]))
            last = int(np.floor((high - 0.5 * options.overlap) / step[axis]))
            for k in range(max(first, 1), last + 1):
                line = box.copy()
                line[:, axis] = k * step[axis] + 0.5 * options.overlap - place[axis]
                lines.append(line)
        found[name] = lines
    return found


def _fixed(places: list[FloatArray], wide: float, high: float) -> Arrange:
    return lambda boxes: (places, wide, high)


NESTED_CUT_MM: Final = 1.5 * LAYER_STYLES[0].width
"""Width of a nested print's cut lines: layers that are nearer cannot be told apart."""


def _nested(order: _Order, layers: Sequence[LayerPattern]) -> PrintedFile:
    layers, between = told_apart(layers, NESTED_CUT_MM)

    def make(breaks: Breaks) -> list[Part]:
        return nested_parts(order.shifted, layers, order.plan, breaks)

    def build(parts: Sequence[Part], arrange: Arrange, headed: bool) -> Sheet:
        return nested_sheet(
            order.shifted, layers, order.plan, arrange=arrange, headed=headed, parts=parts
        )

    return _print(order, make, build, "layers-nested", [*nested_words(layers), *between])


def print_spread(
    shifted: Shifted, plan: CutPlan, options: PageOptions, parts: Sequence[Part], by: float
) -> PrintedFile:
    """Print panels whose layers are drawn so many times as far apart as they lie, to look at.

    *parts*: as `panelshift.fit.layer_change.spread_parts` gives them.
    """
    order = _Order(shifted, plan, replace(options, unit=plan.unit), False)

    def build(own: Sequence[Part], arrange: Arrange, headed: bool) -> Sheet:
        layers = cut_layers(shifted)
        return nested_sheet(
            shifted, layers, plan, arrange=arrange, headed=headed, parts=own, spread=by
        )

    return _print(order, lambda breaks: list(parts), build, "layers-spread", spread_words(by))


def _print(
    order: _Order, make: _Make, build: _Build, stem: str, about: Sequence[str]
) -> PrintedFile:
    plan, options, paper = order.plan, order.options, order.options.paper
    parts = make({})
    if options.projector:
        sheet = build(parts, rowed(plan.sheet_width), False)
        printed = print_projected(sheet, options)
    elif paper.is_roll:
        sheet = build(parts, rowed(paper.width - 2.0 * options.margin), True)
        printed = print_roll(sheet, options)
    elif (whole := _whole(parts, build, options)) is not None:
        sheet, turned = whole
        printed = print_whole(sheet, options, turned=turned)
    else:
        pieces = [_footprint([part]) for part in parts]
        arrange, turned = arrange_for_pages(
            pieces, options, keep_together=order.keep_together, plain_width=plan.sheet_width
        )
        if order.keep_together:
            boxes = [piece.box for piece in pieces]
            names = [part.strokes[0].panel for part in parts]
            parts = make(_breaks(names, boxes, arrange(boxes)[0], options, turned=turned))
        sheet = build(parts, arrange, False)
        printed = print_tiles(sheet, options, about, turned=turned)
    name = f"{stem}-{'projector' if options.projector else safe_name(paper.name)}.pdf"
    warnings = print_warnings(printed, sheet)
    return PrintedFile(name, sheet.title, printed, warnings)


def _whole(parts: Sequence[Part], build: _Build, options: PageOptions) -> tuple[Sheet, bool] | None:
    """The sheet with its head, and how the paper lies, if one page holds all of it."""
    paper, boxes = options.paper, [part.box() for part in parts]
    for wide, high in ((paper.width, paper.height), (paper.height, paper.width)):
        arrange = rowed(wide - 2.0 * options.margin)
        _, across, down = arrange(boxes)
        # Only then is it worth drawing.
        if across <= wide - 2.0 * options.margin and down <= high - 2.0 * options.margin:
            sheet = build(parts, arrange, True)
            turned = fits_one_page(sheet, options)
            if turned is not None:
                return sheet, turned
    return None

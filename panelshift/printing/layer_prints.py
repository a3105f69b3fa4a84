"""Print layers of a shifted pattern, or a single drawing such as a cutting file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from ..cutting.composing import Arrange, compose, rows
from ..cutting.layer_sheets import (
    layer_stem,
    layer_words,
    nested_sheet,
    nested_words,
    sheet_layers_of,
)
from ..cutting.parts import Part, layer_parts, nested_parts, parts_of_layers
from ..cutting.plan import CutPlan, cut_layers, drawn_larger
from ..cutting.verdict import told_apart, verdict
from ..errors import JobError
from ..files import safe_name
from ..outline import FloatArray
from ..sheets.lettering import missing
from ..sheets.palette import LAYER_STYLES
from ..sheets.reread import sheet_of_drawing
from ..sheets.sheet import Sheet
from ..shift import LayerPattern, Shifted
from ..sources.drawings import read_drawing
from ..units import show
from .arranging import Footprint, arrange_for_pages
from .pdf_file import LARGEST_UNITS, POINTS_PER_MM
from .sheet_prints import (
    Printed,
    fits_one_page,
    print_projected,
    print_roll,
    print_sheets,
    print_tiles,
    print_whole,
)
from .tiling import PageOptions, drawn_lines

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class PrintedFile:
    """A PDF to be written.

    Parameters
    ----------
    name : str
        File name.
    """

    name: str
    title: str
    printed: Printed
    warnings: tuple[str, ...] = ()


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
    progress: Progress = lambda title: None,
) -> list[PrintedFile]:
    """Print layers of a shifted pattern.

    *layers*: names of fabrics, also several in one with commas; all that are cut if none. *nested*:
    whether all layers of a panel lie in each other on one print. *keep_together*: whether to put
    each panel on as few pages as can be. *one_file*: all layers in one document, on one grid of
    pages or on one roll. *share*: only the papers that the verdict asks for. *listed*: the
    cutting list, for the cover of one file. *progress*: called with a title before each print.

    Raises `PanelshiftError` if a layer is not to be had, or see `print_tiles` and `print_roll`.
    """
    chosen, options = _chosen(shifted, layers), replace(options, unit=plan.unit)
    if share:
        needed = verdict(shifted, plan).shared
        chosen = [layer for layer in chosen if layer in needed] or chosen
    if one_file and not nested and len(chosen) > 1:
        progress(f"{plan.title}: all layers")
        return [_whole_job(plan, shifted, chosen, options, keep_together, listed)]
    if nested:
        progress(f"{plan.title}: layers nested")
        return [_nested(plan, shifted, chosen, options, keep_together)]
    prints = []
    for layer in chosen:
        progress(f"{plan.title}: {layer.fabric.name}")
        prints.append(_layer(plan, shifted, layer, options, keep_together))
    return prints


def print_file(path: Path, options: PageOptions) -> PrintedFile:
    """Print a drawing as it is, such as a cutting file that was edited by hand.

    Raises `PanelshiftError` if it cannot be read or holds no lines, or see `print_tiles` and
    `print_roll`.
    """
    drawing = read_drawing(path)
    sheet = sheet_of_drawing(drawing, drawing.title or path.stem)
    printed = print_sheet(sheet, options, path.stem)
    left_out = tuple(f"{left.ident}: not printed, {left.reason}" for left in drawing.left_out)
    return replace(printed, warnings=(*drawing.warnings, *left_out, *printed.warnings))


def print_sheet(sheet: Sheet, options: PageOptions, stem: str) -> PrintedFile:
    """Print a sheet as it is.

    Raises `PrintError` for see `print_tiles` and `print_roll`.
    """
    if options.paper.is_roll:
        printed = print_roll(sheet, options)
    elif (turned := fits_one_page(sheet, options)) is not None:
        printed = print_whole(sheet, options, turned=turned)
    else:
        printed = print_tiles(sheet, options, ["as drawn, at true size"])
    name = f"{safe_name(stem)}-{safe_name(options.paper.name)}.pdf"
    return PrintedFile(name, sheet.title, printed, (*_too_long(printed), *_lost_letters(sheet)))


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
            why = "has no panel to cut" if name in every else "is not in the stack"
            raise JobError(
                f"layer {name!r} {why}",
                remedy=f"Use one or more of: {', '.join(known)}.",
                element="layers",
            )
    wanted = _split(names, known)
    return [layer for layer in cut if not names or layer.fabric.name in wanted]


def _split(names: Sequence[str], known: Sequence[str]) -> list[str]:
    """Names given with commas between them; a name that holds commas itself is left whole."""
    found: list[str] = []
    for name in names:
        whole = name.strip()
        found += [whole] if whole in known else [part.strip() for part in whole.split(",")]
    return found


_Build = Callable[[Arrange, bool], Sheet]


def _layer(
    plan: CutPlan, shifted: Shifted, layer: LayerPattern, options: PageOptions, keep_together: bool
) -> PrintedFile:
    stem = layer_stem(layer)
    fabric = layer.fabric
    words = layer_words(shifted, layer, plan.unit)
    names = ", ".join(layer.pattern.panels[i].name for i in layer.covered)
    about = [
        *words[:-1],
        f"fabric: {fabric.name}, {show(fabric.thickness, plan.unit)} thick; panels: {names}",
    ]
    title = f"{plan.title}: {fabric.name}"
    parts = layer_parts(shifted, layer, plan)

    def build(arrange: Arrange, headed: bool) -> Sheet:
        return compose(title, words, parts, arrange, headed=headed)

    return _print(plan, parts, build, options, stem, about, keep_together)


def _whole_job(
    plan: CutPlan,
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    options: PageOptions,
    keep_together: bool,
    listed: Sequence[str],
) -> PrintedFile:
    """All layers in one document: each panel at one place of one grid, or all on one roll."""
    own_parts = parts_of_layers(shifted, layers, plan)
    about = [
        f"{layer_words(shifted, layer)[0]}: {layer.fabric.name}"
        + (f", {larger}" if (larger := drawn_larger(layer.fabric)) else "")
        for layer in layers
    ]
    about += verdict(shifted, plan).words(plan)
    stem = f"{safe_name(plan.title)}-all-layers"
    every = [part for parts in own_parts for part in parts]

    def build(arrange: Arrange, headed: bool) -> Sheet:
        return compose(f"{plan.title}: all layers", about, every, arrange, headed=headed)

    if options.projector or options.paper.is_roll or _whole(every, build, options) is not None:
        return _print(plan, every, build, options, stem, about, keep_together)
    of_panel: dict[str, list[Part]] = {}
    for part in every:
        of_panel.setdefault(part.strokes[0].panel, []).append(part)
    pieces = [
        Footprint(
            _round_all([part.box() for part in parts]),
            [line for part in parts for line in drawn_lines(part.strokes, part.labels)],
        )
        for parts in of_panel.values()
    ]
    arrange, turned = arrange_for_pages(
        pieces, options, keep_together=keep_together, plain_width=plan.sheet_width
    )
    spots, wide, high = arrange([piece.box for piece in pieces])
    at = dict(zip(of_panel, spots, strict=True))
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
    title = f"{plan.title}: all layers"
    printed = print_sheets(title, sheets, options, about, listed, turned=turned)
    warnings = (w for sheet in sheets for w in _lost_letters(sheet))
    return PrintedFile(f"{stem}-{safe_name(options.paper.name)}.pdf", title, printed, (*warnings,))


def _round_all(boxes: Sequence[FloatArray]) -> FloatArray:
    """The box round some boxes."""
    every = np.array(boxes)
    return np.array([every[:, 0].min(axis=0), every[:, 1].max(axis=0)])


def _fixed(places: list[FloatArray], wide: float, high: float) -> Arrange:
    return lambda boxes: (places, wide, high)


NESTED_CUT_MM: Final = 1.5 * LAYER_STYLES[0].width
"""Width of a nested print's cut lines: layers that are nearer cannot be told apart."""


def _nested(
    plan: CutPlan,
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    options: PageOptions,
    keep_together: bool,
) -> PrintedFile:
    layers, between = told_apart(layers, NESTED_CUT_MM)
    parts = nested_parts(shifted, layers, plan)
    title = f"{plan.title}: layers nested"
    words = nested_words(layers)
    about = [*words, *between]
    numbered = sheet_layers_of(layers)

    def build(arrange: Arrange, headed: bool) -> Sheet:
        if headed:
            return nested_sheet(shifted, layers, plan, arrange=arrange)
        sheet = compose(title, words, parts, arrange, headed=False)
        return replace(sheet, layers=numbered)

    return _print(plan, parts, build, options, "layers-nested", about, keep_together)


def _print(
    plan: CutPlan,
    parts: Sequence[Part],
    build: _Build,
    options: PageOptions,
    stem: str,
    about: Sequence[str],
    keep_together: bool,
) -> PrintedFile:
    paper = options.paper
    if options.projector:
        sheet = build(_in_rows(plan.sheet_width), False)
        printed = print_projected(sheet, options)
        name = f"{stem}-projector.pdf"
        return PrintedFile(name, sheet.title, printed, _too_long(printed) + _lost_letters(sheet))
    if paper.is_roll:
        sheet = build(_in_rows(paper.width - 2.0 * options.margin), True)
        printed = print_roll(sheet, options)
    elif (whole := _whole(parts, build, options)) is not None:
        sheet, turned = whole
        printed = print_whole(sheet, options, turned=turned)
    else:
        pieces = [Footprint(part.box(), drawn_lines(part.strokes, part.labels)) for part in parts]
        arrange, turned = arrange_for_pages(
            pieces, options, keep_together=keep_together, plain_width=plan.sheet_width
        )
        sheet = build(arrange, False)
        printed = print_tiles(sheet, options, about, turned=turned)
    name = f"{stem}-{safe_name(paper.name)}.pdf"
    warnings = _too_long(printed) + _lost_letters(sheet)
    return PrintedFile(name, sheet.title, printed, warnings)


def _whole(parts: Sequence[Part], build: _Build, options: PageOptions) -> tuple[Sheet, bool] | None:
    """The sheet with its head, and how the paper lies, if one page holds all of it."""
    paper, boxes = options.paper, [part.box() for part in parts]
    for wide, high in ((paper.width, paper.height), (paper.height, paper.width)):
        arrange = _in_rows(wide - 2.0 * options.margin)
        _, across, down = arrange(boxes)
        # Only then is it worth drawing.
        if across <= wide - 2.0 * options.margin and down <= high - 2.0 * options.margin:
            sheet = build(arrange, True)
            turned = fits_one_page(sheet, options)
            if turned is not None:
                return sheet, turned
    return None


def _in_rows(width: float) -> Arrange:
    return lambda boxes: rows(boxes, width)


def _too_long(printed: Printed) -> tuple[str, ...]:
    longest = LARGEST_UNITS / POINTS_PER_MM
    if printed.grid is not None or max(printed.size) <= longest:
        return ()
    return (
        f"the page is longer than {longest / 1000.0:.2f} m: programs that pass over a PDF's "
        "UserUnit print it too small, so measure both test squares, or print fewer layers",
    )


def _lost_letters(sheet: Sheet) -> tuple[str, ...]:
    lost = missing("".join(dict.fromkeys("".join(label.text for label in sheet.labels))))
    if not lost:
        return ()
    return (f"{sheet.title}: no font has these characters, printed as boxes: {lost}",)

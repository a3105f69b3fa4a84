"""Print a job's layers, or a single cutting file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from ..cutting.parts import Part, layer_parts, nested_parts
from ..cutting.placement import rows
from ..cutting.sheet import Sheet
from ..cutting.sheets import (
    Arrange,
    cut_layers,
    layer_sheet,
    layer_words,
    nested_sheet,
    nested_words,
)
from ..errors import JobError
from ..files import safe_name
from ..printing.arranging import arrange_for_pages
from ..printing.fonts import missing
from ..printing.printing import Printed, print_roll, print_tiles
from ..printing.tiling import PageOptions
from ..shift import LayerPattern, Shifted
from .resolve import Job
from .result import shift_job

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class PrintedFile:
    """A PDF to be written.

    Parameters
    ----------
    name : str
        File name.
    title : str
    printed : Printed
    warnings : tuple of str
    """

    name: str
    title: str
    printed: Printed
    warnings: tuple[str, ...] = ()


def print_job(
    job: Job,
    options: PageOptions,
    *,
    layers: Sequence[str] = (),
    nested: bool = False,
    keep_together: bool = False,
    progress: Progress = lambda title: None,
) -> list[PrintedFile]:
    """Print layers of a job.

    Parameters
    ----------
    job : Job
    options : PageOptions
    layers : sequence of str
        Names of fabrics; all that are cut if empty.
    nested : bool
        Whether all layers of a panel lie in each other on one print.
    keep_together : bool
        Whether to put each panel on as few pages as can be.
    progress : callable
        Called with a title before each print.

    Raises
    ------
    PanelshiftError
        If a layer is not to be had, or see `print_tiles` and `print_roll`.
    """
    shifted = shift_job(job)
    chosen = _chosen(shifted, layers)
    prints = []
    if nested:
        title = f"{job.plan.title}: layers nested"
        progress(title)
        prints.append(_nested(job, shifted, chosen, options, keep_together))
        return prints
    for layer in chosen:
        progress(f"{job.plan.title}: {layer.fabric.name}")
        prints.append(_layer(job, shifted, layer, options, keep_together))
    return prints


def print_sheet(sheet: Sheet, options: PageOptions, stem: str) -> PrintedFile:
    """Print a sheet as it is, such as a cutting file that was read again."""
    if options.paper.is_roll:
        printed = print_roll(sheet, options)
    else:
        printed = print_tiles(sheet, options, ["as drawn, at true size"])
    name = f"{safe_name(stem)}-{options.paper.name}.pdf"
    return PrintedFile(name, sheet.title, printed, _lost_letters(sheet))


def _chosen(shifted: Shifted, names: Sequence[str]) -> list[LayerPattern]:
    cut = cut_layers(shifted)
    known = [layer.fabric.name for layer in cut]
    for name in names:
        if name not in known:
            every = [layer.fabric.name for layer in shifted.layers]
            why = "has no panel to cut" if name in every else "is not in the stack"
            raise JobError(
                f"layer {name!r} {why}",
                remedy=f"Use one of: {', '.join(known)}.",
                element="layers",
            )
    if not cut:
        raise JobError(
            "no layer of the stack is cut out of cloth",
            remedy="Set cut_out = true on at least one fabric.",
            element="stack",
        )
    return [layer for layer in cut if not names or layer.fabric.name in names]


_MAKER_LINES: Final = 3


def _layer(
    job: Job, shifted: Shifted, layer: LayerPattern, options: PageOptions, keep_together: bool
) -> PrintedFile:
    stem = f"layer-{layer.place + 1}-{safe_name(layer.fabric.name)}"
    fabric = layer.fabric
    about = [
        *layer_words(shifted, layer)[:_MAKER_LINES],
        f"fabric: {fabric.name}, {fabric.thickness:g} mm thick; "
        f"panels: {', '.join(layer.pattern.panels[i].name for i in layer.covered)}",
    ]

    def build(arrange: Arrange, headed: bool) -> tuple[Sheet, tuple[str, ...]]:
        return layer_sheet(shifted, layer, job.plan, arrange=arrange, headed=headed)

    parts, _ = layer_parts(shifted, layer, job.plan)
    return _print(parts, build, options, stem, about, keep_together)


def _nested(
    job: Job,
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    options: PageOptions,
    keep_together: bool,
) -> PrintedFile:
    def build(arrange: Arrange, headed: bool) -> tuple[Sheet, tuple[str, ...]]:
        return nested_sheet(shifted, layers, job.plan, arrange=arrange, headed=headed)

    parts, _ = nested_parts(shifted, layers, job.plan)
    return _print(parts, build, options, "layers-nested", nested_words(), keep_together)


def _print(
    parts: Sequence[Part],
    build: Callable[[Arrange, bool], tuple[Sheet, tuple[str, ...]]],
    options: PageOptions,
    stem: str,
    about: Sequence[str],
    keep_together: bool,
) -> PrintedFile:
    paper = options.paper
    if paper.is_roll:
        room = paper.width - 2.0 * options.margin
        sheet, flattened = build(lambda boxes: rows(boxes, room), True)
        printed = print_roll(sheet, options)
    else:
        boxes = [part.box() for part in parts]
        arrange, turned = arrange_for_pages(boxes, options, keep_together=keep_together)
        sheet, flattened = build(arrange, False)
        printed = print_tiles(sheet, options, about, turned=turned)
    warnings = tuple(
        f"{sheet.title}, panel {name}: cut line drawn in short straight lines; look it over"
        for name in flattened
    )
    return PrintedFile(
        f"{stem}-{paper.name}.pdf", sheet.title, printed, warnings + _lost_letters(sheet)
    )


def _lost_letters(sheet: Sheet) -> tuple[str, ...]:
    lost = missing("".join(dict.fromkeys("".join(label.text for label in sheet.labels))))
    if not lost:
        return ()
    return (f"{sheet.title}: no font has these characters, printed as boxes: {lost}",)

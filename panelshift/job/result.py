"""Carry a job out: shift the pattern, draw every cutting file, work out the fit sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..construction.laying import lay
from ..construction.sewing import Bones, Construction
from ..construction.sewn import Sewn
from ..cutting.layer_sheets import layer_sheets, layer_stem, overlay_sheet
from ..cutting.loose import LOOSE_STEM, loose_parts, loose_pieces, loose_sheet
from ..cutting.plan import cut_layers, joined_words, split_words
from ..errors import ConstructionError
from ..fit.matching import disagreeing_tapes
from ..needs.cutting_list import ListLine, cutting_list, list_csv, list_words
from ..sheets.sheet import Sheet
from ..sheets.svg_writer import sheet_svg
from ..shift import Shifted, shift
from ..sources.drawings import is_svg, read_drawing
from ..sources.svg import drawing_svg, with_added
from ..stack import Stack
from ..units import caliper_length
from .checks import check_scale
from .drafted import at_scale, read_pattern
from .model import JobFile
from .resolved import Job, resolve
from .said import settings

if TYPE_CHECKING:
    from ..fit.facts import FitFacts
    from ..needs.buying import ClothOptions, FabricNeeds
    from ..printing import PageOptions
    from ..printing.sheet_prints import PrintedFile


LIST_FILE: Final = "cutting-list.csv"


@dataclass(frozen=True, eq=False)
class CutResult:
    """What a job comes to.

    *drawings*: One SVG for each layer that is cut, the overlay, and facings and strips if there are
    any. *sheets*: What is drawn to be cut, by the name of its files without what follows the dot.
    *lines*: Everything that is cut: pieces of cloth, and what the job's extras ask for.
    """

    job: Job
    shifted: Shifted
    drawings: Mapping[str, bytes]
    sheets: Mapping[str, Sheet]
    lines: Sequence[ListLine]
    warnings: tuple[str, ...]

    def machine_files(self) -> dict[str, bytes]:
        """One DXF for each layer that is cut, by file name, for cutting machines.

        Raises `OutputError` if the package ezdxf is not installed.
        """
        from ..sheets.dxf_writer import sheet_dxf

        return {f"{stem}.dxf": sheet_dxf(sheet) for stem, sheet in self.sheets.items()}

    @property
    def files(self) -> dict[str, bytes]:
        """All that is to be written, by file name: the drawings, then the cutting list."""
        return {**self.drawings, LIST_FILE: list_csv(self.lines)}


def shift_job(job: Job, turn: TurnOfCloth | None = None) -> Shifted:
    """Shift the job's pattern to every layer.

    *turn*: as `turn_of_cloth` gives it for this job, where it is known already.

    Raises `PanelshiftError` if the scale is in doubt, the body model cannot answer, or a layer
    would fold.
    """
    if not job.file.altered:  # what is altered was checked as it was read
        check_scale(job.pattern, job.file.pattern.drafted_waist, job.units)
    if turn is None:
        turn = turn_of_cloth(job.pattern, job.body, job.classes, gap=job.opening)
    return shift(job.pattern, job.stack, turn, job.sewn)


def would_add(job: Job, turn: TurnOfCloth) -> str:
    """One line of what its seams and bones would add, where a job does not say how it is sewn.

    Reckoned at the waist from the allowances and the drawn channels: seams pressed open inwards,
    each layer by itself; bones as thick as what the stack has of them.
    """
    stack = job.stack
    part = next((f for f in stack.fabrics if 0.0 < f.coverage < 1.0 and f.thickness >= 0.8), None)
    kept = [fabric for fabric in stack.fabrics if not 0.0 < fabric.coverage < 1.0]
    below = [fabric.name for fabric in kept if fabric.covers(turn.pattern.panels[0].name)]
    seam = job.plan.allowances[stack.drafted].seam
    drawn = any(mark.kind == "bone" for panel in turn.pattern.panels for mark in panel.marks)
    bones = []
    if part is not None and drawn and stack.drafted in below:
        bones = [Bones(stack.drafted, 7.0, part.thickness, drawn_as="outlines")]
    whole = Stack(kept, stack.drafted)
    try:
        found = lay(Sewn(Construction(bones=bones), whole, seam), turn, np.zeros(1))
    except ConstructionError:
        found = lay(Sewn(Construction(), whole, seam), turn, np.zeros(1))
        bones = []
    both = 1.0 if turn.pattern.full else 2.0
    more = both * float(found.extra[-1].sum(axis=0)[0])
    seams = f"seams of {job.plan.said(seam)} pressed open"
    what = seams
    if bones:
        size = " by ".join(caliper_length(size, job.units) for size in (7.0, bones[0].thickness))
        what = f"bones drawn, {size}, and {seams}"
    return (
        f"Nothing is said of how it is sewn. From the drawing ({what}) {whole.names[-1]} would "
        f"need about {job.plan.said(more)} more round the waist than its distance alone asks, "
        "without what part-covering layers count now: see [construction] in docs/job-file.md."
    )


def cut(job: Job, shifted: Shifted | None = None) -> CutResult:
    """Shift a job's pattern, draw its cutting files and list its pieces, in memory.

    *shifted*: as `shift_job` gives it for this job, where it is known already.

    Raises `PanelshiftError` for see `shift_job`.
    """
    shifted = shift_job(job) if shifted is None else shifted
    layers = cut_layers(shifted)
    stems = [layer_stem(layer) for layer in layers]
    sheets = dict(zip(stems, layer_sheets(shifted, layers, job.plan), strict=True))
    drawings = {f"{stem}.svg": sheet_svg(sheet) for stem, sheet in sheets.items()}
    drawings["overlay.svg"] = sheet_svg(overlay_sheet(shifted, job.plan))
    loose = loose_pieces(shifted, job.plan, job.gap)
    if beside := loose_parts(loose, job.plan):
        sheets[LOOSE_STEM] = loose_sheet(beside, job.plan)
        drawings[f"{LOOSE_STEM}.svg"] = sheet_svg(sheets[LOOSE_STEM])
    doubted = disagreeing_tapes(shifted.turn, job.body, job.units)
    joined = (*joined_words(shifted, job.units), *split_words(shifted))
    told = (*job.warnings, *(remark.words for remark in doubted), *joined)
    return CutResult(job, shifted, drawings, sheets, cutting_list(shifted, job.plan, loose), told)


def drawn_job(file: JobFile, drawn: bytes | None, *, source: str = "", name: str = "") -> Job:
    """Bring a job together with a drawing that stands for the file which it names.

    *drawn*: what such a file would hold; None for the file itself. *source*, *name*: of the job and
    of the drawing, for messages.

    Raises `PanelshiftError`: see `resolve`.
    """
    if drawn is None:
        return resolve(file, source=source)
    drawing = read_drawing(drawn, page=file.pattern.page, name=name)
    pattern = read_pattern(file, source=source, drawing=drawing)
    return resolve(file, source=source, pattern=pattern)


def draft_with_layers(result: CutResult, drawn: bytes, *, name: str = "") -> bytes:
    """The document of a draft with the cutting file of every layer in it, beside the draft.

    *drawn*: what the draft's file holds; one that is no SVG becomes one, in true size. *name*: of
    it, for messages.
    """
    file = result.job.file
    scale = file.pattern.scale
    if not is_svg(drawn):
        drawing = read_drawing(drawn, page=file.pattern.page, name=name)
        drawn, scale = drawing_svg(at_scale(file, drawing)), 1.0
    layers = {stem: sheet_svg(sheet) for stem, sheet in result.sheets.items()}
    return with_added(drawn, layers, name=name, scale=scale)


def print_job(
    job: Job,
    options: PageOptions,
    shifted: Shifted | None = None,
    *,
    layers: Sequence[str] = (),
    nested: bool = False,
    keep_together: bool = False,
    one_file: bool = False,
    share: bool = False,
    spread: float | None = None,
    progress: Callable[[str], None] = lambda title: None,
) -> list[PrintedFile]:
    """Shift a job's pattern and print its layers: see `print_layers`.

    *spread*: how many times as far apart layers are drawn on a print to look at, if on any.
    """
    from ..fit.layer_change import spread_parts
    from ..printing.layer_prints import print_layers, print_spread

    shifted = shift_job(job) if shifted is None else shifted
    options = replace(options, strip=options.strip or job.file.sheet.strip)
    loose = loose_pieces(shifted, job.plan, job.gap)
    words: list[str] = []
    if one_file:
        words = list_words(
            cutting_list(shifted, job.plan, loose), job.plan, cloth_in_rows(job, shifted).layouts
        )
    prints = print_layers(
        shifted,
        job.plan,
        options,
        layers=layers,
        nested=nested,
        keep_together=keep_together,
        one_file=one_file,
        share=share,
        listed=words,
        loose=loose,
        progress=progress,
    )
    if spread is not None:
        parts = spread_parts(shifted, cut_layers(shifted), spread)
        prints.append(print_spread(shifted, job.plan, options, parts, spread))
    return prints


def fit_job(job: Job, shifted: Shifted | None = None, *, lay_cloth: bool = True) -> FitFacts:
    """Compute everything the fit sheet of a job states.

    *shifted*: as `shift_job` gives it for this job, where it is known already. *lay_cloth*: whether
    to lay out the cloth as well, if the job wants that: about a second for each layout on one core;
    several are found at once.

    Raises `PanelshiftError`: see `shift_job`.
    """
    from ..fit.facts import FitBasis, FitFacts, FitOptions

    table = job.file.fit
    shifted = shift_job(job) if shifted is None else shifted
    return FitFacts(
        FitBasis(
            shifted,
            job.body,
            job.plan,
            job.gap,
            job.units,
            FitOptions(table.seam_tolerance, table.busk, table.seasoning, table.former),
            cloth_options(job.file) if table.needs and lay_cloth else None,
            bool(job.file.stack.drafted_layer),
            tuple(settings(job)),
            job.look_at,
            would_add(job, shifted.turn) if shifted.lay is None else "",
            job.file.record.lines("fit sheet"),
        )
    )


def cloth_in_rows(job: Job, shifted: Shifted) -> FabricNeeds:
    """The cloth that a job needs at most, its pieces in rows: found at once.

    The fit sheet lays them closer. Nothing, if the job does not want cloth laid out.
    """
    from ..needs.buying import FabricNeeds, fabric_needs

    if not job.file.fit.needs:
        return FabricNeeds(())
    loose = loose_pieces(shifted, job.plan, job.gap)
    return fabric_needs(shifted, job.plan, cloth_options(job.file), loose=loose, effort=0)


def cloth_options(job: JobFile) -> dict[str, ClothOptions]:
    """Widths, nap, shrinkage and spare of each fabric, by its name."""
    from ..needs.buying import ClothOptions

    return {
        table.name: ClothOptions(
            tuple(width * (1.0 - table.shrinkage_width) for width in table.cloth_widths),
            table.nap,
            table.shrinkage,
            table.spare,
            table.folded,
            table.shrinkage_width,
        )
        for table in job.stack.fabric
    }

"""Carry a job out: shift the pattern, draw every cutting file, work out the fit sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..cutting.layer_sheets import layer_sheets, layer_stem, overlay_sheet
from ..cutting.plan import ClothOptions, cut_layers
from ..fit.matching import disagreeing_tapes
from ..sheets.svg_writer import sheet_svg
from ..shift import Shifted, shift
from .checks import check_scale
from .model import JobFile
from .resolved import Job
from .said import settings

if TYPE_CHECKING:
    from ..fit.facts import FitFacts
    from ..printing import PageOptions
    from ..printing.layer_prints import PrintedFile


@dataclass(frozen=True, eq=False)
class CutResult:
    """What a job comes to.

    Parameters
    ----------
    files : mapping of file name to bytes
        One SVG for each layer that is cut, and the overlay.
    """

    job: Job
    shifted: Shifted
    files: Mapping[str, bytes]
    warnings: tuple[str, ...]


def shift_job(job: Job, turn: TurnOfCloth | None = None) -> Shifted:
    """Shift the job's pattern to every layer.

    *turn*: as `turn_of_cloth` gives it for this job, where it is known already.

    Raises `PanelshiftError` if the scale is in doubt, the body model cannot answer, or a layer
    would fold.
    """
    check_scale(job.pattern, job.file.pattern.drafted_waist, job.units)
    if turn is None:
        turn = turn_of_cloth(job.pattern, job.body, job.classes, gap=job.gap)
    return shift(job.pattern, job.stack, turn)


def cut(job: Job, shifted: Shifted | None = None) -> CutResult:
    """Shift a job's pattern and draw its cutting files, in memory.

    *shifted*: as `shift_job` gives it for this job, where it is known already.

    Raises `PanelshiftError` for see `shift_job`.
    """
    shifted = shift_job(job) if shifted is None else shifted
    files = {}
    layers = cut_layers(shifted)
    sheets = layer_sheets(shifted, layers, job.plan)
    for layer, sheet in zip(layers, sheets, strict=True):
        files[f"{layer_stem(layer)}.svg"] = sheet_svg(sheet)
    files["overlay.svg"] = sheet_svg(overlay_sheet(shifted, job.plan))
    doubted = disagreeing_tapes(shifted.turn, job.body, job.units)
    told = (*job.warnings, *(remark.words for remark in doubted))
    return CutResult(job, shifted, files, told)


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
    progress: Callable[[str], None] = lambda title: None,
) -> list[PrintedFile]:
    """Shift a job's pattern and print its layers: see `print_layers`."""
    from ..printing.layer_prints import print_layers

    return print_layers(
        shift_job(job) if shifted is None else shifted,
        job.plan,
        options,
        layers=layers,
        nested=nested,
        keep_together=keep_together,
        one_file=one_file,
        share=share,
        progress=progress,
    )


def fit_job(job: Job, shifted: Shifted | None = None, *, lay_cloth: bool = True) -> FitFacts:
    """Compute everything the fit sheet of a job states.

    *shifted*: as `shift_job` gives it for this job, where it is known already. *lay_cloth*: whether
    to lay out the cloth as well, if the job wants that: about a second for each layout on one core;
    several are found at once.

    Raises `PanelshiftError`: see `shift_job`.
    """
    from ..fit.facts import FitBasis, FitOptions, fit_facts

    table = job.file.fit
    return fit_facts(
        FitBasis(
            shift_job(job) if shifted is None else shifted,
            job.body,
            job.plan,
            job.gap,
            job.units,
            FitOptions(table.seam_tolerance, table.busk, table.seasoning, table.former),
            cloth_options(job.file) if table.needs and lay_cloth else None,
            bool(job.file.stack.drafted_layer),
            tuple(settings(job)),
            job.look_at,
        )
    )


def cloth_options(job: JobFile) -> dict[str, ClothOptions]:
    """Widths, nap, shrinkage and spare of each fabric, by its name."""
    return {
        table.name: ClothOptions(table.cloth_widths, table.nap, table.shrinkage, table.spare)
        for table in job.stack.fabric
    }

"""Carry a job out: shift the pattern and draw every cutting file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..body.turn import TurnOfCloth, turn_of_cloth
from ..cutting.sheets import cut_layers, layer_sheet, overlay_sheet
from ..files import safe_name
from ..sheets.svg_writer import sheet_svg
from ..shift import LayerPattern, Shifted, shift
from .resolve import Job
from .scale import check_scale


@dataclass(frozen=True, eq=False)
class CutResult:
    """What a job comes to.

    Parameters
    ----------
    job : Job
    shifted : Shifted
    files : mapping of file name to bytes
        One SVG for each layer that is cut, and the overlay.
    warnings : tuple of str
    """

    job: Job
    shifted: Shifted
    files: Mapping[str, bytes]
    warnings: tuple[str, ...]


def shift_job(job: Job, turn: TurnOfCloth | None = None) -> Shifted:
    """Shift the job's pattern to every layer.

    Parameters
    ----------
    job : Job
    turn : TurnOfCloth, optional
        As `turn_of_cloth` gives it for this job, where it is known already.

    Raises
    ------
    PanelshiftError
        If the scale is in doubt, the body model cannot answer, or a layer would fold.
    """
    check_scale(job.pattern, job.file.pattern.drafted_waist, job.file.pattern.units)
    if turn is None:
        turn = turn_of_cloth(job.pattern, job.body, job.classes, gap=job.gap)
    return shift(job.pattern, job.stack, turn)


def layer_file_name(layer: LayerPattern) -> str:
    """Name of a layer's cutting file: its place from the body and its fabric."""
    return f"layer-{layer.place + 1}-{safe_name(layer.fabric.name)}.svg"


def cut(job: Job) -> CutResult:
    """Shift a job's pattern and draw its cutting files, in memory.

    Raises
    ------
    PanelshiftError
        See `shift_job`.
    """
    shifted = shift_job(job)
    files, warnings = {}, list(job.warnings)
    for layer in cut_layers(shifted):
        sheet, flattened = layer_sheet(shifted, layer, job.plan)
        files[layer_file_name(layer)] = sheet_svg(sheet)
        warnings += [
            f"{layer.fabric.name}, panel {name}: the outline bends more tightly than its "
            "allowance, so its cut line is drawn in short straight lines; look it over"
            for name in flattened
        ]
    files["overlay.svg"] = sheet_svg(overlay_sheet(shifted, job.plan))
    return CutResult(job, shifted, files, tuple(warnings))

"""What was measured: swatches, the distance they give, an entry for the job file; bodies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from ...form.section_file import MeasuredForm
from ...job.starter import quoted
from ...job.swatch_files import SwatchResult
from ...swatch import BonedFit, Comparison, PairFit
from ...swatch.distance import BODY_LIKE_MM, PINNING_MM
from ...swatch.slope import RULER_MM, Slope, upwards
from ...units import MM_PER_UNIT, caliper_length
from . import listing, paragraphs, table

_WORDS: Final = {
    "agrees": "agrees: the thicknesses alone would do as well",
    "compressed": "compressed: the layers lie closer than their thicknesses, as soft or padded "
    "cloth does when it is drawn round a curve",
    "lofty": "lofty: the layers lie further apart than their thicknesses, as stiff or springy "
    "cloth does, or as cloth whose thickness was measured under a heavier weight",
}


def swatch_text(found: SwatchResult, *, csv: str = "") -> str:
    """Return the report as text, lengths in mm.

    *csv*: file that the readings come from, if any.
    """
    parts = []
    for index, fit in enumerate(found.fits):
        beside = found.comparisons[index] if found.comparisons else None
        parts += [_readings(fit), "\n".join([*_result(fit), *_agreement(fit), *_against(beside)])]
    entries = [entry_toml(fit) for fit in found.fits if fit.distance > 0.0]
    if entries:
        head = "For the job file:"
        if csv:
            head += (
                f" (or name the file itself, by its path from the job file: [stack] swatches = "
                f"{quoted(csv)})"
            )
        parts.append(head + "\n\n" + "\n".join(entries).rstrip("\n"))
    parts += [_bones(fit) for fit in found.boned]
    parts.append("\n".join(fit.said for fit in found.trials))
    if found.job_lines:
        parts.append("For the job file:\n\n" + "\n".join(found.job_lines))
    return paragraphs(*parts, listing("Look at", found.warnings))


def _bones(fit: BonedFit) -> str:
    first = fit.readings[0]
    rows = [
        [
            reading.flat.origin,
            f"{reading.flat.former:.1f}",
            f"{reading.flat.length:.1f}",
            f"{reading.bones}",
            f"{reading.flat.overhang:.2f}",
            f"{reading.overhang:.2f}",
            f"{reading.extra:+.2f}",
            f"{residual:+.2f}",
        ]
        for reading, residual in zip(fit.readings, fit.line.residuals, strict=True)
    ]
    heads = ["swatch", "former", "length", "bones", "flat", "with bones", "more", "misses by"]
    how = "that bend across" if first.bends else "flat bars"
    own = any(reading.flat.u_overhang is not None for reading in fit.readings)
    return (
        f"{fit.pair} over bones {first.width:g} by {first.thickness:g} mm, {how}; lengths in mm\n"
        + table(heads, rows)
        + f"\n{fit.said}, {scatter_words(fit.line, own=own)}\n"
        "not covered: a body gives way under bones where a former does not, and lacing may pull "
        "harder than you did"
    )


def entry_toml(fit: PairFit) -> str:
    """Return a ``[[stack.measured]]`` entry, ready for a job file, to 0.001 mm.

    Raises `StackError` if the readings give no distance above 0.
    """
    entry = fit.entry
    return (
        "[[stack.measured]]\n"
        f"inner = {quoted(entry.inner)}\n"
        f"outer = {quoted(entry.outer)}\n"
        f"distance = {entry.distance:.3f}\n"
        f"uncertainty = {upwards(entry.uncertainty, 3)}"
        + ("" if math.isinf(fit.line.freedom) else "   # half of the 95 % interval over 1.96")
        + "\n"
    )


def _readings(fit: PairFit) -> str:
    rows = [
        [
            reading.origin,
            f"{reading.former:.1f}",
            f"{reading.length:.1f}",
            f"{math.degrees(angle):.0f}",
            f"{reading.overhang:.2f}",
            f"{reading.overhang - residual:.2f}",
            f"{residual:+.2f}",
            f"{standardised:+.1f}",
        ]
        for reading, angle, residual, standardised in zip(
            fit.readings, fit.angles, fit.line.residuals, fit.line.standardised, strict=True
        )
    ]
    heads = ["swatch", "former", "length", "degrees", "overhang", "fitted", "misses by", "in u"]
    return (
        f"{fit.inner} to {fit.outer}, inner cloth {fit.inner_thickness:g} mm; lengths in mm, "
        "u is the uncertainty of what a reading misses by\n" + table(heads, rows)
    )


def _result(fit: PairFit) -> list[str]:
    line = fit.line
    low, high = line.interval
    lines = [
        f"distance between their middles: {line.value:.2f} mm, 95 % between {low:.2f} and "
        f"{high:.2f}",
        f"standard uncertainty {caliper_length(line.uncertainty, up=True)}, {_how(fit)}",
    ]
    if line.offset is None:
        lines.append(
            f"pinning alike is allowed for by {PINNING_MM:g} mm only: a second strip, half as "
            "long, would show it"
        )
    else:
        lines.append(
            f"whatever the strip, overhangs are {line.offset:+.2f} mm off (uncertainty "
            f"{line.u_offset:.2f}): pinning and marking, taken off"
        )
    flat = max(reading.former for reading in fit.readings) >= BODY_LIKE_MM
    lines.append(
        "not covered: cloth held slack, or pressed thinner on this former than on a body"
        + ("" if flat else "; one as flat as a body (150 to 250 mm) would show the second")
    )
    return lines


def _how(fit: PairFit) -> str:
    line = fit.line
    parts = ", ".join(f"{name} {part:.2f}" for name, part in line.parts.items() if part >= 5e-3)
    shared = f"; of it, shared by several readings: {parts}" if parts else ""
    return scatter_words(line, own=any(r.u_overhang is not None for r in fit.readings)) + shared


def scatter_words(line: Slope, *, own: bool) -> str:
    """Where the scatter of single readings comes from; *own* if they state their uncertainty."""
    if line.scatter is not None:
        return (
            f"from the scatter of the readings themselves, {line.scatter:.2f} mm "
            f"({line.freedom:.3g} degrees of freedom)"
        )
    words = "from the stated uncertainties" if own else f"from a ruler's {RULER_MM:g} mm"
    return words + (f", widened {line.widened:.1f} times" if line.widened > 1.0 else "")


def _agreement(fit: PairFit) -> list[str]:
    if len(fit.readings) == 1:
        return []
    line = fit.line
    word = "agree" if line.consistent else "do not agree"
    free = len(fit.readings) - (1 if line.offset is None else 2)
    return [
        f"the readings {word} with each other (chi-square {line.chi_square:.1f} on {free}, "
        f"chance {line.chance:.2g})"
    ]


def _against(comparison: Comparison | None) -> list[str]:
    if comparison is None:
        return []
    lines = [
        f"by thickness: {comparison.by_thickness:.2f} mm; the swatch is "
        f"{comparison.difference:+.2f} mm off, {abs(comparison.deviations):.1f} standard "
        f"uncertainties; {_WORDS[comparison.word]}"
    ]
    if comparison.unknown:
        lines.append(
            "  (the thicknesses are taken as exact: no thickness_uncertainty is given for "
            f"{', '.join(comparison.unknown)})"
        )
    if comparison.between:
        lines.append(
            f"between them in the job lie {', '.join(comparison.between)}: the swatch must have "
            "held them too"
        )
    return lines


def form_text(form: MeasuredForm, written: Sequence[str], units: str = "mm") -> str:
    """Return the report as text.

    *written*: paths of the files that were written. *units*: {"mm", "cm", "in"}.
    """
    front_error = float(np.degrees(form.errors.front))
    return paragraphs(
        f"Waist {form.shown_girth(0.0, units)} round; sections from "
        f"{_height(float(form.heights[0]), units)} to {_height(float(form.heights[-1]), units)} "
        "of the waist.",
        listing("Found", list(form.found)),
        listing(
            "Counted with (one standard deviation)",
            [
                f"surface {form.errors.surface:.1f} mm",
                f"direction of the front {front_error:.1f} degrees",
                f"height of the waist {form.errors.waist:.0f} mm",
            ],
        ),
        "Compare these girths with a tape, held level:\n" + _girths(form, units),
        listing(
            "Next",
            [
                "look at the picture: is the front at the top, and the waist where it should be?",
                'in the job file: [body] model = "form", file = "sections.json"',
            ],
        ),
        listing("Written", list(written)),
    )


def _girths(form: MeasuredForm, units: str) -> str:
    heights = sorted({*form.names.values(), *_every(form, 50.0)}, reverse=True)
    named = {height: name for name, height in form.names.items()}
    rows = [
        [
            _height(height, units),
            named.get(height, "waist" if height == 0.0 else ""),
            form.shown_girth(height, units),
        ]
        for height in heights
    ]
    return table(["height", "level", "girth"], rows)


def _every(form: MeasuredForm, step: float) -> list[float]:
    low, high = (float(form.heights[index]) / step for index in (0, -1))
    return [step * k for k in range(int(np.ceil(low)), int(np.floor(high)) + 1)]


def _height(height: float, units: str) -> str:
    digits = {"mm": 0, "cm": 1, "in": 2}[units]
    return f"{height / MM_PER_UNIT[units]:+.{digits}f} {units}"

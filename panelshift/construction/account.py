"""What comes of how a corset is sewn, in numbers and words: a report's facts and its sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..outline import FloatArray
from ..units import caliper_length, show
from .edges import folds
from .growth import SMOOTHED_MM, cloth_ends, relaxed
from .laying import Lay
from .sewing import ALLOWANCE_MM, Bones, Construction, Shell, Strip
from .tension import Cuts


@dataclass(frozen=True)
class SeamBulk:
    """Plies of cloth that lie on each other at a seam, on its thicker side, and what they come to.

    `thickness` is in mm.
    """

    seam: str
    plies: int
    thickness: float


def needed_at(lay: Lay, height: float) -> tuple[FloatArray, float]:
    """What each layer, and a tape over all, needs right round beside distance times turn, in mm.

    At a height above the waist, both halves together, against the drafted layer; shape (layers,).
    """
    both = 1.0 if lay.turn.pattern.full else 2.0
    reach = cloth_ends(lay.turn)
    wide = np.broadcast_to(reach, (*lay.extra.shape[:2], 2))
    own = relaxed(lay.levels, lay.extra, SMOOTHED_MM, wide)
    every = np.array([reach[:, 0].max(), reach[:, 1].min()])
    rows = np.concatenate(
        [own.sum(axis=1), relaxed(lay.levels, lay.tape, SMOOTHED_MM, every)[None]]
    )
    at = [both * float(np.interp(height, lay.levels, row)) for row in rows]
    return np.array(at[:-1]), at[-1]


def tape_over(lay: Lay, height: float) -> float:
    """What a tape right round over all reads more than the drafted layer, in mm; gap counted."""
    both = 1.0 if lay.turn.pattern.full else 2.0
    apart, angles = (
        np.array([np.interp(height, lay.levels, row) for row in rows])
        for rows in (lay.positions[-1], lay.angles)
    )
    # Over the gap the tape goes on from the panels beside it.
    gap = lay.turn.ring_growth_at(height) - both * float(angles.sum())
    beside = 0.5 * (apart[0] + apart[-1]) if lay.turn.pattern.full else apart[-1]
    return both * float(apart @ angles) + gap * float(beside) + needed_at(lay, height)[1]


def seam_bulk(lay: Lay, height: float = 0.0) -> tuple[SeamBulk, ...]:
    """How thick every seam is at a height above the waist."""
    level = int(np.argmin(np.abs(lay.levels - height)))
    site = lay.pile.site
    ridges, builds = lay.pile.ridges, site.builds[:, :, level]
    low, high, thick = ridges.low[level], ridges.high[level], ridges.thick[level]
    names, found = site.names, []
    for seam in range(1, len(names)):
        if not site.real[seam - 1, level]:
            continue  # the slit is not open there
        here = lay.pile.site.face.bounds[level, seam]
        sides = []
        for panel, beside in ((seam - 1, -1e-7), (seam, 1e-7)):
            over = (low < here + beside) & (high > here + beside) & (thick > 0.0)
            plies = int((builds[:, panel] > 0.0).sum()) + int(ridges.plies[over].sum())
            sides.append((float(builds[:, panel].sum() + thick[over].sum()), plies))
        thickness, plies = max(sides)
        found.append(SeamBulk(f"{names[seam - 1]} to {names[seam]}", plies, thickness))
    return tuple(found)


def fold_range(lay: Lay) -> float:
    """What layers sewn as one may need at most to turn into their seams, right round the waist."""
    both = 1.0 if lay.turn.pattern.full else 2.0
    waist = int(np.argmin(np.abs(lay.levels)))
    needed = folds(lay.sewn, lay.distances, lay.turn, lay.levels)[:, :, waist]
    return both * float(needed.sum(axis=1).max(initial=0.0))


def channels_take(bones: Bones, channel: float) -> tuple[float, float]:
    """Width in mm that a bone takes of a channel so wide if both its faces bulge: least and most.

    None is taken where the inner cloth stays flat.
    """
    half = 0.5 * bones.thickness
    beside = 0.5 * (channel - bones.width)
    bulged = channel - math.sqrt(max(channel**2 - bones.thickness**2, 0.0))
    sharp = 2.0 * (beside - math.sqrt(max(beside**2 - half**2, 0.0)))
    return min(bulged, sharp), max(bulged, sharp)


def construction_lines(
    construction: Construction, shells: tuple[Shell, ...], units: str = "mm"
) -> list[str]:
    """How a corset is said to be sewn, defaults included."""
    strength = construction.strength_layer or "the drafted layer"
    body = "sinks into it" if construction.body == "soft" else "stands on it"
    lines = [
        f"sewn: {strength} carries the tension; {construction.body} body: what lies inside {body}"
    ]
    for shell in shells:
        if len(shell.layers) > 1:
            names = f"{', '.join(shell.layers)} sewn as one"
        else:
            names = f"{shell.layers[0]} by itself"
        if shell.held == "fused":
            lines.append(f"sewn: {names}, fused to what lies below")
            continue
        usual = ALLOWANCE_MM if shell.allowance is None else shell.allowance
        widths = shell.graded or (usual,)
        trimmed = ", ".join(show(width, units) for width in widths)
        where = {"edges": "front and back edges only", "seams": "its seams"}[shell.held]
        flat = shell.seams in ("felled", "lapped")
        pressed = f"{'' if flat else 'pressed '}{shell.seams}, {trimmed} wide"
        lines.append(f"sewn: {names}; seams {pressed}, lying {shell.lie}; held at {where}")
    for bones in construction.bones:
        across = "bending across" if bones.bends else "flat bars"
        high = (
            f"standing {caliper_length(bones.standing, units)} as measured"
            if bones.standing is not None
            else "standing fully"
        )
        places = "as drawn" if bones.per_panel is None else "by number"
        held = f"; {', '.join(bones.stitched)} stitched down beside them" if bones.stitched else ""
        cased = f"; under casings of {show(bones.casing, units)}" if bones.casing else ""
        size = f"{show(bones.width, units)} by {caliper_length(bones.thickness, units)}"
        lines.append(f"bones on {bones.on}: {size}, {across}, {high}, {places}{cased}{held}")
    for strip in construction.strips:
        size = f"{show(strip.width, units)} by {caliper_length(strip.thickness, units)}"
        lines.append(
            f"strip along {strip.edge.replace('_', ' ')} on {strip.on or 'the skin side'}: "
            f"{size}{_reach(strip, units)}"
        )
    return lines


def _reach(strip: Strip, units: str) -> str:
    ends = (("from", strip.low), ("to", strip.high))
    words = [f"{word} {show(end, units, signed=True)}" for word, end in ends if end is not None]
    return f", {' '.join(words)} from the waist" if words else ""


def outcome_lines(lay: Lay, units: str) -> list[str]:
    """What comes of it at the waist: lengths, cuts, folds, channels."""
    names = lay.sewn.stack.names
    needed, _ = needed_at(lay, 0.0)
    lines = [
        f"{names[place]} needs {show(abs(float(value)), units)} "
        f"{'more' if value > 0.0 else 'less'} round the waist for what it rides over, "
        "beside its distance"
        for place, value in enumerate(needed)
        if abs(value) >= 0.005
    ]
    pattern = lay.turn.pattern
    low, high = cloth_ends(lay.turn).T
    levels = {name: pattern.level_height(name) for name in pattern.level_names()}
    told = ", ".join(
        f"{show(tape_over(lay, v), units)} at the {name}"
        for name, v in levels.items()
        if low.max() <= v <= high.min()
    )
    lines.append(f"a tape over all, bones and seams, reads more than the drafted size by {told}")
    if bulk := seam_bulk(lay):
        most = max(bulk, key=lambda item: item.thickness)
        lines.append(
            f"the thickest seam at the waist, {most.seam}, has {most.plies} plies, "
            f"{show(most.thickness, units)} together"
        )
    if lay.cuts is not None:
        lines += _cut_lines(lay.cuts, units)
    fold = fold_range(lay)
    factor = lay.sewn.construction.fold_factor
    if fold >= 0.005 and factor is None:
        lines.append(
            f"layers sewn as one turn into their seams together: the outer may need from 0 to "
            f"{show(fold, units)} more round the waist for that; not added, since how much of it "
            "counts is not known: a seam strip tells (fold_factor)"
        )
    elif factor:
        lines.append(
            f"turning into seams is added by your fold factor of {factor:g}: "
            f"{show(factor * fold, units)} round the waist at most"
        )
    for kind, bones in enumerate(lay.sewn.construction.bones):
        lines += _channel_lines(lay, kind, bones, units)
    return lines


def _channel_lines(lay: Lay, kind: int, bones: Bones, units: str) -> Iterator[str]:
    waist = int(np.argmin(np.abs(lay.levels)))
    count = lay.pile.ridges.bones_round(waist, kind, half=not lay.turn.pattern.full)
    if not count:
        return
    least, most = channels_take(bones, bones.room)
    yield (
        f"{count} channels take from 0 to {show(count * most, units)} of the girth when the bones "
        f"go in (none if the cloth under them stays flat, {show(count * least, units)} or more if "
        "both faces bulge): not added; a test piece before and after boning tells"
    )


def _cut_lines(cuts: Cuts, units: str) -> Iterator[str]:
    if cuts.measured:
        yield f"{cuts.outer_name} is cut for bones that stand as high as you measured"
        return
    at = f"laced at {cuts.lacing:g} kPa" + ("" if cuts.laced else " (usual)")
    taut = "taut" if cuts.best is not None else "taut (as it is here)"
    for name, (least, most) in ((taut, cuts.taut), ("flat", cuts.flat)):
        strains = _span(100.0 * least.strain, 100.0 * most.strain)
        stands = _span(least.stands, most.stands)
        yield (
            f"{cuts.outer_name} cut {name}, {at}: strains by {strains} %, bones stand to {stands} "
            "of their height"
        )
    if not cuts.known:
        wanting = [f"a hang test of {' and '.join(cuts.untested)} (stretch)"] * bool(cuts.untested)
        wanting += ["how hard it is laced (lacing)"] * (not cuts.laced)
        usual = "these ranges are for usual cloths; " if cuts.untested else ""
        yield f"{usual}the best cut is told by {' and '.join(wanting)}"
    elif cuts.best is None:
        yield (
            f"no cut of {cuts.outer_name} serves: cut so that it is not overstrained laced hard, "
            f"it hangs loose at rest; back it with a firmer cloth, or take a stiffer "
            f"{cuts.inner_name}. It is cut taut"
        )
    else:
        more = cuts.best.longer - cuts.taut[0].longer
        how = "taut" if more < 0.005 else f"{show(more, units)} longer than taut"
        yield (
            f"best cut of {cuts.outer_name}, and as it is here: {how}; it strains by "
            f"{100.0 * cuts.best.strain:.2f} %, bones stand to {cuts.best.stands:.2f}"
        )


def _span(low: float, high: float) -> str:
    return f"{high:.2f}" if high - low < 0.005 else f"{low:.2f} to {high:.2f}"

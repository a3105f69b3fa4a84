"""How near growth and seams come on bodies that are known, and how often what is stated holds.

    python tests/form/left_out.py [bodies of a kind] [way ...]

prints a row for each way of measuring and each kind of body: rms of growth by panel and level as a
part of the mean panel's, and that of the worst body; by how much seams' lengths are off at a
distance of 2 mm, at worst, in mm; and for which part of panels and levels, and of seams and levels,
the stated 95 % interval holds. Bodies are drawn by this project from a CC0 mesh
(left_out_bodies.json: see remake_mean_form.py) or trunks of our own formula; none of them is among
those of the mean form.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

import numpy as np

from panelshift.body import BodyModel, MeanFormModel, Measures, Ring, TapeModel, Tapes, Turn
from panelshift.body.form import FormModel
from panelshift.body.support import ORDER, Sections
from panelshift.errors import FormError
from panelshift.form.scan import measure_scan
from panelshift.form.section_file import MeasuredForm
from panelshift.form.traced import measure_traced
from panelshift.outline import FloatArray
from panelshift.outline.splines import Spline

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from tests.form.bodies import HEIGHTS, saved, shell, trunk

PANELS = 14
D = 2.0
QUARTERS = np.array([[0.0, np.pi, 0.5 * np.pi, -0.5 * np.pi]])
POINTS = 80
"""Round a traced section, 8 mm apart or more: a hand's errors do not make a line cross itself."""

NEAR_WAIST = 15.0
"""Seams' lengths are counted from the waist: next to it there is nothing to hold."""


@dataclass(frozen=True, eq=False)
class KnownBody:
    """Sections by upright height above the waist, and whose they are."""

    name: str
    of: Literal["women", "men", "either"]
    heights: FloatArray
    sections: Sections
    bust: float

    @cached_property
    def ring(self) -> Ring:
        """Panels of equal widths round it, 25 mm short of what is known of it."""
        z, girths = self.heights, self.sections.girths
        rise = np.gradient(girths / (2.0 * np.pi), z)
        steps = np.hypot(1.0, rise)
        v = np.concatenate([[0.0], np.cumsum(0.5 * (steps[1:] + steps[:-1]) * np.diff(z))])
        v -= np.interp(0.0, z, v)
        low, high = max(v[0] + 25.0, -165.0), min(v[-1] - 25.0, 165.0)
        at = np.linspace(low, high, int((high - low) / 3.0) + 1)
        around = Spline.smooth(v, girths).at(at)
        widths = np.repeat(around[:, None] / PANELS, PANELS, axis=1)
        return Ring(at, widths, 0.0, ("side",) * PANELS)

    @cached_property
    def truth(self) -> Turn:
        return FormModel(self.heights, self.sections).turn(self.ring)

    def along(self, heights: FloatArray) -> FloatArray:
        """Rows of all at heights in mm above the waist."""
        rows = self.sections.coefficients
        columns = Spline.smooth(self.heights, np.column_stack([rows.real, rows.imag])).at(heights)
        return columns[:, : ORDER + 1] + 1j * columns[:, ORDER + 1 :]


def growth(turn: Turn) -> FloatArray:
    """In mm for each mm of distance, heights by panels."""
    cosines = np.cos(turn.tilts)
    return np.asarray(turn.angles * 0.5 * (cosines[:, 1:] + cosines[:, :-1]))


def lengths(turn: Turn) -> FloatArray:
    """Change of seams' lengths from the waist for each mm of distance, heights by seams."""
    assert turn.normals is not None
    assert turn.slants is not None
    step = turn.heights[1] - turn.heights[0]
    up, aside = np.cos(turn.slants), np.sin(turn.slants)
    bend, way = (np.gradient(part, step, axis=0) for part in (turn.tilts, turn.normals))
    rates = (np.cos(turn.tilts) * way * aside - bend * up) * up
    run = np.vstack([0.0 * rates[:1], np.cumsum(0.5 * (rates[1:] + rates[:-1]), axis=0)]) * step
    return run - Spline.smooth(turn.heights, run).at(np.zeros(1))


@dataclass(frozen=True)
class Outcome:
    """What one way of measuring gives on one body."""

    rms: float
    seam: float
    growth_held: float
    seam_held: float

    @classmethod
    def of(cls, body: KnownBody, model: BodyModel) -> Outcome:
        turn, truth = model.turn(body.ring), body.truth
        away, apart = growth(turn) - growth(truth), lengths(turn) - lengths(truth)
        spread = turn.spread
        assert spread is not None
        at = spread.heights
        missed, off = (
            np.array([np.interp(at, turn.heights, c) for c in v.T]).T for v in (away, apart)
        )
        far = np.abs(at) > NEAR_WAIST
        return cls(
            float(np.sqrt((away**2).mean()) / (2.0 * np.pi / PANELS)),
            float(D * np.abs(apart).max()),
            float((np.abs(missed) <= spread.growth).mean()),
            float((np.abs(off) <= spread.lengthening)[far].mean()),
        )


# -- the bodies -----------------------------------------------------------------------------


def meshed(data: Any) -> list[KnownBody]:
    """Those that were sliced from a body mesh."""
    found = []
    for name, body in data.items():
        rows = np.zeros((len(body["heights"]), ORDER + 1), dtype=np.complex128)
        rows[:, : len(body["support"][0])] = body["support"]
        of: Any = name.rstrip("0123456789 ")
        found.append(KnownBody(name, of, np.array(body["heights"]), Sections(rows), body["bust"]))
    return found


def trunks(count: int) -> list[KnownBody]:
    """Those of our own formula, of several shapes."""
    chance = np.random.default_rng(11)
    found = []
    for number in range(count):
        sections = trunk(chance)
        girths = sections.girths
        middle = np.abs(HEIGHTS) < 70.0
        waist = float(HEIGHTS[middle][int(np.argmin(girths[middle]))])
        found.append(KnownBody(f"trunk {number}", "either", HEIGHTS - waist, sections, 160.0))
    return found


def mesh_bodies() -> list[KnownBody]:
    path = Path(__file__).with_name("left_out_bodies.json")
    return meshed(json.loads(path.read_text("utf-8"))["bodies"])


# -- the ways to measure them ---------------------------------------------------------------


def by_nothing(body: KnownBody, _: np.random.Generator, __: Path) -> BodyModel:
    return MeanFormModel(body.of)


def by_bust_and_ratio(body: KnownBody, chance: np.random.Generator, __: Path) -> BodyModel:
    at = body.ring.heights[[4, -5]]
    levels = np.linspace(*at, 5)
    h = Sections(body.along(levels)).support(np.tile(QUARTERS, (5, 1)))
    ratio = (h[:, 2] + h[:, 3]) / (h[:, 0] + h[:, 1])
    return MeanFormModel(body.of, Measures(levels, ratio), bust_height=body.bust)


def by_tapes(body: KnownBody, chance: np.random.Generator, _: Path) -> BodyModel:
    levels = [
        body.heights[0] + 30.0,
        0.5 * (body.heights[0] + 30.0),
        0.0,
        0.6 * body.bust,
        body.bust,
    ]
    levels = [max(level, -165.0) for level in levels]
    sections = Sections(body.along(np.array([*levels, 0.0])))
    h = sections.support(np.tile(QUARTERS, (len(levels) + 1, 1)))
    arcs = sections.arc_between(-0.5 * np.pi, 0.5 * np.pi)
    tapes = {}
    for row, level in enumerate(levels):
        seen = np.array(
            [
                h[row, 2] + h[row, 3],
                h[row, 0] + h[row, 1],
                sections.girths[row],
                arcs[row],
                h[row, 0] - h[-1, 0],
            ]
        ) + chance.normal(0.0, 3.0, 5)
        values = [float(v) for v in seen]
        tapes[level] = Tapes(*values[:4], values[4] if level else None)
    return TapeModel(tapes, of=body.of, error=3.0, upright=True)


def by_traces(body: KnownBody, chance: np.random.Generator, _: Path) -> BodyModel:
    return measure_traced(traced(body, chance)).model()


def traced(body: KnownBody, chance: np.random.Generator, noise: float = 1.5) -> bytes:
    """Seven sections drawn round by hand, each point off by some noise."""
    low, high = body.ring.heights[[0, -1]]
    levels = np.sort(np.append(np.linspace(low, high, 7)[[0, 1, 2, 4, 5, 6]], 0.0))
    drawn = ""
    sections = Sections(body.along(levels))
    parts = np.linspace(0.0, 1.0, POINTS, endpoint=False)
    psi = sections.normals(np.tile(parts, (7, 1)))
    for number, row in enumerate(sections.points(psi)):
        at = np.array([400.0 + 800.0 * number, 400.0])
        points = at - row - chance.normal(0.0, noise, row.shape)
        d = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "Z"
        name = "waist" if levels[number] == 0.0 else f"level {levels[number]:.3f}"
        drawn += (
            f'<g aria-label="{name}"><path d="{d}"/>'
            f'<circle id="plumb{number}" cx="{at[0]}" cy="{at[1]}" r="2"/>'
            f'<circle id="cf{number}" cx="{at[0]}" cy="{at[1] - 150.0}" r="2"/></g>'
        )
    head = 'width="5600mm" height="800mm" viewBox="0 0 5600 800"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{drawn}</svg>'.encode()


def by_mesh(body: KnownBody, chance: np.random.Generator, folder: Path) -> BodyModel:
    return scanned(body, chance, folder, 0.0)


def by_noisy_mesh(body: KnownBody, chance: np.random.Generator, folder: Path) -> BodyModel:
    return scanned(body, chance, folder, 1.0)


def scanned(body: KnownBody, chance: np.random.Generator, folder: Path, noise: float) -> BodyModel:
    """As a mesh that is turned somehow; where its front cannot be told, it is said."""
    found = None
    for turned, front in ((float(chance.uniform(-1.5, 1.5)), ""), (0.0, "z")):
        mesh = shell(body.heights, body.sections, turned=turned)
        mesh.vertices += chance.normal(0.0, noise, mesh.vertices.shape)
        path = saved(mesh, folder / "body.ply")
        with contextlib.suppress(FormError):
            found = measure_scan(
                path, units="mm", up="y", waist=-float(body.heights[0]), front=front
            )
        # A trunk without feet may be taken to look backwards: she sees that in the picture.
        if found is not None and _looks_ahead(found, body):
            return found.model()
    raise AssertionError(body.name)


def _looks_ahead(found: MeasuredForm, body: KnownBody) -> bool:
    """Whether the front that was found is not the back."""
    own = found.sections.coefficients[:, 1:6:2].real
    true = body.along(found.heights)[:, 1:6:2].real
    return float(((own - own.mean(axis=0)) * (true - true.mean(axis=0))).sum()) > 0.0


WAYS: dict[str, Callable[[KnownBody, np.random.Generator, Path], BodyModel]] = {
    "nothing": by_nothing,
    "ratio": by_bust_and_ratio,
    "tapes": by_tapes,
    "traces": by_traces,
    "mesh": by_mesh,
    "noisy mesh": by_noisy_mesh,
}


def outcomes(way: str, bodies: list[KnownBody], folder: Path) -> list[Outcome]:
    chance = np.random.default_rng(5)
    return [Outcome.of(body, WAYS[way](body, chance, folder)) for body in bodies]


def main(count: int, ways: list[str], folder: Path) -> None:
    bodies = mesh_bodies()
    kinds = {
        "women": [body for body in bodies if body.of == "women"][:count],
        "men": [body for body in bodies if body.of == "men"][:count],
        "trunks": trunks(count),
    }
    print(f"{'way':12}{'bodies':8}  growth rms   worst   seam mm   growth held   seams held")
    for way in ways:
        for kind, some in kinds.items():
            found = outcomes(way, some, folder)
            rms = np.sqrt(np.mean([one.rms**2 for one in found]))
            print(
                f"{way:12}{kind:8}{rms:10.1%}{max(one.rms for one in found):10.1%}"
                f"{max(one.seam for one in found):10.2f}"
                f"{np.mean([one.growth_held for one in found]):12.1%}"
                f"{np.mean([one.seam_held for one in found]):12.1%}"
            )


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 8, sys.argv[2:] or list(WAYS), Path(name))

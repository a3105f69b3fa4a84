"""Layers from flat to wrapped: closed forms of the line, and the fit sheet's own numbers."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from lxml import etree

from panelshift.fit.facts import FitFacts
from panelshift.fit.girths import buckle_height
from panelshift.fit.layer_change import _shares
from panelshift.fit.sections import Section, _arcs, section_figures
from panelshift.fit.wrapping import laid_line, unrolled, wrapping, wrapping_picture
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from tests.support.pictures import Picture
from tests.support.runs import SAMPLES

RADIUS = 100.0


def ring() -> Section:
    """Four quarters of a circle, from the centre back by the front and back again."""
    angles = np.linspace(-np.pi, np.pi, 5)
    parts = []
    for one, two in itertools.pairwise(angles):
        at = np.linspace(one, two, 41)
        parts.append(("part", RADIUS * np.column_stack([np.sin(at), np.cos(at)])))
    return Section("waist", tuple(parts), (np.pi / 2.0,) * 4, (0, 1, 2, 3))


def test_the_line_wrapped_is_the_section_and_flat_is_straight() -> None:
    section = ring()
    whole, normals = unrolled(section, 4, 1.0)
    assert whole == pytest.approx(np.array([own for _, own in section.parts]), abs=1e-9)
    assert normals * RADIUS == pytest.approx(whole, abs=2.0)
    flat, _ = unrolled(section, 4, 0.0)
    assert flat[..., 1] == pytest.approx(RADIUS, abs=1e-9)
    assert np.ptp(flat[..., 0]) == pytest.approx(2.0 * np.pi * RADIUS, rel=1e-3)
    # Half bent it is half a circle of twice the radius, whose lengths are as they were.
    half, out = unrolled(section, 4, 0.5)
    middle = half[1, -1] - 2.0 * RADIUS * out[1, -1]
    assert np.linalg.norm(half - middle, axis=-1) == pytest.approx(2.0 * RADIUS, rel=1e-3)
    assert half[0, 0] - half[-1, -1] == pytest.approx([-4.0 * RADIUS, 0.0], abs=0.5)


@pytest.fixture(scope="module")
def hourglass() -> FitFacts:
    return fit_job(resolve(read_job(SAMPLES / "hourglass.toml")), lay_cloth=False)


@pytest.mark.parametrize(("wrapped", "cut"), [(1.0, 0.0), (0.6, 0.1), (0.0, 1.0), (0.4, 0.4)])
def test_what_is_wanting_goes_with_both(hourglass: FitFacts, wrapped: float, cut: float) -> None:
    section = next(item for item in hourglass.sections if item.level == "waist")
    found = wrapping(hourglass.shifted, hourglass.layers, section, wrapped=wrapped, cut=cut)
    alike = {(a.layer, a.panel): a for a in hourglass.alike if a.level == "waist"}
    assert len(found.parts) == 12
    assert sum(len(own) for own in found.parts) == 48
    for part in itertools.chain.from_iterable(found.parts):
        item = alike.get((part.layer, part.panel))
        grown = 0.0 if item is None else item.growth
        wants = (wrapped - cut) * grown
        assert part.strain * part.width - part.excess == pytest.approx(wants, abs=1e-12)
        assert part.wave == pytest.approx(buckle_height(part.excess, part.width))
        if (wrapped, cut) == (1.0, 0.0) and item is not None:
            assert part.strain == pytest.approx(item.strain or 0.0)
            assert part.wave == pytest.approx(item.buckle or 0.0)


def test_layers_are_drawn_as_far_out_and_as_high_as_is_said(hourglass: FitFacts) -> None:
    section = next(item for item in hourglass.sections if item.level == "waist")
    found = wrapping(hourglass.shifted, hourglass.layers, section, wrapped=1.0, cut=0.0)
    base, normals = unrolled(section, 12, 1.0)
    for own, line, out in zip(found.parts, base, normals, strict=True):
        for part in own:
            away = np.einsum("mk,mk->m", laid_line(part, line, out, found) - line, out)
            assert away[[0, -1]] == pytest.approx(part.distance * found.lift, abs=1e-9)
            wave = np.abs(away - part.distance * found.lift).max()
            assert wave == pytest.approx(part.wave * found.waves, rel=0.01)
            # The lining's waves stand towards the body, where there is room.
            assert part.excess == 0.0 or away.min() < part.distance * found.lift
    root = etree.fromstring(wrapping_picture(found))
    assert len(list(root.iter("{*}path"))) == 2 * 12 + 2 * 48
    assert f"layers {found.lift:g} times" in root.get("aria-label")


def test_a_gore_is_wrapped_where_it_is_and_nowhere_else() -> None:
    found = fit_job(resolve(read_job(SAMPLES / "gored.toml")), lay_cloth=False)
    sections = {section.level: section for section in found.sections}
    for level, gores in (("bust", {"bust gore"}), ("hip", {"hip gore", "back gore"})):
        own = wrapping(found.shifted, found.layers, sections[level], wrapped=0.5, cut=0.5)
        names = {part.panel for parts in own.parts for part in parts}
        assert {name for name in names if "gore" in name} == gores
        assert len(own.parts) == 2 * (4 + len(gores))
        assert wrapping_picture(own).startswith("<svg")


@pytest.mark.slow
def test_a_panel_with_a_slit_lies_on_both_sides_of_its_gore_where_that_is_open() -> None:
    found = fit_job(resolve(read_job(SAMPLES / "slit_gores.toml")), lay_cloth=False)
    sections = {section.level: section for section in found.sections}
    names = [panel.name for panel in found.pattern.panels]
    for level, parts in (("bust", 3), ("waist", 1), ("hip", 1)):
        section = sections[level]
        half = [names[k] for k in section.panels][len(section.panels) // 2 :]
        assert half.count("1 front") == parts
        turned = dict.fromkeys(names, 0.0)
        for (name, _), angle in zip(section.parts, section.angles, strict=True):
            turned[name or "1 front"] += 0.0 if not name else angle
        height = found.pattern.level_height(level)
        for k, name in enumerate(names):
            whole = 2.0 * found.shifted.turn.angle_at(k, height)
            assert turned[name] == pytest.approx(whole, abs=2e-3)
        own = wrapping(found.shifted, found.layers, section, wrapped=1.0, cut=0.0)
        assert len(own.parts) == len(section.panels)
        # Its parts are as wide together as it is.
        mine = [parts[0].width for parts in own.parts if parts[0].panel == "1 front"]
        assert sum(mine) == pytest.approx(2.0 * found.shifted.turn.width_at(0, height))
        assert wrapping_picture(own).startswith("<svg")
    laid = found.laid
    assert [panel.named for panel in laid if panel.name == "1 front"].count(True) == 2
    ends = [panel.edges[1].all() for panel in laid if panel.name == "2 side"]
    assert ends.count(False) == 2


def test_arcs_are_joined_head_to_tail_and_close() -> None:
    widths, angles = np.array([60.0, 45.0, 70.0]), np.array([2.4, 1.6, 2.2])
    arcs = _arcs(widths, angles, 0.3, 41)
    for arc, following in zip(arcs, np.roll(arcs, -1, axis=0), strict=True):
        assert following[0] == pytest.approx(arc[-1], abs=1e-9)
    # What they miss is spread, so that each stays nearly as long as it is.
    lengths = np.hypot(*np.diff(arcs, axis=1).transpose(2, 0, 1)).sum(axis=1)
    assert lengths == pytest.approx(widths, rel=0.1)
    assert arcs.reshape(-1, 2).mean(axis=0) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_shares_of_an_edge_are_even_with_every_joint_among_them() -> None:
    # Positions count the segments: joints lie at whole ones, here at 30 and 70 of 100 mm.
    positions = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
    arc = np.array([0.0, 15.0, 30.0, 50.0, 70.0, 85.0, 100.0])
    shares = _shares(positions, arc)
    assert shares[[0, -1]].tolist() == [0.0, 1.0]
    assert all(np.abs(shares - joint).min() < 1e-12 for joint in (0.3, 0.7))
    assert np.diff(shares).max() < 0.1
    assert _shares(positions, 0.0 * arc).tolist() == [0.0, 1.0]


def test_a_section_is_drawn_with_names_angles_and_ticks_across_it() -> None:
    names = ("1 front", "2 side", "3 back", "4 rest")
    section = replace(
        ring(), parts=tuple((n, own) for n, (_, own) in zip(names, ring().parts, strict=True))
    )
    (picture,) = section_figures([section])
    drawn = Picture.of(picture)
    assert not drawn.beyond()
    assert not drawn.lapping()
    root = etree.fromstring(picture)
    words = [text.text for text in root.iter("{*}text")]
    assert [word for word in words if word in ("1", "2", "3", "4")] == ["1", "2", "3", "4"]
    assert words.count("90.0°") == 4
    assert {"centre front", "centre back"} <= set(words)
    pairs = [re.findall(r"([-\d.]+),([-\d.]+)", path.get("d")) for path in root.iter("{*}path")]
    lines = [np.array(pair, dtype=float) for pair in pairs]
    around = [line for line in lines if len(line) > 9]
    ends = np.concatenate([line[[0, -1]] for line in around])
    middle = np.concatenate(around).mean(axis=0)
    short = [line for line in lines if len(line) == 2]
    ticks = [t for t in short if np.hypot(*(ends - t.mean(axis=0)).T).min() < 0.2]
    assert len(ticks) == 8
    for tick in ticks:
        out, way = tick.mean(axis=0) - middle, tick[1] - tick[0]
        assert out @ way == pytest.approx(np.hypot(*out) * np.hypot(*way), rel=0.02)

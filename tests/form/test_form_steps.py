"""Steps of measuring a body one by one, against closed forms; a whole scan against its formula."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from panelshift.body.form import FormErrors
from panelshift.body.support import ORDER, Sections
from panelshift.errors import FormError
from panelshift.form.claims import refuse_claims
from panelshift.form.convex import DIRECTIONS, Fitted, _series, _waves
from panelshift.form.mesh import SlicePart, _share_inside, rivals, slices, trunk
from panelshift.form.picture import form_picture
from panelshift.form.scan import _toes, measure_scan
from panelshift.form.section_file import MeasuredForm, read_section_file, section_file
from panelshift.form.standing import Standing
from panelshift.form.traced import _sampled, measure_traced
from panelshift.outline import Curve
from tests.form.bodies import saved, sections, shell
from tests.support.golden import changes
from tests.support.pictures import Picture


def post(at: tuple[float, float], radius: float, low: float, high: float) -> trimesh.Trimesh:
    """A prism of sixteen sides."""
    found = trimesh.creation.cylinder(radius=radius, height=high - low, sections=16)
    return found.apply_translation([*at, 0.5 * (low + high)])


def cut(*posts: trimesh.Trimesh, height: float = 0.0) -> list[SlicePart]:
    body = trimesh.util.concatenate(posts)
    (found,) = slices(np.asarray(body.vertices), np.asarray(body.faces), np.array([height]))
    return found


def test_a_slice_has_the_parts_of_a_body_with_the_largest_first() -> None:
    body = [
        post((-180.0, 5.0), 40.0, -100.0, 100.0),
        post((0.0, 0.0), 110.0, -100.0, 100.0),
        post((190.0, 0.0), 30.0, 10.0, 100.0),
    ]
    found = cut(*body)
    assert [part.middle.round(6).tolist() for part in found] == [[0.0, 0.0], [-180.0, 5.0]]
    for part, radius in zip(found, (110.0, 40.0), strict=True):
        # A polygon of sixteen corners on a circle.
        assert part.area == pytest.approx(8.0 * radius**2 * np.sin(np.pi / 8.0))
        assert part.girth == pytest.approx(32.0 * radius * np.sin(np.pi / 16.0))
        assert len(part.points) == 32
        assert np.hypot(*(part.hull - part.middle).T).max() == pytest.approx(radius)
    assert len(cut(*body, height=50.0)) == 3
    assert cut(*body, height=200.0) == []
    # A post of five sides is noise: its slice has ten points.
    assert cut(trimesh.creation.cylinder(radius=100.0, height=50.0, sections=5)) == []


def test_of_two_parts_of_like_size_the_trunk_is_the_one_near_its_neighbour() -> None:
    one, other = post((-200.0, 0.0), 100.0, -9.0, 9.0), post((150.0, 30.0), 90.0, -9.0, 9.0)
    both = cut(one, other)
    for near, at in (((-150.0, 0.0), [-200.0, 0.0]), ((100.0, 0.0), [150.0, 30.0])):
        chosen = trunk(both, np.array(near))
        assert chosen is not None
        assert chosen.middle == pytest.approx(at)
    # Where no neighbour tells, and where the other is a limb, the largest.
    limb = cut(one, post((150.0, 30.0), 77.0, -9.0, 9.0))
    for parts, place in ((both, None), (limb, np.array([150.0, 30.0]))):
        chosen = trunk(parts, place)
        assert chosen is not None
        assert chosen.middle == pytest.approx([-200.0, 0.0])
    assert (rivals(both), rivals(limb), rivals([])) == (2, 1, 0)
    assert trunk([], np.zeros(2)) is None


def test_parts_that_reach_into_each_other_are_one() -> None:
    large, inner = post((0.0, 0.0), 100.0, -9.0, 9.0), post((90.0, 0.0), 50.0, -9.0, 9.0)
    found = trunk(cut(large, inner))
    assert found is not None
    # Six tenths of the small one's box lie in the large one's; the hull goes round both.
    assert _share_inside(*(part.hull for part in cut(large, inner)[::-1])) == pytest.approx(0.6)
    assert found.hull.max(axis=0) == pytest.approx([140.0, 100.0])
    assert found.hull.min(axis=0) == pytest.approx([-100.0, -100.0])
    apart = trunk(cut(large, post((110.0, 0.0), 50.0, -9.0, 9.0)))
    assert apart is not None
    assert apart.hull.max(axis=0) == pytest.approx([100.0, 100.0])
    beside = np.array([[200.0, 0.0], [210.0, 5.0]])
    assert _share_inside(beside, found.hull) == 0.0


def test_toes_lie_before_ankles_by_the_middles_of_both_feet() -> None:
    # Of a stature of 0.62 to 1.55: feet are cut 37.5 mm above the floor, ankles 175 mm.
    floor = -1550.0
    legs = [post((x, 0.0), 40.0, floor + 100.0, 0.0) for x in (-100.0, 90.0)]
    feet = [post((x, -70.0), 60.0, floor, floor + 80.0) for x in (-130.0, 100.0)]
    body = trimesh.util.concatenate([*legs, *feet])
    standing = Standing(
        np.asarray(body.vertices), np.asarray(body.faces), "mm", "z", 0.0, 0.0, 0.0, (), "body"
    )
    # To the wearer's left is the other way than to the mesh's right.
    assert _toes(standing) == pytest.approx([10.0, -70.0])
    assert _toes(replace(standing, points=standing.points + [0.0, 0.0, 900.0])) is None
    one = trimesh.util.concatenate([legs[0], feet[0]])
    alone = replace(standing, points=np.asarray(one.vertices), faces=np.asarray(one.faces))
    assert _toes(alone) is None


def test_a_whole_scan_of_a_body_on_its_feet(tmp_path: Path) -> None:
    """From the seat to the bust, its two sides not alike, on legs."""
    rows = np.linspace(-120.0, 110.0, 24)
    body = shell(rows, sections(rows, lopsided=3.0), around=60)
    # From y up to z up: it looks along -y.
    body.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2.0, [1.0, 0.0, 0.0]))
    floor = float(body.vertices[:, 2].min()) - 760.0
    legs = [post((x, 0.0), 60.0, floor + 1.0, floor + 759.0) for x in (-80.0, 80.0)]
    path = saved(trimesh.util.concatenate([body, *legs]), tmp_path / "body.ply")
    found = measure_scan(path, front="-y")
    # Its girth of 2 pi (105 + 40 x / (1 + 0.4 x) - 0.05 z), x = (z / 200)^2, is least there.
    waist = 25.3
    truth = sections(found.heights + waist, lopsided=3.0)
    assert found.sections.girths == pytest.approx(truth.girths, rel=0.003)
    away = found.sections.coefficients[:, 2:5] - truth.coefficients[:, 2:5]
    assert np.abs(away).max() < 0.3
    assert not changes("scan.json", section_file(found).decode())


SQUARE_PLY = """ply
format ascii 1.0
element vertex 4
property float x
property float y
property float z
element face 2
property list uchar int vertex_indices
{more}end_header
0 0 0
1 0 0
1 1 0
0 1 0
3 0 1 2
4 0 1 2 3
{rows}
"""


@pytest.mark.parametrize(
    ("more", "rows", "words"),
    [
        ("", "", ""),
        # What comes after the faces says nothing of corners.
        ("element edge 1\nproperty float x\nproperty float y\n", "9.5 0", ""),
        ("element edge 1\nproperty float x\n", "", "claims 7 points and faces and holds 6"),
        ("element mark 1\nproperty list uchar int a\nproperty int b\n", "2 0 1 7", ""),
        ("element mark 1\nproperty list uchar int a\n", "3 0 1", "its last face is not whole"),
        ("element mark 1\nproperty list uchar int a\n", "x 0 1", ""),
    ],
)
def test_rows_of_a_text_are_counted(more: str, rows: str, words: str) -> None:
    content = SQUARE_PLY.format(more=more, rows=rows).encode()
    if not words:
        refuse_claims(content, Path("square.ply"))
        return
    with pytest.raises(FormError, match=words):
        refuse_claims(content, Path("square.ply"))


def glb(tree: Any, held: int, more: int) -> bytes:
    """A GLB of so many bytes of numbers, whose head claims some bytes more."""
    text = json.dumps(tree).encode()
    size = 28 + len(text) + held + more
    head = struct.pack("<4s4I", b"glTF", 2, size, len(text), 0x4E4F534A)
    return head + text + struct.pack("<II", held, 0x004E4942) + bytes(held)


BUFFER = {"buffers": [{"byteLength": 40}]}


@pytest.mark.parametrize(
    ("tree", "held", "more", "words"),
    [
        (BUFFER, 40, 0, ""),
        (BUFFER, 39, 0, "it claims 100 bytes, 40 of them numbers, and holds 100"),
        (BUFFER, 40, 1, "it claims 102 bytes, 40 of them numbers, and holds 101"),
        ({"buffers": [{"uri": "a.bin", "byteLength": 4}]}, 4, 0, "points lie in another file"),
        ({"nodes": [{}] * 1000}, 4, 0, ""),
        ({"meshes": [{}] * 1001}, 4, 0, "claims 1,001 objects"),
        ({"accessors": [{"count": 63}]}, 4, 0, "claims 63 values in a list"),
        ({"accessors": [{"count": 62}]}, 4, 0, ""),
        ([], 4, 0, r"head is broken \(AttributeError\)"),
    ],
)
def test_what_a_glb_claims_is_held_against_its_bytes(
    tree: Any, held: int, more: int, words: str
) -> None:
    content = glb(tree, held, more)
    if not words:
        refuse_claims(content, Path("body.glb"))
        return
    with pytest.raises(FormError, match=words):
        refuse_claims(content, Path("body.glb"))


HEIGHTS = np.array([-150.0, 0.0, 160.0])
ERRORS = FormErrors(0.4, np.radians(2.0), 3.0)
FORM = MeasuredForm(
    HEIGHTS,
    sections(HEIGHTS, lopsided=3.0),
    "scan",
    FormErrors(0.4, np.radians(2.0), 3.0),
    ("a",),
    {"bust": 160.0},
)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("format", "sections", "this is not a section file"),
        ("version", 2, "its version is 2; this panelshift reads version 1"),
        ("heights_mm", [0.0, 0.0, 9.0], "heights do not increase, or a section has no girth"),
        ("heights_mm", [0.0, 9.0, 3.0], "heights do not increase, or a section has no girth"),
        ("heights_mm", [0.0, 9.0], "heights and sections do not belong together"),
        ("heights_mm", [0.0, 9.0, 5001.0], "its heights_mm are not those of a body"),
        ("heights_mm", [[0.0], [9.0], [10.0]], "its heights_mm are not those of a body"),
        ("heights_mm", ["a"], "its heights_mm are not numbers"),
        ("heights_mm", None, "its heights_mm are not those of a body"),
        ("support", [[1.0]], "its support are not those of a body"),
        ("support", [[1.0] * (2 * ORDER)] * 3, "its support are not those of a body"),
        ("support", [[0.0] * (2 * ORDER + 1)] * 3, "heights do not increase, or a section has no"),
        ("made_from", "traces", "made from 'traces', not from one of scan, traced"),
        ("errors", {"surface_mm": -0.1}, "its surface_mm is no number from 0 to 100"),
        ("errors", {"front_degrees": 100.1}, "its front_degrees is no number from 0 to 100"),
        ("errors", {"waist_mm": "a"}, "its waist_mm is no number from 0 to 100"),
        ("names", {"bust": 10001.0}, "its bust is no number from -10000 to 10000"),
    ],
)
def test_section_files_whose_numbers_make_no_body_are_refused(
    tmp_path: Path, key: str, value: Any, words: str
) -> None:
    path = tmp_path / "body.json"
    path.write_text(json.dumps(json.loads(section_file(FORM)) | {key: value}))
    with pytest.raises(FormError, match=words) as caught:
        read_section_file(path)
    assert caught.value.source == str(path)
    assert caught.value.remedy == "Make it again with panelshift form."


def test_a_section_file_gives_all_that_was_written(tmp_path: Path) -> None:
    path = tmp_path / "body.json"
    path.write_bytes(section_file(FORM))
    again = read_section_file(path)
    assert (again.made_from, again.found, again.names) == ("scan", ("a",), {"bust": 160.0})
    assert again.heights.tolist() == HEIGHTS.tolist()
    assert not again.heights.flags.writeable
    assert np.abs(again.sections.coefficients - FORM.sections.coefficients).max() <= 1e-4
    errors = again.errors
    assert (errors.surface, errors.front, errors.waist) == (0.4, np.radians(2.0), 3.0)
    # What another program left out has the widest of what is usual.
    less = json.loads(section_file(FORM)) | {"errors": 7, "names": [], "found": ["b", 3]}
    path.write_text(json.dumps(less))
    bare = read_section_file(path)
    errors = bare.errors
    assert (errors.surface, errors.front, errors.waist) == (1.0, np.radians(0.5), 5.0)
    assert (bare.names, bare.found) == ({}, ("b",))


@pytest.mark.parametrize("wave", [0, 2, 3, 20, 35])
def test_a_wave_of_radii_gives_the_support_function_its_part(wave: int) -> None:
    grid = 2.0 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    psi = np.linspace(0.0, 6.0, 29)
    radii, place = 100.0 + 9.0 * np.cos(wave * grid + 0.3), np.array([7.0, -4.0])
    # h + h'' = rho.
    truth = 100.0 + 9.0 * np.cos(wave * psi + 0.3) / (1.0 - wave**2)
    assert _waves(psi) @ radii == pytest.approx(truth, abs=1e-9)
    found = Sections(_series(radii, place)[None]).support(psi[None])[0]
    moved = place @ np.stack([np.sin(psi), np.cos(psi)])
    assert found == pytest.approx(truth + moved, abs=1e-9)


def test_points_that_err_together_tell_less() -> None:
    # Errors that turn their sign at every second point: neighbours agree by 0, -1 and 0.
    away = np.tile([1.0, 1.0, -1.0, -1.0], 20)
    assert Fitted(FORM.sections, away, 0.0, 0.0).rms == 1.0
    assert Fitted(FORM.sections, away, 0.0, 0.0).noise == pytest.approx(1.0)
    # Runs of eight alike: those 1, 2 and 3 points on agree by 3/4, 1/2 and 1/4.
    long = np.repeat(np.tile([2.0, -2.0], 10), 8)
    whole = 1.0 + 2.0 * (0.75 + 0.5 + 0.25)
    assert Fitted(FORM.sections, long, 0.0, 0.0).noise == pytest.approx(2.0 * np.sqrt(whole))


def test_a_traced_curve_is_sampled_evenly_and_once_all_round() -> None:
    square = Curve.polyline(
        np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]]), closed=True
    )
    found = _sampled(square)
    # Forty points for 160 mm, from the first corner on.
    assert found.shape == (40, 2)
    assert found[[0, 1, 10, 39]] == pytest.approx(
        np.array([[0.0, 0.0], [4.0, 0.0], [40.0, 0.0], [0.0, 4.0]])
    )
    line = _sampled(Curve.polyline(np.array([[0.0, 0.0], [33.0, 0.0]])))
    assert line == pytest.approx(np.column_stack([3.0 * np.arange(12.0), np.zeros(12)]))
    dot = _sampled(Curve.polyline(np.array([[5.0, 1.0], [34.9, 1.0]])))
    assert dot == pytest.approx(np.array([[19.95, 1.0]]))


def test_the_whole_picture_of_a_body() -> None:
    heights = np.array([-180.0, -90.0, 5.0, 90.0, 160.0])
    form = MeasuredForm(
        heights,
        sections(heights, lopsided=4.0),
        "traced",
        FormErrors(),
        (),
        {"hip": -180.0, "waist": 5.0, "bust": 160.0},
    )
    drawn = Picture.of(form_picture(form, "in"))
    told = [f"{drawn.width:.2f} {drawn.height:.2f}"]
    for each in (*drawn.lines, *drawn.words):
        ends = np.concatenate([each.points[0], each.points[-1], each.box])
        told.append(" ".join(f"{v:.2f}" for v in ends) + f" {each.words}")
    assert not changes("form-picture.txt", "\n".join(told))


def test_a_plumb_line_hangs_two_centimetres_before_the_front_at_least() -> None:
    rings = "".join(
        f'<circle id="{name}" cx="300" cy="300" r="110"/>'
        for name in ("waist", "bust 150", "hip -200")
    )

    def traced(plumb: float) -> MeasuredForm:
        marks = f'<path id="cf" d="M300 189v2"/><path id="plumb" d="M300 {plumb - 1.0}v2"/>'
        return measure_traced(
            '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" '
            f'viewBox="0 0 600 600">{rings}{marks}</svg>'.encode()
        )

    found = traced(168.0)
    assert found.sections.place == pytest.approx(np.tile([0.0, -132.0], (3, 1)), abs=0.1)
    assert found.sections.girths == pytest.approx(np.full(3, 220.0 * np.pi), abs=0.5)
    with pytest.raises(FormError, match=r"plumb line at level .* lie 19 mm apart"):
        traced(171.0)

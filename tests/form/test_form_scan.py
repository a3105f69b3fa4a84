"""Scans of a body that is known: what is measured is what it is, however it lies in its file."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from panelshift.body.form import FormErrors
from panelshift.body.support import Sections
from panelshift.errors import FormError
from panelshift.form.claims import refuse_claims
from panelshift.form.facing import facing, turned
from panelshift.form.mesh import Mesh, read_mesh
from panelshift.form.picture import form_picture
from panelshift.form.scan import ComplexArray, _roughness, _said, measure_scan, smoothed
from panelshift.form.section_file import MeasuredForm, read_section_file, section_file
from panelshift.form.standing import AXES, UNITS, _Runs, stand
from panelshift.outline import FloatArray
from tests.form.bodies import HEIGHTS, mesh, saved, sections, shell
from tests.support.examples import thinned
from tests.support.pictures import Picture


@pytest.mark.parametrize(
    "suffix",
    ["ply", *(pytest.param(more, marks=pytest.mark.slow) for more in ("stl", "obj", "glb"))],
)
@pytest.mark.slow
def test_a_mesh_gives_the_sections_it_was_made_of(tmp_path: Path, suffix: str) -> None:
    scale = 1e-3 if suffix == "glb" else 1.0
    found = measure_scan(saved(mesh(turned=0.4, scale=scale), tmp_path / f"body.{suffix}"))
    truth = sections(found.heights + waist_of_truth())
    # The waist is found within 0.3 mm of height, and the girth changes by up to 1.4 mm in one.
    assert np.abs(found.sections.girths - truth.girths).max() < 0.5
    psi = np.broadcast_to(np.linspace(0.0, 6.2, 40), (len(found.heights), 40))
    origin = found.sections.place - truth.place
    away = found.sections.support(psi) - truth.support(psi)
    away -= origin[:, :1] * np.sin(psi) + origin[:, 1:] * np.cos(psi)
    # Rounding corners over 5 degrees takes 1.5 % of an oval's flattening, 20 mm here.
    assert np.abs(away).max() < 0.6
    # The frame itself lies where the mesh has its own axis.
    assert np.ptp(origin, axis=0).max() < 0.1


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> MeasuredForm:
    """The body as it stands, measured once."""
    return measure_scan(saved(mesh(), tmp_path_factory.mktemp("plain") / "plain.ply"))


def waist_of_truth() -> float:
    """Where the trunk is narrowest, by its formula."""
    z = np.linspace(-60.0, 60.0, 2401)
    return float(z[int(np.argmin(sections(z).girths))])


@pytest.mark.slow
@pytest.mark.parametrize("turned", [-2.5, -0.9, 0.0, 1.3, 3.0])
def test_the_front_is_found_in_any_turn(tmp_path: Path, plain: MeasuredForm, turned: float) -> None:
    other = measure_scan(saved(mesh(turned=turned), tmp_path / "turned.ply"))
    away = np.abs(plain.sections.coefficients[:, 2:] - other.sections.coefficients[:, 2:])
    assert away.max() < 0.02


@pytest.mark.slow
def test_a_front_that_is_said_is_taken(tmp_path: Path) -> None:
    path = saved(mesh(), tmp_path / "body.stl")
    found, said = measure_scan(path), measure_scan(path, front="z")
    assert np.abs(found.sections.coefficients - said.sections.coefficients).max() < 0.02
    back = measure_scan(path, front="-z")
    assert np.abs(back.sections.place[:, 1] + said.sections.place[:, 1]).max() < 0.02
    with pytest.raises(FormError, match="no direction of the front"):
        measure_scan(path, front="y")


@pytest.mark.slow
def test_left_and_right_are_not_exchanged(tmp_path: Path) -> None:
    found = measure_scan(saved(mesh(turned=0.8, lopsided=3.0), tmp_path / "b.ply"), front="z")
    truth = sections(found.heights, lopsided=3.0)
    turned_front = measure_scan(saved(mesh(lopsided=3.0), tmp_path / "c.ply"), front="z")
    assert np.sign(turned_front.sections.coefficients[20, 2].imag) == np.sign(
        truth.coefficients[20, 2].imag
    )
    assert abs(found.sections.coefficients[20, 2] - truth.coefficients[20, 2]) > 1.0
    assert any("left and right differ" in word for word in turned_front.found)


@pytest.mark.slow
@pytest.mark.parametrize("unit", ["in", "mm", "cm", "m"])
def test_units_are_found_or_asked(tmp_path: Path, unit: str) -> None:
    scale = {"mm": 1.0, "cm": 0.1, "in": 1.0 / 25.4, "m": 1e-3}[unit]
    path = saved(mesh(scale=scale), tmp_path / "body.ply")
    said = measure_scan(path, units=unit)
    assert said.girth_at(0.0) == pytest.approx(
        float(sections(np.array([waist_of_truth()])).girths[0]), abs=0.5
    )
    found = measure_scan(path)
    assert found.girth_at(0.0) == pytest.approx(said.girth_at(0.0), abs=1e-6)


@pytest.mark.slow
def test_a_file_of_sections_keeps_what_was_measured(tmp_path: Path, plain: MeasuredForm) -> None:
    content = section_file(plain)
    (tmp_path / "sections.json").write_bytes(content)
    again = read_section_file(tmp_path / "sections.json")
    assert np.abs(again.sections.coefficients - plain.sections.coefficients).max() <= 1e-4
    assert section_file(again) == content
    assert b"plain.ply" not in content


@pytest.mark.slow
def test_bodies_that_are_none_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FormError, match="no adult's body"):
        measure_scan(saved(mesh(scale=1e-6), tmp_path / "dust.ply"))
    lying = mesh()
    lying.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [0, 0, 1]))
    with pytest.raises(FormError, match="lie down"):
        measure_scan(saved(lying, tmp_path / "lying.ply"))
    one = mesh()
    two = one.copy()
    two.apply_translation([700.0, 0.0, 0.0])
    with pytest.raises(FormError, match=r"two bodies|lie down|up cannot be told"):
        measure_scan(saved(trimesh.util.concatenate([one, two]), tmp_path / "two.ply"), up="y")
    ball = trimesh.creation.icosphere(subdivisions=4, radius=150.0)
    with pytest.raises(FormError, match="up cannot be told"):
        measure_scan(saved(ball, tmp_path / "ball.ply"))
    with pytest.raises(FormError, match="no waist is found"):
        measure_scan(saved(ball, tmp_path / "ball.ply"), up="y", units="mm")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.xyz", b"", "not a kind of mesh"),
        ("a.stl", b"", "cannot be read|no faces"),
        ("a.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "cannot be read|not there|no faces"),
        ("a.obj", b"v nan 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "finite|cannot be read|no faces"),
        (
            "a.ply",
            b"ply\nformat ascii 1.0\nelement vertex 99999999999\n",
            "cut off",
        ),
        ("a.glb", b"glTF\x02\x00\x00\x00\xff\xff\xff\x7f", "head is broken"),
        # A whole file that lists no numbers.
        (
            "a.glb",
            struct.pack("<4s4I", b"glTF", 2, 48, 28, 0x4E4F534A) + b'{"asset":{"version":"2.0"}} ',
            "no faces",
        ),
    ],
)
def test_broken_files_are_refused(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(FormError, match=words):
        measure_scan(path)


@pytest.mark.parametrize(
    ("kind", "encoding"),
    [("ply", "ascii"), ("ply", "binary"), ("stl", ""), ("stl_ascii", ""), ("glb", "")],
)
def test_a_file_cut_off_among_its_faces_is_refused(
    tmp_path: Path, kind: str, encoding: str
) -> None:
    whole = mesh(around=24).export(file_type=kind, **({"encoding": encoding} if encoding else {}))
    content = whole.encode() if isinstance(whole, str) else whole
    path = tmp_path / f"body.{kind.removesuffix('_ascii')}"
    path.write_bytes(content)
    read_mesh(path)
    # All points are there, nine tenths of the faces, and at last all but a part of one.
    for share in (0.9 * len(content), len(content) - 5.0):
        path.write_bytes(content[: int(share)])
        with pytest.raises(FormError, match="cut off"):
            read_mesh(path)


def test_corners_of_many_counts_are_all_wanted(tmp_path: Path) -> None:
    # A square and a triangle: the second face is not as long as the first.
    head = (
        b"ply\nformat binary_big_endian 1.0\nelement vertex 4\nproperty float x\n"
        b"property float y\nproperty float z\nproperty uchar red\nelement face 2\n"
        b"property list uchar int vertex_indices\nend_header\n"
    )
    points = b"".join(
        struct.pack(">fffB", x, y, 0.0, 9) for x, y in ((0, 0), (1, 0), (1, 1), (0, 1))
    )
    faces = struct.pack(">B4i", 4, 0, 1, 2, 3) + struct.pack(">B3i", 3, 0, 1, 2)
    path = tmp_path / "square.ply"
    path.write_bytes(head + points + faces)
    refuse_claims(path.read_bytes(), path)
    path.write_bytes(head + points + faces[:-1])
    with pytest.raises(FormError, match="claims 2 times 'face' and holds fewer"):
        read_mesh(path)


@pytest.mark.slow
def test_points_without_a_face_are_told_of(tmp_path: Path) -> None:
    # A text OBJ does not say how many faces it has: one that was cut off has points too many.
    body = mesh(around=60)
    body.faces = body.faces[np.argsort(body.faces.min(axis=1), kind="stable")]
    text = body.export(file_type="obj")
    path = tmp_path / "body.obj"
    path.write_text(text[: int(0.93 * len(text))])
    assert any("belong to no face" in word for word in measure_scan(path, front="z").found)


def test_a_section_file_made_from_something_unknown_is_refused(tmp_path: Path) -> None:
    heights = np.array([-50.0, 50.0])
    form = MeasuredForm(heights, sections(heights), "traced", FormErrors())
    path = tmp_path / "sections.json"
    numbers = re.findall(rb"-?[0-9]+\.[0-9]+", section_file(form))
    assert max(len(number.partition(b".")[2]) for number in numbers) == 4
    path.write_bytes(section_file(form).replace(b'"traced"', b'"a photo"'))
    with pytest.raises(FormError, match="made from 'a photo', not from one of scan, traced"):
        read_section_file(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(FormError, match="no such file"):
        measure_scan(tmp_path / "none.stl")


OVAL, THIRD, UNEVEN = 0.12, 0.03, 0.01


def leaning(turns: np.ndarray, uneven: float = UNEVEN, *, lean: float = 0.2) -> Sections:
    """Levels of 100 mm mean radius, each in its own turn, the higher the further to the front."""
    rows = np.arange(len(turns))[:, None] / (len(turns) - 1.0)

    def around(psi: np.ndarray) -> np.ndarray:
        own = psi - turns[:, None]
        shape = 1.0 - OVAL * np.cos(2.0 * own) + THIRD * np.cos(3.0 * own)
        return 100.0 * (shape + uneven * np.sin(5.0 * own) + lean * (rows - 0.5) * np.cos(own))

    return Sections.of_support(around)


@pytest.mark.parametrize("angle", [-2.5, -0.9, 0.0, 1.3, 3.0])
def test_a_mirror_plane_is_known_by_closed_forms(angle: float) -> None:
    found = facing(np.linspace(-200.0, 200.0, 9), leaning(np.full(9, angle)))
    # A fifth wave in sines pulls at no plane of waves in cosines, and is all that is not even.
    assert found.angle == pytest.approx(angle, abs=1e-9)
    squares = OVAL**2 + THIRD**2 + UNEVEN**2
    assert found.asymmetry == pytest.approx(UNEVEN / np.sqrt(squares), rel=1e-9)
    assert found.forward == pytest.approx(0.2, rel=1e-9)
    assert found.sigma == pytest.approx(0.0, abs=1e-9)
    # What each plane leaves uneven, as sines and cosines of its own turn.
    away = np.radians(np.arange(25.25, 155.0, 0.25))
    cost = (OVAL * np.sin(2.0 * away)) ** 2 + (THIRD * np.sin(3.0 * away)) ** 2
    cost += (UNEVEN * np.cos(5.0 * away)) ** 2
    assert found.clear == pytest.approx(cost.min() / UNEVEN**2, rel=0.01)
    straight = turned(leaning(np.full(9, angle)), found.angle).coefficients[:, 1:4]
    assert np.abs(straight.imag).max() < 1e-9


def test_levels_that_differ_tell_how_well_the_front_is_known() -> None:
    turns = 0.01 * np.tile([1.0, -1.0], 16)
    found = facing(np.linspace(-200.0, 200.0, 32), leaning(turns, 0.0))
    assert found.angle == pytest.approx(0.0, abs=1e-9)
    # Half a degree each way, of which one level in eight is news.
    assert found.sigma == pytest.approx(0.01 / np.sqrt(32 / 8), rel=1e-3)


def test_each_level_tells_alike_of_the_front_however_wide_it_is() -> None:
    heights, turns = np.linspace(-200.0, 200.0, 9), 0.02 * np.array([0, 3, 1, -2, 4, 0, -3, 2, 5])
    even = leaning(turns)
    wide = Sections(even.coefficients * np.linspace(0.7, 1.6, 9)[:, None])
    one, other = facing(heights, even), facing(heights, wide)
    for name in ("angle", "sigma", "asymmetry", "clear"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-9), name


def test_toes_tell_the_front_of_a_body_that_stands_straight() -> None:
    heights, straight = np.linspace(-200.0, 200.0, 9), leaning(np.zeros(9), lean=0.0)
    with pytest.raises(FormError, match="one of 0 and 180 degrees"):
        facing(heights, straight)
    for toes, angle in ((20.0, 0.0), (-20.0, -np.pi)):
        found = facing(heights, straight, np.array([0.0, toes]))
        assert found.angle == pytest.approx(angle, abs=1e-9)
        assert found.forward == pytest.approx(0.2)
    with pytest.raises(FormError, match="cannot be told"):
        facing(heights, straight, np.array([20.0, 14.0]))
    with pytest.raises(FormError, match="as like its image in two planes"):
        facing(heights, leaning(np.zeros(9), THIRD))


@pytest.mark.slow
@pytest.mark.parametrize("upside_down", [False, True])
def test_legs_tell_which_end_is_down(upside_down: bool) -> None:
    rows = np.linspace(HEIGHTS[0], HEIGHTS[-1], 29)
    trunk = shell(rows, sections(rows), around=16)
    trunk.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2.0, [1.0, 0.0, 0.0]))
    leg = trimesh.creation.cylinder(radius=60.0, height=620.0, sections=8)
    legs = [leg.copy().apply_translation([x, 0.0, 300.0]) for x in (-80.0, 80.0)]
    body = trimesh.util.concatenate([trunk, *legs])
    points = np.asarray(body.vertices) * ([1.0, -1.0, -1.0] if upside_down else [1.0, 1.0, 1.0])
    standing = stand(Mesh(points, np.asarray(body.faces), "body"), units="mm")
    assert standing.up == ("-z" if upside_down else "z")
    # Feet lie 910 mm below the height from which the trunk's formula counts.
    assert standing.points[:, 2].min() == pytest.approx(-910.0 - waist_of_truth(), abs=3.0)
    girth = float(sections(np.array([waist_of_truth()])).girths[0])
    assert standing.waist_girth == pytest.approx(girth, rel=0.01)


@pytest.mark.parametrize(("up", "unit"), thinned(zip(AXES, [*UNITS, "mm"], strict=True)))
def test_a_body_stands_alike_however_it_lies_in_its_file(up: str, unit: str) -> None:
    """Turned without mirroring, so that any of the axes is up, and counted in any unit."""
    body = mesh(around=24)
    points, faces = np.asarray(body.vertices), np.asarray(body.faces)
    plain = stand(Mesh(points, faces, "plain"), units="mm", up="y")
    axes = "xyz"
    turned_points = np.roll(points, axes.index(up[-1]) - 1, axis=1)
    if up.startswith("-"):
        # Half a turn about another axis.
        half_turn = -np.ones(3)
        half_turn[axes.index(up[-1]) - 1] = 1.0
        turned_points = turned_points * half_turn
    found = stand(Mesh(turned_points / UNITS[unit], faces, "turned"), units=unit, up=up)
    assert (found.units, found.up) == (unit, up)
    assert found.waist_girth == pytest.approx(plain.waist_girth, abs=1e-6)
    assert (found.low, found.high) == pytest.approx((plain.low, plain.high), abs=1e-6)
    assert found.points[:, 2] == pytest.approx(plain.points[:, 2], abs=1e-6)
    # The same body about the upright axis, and no mirror image of it.
    ours, theirs = found.points[:, :2], plain.points[:, :2]
    rotation = np.linalg.lstsq(theirs, ours, rcond=None)[0]
    assert rotation.T @ rotation == pytest.approx(np.eye(2), abs=1e-9)
    assert np.linalg.det(rotation) == pytest.approx(1.0, abs=1e-9)
    # An axis of the file that is said to be the front is where the turn to upright puts it; the
    # frame counts from its y towards the wearer's left, which is the mesh's right-handed -x.
    both = turned_points / UNITS[unit], found.points
    own, upright = (each - each.mean(axis=0) for each in both)
    turn = np.linalg.lstsq(own, upright, rcond=None)[0]
    for front in [said for said in AXES if said[-1] != up[-1]]:
        axis = turn["xyz".index(front[-1])] * (-1.0 if front.startswith("-") else 1.0)
        away = _said(found, front) - np.arctan2(-axis[0], axis[1])
        assert np.exp(1j * away) == pytest.approx(1.0, abs=1e-6)


def test_every_slice_meets_the_body() -> None:
    post = trimesh.creation.cylinder(radius=100.0, height=480.0, sections=12)
    found = Mesh(np.asarray(post.vertices), np.asarray(post.faces), "post")
    runs = _Runs.of(found.points, found, 480.0)
    # That of a polygon of twelve corners.
    assert runs.girths == pytest.approx(np.full(160, 2400.0 * np.sin(np.pi / 12.0)))
    assert runs.heights == pytest.approx(-240.0 + 3.0 * np.arange(0.5, 160.0), abs=0.1)


@pytest.mark.parametrize("count", [4, 5, 6, 9])
def test_of_however_few_heights_a_cubic_stays_what_it_is(count: int) -> None:
    heights = np.array([0.0, 7.0, 20.0, 31.0, 44.0, 58.0, 63.0, 70.0, 90.0])[:count]
    at = np.array([3.0, 16.0, 29.0])

    def cubic(z: FloatArray) -> ComplexArray:
        w = (z - 20.0) / 40.0
        return np.stack([1.0 - w + 2.0 * w**2 - w**3, 1j * w + 0.5 * w**3], axis=-1)

    assert smoothed(heights, cubic(heights), at, 12.0) == pytest.approx(cubic(at), abs=1e-9)


def test_what_slices_err_is_a_root_mean_square() -> None:
    # Levels that alternate are all noise: smoothing takes all but a hundredth of it away.
    heights = np.arange(-200.0, 201.0, 5.0)
    sign = (-1.0) ** np.arange(len(heights))
    for size in (0.5, 2.0):
        values = sections(0.0 * heights).coefficients.copy()
        values[:, 0] += size * sign
        # Parseval: the wave 2 c cos(3 psi) has a mean square of 2 c^2.
        values[:, 3] += size * sign
        assert _roughness(heights, values) == pytest.approx(np.sqrt(3.0) * size, rel=0.03)


def test_the_picture_shows_the_body_from_above_the_front_and_its_left() -> None:
    heights = np.arange(-200.0, 201.0, 10.0)
    form = MeasuredForm(heights, sections(heights), "traced", FormErrors(), (), {"bust": 150.0})
    drawn = Picture.of(form_picture(form, "cm"))
    assert not drawn.beyond()
    assert not drawn.lapping()
    # No wider than a margin beside what stands furthest to the right.
    assert drawn.width - max(word.box[2] for word in drawn.words) < 35.0
    psi = np.broadcast_to(np.linspace(0.0, 2.0 * np.pi, 181), (len(heights), 181))
    left, front = np.moveaxis(form.sections.points(psi), 2, 0)
    sides = [line.points for line in drawn.lines if len(line.points) == len(heights)]
    # Each silhouette stands upright; to the right lies the wearer's left, then the back.
    for (one, other), right in ((sides[:2], left), (sides[2:], -front)):
        assert np.ptp(one[:, 1] + heights) < 0.11
        across = np.sort(np.column_stack([one[:, 0], other[:, 0]]), axis=1)
        away = across - np.column_stack([right.min(axis=1), right.max(axis=1)])
        assert np.ptp(away) < 0.25
    # From above the front is up and the wearer's left is at the left, around one origin.
    above = [line.points for line in drawn.lines if len(line.points) == psi.shape[1]]
    middle = above[0][0] + [left[0, 0], front[0, 0]]
    for row, points in enumerate(above[: len(heights)]):
        truth = middle - np.column_stack([left[row], front[row]])
        assert np.abs(points - truth).max() < 0.25
    assert drawn.word("bust").points[:, 1].max() < above[0][:, 1].max()
    for height in (-200.0, -50.0, 100.0, 150.0):
        base = drawn.word(form.shown_girth(height, "cm")).points[1, 1]
        assert base == pytest.approx(sides[0][0, 1] - 200.0 - height + 4.0, abs=0.2)

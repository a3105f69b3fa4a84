"""Scans of a body that is known: what is measured is what it is, however it lies in its file."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from panelshift.body.form import FormErrors
from panelshift.errors import FormError
from panelshift.form.claims import refuse_claims
from panelshift.form.mesh import read_mesh
from panelshift.form.scan import measure_scan
from panelshift.form.section_file import MeasuredForm, read_section_file, section_file
from tests.form.bodies import mesh, saved, sections


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
    z = np.linspace(-60.0, 60.0, 12001)
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
    path.write_bytes(section_file(form).replace(b'"traced"', b'"a photo"'))
    with pytest.raises(FormError, match="made from 'a photo', not from one of scan, traced"):
        read_section_file(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(FormError, match="no such file"):
        measure_scan(tmp_path / "none.stl")

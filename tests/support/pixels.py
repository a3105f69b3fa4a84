"""PDF pages as pixels, by two renderers that know nothing of each other, and what they show."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np
import pikepdf
import pypdfium2
import pytest

from panelshift.outline import Curve, FloatArray

MM_PER_POINT: Final = 25.4 / 72.0

Render = Callable[..., list[FloatArray]]
"""(pdf, pixels per mm, first page, last page) to ink from 0 to 1, shape (rows, columns)."""


def pdfium(data: bytes, per_mm: float, first: int = 1, last: int | None = None) -> list[FloatArray]:
    """Ink of the pages from first to last, counted from 1."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [
            _pdfium_page(document[place], per_mm)
            for place in range(first - 1, last if last is not None else len(document))
        ]
    finally:
        document.close()


def _pdfium_page(page: pypdfium2.PdfPage, per_mm: float) -> FloatArray:
    sides = page.get_size()
    pixels = [round(side * MM_PER_POINT * per_mm, 3) for side in sides]
    # The renderer rounds the size up and stretches the page to it; a hair less than whole
    # pixels keeps it from adding one.
    scale = min(np.ceil(p - 0.01) / side for p, side in zip(pixels, sides, strict=True))
    bitmap = page.render(scale=float(scale) * (1.0 - 1e-7), grayscale=True)
    return 1.0 - np.asarray(bitmap.to_numpy(), dtype=np.float64).squeeze() / 255.0


def poppler(
    data: bytes, per_mm: float, first: int = 1, last: int | None = None
) -> list[FloatArray]:
    """Ink of the pages from first to last, counted from 1."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler-utils) is not installed")
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder, "a.pdf")
        source.write_bytes(data)
        command = ["pdftoppm", "-gray", "-r", f"{per_mm * 25.4:.6f}", "-f", str(first)]
        if last is not None:
            command += ["-l", str(last)]
        subprocess.run([*command, str(source), str(Path(folder, "p"))], check=True)
        return [_gray_map(path.read_bytes()) for path in sorted(Path(folder).glob("p-*.pgm"))]


def _gray_map(data: bytes) -> FloatArray:
    """A binary portable gray map of 8 bits."""
    _, size, _, rest = data.split(b"\n", 3)
    columns, rows = (int(word) for word in size.split())
    return 1.0 - np.frombuffer(rest, np.uint8).reshape(rows, columns) / 255.0


RENDERERS: Final = [
    pytest.param(pdfium, id="pdfium"),
    pytest.param(poppler, id="poppler", marks=pytest.mark.slow),
]
"""The second is another opinion of the same, for CI."""


def only(data: bytes, *titles: str) -> bytes:
    """The document with all layers switched off but those named."""
    return _switched(data, lambda title: title in titles)


def without(data: bytes, *titles: str) -> bytes:
    """The document with the layers named switched off."""
    return _switched(data, lambda title: title not in titles)


def _switched(data: bytes, keep: Callable[[str], bool]) -> bytes:
    with pikepdf.open(BytesIO(data)) as pdf:
        groups = list(pdf.Root.OCProperties.OCGs)
        default = pdf.Root.OCProperties.D
        default.ON = pikepdf.Array([g for g in groups if keep(str(g.Name))])
        default.OFF = pikepdf.Array([g for g in groups if not keep(str(g.Name))])
        stream = BytesIO()
        pdf.save(stream)
    return stream.getvalue()


def layer_titles(data: bytes) -> list[str]:
    with pikepdf.open(BytesIO(data)) as pdf:
        return [str(group.Name) for group in pdf.Root.OCProperties.OCGs]


def line_offsets(
    ink: FloatArray, per_mm: float, points: FloatArray, normals: FloatArray, reach: float = 1.0
) -> FloatArray:
    """How far a drawn line lies from expected points, along their normals, in mm.

    NaN where there is no ink (the space of a dashed line).

    Parameters
    ----------
    ink : ndarray
        A page.
    per_mm : float
        Pixels per mm.
    points, normals : ndarray, shape (m, 2)
        In page mm from the top left, y downwards.
    reach : float
        How far to look on either side, in mm.
    """
    steps = np.arange(-reach, reach + 1e-9, 0.25 / per_mm)
    at = points[:, None, :] + steps[None, :, None] * normals[:, None, :]
    # The value of a pixel stands at its middle.
    x, y = at[..., 0] * per_mm - 0.5, at[..., 1] * per_mm - 0.5
    weight = _sample(ink, x, y)
    total = weight.sum(axis=1)
    found = np.full(len(points), np.nan)
    enough = total > 0.25 * total.max()
    found[enough] = (weight[enough] @ steps) / total[enough]
    return found


def _sample(ink: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    column = np.clip(np.floor(x).astype(int), 0, ink.shape[1] - 2)
    row = np.clip(np.floor(y).astype(int), 0, ink.shape[0] - 2)
    fx, fy = x - column, y - row
    top = ink[row, column] * (1.0 - fx) + ink[row, column + 1] * fx
    bottom = ink[row + 1, column] * (1.0 - fx) + ink[row + 1, column + 1] * fx
    return top * (1.0 - fy) + bottom * fy


def curve_points(curve: Curve, per_segment: int = 5) -> tuple[FloatArray, FloatArray]:
    """Points inside a curve's segments and unit normals there, shape (m, 2) each."""
    inside = (np.arange(per_segment) + 0.5) / per_segment
    s = (np.arange(len(curve))[:, None] + inside[None]).ravel()
    tangent = curve.derivatives(s)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    return curve.points(s), np.column_stack([-tangent[:, 1], tangent[:, 0]])


def ink_box(
    ink: FloatArray, per_mm: float, low: Sequence[float], high: Sequence[float]
) -> tuple[float, float, float, float]:
    """Left, top, right and bottom in mm of the ink inside a window given in mm."""
    x0, y0 = (round(v * per_mm) for v in low)
    x1, y1 = (round(v * per_mm) for v in high)
    part = ink[y0:y1, x0:x1] > 0.5
    rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
    assert len(rows), "no ink there"
    return (
        low[0] + columns[0] / per_mm,
        low[1] + rows[0] / per_mm,
        low[0] + (columns[-1] + 1) / per_mm,
        low[1] + (rows[-1] + 1) / per_mm,
    )

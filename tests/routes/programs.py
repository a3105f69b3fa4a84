"""Ways that a drawing takes through other people's programs, from an SVG to an SVG.

All come from Debian's packages: inkscape, librsvg2-bin, pdf2svg, poppler-utils, mupdf-tools,
libreoffice-draw. They are needed to remake the cases only.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_SECONDS: Final = 120.0


@dataclass(frozen=True)
class Route:
    """One way, with the packages it needs.

    Parameters
    ----------
    name : str
    about : str
    run : callable
        Takes the drawing and an empty folder; returns the drawing that came out.
    """

    name: str
    about: str
    run: Callable[[Path, Path], Path]


def _call(*command: str | Path) -> None:
    program = str(command[0])
    if shutil.which(program) is None:
        raise SystemExit(f"{program} is not installed; the head of programs.py names the packages")
    subprocess.run(
        [str(part) for part in command],
        check=True,
        timeout=_SECONDS,
        capture_output=True,
    )


def _plain(drawing: Path, folder: Path) -> Path:
    out = folder / "out.svg"
    _call("inkscape", drawing, "--export-plain-svg", "-o", out)
    return out


def _office(drawing: Path, folder: Path) -> Path:
    _call("soffice", "--headless", "--convert-to", "svg", "--outdir", folder, drawing)
    return folder / drawing.name


def _inkscape_pdf(drawing: Path, folder: Path) -> Path:
    out = folder / "out.pdf"
    _call("inkscape", drawing, "--export-type=pdf", "-o", out)
    return out


def _rsvg_pdf(drawing: Path, folder: Path) -> Path:
    out = folder / "out.pdf"
    _call("rsvg-convert", "-f", "pdf", "-o", out, drawing)
    return out


def _office_pdf(drawing: Path, folder: Path) -> Path:
    _call("soffice", "--headless", "--convert-to", "pdf", "--outdir", folder, drawing)
    return folder / f"{drawing.stem}.pdf"


def _poppler(pdf: Path, folder: Path) -> Path:
    out = folder / "out.svg"
    _call("pdftocairo", "-svg", pdf, out)
    return out


def _pdf2svg(pdf: Path, folder: Path) -> Path:
    out = folder / "out.svg"
    _call("pdf2svg", pdf, out)
    return out


def _mutool(pdf: Path, folder: Path) -> Path:
    _call("mutool", "draw", "-q", "-F", "svg", "-o", folder / "out.svg", pdf)
    return folder / "out1.svg"


def _imported(pdf: Path, folder: Path) -> Path:
    return _plain(pdf, folder)


def _imported_with_poppler(pdf: Path, folder: Path) -> Path:
    out = folder / "out.svg"
    _call("inkscape", "--pdf-poppler", pdf, "--export-plain-svg", "-o", out)
    return out


def _through(
    first: Callable[[Path, Path], Path], second: Callable[[Path, Path], Path]
) -> Callable[[Path, Path], Path]:
    def run(drawing: Path, folder: Path) -> Path:
        return second(first(drawing, folder), folder)

    return run


ROUTES: Final = (
    Route("plain-svg", "plain SVG of a drawing program", _plain),
    Route("office", "SVG of an office drawing program", _office),
    Route("pdf-opened", "PDF opened in a drawing program", _through(_inkscape_pdf, _imported)),
    Route(
        "pdf-poppler",
        "PDF opened in a drawing program, with Poppler",
        _through(_inkscape_pdf, _imported_with_poppler),
    ),
    Route("pdftocairo", "PDF through pdftocairo", _through(_inkscape_pdf, _poppler)),
    Route("pdf2svg", "PDF through pdf2svg", _through(_rsvg_pdf, _pdf2svg)),
    Route("mutool", "PDF through mutool", _through(_rsvg_pdf, _mutool)),
    Route(
        "office-pdf", "PDF of an office program through pdftocairo", _through(_office_pdf, _poppler)
    ),
)

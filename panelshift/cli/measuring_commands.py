"""Commands that measure: cloth by a pinned swatch, a body by a scan or traced curves."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import SwatchError
from .answering import (
    STANDARD,
    AnsweringCommand,
    InPath,
    OutPath,
    Reply,
    SaidThing,
    called,
    input_bytes,
    read_job_at,
    write_or_pipe,
)
from .common import check_directory, length, out_option, write

if TYPE_CHECKING:
    from ..swatch import Reading
    from ..swatch.strip_kinds import StripKind


@click.command(cls=AnsweringCommand)
@click.option("--inner", default="", help="Name of the layer that lay towards the former.")
@click.option("--outer", default="", help="Name of the layer that lay outside.")
@click.option(
    "--reading",
    "given",
    multiple=True,
    metavar="FORMER,LENGTH,OVERHANG",
    help="One reading, such as 80,200,6.5 (mm) or 3in,8in,0.25in; give it once for each swatch.",
)
@click.option("--csv", "file", type=InPath(), help="Readings from a file instead.")
@click.option("--job", type=InPath(), help="Job file to compare with.")
@click.option("--inner-thickness", help="Of the inner cloth, where there is no job file.")
@click.option(
    "--outer-thickness",
    help="Of the outer cloth, where there is no job file and nothing lies between the two: the "
    "readings are then held against both.",
)
@click.option("--under", help="Thickness of what lay between former and inner cloth.")
@click.option(
    "--u-overhang",
    help="Standard uncertainty of an overhang; found from the readings, or that of a ruler "
    "(0.5 mm) for fewer than three, if not given.",
)
@click.option("--u-former", help="Standard uncertainty of the diameters.")
@click.option(
    "--u-length", help="Standard uncertainty of a strip as it was cut; 0.3 mm if not given."
)
@click.option(
    "--sheet", type=OutPath(), help="Write strips to print and cut, as OUT.svg or OUT.pdf."
)
@click.option(
    "--strips",
    type=click.Choice(["flat", "bones", "pieces"]),
    help="Which sheet: two layers (flat, if not given), the same with bones between, or test "
    "pieces and seam strips.",
)
@click.option("--overwrite", is_flag=True, help="Replace a sheet that panelshift did not write.")
@click.option("--formers", help="Diameters for the sheet, such as 60,80,100.")
def swatch(
    inner: str,
    outer: str,
    given: tuple[str, ...],
    file: Path | None,
    job: Path | None,
    inner_thickness: str | None,
    outer_thickness: str | None,
    sheet: Path | None,
    strips: StripKind | None,
    formers: str | None,
    overwrite: bool,
    **others: str | None,
) -> Reply:
    """Measure cloth: swatches pinned round a former, with bones or without, and test pieces.

    Prints the strips for it (--sheet), and fits what was read on them. A file of readings (--csv)
    is of one kind, told by its headings: flat swatches (the distance between two layers), swatches
    with bones (how high they stand), or pieces before and after (take-up, give, fold).
    """
    printed: list[Path] = []
    piped = None
    if sheet is not None:
        printed, piped = _swatch_sheet(sheet, strips or "flat", formers, overwrite)
        if not (given or file):
            return Reply(
                lambda: _sheet_words(sheet),
                lambda: {"fits": [], "job_lines": []},
                printed,
                piped=piped,
            )
    elif formers is not None or strips is not None:
        named = "--formers" if formers is not None else "--strips"
        raise SwatchError(f"{named} is for the sheet", remedy="Add --sheet OUT.pdf.")
    from ..job.swatch_files import fit_by_hand, fit_with_job
    from .reports import paragraphs
    from .reports.measurements import swatch_text
    from .reports.plain import swatch_data

    readings = _swatch_readings(inner, outer, given, file, others)
    source = "" if file is None else called(file)
    if job is not None and inner_thickness is not None:
        raise SwatchError(
            "the thickness of the inner cloth is needed, once",
            remedy="Give either --job with the job file, or --inner-thickness.",
        )
    if job is not None:
        found = fit_with_job(readings, read_job_at(job), of_job=called(job), source=source)
    else:
        found = fit_by_hand(
            readings,
            None if inner_thickness is None else length(inner_thickness, "--inner-thickness"),
            None if outer_thickness is None else length(outer_thickness, "--outer-thickness"),
            source=source,
        )
    return Reply(
        lambda: paragraphs(
            "" if sheet is None else _sheet_words(sheet), swatch_text(found, csv=source)
        ),
        lambda: swatch_data(found),
        printed,
        [SaidThing(words, "swatch") for words in found.warnings],
        piped=piped,
    )


def _swatch_readings(
    inner: str, outer: str, given: tuple[str, ...], file: Path | None, others: dict[str, str | None]
) -> tuple[Reading, ...]:
    from ..files.contents import decoded
    from ..swatch import read_csv
    from ..swatch.pinned import parse_reading
    from ..swatch.recorded import parse_csv

    stated = {
        key: length(text, f"--{key.replace('_', '-')}")
        for key, text in others.items()
        if text is not None
    }
    if file is not None:
        if given or stated:
            named = ["reading"] * bool(given) + [key.replace("_", "-") for key in stated]
            raise SwatchError(
                f"--csv and --{named[0]} do not go together",
                remedy="The file has a line for each reading and columns for what else is known.",
                source=str(file),
            )
        if file == STANDARD:
            text = decoded(input_bytes(), SwatchError, source=called(file))
            return parse_csv(text, source=called(file), inner=inner, outer=outer)
        return read_csv(file, inner=inner, outer=outer)
    if not given:
        raise SwatchError(
            "no readings",
            remedy="Give --reading FORMER,LENGTH,OVERHANG, or --csv FILE; --sheet OUT.pdf writes "
            "the strips to read them on.",
        )
    if not (inner and outer):
        raise SwatchError(
            "the layers of the swatch are not named", remedy="Give --inner and --outer."
        )
    return tuple(
        parse_reading(text, inner, outer, origin=f"reading {number}", **stated)
        for number, text in enumerate(given, start=1)
    )


def _swatch_sheet(
    path: Path, kind: StripKind, formers: str | None, overwrite: bool
) -> tuple[list[Path], bytes | None]:
    from ..swatch.strip_kinds import sheet_bytes
    from ..swatch.strips import DEFAULT_FORMERS_MM
    from ..units import several

    diameters = (
        ((80.0,) if kind == "bones" else DEFAULT_FORMERS_MM)
        if formers is None
        else tuple(length(part, "--formers") for part in several(formers))
    )
    suffix = ".pdf" if path == STANDARD else path.suffix.lower()
    return write_or_pipe({path: sheet_bytes(diameters, suffix, kind)}, overwrite=overwrite)


def _sheet_words(path: Path) -> str:
    return f"written: {path}\nPrint at 100 % (no fit to page) and measure the test square."


@click.command(cls=AnsweringCommand)
@click.argument("scan", type=click.Path(path_type=Path))
@out_option("the section file and its picture")
@click.option(
    "--units", default="", help="Unit of the mesh: mm, cm, dm, in or m; found from its size."
)
@click.option("--up", default="", help="Upright direction in the mesh: z, -y ...; found.")
@click.option("--front", default="", help="Where it looks in the mesh: y, -x ...; found.")
@click.option("--waist", help="Height of the waist above the lowest point; found if not given.")
@click.option(
    "--show-in",
    type=click.Choice(["mm", "cm", "in"]),
    default="mm",
    show_default=True,
    help="Unit of the report.",
)
def form(
    scan: Path,
    out: Path,
    overwrite: bool,
    units: str,
    up: str,
    front: str,
    waist: str | None,
    show_in: str,
) -> Reply:
    """Measure a body or dress form from SCAN and write the section file that jobs use.

    SCAN is a mesh (.stl, .obj, .ply, .glb) or an SVG of curves traced at several levels.
    """
    from ..errors import FormError
    from ..form.picture import form_picture
    from ..form.section_file import section_file
    from .reports.measurements import form_text
    from .reports.plain import form_data

    check_directory(out)
    if scan.suffix.lower() in (".svg", ".svgz"):
        from ..form.traced import measure_traced

        if units or up or front or waist:
            raise FormError(
                "--units, --up, --front and --waist are for meshes",
                remedy="In a drawing the marks and names say it.",
                source=str(scan),
            )
        found = measure_traced(scan)
    else:
        from ..form.scan import measure_scan

        height = None if waist is None else length(waist, "--waist")
        found = measure_scan(scan, units=units, up=up, front=front, waist=height)
    files = {
        out / "sections.json": section_file(found),
        out / "sections.svg": form_picture(found, show_in),
    }
    write(files, overwrite=overwrite, inputs=[scan])
    return Reply(
        lambda: form_text(found, list(map(str, files)), show_in),
        lambda: form_data(found),
        list(files),
    )

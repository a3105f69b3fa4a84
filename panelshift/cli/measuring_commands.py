"""Commands that measure: cloth by a pinned swatch, a body by a scan or traced curves."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..errors import SwatchError
from .common import check_directory, length, out_option, say, write

if TYPE_CHECKING:
    from ..swatch import Reading
    from ..swatch.strip_kinds import StripKind


@click.command()
@click.option("--inner", default="", help="Name of the layer that lay towards the former.")
@click.option("--outer", default="", help="Name of the layer that lay outside.")
@click.option(
    "--reading",
    "given",
    multiple=True,
    metavar="FORMER,LENGTH,OVERHANG",
    help="One reading, such as 80,200,6.5 (mm) or 3in,8in,0.25in; give it once for each swatch.",
)
@click.option(
    "--csv", "file", type=click.Path(path_type=Path), help="Readings from a file instead."
)
@click.option("--job", type=click.Path(path_type=Path), help="Job file to compare with.")
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
@click.option("--json", "as_json", is_flag=True, help="Print plain data, lengths in mm.")
@click.option(
    "--sheet",
    type=click.Path(path_type=Path),
    help="Write strips to print and cut, as OUT.svg or OUT.pdf.",
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
    as_json: bool,
    sheet: Path | None,
    strips: StripKind | None,
    formers: str | None,
    overwrite: bool,
    **others: str | None,
) -> None:
    """Measure cloth: swatches pinned round a former, with bones or without, and test pieces.

    Prints the strips for it (--sheet), and fits what was read on them. A file of readings (--csv)
    is of one kind, told by its headings: flat swatches (the distance between two layers), swatches
    with bones (how high they stand), or pieces before and after (take-up, give, fold).
    """
    if sheet is not None:
        _swatch_sheet(sheet, strips or "flat", formers, overwrite)
        if not (given or file):
            return
    elif formers is not None or strips is not None:
        named = "--formers" if formers is not None else "--strips"
        raise SwatchError(f"{named} is for the sheet", remedy="Add --sheet OUT.pdf.")
    from ..job.swatch_files import fit_by_hand, fit_with_job
    from ..job.toml import read_job
    from .reports.measurements import swatch_data, swatch_text

    readings = _swatch_readings(inner, outer, given, file, others)
    source = str(file or "")
    if job is not None and inner_thickness is not None:
        raise SwatchError(
            "the thickness of the inner cloth is needed, once",
            remedy="Give either --job with the job file, or --inner-thickness.",
        )
    if job is not None:
        found = fit_with_job(readings, read_job(job), of_job=str(job), source=source)
    else:
        found = fit_by_hand(
            readings,
            None if inner_thickness is None else length(inner_thickness, "--inner-thickness"),
            None if outer_thickness is None else length(outer_thickness, "--outer-thickness"),
            source=source,
        )
    if as_json:
        click.echo(json.dumps(swatch_data(found), indent=2, ensure_ascii=False))
    else:
        say(swatch_text(found, csv=source))


def _swatch_readings(
    inner: str, outer: str, given: tuple[str, ...], file: Path | None, others: dict[str, str | None]
) -> tuple[Reading, ...]:
    from ..swatch import read_csv
    from ..swatch.pinned import parse_reading

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


def _swatch_sheet(path: Path, kind: StripKind, formers: str | None, overwrite: bool) -> None:
    from ..swatch.strip_kinds import sheet_bytes
    from ..swatch.strips import DEFAULT_FORMERS_MM
    from ..units import several

    diameters = (
        ((80.0,) if kind == "bones" else DEFAULT_FORMERS_MM)
        if formers is None
        else tuple(length(part, "--formers") for part in several(formers))
    )
    write({path: sheet_bytes(diameters, path.suffix.lower(), kind)}, overwrite=overwrite)
    say(f"written: {path}\nPrint at 100 % (no fit to page) and measure the test square.")


@click.command()
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
) -> None:
    """Measure a body or dress form from SCAN and write the section file that jobs use.

    SCAN is a mesh (.stl, .obj, .ply, .glb) or an SVG of curves traced at several levels.
    """
    from ..errors import FormError
    from ..form.picture import form_picture
    from ..form.section_file import section_file
    from .reports.measurements import form_text

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
    say(form_text(found, [str(path) for path in files], show_in))

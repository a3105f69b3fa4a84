"""The command that measures a body: a scan, a dress form, or traced curves."""

from __future__ import annotations

from pathlib import Path

import click

from .common import check_directory, length, out_option, say, write


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
    from ..form.measured import section_file
    from ..form.picture import form_picture
    from .reports.form import form_text

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

"""Commands for drafts on paper: cards to lay beside them, and tracing of photos and scans."""

from __future__ import annotations

import math
from pathlib import Path

import click

from ..errors import PhotoError
from .answering import AnsweringCommand, Reply, SaidThing
from .common import NamedPath, check_directory, out_option, progress_bar, write


@click.command(cls=AnsweringCommand)
@out_option("the PDF")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="What the printer holds.",
)
def cards(out: Path, overwrite: bool, paper: str) -> Reply:
    """Print strips to lay round a draft on paper that is to be photographed.

    Nine strips on three pages, after a page that says what to do with them.
    """
    from ..printing import PAPERS
    from ..printing.card_prints import print_cards

    check_directory(out)
    path = out / f"cards_{paper}.pdf"
    write({path: print_cards(PAPERS[paper])}, overwrite=overwrite)
    return Reply(
        lambda: f"wrote {path}\nPrint it at 100 %, and do what its first page says.",
        lambda: {"paper": paper},
        [path],
    )


@click.command(cls=AnsweringCommand)
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--length",
    "given",
    multiple=True,
    metavar="'A to D 612.5 mm'",
    help="Measured from the cross of one strip to that of another, 350 mm or more; may be given "
    "more than once.",
)
@click.option(
    "--scale-to-length",
    is_flag=True,
    help="Scale all to the measured length, if the strips were not printed in true size.",
)
@click.option(
    "--scan", is_flag=True, help="These are scans of a flatbed scanner, not photos; one will do."
)
@click.option(
    "--strike",
    "struck",
    type=(float, float),
    multiple=True,
    metavar="X Y",
    help="Place of a line that does not count, in mm from the left and the top of the picture; "
    "may be given more than once.",
)
@click.option(
    "--waist",
    "waists",
    multiple=True,
    metavar="'X Y [X Y]'",
    help="Waistline of a panel: a place on the line drawn across it, or both its ends; may be "
    "given more than once.",
)
@click.option(
    "--gore",
    "gores",
    type=(float, float),
    multiple=True,
    metavar="X Y",
    help="Place in a piece that ends short of the waist; may be given more than once.",
)
@click.option("--out", type=NamedPath(), required=True, help="SVG file for the drawing.")
@click.option("--overwrite", is_flag=True, help="Replace files that panelshift did not write.")
def trace(
    photos: tuple[Path, ...],
    given: tuple[str, ...],
    scale_to_length: bool,
    scan: bool,
    struck: tuple[tuple[float, float], ...],
    waists: tuple[str, ...],
    gores: tuple[tuple[float, float], ...],
    out: Path,
    overwrite: bool,
) -> Reply:
    """Trace a draft on paper from PHOTOS that show it with strips round it.

    Writes the drawing as SVG in true size, and a picture of the tracing over the paper, to be
    looked at before the drawing is used. The strips are printed by panelshift cards.
    """
    from ..sources.paper.doubts import parse_measured
    from ..sources.paper.photos import SEEN, see_paper
    from ..sources.paper.spots import Pointed
    from ..sources.paper.tracing import trace_paper
    from ..sources.svg import drawing_svg
    from .reports.drafts import traced_text, untraced_text
    from .reports.plain import traced_data

    lengths = [parse_measured(text) for text in given]
    pointed = Pointed(struck, (), tuple(_places(text) for text in waists), gores)
    with progress_bar("Tracing", 1000) as bar:
        seen = see_paper(
            photos,
            lengths,
            scaled=scale_to_length,
            scans=scan,
            advance=lambda part: bar.update(round(1000.0 * part)),
        )
        tracing = trace_paper(seen.rectified, pointed)
        bar.update(round(1000.0 * (1.0 - SEEN)))
    picture = out.with_name(f"{out.stem}-tracing.png")
    look_at = [SaidThing(spot.words) for spot in tracing.spots if not spot.remedy]
    mend = [SaidThing(f"{spot.words}: {spot.remedy}") for spot in tracing.faults]
    # It shows where what must be mended is.
    files = {picture: tracing.picture}
    if not mend:
        files = {out: drawing_svg(tracing.drawing)} | files
    write(files, overwrite=overwrite, inputs=photos)
    return Reply(
        lambda: (
            untraced_text(tracing, picture) if mend else traced_text(seen, tracing, out, picture)
        ),
        lambda: traced_data(seen, tracing),
        list(files),
        look_at,
        mend,
        error=tracing.refusal,
    )


def _places(text: str) -> tuple[tuple[float, float], ...]:
    """One place or two, of numbers between blanks or commas."""
    try:
        numbers = [float(word) for word in text.replace(",", " ").split()]
    except ValueError:
        numbers = []
    if len(numbers) not in (2, 4) or not all(map(math.isfinite, numbers)):
        raise PhotoError(
            f"{text!r:.60} is no place, nor two",
            remedy="Write mm from the left and from the top of the picture: --waist '120 210', or "
            "both ends: --waist '80 212 171 209'.",
            element="--waist",
        )
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))

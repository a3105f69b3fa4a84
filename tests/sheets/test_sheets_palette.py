"""One palette: what cannot import it repeats it, and no module has a colour of its own."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import panelshift
from panelshift.pattern import panel as picture
from panelshift.sheets import palette
from panelshift.sheets.palette import LAYER_STYLES, Style, between, layer_styles

ROOT: Final = Path(panelshift.__file__).parent
COLOUR: Final = re.compile(r"#[0-9a-f]{6}\b")
KNOWN: Final = frozenset(COLOUR.findall((ROOT / "sheets" / "palette.py").read_text("utf-8")))

OWN: Final = {
    # The page's own ground and controls, and threads in the classes' tints, are no lines.
    "#fdfcf7", "#e4e2d9", "#3d4642", "#7fa3bd", "#c39db8",
    # Cloths cut through, in the drawing of what each choice of size comes to.
    "#e9e4d2", "#8d8874", "#d8d2bb", "#1d5850",
}  # fmt: skip


def test_pictures_below_the_palette_repeat_it() -> None:
    assert tuple(style.colour for style in LAYER_STYLES) == picture._COLOURS
    assert (
        tuple(" ".join(f"{part:g}" for part in style.dash) for style in LAYER_STYLES)
        == picture._DASHES
    )


def test_drawings_of_the_page_have_the_palette_s_colours() -> None:
    css = (ROOT / "table" / "static" / "drawings.css").read_text("utf-8")
    found = set(COLOUR.findall(css))
    assert f"--line: {palette.INK}" in css
    assert f"--faint: {palette.FAINT}" in css
    assert f"--remark: {palette.REMARK}" in css
    for name, tint in palette.CLASS_TINTS.items():
        assert f".ground.of-{name} {{ fill: {tint}; }}" in css
    assert found - OWN <= KNOWN


def test_no_module_has_a_colour_of_its_own() -> None:
    """Those that cannot import the palette are compared above; what is read has its own colours."""
    reading = {"sources", "names.py"}
    drawing = [path for path in ROOT.rglob("*.py") if not reading & set(path.parts)]
    having = {path for path in drawing if COLOUR.search(path.read_text("utf-8"))}
    assert having == {ROOT / "sheets" / "palette.py", ROOT / "pattern" / "panel.py"}
    assert set(COLOUR.findall((ROOT / "pattern" / "panel.py").read_text("utf-8"))) <= KNOWN


def test_layers_are_told_apart_without_colour() -> None:
    dashes = [style.dash for style in LAYER_STYLES]
    assert len(set(dashes)) == len(dashes)
    # All as fine as each other, and finer than what is drawn of one layer.
    (width,) = {style.width for style in LAYER_STYLES}
    assert width < min(style.width for style in palette.STYLES.values())


def test_a_dash_is_marks_with_a_gap_after_each() -> None:
    around = (palette.PAGE_FRAME, palette.TRIM_EDGE, palette.GLUE_LINE, palette.BLANK_PAGE)
    sides = palette.SIDE_STYLES.values()
    for style in (*palette.STYLES.values(), *LAYER_STYLES, *sides, *around):
        assert len(style.dash) % 2 == 0
        assert all(part > 0.0 for part in style.dash)
    # A page that is not printed has less ink than gaps round it.
    assert sum(palette.BLANK_PAGE.dash[::2]) < sum(palette.BLANK_PAGE.dash[1::2])


def test_more_layers_than_styles_come_again_bolder() -> None:
    names = [str(k) for k in range(2 * len(LAYER_STYLES))]
    styles = list(layer_styles(names).values())
    first, again = styles[1], styles[1 + len(LAYER_STYLES)]
    assert again.width == 2.0 * first.width
    assert again.dash == tuple(1.6 * part for part in first.dash)
    assert len({(style.width, style.colour, style.dash) for style in styles}) == len(names)


def test_a_style_is_solid_unless_told() -> None:
    assert Style("a", 0.2, palette.BLACK).dash == ()


def test_a_colour_between_two_keeps_its_ends() -> None:
    assert between(palette.LITTLE_TURN, palette.MUCH_TURN, 0.0) == palette.LITTLE_TURN
    assert between(palette.LITTLE_TURN, palette.MUCH_TURN, 1.0) == palette.MUCH_TURN

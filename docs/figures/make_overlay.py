"""Remake overlay.svg, the picture in README: one panel in all layers, and its edges enlarged.

Run from the repository: python docs/figures/make_overlay.py
"""

from __future__ import annotations

from pathlib import Path

from panelshift.cutting.layer_sheets import cut_layers, styles_of
from panelshift.cutting.parts import upright
from panelshift.job import read_job, resolve
from panelshift.job.result import shift_job
from panelshift.outline import Curve
from panelshift.outline.pathtext import number, path_data
from panelshift.sheets.palette import Style

HERE = Path(__file__).parent
PANEL = "4 side"
WINDOW_MM, ENLARGED_MM = 12.0, 96.0
LEFT, TOP = 60.0, 16.0


def figure() -> str:
    """Draw it."""
    job = resolve(read_job(HERE.parents[1] / "sample_patterns" / "hourglass.toml"))
    shifted = shift_job(job)
    index = shifted.turn.pattern.index(PANEL)
    matrix = upright(shifted.turn.pattern.panels[index])
    layers = cut_layers(shifted)
    styles = styles_of(layers)
    outlines = {
        layer.fabric.name: layer.pattern.panels[index].outline.transformed(matrix)
        for layer in layers
    }
    drafted = shifted.turn.pattern.panels[index]
    waist = drafted.waist.curve.transformed(matrix)
    hip = next(lv for lv in drafted.levels if lv.name == "hip").curve.transformed(matrix)
    bounds = outlines[layers[-1].fabric.name].bounds()
    x0, y0 = LEFT - bounds[0, 0], TOP - bounds[0, 1]
    height = bounds[1, 1] - bounds[0, 1] + 2 * TOP + 8.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(2.2 * 340)}" '
        f'height="{number(2.2 * height)}" viewBox="0 0 340 {number(height)}" '
        'font-family="Helvetica, Arial, sans-serif" font-size="9.5">',
        "<title>One panel in four layers, its edges enlarged eight times</title>",
        '<rect width="100%" height="100%" fill="#ffffff"/>',
        f'<g id="panel" fill="none" transform="translate({number(x0)} {number(y0)})">',
        *(_path(outlines[name], style, style.width) for name, style in styles.items()),
        f'<path d="{path_data(waist)}" stroke="#999999" stroke-width="0.3"/>',
        "</g>",
    ]
    for place, (line, label) in enumerate(((waist, "waist"), (hip, "hip"))):
        at = line.end if line.end[0] > line.start[0] else line.start
        parts += _lens(
            (float(at[0] + x0), float(at[1] + y0)),
            (258.0, 78.0 + place * 130.0),
            f"{label}, x {ENLARGED_MM / WINDOW_MM:.0f}",
            styles,
            outlines,
            (x0, y0),
        )
    y = height - 8.0
    for place, (name, style) in enumerate(styles.items()):
        x = 20.0 + 78.0 * place
        dash = " ".join(number(d) for d in style.dash)
        parts.append(
            f'<path d="M{x},{number(y - 2)}h16" stroke="{style.colour}" stroke-width="0.8" '
            f'stroke-dasharray="{dash}"/><text x="{x + 19}" y="{number(y)}">{name}</text>'
        )
    parts.append("</svg>\n")
    return "\n".join(parts)


def _path(curve: Curve, style: Style, width: float) -> str:
    dash = f' stroke-dasharray="{" ".join(number(d) for d in style.dash)}"' if style.dash else ""
    return (
        f'<path d="{path_data(curve)}" stroke="{style.colour}" '
        f'stroke-width="{number(width)}"{dash}/>'
    )


def _lens(
    at: tuple[float, float],
    centre: tuple[float, float],
    label: str,
    styles: dict[str, Style],
    outlines: dict[str, Curve],
    offset: tuple[float, float],
) -> list[str]:
    """A round window of `WINDOW_MM` round a point, drawn `ENLARGED_MM` wide."""
    scale = ENLARGED_MM / WINDOW_MM
    (x, y), (cx, cy) = at, centre
    radius, name = 0.5 * ENLARGED_MM, label.split(",")[0]
    lines = [
        f'<clipPath id="{name}"><circle cx="{cx}" cy="{cy}" r="{radius}"/></clipPath>',
        f'<path d="M{number(x)},{number(y)}L{cx - radius},{cy}" stroke="#bbbbbb" '
        'stroke-width="0.4"/>',
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{0.5 * WINDOW_MM}" fill="none" '
        'stroke="#bbbbbb" stroke-width="0.4"/>',
        f'<g clip-path="url(#{name})" fill="none"><circle cx="{cx}" cy="{cy}" r="{radius}" '
        'fill="#fafafa"/>',
        f'<g transform="translate({cx} {cy}) scale({number(scale)}) '
        f'translate({number(offset[0] - x)} {number(offset[1] - y)})">',
    ]
    for layer, style in styles.items():
        thin = Style(layer, 0.13, style.colour, tuple(d / 4.0 for d in style.dash))
        lines.append(_path(outlines[layer], thin, thin.width))
    lines += [
        "</g></g>",
        f'<circle cx="{cx}" cy="{cy}" r="{radius}" fill="none" stroke="#888888" '
        'stroke-width="0.6"/>',
        f'<text x="{cx}" y="{cy + radius + 9}" text-anchor="middle">{label}</text>',
    ]
    return lines


if __name__ == "__main__":
    (HERE / "overlay.svg").write_text(figure(), encoding="utf-8", newline="\n")

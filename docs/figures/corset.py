"""The picture that heads the fit sheet: the hourglass sample on the body."""

from __future__ import annotations

from pathlib import Path

from lxml import etree

from panelshift.fit.corset_picture import corset_picture
from panelshift.job import read_job, resolve
from panelshift.job.result import shift_job
from panelshift.sheets.svg_writer import FONT_FAMILY

SAMPLE = Path(__file__).parents[2] / "sample_patterns" / "hourglass.toml"
WIDTH = 360


def figure() -> str:
    """Draw it."""
    job = resolve(read_job(SAMPLE))
    root = etree.fromstring(corset_picture(shift_job(job).turn, job.body, gap=job.gap))
    wide, high = map(float, root.get("viewBox").split()[2:])
    root.set("width", str(WIDTH))
    root.set("height", f"{WIDTH * high / wide:.0f}")
    root.set("font-family", FONT_FAMILY)
    root.insert(0, etree.Element("rect", {"width": "100%", "height": "100%", "fill": "#ffffff"}))
    return etree.tostring(root, encoding="unicode") + "\n"

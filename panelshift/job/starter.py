"""Write a starting job file for a pattern that has just been read."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from ..errors import JobError
from ..pattern.pattern import Pattern
from ..units import show
from .model import JobFile
from .resolved import panel_classes

UNMEASURED: Final = "measure me"
"""Stands for a thickness that the maker has yet to measure; no command takes it for a length."""

_HEAD = """\
# Job file of panelshift. Lengths are mm; text such as "0.5 in" may carry a unit.
# All keys are explained in docs/job-file.md.

[pattern]
file = {file}
units = "mm"              # how lengths are shown: mm, cm or in
# drafted_waist = {waist:<8} # all panels at the waist, without the lacing gap: say what you
                          # drafted to, and panelshift checks the drawing's scale
lacing_gap = 0            # opening left at centre back when laced
# net_outline = "inner"   # or "outer": the stitch line, where outlines lie round each other

[stack]
# drafted_layer = "strength layer"   # keeps the drafted size; the innermost if not given

# One table a layer, from the body outwards. Measure each cloth: stack ten pieces under a
# light weight, measure, divide by ten.

[[stack.fabric]]
name = "lining"
thickness = {unmeasured}

[[stack.fabric]]
name = "strength layer"
thickness = {unmeasured}

[[stack.fabric]]
name = "fashion fabric"
thickness = {unmeasured}

[allowance]               # for every fabric; a fabric may have its own
seam = 10
centre_front = 10
centre_back = 10
top = 10
bottom = 10

[body]
model = "classes"         # or "section" (an ellipse at each level), or "former"

# Panels from centre front to centre back, with the classes guessed from their places:
# front (flattest), side (roundest) or back.
"""


def starter_job(pattern: Pattern, file: Path) -> str:
    """Text of a job file with the panels that were found, for the maker to fill in.

    Parameters
    ----------
    pattern : Pattern
    file : Path
        The pattern's path as the job file should name it.

    Raises
    ------
    JobError
        If the path holds bytes that are no text, which TOML cannot hold.
    """
    try:
        str(file).encode()
    except UnicodeEncodeError:
        raise JobError(
            "the pattern's path is no text, so a job file cannot name it",
            remedy="Rename the file with ordinary letters.",
            source=ascii(str(file)),
        ) from None
    blank = JobFile.model_validate(
        {"pattern": {"file": str(file)}, "stack": {"fabric": [{"name": "x", "thickness": 0}]}}
    )
    classes, _ = panel_classes(blank, pattern)
    text = _HEAD.format(
        file=quoted(str(file)), waist=f"{pattern.waist:.1f}", unmeasured=quoted(UNMEASURED)
    )
    for panel, cls in zip(pattern.panels, classes, strict=True):
        text += (
            f"\n[panel.{quoted(panel.name)}]   # {show(panel.waist.width)} at the waist\n"
            f'class = "{cls}"\n'
        )
    return text


def quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

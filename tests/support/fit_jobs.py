"""Jobs for tests of the fit sheet: an ordinary one and one that strains the page."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from pathlib import Path

from .drawings import half, write_job

SCRIPT = "<script>alert(1)</script>"
IMAGE = '"><img src=x onerror=alert(2)>'
FORMULA = "=1+1"
LONG = "herringbone twill with a name that a mill might give it and hardly fits a column"
"""80 letters: as long as a name may be."""

UNSURE = """
[stack]
drafted_layer = "coutille"

[[stack.fabric]]
name = "lining"
thickness = 0.2
thickness_uncertainty = 0.02
cloth_widths = [900, 1400]

[[stack.fabric]]
name = "coutille"
thickness = 0.5
thickness_uncertainty = 0.03

[[stack.fabric]]
name = "bones"
thickness = 1.5
coverage = 0.2
thickness_uncertainty = 0.05

[[stack.fabric]]
name = "brocade"
thickness = 0.8
thickness_uncertainty = 0.05
"""

UNSURE_FIT = """
[fit]
busk = 12
seasoning = [0.01, 0.025]
former = 95
seam_tolerance = 0.4
"""


def unsure_job(folder: Path, rest: str = UNSURE_FIT, head: str = "lacing_gap = 40") -> Path:
    """Four panels a half, every thickness with its uncertainty."""
    body = "".join(d.panel() + d.line("bust", 80.0) + d.line("hip", -70.0) for d in half(4))
    return write_job(folder, body, head=head, stack=UNSURE, rest=rest)


def straining_job(folder: Path) -> Path:
    """Twelve panels, eight layers, eight levels, hostile and long names, a seam that fails, a
    level that one panel does not reach and one that few panels have."""
    drafts = half(12, gap=20.0)
    straight, seam = (0.0, 0.0), (3.0, 4.0)
    drafts = [
        replace(d, left=seam if k else straight, right=seam if k < 11 else straight)
        for k, d in enumerate(drafts)
    ]
    drafts[2] = replace(drafts[2], left=(20.0, seam[1]))
    drafts[5] = replace(drafts[5], above=70.0)
    levels = {"bust": 110.0, "line one": 95.0, "line two": 60.0, "underbust": 45.0, "rib": 25.0}
    levels |= {"high hip": -40.0, "hip": -70.0}
    body = ""
    for k, draft in enumerate(drafts):
        name = {0: SCRIPT, 1: IMAGE, 3: LONG, 4: FORMULA}.get(k, draft.name)
        shown = replace(draft, name=escape(name))
        body += shown.outline() + draft.line(over=0.5)
        body += "".join(
            draft.line(level, at, over=24.0)
            for level, at in levels.items()
            if at < draft.above and not (level == "line two" and k > 3)
        )
    names = ["lining", IMAGE, LONG, "interlining", "flannel", "organza", SCRIPT, FORMULA]
    stack = f'[stack]\ndrafted_layer = """{LONG}"""\n' + "".join(
        f"[[stack.fabric]]\nname = '''{name}'''\nthickness = {0.2 + 0.1 * k}\n"
        f"thickness_uncertainty = 0.03\n"
        for k, name in enumerate(names)
    )
    root = 'width="2000mm" height="600mm" viewBox="0 0 2000 600"'
    return write_job(
        folder,
        body,
        head=f"title = '''{SCRIPT}'''\nlacing_gap = 40",
        stack=stack,
        rest='[body]\nmodel = "section"\nratio = { waist = 1.3, "+90" = 1.5 }\n'
        "[fit]\nseasoning = [0.01, 0.03]\nneeds = false\n",
        root=root,
    )

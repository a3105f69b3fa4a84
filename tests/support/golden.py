"""A small job, and files of it that were looked over by eye.

SVG files are compared as normalised XML: what is drawn counts, not how it is laid out in bytes.
When files are meant to change, look at the new ones and then refresh the golden ones: run their
tests with PANELSHIFT_REFRESH_GOLDEN=1.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Final

from lxml import etree

from .drawings import STACK, group, half, panels, path, text, write_job

GOLDEN: Final = Path(__file__).parents[1] / "golden"
REFRESH: Final = os.environ.get("PANELSHIFT_REFRESH_GOLDEN") == "1"

LAST_DIGIT_MM = 0.0011
"""Coordinates are written to 0.001 mm; another platform may round the last digit otherwise."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def golden_job(folder: Path) -> Path:
    """Two panels with a level line, a bone, a notch and a text, in three layers."""
    first, second = half(2)
    body = panels([first, second]) + path("M0 260H300", "hip") + text("ease", 70, 230, "t1")
    body += group(path(f"M{second.x + 8} 100V280", "b1"), "bones")
    body += path(f"M{first.x + first.waist + 1} 150h6", "notch")
    return write_job(
        folder,
        body,
        head='title = "Golden"\nlacing_gap = 40',
        stack='[stack]\ndrafted_layer = "coutille"\n' + STACK,
        rest='[allowance]\nseam = 10\ncentre_back = 20\ntop = 6\n[panel."panel 1"]\n'
        'fold = "front"\n[fit]\nneeds = false\n',
    )


def equipped_job(folder: Path) -> Path:
    """Three such panels with all that may be cut beside them, and all else of cutting."""
    first, second, third = half(3)
    body = panels([first, second, third]) + path(f"M{second.x + 8} 100V280", "bone 1")
    body += path(f"M{second.x + 20} 110V280H{second.x + 26}V110Z", "channel 2")
    return write_job(
        folder,
        body,
        head='title = "Equipped"\nlacing_gap = 40\ngap_at = { "+100" = 50 }',
        stack=STACK.replace('name = "coutille"', 'name = "coutille"\nallowance = { bottom = 12 }')
        .replace(
            'name = "brocade"',
            'name = "brocade"\nnap = true\ncut_in_one = [["panel 2", "panel 3"]]',
        )
        .replace("[[", '[stack]\ndrafted_layer = "coutille"\n[[', 1),
        rest="[allowance]\nseam = 12\ncentre_back = 20\ntop = 8\n"
        '[panel."panel 1"]\ncut = 4\n'
        '[sheet]\ncorners = "mirrored"\nnotches = "edge"\nmates = "numbered"\n'
        'revision = "second"\nclient = "A. Muster"\nwidth = 700\naccuracy = 0.1\n'
        "[fit]\nneeds = false\n"
        "[extras]\nbinding = 8\nwaist_tape = 20\ncasing = 15\nfront_facing = 25\n"
        "back_facing = 20\ntop_facing = 18\nbottom_facing = 16\nmodesty = 120\n"
        'eyelet_spacing = 30\neyelet_inset = 10\nbones = "flat steel"\n'
        "bone_lengths = [150, 160, 175]\n"
        '[extras.fabric]\nmodesty = "lining"\n',
    )


def changes(name: str, found: str) -> list[str]:
    """Where a page differs from the golden one of that name, beyond the last digit."""
    golden = GOLDEN / "pages" / name
    pieces = found.replace("<", "\n<").replace(">", ">\n").splitlines()
    lines = [line for line in (" ".join(piece.split()) for piece in pieces) if line]
    if REFRESH:
        golden.parent.mkdir(exist_ok=True)
        golden.write_text("\n".join(lines) + "\n", encoding="utf-8")
    looked_over = golden.read_text(encoding="utf-8").splitlines()
    if len(lines) != len(looked_over):
        return [f"{len(lines)} lines, not {len(looked_over)}"]
    pairs = zip(lines, looked_over, strict=True)
    return [f"{x!r} is not {y!r}" for x, y in pairs if not _alike(x, y)]


def differences(found: bytes, golden: bytes) -> list[str]:
    """Where two SVG files differ, beyond white space, attribute order and the last digit."""
    a, b = _lines(found), _lines(golden)
    if len(a) != len(b):
        return [f"{len(a)} elements, not {len(b)}"]
    return [f"{x!r} is not {y!r}" for x, y in zip(a, b, strict=True) if not _alike(x, y)]


def _lines(data: bytes) -> list[str]:
    """One line for each element: its depth, name, attributes in order and text."""
    root = etree.fromstring(data)
    lines = []
    for element in root.iter():
        depth = sum(1 for _ in element.iterancestors())
        attributes = " ".join(f"{key}={value}" for key, value in sorted(element.attrib.items()))
        words = " ".join((element.text or "").split())
        tail = " ".join((element.tail or "").split())
        lines.append(f"{depth} {element.tag} {attributes} | {words} | {tail}")
    return lines


def _alike(a: str, b: str) -> bool:
    if _NUMBER.split(a) != _NUMBER.split(b):
        return False
    pairs = zip(_NUMBER.findall(a), _NUMBER.findall(b), strict=True)
    return all(abs(float(x) - float(y)) <= LAST_DIGIT_MM for x, y in pairs)

"""Ask a real browser and a second renderer about every case, and record what they say.

    python -m venv /tmp/oracle && /tmp/oracle/bin/pip install playwright==1.65.2 \\
        resvg_py==0.5.0 numpy pillow
    /tmp/oracle/bin/python -m tests.browser_oracle.remake_answers [CASE ...]

Chromium must be installed (``--browser`` names its program); nothing is downloaded and no
page is opened but the cases themselves, from a temporary folder. With names of cases only
those are asked again. The answers go to ``answers.json`` and ``second_answers.json``.

How the browser is asked: every case is opened as a document of its own. Over the developer
protocol all drawn elements are found, those inside the shadow trees of ``use`` among them,
which no page script can reach; each one is asked for getTotalLength, getScreenCTM and
getPointAtLength at even steps. Points are mapped by that matrix from user units to px of the
page and by 25.4/96 to mm.

Inside a ``use`` this browser's getScreenCTM leaves out the copy's x and y and a symbol's
viewBox, though it draws by them. So three specks are put beside every element and the page is
asked where it draws them: inside a ``use`` they give the matrix, elsewhere they must confirm
getScreenCTM (where they do not, the answer has a member ``specks``).

How the second renderer is asked: it gives no boxes, so each case is drawn, filled with black
and without strokes, at `INK_PER_MM` pixels to the mm or less, and the box of the ink is
measured, to a pixel.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

from tests.support.chromium import QUIET

from .cases import CASES, Case

HERE: Final = Path(__file__).resolve().parent
ANSWERS: Final = HERE / "answers.json"
SECOND_ANSWERS: Final = HERE / "second_answers.json"

STEPS: Final = 24
"""Points are asked for at both ends and at 23 places between."""

_SPECK_MM: Final = 0.005
"""Specks are placed to single precision and snapped to nothing: they tell this much."""

INK_PER_MM: Final = 100.0
_LARGEST_INK_PX: Final = 6000

BROWSER_OPTIONS: Final = (*QUIET, "--force-device-scale-factor=1")

# What is never drawn is told by its ancestors, and only a symbol right inside a use is drawn.
# The first point is asked for a little way along: at 0 the browser gives the first moveto, even
# one that draws nothing.
_ASK: Final = """
function (steps) {
  const unseen = ['defs', 'clipPath', 'mask', 'pattern', 'marker', 'linearGradient',
                  'radialGradient', 'filter'];
  const ns = 'http://www.w3.org/2000/svg';
  let path = this.id, node = this;
  if (!this.checkVisibility() || getComputedStyle(this).visibility !== 'visible') return null;
  for (;;) {
    const parent = node.parentNode;
    if (parent instanceof ShadowRoot) {
      node = parent.host;
      path = node.id + '/' + path;
      continue;
    }
    if (getComputedStyle(node).display === 'none') return null;
    if (parent === null || parent === document) break;
    if (unseen.includes(parent.localName) || parent.namespaceURI !== ns) return null;
    if (parent.localName === 'symbol' && !(parent.parentNode instanceof ShadowRoot)) return null;
    node = parent;
  }
  let length = 0;
  try { length = this.getTotalLength(); } catch (error) { return null; }
  if (length === 0) return null;
  const points = [];
  for (let k = 0; k <= steps; k++) {
    const p = this.getPointAtLength(length * (k === 0 ? 1e-6 : k / steps));
    points.push([p.x, p.y]);
  }
  // A speck of 1/1000 unit in the element's place shows where the page really draws a point.
  const place = (x, y) => {
    const speck = document.createElementNS(ns, 'path');
    for (const name of ['transform', 'style', 'class', 'transform-origin'])
      if (this.hasAttribute(name)) speck.setAttribute(name, this.getAttribute(name));
    speck.style.d = `path("M${x} ${y}h.001v.001z")`;
    speck.style.stroke = 'none';
    this.after(speck);
    const box = speck.getBoundingClientRect();
    speck.remove();
    return [(box.left + box.right) / 2 + scrollX, (box.top + box.bottom) / 2 + scrollY];
  };
  const [o, u, v] = [place(0, 0), place(1000, 0), place(0, 1000)];
  const probed = [(u[0] - o[0]) / 1000, (u[1] - o[1]) / 1000,
                  (v[0] - o[0]) / 1000, (v[1] - o[1]) / 1000, o[0], o[1]];
  const m = this.getScreenCTM();
  return {path: path, length: length, points: points, probed: probed,
          matrix: [m.a, m.b, m.c, m.d, m.e, m.f]};
}
"""
_SHAPES: Final = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")


def browser_answers(cases: list[Case], program: str) -> tuple[dict[str, Any], str]:
    """Return what the browser draws in each case, and the browser's version."""
    from playwright.sync_api import sync_playwright

    answers = {}
    with sync_playwright() as play, tempfile.TemporaryDirectory() as folder:
        browser = play.chromium.launch(executable_path=program, args=[*BROWSER_OPTIONS])
        version = browser.version
        page = browser.new_page(viewport={"width": 1200, "height": 1200})
        protocol = page.context.new_cdp_session(page)
        for case in cases:
            file = Path(folder) / f"{case.name}.svg"
            file.write_text(case.svg, encoding="utf-8")
            page.goto(file.as_uri())
            answers[case.name] = {"of": case.digest, "drawn": _drawn(protocol)}
        browser.close()
    return answers, version


def _drawn(protocol: Any) -> list[dict[str, Any]]:
    # Copies first: a speck beside an element makes the browser copy it afresh.
    return _asked(protocol, copies=True) + _asked(protocol, copies=False)


def _asked(protocol: Any, *, copies: bool) -> list[dict[str, Any]]:
    tree = protocol.send("DOM.getDocument", {"depth": -1, "pierce": True})["root"]
    waiting, found = [(tree, False)], []
    while waiting:
        node, copied = waiting.pop()
        inside = [(child, True) for child in node.get("shadowRoots", [])]
        inside += [(child, copied) for child in node.get("children", [])]
        waiting.extend(reversed(inside))
        if node["nodeName"] not in _SHAPES or copied != copies:
            continue
        handle = protocol.send("DOM.resolveNode", {"nodeId": node["nodeId"]})["object"]
        reply = protocol.send(
            "Runtime.callFunctionOn",
            {
                "objectId": handle["objectId"],
                "functionDeclaration": _ASK,
                "arguments": [{"value": STEPS}],
                "returnByValue": True,
            },
        )
        if "exceptionDetails" in reply:
            raise RuntimeError(reply["exceptionDetails"])
        value = reply["result"].get("value")
        if value is not None:
            found.append(_mapped(value))
    return found


def _mapped(value: dict[str, Any]) -> dict[str, Any]:
    """Map an element's points to mm by its matrix, or by the specks where it is in a use."""
    probed = value.pop("probed")
    if "/" in value["path"]:
        value["matrix"] = probed
    elif _apart(value["matrix"], probed, value["points"]) > _SPECK_MM:
        value["specks"] = round(_apart(value["matrix"], probed, value["points"]), 4)
    value["points"] = [
        [round(x, 5), round(y, 5)] for x, y in _to_mm(value["matrix"], value["points"])
    ]
    return value


def _to_mm(matrix: list[float], points: list[list[float]]) -> list[tuple[float, float]]:
    a, b, c, d, e, f = matrix
    mm = 25.4 / 96.0
    return [((a * x + c * y + e) * mm, (b * x + d * y + f) * mm) for x, y in points]


def _apart(one: list[float], other: list[float], points: list[list[float]]) -> float:
    pairs = zip(_to_mm(one, points), _to_mm(other, points), strict=True)
    return max(max(abs(a - c), abs(b - d)) for (a, b), (c, d) in pairs)


def second_answers(cases: list[Case]) -> dict[str, Any]:
    """Return the box of the ink of each case in mm, None where nothing is inked."""
    return {case.name: {"of": case.digest, "ink": _ink_box(case.svg)} for case in cases}


def _ink_box(svg: str) -> dict[str, Any] | None:
    import numpy as np
    import resvg_py
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None
    sheet = "*{fill:#000;stroke:none}"
    try:
        small = Image.open(
            io.BytesIO(resvg_py.svg_to_bytes(svg_string=svg, style_sheet=sheet, dpi=96.0))
        )
    except ValueError as error:
        return {"refused": re.sub(r"\\s+", " ", str(error))}
    zoom = min(INK_PER_MM * 25.4 / 96.0, _LARGEST_INK_PX / max(small.size))
    picture = resvg_py.svg_to_bytes(
        svg_string=svg, style_sheet=sheet, zoom=zoom, dpi=96.0, skip_system_fonts=True
    )
    alpha = np.asarray(Image.open(io.BytesIO(picture)).getchannel("A"))
    rows, columns = np.flatnonzero(alpha.max(axis=1)), np.flatnonzero(alpha.max(axis=0))
    if len(rows) == 0:
        return None
    pixel = 25.4 / 96.0 / zoom
    box = [columns[0], rows[0], columns[-1] + 1, rows[-1] + 1]
    return {
        "box": [round(float(value) * pixel, 5) for value in box],
        "pixel": round(pixel, 6),
        "page": [round(float(size) * pixel, 5) for size in alpha.shape[::-1]],
    }


def _kept(file: Path) -> dict[str, Any]:
    return json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def _write(file: Path, made_by: str, answers: dict[str, Any]) -> None:
    lines = [f'"made by": {json.dumps(made_by)}']
    lines += [
        f"{json.dumps(name)}: {json.dumps(answers[name], separators=(',', ':'))}"
        for name in CASES
        if name in answers
    ]
    file.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def main() -> None:
    """Ask about all cases, or about those named."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", nargs="*", help="names of cases; all if none is given")
    parser.add_argument("--browser", default="/usr/bin/chromium")
    parser.add_argument("--only", choices=("browser", "second"), help="ask only one of them")
    options = parser.parse_args()
    unknown = set(options.cases) - set(CASES)
    if unknown:
        sys.exit(f"no such case: {', '.join(sorted(unknown))}")
    cases = [CASES[name] for name in options.cases or CASES]
    if options.only != "second":
        answers, version = browser_answers(cases, options.browser)
        _write(ANSWERS, f"Chromium {version}", {**_kept(ANSWERS), **answers})
    if options.only != "browser":
        second = second_answers(cases)
        _write(SECOND_ANSWERS, "resvg_py 0.5.0", {**_kept(SECOND_ANSWERS), **second})


if __name__ == "__main__":
    main()

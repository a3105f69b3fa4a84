"""Small drafts as SVG text, and job files for them, for tests of everything after reading."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from panelshift.draft import Reading, assemble
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg

SHEET = (1000.0, 1000.0)


@dataclass(frozen=True)
class Draft:
    """One panel of four corners, its waist level, its sides curved in at the waist.

    Parameters
    ----------
    name : str
        Id of the outline.
    x, y : float
        Left end of the waist, in mm.
    waist : float
        Width at the waist.
    left, right : (float, float)
        How far each side leaves outwards at the top and at the bottom; (0, 0) is straight.
    above, below : float
        Height of the top and depth of the bottom edge from the waist.
    """

    name: str = "1"
    x: float = 40.0
    y: float = 200.0
    waist: float = 50.0
    left: tuple[float, float] = (6.0, 9.0)
    right: tuple[float, float] = (6.0, 9.0)
    above: float = 120.0
    below: float = 100.0

    def sides(self) -> tuple[str, str, str, str]:
        """Path data of the top, right, bottom and left runs, clockwise, without their M."""
        x0, x1 = self.x, self.x + self.waist
        top, bottom = self.y - self.above, self.y + self.below
        u, d = self.above / 3.0, self.below / 3.0
        (lt, lb), (rt, rb) = self.left, self.right

        def side(x: float, out_top: float, out_bottom: float, sense: float) -> tuple[str, str]:
            upper = f"C{x + sense * out_top} {top + u} {x} {self.y - u} {x} {self.y}"
            lower = f"C{x} {self.y + d} {x + sense * out_bottom} {bottom - d} "
            return upper, lower + f"{x + sense * out_bottom} {bottom}"

        up, down = side(x1, rt, rb, 1.0)
        right = up + down
        left = (
            f"C{x0 - lb} {bottom - d} {x0} {self.y + d} {x0} {self.y}"
            f"C{x0} {self.y - u} {x0 - lt} {top + u} {x0 - lt} {top}"
        )
        if self.right == (0.0, 0.0):
            right = f"L{x1} {bottom}"
        if self.left == (0.0, 0.0):
            left = f"L{x0} {top}"
        return f"L{x1 + rt} {top}", right, f"L{x0 - lb} {bottom}", left

    @property
    def corners(self) -> dict[str, tuple[float, float]]:
        """Sheet points of the corners by place: left top, right top, right and left bottom."""
        x1, top, bottom = self.x + self.waist, self.y - self.above, self.y + self.below
        return {
            "left_top": (self.x - self.left[0], top),
            "right_top": (x1 + self.right[0], top),
            "right_bottom": (x1 + self.right[1], bottom),
            "left_bottom": (self.x - self.left[1], bottom),
        }

    @property
    def data(self) -> str:
        """Path data of the closed outline."""
        x, y = self.corners["left_top"]
        return f"M{x} {y}" + "".join(self.sides()) + "Z"

    def outline(self, *, ident: str | None = None, extra: str = "") -> str:
        """The outline as a path element."""
        return path(self.data, self.name if ident is None else ident, extra)

    def pieces(self, gap: float = 0.0) -> str:
        """The outline as four open paths; the last ends `gap` mm below where it should."""
        c = self.corners
        starts = [c["left_top"], c["right_top"], c["right_bottom"], c["left_bottom"]]
        runs = list(self.sides())
        if gap:
            # The left side's last point, moved down.
            x, y = c["left_top"]
            runs[3] = runs[3].removesuffix(f"{x} {y}") + f"{x} {y + gap}"
        names = ("top", "right", "bottom", "left")
        return "".join(
            path(f"M{x} {y}{run}", f"{self.name} {part}")
            for (x, y), run, part in zip(starts, runs, names, strict=True)
        )

    def line(self, name: str = "waist", height: float = 0.0, *, over: float = 15.0) -> str:
        """A level line at a height above the waist, `over` mm beyond the waist at each end."""
        y = self.y - height
        return path(f"M{self.x - over} {y}H{self.x + self.waist + over}", f"{name} {self.name}")

    def panel(self) -> str:
        """Outline and waistline."""
        return self.outline() + self.line(over=0.5)

    def at(self, x: float, y: float | None = None, name: str | None = None) -> Draft:
        """The same panel elsewhere, under another name."""
        return replace(self, x=x, y=self.y if y is None else y, name=name or self.name)

    def mirrored(self, x: float, name: str) -> Draft:
        """The panel of the other half."""
        return replace(self, x=x, name=name, left=self.right, right=self.left)


def path(data: str, ident: str = "", extra: str = "") -> str:
    """A path element."""
    named = f' id="{ident}"' if ident else ""
    return f'<path{named} {extra} d="{data}"/>'


def group(body: str, ident: str, extra: str = "") -> str:
    """A group element."""
    return f'<g id="{ident}" {extra}>{body}</g>'


def text(content: str, x: float, y: float, ident: str = "") -> str:
    """A text element."""
    named = f' id="{ident}"' if ident else ""
    return f'<text{named} x="{x}" y="{y}" font-size="5">{content}</text>'


def svg(body: str, *, size: tuple[float, float] = SHEET, root: str = "") -> str:
    """A document whose unit is 1 mm."""
    width, height = size
    root = root or f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {root}>{body}</svg>'


def half(count: int = 4, *, gap: float = 40.0, names: Sequence[str] = ()) -> list[Draft]:
    """A half pattern from centre front on the left to centre back; its seams walk.

    The widths differ, and the first and last edges are straight.
    """
    seams = [(4.0 + 2.0 * k, 7.0 + 3.0 * k) for k in range(count - 1)]
    edges = [(0.0, 0.0), *seams, (0.0, 0.0)]
    drafts, x = [], 60.0
    for k in range(count):
        waist = 40.0 + 4.0 * k
        name = names[k] if names else f"panel {k + 1}"
        drafts.append(Draft(name, x=x, waist=waist, left=edges[k], right=edges[k + 1]))
        x += waist + gap
    return drafts


def full(count: int, *, gap: float = 25.0, waist: float = 640.0) -> list[Draft]:
    """Both halves side by side as laid round the body, centre back at both ends."""
    own = half((count + 1) // 2)
    if count % 2:
        # A front panel that lies across the centre front.
        middle = replace(own[0], waist=56.0, left=own[0].right)
        row = [*own[:0:-1], middle, *own[1:]]
    else:
        row = [*own[::-1], *own]
    share = waist / sum(draft.waist for draft in row)
    row = [replace(draft, waist=draft.waist * share) for draft in row]
    first = [replace(d, left=d.right, right=d.left) for d in row[: count // 2]]
    drafts, x = [], 60.0
    for k, draft in enumerate([*first, *row[count // 2 :]]):
        drafts.append(replace(draft, x=x, name=f"p{chr(ord('a') + k)}"))
        x += draft.waist + gap
    return drafts


def panels(drafts: Iterable[Draft]) -> str:
    """Outlines and waistlines of all drafts."""
    return "".join(draft.panel() for draft in drafts)


def drawing(body: str, root: str = "") -> Drawing:
    """The body read as SVG."""
    return read_svg(svg(body, root=root).encode(), name="draft.svg")


def pattern(body: str, reading: Reading | None = None, root: str = "") -> Pattern:
    """The body read and assembled."""
    return assemble(drawing(body, root), reading)


STACK = """
[[stack.fabric]]
name = "lining"
thickness = 0.2

[[stack.fabric]]
name = "coutille"
thickness = 0.5

[[stack.fabric]]
name = "brocade"
thickness = 0.8
"""


def job_text(file: str = "draft.svg", *, head: str = "", stack: str = STACK, rest: str = "") -> str:
    """A job file: `head` goes into the pattern table, `rest` to the end."""
    return f'[pattern]\nfile = "{file}"\n{head}\n{stack}\n{rest}\n'


def write_job(
    folder: Path,
    body: str,
    *,
    head: str = "",
    stack: str = STACK,
    rest: str = "",
    root: str = "",
) -> Path:
    """Write draft.svg and job.toml into a folder and return the job's path."""
    (folder / "draft.svg").write_text(svg(body, root=root), encoding="utf-8")
    job = folder / "job.toml"
    job.write_text(job_text(head=head, stack=stack, rest=rest), encoding="utf-8")
    return job

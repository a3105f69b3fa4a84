"""A job file for what a script has made: the way from objects to the workshop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from ..body import (
    BodyModel,
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
    TapeModel,
    infer_classes,
)
from ..body.mean_form import bust_of
from ..cutting.bones import BoneOptions
from ..cutting.plan import CutPlan
from ..errors import BodyError, JobError
from ..files.plain_values import held_to_types
from ..outline import Curve
from ..pattern.pattern import Pattern
from ..sources.drawings import read_drawing
from ..sources.svg import draft_svg
from ..stack import Fabric, Stack
from .drafted import drafted_pattern
from .opened import table_text
from .resolved import resolve
from .toml import parse_job

_SAME_MM: Final = 1e-6
"""What rounding leaves of the numbers of an outline; one elsewhere is another outline."""

_ENDS_MM: Final = 1e-3
"""Level lines that an alteration moved end a little off the edge, and are read as ending on it."""


_LONGEST_NAME: Final = 80
"""Letters: more are refused by some file systems, with an ending and in letters of three bytes."""


@held_to_types
def job_files(
    pattern: Pattern,
    stack: Stack,
    body: BodyModel | None = None,
    *,
    classes: Sequence[str] | None = None,
    gap: float = 0.0,
    plan: CutPlan | None = None,
    name: str = "corset",
) -> dict[str, bytes]:
    """Write what a script has made as a job file, its draft beside it.

    Both are read again before they are given: draft, stack, body and plan are then those of the
    script, outlines within a millionth of a mm, all other lines within a thousandth.

    Parameters
    ----------
    pattern, stack, body, classes
        As for `shift_pattern`.
    gap : float
        Lacing gap in mm.
    plan : CutPlan, optional
        As for `layer_svg`.
    name : str
        Of the two files, without their endings, and without a directory.

    Returns
    -------
    dict of str to bytes
        Contents of the job file and of the SVG that it names, by file name: they belong into one
        directory.

    Raises
    ------
    JobError
        If the name is none of a file; or a job file cannot say all of it: a model of your own or a
        measured form as body; gores, pieces and corners that were pointed at by a `Reading`;
        thickness that changes with height.
    BodyError
        If there are not as many classes as panels.

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels
    >>> box = [(0, 0), (200, 0), (200, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (200, 90)])])
    >>> files = job_files(pattern, Stack([Fabric("drill", 0.5)]), gap=40.0)
    >>> list(files), [line for line in files["corset.toml"].decode().split("\\n") if "gap" in line]
    (['corset.toml', 'corset.svg'], ['lacing_gap = 40.0'])
    """
    if not name.isprintable() or Path(name).name != name or len(name) > _LONGEST_NAME:
        raise JobError(
            f"two files of the name {name!r:.80}",
            remedy="Give a name without a directory, such as 'corset'; save says where it lies.",
        )
    plan = plan or CutPlan(title=name)
    if body is None:
        body = MeanFormModel(bust_height=bust_of(pattern)) if classes is None else ClassModel()
    if classes is None:
        widths = np.array([panel.waist_width for panel in pattern.panels])
        classes = infer_classes(widths, full=pattern.full)
    if len(classes) != len(pattern):
        raise BodyError(
            f"{len(classes)} classes for {len(pattern)} panels",
            remedy="Give one class for each panel, in order.",
            source=pattern.source,
        )
    source = f"{name}.toml"
    draft = draft_svg(pattern, title=name, exact=True)
    data = {
        "pattern": {
            "file": f"{name}.svg",
            "title": plan.title,
            "units": plan.unit,
            "drafted_waist": pattern.waist,
            "lacing_gap": gap,
            "halves": "full" if pattern.full else "half",
            "order": _names(pattern),
        },
        "stack": {
            "drafted_layer": stack.drafted,
            "measured": [_stated(one) for one in stack.measured],
            "fabric": [_fabric(one, plan) for one in stack.fabrics],
        },
        "body": _body(body),
        "panel": _panels(pattern, plan, classes if isinstance(body, ClassModel) else None),
        "sheet": _sheet(plan),
        "extras": _extras(plan),
    }
    job = parse_job(_without_nothing(data), source=source, folder=Path())
    drawn = drafted_pattern(job, source=source, drawing=read_drawing(draft))
    made = resolve(job, source=source, pattern=drawn)
    unlike = [
        what
        for what, same in (
            ("the stack", made.stack == stack),
            ("the body", made.body == body),
            ("the classes", not isinstance(body, ClassModel) or made.classes == tuple(classes)),
            ("the plan", _decided(made.plan, drawn, stack) == _decided(plan, pattern, stack)),
            ("the draft", _same_lines(drawn, pattern)),
        )
        if not same
    ]
    if unlike:
        raise JobError(
            f"a job file cannot say all of it: {', '.join(unlike)} would be other than given",
            remedy="Leave out what has no key (docs/job-file.md), or write the job file by hand; "
            "saved() keeps patterns and layers as they are.",
            source=source,
        )
    return {source: table_text(job).encode(), f"{name}.svg": draft}


def _stated(thing: Any, *apart: str) -> dict[str, Any]:
    """Fields of an object that are not what they are by themselves, but for some."""
    return {
        each.name: value
        for each in fields(thing)
        if each.name not in apart and (value := getattr(thing, each.name)) != each.default
    }


def _without_nothing(table: Any) -> Any:
    """A table without what is None, and without tables and lists that hold nothing."""
    if isinstance(table, list):
        return [_without_nothing(item) for item in table]
    if isinstance(table, np.generic):
        return table.item()  # numpy compares its numbers with a list one by one
    if not isinstance(table, Mapping):
        return table
    inner = {key: _without_nothing(value) for key, value in table.items()}
    return {key: value for key, value in inner.items() if value not in (None, {}, [], ())}


def _fabric(fabric: Fabric, plan: CutPlan) -> dict[str, Any]:
    low, high = fabric.band or (None, None)
    own = plan.allowances.get(fabric.name)
    return _stated(fabric, "panels", "band", "by_height") | {
        "panels": None if fabric.panels is None else sorted(fabric.panels),
        "from": _height(low),
        "to": _height(high),
        "nap": fabric.name in plan.napped or None,
        "give": plan.gives.get(fabric.name),
        "allowance": {} if own is None else _stated(own),
    }


def _height(value: float | None) -> str | None:
    return None if value is None else f"{value:+} mm"


def _measures(given: Measures | None) -> dict[str, float] | None:
    if given is None:
        return None
    pairs = zip(given.heights.tolist(), given.values.tolist(), strict=True)
    return {f"{height:+} mm": value for height, value in pairs}


def _body(body: BodyModel) -> dict[str, Any]:
    """The table of a body. What has none is told when it comes back as another."""
    if isinstance(body, ClassModel):
        factors = {key: float(value) for key, value in body.factors.items()}
        return {"model": "classes", "factors": factors, "girths": _measures(body.girths)}
    if isinstance(body, SectionModel):
        ratio, girths = _measures(body.ratio), _measures(body.girths)
        return {"model": "section", "ratio": ratio, "exponent": body.exponent, "girths": girths}
    if isinstance(body, MeanFormModel):
        ratio, girths = _measures(body.ratio), _measures(body.girths)
        own = {"of": body.of, "bust_height": body.bust_height, "ratio": ratio, "girths": girths}
        return {"model": "mean", **own}
    if isinstance(body, FormerModel):
        return {"model": "former", "diameter": body.diameter}
    if isinstance(body, TapeModel):
        return {
            "model": "tapes",
            "tapes": {f"{height:+} mm": tapes.given() for height, tapes in body.tapes.items()},
            "of": body.of,
            "error": body.error,
            "heights": "upright" if body.upright else "panel",
            "bust_height": body.bust_height,
        }
    raise JobError(
        f"a body of type {type(body).__name__} has no table in a job file",
        remedy="Write the section file of a measured form (section_file), and name it as "
        "[body] file in a job file of your own.",
        element="body",
    )


def _panels(pattern: Pattern, plan: CutPlan, classes: Sequence[str] | None) -> dict[str, Any]:
    tables: dict[str, Any] = {}
    for k, panel in enumerate(pattern.panels):
        own = plan.cuttings.get(panel.name)
        cutting = {"cut": own.count, "mirrored": own.mirrored, "fold": own.fold} if own else {}
        tables[panel.name] = cutting | ({"class": classes[k]} if classes else {})
    return tables


def _sheet(plan: CutPlan) -> dict[str, Any]:
    alike = ("mitre_limit", "corners", "notches", "mates", "client", "revision", "accuracy")
    own = {key: value for key, value in _stated(plan).items() if key in alike}
    inches = "decimals" if plan.decimals else None
    return own | {"width": plan.sheet_width, "inches": inches}


def _extras(plan: CutPlan) -> dict[str, Any]:
    bones = plan.extras.bones
    kind = {"bones": bones.kind, "bone_clearance": bones.clearance, "bone_lengths": bones.lengths}
    return _stated(plan.extras, "bones") | (kind if bones != BoneOptions() else {})


def _decided(plan: CutPlan, pattern: Pattern, stack: Stack) -> tuple[Any, ...]:
    """What a plan comes to: with the allowances and pieces of all panels, named in it or not."""
    edges = [plan.edges(pattern, k, own) for k in range(len(pattern)) for own in stack.names]
    cuttings = [plan.cutting(pattern, k) for k in range(len(pattern))]
    strange = plan.allowances.keys() - {*stack.names}, plan.cuttings.keys() - {*_names(pattern)}
    return edges, cuttings, strange, replace(plan, allowances={}, cuttings={})


def _same_lines(one: Pattern, two: Pattern) -> bool:
    """Whether all that is drawn of two patterns lies in the same places, wherever sheets begin."""
    first, second = _lines(one), _lines(two)
    if list(first) != list(second):
        return False
    moved = two.panels[0].outline.start - one.panels[0].outline.start
    return all(
        curve.control.shape == second[what].control.shape
        and np.abs(curve.control + moved - second[what].control).max()
        < (_SAME_MM if what[-1] == "outline" else _ENDS_MM)
        for what, curve in first.items()
    )


def _lines(pattern: Pattern) -> dict[tuple[object, ...], Curve]:
    """Lines of a pattern, by the panel and what they are, and where its corners lie."""
    return {
        (panel.name, panel.corners, pattern.full, place, *what): curve
        for panel in pattern
        for place, (what, curve) in enumerate(
            [
                (("outline",), panel.outline),
                *((("level", level.name), level.curve) for level in panel.level_lines),
                *(((mark.kind, mark.name), mark.curve) for mark in panel.marks),
            ]
        )
    }


def _names(pattern: Pattern) -> list[str]:
    return [panel.name for panel in pattern]

"""What the page shows of a state: plain values for the templates."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup

from ..errors import BodyError, PanelshiftError, StackError, SwatchError
from ..fit.girths import whole_levels
from ..fit.sections import section_at, section_figures
from ..job.materials import fit_with_job
from ..job.model import JobFile
from ..stack import Stack
from ..swatch import PairFit, compare
from ..swatch.recorded import parse_csv
from ..units import show, shown_length, trimmed
from .accepting import readings_of
from .pattern_picture import Flag, drawing_picture, error_flag, flags, pattern_picture
from .session import Attempt, Session
from .stages import Found, State
from .toml_changes import KeyPath, value_at


@dataclass(frozen=True)
class Refusal:
    """An edit that was not accepted, told beside its field.

    *field*: id of the field. *typed*: what was typed into it. *words*: why not, and what to do.
    """

    field: str = ""
    typed: str = ""
    words: str = ""


def told(error: PanelshiftError) -> str:
    """Return an error in words for the page: what is wrong and what to do."""
    about = f"{error.element}: " if error.element else ""
    stop = "" if error.problem.endswith((".", ":", "?")) else "."
    return f"{about}{error.problem}{stop} {error.remedy}"


def work_view(
    session: Session, *, refusal: Refusal | None = None, said: str = "", level: str = ""
) -> dict[str, Any]:
    """Return everything that the five steps show, but the layers themselves.

    *said*: what the last edit did, to be read out. *level*: level at which the section is drawn.
    """
    state = session.state()
    news, session.news = session.news, ""
    undo, redo = session.steps()
    view: dict[str, Any] = {
        "revision": "" if state is None else state.work.revision,
        "mark": session.mark(),
        "news": news,
        "said": said,
        "refusal": refusal or Refusal(),
        "undo": undo,
        "redo": redo,
        "jobs": session.jobs() if state is None else [],
        "attempt": _attempt_view(session.attempt),
        "fault": "",
        "ready": False,
        "job": None,
    }
    if state is None:
        return view
    with state.lock:
        view |= _state_view(state, level)
    if session.trouble is not None:
        view["fault"] = told(session.trouble)
    return view


def _attempt_view(attempt: Attempt | None) -> dict[str, Any] | None:
    if attempt is None:
        return None
    flag = error_flag(attempt.error, attempt.drawing)
    svg = ""
    if attempt.drawing is not None and attempt.drawing.shapes:
        title = f"what was read from {attempt.name}"
        svg = drawing_picture(attempt.drawing, title, flag, attempt.error.element)
    return {"name": attempt.name, "words": flag.words, "at": flag.at is not None, "svg": safe(svg)}


def _state_view(state: State, level: str) -> dict[str, Any]:
    file = state.file.value
    fault = state.data.error or state.file.error
    common = {"name": state.path.name, "text": state.work.text, "folder": str(state.path.parent)}
    if fault is not None or file is None:
        return {"job": common, "fault": "" if fault is None else told(fault)}
    errors = _errors(state)
    return {
        "job": common,
        "units": file.pattern.units,
        "data": state.data.value,
        "errors": errors,
        "pattern": _pattern_view(state, file),
        "body": _body_view(state, file, level),
        "fabrics": fabrics_view(state, file),
        "unmeasured": state.unmeasured,
        "ready": _ready(state),
    }


def _ready(state: State) -> bool:
    """Whether the layers are to be had, as far as is known without reckoning them."""
    known = vars(state).get("shifted")
    if known is not None and known.error is not None:
        return False
    return state.turn.value is not None and not state.unmeasured


def _errors(state: State) -> dict[str, list[str]]:
    """What is in the way, by the step that can mend it."""
    found: dict[str, list[str]] = {"pattern": [], "body": [], "fabrics": []}
    # Not the shift itself, which step 4 waits for: an edit is answered before it is done.
    stages: tuple[Found[Any], ...] = (state.drawing, state.pattern, state.job, state.turn)
    for stage, home in zip(stages, ("pattern", "pattern", "body", "body"), strict=True):
        error = stage.error
        if error is None:
            continue
        step = home
        if isinstance(error, BodyError):
            step = "body"
        elif isinstance(error, (StackError, SwatchError)):
            step = "fabrics"
        found[step].append(told(error))
    return found


def _pattern_view(state: State, file: JobFile) -> dict[str, Any]:
    units = file.pattern.units
    values = {
        "file": file.pattern.file.name,
        "halves": file.pattern.halves,
        "title": file.pattern.title,
        "drafted_waist": shown_at(state, ("pattern", "drafted_waist"), units),
        "join_tolerance": shown_at(state, ("pattern", "join_tolerance"), units),
        "usual_join": shown_length(file.pattern.join_tolerance, units),
        "scale": trimmed(file.pattern.scale, 6) if file.pattern.scale != 1.0 else "",
    }
    pattern, check = state.pattern.value, state.check.value
    if pattern is None or check is None:
        return values | _unread_view(state)
    findings = (*check.faults, *check.warnings)
    numbered = flags(findings, pattern, state.scaled.value)
    key = ("read", state.pattern_key, findings)
    svg = state.reckoner.pictures.recall(
        key, lambda: pattern_picture(pattern, f"pattern {file.pattern.file.name} as read", numbered)
    )
    whole = pattern.waist
    return values | {
        "svg": safe(svg),
        "flags": numbered,
        "faults": len(check.faults),
        "count": len(pattern.panels),
        "full": pattern.full,
        "half_waist": show(0.5 * whole, units),
        "waist": show(whole, units),
        "laced": show(whole + file.pattern.lacing_gap, units) if file.pattern.lacing_gap else "",
        "left_out": [f"{item.ident}: {item.reason}" for item in pattern.left_out],
        "notes": pattern.notes,
    }


def _unread_view(state: State) -> dict[str, Any]:
    """A file that is no pattern: its curves, with the fault at its place."""
    error, drawing = state.pattern.error, state.scaled.value
    if error is None or drawing is None or not drawing.shapes:
        return {"svg": "", "flags": (), "faults": 0, "count": 0}
    flag = error_flag(error, drawing)
    svg = drawing_picture(drawing, "the drawing, which is no pattern yet", flag, error.element)
    shown: tuple[Flag, ...] = (flag,)
    return {"svg": safe(svg), "flags": shown, "faults": 0, "count": 0}


def _body_view(state: State, file: JobFile, level: str) -> dict[str, Any]:
    units, table = file.pattern.units, file.body
    view: dict[str, Any] = {
        "model": table.model,
        "of": table.of,
        "ratio": trimmed(table.ratio, 4) if isinstance(table.ratio, float) else "",
        "ratios": isinstance(table.ratio, dict),
        "diameter": shown_at(state, ("body", "diameter"), units),
        "gap": shown_at(state, ("pattern", "lacing_gap"), units),
        "panels": [],
        "girths": [],
    }
    job, pattern = state.job.value, state.pattern.value
    if job is None or pattern is None:
        return view
    key = ("classes", state.pattern_key, job.classes)
    svg = state.reckoner.pictures.recall(
        key, lambda: pattern_picture(pattern, "panels and their classes", (), job.classes)
    )
    view |= {
        "svg": safe(svg),
        "panels": [
            {
                "index": index,
                "name": panel.name,
                "class": cls,
                "guessed": panel.name in job.inferred,
                "width": show(panel.waist.width, units),
            }
            for index, (panel, cls) in enumerate(zip(pattern.panels, job.classes, strict=True))
        ],
        "girths": [
            {"level": name, "value": shown_at(state, ("body", "girths", name), units)}
            for name in pattern.level_names()
        ],
    }
    return view | section_view(state, level)


def fabrics_view(state: State, file: JobFile) -> dict[str, Any]:
    """Return the layers from the body outwards, their allowances and their swatches."""
    units = file.pattern.units
    drafted = file.stack.drafted_layer or file.stack.fabric[0].name
    entries = value_at(state.data.value or {}, ("stack", "fabric"))
    rows = [
        {
            "key": key_of(fabric.name),
            "name": fabric.name,
            "place": index,
            "thickness": shown_length(entry.get("thickness"), units),
            "unsure": shown_length(entry.get("thickness_uncertainty", ""), units),
            "coverage": trimmed(100.0 * fabric.coverage, 4),
            "loft": trimmed(fabric.loft, 4),
            "take_up": trimmed(100.0 * fabric.take_up, 4),
            "take_up_length": trimmed(100.0 * fabric.take_up_length, 4),
            "cut": fabric.coverage == 1.0 if fabric.cut_out is None else fabric.cut_out,
            "drafted": fabric.name == drafted,
            "panels": fabric.panels,
        }
        for index, (fabric, entry) in enumerate(zip(file.stack.fabric, entries, strict=True))
    ]
    allowance = {
        kind: {
            "value": shown_at(state, ("allowance", kind), units),
            "usual": shown_length(10.0, units),
        }
        for kind in ("seam", "centre_front", "centre_back", "top", "bottom")
    }
    return {
        "rows": rows,
        "names": [row["name"] for row in rows],
        "keep": key_of("\n".join(str(row["name"]) for row in rows)),
        "named": bool(file.stack.drafted_layer),
        "drafted": drafted,
        "allowance": allowance,
        "swatches": _swatch_view(state, file),
    }


def _swatch_view(state: State, file: JobFile) -> dict[str, Any]:
    units, job = file.pattern.units, state.job.value
    own = state.work.readings
    pairs = [] if job is None else [_pair(fit, job.stack, units) for fit in job.swatches]
    return {
        "file": "" if file.stack.swatches is None else file.stack.swatches.name,
        "own": own is not None or file.stack.swatches is None,
        "readings": [
            {
                "pair": f"{item.inner} to {item.outer}",
                "former": shown_length(item.former, units),
                "length": shown_length(item.length, units),
                "overhang": shown_length(item.overhang, units),
            }
            for item in readings_of(own)
        ],
        "pairs": pairs,
        "stated": [
            f"{item.inner} to {item.outer}: {show(item.distance, units)}"
            for item in file.stack.measured
        ],
    }


def tried_view(state: State, text: str) -> dict[str, Any]:
    """Return what readings of bones or test pieces, as text, say with the job's fabrics."""
    file = state.file.value
    if file is None or not text.strip():
        return {"lines": [], "entries": [], "warnings": [], "refused": ""}
    try:
        found = fit_with_job(parse_csv(text), file)
    except PanelshiftError as error:
        return {"lines": [], "entries": [], "warnings": [], "refused": told(error)}
    units = file.pattern.units
    flat = [
        f"{fit.pair}: {show(fit.distance, units)} between their middles, plus or minus "
        f"{show(fit.line.half_width, units)}"
        for fit in found.fits
    ]
    return {
        "lines": [*flat, *found.said],
        "entries": found.job_lines,
        "warnings": found.warnings,
        "refused": "",
    }


_WORDS: Final[Mapping[str, str]] = {
    "agrees": "agrees with the thicknesses",
    "compressed": "closer than the thicknesses say",
    "lofty": "further apart than the thicknesses say",
}


def _pair(fit: PairFit, stack: Stack, units: str) -> str:
    comparison = compare(fit, stack)
    return (
        f"{fit.inner} to {fit.outer}: {show(fit.distance, units)} between their middles, plus or "
        f"minus {show(fit.line.half_width, units)} from {len(fit.readings)} "
        f"reading{'' if len(fit.readings) == 1 else 's'}; {_WORDS[comparison.word]} "
        f"({show(comparison.by_thickness, units)})"
    )


def key_of(name: str) -> str:
    """Return a short name for ids in the page, as any name may be a fabric's."""
    return hashlib.sha256(name.encode("utf-8", "surrogateescape")).hexdigest()[:8]


def shown_at(state: State, path: KeyPath, units: str) -> str:
    """Return the length at a path of a job as it stands in a field, nothing if there is none."""
    value = value_at(state.data.value or {}, path)
    return "" if value is None else shown_length(value, units)


def section_view(state: State, level: str) -> dict[str, Any]:
    """Return the body's section at a level, and the levels there are."""
    job, turn = state.job.value, state.turn.value
    if job is None or turn is None:
        return {"section": "", "levels": (), "level": ""}
    levels = whole_levels(turn)
    if level not in levels:
        level = "waist" if "waist" in levels else next(iter(levels), "")
    if not level:
        return {"section": "", "levels": levels, "level": ""}
    units = job.units

    def draw() -> str:
        return section_figures([section_at(turn, job.body, level, gap=job.gap)], units)[0]

    svg = state.reckoner.pictures.recall(("section", state.turn_key, level, units), draw)
    return {"section": safe(svg), "levels": levels, "level": level}


def safe(svg: str) -> Markup:
    """Return a picture of our own as markup."""
    # Built by lxml from panelshift's own curves and numbers; lxml has escaped every name in it.
    return Markup(svg)

"""What the page shows of a state: plain values for the templates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..errors import (
    BodyError,
    PanelshiftError,
    PatternError,
    StackError,
    SvgError,
    SwatchError,
)
from ..fit.facts import FitFacts
from ..fit.first_page import waist_sizes
from ..job.model import JobFile
from ..job.slips import fabric_key, reading_slips
from ..job.swatch_files import fit_with_job
from ..stack import Stack
from ..swatch import PairFit, compare
from ..swatch.recorded import parse_csv
from ..units import caliper_length, cloth_length, shown_length, trimmed
from .accepting import MEASURED, readings_of
from .body_view import body_view
from .paper_view import paper_view
from .pattern_picture import drawing_picture, error_flag, safe
from .pattern_view import by_fields, pattern_view
from .session import Attempt, Session
from .sewing_view import sewing_view
from .size_choice import size_view
from .stages import Found, State, shown_at
from .toml_changes import key_of, value_at


@dataclass(frozen=True)
class Refusal:
    """An edit that was not accepted, told beside its field.

    *field*: id of the field. *typed*: what was typed into it. *words*: why not, and what to do.
    *stale*: whether only something else changed it meanwhile, so that it may be sent again.
    """

    field: str = ""
    typed: str = ""
    words: str = ""
    stale: bool = False


def told(error: PanelshiftError) -> str:
    """Return an error in words for the page: what is wrong and what to do."""
    about = f"{error.element}: " if error.element else ""
    stop = "" if error.problem.endswith((".", ":", "?")) else "."
    return f"{about}{error.problem}{stop} {error.remedy}"


def told_beside(error: PanelshiftError) -> str:
    """Return an error in words for beside the field that it is about."""
    # Of a drawing the element tells where; of a job it is a key, which nobody on the page typed.
    drawn = isinstance(error, (PatternError, SvgError))
    plain = f"{error.problem[:1].upper()}{error.problem[1:]}"
    return told(error) if drawn else told(type(error)(plain, remedy=error.remedy))


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
        "paper": paper_view(session.paper),
        "fault": "",
        "ready": False,
        "job": None,
        "kept": session.kept,
        "undecided_only": False,
        **late_view(None),
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
    return {
        "name": attempt.name,
        "words": flag.words,
        "at": flag.at is not None,
        "svg": safe(svg),
        "paper": attempt.error.key == "paper",
    }


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
        "slips": _slips(state),
        "pattern": pattern_view(state, file),
        "body": body_view(state, file, level),
        "fabrics": fabrics_view(state, file),
        "unmeasured": state.unmeasured,
        "ready": _ready(state),
        "undecided_only": _may_be_looked_at(state) and not is_decided(file),
        **late_view(state),
    }


@dataclass(frozen=True)
class StepMark:
    """A step on the way: whether it is in order; None while that is still being worked out."""

    ident: str
    words: str
    done: bool | None


def late_view(state: State | None) -> dict[str, Any]:
    """Return the strip's sizes and the steps' ticks, which may come after the work itself.

    What has not been reckoned yet is None: the page then keeps what it shows until it has been.
    """
    file = None if state is None else state.file.value
    if state is None or file is None:
        sizes = size_view(None)
        return {"steps": _marks(*5 * [False]), "finished": (), "sizes": sizes, "begun": False}
    errors, check = _errors(state), state.check.value
    sound = check is not None and not check.faults
    ready, known = _ready(state), vars(state)
    shifted = known["shifted"].value is not None if "shifted" in known else None
    facts: FitFacts | None = known["facts"].value if "facts" in known else None
    sized_now = facts is not None and "girths" in vars(facts)
    look = shifted if ready else False
    finished: Sequence[tuple[str, str]] | None = ()
    if _may_be_looked_at(state) and shifted is not False:
        finished = None if facts is None or not sized_now else waist_sizes(facts) if ready else ()
    turned = state.turn.value is not None
    return {
        "steps": _marks(
            sound and not errors["pattern"],
            turned and not errors["body"],
            turned and not state.unmeasured and not errors["fabrics"] and is_decided(file),
            look,
            look if sound else False,
        ),
        "finished": finished,
        "sizes": size_view(facts if sized_now else None),
        "begun": True,
    }


def _marks(*done: bool | None) -> tuple[StepMark, ...]:
    steps = (
        ("pattern", "Pattern"),
        ("body", "Body"),
        ("fabrics", "Fabrics"),
        ("look", "Look"),
        ("take", "Take away"),
    )
    return tuple(StepMark(*step, mark) for step, mark in zip(steps, done, strict=True))


def _ready(state: State) -> bool:
    """Whether the layers are to be had, as far as is known without reckoning them."""
    known = vars(state).get("shifted")
    if known is not None and known.error is not None:
        return False
    file = state.file.value
    return file is not None and is_decided(file) and _may_be_looked_at(state)


def _may_be_looked_at(state: State) -> bool:
    return state.turn.value is not None and not state.unmeasured


def _slips(state: State) -> dict[str, str]:
    """What is odd about numbers of the job, by their keys."""
    file, job = state.file.value, state.job.value
    if file is None:
        return {}
    slips = reading_slips(file) if job is None else job.slips
    # What is still to be measured is no slip, nor what follows from it.
    waits = state.unmeasured
    unsure = {fabric_key(name, key) for name in waits for key in ("thickness", "")}
    unsure |= {fabric_key(fabric.name) for fabric in file.stack.fabric} if waits else set()
    return {
        slip.key: by_fields(f"{slip.words[:1].upper()}{slip.words[1:]}: {slip.remedy}.")
        for slip in slips
        if slip.key not in unsure
    }


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
        found[step].append(by_fields(told(error)))
    return found


def is_decided(file: JobFile) -> bool:
    """Whether the maker has said which layer keeps the drafted size, or there is but one."""
    return bool(file.stack.drafted_layer) or len(file.stack.fabric) == 1


def fabrics_view(state: State, file: JobFile) -> dict[str, Any]:
    """Return the layers from the body outwards, their allowances and their swatches."""
    units = file.pattern.units
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
            "cut": fabric.coverage == 1.0 if fabric.cut_out is None else fabric.cut_out,
            "drafted": fabric.name == file.stack.drafted_layer,
            "panels": fabric.panels,
            "slips": {
                key: fabric_key(fabric.name, key)
                for key in ("", "thickness", "take_up", "take_up_length")
            },
        }
        for index, (fabric, entry) in enumerate(zip(file.stack.fabric, entries, strict=True))
    ]
    allowance = {
        kind: {
            "value": shown_at(state, ("allowance", kind), units),
            "usual": f"about {cloth_length(10.0, units)}"
            if units == "in"
            else shown_length(10.0, units),
        }
        for kind in ("seam", "centre_front", "centre_back", "top", "bottom")
    }
    return {
        "rows": rows,
        "names": [row["name"] for row in rows],
        "keep": key_of("\n".join(str(row["name"]) for row in rows)),
        "decided": is_decided(file),
        "allowance": allowance,
        "swatches": _swatch_view(state, file),
        "sewing": sewing_view(state, file),
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
        "measured": MEASURED,
        "stated": [
            f"{item.inner} to {item.outer}: {caliper_length(item.distance, units)}"
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
        f"{fit.pair}: {caliper_length(fit.distance, units)} between their middles, plus or minus "
        f"{caliper_length(fit.line.half_width, units)}"
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
        f"{fit.inner} to {fit.outer}: {caliper_length(fit.distance, units)} between their middles, "
        f"plus or minus {caliper_length(fit.line.half_width, units)} from {len(fit.readings)} "
        f"reading{'' if len(fit.readings) == 1 else 's'}; {_WORDS[comparison.word]} "
        f"({caliper_length(comparison.by_thickness, units)})"
    )

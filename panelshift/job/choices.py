"""What only the maker can decide about a drawing, and what comes of each choice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from ..draft import Reading, assemble
from ..draft.assembly import outlined
from ..draft.clues import spoken_amount, width_by_seams
from ..draft.waistlines import LineAcross, alike, lines_across
from ..draft.written_sizes import likely_scale
from ..errors import PatternError
from ..pattern.drawing import Drawing, refusal
from ..pattern.pattern import EDGE_KINDS, Pattern
from ..sources.drawings import read_drawing
from ..units import caliper_length, show
from .bounds import JOIN
from .drafted import at_scale, reading_of
from .model import JobFile

ChoiceKey = Literal[
    "waistlines",
    "halves",
    "leave_out",
    "size",
    "allowance_drawn",
    "join_tolerance",
    "drafted_waist",
    "scale",
    "page",
]
"""A key of ``[pattern]``."""

Units = Literal["mm", "cm", "in"]

QUESTIONS: Final[dict[ChoiceKey, str]] = {
    "waistlines": "Which line is the waistline?",
    "halves": "Is one half of the pattern drawn, or both?",
    "leave_out": "Is what looks like a panel none? Name it here, or draw a waistline across it; or "
    "name it as a gore or as a piece that stands on a panel ([[gore]], [[stands_on]]).",
    "size": "Which size is to be read? Any one thing told of it may be said, not its place only.",
    "allowance_drawn": "How much seam allowance is in the outlines, to be taken off?",
    "join_tolerance": "Is the gap in this outline to be closed?",
    "drafted_waist": "What waist was drafted?",
    "scale": "Is the drawing at another scale?",
    "page": "Which page is the pattern?",
}

_UNREAD: Final = frozenset({"no-waistline", "short-panel"})
"""Codes of faults that `leave_out` settles."""

SETTLED: Final = _UNREAD | {"several-outlines"}
"""Codes of faults of a pattern that a choice settles."""

HALVES_DOUBTS: Final = frozenset({"halves-weak", "halves-doubted"})
"""Codes of warnings that saying what is drawn settles."""

_MOST_SIZES: Final = 12
_TWO: Final = 2

_GAP_STEP_MM: Final = 0.01

_DEPTH: Final = 4
"""Choices that may hang on one another."""


@dataclass(frozen=True)
class Option:
    """One value that a key may have.

    *gives*: What comes of it, in few words. *about*: Where to find what it names, one line each.
    *elements*: Ids of the shapes that it is about, for them to be pointed at.
    """

    value: str | tuple[str, ...]
    gives: str
    about: tuple[str, ...] = ()
    elements: tuple[str, ...] = ()


@dataclass(frozen=True)
class OpenChoice:
    """A key of ``[pattern]`` that the maker must settle before anything is cut.

    *why*: Why it cannot be told. *options*: From which to take one; empty if nothing that fits was
    found.
    """

    key: ChoiceKey
    why: str
    options: tuple[Option, ...]

    @property
    def question(self) -> str:
        """What is asked."""
        return QUESTIONS[self.key]


@dataclass(frozen=True, eq=False)
class Survey:
    """A drawing as far as it can be read.

    *patterns*: The one that was read; where a choice is open, one for each option that can be read.
    *choices*: What is open. *refusal*: Why the drawing cannot be read as it is.
    """

    patterns: tuple[Pattern, ...]
    choices: tuple[OpenChoice, ...] = ()
    refusal: PatternError | None = None

    @property
    def pattern(self) -> Pattern | None:
        """The pattern, if the drawing can be read as it is."""
        return None if self.refusal or not self.patterns else self.patterns[0]

    @property
    def faults(self) -> tuple[str, ...]:
        """What must be mended beside what is to be chosen."""
        if self.refusal:
            words = f"{self.refusal}"
            return () if self.choices else (words,)
        return tuple(
            f"{remark.words}. {remark.remedy}"
            for remark in self.patterns[0].ledger
            if remark.kind == "fault" and remark.code not in _UNREAD
        )


def survey(drawing: Drawing, reading: Reading | None = None, *, units: Units = "mm") -> Survey:
    """Read a drawing, or say what must be chosen so that it can be read.

    Every option is tried, so that what comes of it is known; none is taken.

    *reading*: what the maker has said already. *units*: {"mm", "cm", "in"}. In which lengths are
    told.
    """
    return _survey(drawing, reading or Reading(), units, _DEPTH)


def _survey(drawing: Drawing, reading: Reading, units: Units, depth: int) -> Survey:
    try:
        pattern = assemble(drawing, reading, keep_faults=True)
    except PatternError as error:
        if not depth:
            return Survey((), (), error)
        if error.key == "halves":
            return _with_halves(drawing, reading, units, depth, error)
        if error.key == "waistlines":
            return _with_waistlines(drawing, reading, units, depth, error)
        if error.key == "size" and not reading.size:
            return _with_sizes(drawing, reading, units, depth, error)
        if error.key == "allowance_drawn":
            return _with_allowance(drawing, reading, units, depth, error)
        if error.key == "join_tolerance":
            return _with_gap(drawing, reading, units, depth, error)
        return Survey((), (), error)
    if depth and any(remark.code == "several-outlines" for remark in pattern.ledger):
        # Of all faults that one is the drawing's own.
        sizes = [remark for remark in pattern.ledger if remark.code == "several-outlines"]
        if (first := refusal(sizes)) is not None:
            return _with_sizes(drawing, reading, units, depth, first)
    return Survey((pattern,), tuple(_unread(pattern, reading)))


def _with_sizes(
    drawing: Drawing, reading: Reading, units: Units, depth: int, refused: PatternError
) -> Survey:
    options, trials = [], []
    for place in map(str, range(1, _MOST_SIZES + 1)):
        trial = _survey(drawing, replace(reading, size=place), units, depth - 1)
        if trial.refusal and trial.refusal.key == "size":
            break
        options.append(Option(place, _gives(trial, units), elements=_panels(trial)))
        trials.append(trial)
    if options:
        options[-1] = replace(options[-1], about=(refused.problem,))
    if len(options) == _TWO:
        inner = f'{options[0].gives}; or net_outline = "inner", if the outer one is the cut line'
        options[0] = replace(options[0], gives=inner)
    why = "several outlines lie round each other, as several sizes do; places count from inside"
    return _together(OpenChoice("size", why, tuple(options)), trials, refused)


def _panels(trial: Survey) -> tuple[str, ...]:
    """Ids of the outlines that are read as panels."""
    read = (panel.ident for pattern in trial.patterns[:1] for panel in pattern.panels)
    return tuple(read)


def _with_gap(
    drawing: Drawing, reading: Reading, units: Units, depth: int, refused: PatternError
) -> Survey:
    chains = outlined(drawing, reading).open_chains
    own = next((chain for chain in chains if chain.at == refused.at), None)
    if own is None:
        return Survey((), (), refused)
    # To a hundredth of a millimetre, upwards: the ends must lie within it.
    reach = math.floor(own.size / _GAP_STEP_MM + 1.0) * _GAP_STEP_MM
    trial = _survey(drawing, replace(reading, join_tolerance=reach), units, depth - 1)
    gives = _gives(trial, units)
    if reach > JOIN.usual[1]:
        gives += "; so wide a gap is better closed in the drawing"
    about = (f"ends up to {caliper_length(reach, units)} apart are joined, in every outline",)
    idents = tuple(piece.ident for piece in own.pieces)
    options = (
        () if JOIN.judge(reach) == "refused" else (Option(f"{reach:.4g} mm", gives, about, idents),)
    )
    return _together(OpenChoice("join_tolerance", refused.problem, options), (trial,), refused)


def _with_allowance(
    drawing: Drawing, reading: Reading, units: Units, depth: int, refused: PatternError
) -> Survey:
    options, trials = [], []
    widths = [0.0]
    for by in widths:
        drawn = dict.fromkeys(EDGE_KINDS, by)
        trial = _survey(drawing, replace(reading, allowance_drawn=drawn), units, depth - 1)
        options.append(Option(f"{by:.3g} mm", _gives(trial, units)))
        trials.append(trial)
        if by == 0.0:
            by_seams = width_by_seams(trial.patterns[0]) if trial.patterns else None
            widths.append(by_seams or spoken_amount(drawing))
    return _together(
        OpenChoice("allowance_drawn", refused.problem, tuple(options)), trials, refused
    )


def _with_halves(
    drawing: Drawing, reading: Reading, units: Units, depth: int, refusal: PatternError
) -> Survey:
    half = _survey(drawing, replace(reading, halves="half"), units, depth - 1)
    full = _survey(drawing, replace(reading, halves="full"), units, depth - 1)
    options = (
        Option("half", f"the other half is its mirror image{_waist(half, units)}"),
        Option("full", f"all that is sewn is drawn{_waist(full, units)}"),
    )
    own = OpenChoice("halves", refusal.problem, options)
    return _together(own, (half, full), refusal)


def _with_waistlines(
    drawing: Drawing, reading: Reading, units: Units, depth: int, refusal: PatternError
) -> Survey:
    lines = lines_across(outlined(drawing, reading))
    options, trials = [], []
    for group in alike(lines):
        idents = tuple(dict.fromkeys(line.ident for line in group))
        trial = _survey(drawing, replace(reading, waistlines=idents), units, depth - 1)
        gives = _gives(trial, units)
        where = tuple(_where(line, units) for line in group)
        options.append(Option(idents, gives, where, idents))
        trials.append(trial)
    grouped = {ident for option in options for ident in option.value}
    if rest := [line for line in lines if line.ident not in grouped]:
        words = tuple(_where(line, units) for line in rest)
        gives = "these lie across panels too, but none is alike on every panel"
        options.append(Option((), gives, words, tuple(line.ident for line in rest)))
    return _together(OpenChoice("waistlines", refusal.problem, tuple(options)), trials, refusal)


def _together(own: OpenChoice, trials: Sequence[Survey], refusal: PatternError) -> Survey:
    """One choice and those that follow from its options."""
    choices = [own]
    for trial in trials:
        for following in trial.choices:
            if all(following.key != known.key for known in choices):
                choices.append(_apart(following) if len(trials) > 1 else following)
    patterns = tuple(pattern for trial in trials for pattern in trial.patterns)
    return Survey(patterns, tuple(choices), refusal)


def _apart(following: OpenChoice) -> OpenChoice:
    """A choice without the figures that hang on another one."""
    if following.key != "halves":
        return following
    words = {"half": "the whole waist is twice what is drawn", "full": "it is what is drawn"}
    options = (replace(option, gives=words[str(option.value)]) for option in following.options)
    return replace(following, why="it is not plain from what is drawn", options=tuple(options))


def _unread(pattern: Pattern, reading: Reading) -> Iterable[OpenChoice]:
    """The choice that pieces which look like panels, but are none, leave open."""
    found = [r for r in pattern.ledger if r.kind == "fault" and r.code in _UNREAD]
    if found:
        idents = tuple(dict.fromkeys((*reading.leave_out, *(r.elements[0] for r in found))))
        words = tuple(r.words for r in found)
        option = Option(idents, "not cut, if it is named", words, idents)
        yield OpenChoice("leave_out", found[0].words, (option,))


def _waist(trial: Survey, units: Units) -> str:
    waists = sorted({show(pattern.waist, units) for pattern in trial.patterns})
    return f": whole waist {' or '.join(waists)}" if waists else ""


def _gives(trial: Survey, units: Units) -> str:
    if not trial.patterns:
        return f"refused: {trial.refusal.problem}" if trial.refusal else ""
    waists = {}
    for pattern in trial.patterns:
        waists[show(pattern.waist, units)] = "both halves" if pattern.full else "one half"
    if len(waists) == 1:
        ((waist, drawn),) = waists.items()
        return f"whole waist {waist}, {drawn} drawn"
    return "whole waist " + ", or ".join(f"{w} if {drawn} drawn" for w, drawn in waists.items())


def _where(line: LineAcross, units: Units) -> str:
    """Where a maker finds a line."""
    parts = [
        f"panel {line.place} from the left ({line.panel}): {line.ident}",
        f"{show(line.height, units)} above its lowest point",
        line.look,
    ]
    if line.word:
        parts.append(f"near the word {line.word!r}")
    return ", ".join(parts)


def survey_job(job: JobFile, drawing: Drawing | None = None) -> Survey:
    """Say what must be chosen so that the job's pattern can be read.

    *drawing*: as it is read from the job's file, where it has been read already.

    Raises `PanelshiftError` if the drawing itself cannot be read.
    """
    if drawing is None:
        drawing = read_drawing(job.pattern.file, page=job.pattern.page)
    return survey(at_scale(job, drawing), reading_of(job), units=job.pattern.units)


def drafted_choices(pattern: Pattern, drafted_waist: float, units: Units) -> tuple[OpenChoice, ...]:
    """What may be meant where the pattern's waist is not the drafted one."""
    own, said = show(pattern.waist, units), show(drafted_waist, units)
    ratio = drafted_waist / pattern.waist
    why = f"the pattern's waist is {own}, and {said} is what was said"
    found = [
        OpenChoice(
            "drafted_waist",
            why,
            (Option(f"{pattern.waist:.6g} mm", f"the drafted waist is {own}"),),
        )
    ]
    clue = likely_scale(1.0 / ratio)
    if clue:
        times = Option(f"{ratio:.6g}", f"every length becomes {ratio:.4g} times as large ({clue})")
        found.append(OpenChoice("scale", why, (times,)))
    return tuple(found)


def halves_choice(pattern: Pattern, why: str, units: Units) -> OpenChoice:
    """What is drawn, where it was read one way and little tells."""
    half, full = pattern.waist, pattern.waist
    if pattern.full:
        half *= 2.0
    else:
        full *= 0.5
    return OpenChoice(
        "halves",
        why,
        (
            Option("half", f"the other half is its mirror image: whole waist {show(half, units)}"),
            Option("full", f"all that is sewn is drawn: whole waist {show(full, units)}"),
        ),
    )


def page_choice(pages: Sequence[tuple[int, Drawing]], why: str) -> OpenChoice:
    """Which page of a PDF is read, where several hold lines."""
    from ..sources.pdf.choosing import page_words

    drawn = [(number, drawing) for number, drawing in pages if drawing.shapes]
    options = tuple(Option(str(number), page_words(number, drawing)) for number, drawing in drawn)
    return OpenChoice("page", why, options)

"""Write a starting job file for a pattern that has just been read."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import Final

from ..draft.waistlines import word_near
from ..errors import JobError
from ..pattern.pattern import Pattern
from ..units import show
from .checks import drawn_fold
from .choices import Survey
from .model import JobFile
from .resolved import panel_classes

UNMEASURED: Final = "measure me"
"""Stands for a thickness that the maker has yet to measure; no command takes it for a length."""

_WIDTH: Final = 96

_HALVES: Final = frozenset({"halves", "halves-weak", "halves-doubted"})
_LEFT_OUT: Final = frozenset(
    {"net-outline-by-place", "several-outlines", "seam-allowance", "frame", "mark-inside"}
    | {"too-small", "no-waistline", "short-panel", "left-out", "nowhere"}
)
"""Codes of remarks on shapes, and words beside panels, that were left out."""

_HEAD = """\
# Job file of panelshift. Lengths are mm; text such as "0.5 in" may carry a unit.
# All keys are explained in docs/job-file.md.

[pattern]
file = {file}
units = "mm"              # how lengths are shown: mm, cm or in
# drafted_waist = {waist:<8} # all panels at the waist, without the lacing gap: say what you
                          # drafted to, and panelshift checks the drawing's scale
lacing_gap = 0            # opening left at centre back when laced
# net_outline = "inner"   # or "outer": the stitch line, where two outlines lie round each other
# allowance_drawn = 10    # the seam allowance that is in the outlines, to be taken off
{settled}
[stack]
# drafted_layer = "strength layer"   # keeps the drafted size; the innermost if not given

# One table a layer, from the body outwards. Measure each cloth: stack ten pieces under a
# light weight, measure, divide by ten.

[[stack.fabric]]
name = "lining"
thickness = {unmeasured}
# split_at = ["underbust"]  # panels of this layer alone are divided at a line of the drawing

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
model = "mean"            # the mean form of bodies; with tapes, traced curves or a scan it comes
                          # much nearer: docs/bodies.md
of = "either"             # for whom? "women" or "men", if you know: the lines are surer then
# ratio = 1.35            # your own breadth over depth, if you measured it between two boards
"""

_PANELS: Final = """
# Panels from centre front to centre back, with the classes guessed from their places:
# front, side or back. Lines hang on them only where the body's model is "classes".
"""


def starter_job(found: Survey, file: Path, page: int | None = None, *, asks: bool = True) -> str:
    """Text of a job file with what was found in a drawing, for the maker to fill in.

    What could not be decided stands in it as comments, of which the maker takes one.

    *file*: the pattern's path as the job file should name it. *page*: of a PDF. *asks*: whether
    what could not be decided is asked in it; it is not where the work table asks.

    Raises `JobError` if the path holds bytes that are no text, which TOML cannot hold.
    """
    try:
        str(file).encode()
    except UnicodeEncodeError:
        raise JobError(
            "the pattern's path is no text, so a job file cannot name it",
            remedy="Rename the file with ordinary letters.",
            source=ascii(str(file)),
        ) from None
    waist = f"{found.pattern.waist:.1f}" if found.pattern else quoted("fill in")
    text = _HEAD.format(
        file=_file(file, page),
        waist=waist,
        unmeasured=quoted(UNMEASURED),
        settled=_settled(found) if asks or found.pattern else "",
    )
    if not asks and not found.pattern:
        return text
    return text + (_levels(found.pattern) if found.pattern else "") + _PANELS + _panels(found, file)


def _file(file: Path, page: int | None) -> str:
    """The drawing, and its page if one was named."""
    return quoted(str(file)) + (f"\npage = {page}" if page is not None else "")


def _settled(found: Survey) -> str:
    """Lines of ``[pattern]``: what was found, and what is left to choose."""
    lines = []
    if found.pattern:
        told = next((r for r in found.pattern.ledger if r.code in _HALVES), None)
        if told is not None and told.kind == "warning":
            # Written out it would be silent from now on, though little tells it.
            lines += ["", *_comment(f"TO BE CHECKED. {told.words}.")]
            lines += _comment("Take away the # before the line that is right.")
            lines += [f"# {_halves(found.pattern)}", f"# {_halves(found.pattern, other=True)}"]
        else:
            lines += [_halves(found.pattern), *_comment(told.words if told else "")]
    elif len({pattern.full for pattern in found.patterns}) == 1:
        lines.append(_halves(found.patterns[0]))
    if found.refusal and not found.choices:
        lines += [
            "",
            *_comment(f"The drawing cannot be read as it is: {found.refusal.problem}."),
            *_comment(f"What to do: {found.refusal.remedy}"),
        ]
    for choice in found.choices:
        lines += ["", *_comment(f"TO BE CHOSEN. {choice.question} {choice.why}.")]
        lines += _comment(f"Take away the # before one line that begins with {choice.key}.")
        for option in choice.options:
            if option.value:
                lines.append(f"# {choice.key} = {_value(option.value)}")
            lines += _comment(option.gives, indent=4)
            for words in option.about:
                lines += _comment(words, indent=4)
    for pattern in found.patterns[:1]:
        gone = [r for r in pattern.ledger if r.kind == "left out" and r.code in _LEFT_OUT]
        if gone:
            lines += ["", "# Left out of the pattern:"]
        for remark in gone:
            lines += _comment(f"{remark.elements[0]}: {remark.words}", indent=4)
        lines += _set_in(pattern)
    return "\n".join(lines) + "\n"


def _levels(pattern: Pattern) -> str:
    """All lines along the waist for which a measure of the body may be given, as comments."""
    lines = []
    for name in pattern.level_names():
        on = [(panel, level) for panel in pattern.panels if (level := panel.level(name))]
        words = [word for panel, level in on if (word := word_near(level.curve, panel.texts))]
        near = f", near the word {words[0]!r}" if words and words[0].lower() != name else ""
        height = pattern.level_height(name)
        where = "" if name == "waist" else f"   # {height:+.0f} mm from the waist{near}"
        lines.append(f"# girths.{quoted(name)} = {quoted(UNMEASURED)}{where}")
    about = "# Girths of the body, if you have measured them, at the lines that the pattern has:"
    return "\n".join([about, *lines]) + "\n"


def _set_in(pattern: Pattern) -> list[str]:
    """Tables for outlines that no waistline crosses, as comments after all else of the pattern."""
    told = [r for r in pattern.ledger if r.code == "no-waistline" and r.kind == "fault"]
    idents = dict.fromkeys(remark.elements[0] for remark in told)
    names = [panel.name for panel in pattern.panels]
    if not idents or len(names) < 2:
        return []
    lines = [
        "",
        *_comment("Pieces that no waistline crosses: gores stand in a seam (docs/gores.md),"),
    ]
    lines += _comment(
        "yokes and bands on a panel, or under one (docs/pieces.md). Take away the # of"
    )
    lines += _comment("one table for each, and name the right panels.")
    slits = [r.elements[0] for r in pattern.ledger if r.code == "slit-alone"]
    if slits:
        lines += _comment(
            "A gore in a slit has its line as slit in place of between: take one of the two."
        )
    for k, ident in enumerate(idents):
        between = f"[{quoted(names[0])}, {quoted(names[1])}]"
        lines += ["# [[gore]]", f"# panel = {quoted(ident)}", f"# between = {between}"]
        lines += [f"# slit = {quoted(slits[k % len(slits)])}"] if slits else []
        lines += ["# [[stands_on]]", f"# upper = {quoted(ident)}", f"# lower = {quoted(names[0])}"]
    return lines


def _panels(found: Survey, file: Path) -> str:
    """A table for each panel, with its class where all that may be chosen gives the same."""
    names = {tuple(sorted(p.name for p in pattern.panels)) for pattern in found.patterns}
    if len(names) != 1:
        return "# Which they are is not known yet: see the top of this file.\n"
    blank = JobFile.model_validate(
        {"pattern": {"file": str(file)}, "stack": {"fabric": [{"name": "x", "thickness": 0}]}}
    )
    guesses = [
        dict(zip((p.name for p in pattern.panels), panel_classes(blank, pattern)[0], strict=True))
        for pattern in found.patterns
    ]
    text = ""
    for k, panel in enumerate(found.patterns[0].panels):
        waist = f"   # {show(panel.waist_width)} at the waist" if found.pattern else ""
        classes = sorted({guess[panel.name] for guess in guesses})
        text += f"\n[panel.{quoted(panel.name)}]{waist}\n"
        if len(classes) == 1:
            text += f'class = "{classes[0]}"\n'
        else:
            text += "".join(f'# class = "{cls}"\n' for cls in classes)
        edge, words = drawn_fold(found.pattern, k) if found.pattern else ("", "")
        if edge:
            text += f'fold = "{edge}"            # {" ".join(words.split())!r:.60} stands on it\n'
    return text


def _halves(pattern: Pattern, *, other: bool = False) -> str:
    return f'halves = "{"full" if pattern.full is not other else "half"}"'


def _value(value: str | tuple[str, ...]) -> str:
    return quoted(value) if isinstance(value, str) else f"[{', '.join(map(quoted, value))}]"


def _comment(text: str, indent: int = 1) -> list[str]:
    """Lines of a comment; what is no printable character is shown as a space."""
    plain = "".join(ch if ch.isprintable() else " " for ch in text)
    return textwrap.wrap(
        plain,
        _WIDTH,
        initial_indent="#" + " " * indent,
        subsequent_indent="#" + " " * (indent + 2),
        break_long_words=False,
        break_on_hyphens=False,
    )


def quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

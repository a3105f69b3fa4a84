"""Patterns and layers saved so that they read back as the same, to the last bit."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
from lxml import etree

from ..errors import PanelshiftError, PatternError, WrongTypeError
from ..files import read_bounded
from ..files.plain_values import UnfitDataError, held_to_types, made, plain
from ..outline import FloatArray
from ..pattern.pattern import Pattern
from ..shift import LayerPattern
from ..sources.drawings import is_svg
from ..sources.svg import draft_svg, read_svg, with_added
from ..sources.svg.document import load, markup
from ..sources.svg.elements import ADDED
from ..stack import Fabric
from .saved_sense import refuse_nonsense

_SAVED: Final = "data-panelshift-saved"
_MOST_BYTES: Final = 32 * 1024 * 1024
_SAME_MM: Final = 2e-3
"""How far lines may lie from what was saved: drawings have three decimals."""

KINDS: Final[dict[str, Any]] = {"pattern": Pattern, "layers": tuple[LayerPattern, ...]}
"""What may be saved, and as what."""


@held_to_types
def saved(what: Pattern | Sequence[LayerPattern], form: Literal["json", "svg"] = "json") -> bytes:
    """Return a pattern, or layers, as a file that `read_saved` reads back as equal.

    Parameters
    ----------
    what : Pattern or sequence of LayerPattern
        Such as ``shifted.layers``.
    form : {"json", "svg"}
        JSON by the schema docs/schemas/pattern.json; or a drawing in true size to look at, which
        holds the same in data attributes of its own. Read as a draft, it is the pattern, or the
        drafted layer if it is among the layers, else the first.

    Returns
    -------
    bytes

    Raises
    ------
    WrongTypeError
        If it is neither; or a pattern or a fabric is of a class of your own, whose additions no
        file holds.
    PatternError
        If there is no layer.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> read_saved(saved(pattern)) == read_saved(saved(pattern, "svg")) == pattern
    True
    """
    layers: list[LayerPattern] = []
    shown: list[LayerPattern] = []
    if isinstance(what, Pattern):
        draft = what
    else:
        layers = list(what)
        for one in layers:
            WrongTypeError.unless(one, LayerPattern, "what is saved", "a Pattern, or layers")
        if not layers:
            raise PatternError("no layers to be saved", remedy="Give at least one.")
        shown = list(layers)
        layers.sort(key=lambda one: not one.drafted)
        draft = layers.pop(0).whole
    for own, known in ((draft, Pattern), *((one.fabric, Fabric) for one in shown)):
        if type(own) is not known:
            # What it adds no file of ours holds, and it would be read as damage.
            raise WrongTypeError(
                f"what is saved holds a {type(own).__name__}, a {known.__name__} of your own",
                remedy=f"Make a {known.__name__} of it, and keep what it adds yourself.",
            )
    kind = "pattern" if isinstance(what, Pattern) else "layers"
    data = {"panelshift": kind, "format": 1, "units": "mm", kind: plain(what)}
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    if form == "json":
        return f"{text}\n".encode()
    root = markup(with_added(draft_svg(draft), {o.fabric.name: draft_svg(o.whole) for o in layers}))
    root.set(_SAVED, text)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def read_saved(
    source: str | os.PathLike[str] | bytes,
) -> Pattern | tuple[LayerPattern, ...]:
    """Read what `saved` gave, from a file or from bytes.

    Parameters
    ----------
    source : path or bytes
        JSON or SVG, whichever it is.

    Returns
    -------
    Pattern or tuple of LayerPattern
        Equal to what was saved.

    Raises
    ------
    PatternError
        If it cannot be read, is neither, or is a drawing whose lines were changed since it was
        saved: then what it holds in its data is no longer what it shows.
    SvgError
        If a drawing is no readable SVG.

    Examples
    --------
    >>> try:
    ...     read_saved(b"{}")
    ... except PatternError as error:
    ...     print(error)
    saved: is no saved pattern
      What to do: Give what saved() returned; a draft is read by read_pattern.
    """
    content, name = _content(source)
    found = _held(content, name)
    if found is None:
        raise PatternError(
            "is no saved pattern",
            remedy="Give what saved() returned; a draft is read by read_pattern.",
            source=name,
        )
    if is_svg(content) and not _shows(content, saved(found, "svg")):
        raise PatternError(
            "its lines were changed since it was saved",
            remedy="Read it as a draft, by read_pattern; or save it anew.",
            source=name,
        )
    return found


def _held(content: bytes, name: str) -> Pattern | tuple[LayerPattern, ...] | None:
    """What saved data hold; None if they are something else."""
    try:
        text = load(content, name).root.get(_SAVED, "") if is_svg(content) else content.decode()
        data = json.loads(text)
        kind = data["panelshift"]
        stated, plainly = KINDS[kind], data[kind]
        if data["format"] != 1 or data["units"] != "mm":
            return None
    except PanelshiftError as error:
        raise error.located(source=name) from error
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    # Outside: what goes wrong in making it is no matter of what else the file may be.
    try:
        found: Pattern | tuple[LayerPattern, ...] = made(stated, plainly, kind)
        refuse_nonsense(found)
    except UnfitDataError as error:
        raise PatternError(
            f"what was saved is damaged: {error.problem}",
            remedy="Save it again.",
            source=name,
            element=error.place,
        ) from error
    except PanelshiftError as error:
        raise error.located(source=name) from error
    return found or None


def _content(source: str | os.PathLike[str] | bytes) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        return source, "saved"
    WrongTypeError.unless(source, (str, os.PathLike), "what was saved", "a path, or bytes")
    path = Path(source)
    too_large = ("is far too large", "Give what saved() returned.")
    check = "Check the path."
    raw = read_bounded(path, _MOST_BYTES, PatternError, check=check, too_large=too_large)
    return raw, str(path)


def _shows(content: bytes, wanted: bytes) -> bool:
    """Whether a drawing still shows what it was saved with, line for line."""
    one, two = _lines(content), _lines(wanted)
    return len(one) == len(two) and all(
        a.shape == b.shape and bool(np.allclose(a, b, rtol=0.0, atol=_SAME_MM))
        for a, b in zip(one, two, strict=True)
    )


def _lines(content: bytes) -> list[FloatArray]:
    """Control points of all lines of a drawing, those of the layers beside the draft as well."""
    root = markup(content)
    for element in root.iter():
        element.attrib.pop(ADDED, "")
    return [shape.curve.control for shape in read_svg(etree.tostring(root)).shapes]

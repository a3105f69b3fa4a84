"""Every error a user can cause, each naming the file, the element, the fault and the remedy."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import partial
from numbers import Integral
from typing import Any, Final

_MOST_LISTED: Final = 24
"""Names or faults listed in a message."""


_HUGE: Final = re.compile(r"(\S{120})\S{280,}")
"""A word of 400 letters or more. Names may have 300."""

NEXT_FAULT: Final = "\n    "
"""Between faults that are listed below each other."""


def few(items: Iterable[str], between: str = ", ", *, total: int = 0) -> str:
    """Join items for a message, with the number of those beyond two dozen.

    *total*: how many there are, where the items are but the first of them.

    Examples
    --------
    >>> few(["a", "b"]), few(map(str, range(30)))[-17:]
    ('a, b', '22, 23 and 6 more')
    """
    found = list(items)
    more = max(total, len(found)) - _MOST_LISTED
    shown = between.join(found[:_MOST_LISTED])
    if more <= 0:
        return shown
    return f"{shown}{between if between.isspace() else ' '}and {more} more"


def _shortened(words: str) -> str:
    """Words without what no maker reads: a file may have a name of a million letters."""
    return _HUGE.sub(lambda found: f"{found[1]}...", words)


class PanelshiftError(Exception):
    """Base of all errors that a user's input can cause.

    Parameters
    ----------
    problem : str
        What is wrong, in the maker's terms.
    remedy : str
        What to do about it.
    source : str
        File (or other origin) that holds the fault; empty if there is none.
    element : str
        Id of the element, or key of the job file; empty if there is none.
    at : (float, float) or None
        Where on the sheet the fault lies, in mm, if it lies at one place.
    key : str
        Key of the job file's ``[pattern]`` that settles the matter, where only the maker can;
        empty if none does.

    Examples
    --------
    >>> from panelshift import Fabric, PanelshiftError
    >>> try:
    ...     Fabric("satin", -0.3)
    ... except PanelshiftError as error:
    ...     print(error)
    satin: thickness -0.3 of fabric 'satin' is not between 0 and 50
      What to do: Thickness is in mm; coverage is a part of 1; loft is a factor.
    """

    def __init__(
        self,
        problem: str,
        *,
        remedy: str,
        source: str = "",
        element: str = "",
        at: tuple[float, float] | None = None,
        key: str = "",
    ) -> None:
        self.problem: str = _shortened(problem)
        self.remedy = remedy
        self.source = source
        self.element: str = _shortened(element)
        self.at = at
        self.key = key
        super().__init__(self.problem)

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.source, self.element) if part)
        head = f"{place}: " if place else ""
        return f"{head}{self.problem}\n  What to do: {self.remedy}"

    @property
    def _parts(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("remedy", "source", "element", "at", "key")}

    def __reduce__(self) -> tuple[object, ...]:
        # Exceptions with keyword-only arguments do not pickle by themselves; batch
        # runs carry errors between processes.
        return partial(type(self), self.problem, **self._parts), ()

    def located(self, *, source: str = "", element: str = "") -> PanelshiftError:
        """Return the same error with a source or element filled in where it has none.

        Parameters
        ----------
        source, element : str
            As for the class.

        Returns
        -------
        PanelshiftError
            Of the same subclass.
        """
        place = {"source": self.source or source, "element": self.element or element}
        return type(self)(self.problem, **(self._parts | place))


class UnknownNameError(PanelshiftError, KeyError):
    """There is no panel, layer or level of a name; the remedy lists the names there are."""

    @classmethod
    def of(cls, what: str, name: object, known: Iterable[str]) -> UnknownNameError:
        """The error for a name that nothing has.

        *what*: what is looked for, such as "panel". *known*: names there are.

        Examples
        --------
        >>> print(UnknownNameError.of("layer", "felt", ["lining", "drill"]))
        felt: there is no layer 'felt'
          What to do: Its name is one of: lining, drill.
        """
        names = few(known)
        remedy = f"Its name is one of: {names}." if names else "There is none at all."
        # An array is told in several lines.
        shown = f"{name:.80}" if isinstance(name, str) else " ".join(repr(name)[:160].split())[:80]
        return cls(f"there is no {what} {shown!r}", remedy=remedy, element=shown)

    @classmethod
    def unless(cls, what: str, name: object, known: Sequence[str]) -> None:
        """Refuse what is none of the names there are; an array of names is none either.

        Examples
        --------
        >>> UnknownNameError.unless("edge", "front", ["front", "back"])
        >>> try:
        ...     UnknownNameError.unless("edge", None, ["front", "back"])
        ... except KeyError as error:
        ...     print(error)
        None: there is no edge 'None'
          What to do: Its name is one of: front, back.
        """
        if not (isinstance(name, str) and name in known):
            raise cls.of(what, name, known)

    @classmethod
    def place(cls, what: str, key: object, known: Sequence[str]) -> int:
        """The place of a name among those there are, or the place itself if there is such a one.

        Examples
        --------
        >>> UnknownNameError.place("layer", "drill", ["lining", "drill"])
        1
        >>> try:
        ...     UnknownNameError.place("layer", -1, ["lining", "drill"])
        ... except KeyError as error:
        ...     print(error)
        -1: there is no layer '-1'
          What to do: Its name is one of: lining, drill.
        """
        if isinstance(key, str) and key in known:
            return known.index(key)
        # true and false are no places, and nothing is counted from the end unsaid.
        if isinstance(key, Integral) and not isinstance(key, bool) and 0 <= int(key) < len(known):
            return int(key)
        raise cls.of(what, key, known)


class WrongTypeError(PanelshiftError, TypeError):
    """A value of another type than a function takes, such as a list where a stack belongs."""

    @classmethod
    def unless(cls, value: object, kinds: Any, what: str, wanted: str) -> None:
        """Refuse a value that is of none of some kinds.

        *what*: what it is given as. *wanted*: what to give instead.

        Examples
        --------
        >>> try:
        ...     WrongTypeError.unless("0.5", (int, float), "the thickness", "a number in mm")
        ... except TypeError as error:
        ...     print(error)
        the thickness is '0.5', a str
          What to do: Give a number in mm.
        """
        if not isinstance(value, kinds):
            shown = "" if value is None else f"{value!r:.40}, "
            kind = "None" if value is None else f"a {type(value).__name__}"
            raise cls(f"{what} is {shown}{kind}", remedy=f"Give {wanted}.")


class UnitError(PanelshiftError, ValueError):
    """A length that cannot be read: no number, an unknown unit, or not finite."""


class SvgError(PanelshiftError, ValueError):
    """A file that is not readable SVG, or an element whose geometry cannot be trusted."""


class PdfError(PanelshiftError, ValueError):
    """A PDF that is locked or damaged, or whose pages do not make up one drawing."""


class DxfError(PanelshiftError, ValueError):
    """A DXF file that cannot be read, whose unit is open, or that shows no lines."""


class PhotoError(PanelshiftError, ValueError):
    """Photos or scans of a draft on paper whose true size or lines are not to be trusted."""


class CurveError(PanelshiftError, ValueError):
    """A curve whose numbers make no sense: not finite, of the wrong shape, or empty."""


class PatternError(PanelshiftError, ValueError):
    """Shapes that do not make up a pattern: outlines, waistlines, order or names."""


class ScaleError(PatternError):
    """The pattern's waist disagrees with the drafted waist: the scale is in doubt."""


class StackError(PanelshiftError, ValueError):
    """A fabric stack that makes no sense."""


class StackNameError(UnknownNameError, StackError):
    """A stack, or what is said of one, names a fabric or a panel that there is not."""


class BodyError(PanelshiftError, ValueError):
    """A body model that cannot be built from its parameters or does not close."""


class BodyNameError(UnknownNameError, BodyError):
    """A body model is asked for a class or a mean form that there is not."""


class FormError(PanelshiftError, ValueError):
    """A scan, traced sections or tapes that are not to be trusted as a body."""


class ShiftError(PanelshiftError, ValueError):
    """A shift that would fold a panel or make its edges cross."""


class AlterationError(PanelshiftError, ValueError):
    """An alteration that cannot be made to the draft, or that says too little."""


class ConstructionError(PanelshiftError, ValueError):
    """A way of sewing that contradicts itself, the stack or the drawing, or leaves a question."""


class ConstructionNameError(UnknownNameError, ConstructionError):
    """A way of sewing names a fabric or a panel that there is not."""


class JobError(PanelshiftError, ValueError):
    """A job file that cannot be read or holds faults; all of them are listed."""


class SwatchError(PanelshiftError, ValueError):
    """Readings of a pinned swatch that cannot be right, or cannot be read."""


class PrintError(PanelshiftError, ValueError):
    """Paper, margins or overlaps that cannot be printed on."""


class OutputError(PanelshiftError, OSError):
    """A file or directory that cannot be written."""

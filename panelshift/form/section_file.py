"""What was measured of a body, and the file that holds it, as text that jobs use."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal, cast, get_args

import numpy as np

from ..body.form import FormErrors, FormModel
from ..body.measures import Measures
from ..body.support import ORDER, Sections
from ..errors import BodyError, FormError, WrongTypeError
from ..files import read_bounded
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline import FloatArray
from ..outline.by_value import ByValue, fix, read_only
from ..units import LONGEST_MM, MM_PER_UNIT, refuse_other_units

MadeFrom = Literal["scan", "traced"]

_DIGITS: Final = {"mm": 0, "cm": 1, "in": 2}


@dataclass(frozen=True, eq=False)
class MeasuredForm(ByValue):
    """Sections of one body in one frame.

    Parameters
    ----------
    heights : ndarray, shape (k,)
        Upright, in mm above the waist, increasing.
    sections : Sections
        In mm; x to the wearer's left, y to the front.
    made_from : {"scan", "traced"}
    errors : FormErrors
    found : tuple of str
        What was found out, in words.
    names : mapping of str to float
        Heights in mm of levels that were named.

    Raises
    ------
    BodyError
        As of `FormModel`.

    Examples
    --------
    >>> round_body = Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 100.0))
    >>> form = MeasuredForm(np.array([-50.0, 50.0]), round_body, "traced", FormErrors())
    >>> form.shown_girth(0.0, "cm")
    '62.8 cm'
    """

    heights: FloatArray
    sections: Sections
    made_from: MadeFrom
    errors: FormErrors
    found: tuple[str, ...] = ()
    names: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        refuse_misfits(self, "a measured form")
        read_only(self, "heights")
        fix(self, "names")
        # What it is made of must make a body: better now than when it is used.
        _ = self.model()

    def girth_at(self, height: float) -> float:
        """Girth in mm at a height.

        Parameters
        ----------
        height : float
            In mm above the waist.

        Returns
        -------
        float

        Raises
        ------
        BodyError
            If the height is none.
        """
        WrongTypeError.unless(height, (int, float, np.number), "the height", "a number in mm")
        if not abs(height) <= LONGEST_MM:
            raise BodyError(f"a height of {height!r:.40} mm", remedy="Give it in mm.")
        return float(np.interp(height, self.heights, self.sections.girths))

    def shown_girth(self, height: float, units: str) -> str:
        """Girth at a height as a tape reads it: whole mm, tenths of a cm, hundredths of an inch.

        Parameters
        ----------
        height : float
            In mm above the waist.
        units : {"mm", "cm", "in"}
            In which it is shown.

        Returns
        -------
        str

        Raises
        ------
        UnknownNameError
            If there is no such unit.
        """
        refuse_other_units(units)
        return f"{self.girth_at(height) / MM_PER_UNIT[units]:.{_DIGITS[units]}f} {units}"

    def model(self, girths: Measures | None = None) -> FormModel:
        """The body model that lays panels round it.

        Parameters
        ----------
        girths : Measures, optional
            Girths in mm to bring the sections to; else the pattern's own.

        Returns
        -------
        FormModel
        """
        return FormModel(self.heights, self.sections, True, girths, self.errors, self.names)


FORMAT: Final = "panelshift body sections"
VERSION: Final = 1

LARGEST: Final = 4_000_000
"""Bytes; 120 levels have a quarter of a million."""

MOST_LEVELS: Final = 2_000

_REMEDY: Final = "Make it again with panelshift form."


@held_to_types
def section_file(form: MeasuredForm) -> bytes:
    """Write sections as a file.

    Parameters
    ----------
    form : MeasuredForm

    Returns
    -------
    bytes
        JSON. Each level has a row of `support`: the Fourier series of its support function in
        mm, the constant first, then real and imaginary part of each harmonic, to 0.0001 mm.
        No name, path or date of the scan is in it.

    Examples
    --------
    >>> round_body = Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 100.0))
    >>> form = MeasuredForm(np.array([-50.0, 50.0]), round_body, "traced", FormErrors())
    >>> section_file(form).splitlines()[1]
    b' "format": "panelshift body sections",'
    """
    rows = []
    for row in form.sections.coefficients:
        numbers = np.column_stack([row.real, row.imag]).ravel()
        rows.append([round(float(v), 4) + 0.0 for v in (numbers[0], *numbers[2:])])
    head = {
        "format": FORMAT,
        "version": VERSION,
        "made_from": form.made_from,
        "found": list(form.found),
        "errors": {
            "surface_mm": round(form.errors.surface, 3),
            "front_degrees": round(float(np.degrees(form.errors.front)), 3),
            "waist_mm": round(form.errors.waist, 3),
        },
        "names": {name: round(height, 2) for name, height in form.names.items()},
        "girths_mm": [round(float(v), 1) for v in form.sections.girths],
        "heights_mm": [round(float(v), 3) for v in form.heights],
    }
    # One line a level: a file that people can look at and compare.
    text = json.dumps(head, indent=1)
    body = ",\n  ".join(json.dumps(row, separators=(",", ":")) for row in rows)
    return f'{text[:-2]},\n "support": [\n  {body}\n ]\n}}\n'.encode()


@held_to_types
def read_section_file(path: str | os.PathLike[str]) -> MeasuredForm:
    """Read a section file.

    Parameters
    ----------
    path : path

    Returns
    -------
    MeasuredForm

    Raises
    ------
    FormError
        If it is not a section file of a version that is known, or its numbers make no body.

    Examples
    --------
    >>> import tempfile
    >>> round_body = Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 100.0))
    >>> form = MeasuredForm(np.array([-50.0, 50.0]), round_body, "traced", FormErrors())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     written = Path(folder) / "sections.json"
    ...     _ = written.write_bytes(section_file(form))
    ...     read_section_file(written).shown_girth(0.0, "mm")
    '628 mm'
    """
    source = str(path)
    raw = read_bounded(
        Path(path),
        LARGEST,
        FormError,
        check="Make it with panelshift form, or mend the path in the job file.",
        too_large=("larger than 4 MB: this is no section file", _REMEDY),
    )
    try:
        data = json.loads(raw)
    except (ValueError, RecursionError):
        raise FormError("this is not a section file", remedy=_REMEDY, source=source) from None
    return _form(data, source)


def _form(data: Any, source: str) -> MeasuredForm:
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise FormError("this is not a section file", remedy=_REMEDY, source=source)
    if data.get("version") != VERSION:
        raise FormError(
            f"its version is {data.get('version')!r:.20}; this panelshift reads version {VERSION}",
            remedy=_REMEDY,
            source=source,
        )
    heights = _numbers(data, "heights_mm", source, None)
    support = _numbers(data, "support", source, 2 * ORDER + 1)
    if heights.ndim != 1 or len(heights) != len(support) or not 2 <= len(heights) <= MOST_LEVELS:
        raise FormError(
            "heights and sections do not belong together", remedy=_REMEDY, source=source
        )
    coefficients = np.empty((len(support), ORDER + 1), dtype=np.complex128)
    coefficients[:, 0] = support[:, 0]
    coefficients[:, 1:] = support[:, 1::2] + 1j * support[:, 2::2]
    if not (np.diff(heights) > 0.0).all() or not (support[:, 0] > 0.0).all():
        raise FormError(
            "heights do not increase, or a section has no girth", remedy=_REMEDY, source=source
        )
    errors, names = _items(data, "errors", dict), _items(data, "names", dict)
    made_from = data.get("made_from")
    if made_from not in get_args(MadeFrom):
        raise FormError(
            f"it was made from {made_from!r:.40}, not from one of {', '.join(get_args(MadeFrom))}",
            remedy=_REMEDY,
            source=source,
            element="made_from",
        )
    return MeasuredForm(
        heights,
        Sections(coefficients),
        cast(MadeFrom, made_from),
        FormErrors(
            _one(errors, "surface_mm", 1.0, source),
            float(np.radians(_one(errors, "front_degrees", 0.5, source))),
            _one(errors, "waist_mm", 5.0, source),
        ),
        tuple(word for word in _items(data, "found", list) if isinstance(word, str)),
        {key: _one(names, key, 0.0, source, low=-1e4, high=1e4) for key in names},
    )


def _numbers(data: dict[str, Any], key: str, source: str, width: int | None) -> FloatArray:
    try:
        found = np.asarray(data[key], dtype=np.float64)
    except (KeyError, TypeError, ValueError) as error:
        raise FormError(
            f"its {key} are not numbers", remedy=_REMEDY, source=source, element=key
        ) from error
    shape_fits = found.ndim == 1 if width is None else found.ndim == 2 and found.shape[1] == width
    if not shape_fits or not np.isfinite(found).all() or np.abs(found).max(initial=0.0) > 5e3:
        raise FormError(
            f"its {key} are not those of a body", remedy=_REMEDY, source=source, element=key
        )
    return found


def _items(data: dict[str, Any], key: str, kind: type) -> Any:
    """What a key holds, if it is of a kind; else none of that kind."""
    value = data.get(key)
    return value if isinstance(value, kind) else kind()


def _one(
    data: dict[str, Any],
    key: str,
    otherwise: float,
    source: str,
    *,
    low: float = 0.0,
    high: float = 100.0,
) -> float:
    value = data.get(key, otherwise)
    if not isinstance(value, int | float) or not low <= value <= high:
        raise FormError(
            f"its {key:.40} is no number from {low:g} to {high:g}",
            remedy=_REMEDY,
            source=source,
            element=key,
        )
    return float(value)

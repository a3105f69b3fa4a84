"""The order of the fabrics on the body and the distances between them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import StackError, StackNameError, WrongTypeError
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline import FloatArray
from .fabric import Fabric, refuse_no_height
from .measured import MeasuredDistance, fault, meet
from .surfaces import Surface, Surfaces, quadrature

MOST_FABRICS: Final = 200
"""Far beyond any corset. Time and memory grow with the square of their number."""


@dataclass(frozen=True)
class Stack:
    """Fabrics from the body outwards, one of which keeps the drafted size.

    Parameters
    ----------
    fabrics : sequence of Fabric
    drafted : str
        Name of the drafted layer; the innermost if empty.
    measured : sequence of MeasuredDistance
        Distances that swatches gave. One counts on every panel on which both its fabrics and
        all that lie between them in the stack are: that is what the swatch held. Elsewhere
        the thicknesses count.

    Raises
    ------
    StackError
        If there is no fabric or there are more than 200, two have one name, the drafted layer does
        not cover every panel, or a measured distance does not fit the fabrics or the others.
    StackNameError
        If the drafted layer, or one of a measured distance, is not among them.

    Examples
    --------
    >>> stack = Stack([Fabric("lining", 0.2), Fabric("coutille", 0.4), Fabric("satin", 0.3)])
    >>> [round(float(d), 3) for d in stack.distances(["1"])[:, 0]]
    [0.0, 0.3, 0.65]
    >>> pinned = MeasuredDistance("lining", "satin", 0.52, 0.03)
    >>> stack = Stack(stack.fabrics, measured=[pinned])
    >>> [round(float(d), 3) for d in stack.distances(["1"])[:, 0]]
    [0.0, 0.24, 0.52]
    """

    fabrics: Sequence[Fabric]
    drafted: str = ""
    measured: Sequence[MeasuredDistance] = ()

    def __post_init__(self) -> None:
        WrongTypeError.unless(self.fabrics, Iterable, "what a stack is of", "a list of Fabric")
        if isinstance(self.fabrics, Iterator):
            object.__setattr__(self, "fabrics", tuple(self.fabrics))
        for fabric in self.fabrics if isinstance(self.fabrics, Sequence) else ():
            WrongTypeError.unless(fabric, Fabric, "a layer of the stack", "Fabric(name, thickness)")
        refuse_misfits(self, "the stack")
        names = list(self.names)
        if not names:
            raise StackError("a stack without fabrics", remedy="Name at least one fabric.")
        if len(names) > MOST_FABRICS:
            raise StackError(
                f"a stack of {len(names)} fabrics",
                remedy=f"Give {MOST_FABRICS} at most: every two of them are reckoned together.",
            )
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise StackError(
                f"two fabrics have the name {twice[0]!r}",
                remedy="Give each layer its own name, even if it is the same cloth.",
                element=twice[0],
            )
        drafted = self.drafted or names[0]
        if drafted not in names:
            raise StackNameError(
                f"the drafted layer {drafted!r} is not in the stack",
                remedy=f"Name as drafted layer one of the fabrics: {', '.join(names)}.",
                element="drafted_layer",
            )
        kept = self.fabrics[names.index(drafted)]
        if kept.panels is not None or kept.band is not None:
            raise StackError(
                f"the drafted layer {drafted!r} does not cover every panel from top to bottom",
                remedy=f"All others are reckoned from it: name as drafted_layer a fabric that "
                f"lies on all of them{_covering(self.fabrics)}, or leave panels, from and to out "
                f"of {drafted!r}.",
                element="drafted_layer",
            )
        object.__setattr__(self, "drafted", drafted)
        self._refuse_strange_pairs()
        # Contradictions are told when the stack is made, not when a panel asks.
        self.surfaces()

    def __len__(self) -> int:
        return len(self.fabrics)

    def _repr_svg_(self) -> str:
        from .stack_picture import stack_picture

        return stack_picture(self)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the fabrics, from the body outwards."""
        return tuple(fabric.name for fabric in self.fabrics)

    @property
    def drafted_index(self) -> int:
        """Place of the drafted layer, counted from the body."""
        return self.names.index(self.drafted)

    @held_to_types
    def places(self, inner: str, outer: str) -> tuple[int, int]:
        """Places of two fabrics, counted from the body.

        Parameters
        ----------
        inner, outer : str
            Names of two fabrics; the first lies nearer to the body.

        Returns
        -------
        (int, int)
            0 is next to the body.

        Raises
        ------
        StackNameError
            If one is not in the stack.
        StackError
            If the first does not lie inside the second.
        """
        names = self.names
        for name in (inner, outer):
            if name not in names:
                raise StackNameError(
                    f"there is no layer {name!r} in the stack",
                    remedy=f"The fabrics of the stack are: {', '.join(names)}.",
                    element=name,
                )
        i, j = names.index(inner), names.index(outer)
        if i >= j:
            raise StackError(
                f"{inner!r} does not lie inside {outer!r}",
                remedy=f"Name the layer nearer to the body first; from the body outwards: "
                f"{', '.join(names)}.",
                element=inner,
            )
        return i, j

    @held_to_types
    def distances(self, panels: Sequence[str]) -> FloatArray:
        """Signed distance of each layer's mid-surface from the drafted layer's.

        Parameters
        ----------
        panels : sequence of str
            Panel names.

        Returns
        -------
        ndarray, shape (layers, panels)
            In mm, positive away from the body: half of each thickness plus all that lies
            between, or what was measured.

        Raises
        ------
        StackError
            If on a panel the measured distances cannot all hold.
        """
        columns = [self.surfaces(panel).middles for panel in panels]
        return np.array(columns).reshape(len(panels), len(self)).T

    @property
    def changes_with_height(self) -> bool:
        """Whether a fabric is not the same at all heights."""
        return any(fabric.changes_with_height for fabric in self.fabrics)

    def at(self, height: float) -> Stack:
        """The stack as it is at a height in mm above the waist.

        Parameters
        ----------
        height : float

        Returns
        -------
        Stack

        Raises
        ------
        StackError
            If the height is no number.
        """
        refuse_no_height(height)
        if not self.changes_with_height:
            return self
        fabrics = tuple(fabric.at(height) for fabric in self.fabrics)
        if fabrics not in self._at_heights:
            self._at_heights[fabrics] = replace(self, fabrics=fabrics)
        return self._at_heights[fabrics]

    @cached_property
    def _at_heights(self) -> dict[tuple[Fabric, ...], Stack]:
        return {}

    @held_to_types
    def at_heights(
        self, panels: Sequence[str], heights: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Every surface on panels at several heights, and what each fabric adds there.

        Parameters
        ----------
        panels : sequence of str
        heights : ndarray, shape (m,)
            In mm above the waist.

        Returns
        -------
        positions : ndarray, shape (layers + 2, panels, m)
            Skin side, every mid-surface, outside, in mm from the drafted layer's.
        builds : ndarray, shape (layers, panels, m)
            In mm, 0 where a fabric does not lie.

        Raises
        ------
        StackError
            If the heights are no row of numbers.
        """
        if heights.ndim != 1:
            raise StackError(
                f"heights of shape {heights.shape}, not (m,)",
                remedy="Give a row of heights in mm above the waist.",
            )
        every = [self] * len(heights)
        if self.changes_with_height:
            every = [self.at(height) for height in heights.tolist()]
        positions = np.zeros((len(self) + 2, len(panels), len(heights)))
        builds = np.zeros((len(self), len(panels), len(heights)))
        alike: dict[int, list[int]] = {}
        for place, here in enumerate(every):
            alike.setdefault(id(here), []).append(place)
        for places in alike.values():
            here = every[places[0]]
            for number, name in enumerate(panels):
                positions[:, number, places] = here.surfaces(name).positions[:, None]
                own = [fabric.build * fabric.covers(name) for fabric in here.fabrics]
                builds[:, number, places] = np.array(own)[:, None]
        return positions, builds

    def surfaces(self, panel: str | None = None) -> Surfaces:
        """Every surface on a panel, with its uncertainty.

        Parameters
        ----------
        panel : str, optional
            Where every fabric lies if not given.

        Returns
        -------
        Surfaces
            Positions in mm from the drafted layer's mid-surface, positive away from the body.

        Raises
        ------
        StackError
            If on this panel the measured distances cannot all hold.
        """
        # Most panels have all fabrics: each set of them is worked out once.
        here = self._lie_on(panel)
        key = here.tobytes()
        if key not in self._worked_out:
            found = self._surfaces(panel, here)
            for array in vars(found).values():
                if isinstance(array, np.ndarray):
                    array.flags.writeable = False
            self._worked_out[key] = found
        return self._worked_out[key]

    @cached_property
    def _worked_out(self) -> dict[bytes, Surfaces]:
        return {}

    def _surfaces(self, panel: str | None, here: npt.NDArray[np.bool_]) -> Surfaces:
        builds = np.array([fabric.build for fabric in self.fabrics]) * here
        unknown = float("nan")
        uncertainty = [fabric.build_uncertainty for fabric in self.fabrics]
        known = np.array([unknown if u is None else u for u in uncertainty])
        # What does not lie here adds exactly nothing.
        known[~here] = 0.0
        used = self.applied(panel)
        chosen = [self.measured[k] for k in used]
        spans = [self.places(item.inner, item.outer) for item in chosen]
        gaps = meet(0.5 * (builds[:-1] + builds[1:]), chosen, spans)
        of_all = np.zeros((len(gaps.sizes), len(self.measured)))
        of_all[:, used] = gaps.of_measured
        widened = np.ones(len(self.measured))
        widened[used] = gaps.widened
        cloths = np.array([fabric.cloth or f"\0{fabric.name}" for fabric in self.fabrics])
        return Surfaces.of(
            self.names,
            builds,
            known,
            replace(gaps, of_measured=of_all, widened=widened),
            np.array([item.uncertainty for item in self.measured]),
            self.drafted_index,
            (cloths[:, None] == cloths).astype(float),
        )

    def applied(self, panel: str | None = None) -> list[int]:
        """Which of the measured distances count on a panel.

        Parameters
        ----------
        panel : str, optional
            Where every fabric lies if not given.

        Returns
        -------
        list of int
            Places in `measured`.
        """
        here = self._lie_on(panel)
        spans = [self.places(item.inner, item.outer) for item in self.measured]
        return [k for k, (i, j) in enumerate(spans) if here[i : j + 1].all()]

    @held_to_types
    def girth_uncertainty(
        self,
        turns: Mapping[str, float],
        first: Surface,
        second: Surface,
        *,
        ridges: bool = False,
    ) -> float | None:
        """Standard uncertainty of a girth that follows from distances.

        The girth of a surface differs from another's by the sum over panels of angle times
        distance. One fabric is equally wrong on all panels, so its parts are added before
        they are squared (GUM, JCGM 100:2008, 5.2.2, full correlation).

        Parameters
        ----------
        turns : mapping of panel name to float
            Angle in radians (times the cosine of the tilt) that each panel turns through;
            both halves together.
        first, second : int, "skin" or "outside"
            The surfaces between which the girth differs.
        ridges : bool
            Whether fabrics that cover a part only count with their whole thickness at the
            second: a tape rests on bones.

        Returns
        -------
        float or None
            In mm; None if a thickness that matters has no stated uncertainty.

        Raises
        ------
        StackError
            If there is no such surface.
        """
        thickness = np.zeros(len(self))
        parts = np.array([fabric.coverage for fabric in self.fabrics])
        above = np.zeros(len(self))
        if ridges:
            # What a part-covering fabric stands above its average, for each mm of that.
            np.divide(1.0 - parts, parts, out=above, where=parts > 0.0)
        measured = np.zeros(len(self.measured))
        for panel, turn in turns.items():
            surfaces = self.surfaces(panel)
            if surfaces.unknown(first, second):
                return None
            of_thickness, of_measured = surfaces.shares(first, second)
            # On a panel without a fabric its share is of nothing.
            thickness += turn * (of_thickness + above) * self._lie_on(panel)
            measured += turn * of_measured
        return quadrature(thickness, measured, self.surfaces())

    def total(self) -> float:
        """Thickness where every fabric lies.

        Returns
        -------
        float
            In mm, from the skin side to the outside.
        """
        surfaces = self.surfaces()
        return surfaces.outside - surfaces.skin

    def _lie_on(self, panel: str | None) -> npt.NDArray[np.bool_]:
        return np.array([panel is None or fabric.covers(panel) for fabric in self.fabrics])

    def _refuse_strange_pairs(self) -> None:
        seen = set()
        for item in self.measured:
            try:
                pair = self.places(item.inner, item.outer)
            except StackError as error:
                told = fault(f"measured distance: {error.problem}", error.remedy)
                raise type(error)(told.problem, remedy=told.remedy, element=told.element) from None
            if pair in seen:
                raise fault(
                    f"the distance {item.pair} is given twice", "Keep one entry for each pair."
                )
            seen.add(pair)


def _covering(fabrics: Sequence[Fabric]) -> str:
    """Names of the fabrics that lie on every panel, to be put into a sentence."""
    names = [one.name for one in fabrics if one.panels is None and one.band is None]
    return f" ({', '.join(names)})" if names else ""

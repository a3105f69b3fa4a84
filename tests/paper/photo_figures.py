"""What docs/reliability.md says of photographs: python -m tests.paper.photo_figures"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from unittest.mock import patch

import numpy as np

from panelshift.errors import PhotoError
from panelshift.sources.paper import placing
from panelshift.sources.paper.doubts import doubts_of, refuse_untrue
from tests.paper.photographed import (
    FOUR_VIEWS,
    TWO_VIEWS,
    Errors,
    Lens,
    errors_within,
    laid_round,
    lenses,
    seen_corners,
    shots,
    solved,
    telephones,
)

SIZES = ((700.0, 480.0), (900.0, 600.0), (500.0, 400.0))
"""Of drafts, in mm."""

TRUE_MM = 0.3
"""What is further off is wrong: a place, or any length of 400 mm."""


@dataclass(frozen=True)
class Case:
    """A way to lay strips and to take photos. *lift*: how high strips stand, in mm.
    *focused*: by what part focal lengths come and go from photo to photo."""

    words: str
    views: Sequence[tuple[float, float]] = FOUR_VIEWS
    inside: bool = True
    noise: float = 0.1
    lift: Mapping[str, float] = field(default_factory=dict)
    off: float = 20.0
    odd: bool = True
    focused: float = 0.0


CASES = (
    Case("four photos, six strips round the draft and one on it"),
    Case("two photos, the same strips", TWO_VIEWS),
    Case("four photos, corners found half as well (0.28 pixels)", noise=0.2),
    Case("four photos, no strip on the draft", inside=False),
    Case("two photos, no strip on the draft", TWO_VIEWS, inside=False),
    Case("four photos, the strip on the draft stands up by 0.5 mm", lift={"G": 0.5}),
    Case("four photos, the strip on the draft stands up by 2 mm", lift={"G": 2.0}),
    Case("two photos, cropped by a quarter of their width", TWO_VIEWS, off=700.0),
    Case("four photos, focused anew: focal lengths apart by 1 %", focused=0.01),
    Case("four photos, focused anew: focal lengths apart by 2 %", focused=0.02),
    Case("four photos, by a model without odd powers", odd=False),
)


def chosen() -> list[Lens]:
    """All measured telephones, and twenty of the other lenses."""
    known = lenses()
    return [*telephones(), *(known[k] for k in np.linspace(0, len(known) - 1, 20).astype(int))]


def outcomes(case: Case, some: Sequence[Lens]) -> Iterator[tuple[Lens, Errors, str]]:
    """For each lens how wrong the paper comes out, and why it is refused, if it is."""
    rng = np.random.default_rng(7)
    factors = placing._LENS_FACTORS if case.odd else (1e-6, 0.3, 1e-6, 0.2, 0.1)
    for place, lens in enumerate(some):
        size = SIZES[place % len(SIZES)]
        laid = laid_round(*size, inside=case.inside)
        middle = rng.normal(0.0, 20.0, 2) + (case.off - 20.0, 0.0)
        taken = shots(lens, laid, case.views, off=(float(middle[0]), float(middle[1])))
        if case.focused:
            apart = rng.permutation(np.linspace(-0.5, 0.5, len(taken))) * case.focused
            taken = [
                replace(shot, lens=replace(lens, focal=lens.focal * (1.0 + part)))
                for shot, part in zip(taken, apart, strict=True)
            ]
        with patch.object(placing, "_LENS_FACTORS", factors):
            seen = seen_corners(taken, laid, rng, noise=case.noise, lift=case.lift)
            placed = solved(taken, seen)
            doubts = doubts_of(placed)
        within = 0.5 * np.array([[-size[0], -size[1]], size])
        found = errors_within(placed, taken, laid, within)
        why = ""
        try:
            refuse_untrue(placed, doubts, ["photo"] * len(taken))
        except PhotoError as error:
            why = error.problem
        yield lens, found, why


def is_true(errors: Errors) -> bool:
    return errors.worst <= TRUE_MM and errors.of_400 <= TRUE_MM


def main() -> None:
    """Print the table."""
    heads = "taken, mean, worst place, worst 400 mm, taken wrongly, refused, refused needlessly"
    print(f"| | {heads.replace(', ', ' | ')} |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    some = chosen()
    for case in CASES:
        every = list(outcomes(case, some))
        taken = [errors for _, errors, why in every if not why]
        refused = [errors for _, errors, why in every if why]
        cells = [str(len(taken))]
        for name in ("mean", "worst", "of_400"):
            values = [getattr(errors, name) for errors in taken]
            cells.append(f"{(np.mean if name == 'mean' else np.max)(values):.2f}" if values else "")
        cells += [
            str(sum(not is_true(errors) for errors in taken)),
            str(len(refused)),
            str(sum(is_true(errors) for errors in refused)),
        ]
        print(f"| {case.words} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()

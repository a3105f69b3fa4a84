"""All cases of the geometry oracle, by name."""

from __future__ import annotations

from typing import Final

from . import (
    cases_arcs,
    cases_paths,
    cases_shapes,
    cases_styles,
    cases_transforms,
    cases_use,
    cases_viewports,
)
from .case import Case

_MODULES: Final = (
    cases_paths,
    cases_arcs,
    cases_shapes,
    cases_transforms,
    cases_viewports,
    cases_use,
    cases_styles,
)


def _by_name() -> dict[str, Case]:
    found: dict[str, Case] = {}
    for module in _MODULES:
        for case in module.CASES:
            if case.name in found:
                raise ValueError(f"two cases are called {case.name}")
            found[case.name] = case
    return found


CASES: Final = _by_name()

"""What step 3 shows: the layers, and the swatches behind their distances."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any, Final

from ..job.model import JobFile
from ..stack import Stack
from ..swatch import PairFit, compare
from ..units import show, shown_length, trimmed
from .stages import State
from .swatch_file import readings_of
from .toml_changes import KeyPath, value_at


def fabrics_view(state: State, file: JobFile) -> dict[str, Any]:
    """Return the layers from the body outwards, their allowances and their swatches."""
    units = file.pattern.units
    drafted = file.stack.drafted_layer or file.stack.fabric[0].name
    entries = value_at(state.data.value or {}, ("stack", "fabric"))
    rows = []
    for index, (fabric, entry) in enumerate(zip(file.stack.fabric, entries, strict=True)):
        rows.append(
            {
                "key": key_of(fabric.name),
                "name": fabric.name,
                "place": index,
                "thickness": shown_length(entry.get("thickness"), units),
                "unsure": shown_length(entry.get("thickness_uncertainty", ""), units),
                "coverage": trimmed(100.0 * fabric.coverage, 4),
                "loft": trimmed(fabric.loft, 4),
                "cut": fabric.coverage == 1.0 if fabric.cut_out is None else fabric.cut_out,
                "drafted": fabric.name == drafted,
                "panels": fabric.panels,
            }
        )
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


_WORDS: Final[Mapping[str, str]] = {
    "agrees": "agrees with the thicknesses",
    "compressed": "closer than the thicknesses say",
    "lofty": "further apart than the thicknesses say",
}


def _pair(fit: PairFit, stack: Stack, units: str) -> str:
    comparison = compare(fit, stack)
    return (
        f"{fit.inner} to {fit.outer}: {show(fit.distance, units)} between their middles, plus or "
        f"minus {show(fit.half_width, units)} from {len(fit.readings)} "
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

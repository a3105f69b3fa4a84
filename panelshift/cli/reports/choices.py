"""What the maker must choose before a drawing can be read, and what a new job file holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...job.choices import Choice, Survey
from ...units import show
from .tables import listing, paragraphs


def new_text(found: Survey, job: Path) -> str:
    """What `panelshift new` has to say about the job file that it wrote."""
    pattern = found.pattern
    if pattern is None:
        head = f"{job}: written, but the drawing cannot be read yet."
    else:
        drawn = "both halves" if pattern.full else "one half"
        head = (
            f"{job}: {len(pattern.panels)} panels found, {drawn} drawn, "
            f"whole waist {show(pattern.waist)}."
        )
    steps = "Measure your fabrics, fill in their thickness, then run: panelshift check " + str(job)
    if found.choices:
        keys = ", ".join(choice.key for choice in found.choices)
        steps = f"Open {job}, take away the # before one line of each choice ({keys}). {steps}"
    warnings = pattern.warnings if pattern else ()
    return paragraphs(
        head,
        *map(_choice_text, found.choices),
        listing("Look at", warnings),
        listing("Must be mended", found.faults),
        steps,
    )


def choices_text(found: Survey, source: str) -> str:
    """What is to be chosen, for people."""
    keys = ", ".join(choice.key for choice in found.choices)
    return paragraphs(
        f"{source}: the drawing can be read in more than one way. Nothing is cut before it is "
        f"said in [pattern] of the job file ({keys}); panelshift new writes one with these lines.",
        *map(_choice_text, found.choices),
        listing("Must be mended", found.faults),
    )


def _choice_text(choice: Choice) -> str:
    items = []
    for option in choice.options:
        value = option.value if isinstance(option.value, str) else ", ".join(option.value)
        lines = [f"{value or 'none'}: {option.gives}", *option.about]
        items.append("\n      ".join(lines))
    return listing(f"To be chosen: {choice.key}. {choice.question} {choice.why}", items)


def choices_data(found: Survey) -> dict[str, Any]:
    """What is to be chosen as plain data."""
    return {
        "unit": "mm",
        "panels": [],
        "choices": [
            {
                "key": choice.key,
                "question": choice.question,
                "why": choice.why,
                "options": [
                    {
                        "value": list(o.value) if isinstance(o.value, tuple) else o.value,
                        "gives": o.gives,
                        "about": list(o.about),
                    }
                    for o in choice.options
                ],
            }
            for choice in found.choices
        ],
        "warnings": [],
        "faults": [f"{c.question} {c.why}" for c in found.choices] + list(found.faults),
    }

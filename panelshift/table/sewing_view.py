"""How the corset is sewn, as fields of the page: every one that the library asks for."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ..job.model import JobFile
from ..job.sewing_fields import SewingField, SewingGroup, sewing_fields
from ..units import shown_length, trimmed
from .stages import State
from .toml_changes import key_of


@dataclass(frozen=True)
class SewnField:
    """A field as the page shows it; *panels*: of one by panel, each with its own number."""

    ident: str
    key: str
    place: str
    label: str
    help: str
    kind: str
    unit: str
    default: str
    value: str
    chosen: tuple[str, ...]
    options: tuple[tuple[str, str], ...]
    needed: bool
    panels: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class SewnGroup:
    """Fields that belong together; *kinds*: of each key, for a form that adds a table."""

    ident: str
    title: str
    table: str
    place: str
    present: bool
    fields: tuple[SewnField, ...]
    kinds: str

    @property
    def said(self) -> bool:
        """Whether the job says anything here."""
        return any(field.value or field.chosen for field in self.fields)


def sewing_view(state: State, file: JobFile) -> dict[str, Any]:
    """Return the groups of the whole corset, and those of each fabric by its name."""
    pattern = state.pattern.value
    panels = [] if pattern is None else [panel.name for panel in pattern.panels]
    units = file.pattern.units
    groups = [_group(group, units) for group in sewing_fields(file, panels)]
    own = [group for group in groups if group.table != "fabric"]
    return {
        "groups": own,
        "fabrics": {group.title: group for group in groups if group.table == "fabric"},
        "said": file.construction is not None,
    }


def _group(group: SewingGroup, units: str) -> SewnGroup:
    table = str(group.path[1]) if len(group.path) > 1 else "construction"
    ident = f"sewn-{'-'.join(map(str, group.path))}"
    fields = tuple(_field(field, group, units) for field in group.fields)
    kinds = json.dumps({field.key: field.kind for field in fields})
    title = (
        f"{group.title} {int(group.path[-1]) + 1}"
        if table in ("shell", "bones", "strip")
        else group.title
    )
    return SewnGroup(ident, title, table, json.dumps(group.path), group.present, fields, kinds)


def _field(field: SewingField, group: SewingGroup, units: str) -> SewnField:
    key = str(field.path[-1])
    ident = f"sewn-{'-'.join(map(str, field.path))}"
    unit = units if field.kind in ("length", "lengths") else field.unit
    by_panel = field.kind == "by panel"
    given = field.current if isinstance(field.current, dict) else {}
    return SewnField(
        ident,
        key,
        json.dumps(field.path),
        field.label,
        field.help,
        field.kind,
        unit,
        field.default,
        "" if by_panel else _shown(field, units),
        tuple(map(str, field.current)) if field.kind == "layers" and field.current else (),
        field.options,
        field.needed,
        tuple(
            (f"{ident}-{key_of(name)}", name, str(given.get(name, "")))
            for name, _ in (field.options if by_panel and group.present else ())
        ),
    )


def _shown(field: SewingField, units: str) -> str:
    """What the job says, as it stands in the field."""
    value = field.current
    if value is None or field.kind == "layers":
        return ""
    if field.kind == "length":
        return shown_length(value, units)
    if field.kind == "lengths":
        lengths: Sequence[object] = value
        return "; ".join(shown_length(length, units) for length in lengths)
    if field.kind == "share":
        return f"{trimmed(100.0 * value, 4)} %"
    if field.kind == "height" and value[:1] in ("+", "-"):
        return f"{value[0]}{shown_length(value[1:], units)} {units}"
    if field.kind == "yes or no":
        return "yes" if value else "no"
    return trimmed(value, 6) if isinstance(value, float) else str(value)

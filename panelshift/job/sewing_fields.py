"""Every key that says how a corset is sewn, with what a form needs to ask for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

from ..construction.sewing import ALLOWANCE_MM
from ..construction.tension import USUAL_LACING_KPA
from ..units import caliper_length, show
from .construction_keys import BonesTable, ConstructionTable, ShellTable, StripTable
from .model import FabricTable, JobFile
from .values import KeyTable

FieldKind = Literal[
    "choice", "length", "number", "share", "yes or no", "layers", "lengths", "by panel", "height"
]
"""What a field takes: one of its options; a length; a number; a part of 1, or percent with their
sign; true or false; a list of layers' names; a list of lengths; a whole number for each panel; a
level or a height from the waist."""


@dataclass(frozen=True)
class SewingField:
    """One key of a job that says how the corset is sewn, for a form.

    `path` leads to it in the job file, `default` is what counts if it is not given, in words,
    `current` what the job says, as it stands there, or None. `options` are the values of a choice
    (and the names that a list of layers or a table by panel takes), each with its words. `unit` is
    that of a bare number. `needed` ones have no default.
    """

    path: tuple[str | int, ...]
    label: str
    help: str
    kind: FieldKind
    unit: str = ""
    default: str = ""
    current: Any = None
    options: tuple[tuple[str, str], ...] = ()
    needed: bool = False


@dataclass(frozen=True)
class SewingGroup:
    """Fields that belong together: the whole corset, a shell, bones, a strip, a fabric.

    `path` leads to their table in the job file. `present` is false of a table that the job has not
    (yet), whose fields show what another one would take.
    """

    title: str
    path: tuple[str | int, ...]
    fields: tuple[SewingField, ...]
    present: bool = True


_LABELS: Final[Mapping[str, Mapping[str, tuple[FieldKind, str, str]]]] = {
    "construction": {
        "body": (
            "choice",
            "Body inside",
            "Whether what lies inside the strength layer sinks into it.",
        ),
        "strength_layer": (
            "choice",
            "Strength layer",
            "The layer that carries the tension of the lacing.",
        ),
        "lacing": (
            "number",
            "Lacing",
            "How hard it is laced: 1 at rest, 3 usual, 6 tight. With the stretch of the strength "
            "layer and the outermost one it gives the best cut over bones.",
        ),
        "top": (
            "choice",
            "Top edge",
            "How the top edge is finished: what turns over it needs more height.",
        ),
        "bottom": ("choice", "Bottom edge", "How the bottom edge is finished."),
        "fold_factor": (
            "number",
            "Fold factor",
            "How much of the turn into a seam counts in layers sewn as one, 0 to 1: a seam strip "
            "tells. Not added unless you give it.",
        ),
        "fold_factor_uncertainty": (
            "number",
            "Fold factor, plus or minus",
            "Its standard uncertainty, as the seam strip's report says.",
        ),
    },
    "shell": {
        "layers": (
            "layers",
            "Sewn as one",
            "Cloths that are sewn into panels together, innermost first.",
        ),
        "seams": ("choice", "Seams", "What becomes of the allowances."),
        "allowance": (
            "length",
            "Width beside the seam",
            "The allowance as it is left in the seam, the fell, or half the lap.",
        ),
        "graded": (
            "lengths",
            "Trimmed to",
            "Widths that plies are trimmed to: by cloth where pressed open, else by ply.",
        ),
        "lie": ("choice", "Allowances lie", "The face of the shell on which the allowances lie."),
        "held": (
            "choice",
            "Held to what is below",
            "Where it is sewn to the layers below it; between these places it is drawn taut.",
        ),
    },
    "bones": {
        "on": ("choice", "On", "The layer on whose outer side the bones lie."),
        "width": ("length", "Width", "Of a bone."),
        "thickness": ("length", "Thickness", "Of a bone."),
        "bends": ("yes or no", "Bends across", "Whether it bends across its width, as cords do."),
        "drawn_as": ("choice", "Drawn as", "What the lines named as bones or channels are."),
        "per_panel": (
            "by panel",
            "Number by panel",
            "Bones of each panel, evenly spaced, in place of what is drawn.",
        ),
        "channel": ("length", "Channel", "Between the stitch lines of a channel."),
        "casing": ("length", "Casing's cloth", "Thickness of a casing's cloth over the bones."),
        "stitched": (
            "layers",
            "Stitched down",
            "Layers over the bones that both lines of the channels go through.",
        ),
        "standing": (
            "length",
            "Standing height",
            "How high they stand, as a swatch with bones measures it.",
        ),
        "standing_uncertainty": (
            "length",
            "Standing height, plus or minus",
            "Its standard uncertainty, as the swatch's report says.",
        ),
    },
    "strip": {
        "on": ("choice", "On", "The layer on whose outer side it lies."),
        "thickness": ("length", "Thickness", "Of its cloth."),
        "width": ("length", "Width", "From the edge; along seams on either side."),
        "edge": ("choice", "Along", "The edge that it lies along."),
        "low": (
            "height",
            "From",
            "A level, or a height from the waist such as -40 mm, where it begins.",
        ),
        "high": ("height", "To", "A level, or a height from the waist, where it ends."),
    },
    "fabric": {
        "from_": ("height", "From", "A level, or a height from the waist, where it begins."),
        "to": ("height", "To", "A level, or a height from the waist, where it ends."),
        "stretch": (
            "share",
            "Stretch",
            "Part by which a strip 50 mm wide stretches under 1 kg, hung the way that goes round "
            "the body: 0.01 for 1 %.",
        ),
        "take_up": (
            "share",
            "Taken up round the body",
            "Part of a cut piece that quilting, cording, channels or steam take.",
        ),
        "take_up_length": ("share", "Taken up in length", "The same along the panel."),
        "take_up_uncertainty": (
            "share",
            "Taken up, plus or minus",
            "Standard uncertainty of what is taken up round the body, as the test pieces say.",
        ),
        "reduced": (
            "share",
            "Cut narrower",
            "Part by which pieces are cut narrower, to be stretched to their size: bias, knits.",
        ),
        "reduced_length": ("share", "Cut shorter", "The same along the panel."),
        "shrinkage": (
            "share",
            "Shrinks in length",
            "Part of its length that the cloth loses in washing before it is cut.",
        ),
        "shrinkage_width": ("share", "Shrinks in width", "The same across the cloth."),
    },
}
"""Kind, label and help of every key; a test holds them to the tables."""

_OPTIONS: Final[Mapping[str, str]] = {
    "soft": "soft: it sinks in",
    "stiff": "stiff, such as a stand: it stands",
    "flat": "cut level",
    "bound": "bound",
    "bagged": "sewn together and turned out",
    "faced": "outer cloth turned over to the inside",
    "open": "pressed open",
    "to front": "to the front",
    "to back": "to the back",
    "felled": "felled to the back",
    "lapped": "lapped",
    "inside": "inside",
    "outside": "outside",
    "edges": "centre front and back only",
    "seams": "the seams as well",
    "fused": "all over, fused",
    "": "told from the lines",
    "outlines": "closed outlines",
    "pairs": "pairs of stitch lines",
    "adjoining": "neighbours that share a line",
    "middles": "middle lines",
    "centre_front": "centre front",
    "centre_back": "centre back",
    "top": "top",
    "bottom": "bottom",
}

_UNITS: Final[Mapping[FieldKind, str]] = {"length": "mm", "lengths": "mm"}


_SEWN: Final[Mapping[str, tuple[type[KeyTable], str]]] = {
    "shell": (ShellTable, "Layers sewn as one"),
    "bones": (BonesTable, "Bones"),
    "strip": (StripTable, "Facing or stay along an edge"),
}
"""Tables of which a job may have several, and what each is called."""


def label_of(kind: str, key: str) -> str:
    """What a form calls a key of a shell, bones or a strip; the key itself if it asks for none.

    *key*: as the job file has it.
    """
    for own, (_, label, _) in _LABELS[kind].items():
        if (_SEWN[kind][0].model_fields[own].alias or own) == key:
            return label
    return key


def sewing_fields(job: JobFile, panels: Sequence[str] = ()) -> tuple[SewingGroup, ...]:
    """Every key of a job that says how the corset is sewn, in groups, as a form would ask for them.

    First the whole corset, then each shell, bones and strip that the job has, and after those of
    each kind one that it has not yet; then every fabric.

    *panels*: names of the pattern's panels, which bones by number are given for.
    """
    table = job.construction
    form = _Form(job, tuple((name, name) for name in panels))
    groups = [form.group("How it is sewn", ("construction",), ConstructionTable, table)]
    for kind, (model, title) in _SEWN.items():
        given: Sequence[KeyTable] = () if table is None else getattr(table, kind)
        for place, item in enumerate((*given, None)):
            path = ("construction", kind, place)
            groups.append(form.group(title, path, model, item))
    for place, fabric in enumerate(job.stack.fabric):
        path = ("stack", "fabric", place)
        groups.append(form.group(fabric.name, path, FabricTable, fabric))
    return tuple(groups)


@dataclass(frozen=True)
class _Form:
    """What fields are made of."""

    job: JobFile
    panels: tuple[tuple[str, str], ...]

    def group(
        self, title: str, path: tuple[str | int, ...], model: type[KeyTable], item: KeyTable | None
    ) -> SewingGroup:
        kind = str(path[1] if len(path) > 1 else path[0])
        made = []
        for key, (sort, label, words) in _LABELS[kind].items():
            own = model.model_fields[key]
            said = item is not None and key in item.model_fields_set
            unit = _UNITS.get(sort, "kPa" if key == "lacing" else "")
            made.append(
                SewingField(
                    (*path, own.alias or key),
                    label,
                    words,
                    sort,
                    unit,
                    "" if own.is_required() else self._default(kind, key, item, own.default),
                    getattr(item, key) if said else None,
                    self._options(key, sort, own.annotation),
                    own.is_required(),
                )
            )
        return SewingGroup(title, path, tuple(made), item is not None)

    def _options(self, key: str, sort: FieldKind, hint: Any) -> tuple[tuple[str, str], ...]:
        layers = tuple((fabric.name, fabric.name) for fabric in self.job.stack.fabric)
        if sort == "by panel":
            return self.panels
        if sort == "layers" or key in ("on", "strength_layer"):
            return layers
        if sort != "choice":
            return ()
        return tuple((str(value), _OPTIONS[value]) for value in get_args(hint))

    def _default(self, kind: str, key: str, item: KeyTable | None, usual: Any) -> str:
        """What counts where a key is not given, in words."""
        units = self.job.pattern.units
        if key == "strength_layer":
            stack = self.job.stack
            return stack.drafted_layer or stack.fabric[0].name
        if key == "allowance":
            seam = self.job.allowance.seam
            return show(ALLOWANCE_MM if seam is None else seam, units)
        if key == "lacing":
            return f"{USUAL_LACING_KPA:g} kPa in what is said, no best cut"
        if kind == "bones" and item is not None and key in ("channel", "standing"):
            bone = dict(item)
            high, wide = bone["thickness"], bone["width"] + bone["thickness"]
            return (
                f"fully: {caliper_length(high, units)}" if key == "standing" else show(wide, units)
            )
        if usual is None or usual == ():
            return _UNSAID.get(key, "none")
        if isinstance(usual, bool):
            return "yes" if usual else "no"
        if isinstance(usual, str):
            return _OPTIONS.get(usual, usual) if key != "on" else "the skin side"
        return show(usual, units) if _LABELS[kind][key][0] == "length" else f"{usual:g}"


_UNSAID: Final[Mapping[str, str]] = {
    "fold_factor": "not added",
    "per_panel": "as drawn",
    "channel": "as drawn, else width and thickness together",
    "standing": "fully",
    "low": "the bottom",
    "high": "the top",
    "from_": "the bottom",
    "to": "the top",
    "stretch": "not known",
}
"""What counts where a key without a default value is not given."""

"""How a corset is sewn, brought together with its stack: what contradicts it is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from ..errors import ConstructionError, ConstructionNameError
from ..stack import Fabric, Stack
from .sewing import ALLOWANCE_MM, Bones, Construction, Shell


def _pieces(fabric: Fabric) -> set[frozenset[str]]:
    return {frozenset(group) for group in fabric.cut_in_one}


@dataclass(frozen=True, eq=False)
class Sewn:
    """A construction brought together with its stack.

    `allowance` is what shells of which none is said have, in mm. `shells` are those of all layers
    that are sewn of panels, from the body outwards, `strength` is the place of the layer that
    carries the tension. What lies between bones and a layer that is stitched down beside them is
    stitched as well.

    Raises `ConstructionError` if a shell names what is not in the stack, names a layer twice or
    leaves one out between two of its own, or contradicts the stack or the bones.
    """

    construction: Construction
    stack: Stack
    allowance: float = ALLOWANCE_MM
    shells: tuple[Shell, ...] = field(init=False)
    strength: int = field(init=False)

    def __post_init__(self) -> None:
        how, stack = self.construction, self.stack
        owner: dict[str, Shell] = {}
        for shell in how.shells:
            places = [self._place(name, "shell") for name in shell.layers]
            if places != list(range(places[0], places[0] + len(places))):
                raise ConstructionError(
                    f"the layers of a shell do not lie on each other: {', '.join(shell.layers)}",
                    remedy=f"Name neighbours, from the body outwards: {', '.join(stack.names)}.",
                    element="shell",
                )
            if twice := [name for name in shell.layers if name in owner]:
                raise ConstructionError(
                    f"{twice[0]!r} is in two shells",
                    remedy="Name each layer in one shell only.",
                    element="shell",
                )
            fabrics = [stack.fabrics[place] for place in places]
            for fabric in fabrics[1:]:
                if _pieces(fabric) != _pieces(fabrics[0]):
                    raise ConstructionError(
                        f"{fabrics[0].name!r} and {fabric.name!r} are sewn as one, but are cut of "
                        "different pieces (cut_in_one)",
                        remedy="Cut both in the same pieces, or take them out of one shell.",
                        element="shell",
                    )
            whole = replace(shell, allowance=self.allowance) if shell.allowance is None else shell
            owner |= dict.fromkeys(shell.layers, whole)
        self._refuse_contradictions(owner)
        found: list[Shell] = []
        for fabric in stack.fabrics:
            own = owner.get(fabric.name)
            if own is None and fabric.coverage == 1.0 and fabric.cut_out:
                own = Shell([fabric.name], allowance=self.allowance)
            if own is not None and own not in found:
                found.append(own)
        object.__setattr__(self, "shells", tuple(found))
        own_bones = tuple(map(self._sewn_through, how.bones))
        object.__setattr__(self, "construction", replace(how, bones=own_bones))
        name = how.strength_layer
        place = self._place(name, "strength_layer") if name else stack.drafted_index
        object.__setattr__(self, "strength", place)

    def shell_of(self, layer: int) -> Shell | None:
        """The shell that a layer belongs to; None for what is not sewn of panels."""
        name = self.stack.names[layer]
        return next((shell for shell in self.shells if name in shell.layers), None)

    def _sewn_through(self, bones: Bones) -> Bones:
        """Bones of which all layers are stitched that the lines of their channels go through."""
        if not bones.stitched:
            return bones
        names = self.stack.names
        last = max(names.index(name) for name in bones.stitched)
        through = range(names.index(bones.on) + 1, last + 1)
        return replace(bones, stitched=[names[k] for k in through if self.shell_of(k) is not None])

    def _place(self, name: str, element: str) -> int:
        if name not in self.stack.names:
            raise ConstructionNameError(
                f"there is no layer {name!r} in the stack",
                remedy=f"Layers are: {', '.join(self.stack.names)}.",
                element=element,
            )
        return self.stack.names.index(name)

    def _refuse_contradictions(self, owner: Mapping[str, Shell]) -> None:
        how, names = self.construction, self.stack.names
        for strip in how.strips:
            if strip.on:
                self._place(strip.on, "strip")
        drawn = [bones for bones in how.bones if bones.per_panel is None]
        if len(drawn) > 1:
            raise ConstructionError(
                f"bones on {drawn[0].on!r} and on {drawn[1].on!r} both lie where channels are "
                "drawn: each line would count for both",
                remedy="Leave the drawn channels to one kind of bones, and say how many of the "
                "others each panel has (per_panel).",
                element="bones",
            )
        twice = [f for f in self.stack.fabrics if 0.0 < f.coverage < 1.0]
        if how.bones and twice:
            raise ConstructionError(
                f"{twice[0].name!r} covers a part of the surface, and there are bones of their own "
                "besides: they would count twice",
                remedy=f"Take {twice[0].name!r} out of the stack if it stands for the bones; if it "
                "is a tape, give it coverage 1 and say from where to where it lies (from, to).",
                element=twice[0].name,
            )
        for bones in how.bones:
            place = self._place(bones.on, "bones")
            for name in bones.stitched:
                if self._place(name, "stitched") <= place:
                    raise ConstructionError(
                        f"{name!r} does not lie outside bones on {bones.on!r}",
                        remedy="Name as stitched the layers over the bones that the lines of the "
                        "channels go through.",
                        element="bones.stitched",
                    )
            after = names[place + 1] if place + 1 < len(names) else ""
            shell = owner.get(after)
            if shell is not None and shell.held == "fused":
                raise ConstructionError(
                    f"bones lie between {bones.on!r} and {after!r}, which is fused to it",
                    remedy="Nothing lies between fused layers: put the bones elsewhere (on), or "
                    'say that the shell is held at "edges" or "seams".',
                    element="bones.on",
                )

"""Patterns and layers saved and read back: the same, to the last bit."""

from __future__ import annotations

import importlib.util
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st
from jsonschema import Draft202012Validator

from panelshift import (
    Fabric,
    PanelshiftError,
    Pattern,
    Stack,
    read_pattern,
    read_saved,
    save,
    saved,
    shift_pattern,
)
from panelshift.errors import PatternError
from panelshift.files.plain_values import UnfitDataError, made, plain
from tests.support.drafts import HOURGLASS, drawn
from tests.support.examples import examples
from tests.support.strategies import fabrics, figures, sheets

SCHEMAS = Path(__file__).parents[2] / "docs" / "schemas"
SCHEMA = Draft202012Validator(json.loads((SCHEMAS / "pattern.json").read_bytes()))
PATTERN = read_pattern(drawn(HOURGLASS.panels()))
LAYERS = shift_pattern(
    PATTERN,
    Stack([Fabric("a", 0.3), Fabric("front", 0.5, panels=frozenset({"panel 1"})), Fabric("c", 1)]),
).layers


def alike(one: Pattern, two: Pattern) -> bool:
    """Equal, and also in what does not count when patterns are compared."""
    return one == two and (one.source, one.ledger) == (two.source, two.ledger)


@pytest.mark.slow
@given(figures(), sheets)
@examples(40)
def test_any_pattern_comes_back_by_json(figure: Any, sheet: Any) -> None:
    pattern = read_pattern(drawn(figure.panels(), sheet))
    content = saved(pattern)
    assert alike(read_saved(content), pattern)
    assert saved(read_saved(content)) == content
    SCHEMA.validate(json.loads(content))


@given(figures(), fabrics(), st.booleans())
@examples(9)
@pytest.mark.slow
def test_any_layers_come_back_by_svg(figure: Any, cloths: list[Fabric], over: bool) -> None:
    pattern = read_pattern(drawn(figure.panels()))
    layers = shift_pattern(pattern.mirrored() if over else pattern, Stack(cloths)).layers
    again = read_saved(saved(layers, "svg"))
    assert again == layers
    assert all(alike(a.whole, b.whole) for a, b in zip(again, layers, strict=True))


@pytest.mark.slow
def test_parts_quadratics_and_marks_come_back(tmp_path: Path) -> None:
    odd = replace(PATTERN, source='a"<&\u2028\u00e9.svg')
    part = odd.part(["panel 2", "panel 4"])
    for what in (odd, part, LAYERS, list(LAYERS[1:])):
        for form in ("json", "svg"):
            save(saved(what, form), tmp_path / f"kept.{form}")
            found = read_saved(tmp_path / f"kept.{form}")
            assert found == (tuple(what) if isinstance(what, list) else what)
            assert hash(found) == hash(tuple(what) if isinstance(what, list) else what)
        SCHEMA.validate(json.loads(saved(what)))


def test_a_saved_drawing_is_a_draft_as_well() -> None:
    again = read_pattern(saved(LAYERS, "svg"))
    drafted = next(layer for layer in LAYERS if layer.drafted)
    assert again.waist == pytest.approx(drafted.whole.waist, abs=0.02)
    assert [panel.name for panel in again] == [panel.name for panel in drafted.whole]


def test_a_drawing_that_was_changed_is_not_what_it_holds() -> None:
    for what in (PATTERN, LAYERS):
        content = saved(what, "svg").decode()
        start = content.rindex(' d="M') + 5
        end = start + content[start:].index("C" if "C" in content[start:] else "L")
        moved = content[:start] + "7 7" + content[end:]
        with pytest.raises(PatternError, match="its lines were changed since it was saved"):
            read_saved(moved.encode())
    less = content[: content.rindex("<path")] + content[content.rindex("<path") :].split("/>", 1)[1]
    with pytest.raises(PatternError, match="its lines were changed"):
        read_saved(less.encode())


def changed(*keys: Any, to: Any) -> bytes:
    data = json.loads(saved(PATTERN))
    here = data
    for key in keys[:-1]:
        here = here[key]
    if to is None:
        del here[keys[-1]]
    else:
        here[keys[-1]] = to
    return json.dumps(data).encode()


PANEL = ("pattern", "panels", 0)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is no saved pattern"),
        (b"[]", "is no saved pattern"),
        (b"\xff", "is no saved pattern"),
        (b"[" * 100_000, "is no saved pattern"),
        (b'{"panelshift": "layers", "format": 1, "units": "mm", "layers": []}', "no saved"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"/>', "is no saved pattern"),
        (b"<svg", "not well-formed XML"),
        (changed("format", to=2), "is no saved pattern"),
        (changed("panelshift", to="corset"), "is no saved pattern"),
        (changed(*PANEL, "name", to=3), "pattern.panels[0].name: what was saved is damaged"),
        (
            changed(*PANEL, "name", to=None),
            "panels[0]: what was saved is damaged: has no",
        ),
        (changed(*PANEL, "colour", to=1), "has 'colour', which means nothing here"),
        (changed(*PANEL, "outline", "control", to=[[1]]), "control points of shape"),
        (changed(*PANEL, "outline", "control", to=[[1], 2]), "is not an array of numbers"),
        (changed(*PANEL, "outline", "control", to=[["a"]]), "is not an array of numbers"),
        (changed(*PANEL, "outline", "degree", to=[None]), "holds numbers that cannot be"),
        (changed(*PANEL, "outline", "degree", to=["x"]), "is not an array of numbers"),
        (changed(*PANEL, "outline", "degree", to=[10**400]), "holds numbers that cannot be"),
        (
            changed(*PANEL, "corners", "front_top", to=10**400),
            "front_top: what was saved is damaged",
        ),
        (changed(*PANEL, "outline", "degree", to=[1.5]), "holds numbers that cannot be"),
        (changed(*PANEL, "outline", to=[]), "outline: what was saved is damaged: is not a table"),
        (changed(*PANEL, "texts", to={}), "texts: what was saved is damaged: is not a list"),
        (changed(*PANEL, "marks", to=[{"kind": "x", "curve": {}}]), "marks[0].kind"),
    ],
)
def test_what_is_damaged_is_refused(content: bytes, words: str) -> None:
    with pytest.raises(PanelshiftError) as told:
        read_saved(content)
    assert words in str(told.value)
    assert str(told.value).startswith("saved")


def test_what_cannot_be_saved_or_read(tmp_path: Path) -> None:
    for wrong in (3, ["a"], [PATTERN], [LAYERS[0], 1]):
        with pytest.raises((TypeError, PanelshiftError)):
            saved(wrong)  # type: ignore[arg-type]
    with pytest.raises(PatternError, match="no layers to be saved"):
        saved(())
    with pytest.raises(PatternError, match="cannot read"):
        read_saved(tmp_path / "none.json")
    with pytest.raises(TypeError):
        read_saved(3)  # type: ignore[arg-type]


def test_a_file_beyond_32_mib_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large.json"
    for more, words in ((0, "is no saved pattern"), (1, "is far too large")):
        with path.open("wb") as stream:
            stream.truncate(32 * 1024 * 1024 + more)
        with pytest.raises(PatternError, match=words):
            read_saved(path)


def test_what_is_saved_is_written_without_a_space_between() -> None:
    content = saved(PATTERN)
    data = json.loads(content)
    again = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    assert content == f"{again}\n".encode()
    assert {key: data[key] for key in data if key != "pattern"} == {
        "panelshift": "pattern",
        "format": 1,
        "units": "mm",
    }


@dataclass(frozen=True)
class Odd:
    """Kinds of fields that no pattern has so far."""

    pair: tuple[int, str]
    table: dict[str, float]
    perhaps: float | None = None


def test_kinds_of_fields_that_may_come() -> None:
    odd = Odd((1, "a"), {"b": 0.1 + 0.2})
    assert made(Odd, json.loads(json.dumps(plain(odd)))) == odd
    assert made(float, 2) == 2.0
    for wrong in ({"pair": [1], "table": {}}, {"pair": [1, "a"], "table": {"b": float("nan")}}):
        with pytest.raises(UnfitDataError):
            made(Odd, wrong)


def test_the_schema_is_that_of_the_types() -> None:
    spec = importlib.util.spec_from_file_location("make_schema", SCHEMAS / "make_schema.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    assert (SCHEMAS / "pattern.json").read_text() == script.text(script.whole()) + "\n"
    Draft202012Validator.check_schema(script.whole())
    assert not SCHEMA.is_valid(json.loads(changed(*PANEL, "name", to=3)))
    assert not SCHEMA.is_valid(json.loads(changed(*PANEL, "colour", to=1)))
    assert np.isfinite(LAYERS[0].distances).all()


def broken(*keys: Any, to: Any) -> bytes:
    data = json.loads(saved(LAYERS))
    here = data["layers"]
    for key in keys[:-1]:
        here = here[key]
    here[keys[-1]] = to
    return json.dumps(data).encode()


CORNERS = (*PANEL, "corners")
FAR = [9.0] * len(PATTERN)
LAYER = json.loads(saved(LAYERS))["layers"][1]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (changed(*CORNERS, "back_top", to=99.0), "corners.back_top: what was saved is damaged: is"),
        (changed(*CORNERS, "back_top", to=-1.0), "beyond the outline, which has 10 segments"),
        (changed(*CORNERS, "runs_up_front", to=False), "do not follow each other round"),
        (changed(*CORNERS, "front_top", to=0.0), "do not follow each other round"),
        (changed(*PANEL, "outline", "closed", to=False), "outline: what was saved is damaged: is"),
        (changed(*PANEL, "frame", "up", to=[1.0, 0.0]), "directions that are not square"),
        (changed(*PANEL, "frame", "up", to=[1.0]), "has arrays that are no pairs"),
        (changed(*PANEL, "waist", "height", to=40.0), "has its level 'waist' at another height"),
        (changed(*PANEL, "waist", to=None), "panels[0]: what was saved is damaged: has no waist"),
        (
            changed(*PANEL, "tips", to=[{"edge": "back", "point": [1, 2], "piece": "gore"}]),
            "tips: what was saved is damaged: names 'gore', which is no panel",
        ),
        (changed("pattern", "centre", to=99.0), "lies beyond the panels"),
        (broken(1, "distances", to=[0.1]), "layers[1].distances: what was saved is damaged: has 1"),
        (broken(1, "distances", to=[*FAR, 1.0]), f"and the layer {len(FAR)} panels"),
        (broken(0, "distances", to=FAR), "is not 0 of the drafted layer"),
        (broken(1, "place", to=-1), "is below 0"),
        (broken(1, "place", to=0), "layers[1].place: what was saved is damaged: is that of 'a'"),
        (broken(1, "place", to=7), "on the other side of 'front' than its distances"),
        (broken(2, to=LAYER), "layers[2]: what was saved is damaged: is 'front' a second time"),
        (broken(2, "drafted", to=True), "layers[2].distances"),
        (broken(2, "whole", "panels", 0, "name", to="x"), "has other panels than the layers"),
    ],
)
def test_what_cannot_be_a_pattern_is_damage(content: bytes, words: str) -> None:
    with pytest.raises(PatternError) as told:
        read_saved(content)
    assert words in str(told.value)
    assert told.value.remedy == "Save it again."


def test_a_second_drafted_layer_is_damage() -> None:
    data = json.loads(
        saved(shift_pattern(PATTERN, Stack([Fabric("a", 0.3), Fabric("b", 0)])).layers)
    )
    data["layers"][1] |= {"drafted": True, "distances": [0.0] * len(PATTERN)}
    with pytest.raises(PatternError, match="is true of a second layer"):
        read_saved(json.dumps(data).encode())

"""The library's objects as values: they do not change, they travel, they print on a few lines."""

from __future__ import annotations

import copy
import json
import pickle
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import FrozenInstanceError, asdict, fields, is_dataclass, replace
from functools import partial
from multiprocessing import get_context
from typing import Any

import numpy as np
import pytest
from lxml import etree

import panelshift as ps
from panelshift.batch import BatchJob, Outcome
from panelshift.body.support import Sections
from panelshift.fit.girths import finished_girths
from panelshift.sources.svg import read_svg
from panelshift.stack import MeasuredDistance
from tests.support.drafts import HOURGLASS, drawn
from tests.support.golden import changes

PATTERN = ps.read_pattern(drawn(HOURGLASS.panels()))
STACK = ps.Stack(
    [ps.Fabric("lining", 0.3), ps.Fabric("drill", 0.5), ps.Fabric("silk", 0.4)],
    "drill",
    [MeasuredDistance("lining", "silk", 0.8, 0.02)],
)
SHIFTED = ps.shift_pattern(PATTERN, STACK, gap=40.0)
PANEL = PATTERN.panels[2]
FORM = ps.MeasuredForm(
    np.array([-50.0, 50.0]),
    Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 100.0)),
    "traced",
    ps.FormErrors(),
    names={"bust": 50.0},
)

ALTERATION = ps.Alteration("3 to 4", {"waist": 0.0, "hip": 6.0})

OBJECTS: dict[str, Any] = {
    "Allowances": ps.Allowances(centre_back=25.0),
    "Alteration": ALTERATION,
    "Altered": ps.alter_pattern(PATTERN, [ALTERATION]),
    "BatchJob": BatchJob("Ann", "corset.toml", {"pattern.lacing_gap": 60}),
    "Bones": ps.Bones("drill", 7.0, 1.5, per_panel={"panel 1": 2}),
    "ClassModel": ps.ClassModel(girths=ps.Measures.constant(700.0)),
    "Construction": ps.Construction([ps.Shell(["drill"])], [ps.Bones("drill", 7.0, 1.5)]),
    "CutPlan": ps.CutPlan("sample", {"silk": ps.Allowances()}, {"panel 1": ps.Cutting(1)}),
    "Curve": PANEL.outline,
    "Cutting": ps.Cutting(1, mirrored=False, fold="front"),
    "DraftPanel": ps.DraftPanel("side", PANEL.outline.control, PANEL.waist.curve.vertices),
    "Fabric": ps.Fabric("facing", 0.4, panels=frozenset({"panel 1"})),
    "EndAlteration": ps.EndAlteration("top", {"centre front": -8.0}, run_out=40.0),
    "FormErrors": ps.FormErrors(),
    "FormModel": FORM.model(),
    "FormerModel": ps.FormerModel(80.0),
    "LayerPattern": SHIFTED.layers[2],
    "Level": PANEL.waist,
    "MeasuredDistance": STACK.measured[0],
    "MeasuredForm": FORM,
    "Measures": ps.Measures(np.array([0.0, 120.0]), np.array([660.0, 900.0])),
    "Outcome": Outcome("Ann", "done", {"overlay.svg": "00ff"}),
    "PageOptions": ps.PageOptions(ps.parse_paper("a4")),
    "Panel": PANEL,
    "Paper": ps.parse_paper("roll:914"),
    "Pattern": PATTERN,
    "Gore": ps.Gore("gore", ("a", "b")),
    "StandsOn": ps.StandsOn("yoke", "side"),
    "Reading": ps.Reading(("b", "a"), corners={"a": {"front_top": (1.0, 2.0)}}),
    "SectionModel": ps.SectionModel(),
    "Sections": FORM.sections,
    "Shell": ps.Shell(["drill", "silk"], seams="to back", graded=[10.0, 6.0]),
    "Shifted": SHIFTED,
    "Stack": STACK,
    "Strip": ps.Strip("drill", 0.4, 30.0, "centre_back"),
    "TurnOfCloth": SHIFTED.turn,
}

UNHASHABLE = {"BatchJob", "Outcome"}
"""These hold dictionaries; all others can be keys of dictionaries."""

LONGEST = 1200
"""Characters that may be printed: a screenful, for six panels in three layers."""

WAYS: dict[str, Callable[[Any], Any]] = {
    "copied": copy.copy,
    "deeply": copy.deepcopy,
    "pickled": lambda thing: pickle.loads(pickle.dumps(thing)),
}


def plain(thing: object) -> object:
    """All that an object holds, as nested tuples and lists that compare by value."""
    if is_dataclass(thing) and not isinstance(thing, type):
        parts = [plain(getattr(thing, item.name)) for item in fields(thing)]
        return (type(thing).__name__, *parts)
    if isinstance(thing, np.ndarray):
        return ("array", thing.shape, str(thing.dtype), thing.tobytes())
    if isinstance(thing, (tuple, list)):
        return [plain(item) for item in thing]
    if hasattr(thing, "items"):
        return {key: plain(value) for key, value in thing.items()}
    if isinstance(thing, partial):
        return (thing.func, plain(thing.args))
    return thing


def test_every_public_class_is_looked_at() -> None:
    classes = {name for name in ps.__all__ if isinstance(getattr(ps, name), type)}
    # How errors travel is tested with the errors.
    assert classes - {"PanelshiftError"} <= set(OBJECTS)
    for name, thing in OBJECTS.items():
        assert type(thing).__name__ == name
        assert is_dataclass(thing)


@pytest.mark.parametrize("name", OBJECTS)
def test_nothing_can_be_assigned(name: str) -> None:
    thing = OBJECTS[name]
    for item in fields(thing):
        before = getattr(thing, item.name)
        with pytest.raises(FrozenInstanceError):
            setattr(thing, item.name, before)
        with pytest.raises(FrozenInstanceError):
            delattr(thing, item.name)


@pytest.mark.parametrize("name", OBJECTS)
def test_all_but_jobs_of_a_batch_have_a_hash(name: str) -> None:
    thing = OBJECTS[name]
    if name in UNHASHABLE:
        with pytest.raises(TypeError, match="unhashable"):
            hash(thing)
    else:
        assert {thing: name}[thing] == name


@pytest.mark.parametrize("name", OBJECTS)
def test_made_of_the_same_they_are_equal(name: str) -> None:
    again = WAYS["pickled"](OBJECTS[name])
    assert again == OBJECTS[name]
    assert again != object()
    if name not in UNHASHABLE:
        assert hash(again) == hash(OBJECTS[name])


def test_a_panel_of_arrays_that_a_script_moves_on_stays_where_it_was() -> None:
    outline, waist = np.array([(0, 0), (60, 0), (60, 160), (0, 160)]), [[0, 90], [60, 90]]
    level = np.array([(0, 140), (60, 140)])
    panel = ps.DraftPanel("one", outline, waist, {"hip": level})
    outline += 50
    level += 50
    waist[0][1] = 10
    wanted = ps.DraftPanel(
        "one",
        np.array([(0, 0), (60, 0), (60, 160), (0, 160)]),
        [[0, 90], [60, 90]],
        {"hip": np.array([(0, 140), (60, 140)])},
    )
    assert panel == wanted != ps.DraftPanel("one", outline, waist)
    assert ps.pattern_from_panels([panel]) == ps.pattern_from_panels([wanted])


OWN = {"silk": ps.Allowances(top=20.0)}
CORNERS = {"panel 1": {"front_top": (1.0, 2.0)}}


@pytest.mark.parametrize(
    ("make", "held", "own"),
    [
        (lambda own: ps.CutPlan(allowances=own), "allowances", OWN),
        (lambda own: ps.CutPlan(cuttings=own), "cuttings", {"panel 1": ps.Cutting(1)}),
        (lambda own: ps.CutPlan(gives=own), "gives", {"silk": 0.1}),
        (lambda own: ps.Bones("drill", 7.0, 1.5, per_panel=own), "per_panel", {"panel 1": 2}),
        (lambda own: ps.Construction(stretch=own), "stretch", {"drill": 0.01}),
        (lambda own: ps.Alteration("3 to 4", own), "amount", {"waist": 2.0, "hip": 4.0}),
        (lambda own: ps.EndAlteration("top", own), "amount", {"centre front": 2.0, "3 to 4": 4.0}),
        (lambda own: ps.ClassModel(own), "factors", {"front": 1.6, "side": 0.7, "back": 1.0}),
        (lambda own: ps.Reading(corners=own), "corners", CORNERS),
        (lambda own: BatchJob("Ann", "a.toml", own), "overrides", {"stack.drafted": ["silk"]}),
        (lambda own: BatchJob("Ann", own), "job", {"stack": {"drafted": "silk"}}),
        (lambda own: replace(FORM, names=own).model(), "names", {"bust": 50.0}),
    ],
)
def test_tables_filled_on_by_a_script_change_nothing_made_of_them(
    make: Callable[[Any], Any], held: str, own: Any
) -> None:
    filled = copy.deepcopy(own)
    thing = make(filled)
    for inner in filled.values():
        if isinstance(inner, dict):
            inner.clear()
        elif isinstance(inner, list):
            inner.append("drill")
    filled["more"] = None
    assert getattr(thing, held) == own
    assert thing == make(own)


def test_tables_kept_are_dictionaries_that_cannot_be_changed() -> None:
    kept = ps.Reading(corners=CORNERS).corners
    assert kept == CORNERS
    assert json.loads(json.dumps(kept)) == {"panel 1": {"front_top": [1.0, 2.0]}}
    assert asdict(ps.CutPlan(gives={"silk": 0.1}))["gives"] == {"silk": 0.1}
    for change in (
        lambda: kept.update(CORNERS),
        lambda: kept["panel 1"].clear(),
        lambda: kept.pop("panel 1"),
        lambda: kept.popitem(),
        lambda: kept.setdefault("panel 2", {}),
        lambda: kept.__setitem__("panel 2", {}),
        lambda: kept.__delitem__("panel 1"),
        lambda: kept.__ior__(CORNERS),
    ):
        with pytest.raises(TypeError, match="make another object"):
            change()
    assert kept == CORNERS


def test_jobs_that_a_script_makes_of_one_table_filled_anew_are_each_their_own() -> None:
    table: dict[str, Any] = {"pattern": {}}
    jobs = []
    for gap in (40, 50):
        table["pattern"]["lacing_gap"] = gap
        jobs.append(BatchJob(f"gap {gap}", table))
    assert [job.job for job in jobs] == [
        {"pattern": {"lacing_gap": 40}},
        {"pattern": {"lacing_gap": 50}},
    ]
    # What many rows have in common they share.
    assert BatchJob("again", table).job is jobs[1].job


@pytest.mark.parametrize("name", OBJECTS)
def test_what_is_printed_fits_a_screen(name: str) -> None:
    assert name in repr(OBJECTS[name])
    assert len(repr(OBJECTS[name])) <= LONGEST


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", OBJECTS)
def test_a_copy_is_equal_in_all_that_it_holds(name: str, way: str) -> None:
    thing = OBJECTS[name]
    again = WAYS[way](thing)
    assert type(again) is type(thing)
    assert plain(again) == plain(thing)


def test_a_difference_deep_inside_is_seen() -> None:
    stretched = replace(PANEL, outline=PANEL.outline.scaled(1.0000001))
    panels = tuple(stretched if panel is PANEL else panel for panel in PATTERN.panels)
    assert plain(replace(PATTERN, panels=panels)) != plain(PATTERN)
    assert plain(ps.read_pattern(drawn(HOURGLASS.panels()))) == plain(PATTERN)


def waist_of(pattern: ps.Pattern, stack: ps.Stack, body: ps.ClassModel) -> tuple[ps.Shifted, float]:
    shifted = ps.shift_pattern(pattern, stack, body, gap=40.0)
    return shifted, shifted.layer("silk").pattern.waist


@pytest.mark.slow
def test_another_process_takes_and_returns_them() -> None:
    """With a fresh interpreter, as on platforms that do not fork."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        there, waist = pool.submit(waist_of, PATTERN, STACK, ps.ClassModel()).result(60)
    here, expected = waist_of(PATTERN, STACK, ps.ClassModel())
    assert waist == expected
    np.testing.assert_array_equal(there.growth_table(), here.growth_table())


def test_arrays_of_a_curve_cannot_be_written_to() -> None:
    curve = ps.Curve.polyline([(0, 0), (60, 0)])
    for array in (curve.control, curve.degree, curve.flatten()):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 7


def arrays(thing: object, where: str) -> Iterator[tuple[str, np.ndarray[Any, Any]]]:
    """All arrays that an object holds, with where they are."""
    if isinstance(thing, np.ndarray):
        yield where, thing
    elif is_dataclass(thing) and not isinstance(thing, type):
        for item in fields(thing):
            yield from arrays(getattr(thing, item.name), f"{where}.{item.name}")
    elif isinstance(thing, (tuple, list)):
        for item in thing:
            yield from arrays(item, f"{where}[]")
    elif isinstance(thing, Mapping):
        for item in thing.values():
            yield from arrays(item, f"{where}{{}}")


def test_no_array_that_an_object_holds_can_be_written_to() -> None:
    # Nor when it is copied or comes from another process: numpy's own copies could.
    for way in (lambda thing: thing, *WAYS.values()):
        held = [pair for name, thing in OBJECTS.items() for pair in arrays(way(thing), name)]
        assert sorted({where for where, array in held if array.flags.writeable}) == []


def test_what_a_copied_curve_keeps_of_itself_cannot_be_written_to() -> None:
    curve = PANEL.outline
    _ = curve.hull_box, curve.end_tangents(), curve.flatten(0.5)
    for copied in (copy.deepcopy(curve), pickle.loads(pickle.dumps(curve))):
        assert hash(copied) == hash(curve)
        for array in (copied.hull_box, copied.end_tangents(), copied.flatten(0.5)):
            assert not array.flags.writeable


@pytest.mark.parametrize("name", ["Panel", "Pattern", "LayerPattern", "Shifted"])
def test_pictures_for_notebooks_draw_every_outline(name: str) -> None:
    root = etree.fromstring(OBJECTS[name]._repr_svg_())
    paths = root.findall(".//{http://www.w3.org/2000/svg}path")
    closed = [path for path in paths if path.get("d", "").rstrip().upper().endswith("Z")]
    count = len(PATTERN.panels)
    expected = {"Panel": 1, "Pattern": count, "LayerPattern": count, "Shifted": 3 * count}
    assert len(closed) == expected[name]


def test_pictures_for_notebooks_are_the_golden_page() -> None:
    names = ("Altered", "Curve", "LayerPattern", "Panel", "Pattern", "Shifted", "Stack")
    pictures = {name: OBJECTS[name]._repr_svg_() for name in names}
    pictures["Pattern in code"] = ps.pattern_from_panels(
        [ps.DraftPanel("side", BOX, WAIST)]
    )._repr_svg_()
    page = "\n".join(f"== {name}\n{picture}" for name, picture in pictures.items())
    assert changes("notebook-pictures.txt", page) == []


def test_how_long_a_job_took_does_not_count_when_outcomes_are_compared() -> None:
    one, other = (Outcome("Ann", "done", seconds=s, stamp=str(s)) for s in (1.0, 2.0))
    assert one == other
    assert "stamp" not in repr(one)


def test_names_that_speak_against_the_order_that_was_given_are_told() -> None:
    names = ["centre front", "side", "centre back"]
    panels = [ps.DraftPanel(name, BOX, WAIST) for name in names]
    assert ps.pattern_from_panels(panels).warnings == ()
    (told,) = ps.pattern_from_panels(panels[::-1]).warnings
    assert "called nearer to the front than 'centre back'" in told


def test_panels_may_each_be_drawn_about_one_origin() -> None:
    outline, waist = np.array([(0, 0), (60, 0), (70, 160), (-5, 160)]), [(-9, 90), (80, 90)]
    first = ps.DraftPanel("a", outline, waist)
    second = ps.DraftPanel("b", outline + (200, 0), [(191, 90), (280, 90)])
    together = ps.pattern_from_panels([first, ps.DraftPanel("b", outline, waist)])
    apart = ps.pattern_from_panels([first, second])
    assert together.waist == pytest.approx(apart.waist)
    np.testing.assert_array_equal(together["a"].outline.control, apart["a"].outline.control)
    # Those that lie apart stay where they are.
    assert apart["b"].outline.bounds()[0, 0] == 195.0
    assert together["b"].outline.bounds()[0, 0] == 70.0 + 40.0
    assert len(together.walk()) == 1


def test_levels_keep_their_names_into_a_cutting_file_and_back() -> None:
    box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    levels = {"low waist": [(0, 110), (60, 110)], 'Hüfte & "Po"': [(0, 140), (60, 140)]}
    pattern = ps.pattern_from_panels([ps.DraftPanel("one", box, [(0, 90), (60, 90)], levels)])
    names = ("waist", "low waist", 'Hüfte & "Po"')
    assert pattern.level_names() == names
    shifted = ps.shift_pattern(pattern, ps.Stack([ps.Fabric("drill", 0.5)]))
    again = ps.read_pattern(ps.layer_svg(shifted, "drill"))
    assert again.level_names() == names
    assert again.level_height("low waist") == pytest.approx(-20.0, abs=1e-3)


def test_what_covers_a_part_is_not_cut_unless_it_is_said() -> None:
    assert ps.Fabric("drill", 0.5).cut_out is True
    assert ps.Fabric("bones", 1.5, coverage=0.2).cut_out is False
    assert ps.Fabric("strips", 1.5, coverage=0.2, cut_out=True).cut_out is True


BOX, WAIST = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
SHIFTED = ps.shift_pattern(PATTERN, ps.Stack([ps.Fabric("a", 0.5), ps.Fabric("b", 0.5)]))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: ps.Fabric("satin", "0.3"), "thickness of fabric 'satin' is '0.3', a str"),
        (lambda: ps.Fabric(None, 0.3), "the name of a fabric is None"),
        (lambda: ps.Stack(None), "what a stack is of is None"),
        (lambda: ps.Stack(["satin"]), "a layer of the stack is 'satin', a str"),
        (lambda: ps.read_pattern(None), "source of read_pattern is None"),
        (lambda: ps.pattern_from_panels([BOX]), "panels of pattern_from_panels is"),
        (lambda: ps.pattern_from_panels([ps.DraftPanel("a", BOX, None)]), "the waist is None"),
        (lambda: ps.pattern_from_panels([ps.DraftPanel("a", None, WAIST)]), "the outline is None"),
        (lambda: ps.shift_pattern(PATTERN, [ps.Fabric("a", 0.5)]), "stack of shift_pattern is"),
        (lambda: ps.shift_pattern(None, SHIFTED.stack), "pattern of shift_pattern is None"),
        (
            lambda: ps.shift_pattern(PATTERN, SHIFTED.stack, gap="40"),
            "gap of shift_pattern is '40'",
        ),
        (lambda: ps.shift_pattern(PATTERN, SHIFTED.stack, "oval"), "the body's turn is None"),
        (lambda: ps.layer_svg(PATTERN, "a"), "shifted of layer_svg is"),
        (lambda: ps.overlay_svg(None), "shifted of overlay_svg is None"),
        (lambda: ps.layer_pdf(SHIFTED, "a", "a4"), "options of layer_pdf is 'a4'"),
        (lambda: ps.Fabric("a", 0.5, panels="1 front"), "panels of fabric 'a' is '1 front', a str"),
        (lambda: ps.Fabric("a", 0.5, take_up=10**400), "take_up of fabric 'a' is 10"),
        (lambda: ps.Cutting(True), "count of a cutting is True, a bool"),
        (lambda: ps.shift_pattern(PATTERN, SHIFTED.stack, classes="front"), "classes of shift_"),
        (lambda: ps.run_many("corset.toml", out="x"), "jobs of run_many is 'corset.toml', a str"),
        (lambda: ps.run_many([], out="x", products="cut"), "products of run_many is 'cut', a str"),
        (lambda: ps.measure_scan(True), "path of measure_scan is True"),
        (lambda: ps.save("<svg/>", "a.svg"), "data of save is '<svg/>', a str"),
        (lambda: ps.save(b"", 3), "the target's write is None"),
        (lambda: SHIFTED.growth_table("3"), "a height is '3', a str"),
        (lambda: SHIFTED.growth_table([0.0, [1.0]]), "a height is "),
        (lambda: SHIFTED.growth(0, 0, [1.0, 2.0]), "a height is "),
        (lambda: SHIFTED.turn.angle_at(0, None), "a height is None"),
        (lambda: ps.DraftPanel("a", BOX, WAIST, [WAIST]), "levels of a panel is"),
        (lambda: ps.from_svgpathtools("M0 0 H9"), "a segment is 'M', a str"),
    ],
)
def test_values_of_another_type_are_told(call: Callable[[], object], words: str) -> None:
    with pytest.raises(TypeError, match=words) as caught:
        call()
    assert isinstance(caught.value, ps.PanelshiftError)


@pytest.mark.parametrize(
    ("call", "known"),
    [
        (lambda: ps.Cutting(fold="Front"), "front, back"),
        (lambda: ps.CutPlan(corners="square"), "mitred, mirrored, squared"),
        (lambda: ps.CutPlan(notches="edges"), "across, edge"),
        (lambda: ps.Shell(["a"], lie="Outside"), "inside, outside"),
        (lambda: ps.Shell(["a"], seams="flat felled"), "open, to front, to back, felled, lapped"),
        (lambda: ps.Strip("a", 0.5, 30.0, "centre back"), "centre_front, centre_back, seams"),
        (lambda: ps.Construction(body="Stiff"), "soft, stiff"),
        (lambda: ps.Bones("a", 7.0, 1.5, drawn_as="lines"), "outlines, pairs, adjoining, middles"),
        (lambda: ps.Reading(halves="Full"), "auto, half, full"),
        (lambda: ps.Alteration("1 to 2", 3.0, side="Left"), "left, right, both"),
        (lambda: ps.pattern_from_panels([], halves="both"), "half, full"),
        (lambda: ps.saved(PATTERN, "SVG"), "json, svg"),
        (lambda: PANEL.edge("side"), "front, top, back, bottom"),
        (lambda: PANEL.waist_end("side"), "front, top, back, bottom"),
        (lambda: ps.layer_svg(SHIFTED, "A"), "a, b"),
        (lambda: ps.layer_pdf(SHIFTED, "A", ps.PageOptions(ps.parse_paper("a4"))), "a, b"),
    ],
)
def test_a_misspelt_choice_is_refused_with_those_there_are(
    call: Callable[[], object], known: str
) -> None:
    with pytest.raises(KeyError) as caught:
        call()
    assert isinstance(caught.value, ps.PanelshiftError)
    assert known in caught.value.remedy


STRAIGHT = [(0, 0), (1, 0), (2, 0), (3, 0)]


@pytest.mark.parametrize(
    "call",
    [
        lambda: ps.Cutting(0),
        lambda: ps.Stack([ps.Fabric(f"cloth {k}", 0.1) for k in range(201)]),
        lambda: ps.CutPlan(mitre_limit=float("nan")),
        lambda: ps.CutPlan(sheet_width=0.9),
        lambda: ps.FormerModel(80.0, inner_thickness=-1.0),
        lambda: ps.Reading(drafted_waist=-1.0),
        lambda: ps.Strip("a", 0.5, 30.0, "top", low=float("nan")),
        lambda: ps.Bones("a", 7.0, 1.5, channel=float("nan")),
        lambda: ps.Curve.cubics([STRAIGHT, [(9, 0), (9, 1), (9, 2), (9, 3)]]),
        lambda: ps.Curve.cubics([STRAIGHT], closed=True),
        lambda: ps.shift_pattern(PATTERN, SHIFTED.stack, gap=1.1 * PATTERN.waist),
        lambda: ps.shift_pattern(PATTERN.larger(1 / 25.4, 1 / 25.4), SHIFTED.stack),
    ],
)
def test_numbers_that_cannot_be_are_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ps.PanelshiftError):
        call()


@pytest.mark.parametrize("points", ["abc", [(0, 0), (1,)], [(0, "x"), (1, 2)]])
def test_points_that_are_no_numbers_are_told(points: Any) -> None:
    with pytest.raises(ps.PanelshiftError, match="no array of numbers"):
        ps.Curve.polyline(points)
    with pytest.raises(ps.PanelshiftError, match="missing or not finite"):
        ps.Measures(points, points)


@pytest.mark.parametrize(
    "make",
    [
        lambda: ps.SectionModel(ps.Measures.constant(1.4)),
        lambda: ps.Stack([ps.Fabric("a", 0.5)]),
        lambda: ps.Curve.polyline(BOX, closed=True),
        lambda: ps.Measures(np.array([0.0, 90.0]), np.array([1.3, 1.4])),
    ],
)
def test_equal_values_are_equal_and_hash_alike(make: Callable[[], object]) -> None:
    assert make() == make()
    assert len({make(), make()}) == 1
    assert make() != 7


def test_a_curve_is_none_of_its_likes() -> None:
    curve = ps.Curve.polyline(BOX, closed=True)
    assert curve != ps.Curve.polyline([*BOX, BOX[0]])
    assert curve != curve.reversed()
    assert ps.Measures.constant(1.4) != ps.Measures.constant(1.5)
    assert ps.Measures.constant(1.4) != 1.4


def test_a_pattern_is_equal_to_what_is_drawn_alike() -> None:
    again = ps.read_pattern(drawn(HOURGLASS.panels()))
    assert again is not PATTERN
    assert again == PATTERN
    assert hash(again) == hash(PATTERN)
    assert len({PATTERN, again, *PATTERN.panels, *again.panels}) == 1 + len(PATTERN)
    assert PATTERN.larger(1.001) != PATTERN
    assert PATTERN.panels[0] != PATTERN.panels[1]
    assert PATTERN.part([PANEL.name]) != PATTERN
    assert PANEL.outline != PANEL
    named = replace(PANEL, waist=replace(PANEL.waist, name="narrowest"))
    assert named != PANEL
    first, second = (read_svg(drawn(HOURGLASS.panels())) for _ in range(2))
    assert first == second
    assert hash(first) == hash(second)
    assert first.shapes[0] != replace(first.shapes[0], data={"panel": "other"})


@pytest.mark.parametrize("full", [False, True])
def test_a_mirrored_pattern_measures_the_same(full: bool) -> None:
    pattern = replace(PATTERN, full=full)
    over = pattern.mirrored()
    assert over.mirrored() == pattern
    assert over != pattern
    names = [panel.name for panel in pattern]
    assert [panel.name for panel in over] == (names[::-1] if full else names)
    for panel in pattern:
        other = over[panel.name]
        assert other.edge("front").vertices == pytest.approx(
            panel.edge("front").vertices * [-1.0, 1.0]
        )
        assert other.level("waist") is other.waist
        assert other.frame.to_panel(other.waist.curve.vertices) == pytest.approx(
            panel.frame.to_panel(panel.waist.curve.vertices)
        )
    if not full:
        both = [ps.shift_pattern(each, STACK, gap=40.0).layers for each in (pattern, over)]
        for one, other in zip(*both, strict=True):
            assert one.pattern.edge_lengths() == pytest.approx(
                other.pattern.edge_lengths(), abs=0.002
            )


def test_arrays_of_results_cannot_be_written_to_and_ones_own_can() -> None:
    layer, turn = SHIFTED.layer("b"), SHIFTED.turn.body
    measures = ps.Measures.constant(1.4)
    frozen = (layer.distances, SHIFTED.grown.distances, turn.angles, turn.tilts, measures.values)
    for array in frozen:
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 7.0
    panel = PATTERN.panels[0]
    assert not panel.frame.origin.flags.writeable
    assert not any(text.anchor.flags.writeable for text in panel.texts)
    own = np.array([[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [3.0, 0.0]]])
    ps.Curve.cubics(own)
    own[0, 0] = 1.0


def outlines() -> dict[str, object]:
    from shapely.geometry import LinearRing, Polygon
    from svgpathtools import parse_path

    d = "M0 0 H60 V160 H0 Z"
    return {
        "points": BOX,
        "array": np.array(BOX),
        "path data": d,
        "svgpathtools": parse_path(d),
        "polygon": Polygon(BOX),
        "ring": LinearRing(BOX),
        "curve": ps.Curve.polyline(BOX, closed=True),
    }


def test_outlines_come_in_many_kinds() -> None:
    for name, outline in outlines().items():
        panel = ps.pattern_from_panels([ps.DraftPanel("one", outline, WAIST)])["one"]
        np.testing.assert_array_equal(panel.outline.control, PLAIN.control, err_msg=name)


PLAIN = ps.pattern_from_panels([ps.DraftPanel("one", BOX, WAIST)])["one"].outline


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        ("M0 0 H9 V9 Z M20 0 H9 V9 Z", "path data of 2 subpaths"),
        ("", "path data of 0 subpaths"),
        ({"type": "Point", "coordinates": (0, 0)}, "type 'Point'"),
        ({"type": "Polygon", "coordinates": [BOX, BOX]}, "type 'Polygon' with 2 parts"),
    ],
)
def test_what_is_no_single_outline_is_told(outline: Any, words: str) -> None:
    class Shape:
        __geo_interface__ = outline

    given = outline if isinstance(outline, str) else Shape()
    with pytest.raises(ps.PanelshiftError, match=words):
        ps.pattern_from_panels([ps.DraftPanel("one", given, WAIST)])


@pytest.mark.parametrize("surface", ["inside", "outside"])
@pytest.mark.parametrize("wanted", [560.0, 715.25])
def test_a_drafted_waist_gives_the_finished_measure(surface: str, wanted: float) -> None:
    stack = ps.Stack([ps.Fabric("a", 0.3), ps.Fabric("b", 0.6), ps.Fabric("bones", 1.5, 0.2)], "b")
    body = ps.SectionModel(ps.Measures.constant(1.35))
    found = ps.drafted_waist_for(PATTERN, stack, body, gap=45.0, **{surface: wanted})
    made = PATTERN.larger(found / PATTERN.waist)
    assert made.waist == pytest.approx(found, abs=1e-9)
    turn = ps.shift_pattern(made, stack, body, gap=45.0).turn
    rows = finished_girths(turn, stack, "b", gap=45.0)
    closed = next(row.closed for row in rows if row.level == "waist")
    name = {"inside": "skin side", "outside": "outside"}[surface]
    assert closed[name] == pytest.approx(wanted, abs=0.01)


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ({}, "for both measures, or for none"),
        ({"inside": 700.0, "outside": 710.0}, "for both measures, or for none"),
        ({"inside": 60.0, "gap": 90.0}, "comes out 60 mm round the waist"),
        ({"outside": 27.5}, "a finished waist of 27.5 mm"),
        ({"outside": np.nan}, "a finished waist of nan mm"),
        ({"inside": "700"}, "inside of drafted_waist_for is '700'"),
    ],
)
def test_measures_that_no_waist_gives_are_refused(measures: Any, words: str) -> None:
    with pytest.raises(ps.PanelshiftError, match=words):
        ps.drafted_waist_for(PATTERN, SHIFTED.stack, **({"gap": 40.0} | measures))
    with pytest.raises(ps.PanelshiftError, match="wider by 0"):
        PATTERN.larger(0.0)

"""Plausible slips: the same words for each, warned of or refused at its bound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from panelshift.construction.sewing import Bones, Construction
from panelshift.construction.sewn import Sewn
from panelshift.errors import JobError, ScaleError
from panelshift.job import read_job, resolve
from panelshift.job.bounds import BOUNDS
from panelshift.job.checks import class_doubts, order_doubts, strength_doubts
from panelshift.job.opened import job_layers
from panelshift.job.said import CODES
from panelshift.stack import Fabric, Stack
from tests.support.terminal import answered

ROOT = Path(__file__).parents[2]

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="700mm" height="300mm" viewBox="0 0 700 300">'
    '<path id="1-centre-front" d="M10 20H170V220H10Z"/>'
    '<path id="2-centre-back" d="M210 20H370V220H210Z"/><path id="waist" d="M0 120H690"/></svg>'
)

GIRTH, JOIN = "[body.girths]\nwaist = ", "join_tolerance = "
TAPED = "[body]\nmodel = 'tapes'\n[body.tapes.waist]\nbreadth = 240\ndepth = "
SEAM = "[allowance]\nseam = "
GAP_AT, RATIO = 'lacing_gap = 50\ngap_at = {"+50" = ', "[body]\nratio = "
SHELL = '[construction]\n[[construction.shell]]\nlayers = ["satin"]\nallowance = '
STRIP = '[construction]\n[[construction.strip]]\nedge = "centre_back"\nthickness = '
WIDE = "\nwidth = "
TAPE = "[extras]\nwaist_tape = "
TAKEN = "0.4\ntake_up = "

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def job(pattern: str = "", rest: str = "", thickness: str = "0.4", svg: str = SVG) -> Path:
        (tmp_path / "draft.svg").write_text(svg)
        (tmp_path / "job.toml").write_text(
            f'[pattern]\nfile = "draft.svg"\n{pattern}\n'
            f'[[stack.fabric]]\nname = "drill"\nthickness = 0.5\n'
            f'[[stack.fabric]]\nname = "satin"\nthickness = {thickness}\n{rest}\n'
        )
        return tmp_path / "job.toml"

    return job


def told(path: Path) -> list[str]:
    """Codes of slips."""
    found = resolve(read_job(path)).look_at
    return [remark.code for remark in found if remark.code.startswith("slip")]


def test_a_plain_job_has_none(write: Write) -> None:
    assert told(write()) == []


def test_a_girth_is_held_against_the_gap_at_its_own_height(write: Write) -> None:
    gaps = 'lacing_gap = 0\ngap_at = { "+50" = 160 }'
    (odd,) = resolve(read_job(write(gaps, '[body.girths]\n"+50" = 1020'))).slips
    assert "with its lacing gap 800 mm" in odd.words


def test_what_helps_against_several_alike_is_told_once(write: Write) -> None:
    with pytest.raises(JobError) as error:
        resolve(read_job(write("", '[body.girths]\nwaist = 3000\n"+50" = 3200')))
    assert str(error.value).lower().count("give whole girths of the body as laced") == 1
    assert "body.girths.+50: the body's girth at +50 is 3200 mm" in str(error.value)


@pytest.mark.parametrize(("halves", "drawn"), [("half", 670.0), ("full", 350.0)])
def test_a_girth_is_held_against_what_is_drawn_of_the_body(
    write: Write, halves: str, drawn: float
) -> None:
    head = f'halves = "{halves}"\nlacing_gap = 30'
    slips = resolve(read_job(write(head, "[body.girths]\nwaist = 480"))).slips
    (odd,) = (slip for slip in slips if slip.bound.code == "slip-girth")
    assert odd.value == pytest.approx(480.0 / drawn)
    assert (odd.key, odd.refused) == ("body.girths.waist", False)
    assert odd.words == (
        f"the body's girth at waist is 480 mm, the pattern's with its lacing gap {drawn:g} mm"
    )


@pytest.mark.parametrize(
    ("code", "usual", "odd", "impossible"),
    [
        ("slip-gap", {"pattern": "lacing_gap = 60"}, {"pattern": "lacing_gap = 200"}, "= 700"),
        ("slip-narrow", {"pattern": "lacing_gap = 50"}, {"pattern": "lacing_gap = 2"}, ""),
        ("slip-narrow", {"pattern": f"{GAP_AT}40}}"}, {"pattern": f"{GAP_AT}4}}"}, ""),
        ("slip-ratio", {"rest": f"{RATIO}1.35"}, {"rest": f"{RATIO}0.74"}, "= 6"),
        ("slip-ratio", {"rest": f"{TAPED}170"}, {"rest": f"{TAPED}340"}, "= 2000"),
        ("slip-allowance", {"rest": f"{SEAM}10"}, {"rest": f"{SEAM}0.5"}, "= 400"),
        ("slip-allowance", {"rest": f"{SHELL}3"}, {"rest": f"{SHELL}0.25"}, ""),
        ("slip-width", {"rest": f"{STRIP}0.4{WIDE}9"}, {"rest": f"{STRIP}0.4{WIDE}1.5"}, ""),
        ("slip-thickness", {"rest": f"{STRIP}0.4{WIDE}9"}, {"rest": f"{STRIP}0.02{WIDE}9"}, ""),
        ("slip-width", {"rest": f"{TAPE}20"}, {"rest": f"{TAPE}0.75"}, "= 3000"),
        ("slip-busk", {"rest": "[fit]\nbusk = 12"}, {"rest": "[fit]\nbusk = 60"}, "= 330"),
        ("slip-former", {"rest": "[fit]\nformer = 80"}, {"rest": "[fit]\nformer = 20"}, "= 8"),
        ("slip-thickness", {"thickness": "0.05"}, {"thickness": "0.03"}, "45"),
        ("slip-girth", {"rest": f"{GIRTH}650"}, {"rest": f"{GIRTH}900"}, "= 320"),
        ("slip-join-tolerance", {"pattern": f"{JOIN}1"}, {"pattern": f"{JOIN}9"}, "= 60"),
        ("slip-take-up", {"thickness": f"{TAKEN}0.04"}, {"thickness": f"{TAKEN}0.08"}, "= 0.16"),
        ("slip-scale", {"pattern": "scale = 1.05"}, {"pattern": "scale = 50"}, "= 1e-9"),
        ("slip-growth", {"thickness": "2.9"}, {"thickness": "14"}, ""),
    ],
)  # fmt: skip
def test_each_is_silent_warned_of_and_refused(
    write: Write, code: str, usual: dict[str, str], odd: dict[str, str], impossible: str
) -> None:
    assert code not in told(write(**usual))
    if code != "slip-scale":  # A pattern fifty times as large has no room in 100 m, or no waist.
        assert code in told(write(**odd))
    if impossible:
        (key, words), *_ = odd.items()
        head, equal, _ = words.rpartition("= ")
        with pytest.raises(JobError) as caught:
            resolve(read_job(write(**{key: head + impossible if equal else impossible})))
        assert caught.value.element
        assert caught.value.remedy


def test_a_bust_that_no_body_has_is_the_drawings_fault(write: Write) -> None:
    """Ten times too large: it was refused as what the job says of the body, whatever was stated."""
    svg = SVG.replace("</svg>", '<path id="bust" d="M0 50H690"/></svg>')
    assert told(write(svg=svg)) == []
    with pytest.raises(JobError, match="the level bust is drawn 700 mm above the waist"):
        resolve(read_job(write("scale = 10", svg=svg)))
    assert resolve(read_job(write("scale = 10", "[body]\nmodel = 'classes'", svg=svg)))
    assert resolve(read_job(write("scale = 10", "[body]\nbust_height = 70", svg=svg)))
    stated = resolve(read_job(write("scale = 10\ndrafted_waist = 640", svg=svg)))
    with pytest.raises(ScaleError, match="ratio 10"):
        job_layers(stated)


def test_a_measured_distance_far_from_the_thicknesses_is_told(write: Write) -> None:
    lines = '[[stack.measured]]\ninner = "drill"\nouter = "satin"\nuncertainty = 0.05\ndistance = '
    assert told(write(rest=f"{lines}0.5")) == []
    assert "slip-measured" in told(write(rest=f"{lines}1.2"))
    with pytest.raises(JobError, match=r"by thickness 0\.45 mm"):
        resolve(read_job(write(rest=f"{lines}1.6")))


def test_a_waist_that_no_adult_has_is_told_unless_it_is_the_drafted_one(write: Write) -> None:
    assert told(write("scale = 0.5")) == ["slip-waist"]
    assert told(write("scale = 0.5\ndrafted_waist = 320")) == []


@pytest.mark.parametrize(("dots", "factor"), [(72.0, "1.33333"), (90.0, "1.06667")])
def test_a_page_at_other_px_to_the_inch_is_told(write: Write, dots: float, factor: str) -> None:
    wide, high = 594.0 / 25.4 * dots, 420.0 / 25.4 * dots
    head = f'width="{wide:.2f}" height="{high:.2f}" viewBox="0 0 594 420"'
    svg = SVG.replace('width="700mm" height="300mm" viewBox="0 0 700 300"', head)
    found = [r for r in resolve(read_job(write(svg=svg))).look_at if r.code == "slip-dots"]
    assert len(found) == 1
    assert f"pattern.scale = {factor}" in found[0].words
    waist = 640.0 * dots / 96.0
    assert told(write(f"drafted_waist = {waist}", svg=svg)) == []


def test_a_page_that_a_converter_shrank_is_told(write: Write) -> None:
    paths = SVG.replace("<path ", '<path transform="matrix(0.999394,0,0,-0.999394,0.2,299)" ')
    paths = paths.replace("</svg>", '<path id="hip" d="M0 200H690" transform="{}"/></svg>')
    same = "matrix(0.999394,0,0,-0.999394,0.2,299)"
    job = resolve(read_job(write('halves = "half"', svg=paths.format(same))))
    (remark,) = (r for r in job.look_at if r.code == "shrunk-page")
    assert "0.06% smaller" in remark.words
    assert "pattern.scale = 1.00061" in remark.words
    other = resolve(read_job(write('halves = "half"', svg=paths.format("translate(0, 1)"))))
    assert "shrunk-page" not in [r.code for r in other.look_at]


def test_the_docs_list_every_bound_and_every_code() -> None:
    reliability = (ROOT / "docs" / "reliability.md").read_text()
    rows = [line for line in reliability.splitlines() if line.startswith("| `slip-")]
    assert rows == [bound.row() for bound in BOUNDS]
    listed = [
        line for line in (ROOT / "docs" / "codes.md").read_text().splitlines() if line[:3] == "| `"
    ]
    assert listed == [f"| `{code}` | {about} |" for code, about in CODES.items()]


def test_codes_stand_in_json_beside_their_words(write: Write) -> None:
    data = answered("check", write("lacing_gap = 200"))
    assert "slip-gap" in [entry["code"] for entry in data["look_at"]]
    assert {entry["code"] for entry in data["look_at"]} <= set(CODES)


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (("lining", "coutil", "fashion fabric"), ""),
        (("fashion fabric", "coutil", "lining"), "lining is the outermost layer and fashion"),
        (("coutil", "Lining"), "Lining is the outermost layer:"),
        (("outer satin", "coutil"), "outer satin is the innermost layer:"),
        (("coutil", "interlining"), ""),
        (("fashion lining", "coutil"), ""),
        (("coutil", "lining", "brocade"), ""),
        (("coutil", "fashion fabric", "lining"), "lining is the outermost layer:"),
        (("coutil", "outer satin", "silk"), ""),
        (("top satin", "lining", "coutil"), "top satin is the innermost layer:"),
        (("coutil", "silk", "outer lining"), ""),
    ],
)
def test_fabrics_listed_from_the_outside_in_are_told(names: tuple[str, ...], told: str) -> None:
    stack = Stack([Fabric(name, 0.4) for name in names])
    found = order_doubts(stack)
    assert [remark.code for remark in found] == ["layer-order"] * bool(told)
    assert all(told in remark.words for remark in found)


def test_what_is_not_cut_and_covers_all_unsaid_is_told(write: Write) -> None:
    def codes(rest: str) -> list[str]:
        told = resolve(read_job(write(rest=f"cut_out = false\n{rest}"))).look_at
        return [remark.code for remark in told if remark.code == "covers-all"]

    assert codes("") == ["covers-all"]
    assert codes("coverage = 1") == codes("coverage = 0.2") == []


_STACK = Stack([Fabric(name, 0.4) for name in ("lining", "coutil", "silk")])


@pytest.mark.parametrize(
    ("drafted", "bones", "said", "told"),
    [
        ("coutil", ("coutil",), "", ""),
        ("coutil", ("lining",), "", ""),  # bones between the two
        ("silk", ("coutil",), "", "the bones lie on coutil"),
        ("lining", ("coutil",), "", "the bones lie on coutil"),
        ("silk", ("lining",), "", "the bones lie on lining"),
        ("silk", ("coutil",), "coutil", ""),
        ("silk", (), "", "it is the outermost"),
        ("coutil", (), "", ""),
    ],
)
def test_a_strength_layer_that_is_not_named_is_told(
    drafted: str, bones: tuple[str, ...], said: str, told: str
) -> None:
    how = Construction(
        bones=[Bones(on, 6.0, 1.0, per_panel={}) for on in bones], strength_layer=said
    )
    found = strength_doubts(Sewn(how, replace(_STACK, drafted=drafted)))
    assert [remark.code for remark in found] == ["strength-layer"] * bool(told)
    assert all(told in remark.words and drafted in remark.words for remark in found)
    stiff = Sewn(replace(how, body="stiff"), replace(_STACK, drafted=drafted))
    assert not strength_doubts(stiff)
    assert not strength_doubts(None)


def test_a_name_that_tells_another_class_is_told(write: Write) -> None:
    job = resolve(read_job(write(rest='[body]\nmodel = "classes"\n')))
    assert not class_doubts(job.pattern, job.classes)
    (told,) = class_doubts(job.pattern, ["side", "back"])
    assert told.elements == (job.pattern[0].name,)
    assert "called front, but its class is side" in told.words

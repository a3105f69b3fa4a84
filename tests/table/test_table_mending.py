"""A draft that leaves something open: a job from the first drop on, and a button that mends it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from panelshift.job import read_job, resolve
from panelshift.job.model import PatternTable
from panelshift.table.pattern_view import FIELDS, by_fields
from tests.support.drawings import Draft, half, panels, svg, write_job
from tests.support.pdfs import made
from tests.support.runs import SAMPLES

from .client import Answer, Table, inner, sample, tree

FIRST, SECOND, THIRD = half(3)
WAIST = 2.0 * sum(draft.waist for draft in (FIRST, SECOND, THIRD))
GAP = svg(FIRST.panel() + SECOND.pieces(gap=0.78) + SECOND.line(over=0.5) + THIRD.panel())


def other_word() -> str:
    """Two lines across each panel, neither called a waist in a way that is known."""
    drawn = panels((FIRST, SECOND, THIRD)).replace("waist", "middle")
    for draft in (FIRST, SECOND, THIRD):
        x0, x1 = draft.x - 10.0, draft.x + draft.waist + 10.0
        drawn += f'<path id="lower {draft.name}" d="M{x0} {draft.y + 50}H{x1}"/>'
    return svg(drawn)


def two_sizes() -> str:
    drawn = ""
    for draft in (FIRST, SECOND, THIRD):
        wider = replace(
            draft,
            name=f"{draft.name} large",
            x=draft.x - 3.0,
            waist=draft.waist + 6.0,
            above=draft.above + 4.0,
            below=draft.below + 4.0,
        )
        widest = replace(
            draft,
            name=f"{draft.name} larger",
            x=draft.x - 6.0,
            waist=draft.waist + 12.0,
            above=draft.above + 8.0,
            below=draft.below + 8.0,
        )
        drawn += draft.outline() + wider.outline() + widest.outline() + widest.line()
    return svg(drawn)


def pattern_keys(table: Table) -> PatternTable:
    """What the job on the table says of its drawing."""
    state = table.session.state()
    assert state is not None
    assert state.file.value is not None
    return state.file.value.pattern


def buttons(answer: Answer, key: str) -> list[tuple[str, dict[str, str]]]:
    """Words of each button that settles a key, and what it sends."""
    found = tree(answer.text).xpath("//*[@id=$ident]//button[@hx-vals]", ident=f"ask-{key}")
    return [("".join(b.itertext()), json.loads(b.get("hx-vals"))) for b in found]


def press(table: Table, answer: Answer, key: str, place: int = 0) -> Answer:
    words, values = buttons(answer, key)[place]
    pressed = table.edit("mend", values, of=f"say-{key}-{place}")
    assert not pressed.refused, (words, inner(pressed.text, f"ask-{key}"))
    return pressed


def test_a_gap_is_closed(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("draft.svg", GAP.encode())
    assert pattern_keys(table).file.name == "draft.svg"
    assert "a gap of 0.78 mm" in inner(answer.text, "step-pattern")
    assert "join_tolerance" not in inner(answer.text, "step-pattern")
    ((words, values),) = buttons(answer, "join_tolerance")
    assert words == "Close this gap"
    # It is drawn where it is, and its line can be pointed at.
    picture = tree(answer.text).xpath("//*[@id='pattern-picture']")[0]
    assert picture.xpath(".//*[@data-flag='1']")
    assert picture.xpath(".//*[@data-answer='say-join_tolerance-0']/*[@class='line']")
    mended = press(table, answer, "join_tolerance")
    assert f"whole waist {WAIST:g} mm" in inner(mended.text, "pattern-summary")
    assert buttons(mended, "join_tolerance") == []
    assert 0.78 < pattern_keys(table).join_tolerance <= 0.79 + 1e-9
    undone = table.post("/undo", {})
    assert len(buttons(undone, "join_tolerance")) == 1
    assert values["value"] == "0.79 mm"


@pytest.mark.slow
def test_a_waistline_called_by_another_word_is_pointed_at(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("draft.svg", other_word().encode())
    found = buttons(answer, "waistlines")
    assert len(found) == 2
    assert [words for words, _ in found] == [f"{k}: This line is the waist" for k in "AB"]
    place = next(k for k, (_, values) in enumerate(found) if "middle" in values["value"])
    lines = tree(answer.text).xpath("//*[@data-answer=$a]/*", a=f"say-waistlines-{place}")
    assert len([line for line in lines if line.get("class") == "line"]) == 3
    mended = press(table, answer, "waistlines", place)
    assert f"whole waist {WAIST:g} mm" in inner(mended.text, "pattern-summary")
    assert all("middle" in ident for ident in pattern_keys(table).waistlines)


@pytest.mark.slow
def test_a_size_is_chosen(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("draft.svg", two_sizes().encode())
    found = buttons(answer, "size")
    assert [values["value"] for _, values in found] == ["1", "2", "3"]
    for place, wider in ((0, 0.0), (2, 12.0)):
        pressed = press(table, answer, "size", place)
        whole = WAIST + 6.0 * wider
        assert f"whole waist {whole:g} mm" in inner(pressed.text, "pattern-summary")
        table.post("/undo", {})


@pytest.mark.slow
def test_half_or_both_is_said(tmp_path) -> None:
    """Where little tells it the library warns, and the page asks beside the warning."""
    drafts = [
        Draft(name=k, x=40.0 + 150.0 * n, waist=110.0 + 3.0 * n) for n, k in enumerate("abcd")
    ]
    drawn = sum(draft.waist for draft in drafts)
    table = Table(tmp_path)
    answer = table.drop("draft.svg", svg(panels(drafts)).encode())
    found = buttons(answer, "halves")
    assert [words.partition(": ")[2] or words for words, _ in found] == [
        "One half is drawn",
        "Both halves are drawn",
    ]
    for place, whole in ((0, 2.0 * drawn), (1, drawn)):
        said = press(table, answer, "halves", place)
        assert f"whole waist {whole:g} mm" in inner(said.text, "pattern-summary")
        assert buttons(said, "halves") == []
        answer = table.post("/undo", {})


@pytest.mark.slow
def test_another_waist_is_taken_or_the_scale_mended(tmp_path) -> None:
    table = sample(tmp_path)
    answer = table.edit("setting", {"place": "pattern.drafted_waist", "value": "480"})
    flags = tree(answer.text).xpath("//*[@class='flags']")[0]
    assert "pattern.scale" not in "".join(flags.itertext())
    ((words, _),) = buttons(answer, "drafted_waist")
    assert words == "My waist is 640 mm: use it"
    mended = press(table, answer, "drafted_waist")
    assert buttons(mended, "drafted_waist") == []
    assert pattern_keys(table).drafted_waist == 640.0
    table.post("/undo", {})
    answer = table.edit("setting", {"place": "pattern.title", "value": "scale"})
    ((words, _),) = buttons(answer, "scale")
    assert words == "Take the drawing 0.75 times as large"
    mended = press(table, answer, "scale")
    assert "whole waist 480 mm" in inner(mended.text, "pattern-summary")


def test_lines_may_be_pointed_at_one_by_one(tmp_path) -> None:
    """Where no group of lines is alike on every panel, those that are ticked are the waist."""
    text = other_word()
    table = Table(tmp_path)
    table.drop("draft.svg", text.encode())
    present = [f"middle {draft.name}" for draft in (FIRST, SECOND)]
    answer = table.edit("mend", {"key": "waistlines", "value": "\n".join(present)})
    assert not answer.refused
    assert list(pattern_keys(table).waistlines) == present
    assert table.edit("mend", {"key": "waistlines", "value": ""}).refused
    assert table.edit("mend", {"key": "file", "value": "x"}).refused


@pytest.mark.slow
def test_what_the_page_mended_is_what_the_command_reads(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("draft.svg", GAP.encode())
    press(table, answer, "join_tolerance")
    for name in ("lining", "strength layer", "fashion fabric"):
        table.edit("fabric", {"fabric": name, "key": "thickness", "value": "0.4"})
    job = resolve(read_job(table.job))
    assert job.pattern.waist == pytest.approx(WAIST, abs=1.0)


@pytest.mark.slow
def test_another_drawing_that_leaves_something_open_takes_the_place(tmp_path) -> None:
    table = sample(tmp_path)
    before = table.text
    answer = table.drop("draft.svg", GAP.encode())
    assert "is in its place; something in it is open" in answer.said
    mended = press(table, answer, "join_tolerance")
    assert f"whole waist {WAIST:g} mm" in inner(mended.text, "pattern-summary")
    assert read_job(table.job).stack.fabric[0].name == "lining"
    for _ in range(2):
        table.post("/undo", {})
    assert table.text == before
    assert (SAMPLES / "hourglass.svg").read_bytes() == (tmp_path / "hourglass.svg").read_bytes()


@pytest.mark.slow
def test_what_the_job_says_of_panels_that_are_gone_goes_and_all_else_stays(tmp_path) -> None:
    drafts, level = half(3), '<path id="hip" d="M0 260H400"/>'
    job = write_job(
        tmp_path,
        panels(drafts) + level,
        head='order = ["panel 3", "panel 2", "panel 1"]\nlacing_gap = 50\n'
        'waistlines = ["waist panel 1", "waist panel 2", "waist panel 3"]',
        rest='[panel."panel 1"]\nclass = "side"\n[panel."panel 2"]\nclass = "front"\n'
        '[body.girths]\nhip = 360\n"+40" = 325\n',
    )
    table = Table(tmp_path, job.name)
    other = panels(drafts).replace("panel 1", "first").replace("waist first", "middle first")
    other = other.replace("waist panel", "middle panel").replace("middle", "waist")
    answer = table.drop("other.svg", svg(other).encode())
    assert "taken out (panel 1)" in answer.said
    kept = read_job(table.job)
    assert kept.pattern.order == kept.pattern.waistlines == ()
    assert list(kept.panel) == ["panel 2"]
    assert dict(kept.body.girths) == {"+40": 325.0}
    assert kept.pattern.lacing_gap == 50.0
    # One that has all panels keeps all.
    table.post("/undo", {})
    table.drop("again.svg", svg(panels(drafts) + level).encode())
    again = read_job(table.job)
    assert len(again.pattern.order) == len(again.pattern.waistlines) == 3
    assert dict(again.body.girths) == {"hip": 360.0, "+40": 325.0}


def test_the_page_of_a_pdf_is_chosen_by_its_picture(tmp_path) -> None:
    """A panel on one page, something else on the other: both are shown, and one is taken."""
    line = "28 57 m 170 57 l S"
    pages = [line, f"{line} 0 0 m 50 50 l S"]
    table = Table(tmp_path)
    answer = table.drop("draft.pdf", made(pages))
    assert (tmp_path / "draft.pdf").exists()
    found = buttons(answer, "page")
    assert [words for words, _ in found] == ["Page 1 is the pattern", "Page 2 is the pattern"]
    assert len(tree(answer.text).xpath("//*[@id='ask-page']//*[local-name()='svg']")) == 2
    press(table, answer, "page", 1)
    assert pattern_keys(table).page == 2
    state = table.session.state()
    assert state is not None
    assert state.drawing.value is not None
    assert len(state.drawing.value.shapes) == 2


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ('Set halves = "half" in the job file: of', "Set “What is drawn” to half a pattern: of"),
        ("both are drawn (halves says so)", "both are drawn (“What is drawn” says so)"),
        ("set pattern.scale = 0.75.", "set “Scale the drawing by” to 0.75."),
        ("raise join_tolerance in the job file if", "raise “Close gaps in outlines up to” if"),
        ("state [pattern] drafted_waist, which", "state “Waist you drafted to”, which"),
        ("as leave_out in the job file.", "as leave_out in the job file as text (step 5)."),
        ("a broad scale of halves", "a broad scale of halves"),
    ],
)
def test_messages_name_fields_where_the_page_has_them(words: str, shown: str) -> None:
    assert by_fields(words) == shown


def test_fields_are_called_as_messages_name_them(tmp_path) -> None:
    page = sample(tmp_path).get("/").text
    assert [name for name in FIELDS.values() if name not in page] == []
    assert "every seam counts as pressed open" in " ".join(page.split())


@pytest.mark.slow
def test_pieces_that_reach_no_waist_are_set_in_as_gores(tmp_path) -> None:
    table = Table(tmp_path)
    answer = table.drop("gored.svg", (SAMPLES / "gored.svg").read_bytes())
    page = tree(answer.text)
    pieces = [str(value) for value in page.xpath("//select[@id='gore-panel']/option/@value")]
    seams = [str(value) for value in page.xpath("//select[@id='gore-between']/option/@value")]
    before = table.text
    # Each seam's two edges can be clicked in the drawing.
    for ident in page.xpath("//select[@id='gore-between']/option/@id"):
        assert len(page.xpath("//*[@data-answer=$i]/*[@class='hit']", i=ident)) == 2
    refused = table.edit("gore", {"panel": pieces[0], "between": seams[0]}, of="gore-form")
    assert "Nothing is chosen" in refused.why("gore-form")
    refused = table.edit("gore", {"panel": "none", "between": seams[1]}, of="gore-form")
    assert "there is no outline called 'none'" in refused.why("gore-form")
    assert table.text == before
    for piece, seam in zip(pieces, seams[1:], strict=True):
        # As browsers send lines.
        sent = {"panel": piece, "between": seam.replace("\n", "\r\n")}
        answer = table.edit("gore", sent, of="gore-form")
        assert not answer.refused, answer.why("gore-form")
    state = table.session.state()
    assert state is not None
    assert state.pattern.value is not None
    wanted = resolve(read_job(SAMPLES / "gored.toml")).pattern
    assert [panel.name for panel in state.pattern.value] == [panel.name for panel in wanted]
    assert "ask-leave_out" not in answer.text
    assert f"{pieces[1]}, between 2 side front and 3 side back" in inner(
        answer.text, "pattern-more"
    )
    answer = table.edit("ungore", {"place": "1"}, of="ungore-1")
    assert "Half pattern of 6 panels" in inner(answer.text, "pattern-summary")

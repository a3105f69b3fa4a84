"""The job file's text is changed, and nothing else in it."""

from __future__ import annotations

import difflib
import tomllib

import pytest
from hypothesis import given, strategies as st

from panelshift.errors import JobError
from panelshift.table.body_view import BODY
from panelshift.table.edits import edit_of
from panelshift.table.sewing_edits import SEWN
from panelshift.table.toml_changes import changed, put, value_at
from tests.support.examples import examples
from tests.support.runs import SAMPLES

TEXT = (SAMPLES / "hourglass.toml").read_text()


def lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines taken out and lines put in."""
    found = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [s[2:] for s in found if s[:2] == "- "], [s[2:] for s in found if s[:2] == "+ "]


def test_one_value_changes_one_line_and_keeps_its_comment() -> None:
    edit = edit_of(
        "fabric", {"fabric": "lining", "key": "thickness", "value": "0,25"}, "mm", {**BODY, **SEWN}
    )
    gone, come = lines(TEXT, changed(TEXT, edit.change))
    assert gone == ["thickness = 0.2           # invented for this sample, as are all below"]
    assert come == ["thickness = 0.25           # invented for this sample, as are all below"]


@pytest.mark.parametrize(
    ("kind", "form"),
    [
        ("setting", {"place": "pattern.lacing_gap", "value": "40"}),
        ("setting", {"place": "fit.busk", "value": "12"}),
        ("class", {"panel": "2 front", "value": "side"}),
        ("class", {"panel": "4 side", "value": "back"}),
        ("girth", {"level": "waist", "value": "650"}),
        ("body", {"model": "section", "ratio": "1,3"}),
        ("rename", {"fabric": "coutille", "value": "herringbone coutil"}),
        ("add", {"name": "silk", "thickness": "0.3"}),
        ("move", {"fabric": "brocade", "to": "0"}),
        ("remove", {"fabric": "interlining"}),
    ],
)
def test_every_comment_stays(kind, form) -> None:
    def comments(text: str) -> list[str]:
        return sorted(line.partition("#")[2] for line in text.splitlines() if "#" in line)

    after = changed(TEXT, edit_of(kind, form, "mm", {**BODY, **SEWN}).change)
    assert comments(after) == comments(TEXT)
    tomllib.loads(after)


def test_line_ends_stay_as_they_are() -> None:
    text = TEXT.replace("\n", "\r\n")
    for place in ("pattern.lacing_gap", "pattern.title", "fit.busk"):
        edit = edit_of("setting", {"place": place, "value": "40"}, "mm", {**BODY, **SEWN})
        after = changed(text, edit.change)
        assert after.count("\r\n") == after.count("\n")
        assert tomllib.loads(after) != tomllib.loads(text)


def test_a_new_key_stands_with_the_keys_of_its_table() -> None:
    """Not after the comments that speak of the next table."""
    text = '[body]\nmodel = "section"  # why\n\n# Panels, one by one.\n[panel.a]\ncut = 1\n'
    after = changed(
        text, edit_of("body", {"model": "section", "ratio": "1,5"}, "mm", {**BODY, **SEWN}).change
    )
    assert after == text.replace("# why\n", "# why\nratio = 1.5\n")


INLINE = """\
stack = { drafted_layer = "b", fabric = [{ name = "a", thickness = 1 }, { name = "b", loft = 2 }] }
pattern.file = "x.svg" # dotted
"""


@pytest.mark.parametrize(
    ("kind", "form"),
    [
        ("move", {"fabric": "b", "to": "0"}),
        ("add", {"name": "c", "thickness": "3"}),
        ("fabric", {"fabric": "a", "key": "thickness", "value": "4"}),
        ("remove", {"fabric": "b"}),
        ("setting", {"place": "pattern.title", "value": 'a "quoted" one'}),
    ],
)
def test_other_ways_to_write_a_job(kind, form) -> None:
    edit = edit_of(kind, form, "mm", {**BODY, **SEWN})
    expected = tomllib.loads(INLINE)
    edit.change(expected)
    assert tomllib.loads(changed(INLINE, edit.change)) == expected


NAMES = st.text(min_size=1, max_size=12).filter(lambda s: s.isprintable())


@pytest.mark.slow
@given(st.dictionaries(NAMES, st.floats(0.0, 9.0), min_size=1, max_size=4), NAMES, NAMES)
@examples(15)
def test_any_names_can_be_put_and_taken(values, table, key) -> None:
    text = "# begun\n[pattern]\nfile = 'a.svg' # a file\n"

    def fill(data) -> None:
        for name, value in values.items():
            put(data, ("panel", table, name), value)

    try:
        after = changed(text, fill)
    except JobError:
        return
    found = tomllib.loads(after)
    assert value_at(found, ("panel", table)) == values
    assert after.startswith("# begun\n")
    emptied = changed(after, lambda data: put(data, ("panel", table), None))
    assert not tomllib.loads(emptied).get("panel")


def test_a_text_that_cannot_be_changed_as_asked_is_refused() -> None:
    def odd(data) -> None:
        # Comes out differently in the text and in the data.
        data["pattern"] = {"file": str(type(data))}

    with pytest.raises(JobError, match="cannot change"):
        changed("[pattern]\nfile = 'a'\n", odd)

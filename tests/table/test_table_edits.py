"""Every edit of the page in a row: what it says, and what it does to the two files of the work.

The golden page was looked over by eye; when it is meant to change, look at the new one and refresh
it with PANELSHIFT_REFRESH_GOLDEN=1.
"""

from __future__ import annotations

import difflib
import json
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from panelshift.errors import PanelshiftError
from panelshift.sources.svg.document import MOST_BYTES
from panelshift.table.accepting import StaleError
from panelshift.table.altering_edits import ALTERED
from panelshift.table.body_view import BODY
from panelshift.table.edits import KINDS, SETTINGS
from panelshift.table.paper_work import MOST_PHOTO_BYTES
from panelshift.table.server import UPLOADS
from panelshift.table.session import Session
from panelshift.table.sewing_edits import SEWN
from panelshift.table.stages import State
from tests.support.golden import changes, golden_job

from .client import Table, inner

Form = dict[str, str]

_SHELL = {"layers": "layers", "seams": "choice", "graded": "lengths"}
_BONES = {"on": "choice", "width": "length", "thickness": "length", "bends": "yes or no"}
_STRIP = {"on": "choice", "width": "length", "thickness": "length", "edge": "choice"}
_ODD = {**_BONES, "weight": "number", "colour": "no such kind"}


def _sewing(place: list[object], kind: str, value: str) -> tuple[str, Form]:
    return "sewing", {"place": json.dumps(place), "kind": kind, "label": "a field", "value": value}


def _sew(table: str, kinds: Mapping[str, str], **values: str) -> tuple[str, Form]:
    return "sew", {"table": table, "kinds": json.dumps(kinds), **values}


def _of_fabric(key: str, value: str, fabric: str = "lining") -> tuple[str, Form]:
    return "fabric", {"fabric": fabric, "key": key, "value": value}


def _set(place: str, value: str) -> tuple[str, Form]:
    return "setting", {"place": place, "value": value}


def _reading(former: str, length: str, overhang: str, outer: str = "coutille") -> tuple[str, Form]:
    values = {"former": former, "length": length, "overhang": overhang}
    return "reading", {"inner": "lining", "outer": outer, **values}


_TYPED = {
    "title": "Mine",
    "units": "in",
    "halves": "half",
    "scale": "1",
    "drafted_layer": "brocade",
    "drafted_waist": "168 mm",
    "join_tolerance": "0.01",
    "lacing_gap": "3 cm",
    "seam_tolerance": "1/16",
    "busk": "1/2",
    "seam": "1/2",
    "centre_front": "3/8",
    "centre_back": "1 1/4",
    "top": "0",
    "bottom": "0,25",
}
"""What is typed into fields of single settings."""

_STEPS: tuple[tuple[str, Form], ...] = (
    # Layers.
    _of_fabric("thickness", "0,25"),
    _of_fabric("thickness", "1/64 in"),
    _of_fabric("thickness", "60"),
    _of_fabric("thickness", ""),
    _of_fabric("thickness", "0.2", "velvet"),
    _of_fabric("thickness_uncertainty", "0.02"),
    _of_fabric("thickness_uncertainty", ""),
    _of_fabric("coverage", "40"),
    _of_fabric("coverage", "140"),
    _of_fabric("coverage", "100"),
    _of_fabric("loft", "0.9"),
    _of_fabric("cut_out", "no"),
    _of_fabric("cut_out", "yes"),
    _of_fabric("colour", "red"),
    ("add", {"name": "silk", "thickness": "0.3"}),
    ("add", {"name": "silk", "thickness": "0.3"}),
    ("add", {"name": "tulle", "thickness": "thin"}),
    ("add", {"name": "tulle"}),
    ("move", {"fabric": "silk", "to": "0"}),
    ("move", {"fabric": "silk", "to": "9999"}),
    ("move", {"fabric": "silk", "to": "-1"}),
    ("rename", {"fabric": "coutille", "value": "drill"}),
    ("rename", {"fabric": "drill", "value": "lining"}),
    ("rename", {"fabric": "drill", "value": ""}),
    # Readings, which follow the layers.
    _reading("80", "150", "2.5", "drill"),
    _reading("9 cm", "150", "2,5", "drill"),
    _reading("80", "150", "wide", "drill"),
    _reading("80", "150", "2.5", "velvet"),
    ("unread", {"place": "2"}),
    ("unread", {"place": "-1"}),
    ("unread", {"place": "0000001"}),
    ("unread", {"place": ""}),
    ("rename", {"fabric": "drill", "value": "coutille"}),
    ("unread", {"place": "0"}),
    ("remove", {"fabric": "velvet"}),
    ("remove", {"fabric": "coutille"}),
    ("remove", {"fabric": "silk"}),
    ("add", {"name": "coutille", "thickness": "0.5"}),
    _reading("80", "150", "2.0"),
    ("unread", {"place": "0"}),
    # Single settings; an empty field takes the key out.
    *(_set(".".join(place), _TYPED[place[-1]]) for place in SETTINGS),
    _set("pattern.units", ""),
    _set("allowance.seam", ""),
    _set("fit.busk", ""),
    _set("pattern.file", "/etc/passwd"),
    _set("pattern.halves", "quarter"),
    _set("pattern.scale", "0"),
    _set("pattern.lacing_gap", "-3"),
    _set("pattern.drafted_waist", "300"),
    _set("pattern.drafted_waist", ""),
    # The body.
    ("class", {"panel": "panel 1", "value": "side"}),
    ("class", {"panel": "panel 1", "value": ""}),
    ("class", {"panel": "panel 1", "value": "sideways"}),
    ("class", {"panel": "panel 9", "value": "side"}),
    ("girth", {"level": "hip", "value": "30 cm"}),
    ("girth", {"level": "knee", "value": "300"}),
    ("body", {"model": "section", "ratio": "1,3"}),
    ("body", {"model": "former", "diameter": "8 cm"}),
    ("body", {"model": "former", "diameter": "0"}),
    ("body", {"model": "mean", "ratio": " ", "of": "women"}),
    ("body", {"model": "mean", "ratio": "1.2", "of": "men"}),
    ("body", {"model": "tapes", "level": "waist", "of": "women", "breadth": "70"}),
    ("body", {"model": "tapes", "level": "waist", "breadth": "70", "depth": "5,5 cm"}),
    ("body", {"model": "tapes", "level": "hip", "girth": "300", "front_arc": "150"}),
    ("body", {"model": "tapes", "level": "hip"}),
    ("body", {"model": "tapes", "level": "knee", "girth": "300"}),
    ("body", {"model": "tapes", "level": "hip", "breadth": "-5", "depth": "0"}),
    ("body", {"model": "tapes", "level": "hip", "breadth": "23,5 cm", "depth": "1,700"}),
    ("body", {"model": "tapes", "level": "hip", "girth": "300", "stand_out": "900 cm"}),
    ("untape", {"level": "hip"}),
    ("untape", {"level": "waist"}),
    ("body", {"model": "form", "file": "nowhere.json"}),
    ("body", {"model": "cube"}),
    ("body", {"model": "classes"}),
    # How it is sewn.
    _sewing(["construction", "top"], "choice", "bound"),
    _sewing(["construction", "top"], "choice", "glued"),
    _sewing(["construction", "top"], "choice", ""),
    _sewing(["construction", "top"], "no such kind", "bound"),
    _sewing(["construction", "lacing"], "number", "3"),
    _sewing(["construction", "fold_factor"], "number", "0,5"),
    _sewing(["stack", "fabric", 0, "stretch"], "share", "1,2 %"),
    _sewing(["stack", "fabric", 0, "stretch"], "share", "0.02"),
    _sewing(["stack", "fabric", 1, "from"], "height", "-40 mm"),
    _sewing(["stack", "fabric", 0, "from"], "height", "-40"),
    _sewing(["stack", "fabric", 0, "from"], "height", "hip"),
    _sewing(["stack", "fabric", 0, "from"], "height", ""),
    _sewing(["stack", "fabric", 9, "stretch"], "share", "0.02"),
    _sewing(["stack", "fabric", -1, "stretch"], "share", "0.02"),
    _sewing(["pattern", "file"], "choice", "/etc/passwd"),
    _sewing(["construction", "swatches"], "choice", "/etc/passwd"),
    _sewing([], "choice", "bound"),
    _sew("shell", _SHELL, layers="lining\nbrocade", seams="open", graded="8, 5"),
    _sew("shell", _SHELL, seams="open"),
    _sew("shell", _SHELL, layers="coutille", seams="to back"),
    _sew("sleeve", _SHELL, layers="coutille"),
    _sew("bones", _BONES, on="coutille", width="7", thickness="1.5", bends="yes"),
    _sew("bones", _BONES, on="coutille", width="-7", thickness="1.5"),
    _sew("bones", _ODD, on="coutille", width="7", thickness="1.5", weight="3", colour="blue"),
    # A facing lies on the skin side where no layer is named.
    _sew("strip", _STRIP, on="", width="2,5 cm", thickness="0.4", edge="centre_front"),
    _sew("strip", _STRIP, on="lining", width="25", thickness="0.4", edge="hem"),
    _sew("strip", _STRIP, on="lining", width="25", thickness="0.4"),
    _sewing(["construction", "strip", 0, "from"], "height", "- 4 cm"),
    _sewing(["construction", "strip", 0, "from"], "height", "hip"),
    _sewing(["construction", "bones", 0, "per_panel", "panel 2"], "by panel", "3"),
    _sewing(["construction", "shell", 0, "layers"], "layers", "brocade\n\ncoutille"),
    _sewing(["construction", "bones", 0, "bends"], "yes or no", "no"),
    _sewing(["construction", "shell", 0, "graded"], "lengths", "9 mm; 6"),
    _sewing(["construction", "shell", 7, "seams"], "choice", "open"),
    ("rename", {"fabric": "brocade", "value": "satin"}),
    ("unsew", {"place": json.dumps(["construction", "shell", 2])}),
    ("unsew", {"place": json.dumps(["construction", "shell", -1])}),
    ("unsew", {"place": json.dumps(["construction", "shell", True])}),
    ("unsew", {"place": json.dumps(["construction", "top", 0])}),
    ("unsew", {"place": json.dumps(["construction", "shell", 0])}),
    ("unsew", {"place": json.dumps(["construction", "shell", 0])}),
    ("unsew", {"place": json.dumps(["construction", "bones", 0])}),
    ("unsew", {"place": json.dumps(["construction", "strip", 0])}),
    # After a fitting.
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out", "whole": "6"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "take_in", "at waist": "4", "at hip": ""}),
    ("alter", {"place": "0", "seam": "panel 1 to panel 2", "way": "take_in", "at waist": "5 mm"}),
    ("alter", {"place": "0000001", "seam": "panel 1 to panel 2", "way": "take_in", "whole": "5"}),
    (
        "alter",
        {
            "edge": "top",
            "way": "raise",
            "at centre front": "8",
            "at centre back": "0",
            "note": " a   note ",
        },
    ),
    ("alter", {"seam": "", "way": "let_out", "whole": "6"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "raise", "whole": "6"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out", "whole": "6", "at hip": "2"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out", "at hip": "wide"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out", "height": "+30 mm"}),
    ("alter", {"seam": "panel 1 to panel 2", "way": "let_out", "height": "", "height_amount": "3"}),
    (
        "alter",
        {
            "seam": "panel 1 to panel 2",
            "way": "let_out",
            "height": "+3 cm\n+30 mm",
            "height_amount": "3\n4",
        },
    ),
    ("unalter", {"place": "7"}),
    ("unalter", {"place": "0000001"}),
    ("unalter", {"place": "0"}),
    ("unalter", {"place": "0"}),
    ("unalter", {"place": "0"}),
    # What a draft leaves open.
    ("mend", {"key": "join_tolerance", "value": "0.4"}),
    ("mend", {"key": "halves", "value": "half"}),
    ("mend", {"key": "scale", "value": "1"}),
    ("mend", {"key": "leave_out", "value": ""}),
    ("mend", {"key": "allowance_drawn", "value": "0"}),
    ("mend", {"key": "file", "value": "/etc/passwd"}),
    ("gore", {"panel": "", "between": "panel 1\npanel 2"}),
    ("gore", {"panel": "gusset", "between": "panel 1"}),
    ("gore", {"panel": "gusset", "between": "panel 1\npanel 2"}),
    ("mend", {"key": "leave_out", "value": "hip\n\nnotch"}),
    ("ungore", {"place": "0"}),
    ("nothing", {}),
    # All of it as text.
    ("text", {"text": "[pattern"}),
    ("text", {"text": "[pattern]\nfile = 'draft.svg'\n"}),
)


def _files(state: State) -> dict[str, list[str]]:
    return {"": state.work.text.splitlines(), "csv ": (state.work.readings or "").splitlines()}


def _now(session: Session) -> State:
    state = session.state()
    assert state is not None
    return state


def _walk(session: Session) -> Iterator[str]:
    state = _now(session)
    for kind, form in _STEPS:
        told = ", ".join(f"{key} = {value}" for key, value in form.items())
        yield f"== {kind}: {told}".replace("\n", " | ")
        try:
            yield f"saved: {session.edit(kind, {**form, 'revision': state.work.revision})}"
        except PanelshiftError as error:
            yield f"refused: {error.problem}. {error.remedy}".replace(str(session.folder), "DIR")
            continue
        before, state = _files(state), _now(session)
        for name, lines in _files(state).items():
            for line in difflib.unified_diff(before[name], lines, n=0, lineterm=""):
                if line[:3] not in ("---", "+++") and line[0] in "+-":
                    yield f"{name}{line}"
        if fault := state.pattern.error or state.job.error:
            yield f"and now: {fault.problem}"
    yield f"to be undone: {session.steps()[0]}"


def test_every_edit_says_and_writes_what_was_looked_over(tmp_path: Path) -> None:
    session = Session(tmp_path, golden_job(tmp_path))
    assert {kind for kind, _ in _STEPS} >= {*KINDS, *BODY, *SEWN, *ALTERED}
    assert changes("table-edits.txt", "\n".join(_walk(session))) == []


def test_an_edit_of_an_old_page_counts_where_its_own_place_is_as_it_was(tmp_path: Path) -> None:
    session = Session(tmp_path, golden_job(tmp_path))
    old = _now(session).work.revision
    text = _now(session).work.text
    session.edit("setting", {"place": "allowance.top", "value": "7", "revision": old})
    session.edit("setting", {"place": "allowance.seam", "value": "8", "revision": old})
    kept = _now(session).work
    for kind, form in (
        ("setting", {"place": "allowance.seam", "value": "9", "revision": old}),
        ("setting", {"place": "allowance.bottom", "value": "9", "revision": "of no page"}),
        ("setting", {"place": "allowance.bottom", "value": "9"}),
        ("text", {"text": text, "revision": old}),
    ):
        with pytest.raises(StaleError, match="was changed in another tab, or in the job file"):
            session.edit(kind, form)
    assert _now(session).work == kept
    seen = tomllib.loads(kept.text)["allowance"]
    assert (seen["top"], seen["seam"], "bottom" in seen) == (7, 8, False)


def test_nothing_of_a_job_is_left_on_a_cleared_table(tmp_path: Path) -> None:
    """No panel, no size, no undo, no file that was not taken: another pattern begins afresh."""
    table = Table(tmp_path, golden_job(tmp_path).name)
    table.session.edit(*_typed(table.session, "pattern.title", "Mine"))
    table.session.take_pattern("other.svg", b"<svg")
    assert table.session.attempt is not None
    parts = ("/look/overlay", "/section?section=hip", "/tried?readings=x")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    answer = table.post("/job/new", {})
    assert answer.said == "The table is empty; the job's files are as they were."
    assert inner(answer.text, "job-name") == "An empty table"
    for left in ("panel 1", "Golden", "Mine", "other.svg", "coutille", "pattern-picture"):
        assert left not in answer.text, left
    assert {path: table.get(path).text for path in parts} == dict.fromkeys(parts, "")
    assert table.session.steps() == ("", "")
    assert (table.session.attempt, table.session.kept.words) == (None, "")
    assert table.session.mark().startswith("empty")
    for path in ("/undo", "/redo", "/edit/text", "/job/keep", "/job/copy", "/job/redraft"):
        refused = table.post(path, {"name": "x", "text": ""})
        assert refused.refused
        assert "No pattern is on the table yet" in refused.text, path
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def _typed(session: Session, place: str, value: str) -> tuple[str, Form]:
    revision = _now(session).work.revision
    return "setting", {"place": place, "value": value, "revision": revision}


def test_what_may_be_sent_is_what_may_be_read_and_the_form_round_it() -> None:
    assert UPLOADS["/pattern"] == MOST_BYTES + 65536
    assert UPLOADS["/photos"] == MOST_PHOTO_BYTES + 65536

"""A table of clients: every row a job, every fault with its row and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.batch import BatchJob, iter_table, read_table
from panelshift.batch.clients import LARGEST_BYTES
from panelshift.batch.key_columns import value_of
from panelshift.errors import JobError, SvgError
from panelshift.files import parse_table
from panelshift.files.contents import opened_table
from panelshift.job.keys import is_known, place_of, takes_text, with_overrides
from tests.support.batches import PATTERN, base_job
from tests.support.drawings import half, job_text, write_job

HEADS = "name,pattern.lacing_gap,stack.fabric.brocade.thickness"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return base_job(tmp_path / "in")


def table(job: Path, text: str | bytes, name: str = "clients.csv") -> Path:
    path = job.parent / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refusal(job: Path, text: str | bytes) -> str:
    with pytest.raises(JobError) as caught:
        read_table(table(job, text), job)
    message = str(caught.value)
    assert message.startswith(str(job.parent / "clients.csv"))
    assert "What to do: " in message
    return message


# -- what a row comes to ------------------------------------------------------------------


def test_rows_are_jobs_in_their_order_with_their_values(job: Path) -> None:
    found = read_table(table(job, f"{HEADS}\nAnn,62.5,0.7\nBo,2 in,\nCy,,1\n"), job)
    loaded = [item.load() for item in found.jobs]
    assert [item.name for item in found.jobs] == ["Ann", "Bo", "Cy"]
    assert [file.pattern.lacing_gap for file in loaded] == [62.5, 50.8, 0.0]
    assert [file.stack.fabric[2].thickness for file in loaded] == [0.7, 0.8, 1.0]
    assert [file.stack.fabric[0].thickness for file in loaded] == [0.2, 0.2, 0.2]
    assert found.taken == "3 rows; columns parted by commas"


def test_every_kind_of_key_has_its_place(job: Path) -> None:
    keys = {
        "pattern.drafted_waist": ("264", 264.0),
        "pattern.scale": ("0.98", 0.98),
        "pattern.title": ("2024", "2024"),
        "pattern.units": ("in", "in"),
        "stack.drafted_layer": ("coutille", "coutille"),
        "stack.fabric.lining.cut_out": ("FALSE", False),
        "stack.fabric.lining.allowance.seam": ("12 mm", 12.0),
        "panel.panel 2.class": ("side", "side"),
        "body.model": ("classes", "classes"),
        "panel.panel 2.cut": ("3", 3),
        "body.girths.waist": ("64 cm", 640.0),
        "allowance.top": ("7", 7.0),
        "sheet.width": ("1000", 1000.0),
        "fit.busk": ("5", 5.0),
    }
    head = ",".join(["name", *keys])
    row = ",".join(["Ann", *(cell for cell, _ in keys.values())])
    (item,) = read_table(table(job, f"{head}\n{row}\n"), job).jobs
    file = item.load().model_dump(by_alias=True)
    for key, (_, value) in keys.items():
        here = file
        for part in place_of(key, item.data()[0]):
            here = here[part]
        assert here == value, key


def test_body_ratio_may_be_a_number_or_one_for_each_level(tmp_path: Path) -> None:
    rest = '[body]\nmodel = "section"\nratio = 1.3\n'
    job = write_job(tmp_path, PATTERN, rest=rest)
    (one,) = read_table(table(job, "name,body.ratio.waist\nAnn,1.2\n"), job).jobs
    assert one.load().body.ratio == {"waist": 1.2}
    (other,) = read_table(table(job, "name,body.ratio\nAnn,1.2\n"), job).jobs
    assert other.load().body.ratio == 1.2


def test_fabric_whose_name_holds_dots_or_begins_with_anothers_is_found(tmp_path: Path) -> None:
    stack = "".join(
        f'[[stack.fabric]]\nname = "{name}"\nthickness = 1\n' for name in ("silk", "silk. 10 oz.")
    )
    job = write_job(tmp_path, PATTERN, stack=stack)
    heads = "name,stack.fabric.silk.thickness,stack.fabric.silk. 10 oz..thickness"
    (item,) = read_table(table(job, f"{heads}\nAnn,2,3\n"), job).jobs
    assert [fabric.thickness for fabric in item.load().stack.fabric] == [2.0, 3.0]


def test_values_of_a_batch_job_count_below_those_of_the_table(job: Path) -> None:
    main = BatchJob("main", job, {"pattern.lacing_gap": 20, "pattern.title": "both"})
    (item,) = read_table(table(job, "name,pattern.lacing_gap\nAnn,30\n"), main).jobs
    assert item.load().pattern.lacing_gap == 30.0
    assert item.load().pattern.title == "both"


def test_drawing_of_a_row_is_looked_for_beside_the_job_file(job: Path) -> None:
    (item,) = read_table(table(job, "name,pattern.file\nAnn,36.svg\n"), job).jobs
    assert item.load().pattern.file == job.parent / "36.svg"


# -- how the text is taken ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "gap", "taken"),
    [
        ("name,pattern.lacing_gap\nAnn,12.5\n", 12.5, "commas"),
        ("name;pattern.lacing_gap\r\nAnn;12,5\r\n", 12.5, "semicolons, decimal commas"),
        ("name;pattern.lacing_gap\nAnn;12.5\n", 12.5, "semicolons"),
        ("name\tpattern.lacing_gap\nAnn\t12,5 mm\n", 12.5, "tabs, decimal commas"),
        ("name\tpattern.lacing_gap\nAnn\t,5\n", 0.5, "tabs, decimal commas"),
        ("pattern.lacing_gap, NAME \n 12.5 , Ann\n", 12.5, "commas"),
        ('"name","pattern.lacing_gap"\n"Ann","12.5"\n', 12.5, "commas"),
        ("name,pattern.lacing_gap,note\nAnn,12.5,call her\n", 12.5, "commas"),
        ("name,pattern.lacing_gap,,\n\n,,,\nAnn,12.5\n", 12.5, "commas"),
    ],
)
def test_text_is_taken_as_spreadsheets_write_it(
    job: Path, text: str, gap: float, taken: str
) -> None:
    for raw in (text.encode(), b"\xef\xbb\xbf" + text.encode()):
        found = read_table(table(job, raw), job)
        assert [item.name for item in found.jobs] == ["Ann"]
        assert found.jobs[0].load().pattern.lacing_gap == gap
        assert found.taken == f"1 row; columns parted by {taken}"


def test_words_with_a_comma_stay_as_they_are(job: Path) -> None:
    (item,) = read_table(table(job, "name;pattern.title\nAnn;3,5\n"), job).jobs
    assert item.load().pattern.title == "3,5"


@pytest.mark.parametrize("line", [1, 3])
def test_the_line_whose_quotation_marks_are_wrong_is_named(line: int) -> None:
    text = "".join('"a"b,c\n' if k == line else "name,note\n" for k in range(1, 5))
    with pytest.raises(JobError, match=f"^t.csv: line {line}: "):
        parse_table(text, ["name"], JobError, source="t.csv")


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    cells = parse_table('name,note\n\nAnn,"two\nlines"\nBo,\n', ["name"], JobError)
    assert [number for number, _ in cells.rows] == [3, 4]


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("12", 12),
        ("-3", -3),
        ("1e3", 1000),
        (".5", 0.5),
        ("5.", 5),
        ("0,5", 0.5),
        ("1,000", "1,000"),
        ("9" * 400, "9" * 400),
        ("1_000", "1_000"),
        ("nan", "nan"),
        ("True", True),
        ("yes", "yes"),
    ],
)
def test_cells_are_numbers_where_they_look_like_one(cell: str, value: object) -> None:
    assert value_of(cell) == value
    assert type(value_of(cell)) is type(value)


# -- faults -------------------------------------------------------------------------------


def test_all_faults_of_rows_are_listed_with_row_and_column(job: Path) -> None:
    message = refusal(
        job,
        f"{HEADS}\nAnn,wide,0.7\nBo,20,fat\n,30,\nAnn,1_0,99\nCy,20,1,too,many\n",
    )
    assert "7 faults in the table:" in message
    for words in (
        "row 2 (Ann), column pattern.lacing_gap: pattern.lacing_gap: 'wide' is not a length",
        "row 3 (Bo), column stack.fabric.brocade.thickness: stack.fabric[3] (brocade).thickness: "
        "'fat' is not a length",
        "row 4, column name: is empty",
        "row 5, column name: 'Ann' is in row 2 already",
        "row 5 (Ann), column pattern.lacing_gap: ",
        "row 5 (Ann), column stack.fabric.brocade.thickness: ",
        "row 6 (Cy): has 5 cells below 3 headings",
    ):
        assert words in message


def test_a_row_that_ends_before_the_names_do_has_none(job: Path) -> None:
    assert "row 2, column name: is empty" in refusal(job, "pattern.lacing_gap,name\n20\n30,Bo\n")


def test_what_changes_nothing_is_told(job: Path) -> None:
    """One client under two spellings, a class that the body has no use for, an empty column."""
    message = refusal(
        job, "name,panel.panel 1.class,body.model\nÄnne,,\na\u0308nne,front,mean\nBo,side,classes\n"
    )
    assert "row 3, column name: 'a\u0308nne' is in row 2 already, as 'Änne'" in message
    assert "row 3 (a\u0308nne), column panel.panel 1.class: changes nothing" in message
    assert "Bo" not in message
    heads = table(job, "name,pattern.lacing_gap,pattern.title\nAnn,,A\nBo,,\n")
    assert read_table(heads, job).taken.endswith("empty in all rows: pattern.lacing_gap")
    assert read_table(table(job, "name,fit.busk\nAnn,9\n"), job).fit_only == ("fit.busk",)
    both = table(job, "name,panel.panel 1.class,body.model\nAnn,side,mean\nBo,,mean\n")
    rows = list(iter_table(both, job))
    assert [bool(row.fault) for row in rows] == [True, False]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("pattern.lacing_gapp", "is not a known key; did you mean lacing_gap?"),
        ("patern.scale", "is not a known key; did you mean pattern?"),
        ("waist", "is not a key of the job file. Write table and key with a dot"),
        ("pattern.", "is not a key of the job file"),
        ("pattern.scale.x", "pattern.scale"),
        ("stack.fabric.velvet.thickness", "names no fabric of the job"),
        ("stack.fabric.brocade.width", "is not a known key"),
        ("panel.9.class", "no such panel; here: panel 1, panel 2"),
        ("body.girths.neck", "no such level, nor a height such as +120 mm; here: waist"),
        ("body.ratio.neck", "no such level"),
        ("name", "column 'name': is there 2 times"),
    ],
)
def test_unknown_headings_are_refused(job: Path, head: str, words: str) -> None:
    message = refusal(job, f"name,{head}\nAnn,1\n")
    assert f"column '{head}': " in message
    assert words in message


def test_short_keys_and_names_with_dots_have_their_places() -> None:
    assert place_of("panel.4 side", {}) == ("panel", "4 side")
    assert place_of("panel.4.b.class", {}) == ("panel", "4.b", "class")
    assert place_of("body.tapes.waist", {}) == ("body", "tapes", "waist")
    assert place_of("body.tapes.no. 2.girth", {}) == ("body", "tapes", "no. 2", "girth")


def test_panels_are_not_looked_for_in_a_pattern_that_each_row_changes(job: Path) -> None:
    found = read_table(table(job, "name,pattern.file,panel.9.class\nAnn,other.svg,side\n"), job)
    assert [item.name for item in found.jobs] == ["Ann"]


def test_a_table_as_bytes_may_be_as_large_as_a_file(job: Path) -> None:
    assert LARGEST_BYTES == 2**26
    with pytest.raises(JobError, match="larger than 64 MiB: this is no table of jobs"):
        list(iter_table(bytes(2**26 + 1), job))


def test_all_faults_of_headings_are_listed(job: Path) -> None:
    message = refusal(job, "name,pattern.skale,body.girths.neck,waist,\nAnn,1,1,1,1\n")
    assert "4 faults" in message
    assert "column 5: has no heading" in message


def test_fabrics_are_listed_where_one_is_not_known(job: Path) -> None:
    message = refusal(job, "name,stack.fabric.velvet.thickness\nAnn,1\n")
    assert "lining, coutille, brocade" in message


def test_values_that_only_together_are_wrong_are_told_of_their_row(job: Path) -> None:
    # Girths suit the base's model, and a former suits no girths.
    message = refusal(
        job, "name,body.model,body.girths.waist,body.diameter\nAnn,section,640,80\nBo,,640,\n"
    )
    assert "row 2 (Ann)" in message
    assert "row 3" not in message


def test_of_very_many_faults_the_first_are_listed(job: Path) -> None:
    rows = "".join(f"client {k},wide\n" for k in range(300))
    message = refusal(job, f"name,pattern.lacing_gap\n{rows}")
    assert "300 faults in the table" in message
    assert "and 250 more" in message
    assert message.count("\n") < 60


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the first line has no column 'name'"),
        ("client,pattern.scale\nAnn,1\n", "the first line has no column 'name'"),
        ("name|pattern.scale\nAnn|1\n", "parted by commas, semicolons or tabs"),
        ("name,pattern.scale\n", "no rows below the headings"),
        ('name,note\nAnn,"open\n', "line 2: unexpected end of data"),
        ('name,note\n"A"nn,\n', "line 2: ',' expected after"),
        (b"name\nAnn\xff\n", "not a text file in UTF-8"),
        ("name\nAnn\n".encode("utf-16"), "not a text file in UTF-8"),
        ("name\nA\x07nn\n", "row 2, column name: holds control characters"),
    ],
)
def test_text_that_is_no_table_is_refused(job: Path, text: str | bytes, words: str) -> None:
    assert words in refusal(job, text)


def test_file_that_is_not_there_or_too_large_is_refused(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(JobError, match="cannot read: No such file"):
        read_table(job.parent / "none.csv", job)
    with pytest.raises(JobError, match="cannot read: "):
        read_table("a\0b", job)
    assert LARGEST_BYTES > 100_000 * 100
    monkeypatch.setattr("panelshift.batch.clients.LARGEST_BYTES", 10)
    assert "this is no table of jobs" in refusal(job, f"{HEADS}\nAnn,1,1\n")


def test_job_that_is_wrong_by_itself_is_told_before_its_table(job: Path) -> None:
    clients = table(job, "name\nAnn\n")
    job.write_text(job_text(head="scale = 0"))
    with pytest.raises(JobError, match=r"pattern\.scale"):
        read_table(clients, job)


def test_drawing_that_cannot_be_read_is_told_once_when_the_table_names_its_levels(
    job: Path,
) -> None:
    (job.parent / "draft.svg").unlink()
    with pytest.raises(SvgError, match="no such file"):
        read_table(table(job, "name,body.girths.waist\nAnn,640\n"), job)


# -- dotted keys by themselves ------------------------------------------------------------


def test_overrides_leave_the_job_as_it_was() -> None:
    data = {"stack": {"fabric": [{"name": "a", "thickness": 1}, {"name": "b", "thickness": 2}]}}
    changed = with_overrides(data, {"stack.fabric.b.thickness": 3, "body.girths.high hip": 900})
    assert changed["stack"]["fabric"][1] == {"name": "b", "thickness": 3}
    assert changed["body"] == {"girths": {"high hip": 900}}
    assert data["stack"]["fabric"][1]["thickness"] == 2
    assert "body" not in data


def test_overrides_that_lead_nowhere_are_all_listed() -> None:
    with pytest.raises(JobError) as caught:
        with_overrides({}, {"stack.fabric.a.thickness": 1, "scale": 1, "pattern.scale": 1})
    message = str(caught.value)
    assert "stack.fabric.a.thickness: names no fabric of the job" in message
    assert "fabrics here: none" in message
    assert "scale: is not a key" in message
    assert "pattern.scale:" not in message


@pytest.mark.parametrize("stack", [None, 3, {"fabric": 3}, {"fabric": [3, {}]}])
def test_job_without_fabrics_has_none_to_name(stack: object) -> None:
    with pytest.raises(JobError, match="names no fabric"):
        place_of("stack.fabric.a.thickness", {"stack": stack})


def test_only_words_are_taken_as_text() -> None:
    words = [("pattern", "title"), ("pattern", "file"), ("stack", "drafted_layer")]
    words += [("panel", "2", "joins")]
    assert all(takes_text(place) for place in words)
    numbers = [("pattern", "scale"), ("pattern", "lacing_gap"), ("panel", "2", "cut")]
    numbers += [("body", "ratio"), ("body", "ratio", "waist"), ("body", "girths", "waist")]
    assert not any(takes_text(place) for place in numbers)
    assert all(is_known(place) for place in words + numbers)
    assert not is_known(("pattern", "scale", "x"))
    assert not is_known(("stack", "fabric", 0, "allowance", "hem"))


def test_panel_names_may_hold_dots() -> None:
    assert place_of("panel.no. 2.class", {}) == ("panel", "no. 2", "class")
    assert len(half(3)) == 3


@pytest.mark.parametrize(
    "text",
    [
        *("", "\n\n", "name,note\n", "\n name;note\nAnn;0,5\n"),
        'name,note\r\nAnn,"two\r\nlines"\r\n\r\nBo,x\r\n',
    ],
)
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_table_read_row_by_row_is_the_same_table(text: str, mark: bytes) -> None:
    whole = parse_table(text, ["name"], JobError)
    with opened_table(mark + text.encode(), ["name"], JobError, source="t") as (heads, rows):
        assert (heads, tuple(rows)) == (whole.heads, whole.rows)

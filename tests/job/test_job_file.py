"""Job files: every fault named by its key, all at once, with what would be right."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from panelshift.errors import JobError
from panelshift.job import read_job
from panelshift.job.model import JobFile
from panelshift.job.toml import LARGEST_JOB_BYTES, parse_job
from tests.support.drawings import STACK, job_text


def load(tmp_path: Path, text: str) -> JobFile:
    file = tmp_path / "job.toml"
    file.write_text(text, encoding="utf-8")
    return read_job(file)


def faults(tmp_path: Path, text: str) -> list[str]:
    """The faults' lines of a job file that must be refused."""
    with pytest.raises(JobError) as caught:
        load(tmp_path, text)
    message = str(caught.value)
    assert "job.toml" in message
    assert "What to do: " in message
    return [line.strip() for line in message.splitlines() if line.startswith("    ")]


def stack(**keys: str) -> str:
    """A stack of one fabric with the given TOML values."""
    own = {"name": '"lining"', "thickness": "0.2", **keys}
    return "[[stack.fabric]]\n" + "".join(f"{k} = {v}\n" for k, v in own.items() if v)


def test_only_the_pattern_and_the_stack_are_required(tmp_path: Path) -> None:
    job = load(tmp_path, job_text())
    assert job.pattern.file == tmp_path / "draft.svg"
    assert [fabric.thickness for fabric in job.stack.fabric] == [0.2, 0.5, 0.8]
    assert (job.body.model, job.body.of) == ("mean", "either")
    assert job.pattern.lacing_gap == 0.0


def test_pattern_path_is_relative_to_the_job_not_to_the_working_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir("/")
    assert load(tmp_path, job_text("in/draft.svg")).pattern.file == tmp_path / "in" / "draft.svg"


def test_absolute_pattern_path_stays(tmp_path: Path) -> None:
    other = tmp_path / "elsewhere" / "d.svg"
    assert load(tmp_path, job_text(str(other))).pattern.file == other


@pytest.mark.parametrize(
    ("value", "mm"),
    [
        ("12", 12.0),
        ("12.5", 12.5),
        ('"12"', 12.0),
        ('"12 mm"', 12.0),
        ('"1.2cm"', 12.0),
        ('"0.5 in"', 12.7),
        ('"0,5 inches"', 12.7),
        ("'1/2\"'", 12.7),
        ('"3 pt"', 3 * 25.4 / 72),
        ('"1e1 mm"', 10.0),
    ],
)
def test_lengths_are_mm_unless_they_carry_a_unit(tmp_path: Path, value: str, mm: float) -> None:
    job = load(tmp_path, job_text(head=f"lacing_gap = {value}"))
    assert job.pattern.lacing_gap == pytest.approx(mm)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("true", "must be a length"),
        ("[1]", "must be a length"),
        ("{ mm = 1 }", "must be a length"),
        ("1979-05-27", "must be a length"),
        ('"twelve"', "'twelve' is not a length"),
        ('""', "'' is not a length"),
        ('"1 2"', "'1 2' is not a length"),
        ('"3 ft"', "unknown unit 'ft'"),
        ('"5 %"', "unknown unit '%'"),
        ('"0.5 yards"', "unknown unit 'yards'"),
        ('"1,000"', "'1,000' can be 1.000 or 1000"),
        ('"3/8"', "'3/8' can be 3/8 mm or 3/8 in"),
        ("nan", "finite"),
        ("inf", "finite"),
        ("-inf", "finite"),
        ('"nan"', "'nan' is not a length"),
        ('"1e400 mm"', "finite"),
        ("1e400", "finite"),
        ("-3", "must be at least 0"),
        ('"-3 mm"', "must be at least 0"),
    ],
)
def test_value_that_is_no_length_is_refused_with_its_key(
    tmp_path: Path, value: str, words: str
) -> None:
    (fault,) = faults(tmp_path, job_text(head=f"lacing_gap = {value}"))
    assert fault.startswith("pattern.lacing_gap: ")
    assert words in fault


def test_unknown_unit_is_told_with_the_known_ones(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="mm, cm, in"):
        load(tmp_path, job_text(head='lacing_gap = "3 ft"'))


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"thickness": ""}, "stack.fabric[1] (lining).thickness: is required"),
        ({"thickness": "-0.4"}, "stack.fabric[1] (lining).thickness: must be at least 0"),
        ({"thickness": '"-0.4 mm"'}, "stack.fabric[1] (lining).thickness: must be at least 0"),
        ({"thickness": '"measure me"'}, "thickness: 'measure me' is not a length"),
        ({"thickness": "51"}, "thickness: must be at most 50"),
        ({"thickness": "nan"}, "thickness: must be a finite length"),
        ({"coverage": "1.2"}, "coverage: must be at most 1"),
        ({"coverage": "-0.1"}, "coverage: must be at least 0"),
        ({"coverage": "nan"}, "coverage: must be an ordinary number"),
        ({"coverage": '"half"'}, "coverage: 'half' is not a number"),
        ({"loft": "inf"}, "loft: must be"),
        ({"name": ""}, "stack.fabric[1].name: is required"),
        ({"name": '""'}, "name: must not be empty"),
        ({"name": "7"}, "name: must be text in quotes"),
        ({"panels": '"1"'}, "panels: must be a list"),
        ({"cut_out": '"perhaps"'}, "cut_out: must be true or false"),
    ],
)
def test_fault_in_a_fabric_is_named_by_place_and_name(
    tmp_path: Path, keys: dict[str, str], words: str
) -> None:
    (fault,) = faults(tmp_path, job_text(stack=stack(**keys)))
    assert words in fault


@pytest.mark.parametrize(
    "character", ["\\u0001", "\\u001b", "\\b", "\\u007f", "\\u0085", "\\n", "\\t"]
)
def test_name_or_title_with_control_characters_is_refused(tmp_path: Path, character: str) -> None:
    name = f'"a{character}b"'
    found = faults(tmp_path, job_text(head=f"title = {name}", stack=stack(name=name)))
    assert len(found) == 2
    assert all("must be one line of text without control characters" in fault for fault in found)


@pytest.mark.parametrize(
    ("key", "value"), [("coverage", "true"), ("loft", "false"), ("coverage", '"0.5 mm"')]
)
def test_factor_must_be_a_number_not_something_like_one(
    tmp_path: Path, key: str, value: str
) -> None:
    (fault,) = faults(tmp_path, job_text(stack=stack(**{key: value})))
    assert f"stack.fabric[1] (lining).{key}: " in fault


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("[stack]\nfabric = []\n", "stack.fabric"),
        ("", "stack: is required"),
        ("[stack]\n", "stack.fabric: is required"),
    ],
)
def test_job_without_fabrics_is_refused(tmp_path: Path, text: str, key: str) -> None:
    (fault,) = faults(tmp_path, job_text(stack=text))
    assert key in fault


def test_job_without_a_pattern_is_refused(tmp_path: Path) -> None:
    assert "pattern: is required" in faults(tmp_path, STACK)


def test_empty_job_misses_both_tables(tmp_path: Path) -> None:
    assert faults(tmp_path, "") == ["pattern: is required", "stack: is required"]


def test_all_faults_are_told_at_once_each_with_its_key(tmp_path: Path) -> None:
    text = job_text(
        head='units = "ell"\ndrafted_waist = -2\nscale = 0\n',
        stack=stack(thickness="-1", coverage="3"),
        rest='[panel.a]\nclass = "top"\ncut = 0\n[sheet]\nwidth = 5\n[body]\nmodel = "blob"\n',
    )
    keys = {fault.split(":")[0] for fault in faults(tmp_path, text)}
    assert keys == {
        "pattern.units",
        "pattern.drafted_waist",
        "pattern.scale",
        "stack.fabric[1] (lining).thickness",
        "stack.fabric[1] (lining).coverage",
        "panel.a.class",
        "panel.a.cut",
        "sheet.width",
        "body.model",
    }
    with pytest.raises(JobError, match="9 faults in the job file"):
        load(tmp_path, text)


@pytest.mark.parametrize(
    ("head", "rest", "words"),
    [
        ("lacing_gab = 3", "", "pattern.lacing_gab: is not a known key; did you mean lacing_gap?"),
        ("drafted_wast = 3", "", "did you mean drafted_waist?"),
        ("", "[panel.a]\nclas = 'side'", "panel.a.clas: is not a known key; did you mean class?"),
        ("", "[allowance]\nsaem = 3", "allowance.saem: is not a known key; did you mean seam?"),
        ("", "[body]\nmodell = 'former'", "did you mean model?"),
        ("", "[body.factors]\nsides = 2", "body.factors.sides: is not a known key; did you mean s"),
        ("", "[sheet]\nwidht = 300", "did you mean width?"),
        ("", "[stak]\nx = 1", "stak: is not a known key; did you mean stack?"),
        ("zzz = 1", "", "known here: file, page, title, units, drafted_waist"),
    ],
)
def test_unknown_key_is_told_with_what_was_meant(
    tmp_path: Path, head: str, rest: str, words: str
) -> None:
    (fault,) = faults(tmp_path, job_text(head=head, rest=rest))
    assert words in fault


def test_unknown_key_of_a_fabric_is_told_with_what_was_meant(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, job_text(stack=stack(thicknes="3")))
    assert fault == "stack.fabric[1] (lining).thicknes: is not a known key; did you mean thickness?"


@pytest.mark.parametrize(
    ("rest", "key", "valid"),
    [
        ('[panel.a]\nclass = "hip"', "panel.a.class: 'hip'", "'front', 'side' or 'back'"),
        ('[panel.a]\nfold = "top"', "panel.a.fold: 'top'", "'front' or 'back'"),
        (
            '[body]\nmodel = "scan"',
            "body.model: 'scan'",
            "'mean', 'tapes', 'form', 'classes', 'section' or 'former'",
        ),
    ],
)
def test_unknown_name_is_told_with_the_valid_ones(
    tmp_path: Path, rest: str, key: str, valid: str
) -> None:
    (fault,) = faults(tmp_path, job_text(rest=rest))
    assert fault == f"{key} is not one of {valid}"


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (
            "exponent = 3",
            "'mean', taken as none is named, which takes bust_height, girths",
        ),
        ("diameter = 80", "diameter has no meaning for the body model 'mean'"),
        ("factors = { side = 0.8 }", "; with it name the model 'classes'"),
        ('model = "classes"\nratio = 1.4', "ratio has no meaning for the body model 'classes'"),
        ('model = "former"', "the body model 'former' needs a diameter"),
        (
            'model = "former"\ndiameter = 80\nexponent = 2.5\ngirths = { waist = 600 }',
            "exponent, girths has no meaning for the body model 'former'",
        ),
        ('model = "section"\nfactors = { side = 1 }', "factors has no meaning"),
        ('model = "section"\nratio = 0.05', "ratio"),
        ('model = "section"\nratio = { waist = 20 }', "ratio.waist"),
        ('model = "section"\nratio = "wide"', "ratio"),
        ('model = "section"\nexponent = 1.09', "exponent: must be at least 1.1"),
        ('model = "section"\ngirths = { waist = 0 }', "body.girths.waist: must be more than 0"),
        ('model = "former"\ndiameter = "0 mm"', "diameter: must be more than 0"),
        ("[body.factors]\nside = 0", "body.factors.side: must be more than 0"),
        ("[body.factors]\nside = nan", "body.factors.side: must be an ordinary number"),
    ],
)
def test_body_keys_that_do_not_fit_the_model_are_refused(
    tmp_path: Path, body: str, words: str
) -> None:
    found = faults(tmp_path, job_text(rest=body if body.startswith("[") else f"[body]\n{body}"))
    assert any(words in fault and fault.startswith("body") for fault in found)


def test_ratio_that_fits_no_form_is_one_fault_not_one_for_each_form(tmp_path: Path) -> None:
    found = faults(tmp_path, job_text(rest='[body]\nmodel = "section"\nratio = "wide"'))
    assert len(found) == 1


@pytest.mark.parametrize("kind", ["seam", "centre_front", "centre_back", "top", "bottom"])
def test_negative_allowance_is_refused_on_every_kind_of_edge(tmp_path: Path, kind: str) -> None:
    (fault,) = faults(tmp_path, job_text(rest=f"[allowance]\n{kind} = -1"))
    assert fault.startswith(f"allowance.{kind}: must be at least 0")


@pytest.mark.parametrize("value", ["0", "101", "2.5", "true", '"2,5"', "nan"])
def test_panel_is_cut_a_whole_number_of_times(tmp_path: Path, value: str) -> None:
    (fault,) = faults(tmp_path, job_text(rest=f"[panel.a]\ncut = {value}"))
    assert fault.startswith("panel.a.cut: ")


def test_corner_of_an_unknown_name_is_refused(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, job_text(rest="[panel.a.corners]\ntop_left = [1, 2]"))
    assert "front_top" in fault
    assert "panel.a.corners" in fault


@pytest.mark.parametrize("point", ["[1]", "[1, 2, 3]", "[nan, 1]", '["a", 1]', "4"])
def test_corner_that_is_no_point_is_refused(tmp_path: Path, point: str) -> None:
    found = faults(tmp_path, job_text(rest=f"[panel.a.corners]\nfront_top = {point}"))
    assert all(fault.startswith("panel.a.corners.front_top") for fault in found)


# -- files that are no job file -----------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"pattern = \n", "not a TOML file"),
        (b"[pattern\n", "not a TOML file"),
        (b'<svg xmlns="x"/>', "not a TOML file"),
        (b"a = 1\na = 2\n", "not a TOML file"),
        (bytes(range(256)), "not a TOML file"),
        ("file = 'ü'".encode("utf-16"), "not a TOML file"),
        (b"a = " + b"[" * 50_000, "not a TOML file"),
        (b"#" * (LARGEST_JOB_BYTES + 1), "larger than 1 MB"),
    ],
    ids=["cut short", "open table", "svg", "twice", "binary", "utf-16", "deep", "large"],
)
def test_file_that_is_no_job_file_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(content)
    with pytest.raises(JobError, match=words) as caught:
        read_job(file)
    assert str(file) in str(caught.value)
    assert len(str(caught.value)) < 1000


def test_directory_absent_file_and_odd_path_are_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="cannot read: Is a directory"):
        read_job(tmp_path)
    with pytest.raises(JobError, match="cannot read: No such file"):
        read_job(tmp_path / "absent.toml")
    (tmp_path / "plain").write_text("")
    with pytest.raises(JobError, match="cannot read: Not a directory"):
        read_job(tmp_path / "plain" / "job.toml")
    with pytest.raises(JobError, match="cannot read"):
        read_job("a\0b.toml")


@pytest.mark.skipif(os.name != "posix", reason="needs a fifo")
def test_endless_file_is_not_read(tmp_path: Path) -> None:
    with pytest.raises(JobError):
        read_job("/dev/zero")


def test_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_bytes(b"\xef\xbb\xbf" + job_text().encode())
    assert read_job(file).pattern.file.name == "draft.svg"


def test_job_may_be_a_dictionary(tmp_path: Path) -> None:
    data: dict[str, Any] = {
        "pattern": {"file": "a.svg"},
        "stack": {"fabric": [{"name": "x", "thickness": "0.5 mm"}]},
    }
    assert parse_job(data, source="here", folder=tmp_path).stack.fabric[0].thickness == 0.5
    with pytest.raises(JobError, match="here: a fault in the job file"):
        parse_job({**data, "pattern": {}}, source="here", folder=tmp_path)


def test_huge_values_in_a_message_are_cut_short(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, job_text(head=f'lacing_gap = "{"9x" * 2000}"'))
    assert len(fault) < 300

"""Job files that are made to break a parser or to reach outside."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.errors import JobError, PanelshiftError
from panelshift.job import read_job, resolve
from panelshift.job.toml import LARGEST_JOB_BYTES, MOST_DOTS, MOST_FAULTS, parse_job
from tests.support.examples import thinned

from .bounds import bounded

JOB = '[pattern]\nfile = "a.svg"\n[[stack.fabric]]\nname = "a"\nthickness = 1\n'
DIGITS = "9" * 5000


def thick(value: str) -> str:
    return JOB.replace("thickness = 1", f"thickness = {value}")


BOMBS = {
    "digits": thick(DIGITS),
    "hexadecimal digits": thick("0x" + "f" * 5000),
    "large whole number": thick("9" * 400),
    "large width": f"{JOB}[sheet]\nwidth = {'9' * 400}\n",
    "large count": f"{JOB}[panel.a]\ncut = {'9' * 400}\n",
    "large corner": f"{JOB}[panel.a]\ncorners = {{ front_top = [{'9' * 400}, 1] }}\n",
    "large gap": JOB.replace("[[", f"lacing_gap = {'9' * 4000}\n[[", 1),
    "nested arrays": "a = " + "[" * 100_000,
    "nested tables": "a = " + "{a = " * 20_000,
    "dotted key": ".".join(["a"] * 100_000) + " = 1",
    "dotted table": "[" + ".".join(["a"] * 100_000) + "]",
    "dotted lines": "\n".join(".".join([f"k{k}"] * MOST_DOTS) + " = 1" for k in range(500)),
    "many keys": JOB + "".join(f"k{k} = 1\n" for k in range(50_000)),
    "many tables": JOB + "".join(f'[panel.k{k}]\nclass = "x"\n' for k in range(30_000)),
    "long key": f'{JOB}"{"k" * 500_000}" = 1\n',
    "long text": thick(f'"{"9" * 500_000}mm"'),
    "one table twice": JOB + JOB,
    "date": thick("1979-05-27T07:32:00Z"),
    "not a number": thick("nan"),
    "infinity": thick("inf"),
    "half a pair": JOB.replace("a.svg", "\\ud800.svg"),
    "null": JOB + "\x00",
    "no text": "\xff\xfe" * 100,
    "control characters": f'{JOB}"a\\u001b[2J" = 1\n',
}


@pytest.mark.slow
@pytest.mark.parametrize("text", thinned(BOMBS.values()), ids=BOMBS)
def test_bombs(tmp_path, text) -> None:
    job = tmp_path / "job.toml"
    job.write_bytes(text.encode("latin-1") if text.startswith("\xff") else text.encode())
    with bounded(), pytest.raises(JobError) as caught:
        read_job(job)
    message = str(caught.value)
    assert len(message) < 400 * MOST_FAULTS
    assert "\x1b" not in message


def test_the_faults_that_are_not_listed_are_counted() -> None:
    data = {"pattern": {f"k{k}": 1 for k in range(3_000)}, "stack": {}}
    with pytest.raises(JobError) as caught:
        parse_job(data, source="job.toml", folder=Path())
    count, *listed, more = caught.value.problem.splitlines()
    # Neither file nor fabric is there either.
    assert count == "3002 faults in the job file:"
    assert more.strip() == f"and {3_002 - len(listed)} more"


def test_a_giant_job_file_is_not_opened(tmp_path) -> None:
    job = tmp_path / "job.toml"
    with job.open("wb") as stream:
        stream.truncate(100 * LARGEST_JOB_BYTES)
    with bounded(), pytest.raises(JobError, match="larger than 1 MB"):
        read_job(job)


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/null", "/", "."])
def test_devices_and_folders_are_no_job_files(name) -> None:
    with bounded(), pytest.raises(JobError):
        read_job(name)


@pytest.mark.parametrize(
    "name", ["/etc/passwd", "job.toml", "..", "/dev/zero", "a\\u0000b.svg", ""]
)
def test_what_a_job_file_names_as_its_pattern_must_be_svg(tmp_path, name) -> None:
    job = tmp_path / "job.toml"
    job.write_text(JOB.replace("a.svg", name))
    with bounded(), pytest.raises(PanelshiftError) as caught:
        resolve(read_job(job))
    # No line of the file is repeated to whoever asked for it.
    assert "root:" not in str(caught.value)

"""Whole tables of clients and whole batches, run and run again, against what was looked over.

When these are meant to change, look at the new ones and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest -m "" tests/batch/test_batch_whole.py
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import pytest

from panelshift.batch import BatchJob, Outcome, iter_table, read_table, record
from panelshift.batch.index import INDEX_NAME
from panelshift.errors import PanelshiftError
from panelshift.files.outputs import sha256
from panelshift.printing import PageOptions, parse_paper
from tests.support.batches import PATTERN, base_job, inline
from tests.support.drawings import STACK, write_job
from tests.support.golden import changes

PANEL: Final = "panel.panel 1.class"
THICK: Final = "stack.fabric.brocade.thickness"

TABLES: Final = {
    "all kinds of keys": (
        f"name,note,pattern.title,pattern.lacing_gap,pattern.halves,{THICK},fit.needs,"
        "body.girths.waist,allowance.seam\n"
        "Ann,tall,2024,62.5,half,0.7,true,268,10\n"
        'Bo,"a, b",Bo\'s,2 in,,"0,9",FALSE,26.8 cm,3/8 in\n'
        "Cy,,,,,,,,\n"
    ),
    "semicolons and commas": f"name;pattern.lacing_gap;{THICK}\nAnn;62,5;0,7\nBo;60;\n",
    "tabs": "name\tpattern.lacing_gap\nAnn\t62\n",
    "a column without values": f"Name,pattern.lacing_gap,{THICK}\nAnn,50,\nBo,60,\n",
    "a class that counts": f"name,{PANEL},body.model\nAnn,side,classes\n",
    "classes that change nothing": f"name,{PANEL},body.model\nAnn,side,section\nBo,side,\n",
    "no such panel, level or fabric": (
        "name,panel.none.class,body.girths.bust,body.ratio.hip,stack.fabric.velvet.loft\nAnn,,,,\n"
    ),
    "levels by height": "name,body.girths.+60,body.girths.-20 mm\nAnn,264,260\n",
    "headings that are wrong": (
        "name,pattern.gap,,pattern.title,pattern.title,lacing\nA,1,2,3,4,5\n"
    ),
    "an empty heading over nothing": "name,,pattern.lacing_gap\nAnn,,50\n",
    "names twice and none": (
        "name,pattern.lacing_gap\nAnn,1\nann,2\n,3\nJose\u0301,4\nJos\u00e9,5\nB\u0007o,6\nAnn,7\n"
    ),
    "values that cannot be": (
        f"name,pattern.lacing_gap,{THICK},pattern.halves\n"
        "Ann,-5,0.7,half\nBo,wide,90,both\nCy,5,,\nDi,,,thirds\n"
    ),
    "cells beyond the headings": "name,pattern.lacing_gap\nAnn,5,6,7\nBo,5,,\n",
    "a drawing of its own": "name,pattern.file,panel.x.class\nAnn,other.svg,flank\n",
    "fit only": "name,fit.needs,fit.seam_tolerance,pattern.units\nAnn,false,3,in\n",
    "many faults": "name,pattern.lacing_gap\n" + "".join(f"c{k},-{k + 1}\n" for k in range(52)),
    "no names": "pattern.lacing_gap\n5\n",
    "no rows": "name,pattern.lacing_gap\n",
    "nothing": "",
}


def _row(job: BatchJob) -> str:
    said = f", at fault: {job.fault}" if job.fault else ""
    return f"{job.name!r} {job.overrides!r} from {job.source}{said}"


def _of_table(text: str, job: Path) -> Iterator[str]:
    """What a table says, taken as a whole and row by row."""
    try:
        found = read_table(text.encode(), job)
        yield f"{found.taken}; fit only: {', '.join(found.fit_only)}"
        yield from map(_row, found.jobs)
    except PanelshiftError as error:
        yield f"REFUSED {error}"
    try:
        yield from (f"by itself: {_row(row)}" for row in iter_table(text.encode(), job))
    except PanelshiftError as error:
        yield f"REFUSED row by row: {error.problem}"


@pytest.mark.slow
def test_what_whole_tables_say_was_looked_over(tmp_path: Path) -> None:
    job = base_job(tmp_path)
    told: list[str] = []
    for about, text in TABLES.items():
        told += [f"== {about}", *_of_table(text, job)]
    found = "\n".join(told).replace(str(tmp_path), "FOLDER")
    assert changes("batch-tables.txt", found) == []


def _jobs(folder: Path) -> list[BatchJob | Path]:
    """Two rows, two whose safe names are one, one with a folder of its own, and four that fail."""
    good = base_job(folder / "in")
    (folder / "in" / "bare").mkdir()
    bare = write_job(folder / "in" / "bare", PATTERN, stack=STACK)
    data = {
        "pattern": {"file": "draft.svg", "lacing_gap": 20},
        "stack": {"fabric": [{"name": "drill", "thickness": 0.5}]},
    }
    return [
        BatchJob("Ann", good, {"pattern.lacing_gap": 30.0}),
        BatchJob("Bo B.", good, {"pattern.lacing_gap": "4 cm", THICK: 1.1}),
        BatchJob("bo b", data, folder=folder / "in"),
        BatchJob("own", good, out=folder / "elsewhere" / "own"),
        bare,
        BatchJob("lost", folder / "in" / "lost.toml"),
        BatchJob("wrong", good, {"pattern.lacing_gap": -4.0}),
        BatchJob("told", good, fault="row 7: a name is missing"),
        BatchJob("wide", good, {"pattern.lacing_gap": 900.0}),
    ]


def _outcomes(outcomes: Sequence[Outcome]) -> Iterator[str]:
    for outcome in outcomes:
        known = ", to be told by the index" if outcome.stamp else ""
        yield f"{outcome.name}: {outcome.status}{known}"
        yield from (f"  {path} {_own(path, digest)}" for path, digest in outcome.files.items())
        yield from (f"  warned: {words}" for words in outcome.warnings)
        if outcome.error:
            yield f"  {outcome.error}"
        yield from (f"  made from {path}" for path, _ in outcome.sources)


def _own(path: str, digest: str) -> str:
    return "as it is there" if digest == sha256(Path(path).read_bytes()) else "not so"


def _whole(folder: Path) -> Iterator[str]:
    """Every file there, with what records and summaries hold."""
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder)
        if path.is_dir():
            yield f"{name}/"
        elif path.name == record.RECORD_NAME:
            yield f"{name}:"
            held = json.loads(path.read_bytes())
            for made in held["products"].values():
                assert re.fullmatch("[0-9a-f]{64}", made["inputs"])
                made["inputs"] = "a hash"
                for file, digest in made["files"].items():
                    made["files"][file] = _own(str(path.parent / file), digest)
            yield json.dumps(held, indent=1)
        elif path.name in ("summary.csv", "summary.json"):
            yield f"{name}:"
            yield path.read_text(encoding="utf-8")
        else:
            yield f"{name}"


def _index(out: Path) -> Iterator[str]:
    """What is kept of each job: files with their own hashes, and which of them may be trusted."""
    store = sqlite3.connect(out / INDEX_NAME)
    rows = "select folder, files, digests, warnings, sources, stamp, length(key) from jobs"
    for folder, files, digests, warnings, sources, stamp, size in store.execute(rows):
        paths = files.decode().split("\0")
        held = [_own(*pair) for pair in zip(paths, digests.split("\0"), strict=True) if pair[0]]
        yield (
            f"{folder.decode()} {size} {len(paths)} {sorted(set(held))} {warnings} "
            f"{[path for path, _ in json.loads(sources)]} {len(stamp)}"
        )
    store.close()


@pytest.mark.slow
def test_a_whole_batch_run_and_run_again_is_as_it_was_looked_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record, "__version__", "0")
    out, jobs = tmp_path / "out", _jobs(tmp_path)
    more: dict[str, Any] = {"products": ("fit", "tile", "cut"), "summary": True}
    more["pages"] = PageOptions(parse_paper("letter"))
    told: list[str] = []

    def run(about: str, **options: Any) -> None:
        told.append(f"== {about}")
        told.extend(_outcomes(inline(jobs, out, **more | options)))
        told.extend(_whole(out))
        told.extend(_whole(tmp_path / "elsewhere"))
        told.extend(_index(out))

    run("the first time")
    run("again")
    (ann,) = out.glob("ann/*brocade*.svg")
    ann.write_bytes(ann.read_bytes() + b"\n")
    for path in out.glob("bo-b-*/*.csv"):
        path.unlink()
    jobs[2] = BatchJob("bo b", {**jobs[2].job, "allowance": {"seam": 12}}, folder=tmp_path / "in")  # type: ignore[dict-item, union-attr]
    run("one edited, one gone, one changed", products=("cut", "fit"))
    run("whatever is there", products=("cut",), overwrite=True, resume=False)
    found = "\n".join(told).replace(str(tmp_path), "FOLDER")
    assert changes("batch-run.txt", re.sub(r"bo-b-[0-9a-f]{8}", _marked, found)) == []


def _marked(found: re.Match[str]) -> str:
    """Marks are made from names."""
    return {"bo-b-" + sha256(name.encode())[:8]: name for name in ("Bo B.", "bo b")}[found[0]]

"""A job file for scripts: as objects, what comes of them, and as text again."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ..errors import JobError
from ..files.plain_values import held_to_types
from ..printing import PageOptions
from ..shift import Shifted
from .model import JobFile
from .resolved import Job, resolve
from .result import fit_job, print_job, shift_job
from .starter import quoted
from .toml import job_data, parse_job, read_job


@held_to_types
def open_job(path: str | os.PathLike[str], changes: Mapping[str, Any] | None = None) -> Job:
    """Read a job file, and all that it names, as objects.

    Parameters
    ----------
    path : path-like
        The TOML file.
    changes : mapping of str to value, optional
        Dotted keys whose values replace those of the file, such as ``pattern.lacing_gap`` or
        ``stack.fabric.brocade.thickness``.

    Returns
    -------
    Job
        With `pattern`, `stack`, `body`, `classes` (of each panel), `gap` (in mm) and `plan`, which
        `shift_pattern` and `layer_svg` take; `warnings` is what the maker should look at.

    Raises
    ------
    JobError
        If the file cannot be read or has faults: all are listed.
    PanelshiftError
        If what it names cannot be read, or does not fit together.

    Examples
    --------
    >>> job = open_job("sample_patterns/hourglass.toml", {"pattern.lacing_gap": "6 cm"})
    >>> job.gap, job.stack.names[-1], round(job.pattern.waist, 2)
    (60.0, 'brocade', 640.0)
    """
    file = read_job(path) if not changes else _changed(Path(path), changes)
    return resolve(file, source=os.fspath(path))


def _changed(path: Path, changes: Mapping[str, Any]) -> JobFile:
    from .keys import with_overrides
    from .toml import job_bytes

    data = job_data(job_bytes(path), source=str(path))
    changed = with_overrides(data, changes, source=str(path))
    return parse_job(changed, source=str(path), folder=path.parent)


@held_to_types
def job_layers(job: Job) -> Shifted:
    """Shift a job's pattern to every layer, with its gap, its body and its way of sewing.

    Parameters
    ----------
    job : Job
        As `open_job` gives it.

    Returns
    -------
    Shifted

    Raises
    ------
    PanelshiftError
        If the scale is in doubt, the body cannot answer, or a layer would fold.

    Examples
    --------
    >>> layers = job_layers(open_job("sample_patterns/hourglass.toml"))
    >>> [layer.fabric.name for layer in layers.layers if layer.drafted]
    ['coutille']
    """
    return shift_job(job)


@held_to_types
def job_facts(job: Job, *, cloth: bool = True) -> dict[str, Any]:
    """Everything that the fit sheet states: the content of fit.json.

    Parameters
    ----------
    job : Job
        As `open_job` gives it.
    cloth : bool
        Whether to lay out the cloth to buy as well, if the job wants that: about a second for each
        layout.

    Returns
    -------
    dict
        Lengths in mm, angles in degrees; by the schema docs/schemas/output.json, under ``fit``.

    Raises
    ------
    PanelshiftError
        As `job_layers`.

    Examples
    --------
    >>> facts = job_facts(open_job("sample_patterns/hourglass.toml"), cloth=False)
    >>> facts["drafted_layer"], facts["sections"]["finished girth"][0]["level"]
    ('coutille', 'bust')
    """
    from ..fit.fact_rows import facts_data

    return facts_data(fit_job(job, lay_cloth=cloth))


@held_to_types
def job_pdfs(
    job: Job,
    options: PageOptions,
    *,
    layers: Sequence[str] = (),
    nested: bool = False,
    one_file: bool = False,
    share: bool = False,
) -> dict[str, bytes]:
    """Print a job as ``panelshift tile`` does.

    Parameters
    ----------
    job : Job
        As `open_job` gives it.
    options : PageOptions
        Paper, margin and overlap.
    layers : sequence of str
        Names of layers; all if there are none.
    nested : bool
        All layers of a panel in each other, on one print.
    one_file : bool
        All layers in one PDF.
    share : bool
        Only papers that are needed.

    Returns
    -------
    dict of str to bytes
        PDF documents by their file names.

    Raises
    ------
    PanelshiftError
        As `job_layers`; or if no layer has a name, or it does not fit the paper.

    Examples
    --------
    >>> from panelshift import PageOptions, parse_paper
    >>> job = open_job("sample_patterns/hourglass.toml")
    >>> list(job_pdfs(job, PageOptions(parse_paper("a0")), nested=True))
    ['layers-nested-a0.pdf']
    """
    prints = print_job(job, options, layers=layers, nested=nested, one_file=one_file, share=share)
    return {item.name: item.printed.data for item in prints}


@held_to_types
def job_text(job: Job, folder: str | os.PathLike[str] = ".") -> str:
    """Write a job as a job file: read again, it is the same.

    Parameters
    ----------
    job : Job
        As `open_job` gives it, changes among it.
    folder : path-like
        Directory that the file will lie in: the paths in it start there.

    Returns
    -------
    str
        TOML, lengths in mm; only keys that were stated.

    Raises
    ------
    JobError
        If a path in it cannot be told from that directory.

    Examples
    --------
    >>> job = open_job("sample_patterns/hourglass.toml", {"pattern.lacing_gap": 60})
    >>> [line for line in job_text(job).splitlines() if "gap" in line or "file" in line]
    ['file = "sample_patterns/hourglass.svg"', 'lacing_gap = 60.0']
    """
    try:
        return table_text(job.file, folder)
    except ValueError as error:
        # Two drives of Windows have no way from one to the other.
        raise JobError(
            f"no path leads from {folder} to a file of the job: {error}",
            remedy="Choose a directory on the same drive.",
        ) from None


def table_text(job: JobFile, folder: str | os.PathLike[str] = ".") -> str:
    """What was stated in a job, as TOML."""
    lines: list[str] = []
    _write_table(job.model_dump(by_alias=True, exclude_unset=True), (), lines, os.fspath(folder))
    return "\n".join(lines).lstrip("\n") + "\n"


def _write_table(
    table: Mapping[str, Any], place: tuple[str, ...], lines: list[str], folder: str
) -> None:
    """Values of a table first, then its tables: TOML has no way back to an outer one."""
    inner = {}
    for key, value in table.items():
        if value is None:
            continue
        if isinstance(value, Mapping) or _is_tables(value):
            inner[key] = value
        else:
            lines.append(f"{_key(key)} = {_value(value, folder)}")
    for key, value in inner.items():
        name = ".".join(map(_key, (*place, key)))
        for one in value if _is_tables(value) else [value]:
            lines += ["", f"[[{name}]]" if _is_tables(value) else f"[{name}]"]
            _write_table(one, (*place, key), lines, folder)


def _is_tables(value: Any) -> bool:
    return (
        isinstance(value, (list, tuple))
        and len(value) > 0
        and all(isinstance(item, Mapping) for item in value)
    )


def _key(key: str) -> str:
    return key if key.replace("_", "").isalnum() and key.isascii() else quoted(key)


def _value(value: Any, folder: str) -> str:
    if isinstance(value, Path):
        return quoted(Path(os.path.relpath(value, folder)).as_posix())
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(item, folder) for item in value)}]"
    return repr(value)

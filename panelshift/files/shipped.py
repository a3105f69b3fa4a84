"""The documentation's pages and the sample, wherever this copy of the project has them."""

from __future__ import annotations

import sysconfig
from functools import cache
from pathlib import Path
from typing import Final, Literal

Kind = Literal["docs", "sample"]

_SAMPLE: Final = ("hourglass.svg", "hourglass.toml")

_REPOSITORY: Final = Path(__file__).resolve().parents[2]
_COPY: Final[dict[Kind, Path]] = {
    "docs": _REPOSITORY / "docs",
    "sample": _REPOSITORY / "sample_patterns",
}
_BESIDE: Final = _REPOSITORY / "share/panelshift"
"""Where `pip install --target` puts what a wheel brings: beside the package."""


@cache
def home(kind: Kind) -> Path | None:
    """The folder in a copy of the repository, or where a wheel puts it; None if it has none."""
    schemes = sysconfig.get_default_scheme(), sysconfig.get_preferred_scheme("user")
    shares = [Path(sysconfig.get_path("data", scheme)) / "share/panelshift" for scheme in schemes]
    places = [_COPY[kind], *(share / kind for share in (_BESIDE, *shares))]
    return next((place for place in places if place.is_dir()), None)


def sample_files() -> dict[str, bytes]:
    """The sample's draft and its job by their names; nothing if they were not installed."""
    place = home("sample")
    if place is None or not all((place / name).is_file() for name in _SAMPLE):
        return {}
    return {name: (place / name).read_bytes() for name in _SAMPLE}


def guide(page: str) -> str:
    """What a message calls a page of the documentation: a path that its reader can open.

    In a copy of the repository that is the path in it, which is the same on every machine.
    """
    place = home("docs")
    if place is None or place == _COPY["docs"]:
        return f"docs/{page}.md"
    return str(place / f"{page}.md")

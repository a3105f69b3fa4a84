"""Which browser the tests use, and what keeps it quiet."""

from __future__ import annotations

import shutil
from typing import Final

PROGRAMS: Final = ("chromium", "chromium-browser", "google-chrome")

QUIET: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
"""Without these it asks for things on the network at every start."""


def program() -> str | None:
    """Path of the installed browser, or None."""
    return next((path for name in PROGRAMS if (path := shutil.which(name))), None)

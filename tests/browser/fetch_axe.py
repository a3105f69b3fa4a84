"""Fetch axe-core, the accessibility checker, through npm for the browser tests.

    python tests/browser/fetch_axe.py

Puts axe.min.js (MPL-2.0) of the npm package axe-core into tests/browser/.axe, which git ignores:
half a megabyte of somebody else's code needs no place in the repository. Without it the test
that uses it is skipped and says so. Needs npm; does nothing if the file is there already.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path
from typing import Final

VERSION: Final = "4.14.1"
TARGET: Final = Path(__file__).with_name(".axe") / f"axe-{VERSION}.min.js"


def main() -> None:
    if TARGET.exists():
        return
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            ["npm", "pack", "--silent", "--pack-destination", folder, f"axe-core@{VERSION}"],
            check=True,
            stdout=sys.stderr,
        )
        (archive,) = Path(folder).glob("*.tgz")
        with tarfile.open(archive) as tar:
            member = tar.extractfile("package/axe.min.js")
            assert member is not None
            TARGET.parent.mkdir(exist_ok=True)
            TARGET.write_bytes(member.read())


if __name__ == "__main__":
    main()

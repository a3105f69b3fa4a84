"""How near growth and seams come on bodies that are known, by what was measured of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.form.left_out import mesh_bodies, outcomes, trunks

# By way: growth by panel and level off by at most, seams at a distance of 2 mm by at most. Bodies
# differ from the mean form as much as is stated: by 0.24 mm for each mm of distance 95 times in
# 100, which is 27 % rms of a panel of fourteen.
BOUNDS = {
    "mesh": (0.03, 0.5),
    "noisy mesh": (0.08, 0.6),
    "traces": (0.15, 1.2),
    "tapes": (0.20, 1.5),
    "nothing": (0.30, 1.5),
}


@pytest.mark.slow
@pytest.mark.parametrize("way", BOUNDS)
def test_growth_and_seams_are_as_near_as_is_said(tmp_path: Path, way: str) -> None:
    bodies = mesh_bodies()
    some = [*bodies[:3], *bodies[-3:], *trunks(2)]
    found = outcomes(way, some, tmp_path)
    rms, seam = BOUNDS[way]
    assert np.sqrt(np.mean([one.rms**2 for one in found])) < rms
    assert max(one.seam for one in found) < seam
    # What is stated to hold 95 times in 100 does.
    assert np.mean([one.growth_held for one in found]) >= 0.90
    assert np.mean([one.seam_held for one in found]) >= 0.90

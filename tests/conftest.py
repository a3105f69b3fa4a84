"""What all tests share."""

from __future__ import annotations

import pytest

from tests.support.examples import load_profile


def pytest_configure(config: pytest.Config) -> None:
    """Fewer examples where what is slow is left out as well."""
    load_profile(whole="not slow" not in config.option.markexpr)

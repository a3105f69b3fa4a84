"""What all tests share."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "panelshift",
    derandomize=True,
    deadline=None,
    database=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("panelshift")

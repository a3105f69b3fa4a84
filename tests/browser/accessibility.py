"""What axe-core finds on a page."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.fetch_axe import TARGET as AXE

needs_axe = pytest.mark.skipif(
    not AXE.exists(), reason="no axe-core: python tests/browser/fetch_axe.py"
)


def violations(page: Page) -> list[dict[str, Any]]:
    """What is serious or critical."""
    page.evaluate(AXE.read_text(encoding="utf-8") + "; null")
    found = json.loads(
        page.evaluate(
            "axe.run(document, {resultTypes: ['violations']}).then(r => JSON.stringify(r))"
        )
    )
    return [
        {"id": item["id"], "nodes": [node["html"][:200] for node in item["nodes"][:3]]}
        for item in found["violations"]
        if item["impact"] in ("serious", "critical")
    ]

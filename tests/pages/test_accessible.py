"""Can a page be read by everyone? The rules of axe-core (Deque, MPL 2.0; WCAG 2 A and AA), every fold open."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.pages.test_pages import PAGES, RUNNING


@pytest.mark.parametrize(("name", "width"), [*((name, 1280) for name in PAGES), (RUNNING, 390), ("study", 390)])
def test_no_rule_is_broken(visit, name, width):
    page = visit(name, width).page
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    found = Axe().run(page).response
    assert len(found["passes"]) > 20
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []

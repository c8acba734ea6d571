"""The proof sheet by axe-core's rules, all severities, best practices among them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

PLACES = [
    folder / "node_modules/axe-core/axe.min.js"
    for folder in (Path(__file__).parent, Path(__file__).parents[2])
]


@pytest.fixture(scope="session")
def axe() -> str:
    """The library's source."""
    for place in PLACES:
        if place.is_file():
            return place.read_text(encoding="utf-8")
    pytest.skip("axe-core is not installed: npm install --no-save --prefix tests/browser axe-core")


@pytest.mark.parametrize("state", ["closed", "open", "window"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_finds_nothing(
    chromium: Browser, sheet: Path, axe: str, scheme: str, state: str, width: int
) -> None:
    context = chromium.new_context(
        viewport={"width": width, "height": 900},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page = context.new_page()
    page.goto(sheet.as_uri())
    if state != "closed":
        page.evaluate("for (const one of document.querySelectorAll('.open')) one.click()")
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    if state == "window":
        page.locator(".full").first.click()
    page.evaluate(axe)
    found = page.evaluate("async () => (await axe.run(document, { preload: false })).violations")
    context.close()
    assert [
        (one["id"], one["impact"], [node["html"][:200] for node in one["nodes"]]) for one in found
    ] == []

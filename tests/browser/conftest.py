"""A real Chromium, driven by Playwright; skipped with a reason where either is missing.

apt-get install chromium
pip install --group browser
npm install --no-save --prefix tests/browser axe-core
"""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

import pictures
import pytest
from sheets import at, check, piece, report_of

from pytest_webdeliverable.report.write import write_report

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The browser of the system."""
    api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    path = next(filter(None, map(shutil.which, NAMES)), None)
    if path is None:
        pytest.skip("chromium is not installed")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(params=["light", "dark"])
def scheme(request: pytest.FixtureRequest) -> str:
    """What the reader's system prefers."""
    return str(request.param)


@pytest.fixture(scope="session")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A proof sheet of six pieces, one for each verdict and one that cannot be read."""
    root = tmp_path_factory.mktemp("sheet")
    gap = pictures.art(480, 360)
    gap.paste("white", (0, 0, 3, 360))
    pictures.save(root / "gap.jpg", gap)
    for name, size in (("sound", (480, 360)), ("tall", (270, 480)), ("soft", (480, 300))):
        pictures.save(root / f"{name}.jpg", pictures.art(*size, seed=len(name)))
    torn = pictures.art(480, 360).convert("RGBA")
    torn.paste((0, 0, 0, 0), (420, 0, 480, 360))
    pictures.save(root / "torn.png", torn, "PNG")
    (root / "broken.jpg").write_bytes(b"not a picture")
    size = check("pixel-size", "failed", family="size", message="480 x 360 px, expected 800 x 600")
    failed = check(outcome="failed", message="left edge: 3 px of #ffffff", advice="Export again.")
    asked = {"pixel-size": "800 x 600 px", "density": "72 ppi"}
    pieces = [
        piece(root, "gap.jpg", title="Gap", checks=[failed, size], asked=asked, box=[800, 600]),
        piece(root, "sound.jpg", title="Sound", alt="Soft shapes on a grainy ground"),
        piece(root, "tall.jpg", checks=[check("resaved", "advised", family="history")]),
        piece(root, "soft.jpg", checks=[check("density", "skipped", family="size"), check()]),
        piece(root, "torn.png", checks=[check(outcome="waived", reason="torn paper", points=2)]),
        piece(
            root, "broken.jpg", checks=[check("file-readable", "failed", family="file", points=3)]
        ),
        {"id": "portfolio", "measured": {}, "checks": [check("stray-file", "failed")]},
    ]
    write_report(root / "proof", report_of(pieces), at(root), 2)
    return root / "proof" / "index.html"


@pytest.fixture
def page(chromium: Any, sheet: Path) -> Iterator[Any]:
    """The sheet, opened; nothing may be written to the console."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.goto(sheet.as_uri())
    yield opened
    context.close()
    assert said == []

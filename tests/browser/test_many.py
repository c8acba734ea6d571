"""A proof sheet of 500 pieces opens and scrolls without a wait.

Limits are the issue's (2 s) and, for scrolling, four times what a frame may take at 60 Hz for nearly
all frames: the browser of tests paints without a graphics card.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pictures
import pytest
from sheets import at, check, piece, report_of

from pytest_webdeliverable.report.write import write_report

if TYPE_CHECKING:
    from pathlib import Path

PIECES = 500
LOAD_MS = 2000
FRAME_MS = 1000 / 60

SCROLL = """async () => {
  const frames = [];
  let last = performance.now();
  const height = document.documentElement.scrollHeight;
  for (let y = 0; y < height; y += 100) {
    scrollTo(0, y);
    await new Promise((done) => requestAnimationFrame(done));
    const now = performance.now();
    frames.push(now - last);
    last = now;
  }
  return frames.sort((one, other) => one - other);
}"""


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """500 pieces of 20 pictures, every ninth with a gap, each with as many checks as "screen" has."""
    root = tmp_path_factory.mktemp("many")
    drawn = []
    for number in range(20):
        art = pictures.art(800, 600, number)
        if number % 9 == 0:
            art.paste("white", (0, 0, 3, 600))
        pictures.save(root / f"p{number}.jpg", art)
        drawn.append(piece(root, f"p{number}.jpg"))
    pieces: list[dict[str, Any]] = []
    for number in range(PIECES):
        one = drawn[number % 20]
        first = check(outcome="failed" if one["measured"]["edges"]["gaps"] else "passed")
        rest = [check(f"rule-{rule}") for rule in range(20)]
        pieces.append(
            {**one, "id": f"n{number}", "title": f"Work {number}", "checks": [first, *rest]}
        )
    write_report(root / "proof", report_of(pieces), at(root), 2)
    return root / "proof" / "index.html"


def test_500_pieces_open_and_scroll(chromium: Any, many: Path) -> None:
    best, frames = 1e9, [1e9]
    for _ in range(3):  # the best of three, because other work shares the machine
        context = chromium.new_context(viewport={"width": 1280, "height": 900})
        page = context.new_page()
        page.goto(many.as_uri())
        best = min(
            best, page.evaluate("performance.getEntriesByType('navigation')[0].loadEventEnd")
        )
        assert page.locator(".piece").count() == PIECES
        assert page.evaluate("document.documentElement.scrollWidth") == 1280
        frames = min(frames, page.evaluate(SCROLL), key=lambda one: one[len(one) * 9 // 10])
        context.close()
        if best < LOAD_MS and frames[len(frames) * 9 // 10] < 4 * FRAME_MS:
            break
    print(f"opened in {best:.0f} ms; 9 of 10 frames in {frames[len(frames) * 9 // 10]:.0f} ms")
    assert best < LOAD_MS
    assert frames[len(frames) * 9 // 10] < 4 * FRAME_MS

"""The proof sheet in a real browser, as a reader uses it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page

ALL = ["gap", "sound", "tall", "soft", "torn", "broken"]


def shown(page: Page) -> list[str]:
    return [
        str(piece.get_attribute("id")).removeprefix("piece-")
        for piece in page.locator(".piece:visible").all()
    ]


def around(page: Page, selector: str = ".mount") -> str:
    script = "element => getComputedStyle(element).backgroundColor"
    return str(page.locator(selector).first.evaluate(script))


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.textContent.trim()"))


def test_it_opens_with_all_pictures(page: Page) -> None:
    assert shown(page) == ALL
    assert page.locator("h1").inner_text() == "Selected work"
    page.locator(".open").last.scroll_into_view_if_needed()
    loaded = "() => [...document.querySelectorAll('.mount img')].every(one => one.naturalWidth > 0)"
    page.wait_for_function(loaded)
    assert page.locator(".mount img").count() == 5
    assert page.locator(".sheet:visible").count() == 0


@pytest.mark.parametrize(
    ("verdict", "left"),
    [
        ("failed", ["gap", "broken"]),
        ("advised", ["tall"]),
        ("waived", ["torn"]),
        ("skipped", ["soft"]),
        ("passed", ["sound"]),
    ],
)
def test_pieces_are_filtered_by_verdict(page: Page, verdict: str, left: list[str]) -> None:
    page.locator(f".choice.{verdict}").click()
    assert shown(page) == left
    assert page.locator("#count").inner_text() == f"{len(left)} of 6 shown"
    page.locator(".choice").first.click()
    assert shown(page) == ALL


def test_pieces_are_filtered_by_family_and_name(page: Page) -> None:
    page.locator("#family").select_option("size")
    assert shown(page) == ["gap", "soft"]
    page.locator(".choice.failed").click()
    assert shown(page) == ["gap"]
    page.locator("#family").select_option("")
    page.locator("#words").fill("BROK")
    assert shown(page) == ["broken"]


def test_the_surround_can_be_switched(page: Page) -> None:
    colors = {"black": "rgb(0, 0, 0)", "gray": "rgb(119, 119, 119)", "white": "rgb(255, 255, 255)"}
    assert around(page) == colors["gray"]
    for name, color in colors.items():
        page.locator(f".swatch.{name}").click()
        assert around(page) == color
    page.locator(".swatch.checks").click()
    image = page.locator(".mount").first.evaluate("one => getComputedStyle(one).backgroundImage")
    assert image.startswith("repeating-conic-gradient")


def test_a_sheet_shows_the_edges_eight_times_enlarged(page: Page) -> None:
    page.locator("#piece-gap .open").click()
    sheet = page.locator("#piece-gap .sheet")
    assert sheet.is_visible()
    assert sheet.locator(".edge").count() == 4
    size = sheet.locator(".edge.top svg").bounding_box()
    assert size is not None
    assert (size["width"], size["height"]) == (480 * 8, 12 * 8)
    mark = sheet.locator(".edge.left .gap").bounding_box()
    assert mark is not None
    assert mark["width"] == pytest.approx(3 * 8, abs=5)  # the line itself is 2 px wide
    assert "left edge: 3 px of #ffffff" in sheet.inner_text()


def test_the_picture_fills_the_window(page: Page) -> None:
    page.locator("#piece-gap .open").click()
    page.locator("#piece-gap .full").click()
    box = page.locator("#window").bounding_box()
    assert box == {"x": 0, "y": 0, "width": 1280, "height": 900}
    assert page.locator("#window-name").inner_text() == "Gap"
    page.keyboard.press("ArrowRight")
    assert page.locator("#window-name").inner_text() == "Sound"
    page.locator("#previous").click()
    page.locator("#previous").click()
    assert page.locator("#window-name").inner_text() == "torn"
    page.locator("#shade").click()
    assert around(page, ".stage") == "rgb(255, 255, 255)"
    page.keyboard.press("Escape")
    assert not page.locator("#window").is_visible()


def test_all_of_it_works_from_the_keyboard(page: Page) -> None:
    page.keyboard.press("Tab")
    assert focused(page) == "Skip to the pictures"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert focused(page) == "Gap"
    page.keyboard.press("ArrowRight")
    assert focused(page) == "Sound"
    page.keyboard.press("End")
    assert focused(page) == "broken"
    page.keyboard.press("Home")
    page.keyboard.press("ArrowDown")
    assert focused(page) not in {"Gap", "Sound"}
    page.keyboard.press("Home")
    page.keyboard.press("Enter")
    assert page.locator("#piece-gap .sheet").is_visible()
    for _ in range(5):  # four edges, then the button
        page.keyboard.press("Tab")
    assert focused(page) == "Full window"
    page.keyboard.press("Enter")
    assert page.locator("#window").is_visible()
    page.keyboard.press("Escape")
    assert focused(page) == "Full window"
    page.keyboard.press("Escape")
    assert not page.locator("#piece-gap .sheet").is_visible()
    assert focused(page) == "Gap"


def test_focus_is_seen(page: Page) -> None:
    script = "() => { const one = document.activeElement.closest('.piece') ?? document.activeElement.nextElementSibling ?? document.activeElement; const style = getComputedStyle(one); return [style.outlineStyle, parseFloat(style.outlineWidth)]; }"
    page.locator(".choice input").first.focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(script) == ["solid", 3]
    page.keyboard.press("ArrowLeft")
    page.locator("#piece-gap .open").focus()
    page.keyboard.press("ArrowRight")
    assert page.evaluate(script) == ["solid", 3]


def test_a_patch_of_the_strip_opens_its_piece(page: Page) -> None:
    page.locator(".strip i").nth(2).click()
    assert page.locator("#piece-tall .sheet").is_visible()


def test_a_link_opens_its_piece(page: Page, sheet: Path) -> None:
    page.goto("about:blank")
    page.goto(f"{sheet.as_uri()}#piece-tall")
    assert page.locator("#piece-tall .sheet").is_visible()


def test_without_script_every_sheet_is_open(chromium: Browser, sheet: Path) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(sheet.as_uri())
    assert page.locator(".sheet:visible").count() == 6
    context.close()


@pytest.mark.parametrize("width", [320, 390, 820, 1440])
def test_no_page_scrolls_sideways(page: Page, width: int) -> None:
    # WCAG 2.2, SC 1.4.10: down to 320 CSS px without scrolling in two directions.
    page.set_viewport_size({"width": width, "height": 800})
    page.locator("#piece-gap .open").click()
    page.locator("#piece-gap summary").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_print_shows_what_to_fix_and_no_tools(page: Page) -> None:
    page.emulate_media(media="print")
    assert not page.locator(".tools").is_visible()
    assert page.locator("#piece-gap .found.failed").is_visible()
    assert not page.locator("#piece-sound .sheet").is_visible()


def requests_of(chromium: Any, sheet: Path) -> list[str]:
    context = chromium.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(sheet.as_uri())
    page.locator(".open").first.click()
    context.close()
    return asked


def test_nothing_is_asked_of_any_network(chromium: Any, sheet: Path) -> None:
    asked = requests_of(chromium, sheet)
    assert asked[0] == sheet.as_uri()
    assert all(url.startswith("data:image/") for url in asked[1:])

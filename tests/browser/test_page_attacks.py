"""Proof sheets full of texts that are made to act, in a real browser: nothing in them does.

Whatever a name, a title, a description, a finding or another's report may hold stands at every place of the
page that shows a text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pictures
import pytest
from sheets import HOSTILE, at, check, piece, report_of

from pytest_webdeliverable.report.write import write_report

if TYPE_CHECKING:
    from pathlib import Path

ACTS = (
    *HOSTILE,
    "<svg onload=document.title='owned'>",
    "' autofocus onfocus=document.title='owned' x='",
    "javascript:document.title='owned'",
    "<meta http-equiv=refresh content='0;url=http://127.0.0.1:9/'>",
    "<link rel=stylesheet href=http://127.0.0.1:9/x.css><base href=http://127.0.0.1:9/>",
    "<!-- --!> <![CDATA[ ]]> <plaintext>",
    "<form action=http://127.0.0.1:9/><input name=verdict checked><button autofocus>",
    "\u2066\u202e\u2069\u200f\u061c abc \u202d",
    "Z\u0351\u0352\u0353" * 400,
    "A" * 12_000,
    "\U000e0001\U000e0041 \ufeff \u00ad \x00 \x7f \x85 \u2028",
    "\udcff\ud800",
    "{{7*7}} ${7*7} <%= 7*7 %>",
)
ASKED = ("pixel-size", "density", "file-format")


def spoiled(measured: Any, text: str) -> Any:
    """Facts of a picture, every string in them another: somebody else's report may be merged."""
    if isinstance(measured, dict):
        return {name: spoiled(one, text) for name, one in measured.items()}
    if isinstance(measured, list):
        return [spoiled(one, text) for one in measured]
    sides = {"left", "top", "right", "bottom"}
    return text if isinstance(measured, str) and measured not in sides else measured


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A piece for each of the texts, in all its places, and half of them with a picture."""
    root = tmp_path_factory.mktemp("hostile")
    gap = pictures.art(320, 240)
    gap.paste("white", (0, 0, 3, 240))
    pictures.save(root / "a.jpg", gap)
    drawn = piece(root, "a.jpg")
    pieces: list[dict[str, Any]] = []
    for number, text in enumerate(ACTS):
        outcomes = ("failed", "advised", "waived", "skipped", "passed")
        checks = [
            check(
                f"{text}{outcome}", outcome, message=text, advice=text, reason=text, family=text,
                evidence={text: text, "list": [text, {text: [text]}]}, points=1,
            )
            for outcome in outcomes
        ]  # fmt: skip
        pieces.append(
            {
                **drawn, "id": f"{number}{text}", "title": text, "alt": text, "spec": text,
                "copy-of": text, "checks": checks, "asked": dict.fromkeys(ASKED, text),
                "measured": spoiled(drawn["measured"], text),
                **({} if number % 2 else {"file": text}),
            }
        )  # fmt: skip
    report = report_of(pieces, title=ACTS[0])
    write_report(root / "proof", report, at(root), 2)
    return root / "proof" / "index.html"


@pytest.fixture
def opened(chromium: Any, hostile: Path) -> Any:
    """The page, and what it said, asked for and tried to open."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: said.append(f"error: {error}"))
    page.on("dialog", lambda dialog: (said.append(f"dialog: {dialog.message}"), dialog.dismiss()))
    page.on("popup", lambda popup: said.append("popup"))
    page.on(
        "request",
        lambda request: (
            said.append(f"request: {request.url[:200]}")
            if not request.url.startswith(("data:", hostile.as_uri()))
            else None
        ),
    )
    page.goto(hostile.as_uri())
    yield page
    assert page.url.partition("#")[0] == hostile.as_uri()
    assert "owned" not in page.evaluate("document.title")
    context.close()
    assert said == []


def test_nothing_in_the_data_acts(opened: Any) -> None:
    """Only the page's own script runs; no element, attribute or address comes from a text."""
    assert opened.locator(".piece").count() == len(ACTS)
    opened.evaluate("document.querySelectorAll('.open').forEach(one => one.click())")
    opened.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    assert opened.locator("script").count() == 1
    assert opened.locator("iframe, object, embed, base, link, plaintext, main form").count() == 0
    assert opened.locator("meta[http-equiv=refresh]").count() == 0
    script = """() => [...document.querySelectorAll('*')].flatMap(one => [...one.attributes])
        .filter(one => one.name.startsWith('on') || /^\\s*(javascript|https?):/i.test(one.value))
        .map(one => one.name + '=' + one.value.slice(0, 60))"""
    found = [
        one
        for one in opened.evaluate(script)
        if not one.startswith(("alt=", "data-", "value=", "aria-"))
    ]
    assert found == []
    marks = opened.evaluate(
        "/[\\u202a-\\u202e\\u2066-\\u2069\\u200f\\u061c]/.test(document.body.textContent)"
    )
    assert marks is False


def test_it_is_used_by_keyboard_and_filtered(opened: Any) -> None:
    opened.locator(".open").first.focus()
    for key in ("End", "ArrowUp", "Home", "ArrowRight", "Enter"):
        opened.keyboard.press(key)
    assert opened.locator(".piece.opened").count() == 1
    opened.keyboard.press("Escape")
    assert opened.locator(".piece.opened").count() == 0
    families = opened.locator("#family option").count()
    for number in range(families):
        opened.locator("#family").select_option(index=number)
        assert opened.locator(".piece:visible").count() <= len(ACTS)
    opened.locator("#family").select_option(index=0)
    for text in ('"', "\\", "'", "]", "<script>"):
        opened.locator("#words").fill(text)
    opened.locator("#words").fill("")
    assert opened.locator(".piece:visible").count() == len(ACTS)


@pytest.mark.parametrize("width", [320, 1280])
def test_no_text_makes_the_page_scroll_sideways(opened: Any, width: int) -> None:
    opened.set_viewport_size({"width": width, "height": 800})
    opened.evaluate("document.querySelectorAll('.open').forEach(one => one.click())")
    assert opened.evaluate("document.documentElement.scrollWidth") == width


def test_its_windows_name_is_text(opened: Any) -> None:
    opened.evaluate("document.querySelectorAll('.open').forEach(one => one.click())")
    opened.locator(".full").first.click()
    for _ in range(opened.locator(".look").count() + 1):
        opened.keyboard.press("ArrowRight")
        assert opened.locator("#window-name *").count() == 0
        box = opened.locator("#close").bounding_box()
        assert box is not None
        assert 0 <= box["x"] <= 1280 - box["width"]
        assert 0 <= box["y"] <= 900 - box["height"]
    opened.keyboard.press("Escape")


def test_it_prints(opened: Any) -> None:
    assert opened.pdf(format="A4").startswith(b"%PDF-")

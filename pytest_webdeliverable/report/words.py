"""Words and order of verdicts, and strings from outside made safe for the page and the summary."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.display import display_name

if TYPE_CHECKING:
    from collections.abc import Iterable

VERDICTS: Final = {
    "failed": "To fix",
    "advised": "Advice",
    "waived": "Waived",
    "skipped": "Not judged",
    "passed": "Holds",
}
"""Outcomes from worst to best, as the reader meets them; a piece has the worst of its checks."""

LONGEST: Final = 1200
"""Characters of one string from outside; the longest description asked for is a fifth of that."""

_MARKDOWN: Final = re.compile(r"[\\`*_\[\]<>|~]")
_COLOR: Final = re.compile(r"(?<![`\w])#[0-9a-f]{6}\b")
_BREAK: Final = "\u2060"
"""Word joiner: invisible, and no service takes what it splits for a mention or a link."""
_ACTIVE: Final = re.compile(r"(?<=[@#])(?=\w)|(?<=//)|(?<=www)(?=\.)|(?<=:)(?=//)", re.IGNORECASE)


def verdict_of(checks: Iterable[dict[str, Any]]) -> str:
    """Return the worst outcome, as one of ``VERDICTS``; no checks at all were not judged."""
    found = {check["outcome"] for check in checks}
    return next((verdict for verdict in VERDICTS if verdict in found), "skipped")


def untold(totals: dict[str, Any]) -> str:
    """Say what a report does not tell because the run was broken off; "" where it tells all."""
    checks, manifests = totals.get("no-result", 0), totals.get("unread", 0)
    parts = []
    if checks:
        has = "has" if checks == 1 else "have"
        parts.append(
            f"{count(checks, 'check')} {has} no result: the run, or a process of it, was broken off."
        )
    if manifests:
        parts.append(
            f"{count(manifests, 'manifest')} could not be used; the output of the run says why."
        )
    return " ".join(parts)


def plain(text: object) -> str:
    """Return a string from outside on one line, with nothing in it that acts."""
    return display_name(str(text), LONGEST)


def markup(text: object) -> str:
    """Return a string from outside as text of an HTML page, for element content and attributes."""
    return html.escape(plain(text), quote=True)


def markdown(text: object) -> str:
    """Return a string from outside as text of GitHub's Markdown: no markup, link or mention in it.

    Colors such as ``#fdfffe`` stand as code, so that they can be copied.
    """
    parts = []
    last, whole = 0, plain(text)
    for color in _COLOR.finditer(whole):
        parts += [_inert(whole[last : color.start()]), f"`{color.group()}`"]
        last = color.end()
    return "".join([*parts, _inert(whole[last:])])


def _inert(text: str) -> str:
    broken = _ACTIVE.sub(_BREAK, text)
    marked = _MARKDOWN.sub(lambda mark: f"\\{mark.group()}", broken.replace("&", "&amp;"))
    return marked.replace("\\<", "&lt;").replace("\\>", "&gt;").replace("$", "&dollar;")


def code(text: object) -> str:
    """Return a string from outside as Markdown code, which nothing in it can end."""
    shown = plain(text).strip() or " "
    longest = max((len(run) for run in re.findall("`+", shown)), default=0)
    fence = "`" * (longest + 1)
    space = " " if shown.startswith("`") or shown.endswith("`") else ""
    return f"{fence}{space}{shown}{space}{fence}"


def count(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun: "1 piece", "2 pieces"."""
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"


def count_points(number: float) -> str:
    """Return points of a rubric with their noun."""
    return f"{number:g} {'point' if number == 1 else 'points'}"

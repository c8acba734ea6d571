"""Reports to draw proof sheets from: measured from real files, judged by hand."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.measure.image import measure
from pytest_webdeliverable.report.build import build_report

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "line\nbreak\r\nand \x1b[31m red",
    "right\u202eto left",
    "a | b ` c `` d",
    "@octocat and #12",
    "##[error] ::error::boo",
    "http://evil.example www.evil.example <https://evil.example>",
    "</style></title></script>",
    "![x](javascript:alert(1)) **bold** ~~gone~~ $x$",
    "&lt;b&gt; &amp;",
)
"""Strings as a file name, a title or a credit line may hold them."""


def check(rule: str = "edge-gap", outcome: str = "passed", **more: Any) -> dict[str, Any]:
    """One check as records make it."""
    return {
        "rule": rule,
        "family": "edges",
        "level": "require",
        "outcome": outcome,
        "message": "the art runs to all four edges",
        "advice": "",
        "evidence": {},
        **more,
    }


def piece(root: Path, file: str, name: str = "", **more: Any) -> dict[str, Any]:
    """A piece of a report, its file measured in earnest."""
    measured = dict(measure(root, root, file, {"pixels", "edges"}))
    record: dict[str, Any] = {
        "id": name or file.partition(".")[0],
        "title": "",
        "file": file,
        "line": 3,
        "spec": "screen",
        "asked": {},
        "measured": measured,
        "checks": [check()],
    }
    if "file" in measured:
        record["sha256"] = measured["file"]["sha256"]
    return {**record, **more}


def report_of(
    pieces: Iterable[dict[str, Any]], title: str = "Selected work", name: str = "deliverables.toml"
) -> dict[str, Any]:
    """A report of pieces, through the function that makes all reports."""
    payloads = []
    for place, one in enumerate(pieces):
        record = {key: value for key, value in one.items() if key != "checks"}
        payloads += [
            {
                "manifest": name,
                "title": title,
                "id": one["id"],
                "place": [place, number],
                "piece": record,
                "check": judged,
            }
            for number, judged in enumerate(one["checks"])
        ]
    return build_report(payloads)


def at(root: Path, name: str = "deliverables.toml") -> dict[str, tuple[Path, Path]]:
    """Where the manifest of a report lives."""
    return {name: (root, root)}


class Tags(HTMLParser):
    """A page as Python's own HTML parser reads it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self.inside: dict[str, str] = {}
        self._within = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        self._within = tag

    def handle_data(self, data: str) -> None:
        if self._within in {"script", "style"}:
            self.inside[self._within] = self.inside.get(self._within, "") + data
        else:
            self.texts.append(data)

    def handle_endtag(self, tag: str) -> None:
        self._within = ""

    @property
    def text(self) -> str:
        """All text outside script and style."""
        return "".join(self.texts)

    def all(self, name: str) -> list[dict[str, str]]:
        """Attributes of all elements of a name."""
        return [attributes for tag, attributes in self.tags if tag == name]

    def values(self) -> Iterable[str]:
        """All attribute values."""
        return (value for _, attributes in self.tags for value in attributes.values())

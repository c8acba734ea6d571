"""Reports that strangers wrote, to be merged: one report of sound sentences and pages, or one refusal.

A workflow that merges may get its parts from jobs in which a stranger's code could write them.
"""

from __future__ import annotations

import copy
import json
import os
import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

import pictures
import pytest
import sheets
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pytest_webdeliverable.merging import _lines
from pytest_webdeliverable.report.conform import problem_of
from pytest_webdeliverable.report.merge import MergeError, merge_reports, read_report
from pytest_webdeliverable.report.write import write_report
from pytest_webdeliverable.schemas import load_schema

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

Place = tuple[str | int, ...]
TEXTS = [
    *sheets.HOSTILE,
    "a\n::error::owned",
    "\r::set-output name=result::passed",
    "##[error]owned",
    "\ud800",
    "a\0b",
    "/etc/passwd",
    "../../../etc/passwd",
    "javascript:alert(1)",
    "name\n",
    "",
    "a" * 100_000,
]
VALUES = [0, 1, -1, 2**31, 10**15, 1e-300, 1.5, True, None, [], {}, [1, 2], [[]], {"a": 1}]


def places(value: Any, above: Place = ()) -> Iterator[Place]:
    """Yield the place of every value within."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for name, one in inner:
        yield (*above, name)
        if isinstance(one, (dict, list)):
            yield from places(one, (*above, name))


def put(report: Any, place: Place, value: Any) -> None:
    for name in place[:-1]:
        report = report[name]
    report[place[-1]] = value


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any], list[Place]]:
    folder = tmp_path_factory.mktemp("merged")
    pictures.save(folder / "boat.jpg")
    checks = [sheets.check("pixel-size", "failed", points=2), sheets.check(outcome="failed")]
    waived = [sheets.check(outcome="waived", reason="torn"), sheets.check("density", "advised")]
    report = sheets.report_of(
        [
            sheets.piece(folder, "boat.jpg", checks=checks, alt="A boat.", title="Boat"),
            sheets.piece(folder, "boat.jpg", "river", line=7, checks=waived),
        ]
    )
    # Pixels' facts are many and of no concern here.
    known = {"file", "header", "color", "edges", "metadata"}
    for piece in report["manifests"][0]["pieces"]:
        piece["measured"] = {name: piece["measured"][name] for name in known & {*piece["measured"]}}
    return folder, report, list(places(report))


class Active(HTMLParser):
    """Notes what could act: handlers, scripts but the page's own, addresses but pictures within."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"script", "iframe", "object", "embed", "link", "base"}:
            self.found.append(tag)
        for name, value in attrs:
            inner = name in {"src", "href"} and not (value or "#").startswith(("data:image/", "#"))
            if name.startswith("on") or name == "style" or inner:
                self.found.append(f"{tag} {name}={value}")


def shown(folder: Path, report: dict[str, Any]) -> str:
    """Merge one report as ``merging`` does; return what it would print."""
    (folder / "report.json").write_text(json.dumps(report))
    try:
        merged = merge_reports([read_report(folder / "report.json")])
    except MergeError as error:
        return str(error)
    names = [manifest["manifest"] for manifest in merged["manifests"]]
    homes = {name: (folder, (folder / name).parent) for name in names}
    write_report(folder / "out", merged, homes, 1)
    active = Active()
    active.feed((folder / "out" / "index.html").read_text(encoding="utf-8"))
    assert active.found == ["script"], "the page's own"
    summary = (folder / "out" / "summary.md").read_text(encoding="utf-8")
    assert not re.search(r"^\s*::|##\[", summary, re.MULTILINE)
    return "\n".join(_lines(merged))


def plain(text: str) -> None:
    assert all(line.isprintable() for line in text.split("\n"))
    assert not [line for line in text.split("\n") if line.lstrip().startswith("::")]
    assert "##[" not in text
    text.encode()


@settings(
    max_examples=250,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_value_anywhere_is_shown_or_refused(made, data) -> None:
    folder, sound, spots = made
    report = copy.deepcopy(sound)
    place = data.draw(st.sampled_from(spots))
    put(report, place, data.draw(st.sampled_from([*TEXTS, *VALUES])))
    plain(shown(folder, report))


@pytest.mark.parametrize("key", ["rule", "message", "advice", "reason"])
@pytest.mark.parametrize("text", ["a\n::error::owned", "\r##[error]owned", "\ud800\x1b[2J"])
def test_words_of_a_finding_do_nothing(made, key: str, text: str) -> None:
    """They were printed as they are, since those of a run are plain already."""
    folder, sound, _ = made
    report = copy.deepcopy(sound)
    for piece in report["manifests"][0]["pieces"]:
        piece["checks"][0][key] = text
    plain(shown(folder, report))


def test_the_end_of_a_name_is_no_line_break(made) -> None:
    """``$`` of Python also stands before a line break at the end, that of JSON Schema does not."""
    folder, sound, _ = made
    report = copy.deepcopy(sound)
    report["manifests"][0]["pieces"][0]["id"] = "boat\n"
    assert problem_of(report, load_schema("report")) is not None
    assert "characters it may not have" in shown(folder, report)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("pipes are files on POSIX systems only")
    os.mkfifo(tmp_path / "report.json")
    with pytest.raises(MergeError, match="not a regular file"):
        read_report(tmp_path / "report.json")

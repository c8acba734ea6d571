"""Annotations: what the runner reads out of them is what was meant, whoever wrote the names."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pytest_webdeliverable.annotations import LONGEST, SHOWN, Finding, commands, escape

if TYPE_CHECKING:
    from portfolios import Portfolio


def read(line: str) -> tuple[dict[str, str], str]:
    """Properties and message, read as the runner reads them (ActionCommand.cs, TryParseV2)."""
    assert line.startswith("::error ")
    info, _, data = line[2:].partition("::")
    properties = {}
    for part in info.removeprefix("error ").strip().split(","):
        name, _, value = part.partition("=")
        for escaped, raw in (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ",")):
            value = value.replace(escaped, raw)
        properties[name] = value.replace("%25", "%")
    for escaped, raw in (("%0D", "\r"), ("%0A", "\n"), ("%25", "%")):
        data = data.replace(escaped, raw)
    return properties, data


EVIL = "a::set-output name=x::y ##[add-path]z\r\n::error::%0A\u202e\x1b[31m\ud800,b=c%3A"


@given(st.text(), st.text(), st.text())
@example(EVIL, EVIL, EVIL)
@example(":::", "####[", "%25%3A")
@example("", "", "")
def test_the_runner_reads_what_was_meant(file: str, title: str, message: str):
    line = Finding(file, 3, title, [message]).command()
    assert line.splitlines() == [line]
    properties, data = read(line)
    assert set(properties) == {"file", "line", "title"}
    assert properties["line"] == "3"
    for text in (properties["file"], properties["title"], data):
        assert "::" not in text
        assert "##[" not in text
        assert not {unicodedata.category(one) for one in text if one != "\n"} & {"Cc", "Cf", "Cs"}
        assert len(text.encode("utf-16-le")) // 2 <= LONGEST


@given(st.text(st.characters(codec="ascii", exclude_categories=["Cc"], exclude_characters=":#")))
def test_plain_text_arrives_unchanged(text: str):
    properties, data = read(Finding("a.toml", 1, text, [text]).command())
    assert data == text
    assert properties["title"] == text.rstrip(), "the runner trims what stands before the message"


def test_a_cut_message_does_not_end_within_a_pair_or_an_escape():
    for text in ("%" * 5000, "\U0001f6a2" * 5000, "a" + "\U0001f6a2" * 5000):
        _, data = read(Finding("a", 1, "t", [text]).command())
        assert data.endswith("...")
        assert set(data.removesuffix("...")) <= set(text)
        assert LONGEST - 2 <= len(data.encode("utf-16-le")) // 2 <= LONGEST


def test_a_property_ends_neither_at_a_colon_nor_at_a_comma():
    assert escape("a:b,c%", of_property=True) == "a%3Ab%2Cc%25"
    assert escape("a:b,c%") == "a:b,c%25"


def of(rules: set[str], name: str = "a") -> Finding:
    return Finding("m.toml", 1, name, sorted(rules), rules)


def test_the_most_telling_come_first():
    """What can hurt someone, then what hides more, then the most faults; ties as they come."""
    findings = [
        of({"density"}, "one"),
        of({"density", "alt-text"}, "two"),
        of({"file-readable"}, "damaged"),
        of({"metadata-location"}, "place"),
        of(set(), "manifest"),
        of({"pixel-size"}, "other"),
    ]
    titles = [read(line)[0]["title"] for line in commands(findings)]
    assert titles == ["manifest", "place", "damaged", "two", "one", "other"]


@pytest.mark.parametrize(("count", "more"), [(0, 0), (SHOWN, 0), (SHOWN + 1, 1), (500, 492)])
def test_eight_are_shown_and_one_line_counts_the_others(count: int, more: int):
    lines = commands([of({"density"}, f"p{number}") for number in range(count)])
    assert len(lines) == min(count, SHOWN) + (more > 0)
    if more:
        assert lines[-1].startswith(f"::error title=and {more} more::")


FAULTS = """
[spec.screen]
box = [160, 120]

[[piece]]
id = "gone"
file = "gone.jpg"
alt = "A boat on a river, seen from above."

[[piece]]
id = "a"
file = "a.jpg"
"""


@pytest.mark.parametrize("option", [(), ("-n", "2")])
def test_faults_of_a_piece_are_one_annotation_at_its_line(
    portfolio: Portfolio, option: tuple[str, ...]
):
    portfolio.picture("a.jpg", dpi=(300, 300))
    portfolio.manifest(FAULTS)
    out = portfolio.run("--deliverable-annotations=github", *option).out
    lines = [read(line) for line in out.splitlines() if line.startswith("::error ")]
    assert [(properties["line"], properties["title"]) for properties, _ in lines] == [
        ("5", "gone"),
        ("10", "a"),
    ]
    assert [line.partition(":")[0] for line in lines[1][1].split("\n")] == ["density", "alt-text"]


def test_a_manifest_that_cannot_be_read_is_an_annotation_too(portfolio: Portfolio):
    portfolio.manifest('[portfolio]\n\n[[piece]]\nfile = "a.jpg"\nttle = "A"\n')
    out = portfolio.run("--deliverable-annotations=github").out
    [line] = [line for line in out.splitlines() if line.startswith("::error ")]
    properties, message = read(line)
    assert (properties["file"], properties["line"]) == ("deliverables.toml", "5")
    assert 'did you mean "title"?' in message


def test_auto_asks_where_it_runs(portfolio: Portfolio, monkeypatch: pytest.MonkeyPatch):
    portfolio.manifest(FAULTS)
    assert "::error " not in portfolio.run().out
    monkeypatch.setenv("GITHUB_ACTIONS", "true")
    assert "::error " in portfolio.run().out
    assert "::error " not in portfolio.run("--deliverable-annotations=none").out
    assert "::error " not in portfolio.run("-o", "deliverable_annotations=none").out


def test_they_can_go_to_a_file(portfolio: Portfolio):
    portfolio.manifest(FAULTS)
    file = portfolio.folder / "annotations.txt"
    options = ("--deliverable-annotations=github", "-o", f"deliverable_annotations_file={file}")
    assert "::error " not in portfolio.run(*options).out
    assert file.read_text(encoding="utf-8").count("::error ") == 2


def test_paths_start_at_the_checkout(portfolio: Portfolio, monkeypatch: pytest.MonkeyPatch):
    """pytest's root may be a folder in it."""
    monkeypatch.setenv("GITHUB_WORKSPACE", str(portfolio.folder.parent))
    portfolio.manifest(FAULTS)
    out = portfolio.run("--deliverable-annotations=github").out
    assert f"file={portfolio.folder.name}/deliverables.toml,line=5" in out


def test_an_unknown_word_is_refused(portfolio: Portfolio):
    portfolio.manifest(FAULTS)
    done = portfolio.run("-o", "deliverable_annotations=gitlab")
    assert done.code == 4
    assert 'must be "github", "none" or "auto"' in done.out


def test_a_check_without_a_verdict_is_an_annotation_too(portfolio: Portfolio):
    """For example where a hook of the portfolio's own fails before it."""
    portfolio.piece()
    code = "def pytest_runtest_setup(item):\n    assert item.name != 'density'\n"
    (portfolio.folder / "conftest.py").write_text(code, encoding="utf-8")
    out = portfolio.run("--deliverable-annotations=github").out
    [line] = [line for line in out.splitlines() if line.startswith("::error ")]
    properties, message = read(line)
    assert (properties["line"], properties["title"]) == ("5", "a")
    assert message == "density: could not be judged; see the log of this run"


def test_other_tests_are_not_annotated(portfolio: Portfolio):
    portfolio.piece()
    (portfolio.folder / "test_other.py").write_text("def test_x():\n    assert 0\n")
    out = portfolio.run("--deliverable-annotations=github").out
    assert "1 failed" in out
    assert "::error " not in out

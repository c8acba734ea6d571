"""Several reports made one; what is no report, or contradicts another, is refused in a sentence.

The shape is that of the package's own JSON Schema, which a JSON Schema library checks beside ours.
"""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pictures
import pytest
import sheets
from jsonschema import Draft202012Validator

from pytest_webdeliverable.report.conform import problem_of
from pytest_webdeliverable.report.merge import MergeError, merge_reports, read_report
from pytest_webdeliverable.schemas import load_schema

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def report(tmp_path: Path) -> dict[str, Any]:
    pictures.save(tmp_path / "boat.jpg")
    pictures.save(tmp_path / "river.jpg", pictures.art(80, 60))
    checks = [sheets.check("pixel-size", points=2), sheets.check("edge-gap", "failed")]
    pieces = [
        sheets.piece(tmp_path, "boat.jpg", checks=checks),
        sheets.piece(tmp_path, "river.jpg", line=7),
    ]
    return sheets.report_of(pieces)


def without(report: dict[str, Any], *rules: str) -> dict[str, Any]:
    """What a run of fewer rules reports."""
    part = copy.deepcopy(report)
    for piece in part["manifests"][0]["pieces"]:
        piece["checks"] = [one for one in piece["checks"] if one["rule"] not in rules]
    return part


def named(report: dict[str, Any], name: str) -> dict[str, Any]:
    other = copy.deepcopy(report)
    other["manifests"][0]["manifest"] = name
    return other


def test_one_report_stays_as_it_is(report):
    assert merge_reports([report]) == report


def test_the_same_report_twice_counts_once(report):
    assert merge_reports([report, copy.deepcopy(report)]) == report


def test_manifests_stand_by_name_whatever_the_order(report):
    first, second = named(report, "a/deliverables.toml"), named(report, "b/deliverables.toml")
    merged = merge_reports([second, first])
    assert merged == merge_reports([first, second])
    assert [one["manifest"] for one in merged["manifests"]] == [
        "a/deliverables.toml",
        "b/deliverables.toml",
    ]
    for name in ("pieces", "checks", "failed", "score", "score-max"):
        assert merged["totals"][name] == 2 * report["totals"][name]


def test_rules_of_one_piece_come_together(report):
    sizes, edges = without(report, "edge-gap"), without(report, "pixel-size")
    assert merge_reports([sizes, edges]) == merge_reports([edges, sizes])
    merged = merge_reports([edges, sizes])
    checks = merged["manifests"][0]["pieces"][0]["checks"]
    assert [one["rule"] for one in checks] == ["pixel-size", "edge-gap"]
    assert merged["totals"]["failed"] == 1
    assert merged["totals"]["score-max"] == 2


def test_another_file_under_the_same_name_is_refused(report):
    other = copy.deepcopy(report)
    other["manifests"][0]["pieces"][0]["sha256"] = "0" * 64
    with pytest.raises(MergeError, match="not the same file"):
        merge_reports([report, other])


def test_contradicting_outcomes_are_refused(report):
    other = copy.deepcopy(report)
    other["manifests"][0]["pieces"][0]["checks"][0]["outcome"] = "failed"
    with pytest.raises(MergeError, match="different outcomes"):
        merge_reports([report, other])


DAMAGE = {
    "no JSON": "{",
    "a list": "[]",
    "NaN": '{"schema": NaN}',
    "infinite": '{"schema": 1e999}',
    "deep": "[" * 100_000,
    "empty": "",
}


@pytest.mark.parametrize("text", DAMAGE.values(), ids=DAMAGE)
def test_what_is_no_report_is_refused(tmp_path, text):
    file = tmp_path / "report.json"
    file.write_text(text)
    with pytest.raises(MergeError, match=r"report\.json is not a report"):
        read_report(file)


def test_a_report_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(MergeError, match="No such file"):
        read_report(tmp_path / "report.json")


CHANGES: dict[str, tuple[tuple[str | int, ...], Any]] = {
    "another layout": (("schema",), 2),
    "unknown key": (("more",), {}),
    "id that acts": (("manifests", 0, "pieces", 0, "id"), '"><script>'),
    "outcome of no kind": (("manifests", 0, "pieces", 0, "checks", 0, "outcome"), "fine"),
    "no width": (("manifests", 0, "pieces", 0, "measured", "header", "width"), 0),
    "width of a word": (("manifests", 0, "pieces", 0, "measured", "header", "width"), "wide"),
    "huge width": (("manifests", 0, "pieces", 0, "measured", "header", "width"), 10**400),
    "true for a number": (("manifests", 0, "pieces", 0, "line"), True),
    "side of no kind": (
        ("manifests", 0, "pieces", 0, "measured", "edges", "gaps"),
        [{"side": "x", "depth": 1, "start": 0, "end": 1, "color": "", "delta-e": 1}],
    ),
    "message of nothing": (("manifests", 0, "pieces", 0, "checks", 0, "message"), ""),
    "list for a table": (("manifests", 0, "pieces", 0, "checks", 0), []),
}


@pytest.mark.parametrize(("path", "value"), CHANGES.values(), ids=CHANGES)
def test_a_shape_of_its_own_is_refused_as_a_schema_library_refuses_it(report, path, value):
    library = Draft202012Validator(load_schema("report"))
    assert problem_of(report, load_schema("report")) is None
    assert library.is_valid(report)
    place = report
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    assert problem_of(report, load_schema("report")) is not None
    assert value == 10**400 or not library.is_valid(report)  # a library has no limit on numbers


def test_a_keyword_that_is_not_known_is_no_silent_pass():
    with pytest.raises(ValueError, match="dependentRequired"):
        problem_of({}, {"type": "object", "dependentRequired": {}})


def test_one_command_merges_and_ends_like_a_run_of_all(pytester, tmp_path):
    """Verdicts and files are those of one run over all."""
    for name in ("a", "b"):
        folder = pytester.mkdir(name)
        pictures.save(folder / "boat.jpg")
        (folder / "deliverables.toml").write_text('[[piece]]\nfile = "boat.jpg"\nalt = "A boat."\n')
        pytester.runpytest(f"--deliverable-report=legs/{name}", f"{name}/deliverables.toml")
    whole = pytester.runpytest("--deliverable-report=whole", "--rootdir=.", "a", "b")
    merged = pytester.runpytest(
        "--deliverable-report=merged", "legs/b/report.json", "legs/a/report.json"
    )
    assert merged.ret == whole.ret == pytest.ExitCode.TESTS_FAILED
    merged.stdout.fnmatch_lines(["a/deliverables.toml::boat *", "2 reports merged into *merged"])
    for file in ("report.json", "summary.md", "index.html"):
        here, there = (pytester.path / one / file for one in ("merged", "whole"))
        assert here.read_bytes() == there.read_bytes()


def test_pictures_that_are_not_there_are_said_to_be(pytester):
    pictures.save(pytester.path / "boat.jpg")
    pytester.makefile(".toml", deliverables='[[piece]]\nfile = "boat.jpg"\nalt = "A boat."\n')
    pytester.runpytest("--deliverable-report=leg", "deliverables.toml")
    (pytester.path / "boat.jpg").unlink()
    pytester.runpytest("--deliverable-report=merged", "leg/report.json")
    page = (pytester.path / "merged" / "index.html").read_text()
    assert "No picture: the file is not there" in page
    assert "data:image" not in page


def test_mistakes_are_told_in_a_sentence(pytester):
    (pytester.path / "report.json").write_text("{}")
    done = pytester.runpytest("--deliverable-report=merged", "report.json")
    assert done.ret == pytest.ExitCode.USAGE_ERROR
    done.stderr.fnmatch_lines(
        ["ERROR: *report.json is not a report of this version: lacks the key*"]
    )
    done = pytester.runpytest("--deliverable-report=merged", "report.json", ".")
    done.stderr.fnmatch_lines(["ERROR: *cannot be named in one run*"])
    assert not (pytester.path / "merged").exists()


def test_a_report_of_no_checks_is_not_green(pytester):
    empty = {"schema": 1, "tool": {"name": "pytest-webdeliverable", "version": "0"}}
    counts = ("pieces", "checks", "passed", "failed", "advised", "waived", "skipped")
    totals = {**dict.fromkeys(counts, 0), "score": None, "score-max": None}
    text = json.dumps({**empty, "totals": totals, "manifests": []})
    (pytester.path / "report.json").write_text(text)
    done = pytester.runpytest("--deliverable-report=merged", "report.json")
    assert done.ret == pytest.ExitCode.NO_TESTS_COLLECTED

"""Checks before a commit: only what the changed files call for, and the hook as a framework runs it."""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING

import pictures
import pytest
from shown_files import ROOT

if TYPE_CHECKING:
    from portfolios import Portfolio

ALT = 'alt = "Soft shapes in violet and green on a grainy ground"'
MANIFEST = f"""
[portfolio]
images = "images"
specs-from = ["house.toml"]
[spec.mini]
from = "screen"
box = [80, 60]
[[piece]]
id = "one"
file = "images/one.jpg"
original = "originals/one.tif"
spec = "house"
{ALT}
copies = [{{ file = "images/one-mini.jpg", spec = "mini" }}]
[[piece]]
id = "two"
file = "images/two.jpg"
spec = "house"
{ALT}
"""
ALL = {"one", "one--mini", "two", "portfolio"}
QUICK = {"portfolio::stray-file", "portfolio::name-clash"}
"""Rules on the portfolio that open no picture."""


@pytest.fixture
def two(portfolio: Portfolio) -> Portfolio:
    """Two pieces, one with a copy and an original, in a folder with broken Python tests."""
    portfolio.manifest(MANIFEST)
    portfolio.manifest('[spec.house]\nfrom = "screen"\nbox = [160, 120]\n', "house.toml")
    art = pictures.art()
    portfolio.picture("images/one.jpg", art)
    portfolio.picture("images/one-mini.jpg", art.resize((80, 60)))
    portfolio.picture("originals/one.tif", art, "TIFF")
    portfolio.picture("images/two.jpg", pictures.art(160, 120, 9))
    (portfolio.folder / "test_broken.py").write_text("import no_such_module\n")
    return portfolio


def hook() -> tuple[list[str], str]:
    """Command of the hook without the program, and the pattern of files it is called for."""
    yaml = pytest.importorskip("ruamel.yaml").YAML(typ="safe")
    (entry,) = yaml.load((ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    program, *arguments = [*shlex.split(entry["entry"]), *entry["args"]]
    assert program == "pytest"
    assert entry["language"] == "python"
    assert entry["require_serial"] is True
    return arguments, entry["files"]


def judged(portfolio: Portfolio, *files: str) -> dict[str, str]:
    """Outcomes of the hook, called with these files."""
    arguments, pattern = hook()
    assert all(re.search(pattern, file) for file in files), "the hook is called for these files"
    run = portfolio.run(
        f"--deliverable-report={portfolio.folder / 'proof'}", *arguments, *files, report=False
    )
    assert run.code in {0, 1}, run.out
    import json

    report = json.loads((portfolio.folder / "proof/report.json").read_text())
    return {
        f"{piece['id']}::{check['rule']}": check["outcome"]
        for manifest in report["manifests"]
        for piece in manifest["pieces"]
        for check in piece["checks"]
    }


@pytest.mark.parametrize(
    ("files", "pieces"),
    [
        (["images/two.jpg"], {"two"}),
        (["images/one.jpg"], {"one", "one--mini"}),
        (["images/one-mini.jpg"], {"one--mini"}),
        (["originals/one.tif"], {"one"}),
        (["images/one-mini.jpg", "images/two.jpg"], {"one--mini", "two"}),
        (["./images/../images/two.jpg"], {"two"}),
    ],
)
def test_a_picture_calls_for_its_piece(two: Portfolio, files: list[str], pieces: set[str]) -> None:
    outcomes = judged(two, *files)
    assert {name.partition("::")[0] for name in outcomes} - {"portfolio"} == pieces
    assert {name for name in outcomes if name.startswith("portfolio")} == QUICK


@pytest.mark.parametrize("file", ["deliverables.toml", "house.toml"])
def test_what_says_the_spec_calls_for_all(two: Portfolio, file: str) -> None:
    outcomes = judged(two, file)
    assert {name.partition("::")[0] for name in outcomes} == ALL
    assert "portfolio::duplicate-file" in outcomes


def test_a_new_picture_that_no_piece_lists_is_found(two: Portfolio) -> None:
    two.picture("images/new.jpg")
    outcomes = judged(two, "images/new.jpg")
    assert set(outcomes) == QUICK
    assert outcomes["portfolio::stray-file"] == "failed"


@pytest.mark.parametrize("file", ["pyproject.toml", "gone.jpg"])
def test_files_of_other_projects_are_no_error(two: Portfolio, file: str) -> None:
    (two.folder / "deliverables.toml").rename(two.folder / "elsewhere.txt")
    (two.folder / "pyproject.toml").write_text("")
    arguments, _ = hook()
    run = two.run(*arguments, file, report=False)
    assert run.code == 0, run.out


def test_a_faulty_picture_stops_the_commit(two: Portfolio) -> None:
    two.picture("images/two.jpg", dpi=None)
    arguments, _ = hook()
    run = two.run(*arguments, "images/two.jpg", report=False)
    assert run.code == 1
    assert "no density is written" in run.out
    assert two.run(*arguments, "images/one.jpg", report=False).code == 0


def test_a_manifest_that_cannot_be_read_stops_the_commit(two: Portfolio) -> None:
    two.manifest("[[piece")
    arguments, _ = hook()
    assert two.run(*arguments, "images/two.jpg", report=False).code == 2


def test_properties_in_the_junit_report(two: Portfolio) -> None:
    """Read back from the file: one set of properties for each test, also from several processes."""
    from xml.etree import ElementTree as ET

    two.picture("images/two.jpg", dpi=None)
    for spread in ([], ["-n", "2"]):
        two.run("deliverables.toml", "--junitxml=junit.xml", *spread, report=False)
        cases = list(ET.parse(two.folder / "junit.xml").getroot().iter("testcase"))
        for case in cases:
            names = [one.get("name") for one in case.iter("property")]
            assert names == ["rule", "family", "level", "outcome"]
        (density,) = [
            {str(one.get("name")): one.get("value") for one in case.iter("property")}
            for case in cases
            if case.get("name") == "density" and str(case.get("classname")).endswith("two")
        ]
        assert density == {
            "rule": "density", "family": "size", "level": "require", "outcome": "failed",
        }  # fmt: skip


def test_advice_made_an_error_fails_and_says_so_everywhere(two: Portfolio) -> None:
    text = MANIFEST + '[spec.house]\nlevels = { density = "advise" }\n'
    two.manifest(text)
    two.picture("images/two.jpg", dpi=None)
    gentle = two.run("deliverables.toml")
    assert (gentle.code, gentle.outcomes()["two::density"]) == (0, "advised")
    strict = two.run(
        "deliverables.toml",
        "-W",
        "error::pytest_webdeliverable.DeliverableAdvice",
        "--junitxml=j.xml",
    )
    assert (strict.code, strict.outcomes()["two::density"]) == (1, "failed")
    assert 'name="outcome" value="failed"' in (two.folder / "j.xml").read_text()
    alone = two.run("deliverables.toml", "-W", "error")
    assert alone.failed() == ["two::density"]

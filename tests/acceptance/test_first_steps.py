"""Before, at the start of and after a run: plan, first manifest, schema, closing lines, score."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pictures
import pytest
from jsonschema import Draft202012Validator

from pytest_webdeliverable.rules.text import UNWRITTEN
from pytest_webdeliverable.schemas import load_schema, schema_text

if TYPE_CHECKING:
    from pathlib import Path

    from portfolios import Portfolio

PLANNED = """
[[piece]]
id = "tide-table"
file = "images/tide-table.jpg"
trim = "11 x 17 in"
[[piece]]
id = "loom"
file = "images/loom.jpg"
"""
ALT = "Soft shapes in violet and green on a grainy ground"
MARKED = f"""
[spec.screen]
box = [160, 120]
points = {{ pixel-size = 2, density = 0.5, alt-text = 3 }}
levels = {{ density = "advise" }}
[[piece]]
id = "good"
file = "good.jpg"
alt = "{ALT}"
[[piece]]
id = "large"
file = "large.jpg"
alt = "{ALT}"
[[piece]]
id = "gone"
file = "gone.jpg"
alt = "{ALT}"
"""


@pytest.fixture
def marked(portfolio: Portfolio) -> Portfolio:
    """Three pieces with a rubric: a sound one, one too large and too dense, one missing."""
    portfolio.manifest(MARKED)
    portfolio.picture("good.jpg")
    portfolio.picture("large.jpg", pictures.art(200, 150, 9), dpi=(300, 300))
    return portfolio


def test_the_plan_needs_no_picture(portfolio: Portfolio) -> None:
    portfolio.manifest(PLANNED)
    run = portfolio.run("--deliverable-plan", "-n", "2")
    assert run.code == 0
    (row,) = [line for line in run.out.splitlines() if line.startswith("tide-table ")]
    assert "776 x 1200 px" in row
    assert "72 ppi" in row
    assert "the height binds" in run.out
    assert "A web copy is not for printing" in run.out
    assert "no tests ran" in run.out
    proof = portfolio.folder / "proof"
    assert [path.name for path in proof.iterdir()] == ["plan.md"]
    assert "| tide-table | 776 x 1200 px |" in (proof / "plan.md").read_text(encoding="utf-8")


def test_the_plan_of_some_pieces_of_none_and_of_a_broken_manifest(portfolio: Portfolio) -> None:
    portfolio.manifest(PLANNED)
    some = portfolio.run("--deliverable-plan", "-k", "loom", report=False)
    assert (some.code, "tide-table" in some.out) == (0, False)
    portfolio.manifest(PLANNED + "trm = 1\n")
    broken = portfolio.run("--deliverable-plan", report=False)
    assert (broken.code, 'did you mean "trim"' in broken.out) == (2, True)
    (portfolio.folder / "deliverables.toml").unlink()
    assert portfolio.run("--deliverable-plan", report=False).code == 5


def test_from_a_folder_of_jpegs_to_an_answer_with_two_commands(portfolio: Portfolio) -> None:
    for name in ("tide-table", "night ferry"):
        portfolio.picture(f"images/{name}.jpg", pictures.art(1600, 1200))
    first = portfolio.run("--deliverable-start", report=False)
    assert first.code == 0
    assert "lists 2 pictures" in first.out
    assert "next: pytest" in first.out
    red = portfolio.run("-q")
    assert red.code == 1
    assert set(red.failed()) == {"tide-table::alt-text", "night-ferry::alt-text"}
    assert "still the blank" in red.out

    manifest = portfolio.folder / "deliverables.toml"
    text = manifest.read_text(encoding="utf-8")
    portfolio.manifest(text.replace(f"{UNWRITTEN} what", "Soft shapes:"))
    portfolio.picture("images/night ferry.jpg", pictures.art(1600, 1200, 7))
    green = portfolio.run("-q")
    assert (green.code, green.failed()) == (0, [])

    before = snapshot(portfolio.folder)
    again = portfolio.run("--deliverable-start", report=False)
    assert (again.code, again.out.count("left as it is")) == (0, 3)
    assert snapshot(portfolio.folder) == before


def snapshot(folder: Path) -> dict[str, bytes]:
    """Files that a start might write."""
    names = ("deliverables.toml", ".gitignore", ".github/workflows/deliverables.yml")
    return {name: (folder / name).read_bytes() for name in names}


def test_a_start_inside_a_repository_writes_where_ci_looks(portfolio: Portfolio) -> None:
    (portfolio.folder / ".git").mkdir()
    (portfolio.folder / ".gitignore").write_text("mine\n")
    portfolio.picture("work/spring/a.jpg")
    run = portfolio.run("--deliverable-start", "work/spring", report=False)
    assert run.code == 0
    assert "next: pytest work/spring" in run.out
    assert "left as it is: .gitignore; it would have held: proof/" in run.out
    assert (portfolio.folder / "work/spring/deliverables.toml").is_file()
    assert not (portfolio.folder / "work/spring/.github").exists()
    workflow = (portfolio.folder / ".github/workflows/deliverables.yml").read_text()
    assert 'path: "work/spring"' in workflow
    assert (portfolio.folder / ".gitignore").read_text() == "mine\n"


def test_a_start_follows_no_link_out_of_the_folder(
    portfolio: Portfolio, tmp_path_factory: pytest.TempPathFactory
) -> None:
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    portfolio.picture("a.jpg")
    try:
        (portfolio.folder / ".github").symlink_to(elsewhere)
        (portfolio.folder / "deliverables.toml").symlink_to(elsewhere / "new.toml")
    except OSError:
        pytest.skip("this system lets no link be made")
    run = portfolio.run("--deliverable-start", report=False)
    assert run.code == 0
    assert list(elsewhere.iterdir()) == []
    assert "a link leads out" in run.out


def test_a_start_without_pictures_or_folder_writes_nothing(portfolio: Portfolio) -> None:
    run = portfolio.run("--deliverable-start", report=False)
    assert (run.code, "no picture was found" in run.out) == (5, True)
    missing = portfolio.run("--deliverable-start", "nowhere", report=False)
    assert (missing.code, "not a folder" in missing.out) == (4, True)
    assert list(portfolio.folder.iterdir()) == []


def test_the_schema_is_printed_alone(portfolio: Portfolio) -> None:
    run = portfolio.run("--deliverable-schema", report=False)
    assert (run.code, run.out) == (0, schema_text("manifest"))


def test_a_line_for_each_piece_as_it_runs(marked: Portfolio) -> None:
    marked.manifest(MARKED, "b/deliverables.toml")
    (marked.folder / "test_other.py").write_text("def test_other(): pass\n")
    run = marked.run("--tb=no", report=False, CI="1")
    starts = [line.split(" .")[0].split(" F")[0] for line in run.out.splitlines() if "%]" in line]
    assert [line for line in starts if line.startswith(("b/", "deliv"))] == [
        f"{manifest} {piece}"
        for manifest in ("b/deliverables.toml", "deliverables.toml")
        for piece in ("good", "large", "gone", "portfolio")
    ]
    assert any(line.startswith("test_other.py .") for line in run.out.splitlines())


def test_findings_and_score_close_the_run_also_from_several_processes(marked: Portfolio) -> None:
    spread = closing(marked.run("-q", "-n", "2", "--tb=no", report=False).out)
    run = marked.run("-q", "--tb=no")
    assert closing(run.out) == spread
    table = [line.split() for line in spread]
    assert table[2][:8] == ["large", "1", "1", "pixel-size:", "200", "x", "150", "px,"]
    assert table[3][:3] == ["gone", "1", "file-present:"]
    assert "good" not in {line[0] for line in table}
    # By hand: good 2 + 0.5 + 3; large loses 2, its density only advises; gone is not judged at all.
    assert [" ".join(line) for line in table[5:]] == [
        "deliverables.toml: 9 of 16.5 points",
        "-2 large: pixel-size",
        "-2 gone: pixel-size",
        "-0.5 gone: density",
        "-3 gone: alt-text",
    ]
    report = run.report
    assert report is not None
    Draft202012Validator(load_schema("report")).validate(report)
    (manifest,) = report["manifests"]
    assert (manifest["score"], manifest["score-max"]) == (9, 16.5)
    assert (report["totals"]["score"], report["totals"]["score-max"]) == (9, 16.5)
    assert manifest["lost"] == [
        {"piece": "large", "rule": "pixel-size", "points": 2},
        {"piece": "gone", "rule": "pixel-size", "points": 2},
        {"piece": "gone", "rule": "density", "points": 0.5},
        {"piece": "gone", "rule": "alt-text", "points": 3},
    ]
    assert [(piece["id"], piece.get("score")) for piece in manifest["pieces"]] == [
        ("good", 5.5),
        ("large", 3.5),
        ("gone", 0),
        ("portfolio", None),
    ]


def closing(out: str) -> list[str]:
    """Lines from the closing table to pytest's own summary."""
    lines = out.splitlines()
    (start,) = [at for at, line in enumerate(lines) if "pieces with findings" in line]
    (end,) = [at for at, line in enumerate(lines) if "short test summary" in line]
    return lines[start:end]


def test_nothing_closes_a_run_in_which_all_is_well(portfolio: Portfolio) -> None:
    portfolio.piece()
    run = portfolio.run("-q", report=False)
    assert run.code == 0
    assert len([line for line in run.out.splitlines() if line.strip()]) == 2
    shutil.rmtree(portfolio.folder / ".pytest_cache", ignore_errors=True)


def test_a_score_without_findings_is_shown_in_any_case(portfolio: Portfolio) -> None:
    portfolio.piece(spec="[spec.screen]\nbox = [160, 120]\npoints = { edge-gap = 4 }\n")
    run = portfolio.run("-q")
    assert "deliverables.toml: 4 of 4 points" in run.out
    assert (
        json.loads((portfolio.folder / "proof/report.json").read_text())["manifests"][0]["lost"]
        == []
    )

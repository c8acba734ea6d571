"""The ways in which people run pytest, each on a real folder in a process of its own."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import venv
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

if TYPE_CHECKING:
    from portfolios import Portfolio

ROOT = Path(__file__).parents[2]

TWO = """
[spec.screen]
box = [160, 120]
[[piece]]
id = "good"
file = "good.jpg"
alt = "Soft shapes in violet and green on a grainy ground"
[[piece]]
id = "large"
file = "large.jpg"
alt = "Soft shapes in violet and green on a grainy ground"
"""


@pytest.fixture
def two(portfolio: Portfolio) -> Portfolio:
    """Two pieces, one of them too large and too dense."""
    import pictures

    portfolio.manifest(TWO)
    portfolio.picture("good.jpg")
    portfolio.picture("large.jpg", pictures.art(200, 150, 9), dpi=(300, 300))
    return portfolio


def test_one_item_for_each_rule_and_image(two: Portfolio) -> None:
    run = two.run()
    assert run.code == 1
    assert run.failed() == ["large::pixel-size", "large::density"]
    names = [name for name in run.outcomes() if name.startswith("good::")]
    assert names == [
        f"good::{rule}"
        for rule in (
            "file-present",
            "file-readable",
            "file-case",
            "file-format",
            "pixel-size",
            "density",
            "color-mode",
            "bit-depth",
            "color-profile",
            "jpeg-process",
            "jpeg-quality",
            "edge-gap",
            "metadata-location",
            "metadata-device",
            "metadata-preview",
            "alt-text",
        )
    ]


def test_a_failure_is_a_short_text_whose_first_line_stands_alone(two: Portfolio) -> None:
    out = two.run("-q").out
    assert "Traceback" not in out
    assert "FAILED deliverables.toml::large::pixel-size - 200 x 150 px" in out
    text = out[out.index("large: pixel-size") :]
    assert "200 x 150 px, expected 160 to 161 x up to 121 px, or up to 161 x 120 to 121 px" in text
    assert "Go back to the original" in text
    assert "A web copy is not for printing" in text
    assert "(deliverables.toml:8, rule pixel-size)" in text


def test_last_failed(two: Portfolio) -> None:
    assert two.run().code == 1
    run = two.run("--lf")
    assert set(run.outcomes()) == {"large::pixel-size", "large::density"}


def test_selection_by_name(two: Portfolio) -> None:
    assert set(two.run("-k", "good and pixel").outcomes()) == {"good::pixel-size"}


def test_selection_by_node_id(two: Portfolio) -> None:
    run = two.run("deliverables.toml::large::density")
    assert set(run.outcomes()) == {"large::density"}
    run = two.run("deliverables.toml::good")
    assert {name.partition("::")[0] for name in run.outcomes()} == {"good"}


def test_selection_by_mark(two: Portfolio) -> None:
    run = two.run("-m", "deliverable_size", "--strict-markers")
    assert set(run.outcomes()) == {
        f"{piece}::{rule}" for piece in ("good", "large") for rule in ("pixel-size", "density")
    }
    assert len(two.run("-m", "webdeliverable").outcomes()) == len(two.run().outcomes())


def test_stop_at_the_first_failure(two: Portfolio) -> None:
    run = two.run("-x")
    assert run.code == 1
    assert run.failed() == ["large::pixel-size"]


def test_junit_report(two: Portfolio) -> None:
    two.run("--junitxml=junit.xml")
    suite = ET.parse(two.folder / "junit.xml").getroot()
    failures = {
        case.get("name"): failure.get("message")
        for case in suite.iter("testcase")
        for failure in case.iter("failure")
    }
    assert set(failures) == {"pixel-size", "density"}
    assert str(failures["density"]).startswith("300 ppi in JFIF; the spec asks for 72 ppi")


def test_several_processes_give_the_same_report(two: Portfolio) -> None:
    alone = two.run()
    first = (two.folder / "proof/report.json").read_bytes()
    spread = two.run("-n", "2", "--dist", "loadscope")
    assert (alone.code, spread.code) == (1, 1)
    assert (two.folder / "proof/report.json").read_bytes() == first
    two.run("-n", "2", "--dist", "load")
    assert (two.folder / "proof/report.json").read_bytes() == first


def test_the_report_is_the_same_for_the_same_inputs(two: Portfolio) -> None:
    two.run()
    first = (two.folder / "proof/report.json").read_bytes()
    two.run()
    assert (two.folder / "proof/report.json").read_bytes() == first


def test_without_the_cache_plugin(two: Portfolio) -> None:
    assert two.run("-p", "no:cacheprovider").failed() == ["large::pixel-size", "large::density"]
    assert not (two.folder / ".pytest_cache").exists()


def test_collecting_opens_no_image(two: Portfolio) -> None:
    (two.folder / "good.jpg").unlink()
    (two.folder / "large.jpg").write_bytes(b"nothing")
    run = two.run("--collect-only", "-q", report=False)
    assert run.code == 0
    assert "deliverables.toml::large::edge-gap" in run.out


def test_a_manifest_of_any_name_when_it_is_named(two: Portfolio) -> None:
    (two.folder / "deliverables.toml").rename(two.folder / "spring.toml")
    assert two.run().code == 5
    assert two.run("spring.toml").code == 1


def test_other_manifest_names_by_ini(two: Portfolio) -> None:
    (two.folder / "deliverables.toml").rename(two.folder / "spring.toml")
    (two.folder / "pytest.ini").write_text("[pytest]\ndeliverable_manifest = s*.toml\n")
    assert two.run().code == 1


def test_manifests_in_folders_below(portfolio: Portfolio) -> None:
    for name in ("b", "a"):
        (portfolio.folder / name).mkdir()
        portfolio.manifest(TWO, f"{name}/deliverables.toml")
        portfolio.picture(f"{name}/good.jpg")
    run = portfolio.run()
    assert run.report is not None
    assert [one["manifest"] for one in run.report["manifests"]] == [
        "a/deliverables.toml",
        "b/deliverables.toml",
    ]
    assert run.report["totals"]["failed"] == 2
    assert set(run.failed()) == {"large::file-present"}


def test_a_manifest_outside_the_root_directory(portfolio: Portfolio) -> None:
    portfolio.piece()
    (portfolio.folder / "elsewhere").mkdir()
    assert portfolio.run("--rootdir=elsewhere", str(portfolio.folder)).code == 0


def test_a_broken_manifest_is_one_clear_error(two: Portfolio) -> None:
    two.manifest(TWO + "trm = 3\n")
    run = two.run()
    assert run.code == 2
    assert (
        'deliverables.toml:12: piece "large": key "trm": unknown key; did you mean "trim"?'
        in run.out
    )
    assert "Traceback" not in run.out
    assert two.run("-n", "2").code == 1


def test_the_rules_are_listed(portfolio: Portfolio) -> None:
    run = portfolio.run("--deliverable-rules", report=False)
    assert run.code == 0
    lines = run.out.splitlines()
    (line,) = [line for line in lines if line.startswith("edge-gap ")]
    assert line.split() == ["edge-gap", "edges", "require", *line.split()[3:]]
    assert "no sliver of page shows" in line


def test_a_run_without_a_manifest_imports_nothing_heavy(portfolio: Portfolio) -> None:
    (portfolio.folder / "test_x.py").write_text(
        "import sys\n"
        "def test_x():\n"
        "    ours = sorted(m for m in sys.modules if m.startswith('pytest_webdeliverable'))\n"
        "    assert ours == ['pytest_webdeliverable', 'pytest_webdeliverable._version',\n"
        "                    'pytest_webdeliverable.hookspecs', 'pytest_webdeliverable.options',\n"
        "                    'pytest_webdeliverable.plugin'], ours\n"
        "    assert 'PIL' not in sys.modules and 'tomli' not in sys.modules\n"
    )
    assert portfolio.run("-p", "no:xdist", "-p", "no:hypothesispytest", report=False).code == 0


def test_interrupted_runs_end_cleanly(two: Portfolio) -> None:
    (two.folder / "conftest.py").write_text(
        "def pytest_runtest_logreport(report):\n"
        "    if report.when == 'call' and 'large' in report.nodeid:\n"
        "        raise KeyboardInterrupt\n"
    )
    run = two.run()
    assert run.code == 2
    assert run.report is not None


def test_waived_failures_are_shown_on_request(two: Portfolio) -> None:
    text = (
        TWO
        + 'waive = [{ rule = "pixel-size", reason = "wall size" }, '
        + ('{ rule = "density", reason = "wall size" }]\n')
    )
    two.manifest(text)
    run = two.run("-rx")
    assert run.code == 0
    assert run.outcomes()["large::density"] == "waived"
    assert "XFAIL deliverables.toml::large::density - wall size" in run.out
    assert two.run("--runxfail").code == 1


@pytest.mark.parametrize("version", ["9.0.0", "newest"])
def test_oldest_and_newest_pytest(two: Portfolio, version: str, tmp_path: Path) -> None:
    """The newest is the one of the lock file, which these tests run under."""
    if version == "newest":
        assert two.run().failed() == ["large::pixel-size", "large::density"]
        return
    home = tmp_path / "venv"
    venv.create(home, with_pip=True, symlinks=sys.platform != "win32")
    python = (
        next(home.glob("bin/python")) if (home / "bin").is_dir() else home / "Scripts/python.exe"
    )
    install = subprocess.run(
        [python, "-m", "pip", "install", "-q", f"pytest=={version}", str(ROOT)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if install.returncode and "No matching distribution" in install.stderr:
        pytest.skip("no package index to install the oldest pytest from")
    assert install.returncode == 0, install.stderr
    done = subprocess.run(
        [python, "-m", "pytest", "--deliverable-report=old"], cwd=two.folder, check=False,
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 1, done.stdout
    two.run()
    old, new = (
        json.loads((two.folder / name / "report.json").read_text()) for name in ("old", "proof")
    )
    assert old == new
    shutil.rmtree(home)

"""What is published: built twice from two places, looked into, and installed on each version of Python."""

from __future__ import annotations

import email.parser
import os
import re
import shutil
import sys
import tarfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from fresh import VERSIONS, copy_of_the_project, fresh_environment, interpreter, run, tracked

if TYPE_CHECKING:
    from portfolios import Portfolio

DATE = "1764000000"
"""Any date; the reproducible-builds.org convention SOURCE_DATE_EPOCH gives it in seconds."""
DIRECT = {"pytest", "pillow", "pluggy", "tomli"}
OF_PYTEST = {"iniconfig", "packaging", "pygments", "colorama"}
"""What pytest itself brings along; the last on Windows only."""


def build_from_a_copy(folder: Path) -> dict[str, Path]:
    """Build from a copy of the tracked files; return the sdist and, made from it, the wheel."""
    source = copy_of_the_project(folder / "source")
    done = run(
        sys.executable, "-m", "build", "--no-isolation", "--outdir", folder / "dist", source,
        env={**os.environ, "SOURCE_DATE_EPOCH": DATE},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    return {path.suffix: path for path in (folder / "dist").iterdir()}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    pytest.importorskip("build", reason="the tool that builds is not installed")
    return build_from_a_copy(tmp_path_factory.mktemp("first"))


def test_the_same_sources_give_the_same_bytes(
    built: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> None:
    again = build_from_a_copy(tmp_path_factory.mktemp("elsewhere"))
    assert set(again) == {".gz", ".whl"}
    for kind, path in again.items():
        assert path.name == built[kind].name
        assert path.read_bytes() == built[kind].read_bytes(), f"{path.name} differs"


def test_the_publishing_client_accepts_both(built: dict[str, Path], tmp_path: Path) -> None:
    """The client brings many packages, so it lives in an environment of its own."""
    python = fresh_environment(Path(sys.executable), tmp_path / "venv", "twine==7.0.0")
    done = run(python, "-m", "twine", "check", "--strict", *built.values())
    assert done.returncode == 0, done.stdout
    assert done.stdout.count("PASSED") == 2
    shutil.rmtree(tmp_path / "venv")


def test_the_wheel_holds_all_that_is_read_at_run_time(built: dict[str, Path]) -> None:
    with zipfile.ZipFile(built[".whl"]) as wheel:
        names = set(wheel.namelist())
    wanted = {name for name in tracked() if name.startswith("pytest_webdeliverable/")}
    assert wanted <= names
    for kind in ("py.typed", "manifest.schema.json", "report.schema.json", ".css", ".js", ".html"):
        assert any(name.endswith(kind) for name in wanted), kind
    strange = {name for name in names - wanted if ".dist-info/" not in name}
    assert not strange


def test_the_sdist_holds_the_project_and_nothing_of_its_tools(built: dict[str, Path]) -> None:
    with tarfile.open(built[".gz"]) as sdist:
        names = {name.partition("/")[2] for name in sdist.getnames()}
    for name in ("README.md", "LICENSE", "pyproject.toml", "tests/conftest.py", "docs/generate.py"):
        assert name in names
    assert not [
        name for name in names if re.search(r"(^|/)(\.venv|__pycache__|node_modules)/", name)
    ]


def test_four_direct_dependencies(built: dict[str, Path]) -> None:
    with zipfile.ZipFile(built[".whl"]) as wheel:
        (name,) = [name for name in wheel.namelist() if name.endswith(".dist-info/METADATA")]
        facts = email.parser.Parser().parsestr(wheel.read(name).decode())
        points = wheel.read(name.replace("METADATA", "entry_points.txt")).decode()
    needed = facts.get_all("Requires-Dist") or []
    assert {re.split(r"[^A-Za-z-]", one)[0] for one in needed} == DIRECT
    assert len(needed) == len(DIRECT)
    assert points.split() == ["[pytest11]", "webdeliverable", "=", "pytest_webdeliverable.plugin"]
    for version in VERSIONS:
        assert f"Programming Language :: Python :: {version}" in facts.get_all("Classifier")


@pytest.mark.parametrize("version", VERSIONS)
def test_a_fresh_install_checks_a_portfolio(
    built: dict[str, Path], portfolio: Portfolio, version: str
) -> None:
    python = interpreter(version)
    if python is None:
        pytest.skip(f"no Python {version} here")
    home = portfolio.folder / "venv"
    fresh = fresh_environment(python, home, built[".whl"])
    assert run(fresh, "-m", "pip", "check").returncode == 0
    listed = run(fresh, "-m", "pip", "list", "--format=freeze").stdout.split()
    names = {line.partition("==")[0].lower() for line in listed if "==" in line}
    assert names - {"pip", "setuptools", "wheel"} <= DIRECT | OF_PYTEST | {"pytest-webdeliverable"}

    portfolio.piece()
    sound = run(
        fresh, "-m", "pytest", "--deliverable-report=new", "-W", "error", cwd=portfolio.folder
    )
    assert sound.returncode == 0, sound.stdout
    assert (portfolio.folder / "new/index.html").is_file()
    assert (portfolio.folder / "new/report.json").is_file()
    portfolio.picture(dpi=None)
    faulty = run(fresh, "-m", "pytest", "-q", cwd=portfolio.folder)
    assert faulty.returncode == 1, faulty.stdout
    assert "no density is written" in faulty.stdout
    shutil.rmtree(home)

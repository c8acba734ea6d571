"""A rule is added to a copy of the project by the six steps of DEVELOPERS.md, and shows up by itself."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from shown_files import ROOT

if TYPE_CHECKING:
    from pathlib import Path

MOST_LINES = 40
KEY = '    titled: bool | None = key(Flag(), "true: the piece has a title", rules=("titled",))\n'
RULE = '''

class Titled(PieceRule):
    """The piece has a title.

    A trial of how a rule is added; no source.
    """

    family: ClassVar[Family] = "text"

    def applies(self, piece: Piece) -> bool:
        return bool(piece.spec.titled)

    def check(self, case: Case) -> Verdict:
        if case.piece.title:
            return holds("the piece has a title")
        return fails("the piece has no title", "Write it in the manifest, as title = ...")
'''
TEST = """\
from pytest_webdeliverable.rules.text import Titled
from pytest_webdeliverable.testing import judge, make_spec, save


def test_titled(tmp_path):
    picture, spec = save(tmp_path / "a.jpg"), make_spec({"titled": True})
    assert judge(Titled(), picture, spec, title="Tide table").result == "passed"
    assert judge(Titled(), picture, spec).result == "failed"
"""
REJECTED = """\
[portfolio]
specs-from = ["rejected-specs.toml"]
[spec.plate]
titled = true
[[piece]]
file = "rejected/quill-mara-alt-text-bare.jpg"
spec = "plate"
alt = "Numbered plate: bold flat shapes run off the sheet on all sides."
"""


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The project with the trial rule, its generated parts made anew."""
    home = tmp_path_factory.mktemp("project")
    for name in (
        "pytest_webdeliverable",
        "docs",
        "example_portfolio",
        "README.md",
        "DEVELOPERS.md",
    ):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, home / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copyfile(source, home / name)
    model = home / "pytest_webdeliverable/manifest/model.py"
    text = model.read_text(encoding="utf-8")
    anchor = "    levels: dict[str, Level] = key("
    assert text.count(anchor) == 1
    model.write_text(text.replace(anchor, KEY + anchor), encoding="utf-8")
    with (home / "pytest_webdeliverable/rules/text.py").open("a", encoding="utf-8") as rules:
        rules.write(RULE)
    (home / "test_titled.py").write_text(TEST)
    (home / "example_portfolio/rejected-titled.toml").write_text(REJECTED)
    assert run(home, "docs/generate.py").returncode == 0
    assert run(home, "-m", "pytest_webdeliverable.schemas").returncode == 0
    return home


def run(home: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *arguments], cwd=home, env={**os.environ, "PYTHONPATH": str(home)},
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def test_it_takes_few_lines() -> None:
    written = "".join((KEY, RULE, TEST, REJECTED))
    assert len(written.splitlines()) < MOST_LINES


def test_it_is_in_the_lists_the_schema_and_the_docs(copy: Path) -> None:
    listed = run(copy, "-m", "pytest", "--deliverable-rules").stdout
    assert "titled" in [line.split()[0] for line in listed.splitlines()]
    shipped = json.loads((copy / "pytest_webdeliverable/schemas/manifest.schema.json").read_text())
    spec = shipped["properties"]["spec"]["additionalProperties"]["properties"]
    assert spec["titled"] == {"description": "true: the piece has a title", "type": "boolean"}
    assert "titled" in spec["levels"]["propertyNames"]["enum"]
    row = "| `titled` | text | require | The piece has a title. |"
    assert row in (copy / "README.md").read_text(encoding="utf-8")
    assert "### `titled`" in (copy / "docs/rules.md").read_text(encoding="utf-8")
    assert "| `titled` | true or false |" in (copy / "docs/manifest.md").read_text(encoding="utf-8")


def test_it_judges(copy: Path) -> None:
    done = run(copy, "-m", "pytest", "-q", "example_portfolio/rejected-titled.toml", "-rf")
    assert done.returncode == 1, done.stdout
    assert "the piece has no title" in done.stdout
    assert "quill-mara-alt-text-bare::titled" in done.stdout
    assert "1 failed" in done.stdout


def test_its_own_test_passes(copy: Path) -> None:
    done = run(copy, "-m", "pytest", "-q", "test_titled.py")
    assert done.returncode == 0, done.stdout

"""The first hour of somebody new, by the README word for word, on each version of Python."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
from typing import TYPE_CHECKING

import pytest
from fresh import VERSIONS, copy_of_the_project, interpreter, run
from readme_commands import command
from shown_files import ROOT

from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from pathlib import Path

README = (ROOT / "README.md").read_text(encoding="utf-8")
(ACTIVATE,) = re.findall(r"(?m)^source .*$", README)
UNWRITTEN = "TO WRITE: what somebody who cannot see the picture should know"


class Terminal:
    """A shell that begins in the folder of the project, where ``python3`` is the version asked for."""

    def __init__(self, project: Path, python: Path) -> None:
        (project.parent / "bin").mkdir()
        (project.parent / "bin/python3").symlink_to(python)
        self.project = project
        self.folder = project
        self.before = ":"
        self._environment = {
            name: value
            for name, value in os.environ.items()
            if name in {"HOME", "LANG", "TMPDIR"} or name.startswith("PIP_")
        } | {"PATH": f"{project.parent / 'bin'}:/usr/local/bin:/usr/bin:/bin"}

    def __call__(self, line: str, code: int = 0) -> str:
        """Type a line; return what is shown."""
        script = f"cd {shlex.quote(str(self.project))}; {self.before}; cd {shlex.quote(str(self.folder))}\n"
        done = run("bash", "-c", script + line, env=self._environment)
        if re.search("No matching distribution|NewConnectionError", done.stdout):
            pytest.skip("no package index to install from")
        assert done.returncode == code, done.stdout
        return done.stdout


@pytest.mark.skipif(os.name == "nt", reason="the README's commands for Windows are others")
@pytest.mark.parametrize("version", VERSIONS)
def test_the_readme_word_for_word(tmp_path: Path, version: str) -> None:
    python = interpreter(version)
    if python is None:
        pytest.skip(f"no Python {version} here")
    terminal = Terminal(copy_of_the_project(tmp_path / "project"), python)
    assert f"Python {version}." in terminal("python3 --version")
    shown = terminal(command("example"))
    assert re.search(r"\d+ passed, 1 xfailed", shown)
    assert f"Python {version}." in shown
    terminal.before = ACTIVATE
    faults = terminal("pytest example_portfolio/rejected.toml", code=1)
    assert "(example_portfolio/rejected.toml:15, rule edge-gap)" in faults

    own = terminal.folder = tmp_path / "own pictures"
    own.mkdir()
    for name in ("quill-mara-tide-table.jpg", "quill-mara-loom.jpg"):
        shutil.copyfile(ROOT / "example_portfolio/images" / name, own / name)
    assert "lists 2 pictures" in terminal("pytest --deliverable-start")
    first = terminal("pytest", code=1)
    assert first.count("still the blank") >= 2
    manifest = own / "deliverables.toml"
    text = manifest.read_text(encoding="utf-8")
    assert text.count(UNWRITTEN) == 2
    manifest.write_text(
        text.replace(UNWRITTEN, "Poster: tide curves climb a cream sheet."), encoding="utf-8"
    )
    assert "1600 wide or 1200 high" in terminal("pytest --deliverable-plan")
    assert "failed" not in terminal("pytest --deliverable-report=proof").splitlines()[-1]
    assert "2 pieces" in (own / "proof/summary.md").read_text(encoding="utf-8")
    assert "quill-mara-loom" in (own / "proof/index.html").read_text(encoding="utf-8")
    assert json.loads((own / "proof/report.json").read_text())["totals"]["failed"] == 0
    listed = terminal("pytest --deliverable-rules").splitlines()
    assert {line.split()[0] for line in listed if line} >= set(registry())
    shutil.rmtree(terminal.project / ".venv")

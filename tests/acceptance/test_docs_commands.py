"""The pages for teachers and agencies: their files are written as shown, their commands run as shown."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import pictures
import pytest
from shown_files import ROOT, write_files

if TYPE_CHECKING:
    from pathlib import Path

    from portfolios import Portfolio

DOCS = ROOT / "docs"
_COMMAND = re.compile(r"<!-- command -->\n```bash\n(.*?)```", re.DOTALL)


def run_commands(page: str, folder: Path) -> list[tuple[int, str]]:
    """Run every command that a page shows; gives exit codes and what was printed."""
    done = []
    for text in _COMMAND.findall((DOCS / page).read_text(encoding="utf-8")):
        program, *arguments = shlex.split(text)
        command = {"pytest": [sys.executable, "-m", "pytest"], "python": [sys.executable]}
        if program == "grep":
            arguments = [*arguments[:-1], *map(str, sorted(folder.glob(arguments[-1])))]
        run = subprocess.run(
            [*command.get(program, [program]), *arguments],
            cwd=folder,
            env={**os.environ, "COLUMNS": "200"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            text=True,
            timeout=300,
            check=False,
        )
        done.append((run.returncode, run.stdout))
    return done


@pytest.mark.skipif(shutil.which("grep") is None, reason="the page's second command needs grep")
def test_the_page_for_teachers(portfolio: Portfolio) -> None:
    """30 students: one with a gap, one without a description, one whose manifest cannot be read."""
    folder = portfolio.folder
    write_files("docs/teachers.md", folder)
    ada = folder / "portfolios/ada"
    manifest = (ada / "deliverables.toml").read_text(encoding="utf-8")
    portfolio.picture("portfolios/ada/lind-ada-poster.jpg", pictures.art(1600, 1200))
    for number in range(29):
        shutil.copytree(ada, folder / f"portfolios/student-{number:02}")
    gap = pictures.art(1600, 1200)
    gap.paste("white", (0, 0, 3, 1200))
    portfolio.picture("portfolios/student-00/lind-ada-poster.jpg", gap)
    portfolio.manifest(re.sub("alt = .*", "", manifest), "portfolios/student-01/deliverables.toml")
    portfolio.manifest("[[piece", "portfolios/student-02/deliverables.toml")
    portfolio.manifest(
        f"{manifest}\n[spec.course]\nweight = '9 MB'\n", "portfolios/student-03/deliverables.toml"
    )
    ran = folder / "ran"
    code = f"open({str(ran)!r}, 'w')\n"
    for name in ("conftest.py", "test_x.py"):
        (folder / "portfolios/student-04" / name).write_text(code)
    (folder / "portfolios/student-04/pytest.ini").write_text("[pytest]\naddopts = --co\n")

    (code_run, out), (_, changed), (_, table) = run_commands("teachers.md", folder)
    assert code_run == 1
    assert out.count(": 10 of 10 points") == 27
    assert "portfolios/student-00/deliverables.toml: 7 of 10 points" in out
    assert "portfolios/student-01/deliverables.toml: 8 of 10 points" in out
    assert "ERROR portfolios/student-02/deliverables.toml" in out
    assert changed.split() == [str(folder / "portfolios/student-03/deliverables.toml")]
    rows = [line.split("\t") for line in table.splitlines()]
    assert len(rows) == 29
    assert rows[1][1:] == ["7.0", "10.0", "lind-ada-poster edge-gap -3"]
    assert not ran.exists()


def test_the_page_for_agencies(portfolio: Portfolio) -> None:
    folder = portfolio.folder
    write_files("docs/agencies.md", folder)
    harbour, orchard = folder / "albums/harbour", folder / "albums/orchard"
    pictures.save(harbour / "harbour-spring-poster.jpg", pictures.art(1920, 960))
    pictures.save(harbour / "harbour-spring-poster-card.jpg", pictures.art(1200, 630))
    pictures.save(orchard / "pear.webp", pictures.art(1200, 1200, 8), "WEBP", quality=95)
    (plan, planned), (code, out) = run_commands("agencies.md", folder)
    assert plan == 0
    assert "1920 x 960 px" in planned
    assert "1200 x 630 px" in planned
    assert "harbour-{season}-{piece}" in (folder / "brief/plan.md").read_text(encoding="utf-8")
    assert code == 1
    assert "metadata-credit" in out
    assert "pixel-size" not in out
    assert "albums/orchard/deliverables.toml::pear" in out


def test_workflows_are_what_the_service_understands(portfolio: Portfolio) -> None:
    """check-jsonschema holds the published JSON Schema of workflow files."""
    pytest.importorskip("check_jsonschema")
    write_files("docs/agencies.md", portfolio.folder)
    portfolio.picture("a.jpg")
    assert portfolio.run("--deliverable-start", report=False).code == 0
    workflows = sorted(map(str, (portfolio.folder / ".github/workflows").iterdir()))
    assert len(workflows) == 2
    checked = subprocess.run(
        [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.github-workflows", *workflows],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert checked.returncode == 0, checked.stdout + checked.stderr

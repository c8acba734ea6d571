"""Folders that a stranger would lay out: too deep to walk, locked under a name that speaks, beside the root."""

from __future__ import annotations

import os
import re
import shutil
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="names of POSIX systems")


def says_nothing(out: str) -> None:
    """No line is a command, whatever a service takes for the end of one; nothing acts on a terminal."""
    assert "Traceback" not in out
    assert "INTERNALERROR" not in out
    lines = re.split(r"[\n\r\x0b\x0c\x85\u2028\u2029]", out)
    assert not [line for line in lines if line.lstrip().startswith("::")]
    assert "##[" not in out
    assert not re.findall(r"[^\n\x20-\x7e\xa0-\uffff]", out)


def dig(folder: Path, depth: int) -> None:
    """Make folders within folders, deeper than one path can name."""
    here = os.open(folder, os.O_RDONLY)
    for _ in range(depth):
        os.mkdir("d", dir_fd=here)
        below = os.open("d", os.O_RDONLY, dir_fd=here)
        os.close(here)
        here = below
    os.close(here)


def fill_in(folder: Path) -> None:
    """Remove such folders; what removes trees recurses as well."""
    while (folder / "d" / "d").exists():
        (folder / "d" / "d").rename(folder / "e")
        (folder / "d").rmdir()
        (folder / "e").rename(folder / "d")
    (folder / "d").rmdir()


def test_folders_deeper_than_pytest_walks(portfolio) -> None:
    """Walking down recurses: 1,900 folders ended in an internal error after half a minute."""
    portfolio.piece()
    inner = portfolio.folder / "/".join(["in"] * 90)
    inner.mkdir(parents=True)
    for name in ("deliverables.toml", "a.jpg"):
        shutil.copy(portfolio.folder / name, inner)
    dig(portfolio.folder, 1900)
    try:
        run = portfolio.run("-q")
    finally:
        fill_in(portfolio.folder)
    says_nothing(run.out)
    assert run.code == 0
    assert run.report is not None
    assert len(run.report["manifests"]) == 2


def test_a_locked_folder_whose_name_speaks(portfolio) -> None:
    """pytest names a folder that it may not enter."""
    portfolio.piece()
    (portfolio.folder / "in").mkdir()
    (portfolio.folder / "in" / "a\n::error::owned\r##[error]x").mkdir()
    (portfolio.folder / "locks.py").write_text(
        "import os\n"
        "real = os.access\n"
        "os.access = lambda path, mode, **more: 'owned' not in str(path) and real(path, mode, **more)\n"
    )
    run = portfolio.run("-v", "-p", "locks", PYTHONPATH=f"{portfolio.folder}{os.pathsep}{ROOT}")
    says_nothing(run.out)
    assert run.code == 2
    assert run.out.count("no permission to read this folder") == 1
    assert "1 error" in run.out


def test_a_manifest_beside_the_root_has_a_name_of_its_own(portfolio) -> None:
    """pytest gives files outside of its root directory no name; two of them would be one in a report."""
    for name in ("one", "two"):
        portfolio.manifest(f'[[piece]]\nid = "{name}"\nfile = "a.jpg"\n', f"{name}/works.toml")
    (portfolio.folder / "root").mkdir()
    run = portfolio.run("-v", "--rootdir=root", "one/works.toml", "two/works.toml")
    says_nothing(run.out)
    assert run.report is not None
    assert [
        (manifest["manifest"], [piece["id"] for piece in manifest["pieces"]])
        for manifest in run.report["manifests"]
    ] == [("../one/works.toml", ["one", "portfolio"]), ("../two/works.toml", ["two", "portfolio"])]
    assert "(../one/works.toml:1, rule file-present)" in run.out


def test_a_manifest_in_an_odd_folder_beside_the_root(portfolio) -> None:
    portfolio.manifest(
        '[[piece]]\nid = "a"\nfile = "a.jpg"\n', "odd\r\x1b7\u202e/deliverables.toml"
    )
    (portfolio.folder / "root").mkdir()
    run = portfolio.run("-q", "--rootdir=root", "odd\r\x1b7\u202e/deliverables.toml")
    says_nothing(run.out)
    assert run.code == 2
    assert "rename the folder" in run.out


def test_names_given_for_reports_and_annotations_do_nothing(portfolio) -> None:
    """They may come from a branch's or an album's name."""
    portfolio.piece()
    target = portfolio.folder / "a\n::error::owned\r##[error]b"
    run = portfolio.run(
        "-q", f"--deliverable-report={target}", "--deliverable-annotations=github",
        "-o", f"deliverable_annotations_file={target}/gone/file", report=False,
    )  # fmt: skip
    says_nothing(run.out)
    assert run.code == 0
    assert (target / "index.html").is_file()
    assert run.out.count("the annotations cannot be written to") == 1

"""A newcomer's machine: the project as it is downloaded, each version of Python, a new environment."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from shown_files import ROOT

VERSIONS = ("3.11", "3.12", "3.13")


def run(*command: object, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(part) for part in command],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
        text=True, timeout=600, check=False, **options,
    )  # type: ignore[call-overload,no-any-return]  # fmt: skip


def tracked() -> list[str]:
    """Files that belong to the project, by their paths from its root."""
    listed = run("git", "ls-files", "-z", cwd=ROOT)
    if listed.returncode:
        pytest.skip("not a git checkout: what belongs to the project is not known")
    return [name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


def copy_of_the_project(folder: Path) -> Path:
    """Copy the tracked files, as a fresh clone holds them."""
    for name in tracked():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / name, folder / name)
    return folder


def interpreter(version: str) -> Path | None:
    """Find a Python of this version: the running one, one on the path, or one of pyenv's."""
    managed = Path.home().glob(f".pyenv/versions/{version}*/bin/python")
    found = [sys.executable, shutil.which(f"python{version}"), *sorted(managed)]
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    for one in filter(None, found):
        if run(one, "-c", ask).stdout.strip() == version:
            return Path(one)
    return None


def fresh_environment(python: Path, home: Path, package: object) -> Path:
    """Install a package into a new environment; return its Python. Skips without a package index."""
    assert run(python, "-m", "venv", home).returncode == 0
    fresh = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    done = run(fresh, "-m", "pip", "install", "-q", package)
    if done.returncode and re.search("No matching distribution|NewConnectionError", done.stdout):
        pytest.skip("no package index to install from")
    assert done.returncode == 0, done.stdout
    return fresh

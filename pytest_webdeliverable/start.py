"""Start a portfolio: list the pictures of a folder in a first manifest, and write what CI needs."""

from __future__ import annotations

import os
import re
import shlex
from fnmatch import fnmatch
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

import pytest

from pytest_webdeliverable.display import display_name, print_line
from pytest_webdeliverable.manifest.paths import path_problem
from pytest_webdeliverable.options import report_folder
from pytest_webdeliverable.rules.portfolio import IMAGE_SUFFIXES
from pytest_webdeliverable.rules.text import UNWRITTEN
from pytest_webdeliverable.starter import Found, manifest_text

if TYPE_CHECKING:
    from collections.abc import Iterable

MANIFEST: Final = "deliverables.toml"
WORKFLOW: Final = ".github/workflows/deliverables.yml"
MOST: Final = 2000
"""Pictures listed at most: four times the largest portfolio that a report is made for."""
_PLAIN: Final = re.compile(r"[A-Za-z0-9_.][A-Za-z0-9_./ -]*")
"""Paths that mean themselves in a workflow file."""
_REPORT: Final = "proof"
"""Folder that is kept out of git where the settings name no report folder."""

_WORKFLOW_TEXT: Final = """\
# Checks the pictures listed in {manifest} on every push and pull request.
name: deliverables
on:
  push:
  pull_request:
permissions:
  contents: read
jobs:
  deliverables:
    runs-on: ubuntu-latest
    timeout-minutes: 15
    steps:
      - uses: actions/checkout@3d3c42e5aac5ba805825da76410c181273ba90b1 # v7.0.1
        with:
          persist-credentials: false
      # Write the repository of the action in place of OWNER/REPO.
      - uses: OWNER/REPO/action@v1
        with:
          path: "{path}"
"""


def start(config: pytest.Config) -> int:
    """Write the files that are not there yet, and say which; return the exit code of pytest."""
    folder = _folder(config)
    found, left_out = find_pictures(folder, config.getini("norecursedirs"))
    for sentence in left_out:
        print_line(f"left out: {sentence}")
    if not found:
        print_line(f"no picture was found in {display_name(str(folder))}; nothing was written")
        return int(pytest.ExitCode.NO_TESTS_COLLECTED)
    home = _repository(folder)
    below = folder.relative_to(home).as_posix()
    place = "" if below == "." else f"{below}/"
    report = report_folder(config)
    ignored = _REPORT if report is None or not _PLAIN.fullmatch(report.name) else report.name
    workflow = _WORKFLOW_TEXT.format(
        manifest=MANIFEST, path=below if _PLAIN.fullmatch(below) else "."
    )
    ignore = f"# report of pytest-webdeliverable\n{ignored}/\n"
    pictures = f"{len(found)} {'picture' if len(found) == 1 else 'pictures'}"
    text = manifest_text(folder.name, found, left_out)
    files = (
        (f"{place}{MANIFEST}", text, f"lists {pictures}"),
        (WORKFLOW, workflow, "write the action's repository in place of OWNER/REPO"),
        (".gitignore", ignore, f"keeps the report folder {ignored}/ out of git"),
    )
    try:
        for name, content, what in files:
            shown = _shown(home / name, config.invocation_params.dir)
            print_line(_create(home, name, content, shown=shown, what=what))
    except OSError as error:
        raise pytest.UsageError(
            f"{display_name(str(error.filename))} cannot be written: {error.strerror}"
        ) from None
    arguments = shlex.join(config.option.file_or_dir)
    print_line(f"next: pytest {display_name(arguments)}".rstrip())
    print_line(f'each alt = "{UNWRITTEN} ..." in {MANIFEST} fails until you write it')
    return 0


def _folder(config: pytest.Config) -> Path:
    asked = config.option.file_or_dir
    if len(asked) > 1:
        raise pytest.UsageError("--deliverable-start takes one folder")
    folder = config.invocation_params.dir.joinpath(*asked)
    if not folder.is_dir():
        raise pytest.UsageError(f"{display_name(str(folder))} is not a folder")
    return folder.resolve()


def find_pictures(folder: Path, skipped: Iterable[str]) -> tuple[list[Found], list[str]]:
    """Return the pictures in a folder and below it, sorted, and sentences about those left out.

    ``skipped`` are patterns of folder names that pytest does not enter either. Raises UsageError.
    """
    from pytest_webdeliverable.measure.door import RefusedError, list_folder, refused_name

    try:
        names = list_folder(folder, ".")
    except RefusedError as refusal:
        raise pytest.UsageError(refusal.sentence) from None
    environments = {
        str(PurePosixPath(name).parent) for name in names if name.endswith("/pyvenv.cfg")
    }
    found: list[Found] = []
    left_out: list[str] = []
    for name in names:
        path = PurePosixPath(name)
        parents = [str(parent) for parent in path.parents]
        if path.suffix.lower() not in IMAGE_SUFFIXES or environments.intersection(parents):
            continue
        if any(fnmatch(part, pattern) for part in path.parts[:-1] for pattern in skipped):
            continue
        if problem := refused_name(name):
            left_out.append(problem)
        elif problem := path_problem(name, ""):
            left_out.append(f"{display_name(name)}: {problem}")
        elif len(found) == MOST:
            raise pytest.UsageError(
                f"there are more than {MOST:,} pictures; name a folder with fewer"
            )
        else:
            found.append(_look(folder, name))
    return found, left_out


def _look(folder: Path, name: str) -> Found:
    """Read the header of a picture, for a guess at what it is meant for."""
    from pytest_webdeliverable.measure.door import RefusedError, read_file
    from pytest_webdeliverable.measure.headers import read_header
    from pytest_webdeliverable.measure.headers.base import DamagedError

    try:
        header = read_header(read_file(folder, name).data)
    except RefusedError as refusal:
        return Found(file=name, problem=refusal.sentence)
    except DamagedError as damage:
        return Found(file=name, problem=str(damage))
    return Found(
        file=name,
        format=header.format,
        width=header.width,
        height=header.height,
        frames=header.frames,
    )


def _repository(folder: Path) -> Path:
    """Return the top of the git repository a folder is in, where CI looks; else the folder."""
    for parent in (folder, *folder.parents):
        if (parent / ".git").exists():
            return parent
    return folder


def _create(home: Path, name: str, text: str, *, shown: str, what: str) -> str:
    """Write a file that is not there yet, and say so; no link on the way out of ``home`` is followed."""
    target = home / name
    if not target.parent.resolve().is_relative_to(home):
        return f"left: {shown}, because a link leads out of {display_name(home.name)}"
    target.parent.mkdir(parents=True, exist_ok=True)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(target, flags, 0o644)
    except FileExistsError:
        return f"left as it is: {shown}; it would have held: {_gist(text)}"
    with os.fdopen(handle, "wb") as file:
        file.write(text.encode())
    return f"written: {shown}; {what}"


def _shown(path: Path, seen_from: Path) -> str:
    try:
        return display_name(Path(os.path.relpath(path, seen_from)).as_posix())
    except ValueError:  # another drive
        return display_name(str(path))


def _gist(text: str) -> str:
    """Return the one line that says something, or how many there are."""
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return lines[0] if len(lines) == 1 else f"{len(lines)} lines"

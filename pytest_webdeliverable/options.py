"""Options, their ini twins, and what they mean; light, because every pytest run loads it."""

from __future__ import annotations

import os
from fnmatch import fnmatch
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.bench import Bench
    from pytest_webdeliverable.measure.limits import Limits

BENCH: Final[pytest.StashKey[Bench]] = pytest.StashKey()
"""Where the measuring of a session lives; there only once a manifest was met."""

FAMILIES: Final = {
    "file": "the file itself",
    "size": "pixels and density",
    "color": "color model, depth, profile, transparency",
    "jpeg": "how a JPEG is made",
    "edges": "slivers, frames and bands along the edges",
    "history": "what happened to the picture before",
    "metadata": "what is written inside the file",
    "text": "descriptions",
    "motion": "animation and flashing",
    "portfolio": "the portfolio as a whole",
}
"""Families of rules, each a mark ``deliverable_<family>``."""


def add_options(parser: pytest.Parser) -> None:
    """Declare options and ini values."""
    group = parser.getgroup("webdeliverable", "web copies against their spec")
    group.addoption(
        "--deliverable-report",
        metavar="DIR",
        default=None,
        help="write the report to this folder: index.html (the proof sheet), report.json, summary.md",
    )
    group.addoption(
        "--deliverable-annotations",
        choices=("github", "none", "auto"),
        default=None,
        help="show findings of a workflow run at the manifest's lines (default: auto, on GitHub only)",
    )
    group.addoption(
        "--deliverable-rules",
        action="store_true",
        default=False,
        help="list every rule with its family, level and what holds, and exit",
    )
    group.addoption(
        "--deliverable-plan",
        action="store_true",
        default=False,
        help="show the size and the file to expect of each piece, and exit; opens no picture",
    )
    group.addoption(
        "--deliverable-start",
        action="store_true",
        default=False,
        help="write a first manifest for this folder's pictures, overwriting nothing, and exit",
    )
    group.addoption(
        "--deliverable-schema",
        action="store_true",
        default=False,
        help="print the manifest's JSON Schema, for editors, and exit",
    )
    group.addoption(
        "--deliverable-files",
        metavar="FILE",
        nargs="*",
        default=None,
        help="check only the pieces that these files belong to; for use before a commit",
    )
    group.addoption(
        "--deliverable-workers",
        metavar="N",
        type=int,
        default=None,
        help="threads that measure ahead, where pictures are many in a process each; 1: none of these "
        "(default: the processors this process may use)",
    )
    parser.addini(
        "deliverable_manifest",
        "names of manifests, as glob patterns",
        type="args",
        default=["deliverables.toml"],
    )
    parser.addini(
        "deliverable_annotations",
        "findings at the manifest's lines: github, none, auto",
        default="auto",
    )
    parser.addini(
        "deliverable_annotations_file", "file for these, in place of the terminal", default=""
    )
    parser.addini("deliverable_report", "folder for the report", default="")
    parser.addini(
        "deliverable_limits",
        'limits on what one image may cost, lines such as "pixels = 64_000_000"',
        type="linelist",
        default=[],
    )
    parser.addini("deliverable_workers", "threads or processes that measure ahead", default="")


def register_marks(config: pytest.Config) -> None:
    """Register one mark for all items and one for each family."""
    config.addinivalue_line("markers", "webdeliverable: a rule on a piece of a portfolio")
    for family, what in FAMILIES.items():
        config.addinivalue_line("markers", f"deliverable_{family}: rules on {what}")


def report_folder(config: pytest.Config) -> Path | None:
    """Folder for the report, from the option or the ini file; None where none is asked for."""
    folder = config.getoption("deliverable_report") or config.getini("deliverable_report")
    return config.invocation_params.dir / folder if folder else None


def wants_annotations(config: pytest.Config) -> bool:
    """Whether workflow annotations are asked for, or ``auto`` finds a run on GitHub."""
    asked = config.getoption("deliverable_annotations") or config.getini("deliverable_annotations")
    if asked not in {"github", "none", "auto"}:
        raise pytest.UsageError(
            f'deliverable_annotations must be "github", "none" or "auto", not {asked!r}'
        )
    return asked == "github" or (asked == "auto" and os.environ.get("GITHUB_ACTIONS") == "true")


def annotations_file(config: pytest.Config) -> Path | None:
    """File for the annotations, from the ini file; None where they belong on the terminal."""
    file = config.getini("deliverable_annotations_file")
    return config.invocation_params.dir / file if file else None


def limits(config: pytest.Config) -> Limits:
    """Limits on what an image may cost, as the ini file changes them; a manifest cannot."""
    from pytest_webdeliverable.measure.limits import changed_limits

    try:
        return changed_limits(config.getini("deliverable_limits"))
    except ValueError as error:
        raise pytest.UsageError(f"deliverable_limits: {error}") from None


def is_manifest(path: Path, parent: pytest.Collector) -> bool:
    """Whether a file is a manifest: by its name, or because the command line names it.

    One behind a linked folder is left to its real place, unless the command line names that folder.
    """
    if path.suffix == ".toml" and parent.session.isinitpath(path):
        return True
    patterns = parent.config.getini("deliverable_manifest")
    if not any(fnmatch(path.name, pattern) for pattern in patterns):
        return False
    from pytest_webdeliverable.links import is_behind_link

    return not is_behind_link(path, parent.session)


DEEPEST: Final = 100
"""Folders within folders below the root in which manifests are looked for: pytest itself takes a step of
Python's recursion for each, of which there are 1,000."""


def is_too_deep(path: Path, root: Path) -> bool:
    """Whether a path lies in more folders below the root than pytest can walk into."""
    return str(path).count(os.sep) > DEEPEST and len(path.parts) - len(root.parts) > DEEPEST


_SELECTING: Final = ("collectonly", "deliverable_plan", "markexpr", "keyword", "lf", "deselect")
"""Options after which few checks, or none, may be left to run."""


def runs_all(config: pytest.Config) -> bool:
    """Whether all that is collected is likely to be run."""
    if any(config.getoption(name, None) for name in _SELECTING):
        return False
    named = any("::" in argument for argument in config.args)
    return not named and config.getoption("deliverable_files") is None


MOST_WORKERS: Final = 64
"""Threads or processes that may be asked for: all of them are started, and a process takes some 40 MB."""


def workers(config: pytest.Config) -> int:
    """Threads that measure ahead."""
    asked = config.getoption("deliverable_workers") or config.getini("deliverable_workers")
    if asked:
        try:
            return min(max(1, int(asked)), MOST_WORKERS)
        except ValueError:
            raise pytest.UsageError(
                f"deliverable_workers must be a number, not {asked!r}"
            ) from None
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1

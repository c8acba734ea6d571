"""Mutation testing: change one thing of measuring or of a rule, and see whether a test notices.

    python tests/mutants.py cover FOLDER            which test runs which line (minutes, once)
    python tests/mutants.py try FOLDER --seed 1 --count 600
    python tests/mutants.py try FOLDER --again      only the survivors of the last sample
    python tests/mutants.py show FOLDER             the figures and the survivors

FOLDER takes a copy of the repository; nothing else is touched. A mutant is one change of the syntax tree,
see ``mutations.changes``; texts are left alone. Of all mutants of a file a seeded sample is tried, in
proportion to how many it has. Each runs in a fork of a process that has the libraries loaded, against
the tests that run its line (``mutant_tests.Choice``), until one fails (killed), it takes far too long
(killed), or ``MOST_SECONDS`` worth of them have passed (survived). POSIX only.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import random
import shutil
import signal
import sys
import time
import warnings
from contextlib import suppress
from pathlib import Path
from typing import Any

from mutant_figures import show
from mutant_runs import attempt
from mutant_tests import PACKAGE, Choice, cover, enter
from mutations import mutants

SCOPE = ("measure", "rules", "likeness", "fit.py", "judge.py")
MOST_SECONDS = 15.0
"""Tests of this duration are tried on one mutant."""
LOADED = (
    "pytest",
    "hypothesis",
    "numpy",
    "scipy.ndimage",
    "colour",
    "jsonschema",
    "PIL.Image",
    "PIL.ImageCms",
    "PIL.ImageFilter",
)
"""Loaded once, before any fork; none of them loads the package under test."""


def all_mutants(root: Path) -> dict[str, list[dict[str, Any]]]:
    """Every mutant by file."""
    found: dict[str, list[dict[str, Any]]] = {}
    for part in SCOPE:
        place = root / PACKAGE / part
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            name = str(path.relative_to(root))
            found[name] = [
                {"file": name, "number": number, "line": first, "last": last, "done": done}
                for number, (done, first, last, _) in enumerate(mutants(path.read_text()))
            ]
    return found


def sample(found: dict[str, list[dict[str, Any]]], count: int, seed: int) -> list[dict[str, Any]]:
    """A sample in proportion to the mutants of each file: systematic, from a random start."""
    chance = random.Random(seed)
    everything = [chance.sample(listed, len(listed)) for _, listed in sorted(found.items())]
    flat = [one for listed in everything for one in listed]
    count = min(count, len(flat))
    step = len(flat) / count
    start = chance.random() * step
    return [flat[int(start + step * index)] for index in range(count)]


def mutated(root: Path, one: dict[str, Any]) -> str:
    text = (root / one["file"]).read_text()
    return next(make() for at, (_, _, _, make) in enumerate(mutants(text)) if at == one["number"])


def differs(text: str, other: str) -> bool:
    """The mutant is another program, and one that can be compiled."""
    try:
        return ast.dump(ast.parse(other)) != ast.dump(ast.parse(text)) and bool(
            compile(other, "mutant", "exec")
        )
    except (SyntaxError, ValueError):
        return False


def changed_line(text: str, other: str) -> str:
    for before, after in zip(text.splitlines(), other.splitlines(), strict=False):
        if before != after:
            return f"{before.strip()}  ->  {after.strip()}"
    return ""


def prepared(folder: Path) -> Choice:
    """Work in the copy, libraries loaded."""
    root = folder / "copy"
    # Puts the file back that is changed.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("ended"))
    # Whatever ended the last run, it may have left a mutant behind.
    shutil.copytree(folder / "sound", root / PACKAGE, dirs_exist_ok=True)
    enter(root)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in LOADED:
            with suppress(ImportError):
                importlib.import_module(name)
    return Choice(folder)


def chosen(given: argparse.Namespace) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Mutants to try, and results of the last run that are kept."""
    if given.again:
        lines = (given.folder / given.results).read_text().splitlines()
        before = [json.loads(line) for line in lines]
        return [one for one in before if not one["killed"]], [
            one for one in before if one["killed"]
        ]
    found = {
        name: listed
        for name, listed in all_mutants(given.folder / "copy").items()
        if given.only in name and not (given.skip and given.skip in name)
    }
    print(sum(map(len, found.values())), "mutants in", len(found), "files")
    return [{**one, "seed": given.seed} for one in sample(found, given.count, given.seed)], []


def try_sample(given: argparse.Namespace) -> None:
    """Try a sample, or the survivors of the last one."""
    root, out = given.folder / "copy", given.folder / given.results
    choice = prepared(given.folder)
    listed, kept = chosen(given)
    out.write_text("".join(json.dumps(one) + "\n" for one in kept))
    random.Random(0).shuffle(listed)
    for one in listed[:2]:
        if noticed := control(root, one, choice, given.seconds):
            sys.exit(f"a test fails without a mutant, so nothing can be told: {noticed}")
        if not control(root, one, choice, given.seconds, "raise RuntimeError\n"):
            sys.exit(f"no test loads {one['file']} from the copy, so nothing can be told")
    for at, one in enumerate(listed):
        if not differs((root / one["file"]).read_text(), mutated(root, one)):
            continue
        one.update(judged(root, one, choice, given.seconds, whole_run=given.again))
        with out.open("a") as file:
            file.write(json.dumps(one) + "\n")
        if at % 20 == 19:
            print(time.strftime("%T"), at + 1, "of", len(listed), flush=True)
    show(out)


def control(
    root: Path, one: dict[str, Any], choice: Choice, budget: float, before: str = ""
) -> str:
    """Run what would be run for a mutant, on the text as it is, or with something ``before`` it."""
    path = root / one["file"]
    names = choice.tests(one["file"], one["line"], one["last"], budget)
    return attempt(path, before + path.read_text() + "\n", names, choice.seconds)


def judged(
    root: Path, one: dict[str, Any], choice: Choice, budget: float, *, whole_run: bool
) -> dict[str, Any]:
    path, start = root / one["file"], time.monotonic()
    text, other = path.read_text(), mutated(root, one)
    names = choice.tests(one["file"], one["line"], one["last"], budget)
    by = attempt(path, other, names, choice.seconds) if names else ""
    if not by and whole_run:
        by = attempt(path, other, choice.whole, dict.fromkeys(choice.whole, 30.0))
    return {
        "killed": by,
        "tests": len(names),
        "text": changed_line(text, other),
        "seconds": round(time.monotonic() - start, 1),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("what", choices=["cover", "try", "show"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tests", nargs="*", default=[], help="cover these only: files, folders")
    parser.add_argument("--count", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--skip", default="", help="files without this in their path")
    parser.add_argument("--results", default="mutants.jsonl", help="name of the file of results")
    parser.add_argument("--only", default="", help="files with this in their path")
    parser.add_argument(
        "--seconds", type=float, default=MOST_SECONDS, help="of tests for one mutant"
    )
    parser.add_argument(
        "--again", action="store_true", help="only the survivors of the last sample"
    )
    given = parser.parse_args()
    given.folder = given.folder.resolve()
    match given.what:
        case "cover":
            cover(given.folder, given.tests)
        case "try":
            try_sample(given)
        case "show":
            show(given.folder / given.results)


if __name__ == "__main__":
    main()

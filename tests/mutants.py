"""Mutation testing: change one thing of measuring or of a rule, and see whether a test notices.

    python tests/mutants.py cover FOLDER            which test runs which line (minutes, once)
    python tests/mutants.py try FOLDER --seed 1 --count 600
    python tests/mutants.py try FOLDER --again      only the survivors of the last sample
    python tests/mutants.py show FOLDER             the figures and the survivors

FOLDER takes a copy of the repository; nothing else is touched. A mutant is one change of the syntax tree,
see ``changes``; texts are left alone. Of all mutants of a file a seeded sample is tried, in proportion
to how many it has. Each runs in a fork of a process that has the libraries loaded, against the tests
that run its line, the fastest first, until one fails (killed), it takes far too long (killed), or
``MOST_SECONDS`` worth of them have passed (survived). POSIX only.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import json
import math
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter, defaultdict
from contextlib import suppress
from pathlib import Path
from typing import Any

from mutations import mutants

REPOSITORY = Path(__file__).parents[1]
PACKAGE = "pytest_webdeliverable"
SCOPE = ("measure", "rules", "likeness", "fit.py", "judge.py")
TESTS = [
    "tests/unit",
    "tests/reference",
    "tests/hostile",
    "tests/acceptance/test_rules_on_files.py",
]
WITHOUT = [
    # whole runs in other processes, whose lines are not counted
    "tests/unit/test_annotations.py",
    "tests/hostile/test_promise_portfolio.py",
    "tests/hostile/test_promise_manifests.py",
    "tests/hostile/test_promise_limits.py",
    "tests/hostile/test_promise_corpora.py",
    "tests/hostile/test_promise_reports.py",
    # the documentation and the imports, not what the code does
    "tests/unit/test_docs.py",
    "tests/unit/test_layers.py",
]
WHOLE_RUN = "tests/acceptance/test_rules_on_files.py"
"""Rules on files, in a process of its own: tried on a rule's mutant that survived before (--again)."""
MOST_SECONDS = 15.0
"""Tests of this duration are tried on one mutant."""
HANGS_AFTER = 5.0
"""Seconds of processor time of one test beyond ten times what it takes."""
LOADED = (
    "pytest",
    "hypothesis",
    "numpy",
    "jsonschema",
    "PIL.Image",
    "PIL.ImageCms",
    "PIL.ImageFilter",
)
CACHED = "contexts.json"
ASKED_TO_END: list[bool] = []


# The copy, and which test runs which line


def copied(folder: Path) -> Path:
    """A fresh copy of what git knows, as it is on disk now."""
    root = folder / "copy"
    shutil.rmtree(root, ignore_errors=True)
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=REPOSITORY, capture_output=True, check=True, text=True,
    ).stdout  # fmt: skip
    for name in filter(None, listed.split("\0")):
        source = REPOSITORY / name
        if source.is_file():
            target = root / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, target)
    shutil.rmtree(folder / "sound", ignore_errors=True)
    shutil.copytree(root / PACKAGE, folder / "sound")
    return root


def enter(root: Path) -> None:
    """Work in the copy, also in the processes that tests start."""
    os.chdir(root)
    os.environ.update(PYTHONPATH=str(root), OPENBLAS_NUM_THREADS="1", PYTHONHASHSEED="0")
    os.environ.pop("PYTEST_ADDOPTS", None)
    sys.path[:] = [str(root), *[place for place in sys.path if Path(place) != REPOSITORY]]


OPTIONS = ["-q", "-p", "no:cacheprovider", "--tb=no", "--no-header"]
# Libraries are loaded before pytest could rewrite their asserts.
OPTIONS += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]


class Contexts:
    """As a plugin of pytest: tells coverage which test is running, and notes what each takes."""

    def __init__(self, measured: Any) -> None:
        self._measured = measured
        self.seconds: dict[str, float] = {}

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self._measured.switch_context(nodeid)

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            print("does not pass without a mutant:", report.nodeid)
            self.seconds[report.nodeid] = math.inf
        elif report.when != "teardown":
            self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration


def cover(folder: Path) -> None:
    root = copied(folder)
    enter(root)
    import coverage
    import pytest

    measured = coverage.Coverage(
        data_file=str(folder / "coverage.data"), source=[PACKAGE], branch=False, config_file=False
    )
    measured.start()
    noted = Contexts(measured)
    ignored = [f"--ignore={name}" for name in WITHOUT]
    pytest.main([*OPTIONS, *ignored, *TESTS], plugins=[noted])
    measured.stop()
    data = measured.get_data()
    lines = {
        str(Path(file).relative_to(root)): {
            line: [name for name in names if name]
            for line, names in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    (folder / CACHED).write_text(json.dumps({"seconds": noted.seconds, "lines": lines}))
    print(
        len(noted.seconds), "tests,", round(sum(filter(math.isfinite, noted.seconds.values()))), "s"
    )


# Trying mutants


class Choice:
    """Which tests to try on a mutant."""

    def __init__(self, folder: Path) -> None:
        known = json.loads((folder / CACHED).read_text())
        self.seconds: dict[str, float] = known["seconds"]
        self._lines: dict[str, dict[str, list[str]]] = known["lines"]
        self._texts = {
            name: (folder / "copy" / name).read_text().splitlines() for name in self._lines
        }

    def tests(self, file: str, first: int, last: int, budget: float) -> list[str]:
        """Tests of the statement's lines; of a constant, those of the lines that use it."""
        ranked = self._running(file, range(first, last + 1))
        if not ranked:
            names = re.findall(r"\w+", self._texts[file][first - 1])[:1]
            for other, text in self._texts.items():
                used = [
                    at
                    for at, line in enumerate(text, 1)
                    if names and re.search(rf"\b{names[0]}\b", line)
                ]
                ranked |= self._running(other, used)
        ranked |= set() if ranked else self._running(file, range(1, len(self._texts[file]) + 1))
        order = sorted(ranked, key=lambda name: (self.seconds[name], name))
        files = {name.split("::")[0] for name in order}
        # A test may judge what another test's fixture measured.
        order += sorted(
            (name for name in self.seconds if name.split("::")[0] in files and name not in ranked),
            key=lambda name: (self.seconds[name], name),
        )
        chosen, spent = [], 0.0
        for name in order:
            spent += self.seconds[name] + 0.002
            if spent > budget:
                break
            chosen.append(name)
        return chosen

    def _running(self, file: str, lines: Any) -> set[str]:
        known = self._lines[file]
        found = {name for line in lines for name in known.get(str(line), ())}
        return {
            name
            for name in found
            if math.isfinite(self.seconds.get(name, math.inf)) and not name.startswith(WHOLE_RUN)
        }


class Fastest:
    """As a plugin of pytest: only these tests, in this order."""

    def __init__(self, chosen: list[str], seconds: dict[str, float]) -> None:
        self._place = {name: at for at, name in enumerate(chosen)}
        self._seconds = seconds
        self.failed = ""

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        # Ends the process also where no line of Python is reached any more.
        signal.setitimer(signal.ITIMER_PROF, HANGS_AFTER + 10 * self._seconds[nodeid])

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self._place),
            key=lambda item: self._place[item.nodeid],
        )

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed:
            self.failed = report.nodeid


def attempt(path: Path, mutant: str, chosen: list[str], seconds: dict[str, float]) -> str:
    """Put the mutant in place and run the tests in a fork: the test that noticed, or ""."""
    sound, times = path.read_text(), path.stat()
    receiving, sending = os.pipe()
    path.write_text(mutant)
    try:
        child = os.fork()
        if child == 0:
            _forked(chosen, seconds, sending)
        os.close(sending)
        said = _until_closed(receiving, child, 900.0)
    finally:
        os.close(receiving)
        path.write_text(sound)
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    with suppress(ChildProcessError):
        _, status = os.waitpid(child, 0)
        if said is None or os.WIFSIGNALED(status):
            return "(too slow, or crashed)"
    return said or ""


def _until_closed(receiving: int, child: int, seconds: float) -> str | None:
    """What the child says; None where it says nothing for too long."""
    import select

    parts, end = [], time.monotonic() + seconds
    while time.monotonic() < end and not ASKED_TO_END:
        if select.select([receiving], [], [], 1.0)[0]:
            part = os.read(receiving, 4096)
            if not part:
                return b"".join(parts).decode()
            parts.append(part)
    os.killpg(child, 9)
    return None


def _forked(chosen: list[str], seconds: dict[str, float], sending: int) -> None:
    """In the fork: run the tests, say which failed, end."""
    import resource

    os.setpgid(0, 0)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    sys.dont_write_bytecode = True
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    resource.setrlimit(resource.RLIMIT_CPU, (300, 301))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    fastest = Fastest(chosen, seconds)
    try:
        import pytest

        files = sorted({name.split("::")[0] for name in chosen})
        code = pytest.main([*OPTIONS, "-x", "--hypothesis-seed=0", *files], plugins=[fastest])
        if code not in {0, 5} and not fastest.failed:
            fastest.failed = f"(pytest ended with {int(code)})"
    except BaseException as error:
        fastest.failed = f"({type(error).__name__})"
    os.write(sending, fastest.failed.encode())
    os._exit(0)


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
    step = len(flat) / count
    start = chance.random() * step
    return [flat[int(start + step * index)] for index in range(min(count, len(flat)))]


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


def try_sample(given: argparse.Namespace) -> None:
    """Try a sample, or the survivors of the last one."""
    folder, out, seed = given.folder, given.folder / given.results, given.seed
    root = folder / "copy"
    signal.signal(
        signal.SIGTERM, lambda *_: sys.exit("ended")
    )  # puts the file back that is changed
    # Whatever ended the last run, it may have left a mutant behind.
    shutil.copytree(folder / "sound", root / PACKAGE, dirs_exist_ok=True)
    enter(root)
    for name in LOADED:
        importlib.import_module(name)
    choice = Choice(folder)
    if given.again:
        before = [json.loads(line) for line in out.read_text().splitlines()]
        listed = [one for one in before if not one["killed"]]
        kept = [one for one in before if one["killed"]]
    else:
        found = {
            name: one
            for name, one in all_mutants(root).items()
            if given.only in name and not (given.skip and given.skip in name)
        }
        print(sum(map(len, found.values())), "mutants in", len(found), "files")
        listed, kept = sample(found, given.count, seed), []
    out.write_text("".join(json.dumps(one) + "\n" for one in kept))
    random.Random(0).shuffle(listed)
    for one in listed[:2]:
        if noticed := control(root, one, choice, given.seconds):
            sys.exit(f"a test fails without a mutant, so nothing can be told: {noticed}")
    for at, one in enumerate(listed):
        if ASKED_TO_END:
            sys.exit("ended")
        if not differs((root / one["file"]).read_text(), mutated(root, one)):
            continue
        one.update(
            judged(root, one, choice, given.seconds, whole_run=given.again),
            seed=one.get("seed", seed),
        )
        with out.open("a") as file:
            file.write(json.dumps(one) + "\n")
        if at % 20 == 19:
            print(time.strftime("%T"), at + 1, "of", len(listed), flush=True)
    show(out)


def control(root: Path, one: dict[str, Any], choice: Choice, budget: float) -> str:
    """Run what would be run for a mutant, on the text as it is."""
    path = root / one["file"]
    chosen = choice.tests(one["file"], one["line"], one["last"], budget)
    return attempt(path, path.read_text() + "\n", chosen, choice.seconds)


def judged(
    root: Path, one: dict[str, Any], choice: Choice, budget: float, *, whole_run: bool
) -> dict[str, Any]:
    path, start = root / one["file"], time.monotonic()
    text, other = path.read_text(), mutated(root, one)
    chosen = choice.tests(one["file"], one["line"], one["last"], budget)
    by = attempt(path, other, chosen, choice.seconds) if chosen else ""
    if not by and whole_run and "/measure/" not in one["file"]:
        whole = [name for name in choice.seconds if name.startswith(WHOLE_RUN)]
        by = attempt(path, other, whole, choice.seconds)
    return {
        "killed": by,
        "tests": len(chosen),
        "text": changed_line(text, other),
        "seconds": round(time.monotonic() - start, 1),
    }


# Figures


def interval(killed: int, tried: int) -> tuple[float, float]:
    """Wilson's interval of a proportion at 95 % (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212)."""
    z = 1.959964
    share = killed / tried
    middle = (share + z * z / (2 * tried)) / (1 + z * z / tried)
    half = (
        z
        / (1 + z * z / tried)
        * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    )
    return middle - half, middle + half


def part(file: str) -> str:
    """The row of the table: a folder of measuring, or a module."""
    names = Path(file).parts[1:]
    return "/".join(names[:-1]) or names[-1]


def show(results: Path) -> None:
    """Print the figures by part, and the survivors."""
    tried = [json.loads(line) for line in results.read_text().splitlines()]
    rows: dict[str, Counter[bool]] = defaultdict(Counter)
    for one in tried:
        for row in (
            part(one["file"]),
            "all",
            *(["without edges"] if "/edges/" not in one["file"] else []),
        ):
            rows[row][bool(one["killed"])] += 1
    print(f"{'':24} tried killed     %   95 %")
    for row, counts in sorted(
        rows.items(), key=lambda item: (item[0] in {"all", "without edges"}, item[0])
    ):
        number, killed = counts.total(), counts[True]
        low, high = interval(killed, number)
        print(f"{row:24} {number:5} {killed:6} {killed / number:5.0%}   {low:.0%} to {high:.0%}")
    for one in sorted(tried, key=lambda one: (one["file"], one["line"])):
        if not one["killed"]:
            print(
                f"{one['file']}:{one['line']} [{one['done']}; {one['tests']} tests] {one['text'][:170]}"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("what", choices=["cover", "try", "show"])
    parser.add_argument("folder", type=Path)
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
            cover(given.folder)
        case "try":
            try_sample(given)
        case "show":
            show(given.folder / given.results)


if __name__ == "__main__":
    main()

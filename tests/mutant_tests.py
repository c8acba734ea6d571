"""Which tests to try on a mutant: those that run its line, the most to the point first."""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

REPOSITORY = Path(__file__).parents[1]
PACKAGE = "pytest_webdeliverable"
TESTS = [
    "tests/unit",
    "tests/reference",
    "tests/hostile",
    "tests/edges/test_each_case.py",
    "tests/acceptance/test_rules_on_files.py",
]
WHOLE_RUN = "tests/acceptance/test_rules_on_files.py"
"""Rules on files, in a process of its own: tried on a mutant that survived before (--again)."""
WITHOUT = [
    # whole runs in other processes that take long
    "tests/unit/test_annotations.py",
    "tests/hostile/test_promise_portfolio.py",
    "tests/hostile/test_promise_manifests.py",
    "tests/hostile/test_promise_corpora.py",
    "tests/hostile/test_promise_reports.py",
    # the documentation and the imports, not what the code does
    "tests/unit/test_docs.py",
    "tests/unit/test_layers.py",
]
CACHED = "contexts.json"
OPTIONS = ["-q", "-p", "no:cacheprovider", "--tb=no", "--no-header"]
# Libraries are loaded before pytest could rewrite their asserts.
OPTIONS += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]


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


def cover(folder: Path, tests: list[str]) -> None:
    """Note which of some tests, or of all that are worth it, runs which line."""
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
    pytest.main([*OPTIONS, *ignored, *(tests or TESTS)], plugins=[noted])
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


class Choice:
    """Which tests to try on a mutant."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        known = json.loads((folder / CACHED).read_text())
        self.seconds: dict[str, float] = {
            name: seconds
            for name, seconds in known["seconds"].items()
            if math.isfinite(seconds) and not name.startswith(WHOLE_RUN)
        }
        self.whole = [name for name in known["seconds"] if name.startswith(WHOLE_RUN)]
        self._lines: dict[str, dict[str, list[str]]] = known["lines"]
        self._texts = {
            name: (folder / "copy" / name).read_text().splitlines() for name in self._lines
        }
        self._modules: dict[str, set[str]] = defaultdict(set)
        for file, lines in self._lines.items():
            for name in {name for names in lines.values() for name in names}:
                self._modules[name].add(file)

    def tests(self, file: str, first: int, last: int, budget: float) -> list[str]:
        """Tests of the statement's lines; of a constant, those of lines that use it or that name it.

        Then the other tests in the same files, which may judge what another test's fixture measured,
        then those of other lines of the module: what is computed once is counted in one test only.
        """
        near = self._running(file, range(first, last + 1)) or self._using(file, first)
        files = {name.split("::")[0] for name in near}
        beside = {name for name in self.seconds if name.split("::")[0] in files} - near
        rest = self._running(file, range(1, len(self._texts[file]) + 1)) - near - beside
        chosen, spent = [], 0.0
        for name in (*self._ordered(near), *self._ordered(beside), *self._ordered(rest)):
            if spent + self.seconds[name] <= budget:
                spent += self.seconds[name] + 0.002
                chosen.append(name)
        return chosen

    def _ordered(self, names: set[str]) -> list[str]:
        """The quickest first, and before them those that are about few modules."""
        return sorted(
            names, key=lambda name: ((self.seconds[name] + 0.005) * len(self._modules[name]), name)
        )

    def _using(self, file: str, line: int) -> set[str]:
        # Lines of a module run when it is loaded, in no test: the names they make lead to tests.
        names = self._made_of(re.findall(r"\w+", self._texts[file][line - 1])[:1])
        found: set[str] = set()
        for other, text in self._texts.items():
            used = [at for at, row in enumerate(text, 1) if names & set(re.findall(r"\w+", row))]
            found |= self._running(other, used)
        return found | {name for name in self.seconds if names & self._words(name.split("::")[0])}

    def _made_of(self, names: list[str]) -> set[str]:
        """These names, and those of constants that are made of them."""
        found = set(names)
        for text in self._texts.values():
            for row in text:
                words = re.findall(r"\w+", row)
                if re.match(r"\w+(: Final.*)? = ", row) and found & set(words[1:]):
                    found.add(words[0])
        return found

    @cache  # noqa: B019  (there is one for the whole run)
    def _words(self, file: str) -> frozenset[str]:
        path = self._folder / "copy" / file
        return frozenset(re.findall(r"\w+", path.read_text()))

    def _running(self, file: str, lines: Any) -> set[str]:
        known = self._lines[file]
        return {name for line in lines for name in known.get(str(line), ()) if name in self.seconds}

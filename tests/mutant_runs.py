"""Run tests on one mutant, in a fork of a process that has the libraries loaded."""

from __future__ import annotations

import os
import signal
import sys
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from mutant_tests import OPTIONS

if TYPE_CHECKING:
    from pathlib import Path

HANGS_AFTER = 5.0
"""Seconds of processor time of one test beyond ten times what it takes."""
MOST_WAITED = 900.0
"""Seconds after which a mutant that says nothing is ended."""


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
        said = _until_closed(receiving, child, MOST_WAITED)
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
    while time.monotonic() < end:
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

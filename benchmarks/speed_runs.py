"""Whole runs of pytest in processes of their own, and what they cost."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from speed_corpus import EMPTY

LOOK_EVERY = 0.2
"""Seconds between two looks at the memory of a run and its processes."""


def pytest_run(*args: str) -> list[str]:
    """Return a command that runs pytest with nothing but our plugin."""
    quiet = ("-q", "--no-header", "-p", "no:xdist", "-p", "no:cov", "-p", "no:hypothesispytest")
    return [sys.executable, "-m", "pytest", *quiet, *args]


class Cost(NamedTuple):
    """What a run cost: seconds on the clock, seconds of processor time, MB at its peak.

    Processor time and ``together`` are of all its processes, ``peak`` of the largest one.
    """

    seconds: float
    busy: float
    peak: float
    together: float


class Memory(threading.Thread):
    """Adds up, now and then, what a run and its processes hold; Linux, proc(5).

    Pages that they share count in each.
    """

    def __init__(self, run: int) -> None:
        super().__init__(daemon=True)
        self.run_id, self.most, self.over = run, 0.0, threading.Event()

    def run(self) -> None:
        """Look until the run is over."""
        while not self.over.wait(LOOK_EVERY):
            with contextlib.suppress(OSError, IndexError):
                tasks = Path(f"/proc/{self.run_id}/task").iterdir()
                children = " ".join((task / "children").read_text() for task in tasks).split()
                self.most = max(self.most, sum(map(held, (self.run_id, *children))))


def held(process: int | str) -> float:
    """MB of memory that a process holds."""
    status = Path(f"/proc/{process}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024


def timed(folder: Path, command: list[str]) -> Cost:
    """Run a command in a folder; findings, and no test at all, are fine."""
    with tempfile.TemporaryFile() as output:
        start = time.perf_counter()
        run = subprocess.Popen(command, cwd=folder, stdout=output, stderr=output)
        memory = Memory(run.pid)
        memory.start()
        _, status, used = os.wait4(run.pid, 0)
        took = time.perf_counter() - start
        memory.over.set()
        run.returncode = os.waitstatus_to_exitcode(status)
        if run.returncode not in {0, 1, 5}:
            output.seek(0)
            sys.exit(output.read().decode())
    peak = used.ru_maxrss / 1024
    return Cost(took, used.ru_utime + used.ru_stime, peak, max(peak, memory.most))


def empty_run() -> list[str]:
    """Return the command that runs the empty plugin."""
    return pytest_run("-p", "no:webdeliverable", "-p", "conftest_empty", "empty.toml")


def with_counted_items(folder: Path) -> Path:
    """Give the empty plugin as many items for each piece as a run of ours has."""
    listed = subprocess.run(
        pytest_run("--collect-only", "deliverables.toml"),
        cwd=folder,
        capture_output=True,
        check=True,
    ).stdout.decode()
    nodes = [line for line in listed.splitlines() if line.count("::") == 2]
    counts = list(Counter(node.rpartition("::")[0] for node in nodes).values())
    (folder / "conftest_empty.py").write_text(EMPTY.format(counts=counts))
    return folder

"""One process that works for ``crew``: how it is started, asked, and ended.

What it loads is what the run itself has loaded: an isolated interpreter (no current folder, no PYTHONPATH, no
user's packages), to which this package and Pillow are handed by their places, so that nothing in a portfolio
is run.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from importlib.util import find_spec
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, cast

if TYPE_CHECKING:
    from threading import Event

START: Final = 60.0
"""Seconds on the clock that a process has to start; it takes 0.2 s."""
LEAVE: Final = 2.0
"""Seconds that an idle process has to end by itself once its input is closed."""
OUT_OF_TIME: Final = "SIGPROF"
"""The signal that ends a process whose time is up (setitimer(2), ITIMER_PROF)."""
MOST_ANSWER: Final = 64 * 1024 * 1024
"""Bytes of one answer; facts have some 13 kB, metadata are bounded."""

_PROGRAM: Final = """
import sys
from importlib.util import module_from_spec, spec_from_file_location
for name, file in zip(sys.argv[1::2], sys.argv[2::2]):
    found = spec_from_file_location(name, file)
    sys.modules[name] = module_from_spec(found)
    found.loader.exec_module(sys.modules[name])
from pytest_webdeliverable.measure.worker import main
main()
"""
_PACKAGES: Final = ("PIL", "pytest_webdeliverable")


def _command() -> list[str]:
    """Return how a process is started. Raises OSError where this interpreter cannot be started again."""
    places: list[str] = []
    for name in _PACKAGES:
        spec = find_spec(name)
        if spec is None or not spec.has_location or spec.origin is None:
            raise OSError(f"{name} is in no file of its own")
        places += [name, os.path.abspath(spec.origin)]  # noqa: PTH100
    if not sys.executable or getattr(sys, "frozen", False):
        raise OSError("there is no interpreter to be started")
    flags = ["-I", "-X", f"utf8={sys.flags.utf8_mode}"]
    if sys.dont_write_bytecode:
        flags.append("-B")
    return [sys.executable, *flags, "-c", _PROGRAM, *places]


def _apart() -> dict[str, Any]:
    """Keep a key that interrupts the run from interrupting its processes: the run ends them itself."""
    if os.name == "nt":
        return {"creationflags": cast("int", getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0))}
    return {"process_group": 0}


class Worker:
    """One process. Ready once it has said so; one thread at a time asks it."""

    def __init__(self, settings: bytes, over: Event) -> None:
        self._over = over
        self._process = subprocess.Popen(  # noqa: S603 - this interpreter, a fixed program, no shell
            _command(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            cwd=os.path.dirname(__file__),  # noqa: PTH120 - never the portfolio's folder
            **_apart(),
        )
        self._settings = settings
        self._ready = False
        self.until: float | None = None
        """Until when it has to answer, by ``monotonic``; None while it is idle."""
        self.is_late = False

    def is_ready(self) -> bool:
        """Wait until it has loaded what it needs; False where it ended before."""
        if not self._ready:
            self._ready = self.ask(self._settings, START) is not None
        return self._ready

    def ask(self, line: bytes, seconds: float) -> dict[str, Any] | None:
        """Return its answer, for which it has so long; None where it ended."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self.until = monotonic() + seconds
        try:
            if self._over.is_set():  # whoever said so may have looked before it was at work
                return None
            self._process.stdin.write(line)
            self._process.stdin.flush()
            answer = self._process.stdout.readline(MOST_ANSWER)
        except (OSError, ValueError):  # it ended, or was dismissed
            return None
        finally:
            self.until = None
        return json.loads(answer) if answer.endswith(b"\n") else None

    def end(self) -> None:
        """End it at once; whoever waits for its answer is told that it ended."""
        self._process.kill()

    def dismiss(self) -> None:
        """Let it end by itself where it is idle, and wait for that."""
        if not self._ready:
            self._process.kill()
        for stream in (self._process.stdin, self._process.stdout):
            assert stream is not None
            with suppress(OSError):
                stream.close()
        try:
            self._process.wait(LEAVE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def how_it_ended(self) -> str:
        """Say in a word how it ended."""
        self._process.kill()  # where it closed its output and went on
        code = self._process.wait()
        try:
            return signal.Signals(-code).name
        except ValueError:
            return f"exit code {code}"

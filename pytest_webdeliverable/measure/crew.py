"""Processes that measure pictures, each of them one picture at a time.

Threads that measure in one process take turns under the interpreter's lock with each other and with pytest;
processes do not. Each runs ``worker`` and speaks lines of JSON over pipes. What they load is what the run
itself has loaded: an isolated interpreter (no current folder, no PYTHONPATH, no user's packages), to which
this package and Pillow are handed by their places, so that nothing in a portfolio is run.

A picture that ends its process is tried once more, since the system, too, ends processes; then it is told
of in a sentence, and the others are measured by a new process. One whose picture takes too much processor
time is ended by the system, one that does not answer for long by us. All end when the run does, however it
does: their input is closed then.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from dataclasses import asdict
from importlib.util import find_spec
from queue import SimpleQueue
from threading import Event, Lock, Thread
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, NamedTuple, cast

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.facts import Facet, Measurements
    from pytest_webdeliverable.measure.gitlog import Log
    from pytest_webdeliverable.measure.limits import Limits

SECONDS_OF_LIMIT: Final = 24
"""Seconds on the clock without an answer, for each second of processor time that a picture may take, after
which a process is ended: 2 minutes as the limits come. Only a decoder that hangs gets there, or a machine
that is 24 times overloaded."""
PROCESSOR_OF_LIMIT: Final = 2
"""Seconds of processor time, for each second that a picture may take, after which it ends its process:
machines differ, and what its header foretells keeps within the limit itself."""
START: Final = 60.0
"""Seconds on the clock that a process has to start; it takes 0.2 s."""
LOOK_EVERY: Final = 1.0
"""Seconds between two looks at how long processes have been at work."""
LEAVE: Final = 2.0
"""Seconds that an idle process has to end by itself once its input is closed."""
TRIES: Final = 2
"""Processes that a picture may end before it is blamed."""
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


class Answer(NamedTuple):
    """Facts of a picture, and whether the cache knew them."""

    facts: Measurements
    known: bool


def broken_off(error: str) -> Measurements:
    """Return what is said of a picture whose measuring raised an error of this name."""
    text = f"the picture cannot be measured ({error}); please report this file"
    if error == MemoryError.__name__:
        text = "the picture needs more memory than there is"
    return {"problem": {"kind": "unreadable", "text": text}}


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


class _Worker:
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


class Crew:
    """Processes that measure; ``measure`` may be called from as many threads as there are processes."""

    def __init__(self, size: int, limits: Limits, cache: FactsCache | None) -> None:
        self._patience = SECONDS_OF_LIMIT * limits.seconds
        self._most = PROCESSOR_OF_LIMIT * limits.seconds
        kept = None if cache is None else str(cache.folder)
        self._settings = _line({"limits": asdict(limits), "cache": kept, "seconds": self._most})
        self._idle: SimpleQueue[_Worker] = SimpleQueue()
        self._all: list[_Worker] = []
        self._lock = Lock()
        self._over = Event()
        self._owner = os.getpid()
        self.works = True
        """False once it has turned out that no process can be started here."""
        try:
            for _ in range(size):
                self._idle.put(self._new())
        except (OSError, ValueError):
            self.works = False
        Thread(target=self._watch, name="deliverable-watch", daemon=True).start()

    def _new(self) -> _Worker:
        with self._lock:
            if self._over.is_set():
                raise OSError("the run is over")
            worker = _Worker(self._settings, self._over)
            self._all.append(worker)
            return worker

    def measure(
        self, root: Path, base: Path, file: str, facets: Collection[Facet], log: Log | None
    ) -> Answer | None:
        """Measure the picture ``file`` below ``base``; None where no process can be started here."""
        if not self.works or os.getpid() != self._owner:
            return None  # a fork of the run must not read the run's answers
        line = _line(
            {
                "root": str(root),
                "base": str(base),
                "file": file,
                "facets": sorted(facets),
                "git": None if log is None else _changes(log, base / file),
            }
        )
        worker = self._idle.get()
        try:
            if not self.works or not worker.is_ready():
                self.works = False
                return None
            for tried in range(1, TRIES + 1):
                answer = worker.ask(line, self._patience)
                if answer is not None:
                    if "error" in answer:
                        return Answer(broken_off(answer["error"]), known=False)
                    return Answer(answer["facts"], answer["known"])
                late, ended = worker.is_late, worker.how_it_ended()
                slow = late or ended == OUT_OF_TIME
                blamed = self._too_slow(late=late) if slow else _deadly(ended, tried)
                try:
                    worker = self._replacement(worker)
                except (OSError, ValueError):
                    self.works = False
                    break
                if slow:
                    break
            return Answer(blamed, known=False)
        finally:
            self._idle.put(worker)

    def _replacement(self, worker: _Worker) -> _Worker:
        new = self._new()
        self._all.remove(worker)
        worker.dismiss()
        if not new.is_ready():
            raise OSError("a new process does not start")
        return new

    def _too_slow(self, *, late: bool) -> Measurements:
        if late:
            text = f"the picture was not measured within {self._patience:.0f} s"
        else:
            text = f"the picture takes more than {self._most:g} s of processor time to measure"
        return {"problem": {"kind": "unreadable", "text": f"{text}; please report this file"}}

    def _watch(self) -> None:
        while not self._over.wait(LOOK_EVERY):
            for worker in list(self._all):
                until = worker.until
                if until is not None and monotonic() > until:
                    worker.is_late = True
                    worker.end()

    def stop(self) -> None:
        """End what is at work, so that nobody waits for an answer any more."""
        with self._lock:
            self._over.set()
            for worker in self._all:
                if worker.until is not None:
                    worker.end()

    def close(self) -> None:
        """End every process; to be called after ``stop``, once no thread measures any more."""
        for worker in self._all:
            worker.dismiss()
        self._all.clear()


def _line(words: dict[str, Any]) -> bytes:
    return json.dumps(words, separators=(",", ":")).encode() + b"\n"


def _changes(log: Log, file: Path) -> dict[str, Any]:
    """Return what git knows of one file."""
    changes = [[one.commit, one.time.isoformat(), one.blob] for one in log.of(file)]
    return {"top": str(log.top), "complete": log.complete, "changes": changes}


def _deadly(ended: str, tried: int) -> Measurements:
    again = ", and again in a new one" if tried > 1 else ""
    text = (
        f"the picture ended the process that measured it ({ended}){again}; please report this file"
    )
    return {"problem": {"kind": "unreadable", "text": text}}

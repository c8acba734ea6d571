"""Processes that measure pictures, each of them one picture at a time.

Threads that measure in one process take turns under the interpreter's lock with each other and with pytest;
processes do not. Each runs ``worker`` and speaks lines of JSON over pipes; ``process`` starts it.

A picture that ends its process is tried once more, since the system, too, ends processes; then it is told
of in a sentence, and the others are measured by a new process. One whose picture takes too much processor
time is ended by the system, one that does not answer for long by us. All end when the run does, however it
does: their input is closed then.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from queue import SimpleQueue
from threading import Event, Lock, Thread
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from pytest_webdeliverable.measure.process import OUT_OF_TIME, Worker

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.facts import Facet, Measurements
    from pytest_webdeliverable.measure.gitlog import Log
    from pytest_webdeliverable.measure.limits import Limits
    from pytest_webdeliverable.measure.proof import Wish

SECONDS_OF_LIMIT: Final = 24
"""Seconds on the clock without an answer, for each second of processor time that a picture may take, after
which a process is ended: 2 minutes as the limits come. Only a decoder that hangs gets there, or a machine
that is 24 times overloaded."""
PROCESSOR_OF_LIMIT: Final = 2
"""Seconds of processor time, for each second that a picture may take, after which it ends its process:
machines differ, and what its header foretells keeps within the limit itself."""
LOOK_EVERY: Final = 1.0
"""Seconds between two looks at how long processes have been at work."""
TRIES: Final = 2
"""Processes that a picture may end before it is blamed."""


class Answer(NamedTuple):
    """Facts of a picture, and whether the cache knew them."""

    facts: Measurements
    known: bool


class Encodings(NamedTuple):
    """Pictures for the proof sheet, as plain JSON types; None where the file cannot be shown."""

    proof: dict[str, Any] | None


def broken_off(error: str) -> Measurements:
    """Return what is said of a picture whose measuring raised an error of this name."""
    text = f"the picture cannot be measured ({error}); please report this file"
    if error == MemoryError.__name__:
        text = "the picture needs more memory than there is"
    return {"problem": {"kind": "unreadable", "text": text}}


class Crew:
    """Processes that measure; ``measure`` may be called from as many threads as there are processes."""

    def __init__(self, size: int, limits: Limits, cache: FactsCache | None) -> None:
        self._patience = SECONDS_OF_LIMIT * limits.seconds
        self._most = PROCESSOR_OF_LIMIT * limits.seconds
        kept = None if cache is None else [str(cache.folder), cache.key.hex()]
        self._settings = _line({"limits": asdict(limits), "cache": kept, "seconds": self._most})
        self._idle: SimpleQueue[Worker] = SimpleQueue()
        self._all: list[Worker] = []
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

    def _new(self) -> Worker:
        with self._lock:
            if self._over.is_set():
                raise OSError("the run is over")
            worker = Worker(self._settings, self._over)
            self._all.append(worker)
            return worker

    def measure(
        self, root: Path, base: Path, file: str, facets: Collection[Facet], log: Log | None
    ) -> Answer | None:
        """Measure the picture ``file`` below ``base``; None where no process can be started here."""
        answer = self._asked(
            root=str(root),
            base=str(base),
            file=file,
            facets=sorted(facets),
            git=None if log is None else _changes(log, base / file),
        )
        if answer is None:
            return None
        if "error" in answer:
            return Answer(broken_off(answer["error"]), known=False)
        return Answer(answer["facts"], answer["known"])

    def proof(self, root: Path, base: Path, file: str, wish: Wish, sha256: str) -> Encodings | None:
        """Make the pictures of ``file`` for the proof sheet; None where no process can be started here."""
        answer = self._asked(
            root=str(root), base=str(base), file=file, wish=asdict(wish), sha256=sha256
        )
        return None if answer is None else Encodings(answer.get("proof"))

    def _asked(self, **words: Any) -> dict[str, Any] | None:
        """Return the answer of a process, as ``worker`` gives it, or facts that blame the picture."""
        if not self.works or os.getpid() != self._owner:
            return None  # a fork of the run must not read the run's answers
        line = _line(words)
        worker = self._idle.get()
        try:
            if not self.works or not worker.is_ready():
                self.works = False
                return None
            for tried in range(1, TRIES + 1):
                answer = worker.ask(line, self._patience)
                if answer is not None:
                    return answer
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
            return {"facts": blamed, "known": False}
        finally:
            self._idle.put(worker)

    def _replacement(self, worker: Worker) -> Worker:
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

"""The program of a process that measures: lines of JSON in, lines of JSON out, until its input ends.

``crew`` starts it and says what is in a line. It knows measuring alone, neither pytest nor a manifest, and
loads what most pictures need before the first is asked for, while nobody waits.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from PIL import Image

from pytest_webdeliverable.measure import decode, edges, likeness  # noqa: F401 - see above
from pytest_webdeliverable.measure.cache import FactsCache
from pytest_webdeliverable.measure.gitlog import Change, Log
from pytest_webdeliverable.measure.image import measure
from pytest_webdeliverable.measure.limits import Limits

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from collections.abc import Iterator


MEMORY_OF_LIMIT: Final = 4
"""Memory this process may take beyond what it has when it begins, in times of what a decode may take: the
stacks of a decoder's threads count as well, one for each processor."""


class _LogOfOne(Log):
    """What git knows of the one file that is asked for."""

    def of(self, file: Path) -> tuple[Change, ...]:  # noqa: ARG002 - there is only this one
        """Give its changes."""
        return self.changes[""]


def _log(sent: dict[str, Any] | None) -> Log | None:
    if sent is None:
        return None
    changes = tuple(
        Change(commit=commit, time=datetime.fromisoformat(time), blob=blob)
        for commit, time, blob in sent["changes"]
    )
    return _LogOfOne(top=Path(sent["top"]), changes={"": changes}, complete=sent["complete"])


def _pipe_of_our_own() -> BinaryIO:
    """Take the output away from all others: a library that prints must not print into answers."""
    own = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return os.fdopen(own, "wb")


def _confine(limits: Limits) -> None:
    """Let the system refuse memory that no picture within the limits needs, where it can (Linux)."""
    if resource is None:
        return
    with suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text().split()[5])  # proc(5): data and stack
        most = pages * resource.getpagesize() + MEMORY_OF_LIMIT * limits.decode_bytes
        resource.setrlimit(
            resource.RLIMIT_DATA, (most, resource.getrlimit(resource.RLIMIT_DATA)[1])
        )
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _allow(seconds: float) -> None:
    """End this process once it has taken so much more processor time; 0: never (POSIX)."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_PROF, seconds)


def _answer(asked: dict[str, Any], limits: Limits, cache: FactsCache | None) -> bytes:
    try:
        if "wish" in asked:
            return _line({"proof": _proof(asked, limits)})
        facts = measure(
            Path(asked["root"]),
            Path(asked["base"]),
            asked["file"],
            asked["facets"],
            limits=limits,
            log=_log(asked["git"]),
            cache=cache,
        )
        known = cache is not None and cache.answers
        return _line({"facts": facts, "known": known})
    except Exception as error:  # one odd file must not take the others down
        return _line({"error": type(error).__name__})


def _proof(asked: dict[str, Any], limits: Limits) -> dict[str, Any] | None:
    # Only a report asks for it, and most pictures' are made in the run.
    from pytest_webdeliverable.measure.proof import proof, wish_of_json

    made = proof(
        *(Path(asked["root"]), Path(asked["base"]), asked["file"], wish_of_json(asked["wish"])),
        sha256=asked["sha256"],
        limits=limits,
    )
    return None if made is None else made.to_json()


def _line(answer: dict[str, Any]) -> bytes:
    return json.dumps(answer, separators=(",", ":"), allow_nan=False).encode() + b"\n"


def _answers(lines: BinaryIO) -> Iterator[bytes]:
    """Answer each line, the first with a word that all is loaded."""
    settings = json.loads(lines.readline())
    limits = Limits(**settings["limits"])
    cache = None
    if settings["cache"]:
        folder, key = settings["cache"]
        cache = FactsCache.at(Path(folder), bytes.fromhex(key))
    _confine(limits)
    yield _line({"ready": True})
    for line in lines:
        _allow(settings["seconds"])
        answer = _answer(json.loads(line), limits, cache)
        _allow(0)
        yield answer


def main() -> None:
    """Answer until the input ends, or nobody listens any more."""
    out = _pipe_of_our_own()
    Image.preinit()
    with suppress(OSError):
        for answer in _answers(sys.stdin.buffer):
            out.write(answer)
            out.flush()

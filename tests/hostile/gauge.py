"""Measure many files one after the other, and what each costs: processor time and memory.

Run as a program: ``python gauge.py FOLDER OUT`` writes one line of JSON for each file below FOLDER
when it begins and one when it ends, so that a crash names its file. As a pytest plugin
(``-p gauge``) it writes the same lines for the images of a run to the file named in GAUGE.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from pathlib import Path
from typing import Any

FACETS = frozenset({"pixels", "edges", "history", "previews", "likeness", "motion"})
MOST_SECONDS = 5.0
"""Processor time of one image on any of its threads: the project's promise."""
MOST_BYTES = 512_000_000 - 60_000_000
"""What one image may add to the process: the project's promise, less what a bare run of pytest takes."""
_CLEAR = Path("/proc/self/clear_refs")
_STATUS = Path("/proc/self/status")
_LOCK = threading.Lock()


def forget_peak() -> None:
    """Let the peak begin anew (Linux, proc(5), clear_refs); elsewhere it only grows."""
    try:
        _CLEAR.write_text("5")
    except OSError:
        return


def memory(line: str) -> int:
    """Bytes of resident memory: "VmRSS", or "VmHWM" for the most since ``forget_peak``; 0 if unknown."""
    try:
        status = _STATUS.read_text()
    except OSError:
        return 0
    return int(status.split(f"{line}:")[1].split()[0]) * 1024


class Gauge:
    """Measures one image at a time and notes what that took."""

    def __init__(self, out: Path) -> None:
        self._out = out.open("a", encoding="utf-8")

    def note(self, **line: Any) -> None:
        self._out.write(json.dumps(line) + "\n")
        self._out.flush()

    def measured(self, name: str, measure: Any, *args: Any, **options: Any) -> Any:
        with _LOCK:  # time and memory are the process's, so that no thread goes uncounted
            self.note(begins=name)
            forget_peak()
            before = memory("VmRSS")
            start = time.process_time()
            facts = measure(*args, **options)
            seconds = time.process_time() - start
            text = facts.get("problem", {}).get("text")
            self.note(
                name=name, seconds=round(seconds, 3), bytes=memory("VmHWM") - before, problem=text
            )
            return facts


def pytest_configure() -> None:
    """Stand between the bench and its measuring."""
    if not os.environ.get("GAUGE"):
        return
    from pytest_webdeliverable.measure import image

    measure, gauge = image.measure, Gauge(Path(os.environ["GAUGE"]))

    def gauged(root: Path, base: Path, relative: str, *args: Any, **options: Any) -> Any:
        options.pop("light_only", None)  # what is heavy is to be gauged as well, so not elsewhere
        return gauge.measured(relative, measure, root, base, relative, *args, **options)

    image.measure = gauged


def main() -> None:
    from pytest_webdeliverable.measure.image import measure

    folder, gauge = Path(sys.argv[1]).resolve(), Gauge(Path(sys.argv[2]))
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            name = path.relative_to(folder).as_posix()
            try:
                facts = gauge.measured(name, measure, folder, folder, name, FACETS)
                json.dumps(facts, allow_nan=False)
            except Exception as error:
                gauge.note(name=name, raised=f"{type(error).__name__}: {error}"[:300])


if __name__ == "__main__":
    main()

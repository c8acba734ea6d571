"""Run one measurement of a hostile file in a process that the system ends at the limit."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]

MOST_SECONDS = 5
"""Processor time of one image (the project's promise), Python's own start included."""
MOST_MEMORY = 512_000_000
"""Bytes of one image (the project's promise)."""

_FRAME = """
import json, resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_CPU, ({seconds}, {seconds} + 1))
{code}
found = measured(Path(sys.argv[1]).read_bytes())
try:  # the peak since this program began; what resource knows begins with the parent's
    status = Path("/proc/self/status").read_text()
    peak = int(status.split("VmHWM:")[1].split()[0]) * 1024
except OSError:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps([found, peak]))
"""


def bounded(code: str, file: Path) -> Any:
    """Return what ``measured(data)``, defined by ``code``, makes of the file.

    Fails where it takes more processor time or memory than promised, or ends in any other way.
    """
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", _FRAME.format(code=code, seconds=MOST_SECONDS), file],
        cwd=ROOT,
        # Counting the lines run would take several times as long as running them.
        env={name: value for name, value in os.environ.items() if not name.startswith("COV")},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert run.returncode == 0, f"ended with {run.returncode}: {run.stderr[-2000:]}"
    found, peak = json.loads(run.stdout)
    assert peak < MOST_MEMORY, f"{peak / 1e6:.0f} MB"
    return found

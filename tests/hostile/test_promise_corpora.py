"""Pictures of other projects' tests: each file gives a verdict or a sentence, within the promise.

The folder named by PYTEST_WEBDELIVERABLE_CORPUS holds them, at any depth: the source distribution of
Pillow, and Debian's sources of libpng, libjpeg-turbo and others. ``docs/safety.md`` says how they are
fetched by the package clients. Without the variable the test is skipped.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import gauge
import pytest

if TYPE_CHECKING:
    from pathlib import Path

FOLDER = os.environ.get("PYTEST_WEBDELIVERABLE_CORPUS", "")


@pytest.mark.skipif(not FOLDER, reason="PYTEST_WEBDELIVERABLE_CORPUS names no folder of pictures")
def test_every_file_gives_a_verdict(tmp_path: Path) -> None:
    out = tmp_path / "costs.jsonl"
    run = subprocess.run(
        [sys.executable, "-W", "error", gauge.__file__, FOLDER, out],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        errors="replace",
        check=False,
    )
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    assert run.returncode == 0, (lines[-1], run.stderr[-2000:])
    done = [line for line in lines if "seconds" in line]
    assert done
    assert not [line for line in lines if "raised" in line]
    assert not [line for line in done if line["seconds"] > gauge.MOST_SECONDS]
    assert not [line for line in done if line["bytes"] > gauge.MOST_BYTES]
    for line in done:
        text = line["problem"]
        assert text is None or (text.isprintable() and not re.search("::|##", text))

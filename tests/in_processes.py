"""A pytest plugin and a program: measuring in processes from the first picture on, which may go wrong.

``-p in_processes`` lets processes measure however few pictures there are, unless ``FEW`` is in the
environment. ``FAULTS`` stands in for what goes wrong inside a decoder, by words in the name of the file: no
sound Pillow can be brought to it.
"""

from __future__ import annotations

import os

from pytest_webdeliverable import bench
from pytest_webdeliverable.measure import process

FAULTS = """
import os, select, signal, sys
from pathlib import Path
from pytest_webdeliverable.measure import proof, worker
sound, shown = worker.measure, proof.proof

def measure(root, base, file, *args, **options):
    print("a library's own words")
    if "deadly" in file:
        os.kill(os.getpid(), signal.SIGSEGV)
    if "unlucky" in file and not (mark := base / "seen").exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    if "slow" in file:
        while True:
            pass
    if "hungry" in file:
        bytearray(8 << 30)
    if "odd" in file:
        raise ZeroDivisionError
    if "endless" in file:
        (base / "begun").write_text("x")  # a pipe: it is read once this is written
        select.select([sys.stdin], [], [], 600)
    return sound(root, base, file, *args, **options)

def show(root, base, file, *args, **options):
    if "fatal" in file:
        os.kill(os.getpid(), signal.SIGSEGV)
    return shown(root, base, file, *args, **options)

worker.measure, proof.proof = measure, show
"""


def pytest_configure() -> None:
    """Measure in processes, with faults where these are asked for."""
    if "FEW" not in os.environ:
        bench.WORTH_PROCESSES = 1  # type: ignore[misc]
    if "FAULTS" in os.environ:
        process._PROGRAM = with_faults()  # type: ignore[misc]


def with_faults() -> str:
    """The program of a process in which measuring goes wrong."""
    return process._PROGRAM.replace("\nmain()", f"{FAULTS}\nmain()")

"""How a step speaks to GitHub's runner: outputs, the summary, errors, and text that must not be obeyed."""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

LONGEST_LINE: Final = 8_192
"""Characters of one line of another program's output; longer ones are cut."""

SUMMARY_BYTES: Final = 900_000
"""Size of the summary; the runner drops what is above 1 MiB, which is 1,048,576 bytes."""

CUT: Final = "\n\nThe summary is cut here; the report holds all of it.\n"


def give(outputs: Mapping[str, str]) -> None:
    """Set outputs of the step; a value cannot end its own record, since the mark is random."""
    mark = f"end-{secrets.token_hex(16)}"
    text = "".join(f"{name}<<{mark}\n{value}\n{mark}\n" for name, value in outputs.items())
    with Path(os.environ["GITHUB_OUTPUT"]).open("a", encoding="utf-8", newline="\n") as file:
        file.write(text)


def say(line: str) -> None:
    """Print a line of our own."""
    sys.stdout.buffer.write(f"{line}\n".encode())
    sys.stdout.buffer.flush()


def summarize(text: str) -> None:
    """Add to the summary of the job, as much as the runner takes."""
    data = text.encode("utf-8", "replace")
    if len(data) > SUMMARY_BYTES:
        whole_lines = data[: SUMMARY_BYTES - len(CUT)].rpartition(b"\n")[0]
        data = whole_lines + CUT.encode()
    with Path(os.environ["GITHUB_STEP_SUMMARY"]).open("ab") as file:
        file.write(data.rstrip(b"\n") + b"\n")


def run_quoted(command: list[str], folder: Path, variables: Mapping[str, str]) -> int:
    """Run a program, quoting what it prints; return its exit code."""
    started = subprocess.Popen(  # noqa: S603 - a list that this action made, and no shell
        command,
        cwd=folder,
        env=variables,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    with not_obeyed() as quote, started as process:
        assert process.stdout is not None, "it is piped"
        for line in process.stdout:
            quote(line)
    return process.returncode


@contextmanager
def not_obeyed() -> Iterator[Callable[[bytes], None]]:
    """Give a function that prints a line of another program's output, which the runner only logs.

    Commands are stopped until a word comes that nobody can guess. Each line begins with a bar, so
    that matchers of problems that look at a line's beginning find nothing either.
    """
    word = secrets.token_hex(32)

    def quote(line: bytes) -> None:
        text = line.decode("utf-8", "backslashreplace").rstrip("\r\n")[:LONGEST_LINE]
        shown = "".join(one if one.isprintable() or one == "\t" else " " for one in text)
        say(f"| {shown}")

    say(f"::stop-commands::{word}")
    try:
        yield quote
    finally:
        say(f"::{word}::")

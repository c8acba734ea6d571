"""Running git in a work tree that may be a stranger's, so that it runs nothing of the tree's choosing.

No hooks, pagers, filters, text converters, external diffs, signature checks, file-system monitors
or fetches, no embedded bare repository, nothing from git's own environment variables; bounded in time.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

SECONDS: Final = 5.0
"""Longest one git process may run."""
KEPT_VARIABLES: Final = frozenset(
    {"PATH", "HOME", "USERPROFILE", "XDG_CONFIG_HOME", "SYSTEMROOT", "TEMP", "TMP", "TMPDIR"}
    | {"GIT_CONFIG_GLOBAL", "GIT_CONFIG_SYSTEM"}
)
"""The environment handed on: where git and its user's own settings (safe.directory) are found."""
FIXED_VARIABLES: Final = {
    "LC_ALL": "C",
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_LITERAL_PATHSPECS": "1",
    "GIT_ATTR_NOSYSTEM": "1",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_PAGER": "cat",
}
"""``GIT_ALLOW_PROTOCOL`` names no real protocol: a partial clone must not fetch, which runs programs."""
SETTINGS: Final = (
    "core.fsmonitor=false",
    "core.hooksPath=" + os.devnull,
    "core.sshCommand=false",
    "core.commitGraph=true",
    "diff.external=",
    "log.showSignature=false",
    "log.follow=false",
    "safe.bareRepository=explicit",
)


@contextmanager
def git(
    top: Path, arguments: Iterable[str], *, talks: bool = False
) -> Iterator[subprocess.Popen[bytes] | None]:
    """Run git in ``top``, killed after SECONDS; None where it cannot be started."""
    program = shutil.which("git")
    if program is None or Path(program).resolve().is_relative_to(top):
        yield None
        return
    environment = {
        name: value for name, value in os.environ.items() if name.upper() in KEPT_VARIABLES
    }
    settings = [part for setting in SETTINGS for part in ("-c", setting)]
    try:
        process = subprocess.Popen(  # noqa: S603 - a fixed program, no shell, see the module's text
            [program, "--no-pager", *settings, *arguments],
            cwd=top,
            env={**environment, **FIXED_VARIABLES},
            stdin=subprocess.PIPE if talks else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
    except (OSError, ValueError):
        yield None
        return
    watch = threading.Timer(SECONDS, process.kill)
    watch.start()
    try:
        yield process
    finally:
        watch.cancel()
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with suppress(OSError):
                    stream.close()

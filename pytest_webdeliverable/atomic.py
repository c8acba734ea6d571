"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def replace_file(path: Path, data: bytes, *, mode: int = 0o644) -> None:
    """Put ``data`` in place of a file at once, so that a reader sees the old one or the new one.

    ``mode`` is what POSIX lets whom do with it.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        temporary.chmod(mode)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise

"""Write a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def replace_file(path: Path, data: bytes) -> None:
    """Put ``data`` in place of a file at once, so that a reader sees the old one or the new one."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        temporary.chmod(0o644)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise

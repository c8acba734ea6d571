"""Write files whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


def replace_file(path: Path, data: bytes, *, mode: int = 0o644) -> None:
    """Put ``data`` in place of a file at once, so that a reader sees the old one or the new one.

    ``mode`` is what POSIX lets whom do with it.
    """
    replace_files({path: data}, mode=mode)


def replace_files(files: Mapping[Path, bytes], *, mode: int = 0o644) -> None:
    """Do so for files that belong together: none is put in its place before all are written."""
    written: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            written.append((Path(name), path))
            with os.fdopen(handle, "wb") as file:
                file.write(data)
            Path(name).chmod(mode)
        for temporary, path in written:
            temporary.replace(path)
    except BaseException:
        for temporary, _ in written:
            temporary.unlink(missing_ok=True)
        raise

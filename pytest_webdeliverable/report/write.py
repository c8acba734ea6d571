"""Write a report's files whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any


class ReportError(Exception):
    """The report cannot be written; the outcome of the tests stands."""


def write_report(folder: Path, report: dict[str, Any]) -> None:
    """Write ``report.json``. Raises ReportError."""
    text = json.dumps(report, indent=2, ensure_ascii=True, allow_nan=False, sort_keys=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        replace_file(folder / "report.json", f"{text}\n".encode())
    except OSError as error:
        raise ReportError(f"the report cannot be written to {folder}: {error.strerror}") from error


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

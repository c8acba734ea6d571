"""Write a report's files whole or not at all."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.atomic import replace_file

if TYPE_CHECKING:
    from pathlib import Path


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

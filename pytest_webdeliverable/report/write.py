"""Write a report's files whole or not at all, and all of them or none."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.atomic import replace_files
from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
from pytest_webdeliverable.report.page import build_page
from pytest_webdeliverable.report.pictures import make_album
from pytest_webdeliverable.report.summary import build_summary

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.limits import Limits
    from pytest_webdeliverable.report.pictures import Homes


class ReportError(Exception):
    """The report cannot be written; the outcome of the tests stands."""


def write_report(
    folder: Path,
    report: dict[str, Any],
    homes: Homes,
    workers: int,
    limits: Limits = DEFAULT_LIMITS,
) -> None:
    """Write ``report.json``, ``summary.md`` and the proof sheet ``index.html``. Raises ReportError.

    ``homes`` is where the manifests live, from which the sheet's pictures are read; ``workers`` is how
    many threads make them.
    """
    text = json.dumps(report, indent=2, ensure_ascii=True, allow_nan=False, sort_keys=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        parts = {
            "report.json": f"{text}\n",
            "summary.md": build_summary(report),
            "index.html": build_page(report, make_album(report, homes, workers, limits)),
        }
        replace_files({folder / name: part.encode() for name, part in parts.items()})
    except OSError as error:
        where = display_name(str(folder))
        raise ReportError(f"the report cannot be written to {where}: {error.strerror}") from error

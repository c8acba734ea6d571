"""The files that a page of the documentation shows, written as they are shown."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
_FILE = re.compile(r"<!-- file: (\S+) -->\n```\w+\n(.*?)```", re.DOTALL)


def write_files(page: str, folder: Path) -> None:
    """Write every file that a page, a path from the root of the project, shows."""
    files = _FILE.findall((ROOT / page).read_text(encoding="utf-8"))
    assert files
    for name, text in files:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

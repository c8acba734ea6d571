"""A portfolio on disk, and pytest run on it in a process of its own, as a user runs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pictures

if TYPE_CHECKING:
    from pathlib import Path

SMALL = """
[spec.screen]
box = [160, 120]
"""
"""The built-in spec at a size that tests draw quickly."""


@dataclass
class Run:
    """What a run printed, and how it ended."""

    code: int
    out: str
    report: dict[str, Any] | None

    def outcomes(self) -> dict[str, str]:
        """Outcome by ``piece::rule``, from report.json."""
        assert self.report is not None
        return {
            f"{piece['id']}::{check['rule']}": check["outcome"]
            for manifest in self.report["manifests"]
            for piece in manifest["pieces"]
            for check in piece["checks"]
        }

    def failed(self) -> list[str]:
        """Every ``piece::rule`` that failed."""
        return [name for name, outcome in self.outcomes().items() if outcome == "failed"]

    def check(self, name: str) -> dict[str, Any]:
        """One check of report.json by ``piece::rule``."""
        assert self.report is not None
        piece_id, rule = name.split("::")
        return next(
            check
            for manifest in self.report["manifests"]
            for piece in manifest["pieces"]
            if piece["id"] == piece_id
            for check in piece["checks"]
            if check["rule"] == rule
        )


@dataclass
class Portfolio:
    """A folder with a manifest and pictures."""

    folder: Path

    def manifest(self, text: str, name: str = "deliverables.toml") -> Path:
        """Write the manifest."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def picture(self, name: str = "a.jpg", *args: Any, **options: Any) -> Path:
        """Write a sound picture, or one with the fault that the options make."""
        return pictures.save(self.folder / name, *args, **options)

    def piece(self, extra: str = "", *, spec: str = SMALL, **options: Any) -> None:
        """Write a manifest of one sound piece, id "a", with its picture."""
        self.manifest(
            f'{spec}\n[[piece]]\nid = "a"\nfile = "a.jpg"\n'
            f'alt = "Soft shapes in violet and green on a grainy ground"\n{extra}\n'
        )
        self.picture(**options)

    def run(self, *args: str, report: bool = True, **env: str) -> Run:
        """Run pytest here."""
        command = [sys.executable, "-m", "pytest", *args]
        target = self.folder / "proof"
        if report:
            command.append(f"--deliverable-report={target}")
        done = subprocess.run(
            command,
            cwd=self.folder,
            env={**os.environ, **env},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=120,
            check=False,
        )
        written = target / "report.json"
        data = json.loads(written.read_text()) if report and written.is_file() else None
        return Run(done.returncode, done.stdout.decode("utf-8", "replace"), data)

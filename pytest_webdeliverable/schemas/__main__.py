"""Write the manifest's schema anew."""

from __future__ import annotations

from pathlib import Path

from pytest_webdeliverable.schemas import made_manifest_schema

Path(__file__).with_name("manifest.schema.json").write_text(
    made_manifest_schema(), encoding="utf-8"
)

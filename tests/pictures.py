"""Pictures drawn for tests, small, and sound unless a test asks for a fault."""

from __future__ import annotations

from pytest_webdeliverable.measure.specimen import draw as art
from pytest_webdeliverable.measure.specimen import encode as encoded
from pytest_webdeliverable.measure.specimen import srgb
from pytest_webdeliverable.testing import save

__all__ = ["art", "encoded", "save", "srgb"]

"""Read the profile that a spec names by its path."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.door import RefusedError, read_file
from pytest_webdeliverable.measure.icc import profile_facts
from pytest_webdeliverable.measure.icc_tags import DamagedProfileError
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.icc import ProfileFacts


def reference_profile(
    root: Path, relative: str, limits: Limits = DEFAULT_LIMITS
) -> ProfileFacts | None:
    """Return the facts of the .icc file at ``relative`` below ``root``; None where it is no profile."""
    try:
        return profile_facts(read_file(root, relative, base=root, limits=limits).data, limits)
    except (RefusedError, DamagedProfileError):
        return None

"""What is wrong along the edges: gaps, a left-over frame, unclipped margins, a blank picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.edges.blank import blank_facts
from pytest_webdeliverable.measure.edges.gaps import gap_facts
from pytest_webdeliverable.measure.edges.margins import margin_facts
from pytest_webdeliverable.measure.edges.outline import outline_facts
from pytest_webdeliverable.measure.edges.profile import profile
from pytest_webdeliverable.measure.edges.types import (
    SIDES,
    Blank,
    EdgeFacts,
    Gap,
    Margin,
    Margins,
    Outline,
    Side,
)

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["Blank", "EdgeFacts", "Gap", "Margin", "Margins", "Outline", "Side", "edge_facts"]


def edge_facts(picture: Image.Image) -> EdgeFacts:
    """Return what was found along the four sides of a loaded, upright picture of any mode."""
    profiles = {side: profile(picture, side) for side in SIDES}
    return {
        "gaps": gap_facts(picture, profiles),
        "outline": outline_facts(profiles),
        "margins": margin_facts(picture),
        "blank": blank_facts(picture),
    }

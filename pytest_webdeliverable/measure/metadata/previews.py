"""Pictures embedded beside the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

if TYPE_CHECKING:
    from PIL.Image import Image

    from pytest_webdeliverable.measure.headers.base import Header
    from pytest_webdeliverable.measure.metadata.packets import Metadata


class PreviewFact(TypedDict):
    """One embedded preview compared with the picture.

    ``difference`` runs from 0 (the same) to 1; ``same`` is False where the preview shows something
    else, or more, than the picture. ``problem`` says why a preview could not be opened; then
    width and height are 0, ``difference`` is 1.0 and ``same`` is False.
    """

    place: str
    width: int
    height: int
    difference: float
    same: bool
    problem: str | None


def preview_images(header: Header, metadata: Metadata) -> list[tuple[str, bytes]]:
    """Return the bytes of each embedded preview with its place: "Exif", "XMP" or "file header"."""
    raise NotImplementedError


def preview_facts(picture: Image, previews: list[tuple[str, bytes]]) -> list[PreviewFact]:
    """Compare each preview with the decoded picture. Never raises."""
    raise NotImplementedError

"""Which quality a JPEG was saved at, told from its quantization tables.

Encoders of the libjpeg family scale tables K.1 and K.2 of ITU-T T.81 by a quality of 1 to 100 (the
formula is in libjpeg-turbo's jcparam.c), so such a quality can be read back exactly. Tables of
other encoders are compared with K.1 and K.2 by their sums: an estimate on the same scale.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.measure.headers.jpeg_tables import (
    K1_LUMINANCE,
    K2_CHROMINANCE,
    ZIGZAG,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

LARGEST_ENTRY_BASELINE: Final = 255
"""Largest quantization step of a baseline file (T.81 B.2.4.1: 8-bit entries)."""
LARGEST_ENTRY: Final = 32767
"""Largest step libjpeg writes when 16-bit entries are allowed (jcparam.c)."""


class QualityFacts(TypedDict):
    """Quality 1 to 100 on libjpeg's scale; ``value`` is the lower of ``luma`` and ``chroma``.

    ``exact`` is true when every table is an Annex K table scaled as libjpeg does; otherwise the
    numbers are estimates. ``chroma`` is None for a picture of one component.
    """

    value: float
    exact: bool
    luma: float
    chroma: float | None


def scaled(base: Sequence[int], quality: int, largest: int = LARGEST_ENTRY_BASELINE) -> list[int]:
    """Scale an Annex K table to a quality of 1 to 100, in integers as libjpeg does."""
    percent = 5000 // quality if quality < 50 else 200 - 2 * quality
    return [min(max((entry * percent + 50) // 100, 1), largest) for entry in base]


@lru_cache(maxsize=64)  # the pictures of a portfolio mostly share one or two pairs of tables
def _exact_qualities(table: tuple[int, ...], base: tuple[int, ...]) -> tuple[int, ...]:
    """Find the qualities at which libjpeg scales ``base`` to ``table`` (both in row order)."""
    return tuple(
        quality
        for quality in range(1, 101)
        if any(
            scaled(base[:1], quality, largest)[0] == table[0]
            and scaled(base, quality, largest) == list(table)
            for largest in (LARGEST_ENTRY_BASELINE, LARGEST_ENTRY)
        )
    )


def _in_rows(table: tuple[int, ...]) -> tuple[int, ...]:
    rows = [0] * len(ZIGZAG)
    for entry, index in zip(table, ZIGZAG, strict=True):
        rows[index] = entry
    return tuple(rows)


def _estimate(table: tuple[int, ...], base: tuple[int, ...]) -> float:
    percent = 100 * sum(table) / sum(base)
    quality = (200 - percent) / 2 if percent <= 100 else 5000 / percent
    return round(max(quality, 1.0), 1)


def _chroma_quality(table: tuple[int, ...], luma_qualities: tuple[int, ...]) -> tuple[float, bool]:
    # Some encoders use the luminance table for all components, so both tables count as exact. The
    # chrominance tables of qualities 1 to 3 are the same; the luminance then tells which is meant.
    qualities = _exact_qualities(table, K2_CHROMINANCE) or _exact_qualities(table, K1_LUMINANCE)
    if not qualities:
        return _estimate(table, K2_CHROMINANCE), False
    shared = [quality for quality in qualities if quality in luma_qualities]
    return float((shared or qualities)[-1]), True


def read_quality(tables: Sequence[tuple[int, ...]]) -> QualityFacts | None:
    """Tell the quality from the table of each component, 64 entries each in file (zigzag) order.

    Returns None when there is no table, or one that is not a quantization table (an entry of 0).
    """
    if not tables or any(len(table) != len(ZIGZAG) or min(table) < 1 for table in tables):
        return None
    in_rows = [_in_rows(table) for table in tables]
    luma_qualities = _exact_qualities(in_rows[0], K1_LUMINANCE)
    if luma_qualities:
        luma, exact = float(luma_qualities[-1]), True
    else:
        luma, exact = _estimate(in_rows[0], K1_LUMINANCE), False
    chroma: float | None = None
    if len(tables) >= 3:
        # Components 2 and 3 carry the color; the fourth, black, shares the first one's table.
        judged = [_chroma_quality(table, luma_qualities) for table in in_rows[1:3]]
        chroma = min(quality for quality, _ in judged)
        exact = exact and all(is_exact for _, is_exact in judged)
    value = luma if chroma is None else min(luma, chroma)
    return QualityFacts(value=value, exact=exact, luma=luma, chroma=chroma)

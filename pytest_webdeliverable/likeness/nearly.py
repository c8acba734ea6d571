"""Pairs of pieces that are nearly the same picture, found without comparing every two."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.likeness.resample import WHOLE, resample
from pytest_webdeliverable.likeness.same import same_picture
from pytest_webdeliverable.likeness.signature import planes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pytest_webdeliverable.likeness.signature import Signature

COARSE: Final = 8
"""Cells each way of the coarse picture."""
COARSE_ALLOWED: Final = 8.0
"""Difference of a coarse cell up to which a pair is looked at closely, code values."""


def near_duplicates(signatures: Sequence[tuple[str, Signature]]) -> list[tuple[str, str]]:
    """Pairs of ids whose pictures are nearly the same, in the order given.

    Size and compression do not matter; a series that differs in a word or a color is no pair.
    """
    coarse = [_coarse(signature) for _, signature in signatures]
    pairs = []
    for i, j in sorted(_candidates(coarse)):
        one, other = signatures[i], signatures[j]
        if same_picture(one[1], other[1])["same"]:
            pairs.append((one[0], other[0]))
    return pairs


def _coarse(signature: Signature) -> list[float]:
    return [
        value
        for plane in planes(signature)
        for row in resample(plane, WHOLE, COARSE, COARSE).rows
        for value in row
    ]


def _candidates(coarse: Sequence[Sequence[float]]) -> Iterator[tuple[int, int]]:
    """Yield pairs whose coarse pictures agree, found through overlapping buckets of mean colors."""
    buckets: dict[tuple[int, ...], list[int]] = defaultdict(list)
    cells = COARSE * COARSE
    for index, values in enumerate(coarse):
        means = [sum(values[at : at + cells]) / cells for at in range(0, 3 * cells, cells)]
        buckets[tuple(int(mean / COARSE_ALLOWED) for mean in means)].append(index)
    seen = set()
    for key, members in buckets.items():
        near = [
            other
            for dy in (-1, 0, 1)
            for db in (-1, 0, 1)
            for dr in (-1, 0, 1)
            for other in buckets.get((key[0] + dy, key[1] + db, key[2] + dr), ())
        ]
        for i, j in combinations(sorted({*members, *near}), 2):
            if (i, j) in seen:
                continue
            seen.add((i, j))
            if all(abs(a - b) <= COARSE_ALLOWED for a, b in zip(coarse[i], coarse[j], strict=True)):
                yield i, j

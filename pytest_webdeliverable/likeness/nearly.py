"""Pairs of pieces that are nearly the same picture, found without comparing every two."""

from __future__ import annotations

from collections import defaultdict
from itertools import product
from typing import TYPE_CHECKING, Final, NamedTuple

from pytest_webdeliverable.likeness.same import same_picture
from pytest_webdeliverable.likeness.signature import COARSE, coarse

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from pytest_webdeliverable.likeness.signature import Signature

COARSE_ALLOWED: Final = 9
"""Difference of a coarse cell up to which a pair is looked at closely, code values, rounding included."""
MOST_CLOSE: Final = 600
"""Pairs compared closely, about 10 ms each; only an album of bursts reaches it."""
MOST_COARSE: Final = 500_000
"""Pairs whose coarse pictures are compared, about 2 microseconds each."""


class NearDuplicates(NamedTuple):
    """Pairs of ids in the order given; ``complete`` is False where looking on would take too long."""

    pairs: list[tuple[str, str]]
    complete: bool


def near_duplicates(signatures: Sequence[tuple[str, Signature]]) -> NearDuplicates:
    """Find pieces whose pictures are nearly the same.

    Size and compression do not matter; a series that differs in a word or a color is no pair. Each
    picture of a group is paired with one of the group, not with all.
    """
    at_sight = [coarse(signature) for _, signature in signatures]
    group = list(range(len(signatures)))
    pairs: list[tuple[str, str]] = []
    close = 0
    candidates = _candidates(at_sight)
    for looked, (i, j) in enumerate(candidates):
        if close == MOST_CLOSE or looked == MOST_COARSE:
            return NearDuplicates(pairs, complete=False)
        if _root(group, i) == _root(group, j) or not _agree(at_sight[i], at_sight[j]):
            continue
        close += 1
        one, other = signatures[i], signatures[j]
        if same_picture(one[1], other[1])["same"]:
            group[_root(group, j)] = _root(group, i)
            pairs.append((one[0], other[0]))
    return NearDuplicates(pairs, complete=True)


def _root(group: list[int], index: int) -> int:
    while group[index] != index:
        group[index] = group[group[index]]
        index = group[index]
    return index


def _agree(one: bytes, other: bytes) -> bool:
    return all(abs(a - b) <= COARSE_ALLOWED for a, b in zip(one, other, strict=True))


def _candidates(at_sight: Sequence[bytes]) -> Iterator[tuple[int, int]]:
    """Yield each pair of neighboring mean colors once, later pictures last."""
    buckets: dict[tuple[int, ...], list[int]] = defaultdict(list)
    cells = COARSE * COARSE
    for j, values in enumerate(at_sight):
        means = [sum(values[at : at + cells]) / cells for at in range(0, 3 * cells, cells)]
        key = tuple(int(mean / COARSE_ALLOWED) for mean in means)
        for step in product((-1, 0, 1), repeat=3):
            for i in buckets.get((key[0] + step[0], key[1] + step[1], key[2] + step[2]), ()):
                yield i, j
        buckets[key].append(j)

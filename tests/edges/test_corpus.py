"""A small seeded part of the corpus, held to floors well below what the benchmark measures.

benchmarks/edges.py has the figures; this notices when a change loses a whole kind of fault. The floors
leave room for the small number of cases.
"""

from __future__ import annotations

from collections import Counter

import pytest

from pytest_webdeliverable.measure.edges import edge_facts

from . import corpus, drawn, faults

CASES = 24
FLOORS = {"full": 0.9, "part-line": 0.8, "partial": 0.8, "wedge": 0.8, "nick": 0.6, "clear": 0.95}
DEEP = {"nick": 3, "part-line": 0.3, "wedge": 1.01}
"""Least px of a fault that is held to a floor, as in the benchmark's rows."""
VISIBLE = 8.0
"""CIEDE2000 from which a person with normal sight has no doubt."""


@pytest.mark.parametrize("fault", sorted(faults.MAKERS))
def test_recall_on_our_own_art(fault: str) -> None:
    found: Counter[bool] = Counter()
    for seed in range(CASES):
        case = corpus.faulty(seed, fault, "reporting", (corpus.DRAWN,))
        sides = {gap["side"] for gap in edge_facts(case.picture)["gaps"]}
        for one in case.faults:
            if (
                one.depth >= DEEP.get(fault, 0)
                and one.seen >= VISIBLE
                and one.end - one.start >= (fault != "nick") * 0.1
            ):
                found[one.side in sides] += 1
    assert found[True] >= FLOORS[fault] * found.total()
    assert found.total() >= CASES / 2


def test_few_findings_in_our_own_art_without_a_fault() -> None:
    blamed = [
        seed
        for seed in range(40)
        if edge_facts(corpus.clean(seed, corpus.DRAWN, "reporting").picture)["gaps"]
    ]
    assert len(blamed) <= 2


def test_the_corpus_is_seeded() -> None:
    one, other = (corpus.faulty(5, "partial", "tuning", (corpus.DRAWN,)) for _ in range(2))
    assert one.picture.tobytes() == other.picture.tobytes()
    assert one.faults == other.faults


def test_halves_share_no_art() -> None:
    for kind in drawn.KINDS:
        assert (
            drawn.draw(kind, 2, (200, 150)).tobytes() != drawn.draw(kind, 3, (200, 150)).tobytes()
        )

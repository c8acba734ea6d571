"""Settings that are out of all measure: a slip of the hand must not take the machine down."""

from __future__ import annotations

from pathlib import Path

TESTS = str(Path(__file__).parents[1])


def test_a_million_processes_are_not_started(portfolio) -> None:
    portfolio.piece()
    (portfolio.folder / "conftest.py").write_text(
        "from pytest_webdeliverable.measure import crew\n"
        "real = crew.Crew\n"
        "def few(size, *args):\n"
        "    assert size <= 64, f'{size} processes'\n"
        "    return real(2, *args)\n"
        "crew.Crew = few\n"
    )
    run = portfolio.run("-p", "in_processes", "--deliverable-workers=1000000", PYTHONPATH=TESTS)
    assert run.code == 0, run.out

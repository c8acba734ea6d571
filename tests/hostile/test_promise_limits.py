"""The limits are the run's: its ini file changes them, and nothing in a manifest does."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, MIB, changed_limits

MISTAKES = {
    "pixels": 'write a limit as "pixels = 64_000_000"',
    "pixel = 5": "did you mean 'pixels'?",
    "bytes.jpg = 5": "did you mean 'bytes.jpeg'?",
    "rubbish = 5": "there is no limit 'rubbish'",
    "pixels = many": "needs a number",
    "pixels = nan": "needs a number",
    "pixels = inf": "needs a number",
    "pixels = -1": "needs a number",
    "pixels = 0": "needs a number",
    "bytes_by_format = 5": "there is no limit",
}


def test_lines_change_limits() -> None:
    changed = changed_limits(
        ["pixels = 100_000_000", " seconds=2.5 ", "bytes.jpeg = 100 MiB", "decode_bytes = 1e9"]
    )
    assert (changed.pixels, changed.seconds, changed.decode_bytes) == (100_000_000, 2.5, 10**9)
    assert changed.bytes_by_format["jpeg"] == 100 * MIB
    assert changed.bytes_by_format["png"] == DEFAULT_LIMITS.bytes_by_format["png"]
    assert changed.jpeg_scans == DEFAULT_LIMITS.jpeg_scans
    assert changed_limits([]) == DEFAULT_LIMITS


@pytest.mark.parametrize("line", MISTAKES)
def test_mistakes_are_told_before_anything_is_collected(pytester, line) -> None:
    pytester.makeini(f"[pytest]\ndeliverable_limits =\n    {line}\n")
    run = pytester.runpytest_subprocess()
    assert run.ret == pytest.ExitCode.USAGE_ERROR
    assert MISTAKES[line] in run.stderr.str()
    assert "Traceback" not in run.stderr.str()


def test_a_run_keeps_to_them_also_after_a_run_that_kept_to_others(portfolio) -> None:
    portfolio.piece()
    readable = "a::file-readable"
    assert portfolio.run().outcomes()[readable] == "passed"
    portfolio.manifest("[pytest]\ndeliverable_limits =\n    pixels = 1000\n", "pytest.ini")
    run = portfolio.run()
    assert run.outcomes()[readable] == "failed"
    assert "at most 0 are decoded" in run.check(readable)["message"]
    portfolio.manifest("[pytest]\ndeliverable_limits =\n    bytes.jpeg = 100\n", "pytest.ini")
    assert "may have" in portfolio.run().check(readable)["message"]
    (portfolio.folder / "pytest.ini").unlink()
    assert portfolio.run().outcomes()[readable] == "passed"


def test_a_manifest_cannot_change_them(portfolio) -> None:
    portfolio.piece(spec="[limits]\npixels = 10\n[spec.screen]\nbox = [160, 120]\n")
    run = portfolio.run(report=False)
    assert run.code == 2
    assert "unknown table or key" in run.out


def test_the_page_on_safety_has_every_limit_as_it_is() -> None:
    page = (Path(__file__).parents[2] / "docs" / "safety.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| `(\w+)` \| ([\d,]+(?: MiB)?) \|", page, re.MULTILINE))
    for item in fields(DEFAULT_LIMITS):
        if item.name != "bytes_by_format":
            value = getattr(DEFAULT_LIMITS, item.name)
            mib = f"{value // MIB} MiB" if value % MIB == 0 else ""
            assert rows[item.name] in {f"{value:,}", f"{value:g}", mib}, item.name
    for form, size in DEFAULT_LIMITS.bytes_by_format.items():
        assert re.search(rf"\| .*`bytes\.{form}`.* \| {size // MIB} MiB \|", page), form

"""Where the processor time of one picture goes, as a table and a drawing."""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image
from speed_corpus import DRAWN, corpus
from speed_runs import empty_run, pytest_run, timed, with_counted_items

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

FIGURE = ROOT / "docs" / "figures" / "speed.svg"
PROFILED = 60


def profile(*, draw: bool) -> str:
    """Return the stages as a table, and draw them where that is asked for."""
    found = stages(PROFILED)
    bare = found.pop("bare")
    whole = sum(found.values())
    if draw:
        FIGURE.write_text(drawing(found), encoding="utf-8")
    lines = ["| stage | ms of processor time for one picture | share |", "| --- | --- | --- |"]
    lines += [f"| {name} | {value:.2f} | {value / whole:.0%} |" for name, value in found.items()]
    lines += [f"| together | {whole:.2f} | |", ""]
    lines.append(
        f"Of decoding, {bare:.2f} ms are what a bare Pillow loop takes for these pictures."
    )
    return "\n".join(lines)


def drawing(found: dict[str, float]) -> str:
    """Return bars of the stages as SVG."""
    scale, row, left = 360 / max(found.values()), 30, 290
    parts = []
    for place, (name, value) in enumerate(found.items()):
        y = 12 + place * row
        parts.append(
            f'<text x="{left - 10}" y="{y + 15}" text-anchor="end">{name}</text>'
            f'<rect x="{left}" y="{y}" width="{max(1.0, value * scale):.1f}" height="20"/>'
            f'<text x="{left + value * scale + 8:.1f}" y="{y + 15}">{value:.1f} ms</text>'
        )
    height = 20 + len(found) * row
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="720" height="{height}" role="img" '
        f'aria-label="Processor time of one picture by stage" font-family="sans-serif" font-size="13">'
        f'<rect width="720" height="{height}" fill="#ffffff"/>'
        f'<g fill="#3d5a73">{"".join(parts)}</g></svg>\n'
    )


def stages(count: int) -> dict[str, float]:
    """Return ms of processor time of each stage of measuring and judging one picture, on one thread.

    The last stage is the rest of what a picture takes in a whole cold run, in processes.
    """
    spent: dict[str, list[float]] = {}
    folder = with_counted_items(corpus(DRAWN))
    with tempfile.TemporaryDirectory() as kept:
        for number in range(count):
            measure_stages(folder, f"images/p{number:05}.jpg", Path(kept), spent)
    found = {name: statistics.median(values) for name, values in spent.items()}
    os.environ["PYTHONPATH"] = str(folder)
    cache = folder / "cache"
    ours = pytest_run("-o", f"cache_dir={cache}", "deliverables.toml")
    busy: dict[str, list[float]] = {"nothing": [], "empty": [], "cold": [], "warm": []}
    for _ in range(3):
        shutil.rmtree(cache, ignore_errors=True)
        runs = (pytest_run("--collect-only", "nothing"), empty_run(), ours, ours)
        for name, command in zip(busy, runs, strict=True):
            busy[name].append(timed(folder, command).busy)
    nothing, empty, cold, warm = (statistics.median(values) for values in busy.values())
    items = (empty - nothing) / DRAWN * 1000
    found["pytest: as many empty items"] = items
    known = found["read the file, SHA-256"]
    found["judge, keep, tell"] = max(0.0, (warm - nothing) / DRAWN * 1000 - items - known)
    rest = (cold - nothing) / DRAWN * 1000 - sum(found.values()) + found["bare"]
    found["processes: their start, and side by side"] = max(0.0, rest)
    return found


def measure_stages(folder: Path, file: str, kept: Path, spent: dict[str, list[float]]) -> None:
    """Add the ms of processor time of each stage of measuring a picture to ``spent``."""
    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.color import color_facts
    from pytest_webdeliverable.measure.content import _pixel_facts
    from pytest_webdeliverable.measure.decode import decode
    from pytest_webdeliverable.measure.door import read_file
    from pytest_webdeliverable.measure.edges import edge_facts
    from pytest_webdeliverable.measure.headers import read_header
    from pytest_webdeliverable.measure.likeness import signature
    from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
    from pytest_webdeliverable.measure.metadata import metadata_facts, read_metadata

    def lap(name: str, start: float) -> float:
        spent.setdefault(name, []).append((time.thread_time() - start) * 1000)
        return time.thread_time()

    at = time.thread_time()
    with Image.open(folder / file) as bare:
        bare.load()
    del bare
    spent.setdefault("bare", []).append((time.thread_time() - at) * 1000)
    at = time.thread_time()
    source = read_file(folder, file)
    at = lap("read the file, SHA-256", at)
    header = read_header(source.data)
    metadata = read_metadata(header, DEFAULT_LIMITS)
    facts = {"metadata": metadata_facts(header, DEFAULT_LIMITS, metadata)}
    color_facts(header, DEFAULT_LIMITS, None)
    at = lap("headers, metadata, profile", at)
    shown = decode(source.data, header, DEFAULT_LIMITS).picture
    at = lap("decode", at)
    _pixel_facts(shown)
    at = lap("checksum of the pixels", at)
    facts["edges"] = edge_facts(shown)
    at = lap("edges", at)
    facts["likeness"] = signature(shown)
    at = lap("likeness", at)
    FactsCache.at(kept / "cache").put(source.sha256, ("edges", "likeness"), facts)
    lap("keep in the cache", at)

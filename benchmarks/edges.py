"""Measure the edge detector on pictures never used for tuning, and print the table of docs/edges.md.

    python benchmarks/edges.py                 # the table, a few minutes
    python benchmarks/edges.py --count 60      # quicker, wider intervals
    python benchmarks/edges.py --write         # also put it into docs/edges.md

Our own art is always there; real pictures count when their packages are installed, or unpacked below the
folders of EDGES_PICTURES (see tests/edges/real.py).
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
from collections import defaultdict
from dataclasses import dataclass, field
from math import sqrt
from multiprocessing import Pool
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from pytest_webdeliverable.measure.edges import Gap, edge_facts  # noqa: E402
from tests.edges import corpus, faults, real  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import Iterable

DOCS = ROOT / "docs" / "edges.md"
BEGIN, END = "<!-- begin table: benchmarks/edges.py -->", "<!-- end table -->"

VISIBLE = 5.0
"""CIEDE2000 between the outermost line and the art beside it, mean along the gap."""
SLACK = 0.01
"""Share of a side by which a finding may miss a gap's end and still be it."""
SCREEN_INSET = 12
"""px cut off screenshots in the second row about them: their window frames."""

REACH = {
    "full": ("full length, 1 px and more", "99.5 %"),
    "part": ("part-covered line, 30 % page or more", "98 %"),
    "part-faint": ("part-covered line, 15 to 30 % page", ""),
    "partial": ("partial length, 10 % of a side or more", "98 %"),
    "partial-short": ("partial length, 5 to 10 %", ""),
    "wedge": ("wedges deeper than 1 px", "98 %"),
    "wedge-shallow": ("wedges up to 1 px", ""),
    "nick": ("corner nicks, 3 px and more", "90 %"),
    "clear": ("transparent or half-transparent", "99.9 %"),
}


@dataclass
class Count:
    """Hits of a number of trials, and the same by class of picture."""

    hits: int = 0
    trials: int = 0
    bases: set[str] = field(default_factory=set)

    def add(self, hit: bool, base: str) -> None:
        """Count one trial on a base picture."""
        self.hits += hit
        self.trials += 1
        self.bases.add(base)


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """Return the 95 % confidence interval of a share (Wilson 1927, JASA 22:209)."""
    if not trials:
        return 0.0, 1.0
    z = 1.959964
    share, square = hits / trials, z * z / trials
    middle = (share + square / 2) / (1 + square)
    half = z * sqrt(share * (1 - share) / trials + square / (4 * trials)) / (1 + square)
    return max(0.0, middle - half), min(1.0, middle + half)


def category(fault: faults.Fault) -> str | None:
    """Return the row a fault belongs to, or None if it is too faint or small to be held to."""
    if fault.seen < VISIBLE:
        return None
    length = fault.end - fault.start
    match fault.kind:
        case "full":
            return "full"
        case "part-line":
            return "part" if fault.depth >= 0.3 else "part-faint"
        case "partial":
            if fault.depth < 0.3:
                return "part-faint"
            return "partial" if length >= 0.1 else "partial-short"
        case "wedge":
            return "wedge" if fault.depth > 1.01 else "wedge-shallow"
        case "nick":
            return "nick" if fault.depth >= 3 else None
        case _:
            return "clear"


def finds(gaps: list[Gap], fault: faults.Fault) -> list[Gap]:
    """Return the findings that are this fault."""
    return [
        gap
        for gap in gaps
        if gap["side"] == fault.side
        and gap["start"] <= fault.end + SLACK
        and gap["end"] >= fault.start - SLACK
    ]


@dataclass
class Outcome:
    """What one faulty case gave: rows of (category, class, base, hit, depth error or None)."""

    rows: list[tuple[str, str, str, bool, float | None]]
    stray: bool
    """Whether a side without a fault was blamed."""
    kind: str


def try_faulty(task: tuple[int, str, str, tuple[str, ...]]) -> Outcome:
    seed, fault, half, kinds = task
    case = corpus.faulty(seed, fault, half, kinds)
    gaps = edge_facts(case.picture)["gaps"]
    rows: list[tuple[str, str, str, bool, float | None]] = []
    groups = [case.faults] if fault == "nick" else [[one] for one in case.faults]
    for group in groups:
        row = category(group[0])
        if row is None:
            continue
        found = [gap for one in group for gap in finds(gaps, one)]
        error = min((abs(gap["depth"] - group[0].depth) for gap in found), default=None)
        rows.append((row, case.kind, case.base, bool(found), error))
    sides = {one.side for one in case.all_faults}
    return Outcome(rows, any(gap["side"] not in sides for gap in gaps), case.kind)


def try_clean(task: tuple[int, str, str, int]) -> tuple[str, bool, float, tuple[int, int]]:
    seed, kind, half, inset = task
    case = corpus.clean(seed, kind, half, inset)
    times = []
    for _ in range(3):
        began = time.process_time()
        gaps = edge_facts(case.picture)["gaps"]
        times.append(time.process_time() - began)
    return case.base, bool(gaps), min(times), case.picture.size


def percent(count: Count) -> str:
    low, high = wilson(count.hits, count.trials)
    share = 100 * count.hits / max(1, count.trials)
    return f"{share:.1f} % ({100 * low:.1f} to {100 * high:.1f}) | {count.hits} of {count.trials}"


def recall_rows(outcomes: Iterable[Outcome], kinds: tuple[str, ...]) -> list[str]:
    total: dict[str, Count] = defaultdict(Count)
    by_kind: dict[tuple[str, str], Count] = defaultdict(Count)
    errors: list[float] = []
    for outcome in outcomes:
        for row, kind, base, hit, error in outcome.rows:
            total[row].add(hit, base)
            by_kind[row, kind].add(hit, base)
            if error is not None and row not in {"part-faint", "wedge-shallow"}:
                errors.append(error)
    lines = [
        "| recall | found (95 % interval) | sides | base pictures | reach | "
        + " | ".join(kinds)
        + " |",
        "| --- | --- | --- | --- | --- |" + " --- |" * len(kinds),
    ]
    for row, (label, reach) in REACH.items():
        if row in total:
            parts = []
            for kind in kinds:
                one = by_kind[row, kind]
                parts.append(f"{100 * one.hits / one.trials:.1f} %" if one.trials else "")
            lines.append(
                f"| {label} | {percent(total[row])} | {len(total[row].bases)} | {reach} | "
                + " | ".join(parts)
                + " |"
            )
    if errors:
        near = Count(sum(error <= 0.5 for error in errors), len(errors))
        lines += ["", f"Depth within 0.5 px: {percent(near)} findings (reach: 95 %)."]
    return lines


LABELS = {
    real.PHOTOGRAPH: ("photographs", "at most 0.5 %"),
    real.GRAPHIC: ("wallpapers, themes, clip art", "at most 1.5 %"),
    real.SCREEN: ("screenshots and figures, whole", ""),
    "screen-inset": ("screenshots without their outermost 12 px", "at most 1.5 %"),
    corpus.DRAWN: ("our own art", ""),
}


def false_rows(results: dict[str, list[tuple[str, bool, float, tuple[int, int]]]]) -> list[str]:
    lines = [
        (
            "| false positives | pictures with a finding (95 % interval) | pictures | reach "
            "| base pictures with one (95 % interval) | base pictures |"
        ),
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for kind, (label, reach) in LABELS.items():
        found = results.get(kind, [])
        if not found:
            continue
        pictures = Count(sum(hit for _, hit, _, _ in found), len(found))
        names = {base for base, _, _, _ in found}
        hit_names = {base for base, hit, _, _ in found if hit}
        bases = Count(len(hit_names), len(names))
        lines.append(f"| {label} | {percent(pictures)} | {reach} | {percent(bases)} |")
    return lines


def cost_line(results: dict[str, list[tuple[str, bool, float, tuple[int, int]]]]) -> str:
    times = sorted(
        1000 * seconds
        for found in results.values()
        for _, _, seconds, size in found
        if size == (1600, 1200)
    )
    if not times:
        return "Cost: no picture of 1600 x 1200 drawn in this run."
    middle, most = times[len(times) // 2], times[int(0.95 * len(times))]
    return (
        f"Cost beyond decoding, 1600 x 1200, one core: median {middle:.1f} ms, 95th percentile "
        f"{most:.1f} ms over {len(times)} pictures without a gap, gaps, frame, margins and blank "
        f"together (reach: 6 ms median)."
    )


def table(half: str, count: int, workers: int, blamed: list[str]) -> str:
    kinds = corpus.available(half)
    with Pool(workers) as pool:
        tasks = [(seed, kind, half, kinds) for kind in faults.MAKERS for seed in range(count)]
        outcomes = pool.map(try_faulty, tasks, chunksize=4)
        results = {}
        for kind in LABELS:
            source = real.SCREEN if kind == "screen-inset" else kind
            inset = SCREEN_INSET if kind == "screen-inset" else 0
            if source in kinds:
                clean = [(seed, source, half, inset) for seed in range(2 * count)]
                results[kind] = pool.map(try_clean, clean, chunksize=4)
    blamed += sorted(
        {f"{kind}: {one[0]}" for kind, found in results.items() for one in found if one[1]}
    )
    stray = Count(sum(one.stray for one in outcomes), len(outcomes))
    lines = recall_rows(outcomes, kinds)
    lines += ["", *false_rows(results), ""]
    lines.append(f"In {percent(stray)} cut pictures a side that was not cut was blamed as well.")
    lines += ["", cost_line(results)]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--half", choices=corpus.HALVES, default="reporting")
    parser.add_argument("--count", type=int, default=400, help="cases per kind of fault")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--list", action="store_true", help="name the uncut pictures blamed")
    parser.add_argument("--write", action="store_true", help="put the table into docs/edges.md")
    options = parser.parse_args()
    began = time.time()
    blamed: list[str] = []
    text = table(options.half, options.count, options.workers, blamed)
    print(text)
    if options.list:
        print("\n".join(["", *blamed]))
    print(f"\n{time.time() - began:.0f} s, Python {platform.python_version()}")
    if options.write:
        page = DOCS.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN)
        _, after = rest.split(END)
        DOCS.write_text(f"{before}{BEGIN}\n\n{text}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()

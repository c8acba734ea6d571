"""What came of trying mutants: figures with their interval, and every survivor."""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from pathlib import Path


def interval(killed: int, tried: int) -> tuple[float, float]:
    """Wilson's interval of a proportion at 95 % (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212)."""
    z = 1.959964
    share = killed / tried
    middle = (share + z * z / (2 * tried)) / (1 + z * z / tried)
    half = (
        z
        / (1 + z * z / tried)
        * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    )
    return middle - half, middle + half


def part(file: str) -> str:
    """The row of the table: a folder of measuring, or a module."""
    names = Path(file).parts[1:]
    return "/".join(names[:-1]) or names[-1]


def show(results: Path) -> None:
    """Print the figures by part, and the survivors."""
    tried = [json.loads(line) for line in results.read_text().splitlines()]
    rows: dict[str, Counter[bool]] = defaultdict(Counter)
    for one in tried:
        for row in (
            part(one["file"]),
            "all",
            *(["without edges"] if "/edges/" not in one["file"] else []),
        ):
            rows[row][bool(one["killed"])] += 1
    print(f"{'':24} tried killed     %   95 %")
    for row, counts in sorted(
        rows.items(), key=lambda item: (item[0] in {"all", "without edges"}, item[0])
    ):
        number, killed = counts.total(), counts[True]
        low, high = interval(killed, number)
        print(f"{row:24} {number:5} {killed:6} {killed / number:5.0%}   {low:.0%} to {high:.0%}")
    for one in sorted(tried, key=lambda one: (one["file"], one["line"])):
        if not one["killed"]:
            print(
                f"{one['file']}:{one['line']} [{one['done']}; {one['tests']} tests] {one['text'][:170]}"
            )

"""How often `resaved`, `cropped-after-compression` and `enlarged` are right, on real photographs.

    python benchmarks/history.py FOLDER... [--art FOLDER...] [--part report|tune] [--write]

FOLDER holds photographs that are JPEGs or lossless, at least 2,560 px long: they are reduced by
2.5 to 5 with Lanczos, so that no trace of their own past is meant to be left. Half of them (by the
hash of the name) were used to set the thresholds; the other half is reported on. Photographs that
Debian ships with its desktops serve (gnome-backgrounds, budgie-backgrounds, lomiri-wallpapers-*,
mate-backgrounds, plasma-workspace-wallpapers); --art takes drawn and rendered pictures, on which
nothing may be found. `--write` puts the tables into docs/history.md.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from math import sqrt
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageFilter

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from pytest_webdeliverable.measure.history import cropped as cropping  # noqa: E402
from pytest_webdeliverable.measure.history import history_facts  # noqa: E402
from pytest_webdeliverable.measure.history import resaved as resaving  # noqa: E402
from pytest_webdeliverable.measure.history.mosaic import choose_squares, luma  # noqa: E402
from tests.photographs import as_jpeg  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import Callable

SUFFIXES = {".jpg", ".png", ".webp"}
FILTERS = {
    "bilinear": Image.Resampling.BILINEAR,
    "bicubic": Image.Resampling.BICUBIC,
    "Lanczos": Image.Resampling.LANCZOS,
}
STEP = 60
LASTS = (98, 95, 90, 85, 80, 75)
PAIRS = tuple(
    (first, last)
    for last in (75, 80, 85, 90, 95, 98)
    for first in (50, 60, 70, 75, 80, 85, 90)
    if first <= last - 5
)
FACTORS = (1.1, 1.25, 4 / 3, 1.5, 1.6, 2.0, 2.5, 3.0, 4.0)
Z = 1.959964  # 97.5 % point of the normal distribution
DOCS = ROOT / "docs" / "history.md"
BEGIN, END = "<!-- generated: benchmarks/history.py -->", "<!-- end of generated -->"


def part_of(name: str) -> str:
    return "tune" if hashlib.sha256(name.encode()).digest()[0] % 2 == 0 else "report"


def photographs(folders: list[str], part: str | None) -> list[tuple[str, Path]]:
    found: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(Path(folder).rglob("*")):
            if path.suffix in SUFFIXES and path.is_file() and not path.is_symlink():
                found.setdefault(path.stem, path)
    return [(name, path) for name, path in found.items() if part in (None, part_of(name))]


def reduced(path: Path) -> Image.Image | None:
    """Picture reduced in one step, by 5 or (below 3,800 px) 2.5; None if too small for that."""
    with Image.open(path) as opened:
        longest = max(opened.size)
        if longest < 2560:
            return None
        factor = 5.0 if longest >= 3800 else 2.5
        size = round(opened.width / factor), round(opened.height / factor)
        picture = opened.convert("RGB").resize(size, Image.Resampling.LANCZOS)
    # whole numbers of pixels after most of the factors, as when 800 px become 1600
    return picture.crop((0, 0, picture.width // STEP * STEP, picture.height // STEP * STEP))


def wilson(hits: int, total: int) -> str:
    """Share with its 95 % interval (E. B. Wilson, JASA 22, 1927)."""
    if not total:
        return "none"
    p = hits / total
    middle = (p + Z * Z / (2 * total)) / (1 + Z * Z / total)
    half = Z / (1 + Z * Z / total) * sqrt(p * (1 - p) / total + Z * Z / (4 * total * total))
    low, high = max(0.0, middle - half), min(1.0, middle + half)
    return f"{100 * p:.1f} % ({hits}/{total}; {100 * low:.1f} to {100 * high:.1f})"


def _nothing() -> list[int]:
    return [0, 0, 0]


class Tally:
    """Counts of found and looked at, by rule and kind of picture."""

    def __init__(self) -> None:
        self.counts: dict[tuple[str, str], list[int]] = defaultdict(_nothing)
        self.alarms: list[str] = []

    def merge(self, other: Tally) -> None:
        """Add another tally's counts."""
        for key, counts in other.counts.items():
            self.counts[key] = [a + b for a, b in zip(self.counts[key], counts, strict=True)]
        self.alarms += other.alarms

    def add(self, rule: str, kind: str, *, found: bool, right: bool = True) -> None:
        """Count one picture."""
        entry = self.counts[rule, kind]
        entry[0] += found
        entry[1] += 1
        entry[2] += found and right

    def table(self, rule: str, heading: str, last: str = "") -> list[str]:
        """Markdown rows of one rule; ``last`` heads a column of how often the detail was right."""
        lines = [
            f"| {heading} | found{last and ' | ' + last} |",
            f"| --- | ---{last and ' | ---'} |",
        ]
        for (of, kind), (hits, total, right) in self.counts.items():
            if of == rule:
                share = f" | {right}/{hits}" if last else ""
                lines.append(f"| {kind} | {wilson(hits, total)}{share} |")
        return [*lines, ""]


def look(picture: Image.Image, last: int, rules: tuple[str, ...]) -> dict:
    """Facts for ``rules`` of a picture saved with quality ``last``, or losslessly if that is 0.

    One rule is measured by itself, to save time; more are measured as the plugin does.
    """
    shown = as_jpeg(picture, last) if last else picture
    if len(rules) > 1 or rules == ("enlarged",):
        kind, quality = ("jpeg", last) if last else ("png", None)
        facts = history_facts(shown, format=kind, quality=quality)
        return {rule: facts[rule] for rule in rules if last or rule != "resaved"}
    gray = luma(shown)
    side, corners = choose_squares(gray)
    if not corners:
        return {"resaved": resaving.undecided("plain"), "cropped": cropping.undecided("plain")}
    if rules == ("resaved",):
        return {"resaved": resaving.resaved(gray, side, corners, last)}
    return {"cropped": cropping.cropped(gray, side, corners)}


def untouched(tally: Tally, name: str, size: str, picture: Image.Image) -> None:
    for last in (0, *LASTS):
        facts = look(picture, last, ("resaved", "cropped", "enlarged"))
        for rule, fact in facts.items():
            found = fact["found"]
            tally.add(f"{rule} alarms", f"{size}, {'JPEG' if last else 'lossless'}", found=found)
            if found:
                tally.alarms.append(f"{rule}: {name}, {size}, quality {last or 'lossless'}")


def saved_again(tally: Tally, size: str, picture: Image.Image, rnd: random.Random) -> None:
    for first, last in PAIRS if size == "whole" else rnd.sample(PAIRS, 8):
        facts = look(as_jpeg(picture, first), last, ("resaved",))["resaved"]
        near = facts["first-quality"] is not None and abs(facts["first-quality"] - first) <= 2
        label = f"{first} to {last}" if size == "whole" else "400 x 300, all"
        tally.add("resaved", label, found=facts["found"], right=near)
    for first, last in ((80, 95), (60, 90), (50, 80)):  # aligned: not cropped, not enlarged
        facts = look(as_jpeg(picture, first), last, ("cropped", "enlarged"))
        tally.add("cropped alarms", f"{size}, saved twice", found=facts["cropped"]["found"])
        tally.add("enlarged alarms", f"{size}, saved twice", found=facts["enlarged"]["found"])


def cut(tally: Tally, size: str, picture: Image.Image, rnd: random.Random) -> None:
    for last in (0, 95, 90, 85, 80) if size == "whole" else (0, 95, 90):
        for first in (50, 70, 80, 90, 95):
            x, y = rnd.choice([(x, y) for x in range(8) for y in range(8) if x or y])
            shown = as_jpeg(picture, first).crop((x, y, *picture.size))
            facts = look(shown, last, ("cropped",))["cropped"]
            right = facts["offset"] == [-x % 8, -y % 8]
            label = f"{first}, then {f'JPEG {last}' if last else 'lossless'}"
            label = label if size == "whole" else f"400 x 300, then {last or 'lossless'}"
            tally.add("cropped", label, found=facts["found"], right=right)


def enlarged(tally: Tally, size: str, picture: Image.Image, rnd: random.Random) -> None:
    for factor in FACTORS:
        small = (round(picture.width / factor), round(picture.height / factor))
        source = picture.resize(small, Image.Resampling.LANCZOS)
        for last in (0, 95, 90, 80) if size == "whole" else (0, 90):
            shown = source.resize(picture.size, FILTERS[rnd.choice(list(FILTERS))])
            facts = look(shown, last, ("enlarged",))["enlarged"]
            label = f"{factor:.2f}, {f'JPEG {last}' if last else 'lossless'}"
            label = label if size == "whole" else f"400 x 300, {last or 'lossless'}, all factors"
            right = facts["factor"] is not None and abs(facts["factor"] - factor) < 0.02
            tally.add("enlarged", label, found=facts["found"], right=right)


def soft(tally: Tally, name: str, picture: Image.Image) -> None:
    for radius in (0.6, 1.2, 2.5):
        blurred = picture.filter(ImageFilter.GaussianBlur(radius))
        for last in (0, 90):
            facts = look(blurred, last, ("cropped", "enlarged"))
            for rule in ("cropped", "enlarged"):
                tally.add(f"{rule} alarms", "softened", found=facts[rule]["found"])
                if facts[rule]["found"]:
                    tally.alarms.append(f"{rule}: {name}, softened by {radius}, {last}")


def measure(photo: tuple[str, Path]) -> Tally | None:
    """Look at one photograph in all its renditions; None if it is too small."""
    name, path = photo
    tally = Tally()
    picture = reduced(path)
    if picture is None:
        return None
    rnd = random.Random(name)
    thumb = picture.copy()
    thumb.thumbnail((400, 300), Image.Resampling.LANCZOS)
    for size, shown in (("whole", picture), ("400 x 300", thumb)):
        untouched(tally, name, size, shown)
        saved_again(tally, size, shown, rnd)
        cut(tally, size, shown, rnd)
        enlarged(tally, size, shown, rnd)
    soft(tally, name, picture)
    return tally


def measure_art(piece: tuple[str, Path]) -> Tally | None:
    tally = Tally()
    picture = reduced(piece[1])
    if picture is None:
        return None
    untouched(tally, piece[0], "art", picture)
    return tally


def total(of: Callable[[tuple[str, Path]], Tally | None], files: list) -> tuple[Tally, int]:
    whole, used = Tally(), 0
    with ProcessPoolExecutor(2) as pool:
        for tally in pool.map(of, files):
            if tally is not None:
                whole.merge(tally)
                used += 1
    return whole, used


def report(tally: Tally, used: int, part: str, art: Tally | None) -> str:
    lines = [
        (
            f"{used} photographs of the half that {'was' if part == 'tune' else 'was not'} used to "
            "set the thresholds; shares with 95 % intervals (Wilson). Renditions of one photograph "
            "are not independent, so the true intervals are wider."
        ),
        "",
        "**False alarms** on pictures without such a past:",
        "",
    ]
    for rule in ("resaved", "cropped", "enlarged"):
        lines += tally.table(f"{rule} alarms", f"`{rule}`, untouched photographs")
        if art is not None:
            lines += art.table(f"{rule} alarms", f"`{rule}`, drawn and rendered pictures")
    lines += ["**Found**, saved twice on the same grid:", ""]
    lines += tally.table("resaved", "first to last quality", "first quality right within 2")
    lines += ["**Found**, saved, cut by 0 to 7 px each way (not 0 both), saved again:", ""]
    lines += tally.table("cropped", "first quality, then", "offset right")
    lines += ["**Found**, enlarged (bilinear, bicubic or Lanczos by lot):", ""]
    lines += tally.table("enlarged", "factor, saved as", "factor right")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("folders", nargs="+")
    parser.add_argument("--art", nargs="*", default=[])
    parser.add_argument("--part", choices=("report", "tune"), default="report")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    tally, used = total(measure, photographs(options.folders, options.part))
    art = total(measure_art, photographs(options.art, None))[0] if options.art else None
    text = report(tally, used, options.part, art)
    print(text)
    print("\nalarms:", *tally.alarms, *(art.alarms if art else []), sep="\n  ")
    if options.write:
        page = DOCS.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        tail = rest.partition(END)[2]
        DOCS.write_text(f"{head}{BEGIN}\n\n{text}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()

"""Time whole pytest runs side by side and put the tables into docs/speed.md.

    python benchmarks/speed.py                     # 400 pictures, 5 interleaved rounds: the table
    python benchmarks/speed.py --sizes 100,1000,10000   # time and memory as portfolios grow
    python benchmarks/speed.py --profile           # where the time of one picture goes, and its drawing
    python benchmarks/speed.py --all --write       # all of it, into docs/speed.md

Everything runs in processes of its own, interleaved, so that a slow minute of the machine hits all alike;
figures are medians. The floor is what no checker can do without: decoding each picture once, and as many
empty test items, which are counted in a run of ours. pyperf would repeat each run in fresh processes, one
command after the other; whole runs of seconds are that already, and interleaving them counts for more.

The hand-written file is what people write today, for the same rules: parametrized, Pillow and numpy, the
file opened where it is needed. ``by hand, once`` is the same with a fixture that decodes each picture
once. Both leave out what nobody writes by hand: nearly equal pictures, pieces of an edge, the true
spelling on disk, damage that Pillow decodes without a word, embedded previews, and what to do about it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL import Image, ImageCms

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

SEED = 20261125
DRAWN = 400
BOX = (1600, 1200)
CORPUS = ROOT / "benchmarks" / ".corpus"
DOCS = ROOT / "docs" / "speed.md"
FIGURE = ROOT / "docs" / "figures" / "speed.svg"
PROFILED = 60
END = "<!-- end table -->"

HANDWRITTEN = """
import io
import tomllib
import zlib
from pathlib import Path
import numpy as np
import pytest
from PIL import Image, ImageCms

FILES = sorted(Path("images").glob("*.jpg"))
ids = [file.stem for file in FILES]
ALT = {Path(one["file"]).name: one["alt"] for one in tomllib.loads(Path("deliverables.toml").read_text())["piece"]}

OPENED

PARAMETRIZED
class TestPicture:
    def test_readable(self, file): opened(file)
    def test_format(self, file): assert header(file).format == "JPEG"
    def test_size(self, file):
        width, height = header(file).size
        assert (width in (1600, 1601) and height <= 1201) or (height in (1200, 1201) and width <= 1601)
    def test_density(self, file): assert header(file).info["dpi"] == (72, 72)
    def test_mode(self, file): assert header(file).mode == "RGB"
    def test_profile(self, file):
        profile = ImageCms.ImageCmsProfile(io.BytesIO(header(file).info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
    def test_process(self, file): assert not header(file).info.get("progressive")
    def test_quality(self, file): assert np.mean(header(file).quantization[0]) < 12
    def test_edges(self, file):
        pixels = np.asarray(opened(file))
        for line, inner in ((pixels[0], pixels[4]), (pixels[-1], pixels[-5]),
                            (pixels[:, 0], pixels[:, 4]), (pixels[:, -1], pixels[:, -5])):
            line, inner = line.astype(float), inner.astype(float)
            flat = line.std(axis=0).max() < 2
            assert not (flat and np.abs(line.mean(axis=0) - inner.mean(axis=0)).max() > 10)
    def test_location(self, file): assert 0x8825 not in header(file).getexif()
    def test_device(self, file): assert 0xA431 not in header(file).getexif()
    def test_alt(self, file): assert 0 < len(ALT[file.name]) <= 250

def test_no_duplicates():
    SUMS
    assert len(sums) == len(FILES)
"""

AT_EACH_TEST = (
    """
def header(file):
    with Image.open(file) as picture:
        return picture

def opened(file):
    with Image.open(file) as picture:
        picture.load()
        return picture
""",
    '@pytest.mark.parametrize("file", FILES, ids=ids)',
)
ONCE = (
    """
known, sums = {}, set()

@pytest.fixture(scope="module", params=FILES, ids=ids)
def file(request):
    with Image.open(request.param) as picture:
        picture.load()
    known[request.param] = picture
    sums.add(zlib.crc32(np.asarray(picture)))
    yield request.param
    del known[request.param]

def opened(file):
    return known[file]

header = opened
""",
    "",
)

EMPTY = """
import pytest

COUNTS = {counts}

class Folder(pytest.File):
    def collect(self):
        for piece, count in enumerate(COUNTS):
            yield Piece.from_parent(self, name=f"p{{piece:05}}", count=count)

class Piece(pytest.Collector):
    def __init__(self, count, **kwargs):
        super().__init__(**kwargs)
        self.count = count
    def collect(self):
        for item in range(self.count):
            yield Empty.from_parent(self, name=f"rule-{{item}}")

class Empty(pytest.Item):
    def runtest(self):
        pass
    def reportinfo(self):
        return self.path, 0, self.name

def pytest_collect_file(file_path, parent):
    if file_path.name == "empty.toml":
        return Folder.from_parent(parent, path=file_path)
"""

FLOOR = """
import sys
from pathlib import Path
from PIL import Image
for file in sorted(Path("images").glob("*.jpg")):
    with Image.open(file) as picture:
        picture.load()
"""


def picture(number: int) -> Image.Image:
    """Draw art of its own for each number: soft fields, sharp shapes, some grain."""
    random = np.random.default_rng(SEED + number)
    coarse = random.integers(0, 256, (6, 8, 3), dtype=np.uint8)
    art = np.asarray(Image.fromarray(coarse).resize(BOX, Image.Resampling.BICUBIC)).astype(np.int16)
    for _ in range(12):
        left, top = random.integers(0, BOX[0] - 200), random.integers(0, BOX[1] - 200)
        wide, high = random.integers(40, 600, 2)
        art[top : top + high, left : left + wide] = random.integers(0, 256, 3)
    art += random.normal(0, 6, (BOX[1], BOX[0], 1)).astype(np.int16)
    return Image.fromarray(art.clip(0, 255).astype(np.uint8))


def corpus(count: int) -> Path:
    """Return a folder with so many pictures, drawn once and kept."""
    folder = CORPUS / str(count)
    images = folder / "images"
    images.mkdir(parents=True, exist_ok=True)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    options = {"quality": 95, "subsampling": 0, "dpi": (72, 72), "icc_profile": profile}
    lines = []
    for number in range(count):
        file = images / f"p{number:05}.jpg"
        if number < DRAWN and not file.exists():
            picture(number).save(file, **options)
        elif not file.exists():
            # Beyond that, the same pictures under other bytes: a comment segment (T.81, B.2.4.5).
            drawn = (images / f"p{number % DRAWN:05}.jpg").read_bytes()
            comment = b"\xff\xfe\x00\x07%05d" % number
            file.write_bytes(drawn[:2] + comment + drawn[2:])
        lines.append(
            f'[[piece]]\nfile = "images/{file.name}"\nalt = "Fields and shapes, plate {number}"\n'
        )
    (folder / "deliverables.toml").write_text("\n".join(lines))
    for name, (opened, parametrized) in (("by_hand", AT_EACH_TEST), ("once", ONCE)):
        text = HANDWRITTEN.replace("OPENED", opened).replace("PARAMETRIZED", parametrized)
        sums = "sums = {zlib.crc32(np.asarray(opened(file))) for file in FILES}"
        text = text.replace("SUMS", sums if name == "by_hand" else "")
        (folder / f"test_{name}.py").write_text(text)
    (folder / "pytest.ini").write_text("[pytest]\n")  # not the settings of this project
    (folder / "empty.toml").write_text("")
    (folder / "nothing").mkdir(exist_ok=True)
    (folder / "floor.py").write_text(FLOOR)
    return folder


def with_counted_items(folder: Path) -> Path:
    """Give the empty plugin as many items for each piece as a run of ours has."""
    listed = subprocess.run(
        pytest_run("--collect-only", "deliverables.toml"),
        cwd=folder,
        capture_output=True,
        check=True,
    ).stdout.decode()
    nodes = [line for line in listed.splitlines() if line.count("::") == 2]
    counts = list(Counter(node.rpartition("::")[0] for node in nodes).values())
    (folder / "conftest_empty.py").write_text(EMPTY.format(counts=counts))
    return folder


def pytest_run(*args: str) -> list[str]:
    """Return a command that runs pytest with nothing but our plugin."""
    quiet = ("-q", "--no-header", "-p", "no:xdist", "-p", "no:cov", "-p", "no:hypothesispytest")
    return [sys.executable, "-m", "pytest", *quiet, *args]


class Cost(NamedTuple):
    """What a run cost: seconds on the clock, seconds of processor time, MB at its peak."""

    seconds: float
    busy: float
    peak: float


def timed(folder: Path, command: list[str]) -> Cost:
    """Run a command in a folder; findings, and no test at all, are fine."""
    with tempfile.TemporaryFile() as output:
        start = time.perf_counter()
        run = subprocess.Popen(command, cwd=folder, stdout=output, stderr=output)
        _, status, used = os.wait4(run.pid, 0)
        took = time.perf_counter() - start
        run.returncode = os.waitstatus_to_exitcode(status)
        if run.returncode not in {0, 1, 5}:
            output.seek(0)
            sys.exit(output.read().decode())
    return Cost(took, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def empty_run() -> list[str]:
    """Return the command that runs the empty plugin."""
    return pytest_run("-p", "no:webdeliverable", "-p", "conftest_empty", "empty.toml")


def measured(folder: Path) -> dict[str, Cost]:
    """Run everything once, cold before warm."""
    cache = folder / "cache"
    shutil.rmtree(cache, ignore_errors=True)
    ours = ("-o", f"cache_dir={cache}", "deliverables.toml")
    header = ("-m", "deliverable_size", "-p", "no:cacheprovider", "deliverables.toml")
    runs = {
        "cold": pytest_run(*ours),
        "warm": pytest_run(*ours),
        "decode": [sys.executable, "floor.py"],
        "empty": empty_run(),
        "header": pytest_run(*header),
        "collect": pytest_run("--collect-only", "deliverables.toml"),
        "nothing": pytest_run("--collect-only", "nothing"),
        "by hand": pytest_run("-p", "no:webdeliverable", "test_by_hand.py"),
        "by hand, once": pytest_run("-p", "no:webdeliverable", "test_once.py"),
    }
    os.environ["PYTHONPATH"] = str(folder)
    return {name: timed(folder, command) for name, command in runs.items()}


def start_up(rounds: int) -> float:
    """Return what the installed plugin costs, in ms, a run in a repository without a manifest."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "test_one.py").write_text("def test_one(): pass\n")
        with_it, without = [], []
        for _ in range(max(rounds, 5) * 3):
            with_it.append(timed(folder, pytest_run()).seconds)
            without.append(timed(folder, pytest_run("-p", "no:webdeliverable")).seconds)
    return (statistics.median(with_it) - statistics.median(without)) * 1000


def table(count: int, rounds: int) -> str:
    """Return the table of the speed page for so many pictures."""
    folder = with_counted_items(corpus(count))
    results = [measured(folder) for _ in range(rounds)]
    mid = {name: statistics.median(one[name].seconds for one in results) for name in results[0]}
    busy = {name: statistics.median(one[name].busy for one in results) for name in results[0]}
    floor = mid["decode"] + mid["empty"]
    rows = [
        (
            "cold, against the floor run in sequence (decode + empty items)",
            mid["cold"] / floor,
            "0.75",
        ),
        ("warm, against the empty plugin", mid["warm"] / mid["empty"], "1.25"),
        ("warm, against cold", mid["warm"] / mid["cold"], "0.45"),
        ("cold, against the hand-written test file", mid["cold"] / mid["by hand"], "0.33"),
        (
            "cold, against the same with a fixture that decodes once",
            mid["cold"] / mid["by hand, once"],
            "",
        ),
        ("header-only selection against cold", mid["header"] / mid["cold"], "0.35"),
    ]
    lines = [
        f"| {count} pictures of {BOX[0]} x {BOX[1]}, {rounds} interleaved rounds | measured | at most |",
        "| --- | --- | --- |",
    ]
    lines += [f"| {what} | {value:.2f} | {most} |" for what, value, most in rows]
    per_image = (mid["collect"] - mid["nothing"]) / count * 1000
    lines.append(f"| `pytest --collect-only`, per image | {per_image:.2f} ms | 4 ms |")
    lines.append(
        f"| start-up cost in a repository with no manifest | {start_up(rounds):.1f} ms | 10 ms |"
    )
    seconds = ", ".join(f"{name} {value:.2f} ({busy[name]:.2f})" for name, value in mid.items())
    return "\n".join(lines) + f"\n\nSeconds on the clock (of processor time): {seconds}."


def growth(sizes: list[int]) -> str:
    """Return time per image and peak memory for several numbers of pictures, beside the empty plugin."""
    lines = [
        "| pictures | cold, ms each | warm, ms each | peak cold | peak warm | empty items, ms each | peak |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    cold_of = {}
    for count in sorted({DRAWN, *sizes}):
        folder = with_counted_items(corpus(count))
        os.environ["PYTHONPATH"] = str(folder)
        shutil.rmtree(folder / "cache", ignore_errors=True)
        ours = pytest_run("-o", f"cache_dir={folder / 'cache'}", "deliverables.toml")
        cold, warm, empty = (timed(folder, command) for command in (ours, ours, empty_run()))
        each = [f"{cost.seconds / count * 1000:.1f}" for cost in (cold, warm, empty)]
        cold_of[count] = cold.seconds / count
        lines.append(
            f"| {count:,} | {each[0]} | {each[1]} | {cold.peak:.0f} MB | {warm.peak:.0f} MB "
            f"| {each[2]} | {empty.peak:.0f} MB |"
        )
    most = max(cold_of)
    lines += [
        "",
        f"Time per image at {most:,} against {DRAWN}: {cold_of[most] / cold_of[DRAWN]:.2f}",
    ]
    lines[-1] += " (at most 1.1). Peak memory at 10,000 images: at most 300 MB."
    return "\n".join(lines)


def stages(count: int) -> dict[str, float]:
    """Return ms of processor time of each stage of measuring and judging one picture, on one thread."""
    from pytest_webdeliverable.measure.color import color_facts
    from pytest_webdeliverable.measure.content import _pixel_facts
    from pytest_webdeliverable.measure.decode import decode
    from pytest_webdeliverable.measure.door import read_file
    from pytest_webdeliverable.measure.edges import edge_facts
    from pytest_webdeliverable.measure.headers import read_header
    from pytest_webdeliverable.measure.likeness import signature
    from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS
    from pytest_webdeliverable.measure.metadata import metadata_facts, read_metadata

    folder = with_counted_items(corpus(DRAWN))
    spent: dict[str, list[float]] = {}

    def lap(name: str, start: float) -> float:
        now = time.thread_time()
        spent.setdefault(name, []).append((now - start) * 1000)
        return time.thread_time()

    for number in range(count):
        at = time.thread_time()
        source = read_file(folder, f"images/p{number:05}.jpg")
        at = lap("read the file, SHA-256", at)
        header = read_header(source.data)
        metadata = read_metadata(header, DEFAULT_LIMITS)
        metadata_facts(header, DEFAULT_LIMITS, metadata)
        color_facts(header, DEFAULT_LIMITS, None)
        at = lap("headers, metadata, profile", at)
        shown = decode(source.data, header, DEFAULT_LIMITS).picture
        at = lap("decode", at)
        _pixel_facts(shown)
        at = lap("checksum of the pixels", at)
        edge_facts(shown)
        at = lap("edges", at)
        signature(shown)
        lap("likeness", at)
    found = {name: statistics.median(values) for name, values in spent.items()}
    os.environ["PYTHONPATH"] = str(folder)
    cache = folder / "cache"
    ours = pytest_run("-o", f"cache_dir={cache}", "deliverables.toml")
    timed(folder, ours)
    nothing, empty, warm = (
        min(timed(folder, command).busy for _ in range(3))
        for command in (pytest_run("--collect-only", "nothing"), empty_run(), ours)
    )
    items = (empty - nothing) / DRAWN * 1000
    found["pytest: as many empty items"] = items
    known = found["read the file, SHA-256"]
    found["judge, keep, tell"] = max(0.0, (warm - nothing) / DRAWN * 1000 - items - known)
    return found


def profile() -> str:
    """Return the stages as a table, and draw them."""
    found = stages(PROFILED)
    whole = sum(found.values())
    FIGURE.write_text(drawing(found), encoding="utf-8")
    lines = ["| stage | ms of processor time for one picture | share |", "| --- | --- | --- |"]
    lines += [f"| {name} | {value:.2f} | {value / whole:.0%} |" for name, value in found.items()]
    return "\n".join([*lines, f"| together | {whole:.2f} | |"])


def drawing(found: dict[str, float]) -> str:
    """Return bars of the stages as SVG."""
    scale, row, left = 420 / max(found.values()), 30, 220
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


def put(name: str, text: str) -> None:
    """Print a table, and put it into the page where that is asked for."""
    print(text, end="\n\n")
    if asked.write:
        begin = f"<!-- begin table: benchmarks/speed.py {name} -->"
        before, rest = DOCS.read_text(encoding="utf-8").split(begin)
        after = rest.partition(END)[2]
        DOCS.write_text(f"{before}{begin}\n\n{text}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=DRAWN)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--sizes", default="")
    parser.add_argument("--profile", action="store_true")
    parser.add_argument(
        "--all", action="store_true", help="the table, --sizes 100,1000,10000, --profile"
    )
    parser.add_argument("--write", action="store_true", help="put it into docs/speed.md")
    asked = parser.parse_args()
    sizes = asked.sizes or ("100,1000,10000" if asked.all else "")
    if asked.all or not (asked.profile or sizes):
        put("table", table(asked.count, asked.rounds))
    if asked.all or asked.profile:
        put("stages", profile())
    if sizes:
        put("growth", growth([int(size) for size in sizes.split(",")]))

"""Time whole pytest runs side by side and print the table of docs/speed.md.

    python benchmarks/speed.py                    # 400 pictures, 5 interleaved rounds: the table
    python benchmarks/speed.py --sizes 100,1000,10000 --rounds 1
    python benchmarks/speed.py --profile          # where the time of a cold run goes

Everything runs in processes of its own, interleaved, so that a slow minute of the machine hits all alike;
figures are medians. The floor is what no checker can do without: decoding each picture once, and as many
empty test items. The hand-written file is what people write today: Pillow and numpy, the same rules.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

SEED = 20261125
DRAWN = 400
BOX = (1600, 1200)
HERE = Path(__file__).parent
CORPUS = HERE / ".corpus"

HANDWRITTEN = """
import io
from pathlib import Path
import numpy as np
import pytest
from PIL import Image, ImageCms

FILES = sorted(Path("images").glob("*.jpg"))
ids = [file.stem for file in FILES]

def opened(file):
    picture = Image.open(file)
    picture.load()
    return picture

@pytest.mark.parametrize("file", FILES, ids=ids)
class TestPicture:
    def test_readable(self, file): opened(file)
    def test_format(self, file): assert Image.open(file).format == "JPEG"
    def test_size(self, file):
        width, height = Image.open(file).size
        assert (width in (1600, 1601) and height <= 1201) or (height in (1200, 1201) and width <= 1601)
    def test_density(self, file): assert Image.open(file).info["dpi"] == (72, 72)
    def test_mode(self, file): assert Image.open(file).mode == "RGB"
    def test_profile(self, file):
        profile = ImageCms.ImageCmsProfile(io.BytesIO(Image.open(file).info["icc_profile"]))
        assert "sRGB" in ImageCms.getProfileDescription(profile)
    def test_process(self, file): assert not Image.open(file).info.get("progressive")
    def test_quality(self, file): assert np.mean(opened(file).quantization[0]) < 12
    def test_edges(self, file):
        pixels = np.asarray(opened(file)).astype(float)
        for line, inner in ((pixels[0], pixels[4]), (pixels[-1], pixels[-5]),
                            (pixels[:, 0], pixels[:, 4]), (pixels[:, -1], pixels[:, -5])):
            flat = line.std(axis=0).max() < 2
            assert not (flat and np.abs(line.mean(axis=0) - inner.mean(axis=0)).max() > 10)
    def test_private(self, file):
        exif = opened(file).getexif()
        assert 0x8825 not in exif and 0xA431 not in exif

def test_no_duplicates():
    small = [np.asarray(opened(file).resize((96, 72))) for file in FILES]
    assert len({one.tobytes() for one in small}) == len(small)
"""

EMPTY = """
import pytest

class Folder(pytest.File):
    def collect(self):
        for piece in range(PIECES):
            yield Piece.from_parent(self, name=f"p{piece:05}")

class Piece(pytest.Collector):
    def collect(self):
        for item in range(16):
            yield Empty.from_parent(self, name=f"rule-{item}")

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
    (folder / "test_by_hand.py").write_text(HANDWRITTEN)
    (folder / "conftest_empty.py").write_text(EMPTY.replace("PIECES", str(count)))
    (folder / "empty.toml").write_text("")
    (folder / "floor.py").write_text(FLOOR)
    return folder


def pytest_run(*args: str) -> list[str]:
    """Return a command that runs pytest with nothing but our plugin."""
    quiet = ("-q", "--no-header", "-p", "no:xdist", "-p", "no:cov", "-p", "no:hypothesispytest")
    return [sys.executable, "-m", "pytest", *quiet, *args]


def timed(folder: Path, command: list[str]) -> tuple[float, float]:
    """Run a command in a folder; return seconds and its peak memory in MB."""
    start = time.perf_counter()
    done = subprocess.run(command, cwd=folder, capture_output=True, check=False)
    took = time.perf_counter() - start
    if done.returncode not in {0, 1}:
        sys.exit(done.stdout.decode() + done.stderr.decode())
    return took, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def measured(folder: Path, *, by_hand: bool = True) -> dict[str, float]:
    """Run everything once, cold before warm."""
    cache = folder / "cache"
    shutil.rmtree(cache, ignore_errors=True)
    ours = ("-o", f"cache_dir={cache}", "deliverables.toml")
    empty = pytest_run("-p", "no:webdeliverable", "-p", "conftest_empty", "empty.toml")
    runs = {
        "cold": pytest_run(*ours),
        "warm": pytest_run(*ours),
        "decode": [sys.executable, "floor.py"],
        "empty": empty,
        "header": pytest_run(
            "-m", "deliverable_size", "-p", "no:cacheprovider", "deliverables.toml"
        ),
        "collect": pytest_run("--collect-only", "deliverables.toml"),
        "no items": pytest_run("--collect-only", "-p", "no:webdeliverable", "floor.py"),
    }
    if by_hand:
        runs["by hand"] = pytest_run("-p", "no:webdeliverable", "test_by_hand.py")
    os.environ["PYTHONPATH"] = str(folder)
    return {name: timed(folder, command)[0] for name, command in runs.items()}


def start_up(rounds: int) -> float:
    """Return what the installed plugin costs, in ms, a run in a repository without a manifest."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "test_one.py").write_text("def test_one(): pass\n")
        with_it, without = [], []
        for _ in range(max(rounds, 5) * 3):
            with_it.append(timed(folder, pytest_run())[0])
            without.append(timed(folder, pytest_run("-p", "no:webdeliverable"))[0])
    return (statistics.median(with_it) - statistics.median(without)) * 1000


def table(count: int, rounds: int) -> str:
    """Return the table of the speed page for so many pictures."""
    folder = corpus(count)
    results = [measured(folder) for _ in range(rounds)]
    mid = {name: statistics.median(one[name] for one in results) for name in results[0]}
    floor = mid["decode"] + mid["empty"]
    rows = [
        (
            "cold, against the floor run in sequence (decode + empty items)",
            mid["cold"] / floor,
            0.75,
        ),
        ("warm, against the empty plugin", mid["warm"] / mid["empty"], 1.25),
        ("warm, against cold", mid["warm"] / mid["cold"], 0.45),
        ("cold, against the hand-written test file", mid["cold"] / mid["by hand"], 0.33),
        ("header-only selection against cold", mid["header"] / mid["cold"], 0.35),
    ]
    lines = [
        f"| {count} pictures of 1600 x 1200, {rounds} rounds | measured | at most |",
        "| --- | --- | --- |",
    ]
    lines += [f"| {what} | {value:.2f} | {most} |" for what, value, most in rows]
    per_image = (mid["collect"] - mid["no items"]) / count * 1000
    lines.append(f"| `pytest --collect-only`, per image | {per_image:.2f} ms | 4 ms |")
    lines.append(
        f"| start-up cost in a repository with no manifest | {start_up(rounds):.1f} ms | 10 ms |"
    )
    lines.append("")
    lines.append(
        "Seconds: " + ", ".join(f"{name} {value:.2f}" for name, value in mid.items()) + "."
    )
    return "\n".join(lines)


def growth(sizes: list[int]) -> str:
    """Return time per image and peak memory for several numbers of pictures."""
    lines = [
        "| pictures | cold, ms per picture | warm, ms per picture | peak memory |",
        "| --- | --- | --- | --- |",
    ]
    for count in sizes:
        folder = corpus(count)
        shutil.rmtree(folder / "cache", ignore_errors=True)
        ours = pytest_run("-o", f"cache_dir={folder / 'cache'}", "deliverables.toml")
        cold, peak = timed(folder, ours)
        warm, _ = timed(folder, ours)
        lines.append(
            f"| {count} | {cold / count * 1000:.1f} | {warm / count * 1000:.1f} | {peak:.0f} MB |"
        )
    return "\n".join(lines)


def profile(count: int) -> None:
    """Print where the time of measuring goes, on one thread."""
    from pytest_webdeliverable.measure.image import measure

    folder = corpus(count)
    files = sorted((folder / "images").glob("*.jpg"))[:count]
    facets = ("pixels", "edges", "previews", "likeness")
    measure(folder, folder, f"images/{files[0].name}", facets)
    profiler = cProfile.Profile()
    profiler.enable()
    for file in files:
        measure(folder, folder, f"images/{file.name}", facets)
    profiler.disable()
    pstats.Stats(profiler).sort_stats("tottime").print_stats(25)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--sizes", default="")
    parser.add_argument("--profile", action="store_true")
    asked = parser.parse_args()
    if asked.profile:
        profile(min(asked.count, 60))
    elif asked.sizes:
        print(growth([int(size) for size in asked.sizes.split(",")]))
    else:
        print(table(asked.count, asked.rounds))

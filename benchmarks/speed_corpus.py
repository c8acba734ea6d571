"""The pictures that speed is measured on, and the tests that people write by hand in place of ours.

The hand-written file is for the same rules: parametrized, Pillow and numpy, the file opened where it is
needed; ``by hand, once`` is the same with a fixture that decodes each picture once. Both leave out what
nobody writes by hand: nearly equal pictures, pieces of an edge, the true spelling on disk, damage that
Pillow decodes without a word, embedded previews, and what to do about it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

SEED = 20261125
DRAWN = 400
BOX = (1600, 1200)
CORPUS = Path(__file__).resolve().parent / ".corpus"

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

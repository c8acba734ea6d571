"""Whole portfolios: copies, originals, the rules on all pieces together, and files in git.

Each function writes one folder with its manifest and returns what is expected there, as
``piece::rule: (outcome, part of the message)``; every other check of the folder must pass.
"""

from __future__ import annotations

import os
import subprocess
import unicodedata
from typing import TYPE_CHECKING

import numpy as np

from written import writers as w
from written.content_cases import ALT, photograph

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

Expected = dict[str, tuple[str, str]]

SPECS = """
[spec.small]
from = "screen"
formats = ["jpeg", "png", "tiff"]
box = [320, 240]

[spec.tiny]
from = "small"
box = [160, 120]
fill = "within"

[spec.card]
from = "small"
box = [240, 126]
fill = "exact"
"""
"""The built-in specs at sizes that are quickly written."""


def put(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def piece(name: str, more: str = "", file: str = "") -> str:
    """One piece; the file is NAME.jpg."""
    return (
        f'[[piece]]\nid = "{name}"\nfile = "{file or f"{name}.jpg"}"\nspec = "small"\n'
        f'alt = "{ALT}"\n{more}\n\n'
    )


def manifest(folder: Path, *pieces: str, portfolio: str = "") -> None:
    """Write the manifest."""
    head = f'[portfolio]\nspec = "small"\n{portfolio}\n{SPECS}\n'
    (folder / "deliverables.toml").write_text(head + "".join(pieces), encoding="utf-8")


def scaled(pixels: np.ndarray, width: int, height: int) -> np.ndarray:
    """The picture at another size, by libvips."""
    image = w.vips_image(pixels)
    scale = width / image.width
    return np.asarray(image.resize(scale, vscale=height / image.height).numpy())


def copies(folder: Path) -> Expected:
    """Thumbnails and cards: scaled, cut to a shape, by a declared crop, swapped, too large."""
    one, other, third = w.art(500), w.art(501), w.art(502)
    put(folder, {
        "one.jpg": w.cjpeg(one),
        "one-tiny.jpg": w.cjpeg(scaled(one, 160, 120)),
        "one-card.jpg": w.cjpeg(scaled(one[36:204], 240, 126)),
        "other.jpg": w.cjpeg(other),
        "other-tiny.jpg": w.cjpeg(scaled(third, 160, 120)),
        "third.jpg": w.cjpeg(third),
        "third-tiny.jpg": w.cjpeg(scaled(third, 162, 122)),
        "third-card.jpg": w.cjpeg(scaled(third[:126, :240], 240, 126)),
        "fourth.jpg": w.cjpeg(w.art(503)),
        "fourth-card.jpg": w.cjpeg(w.art(503)[:126, :240]),
    })  # fmt: skip
    manifest(
        folder,
        piece("one", 'copies = [{ file = "one-tiny.jpg", spec = "tiny" }, { file = "one-card.jpg", spec = "card" }]'),
        piece("other", 'copies = [{ file = "other-tiny.jpg", spec = "tiny" }]'),
        piece("third", 'copies = [{ file = "third-tiny.jpg", spec = "tiny" }, '
              '{ file = "third-card.jpg", spec = "card", crop = [0.0, 0.0, 0.75, 0.525] }]'),
        piece("fourth", 'copies = [{ file = "fourth-card.jpg", spec = "card" }]'),
    )  # fmt: skip
    return {
        "other--tiny::matches-piece": ("failed", "not show the same picture as the piece other"),
        "third--tiny::pixel-size": ("failed", "162 x 122 px"),
        "fourth--card::matches-piece": ("failed", "not show the same picture as the piece fourth"),
    }


def originals(folder: Path) -> Expected:
    """Print masters by tifffile and libvips, and web copies of them, sound and not."""
    master, wide = photograph("astronaut")[:384], photograph("coffee")
    small = scaled(master, 320, 240)
    other = scaled(wide[:, 20:580], 320, 240)
    shifted = np.clip(small + np.array((30, 0, -30)), 0, 255).astype(np.uint8)
    put(folder, {
        "master.tif": w.tiff(master, ppi=300, compression="deflate"),
        "deep.tif": w.tiff(master.astype(np.uint16) * 257, ppi=300, photometric="rgb", tile=(128, 128)),
        "press.tif": w.vips_cmyk(master, ".tif", ppi=300),
        "same.jpg": w.cjpeg(small),
        "of-deep.jpg": w.cjpeg(small, quality="94"),
        "of-press.jpg": w.cjpeg(small, quality="93"),
        "cut.jpg": w.cjpeg(scaled(master[12:372, 16:496], 320, 240)),
        "shape.jpg": w.cjpeg(scaled(master, 320, 232)),
        "colors.jpg": w.cjpeg(shifted),
        "swapped.jpg": w.cjpeg(other),
        "lost.jpg": w.cjpeg(scaled(wide[200:], 320, 107)),
    })  # fmt: skip
    manifest(
        folder,
        *(piece(name, f'original = "{file}"') for name, file in (
            ("same", "master.tif"), ("of-deep", "deep.tif"), ("of-press", "press.tif"),
            ("cut", "master.tif"), ("shape", "master.tif"), ("colors", "master.tif"),
            ("swapped", "master.tif"), ("lost", "no-such.tif"),
        )),
    )  # fmt: skip
    return {
        "cut::matches-original": ("failed", "of the original's width and"),
        "shape::matches-original": ("failed", "its shape, 320 x 232 px"),
        "colors::matches-original": ("failed", "its colors have shifted"),
        "swapped::matches-original": ("failed", "another picture"),
        "lost::matches-original": ("skipped", "no-such.tif"),
        # Five exports of one master are nearly the same picture.
        "portfolio::near-duplicate": ("advised", "same and of-deep"),
    }


def strays(folder: Path) -> Expected:
    """An image that nobody listed; a text beside it does not count."""
    put(folder, {
        "images/one.jpg": w.cjpeg(w.art(510)),
        "images/deep/old.png": w.pypng(w.art(511)),
        "images/notes.txt": b"no image",
    })  # fmt: skip
    manifest(folder, piece("one", file="images/one.jpg"), portfolio='images = "images"')
    return {"portfolio::stray-file": ("failed", "1 image is not listed: images/deep/old.png")}


def all_listed(folder: Path) -> Expected:
    """The near miss: everything listed, as piece, copy and original; within every limit."""
    files = {
        "images/one.jpg": w.cjpeg(w.art(512)),
        "images/one-tiny.jpg": w.cjpeg(scaled(w.art(512), 160, 120)),
        "images/one.tif": w.tiff(w.art(512), ppi=300),
        "images/two.jpg": w.cjpeg(w.art(513)),
    }
    put(folder, files)
    # An original is read, but not handed in: its weight does not count.
    total = sum(len(data) for name, data in files.items() if not name.endswith(".tif"))
    manifest(
        folder,
        piece("one", 'original = "images/one.tif"\ncopies = [{ file = "images/one-tiny.jpg", spec = "tiny" }]', "images/one.jpg"),
        piece("two", file="images/two.jpg"),
        portfolio=f'images = "images"\ntotal-weight = "{total} B"\npieces = {{ min = 2, max = 2 }}',
    )  # fmt: skip
    return {}


def over_limits(folder: Path) -> Expected:
    """One byte too heavy, one piece too few."""
    files = {"one.jpg": w.cjpeg(w.art(514)), "two.jpg": w.cjpeg(w.art(515))}
    put(folder, files)
    manifest(
        folder, piece("one"), piece("two"),
        portfolio=f'total-weight = "{sum(map(len, files.values())) - 1} B"\npieces = {{ min = 3 }}',
    )  # fmt: skip
    return {
        "portfolio::total-weight": ("failed", "bytes) in 2 files, at most"),
        "portfolio::piece-count": ("failed", "2 pieces, the manifest asks for at least 3"),
    }


def same_bytes(folder: Path) -> Expected:
    """One file under two names."""
    data = w.cjpeg(w.art(520))
    put(folder, {"one.jpg": data, "two.jpg": data, "three.jpg": w.cjpeg(w.art(521))})
    manifest(folder, piece("one"), piece("two"), piece("three"))
    return {"portfolio::duplicate-file": ("failed", "one.jpg and two.jpg are the same file")}


def same_pixels(folder: Path) -> Expected:
    """The same pixels packed by two PNG writers."""
    pixels = w.art(522)
    put(folder, {"one.png": w.pypng(pixels), "two.png": w.vips(pixels, ".png", compression=9)})
    manifest(folder, piece("one", file="one.png"), piece("two", file="two.png"))
    return {"portfolio::duplicate-file": ("failed", "one.png and two.png show the same pixels")}


def nearly_same(folder: Path) -> Expected:
    """One picture saved twice at different qualities."""
    pixels = w.art(523)
    put(
        folder,
        {"one.jpg": w.cjpeg(pixels), "two.jpg": w.vips(pixels, ".jpg", Q=91, subsample_mode="off")},
    )
    manifest(folder, piece("one"), piece("two"))
    return {"portfolio::near-duplicate": ("advised", "nearly the same picture: one and two")}


def clashes(folder: Path) -> Expected:
    """Names that differ in capitals only, and in the form of an accent only.

    The second of each pair is made only where the disk keeps both.
    """
    accented = unicodedata.normalize("NFC", "café.jpg"), unicodedata.normalize("NFD", "café.jpg")
    put(folder, {
        "images/one.jpg": w.cjpeg(w.art(530)), "images/One.jpg": w.cjpeg(w.art(531)),
        f"images/{accented[0]}": w.cjpeg(w.art(532)), f"images/{accented[1]}": w.cjpeg(w.art(533)),
    })  # fmt: skip
    manifest(
        folder, piece("one", file="images/one.jpg"), piece("capital", file="images/One.jpg"),
        piece("composed", file=f"images/{accented[0]}"), piece("apart", file=f"images/{accented[1]}"),
        portfolio='images = "images"',
    )  # fmt: skip
    return {"portfolio::name-clash": ("failed", ", in two Unicode forms")}


def spelled_otherwise(folder: Path) -> Expected:
    """A name that the disk spells with other capitals, and one that is not there."""
    put(
        folder,
        {
            "Tide-Table.jpg": w.cjpeg(w.art(540)),
            "kite.jpeg": w.cjpeg(w.art(541)),
            "sea.jpg": w.cjpeg(w.art(542)),
        },
    )
    manifest(
        folder, piece("tide", file="tide-table.jpg"), piece("kite", file="kite.jpg"), piece("sea"),
    )  # fmt: skip
    return {
        "tide::file-case": ("failed", "on disk the file is Tide-Table.jpg"),
        "kite::file-present": ("failed", "kite.jpeg"),
    }


def weights(folder: Path) -> Expected:
    """One byte decides."""
    one, two = w.cjpeg(w.art(550)), w.cjpeg(w.art(551))
    put(folder, {"one.jpg": one, "two.jpg": two})
    specs = "".join(
        f'[spec.{name}]\nfrom = "small"\nweight = "{most} B"\n'
        for name, most in (("just", len(one)), ("under", len(two) - 1))
    )
    just, under = (
        piece("one").replace('"small"', '"just"'),
        piece("two").replace('"small"', '"under"'),
    )
    manifest(folder, specs, just, under)
    return {"two::file-weight": ("failed", f"{len(two)} bytes")}


def in_git(folder: Path) -> Expected:
    """A copy saved again, one exported anew, and one whose original changed after it."""
    history = 'history = { resaved = false }\nlevels = { resaved = "require" }\n'
    first = w.art(560)
    again = w.djpeg(w.cjpeg(first))
    put(folder, {
        "again.jpg": w.cjpeg(first), "anew.jpg": w.cjpeg(w.art(561)), "kept.jpg": w.cjpeg(w.art(562)),
        "late.jpg": w.cjpeg(w.art(563)), "late.tif": w.tiff(w.art(563), ppi=300),
        "good.jpg": w.cjpeg(w.art(564)), "good.tif": w.tiff(w.art(564), ppi=300),
    })  # fmt: skip
    manifest(
        folder, f'[spec.once]\nfrom = "small"\n{history}',
        *(piece(name).replace('"small"', '"once"') for name in ("again", "anew", "kept")),
        piece("late", 'original = "late.tif"'), piece("good", 'original = "good.tif"'),
    )  # fmt: skip
    git(folder, "init", "-q")
    commit(folder, "2026-01-05T12:00:00Z")
    put(folder, {
        "again.jpg": w.cjpeg(again, quality="96"), "anew.jpg": w.cjpeg(w.art(570)),
        "late.tif": w.tiff(w.art(563), ppi=300, compression="deflate"),
    })  # fmt: skip
    commit(folder, "2026-02-05T12:00:00Z")
    return {
        "again::resaved": ("failed", "saved again"),
        "late::matches-original": (
            "failed",
            "committed on 2026-01-05, before its original changed on 2026-02-05",
        ),
    }


def rubric(folder: Path) -> Expected:
    """Marks: three for the density, which is wrong, two for the edges, one for the words."""
    put(folder, {"one.jpg": w.cjpeg(w.art(580), ppi=300)})
    points = '[spec.marked]\nfrom = "small"\npoints = { density = 3, edge-gap = 2, alt-text = 1 }\n'
    manifest(folder, points, piece("one").replace('"small"', '"marked"'))
    return {"one::density": ("failed", "300 ppi in JFIF")}


def git(folder: Path, *arguments: str, date: str = "") -> None:
    """Run git with a name and dates of our own, and nobody's settings."""
    environment = {
        **os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_AUTHOR_NAME": "a", "GIT_AUTHOR_EMAIL": "a@example.org", "GIT_AUTHOR_DATE": date,
        "GIT_COMMITTER_NAME": "a", "GIT_COMMITTER_EMAIL": "a@example.org", "GIT_COMMITTER_DATE": date,
    }  # fmt: skip
    subprocess.run(
        ["git", *arguments], cwd=folder, env=environment, check=True, capture_output=True
    )


def commit(folder: Path, date: str) -> None:
    """Commit everything on a day."""
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", "state", date=date)


FOLDERS = (
    copies, originals, strays, all_listed, over_limits, same_bytes, same_pixels, nearly_same, clashes,
    spelled_otherwise, weights, in_git, rubric,
)  # fmt: skip

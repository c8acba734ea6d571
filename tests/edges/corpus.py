"""The corpus: seeded cases of art with and without a fault, as an exporter would have written them."""

from __future__ import annotations

import io
import random
from dataclasses import dataclass

from PIL import Image

from . import drawn, faults, real

DRAWN = "drawn"
KINDS = (DRAWN, real.PHOTOGRAPH, real.GRAPHIC, real.SCREEN)
WEIGHTS = (3, 4, 2, 1)
"""How often each class is cut: posters and photographs are what portfolios hold most."""
HALVES = ("tuning", "reporting")

FAINTEST = 2.0
"""CIEDE2000 below which a cut is not counted as one."""
SIZES = ((1600, 1200), (776, 1200), (1200, 800), (800, 600), (600, 800), (1000, 1000), (400, 300))
"""px of web copies, from a full screen to a thumbnail."""


@dataclass(frozen=True)
class Case:
    """One picture as decoded, and the truth about it."""

    name: str
    kind: str
    base: str
    picture: Image.Image
    codec: str
    faults: list[faults.Fault]
    art: Image.Image
    """The art before the cut and before any lossy compression."""
    all_faults: list[faults.Fault]
    """Every cut, also those too faint to be held to."""


def _drawn_seed(rng: random.Random, half: str) -> int:
    """Return a seed of our own art: those below three million were used for tuning."""
    first = 3_000_000 if half == "reporting" else rng.choice((0, 1_000_000, 2_000_000))
    return rng.randrange(1_000_000) + first


def _crop(rng: random.Random, picture: Image.Image, size: tuple[int, int]) -> Image.Image:
    """A window of a size at a random place and scale, or the whole picture scaled to fit."""
    if rng.random() < 0.25:
        whole = picture.copy()
        whole.thumbnail(size, Image.Resampling.LANCZOS)
        return whole
    need = max(size[0] / picture.width, size[1] / picture.height)
    if need < 1:
        scale = rng.choice((1.0, rng.uniform(need, 1)))
        if scale < 1:
            scaled = (
                max(size[0], round(picture.width * scale)),
                max(size[1], round(picture.height * scale)),
            )
            picture = picture.resize(scaled, Image.Resampling.LANCZOS)
    width, height = min(size[0], picture.width), min(size[1], picture.height)
    left = rng.randrange(picture.width - width + 1)
    top = rng.randrange(picture.height - height + 1)
    return picture.crop((left, top, left + width, top + height))


def art(rng: random.Random, kind: str, half: str) -> tuple[str, Image.Image]:
    """Return the name of a base picture of a class and half, and art made from it."""
    size = rng.choice(SIZES)
    if kind == DRAWN:
        sort, seed = rng.choice(tuple(drawn.KINDS)), _drawn_seed(rng, half)
        return f"{sort}-{seed}", drawn.draw(sort, seed, size)
    found = [base for base in real.bases(kind) if base.half == half]
    groups = sorted({base.group for base in found})
    group = rng.choice(groups)
    base = rng.choice([base for base in found if base.group == group])
    return f"{group}/{base.path.name}", _crop(rng, base.load(), size)


def encode(rng: random.Random, picture: Image.Image) -> tuple[str, Image.Image]:
    """Write and read the picture as an exporter would; return the codec's name and the result."""
    has_alpha = picture.mode == "RGBA"
    codec = (
        rng.choice(("png", "webp", "avif"))
        if has_alpha
        else rng.choice(("jpeg", "jpeg", "jpeg", "jpeg", "png", "webp", "avif"))
    )
    buffer = io.BytesIO()
    quality = rng.randrange(75, 101)
    match codec:
        case "jpeg":
            chroma = rng.choice(("4:4:4", "4:2:0"))
            picture.save(buffer, "JPEG", quality=quality, subsampling=chroma)
            name = f"jpeg {quality} {chroma}"
        case "webp":
            lossless = rng.random() < 0.3
            picture.save(buffer, "WEBP", quality=quality, lossless=lossless, method=2)
            name = "webp lossless" if lossless else f"webp {quality}"
        case "avif":
            chroma = rng.choice(("4:4:4", "4:2:0"))
            picture.save(buffer, "AVIF", quality=quality, subsampling=chroma, speed=9)
            name = f"avif {quality} {chroma}"
        case _:
            picture.save(buffer, "PNG", compress_level=1)
            name = "png"
    with Image.open(buffer) as opened:
        opened.load()
        return name, opened.copy()


def clean(seed: int, kind: str, half: str, inset: int = 0) -> Case:
    """Return art without a fault, compressed; ``inset`` px of a whole picture's sides are cut off."""
    rng = random.Random(f"clean-{kind}-{half}-{seed}")
    base, picture = art(rng, kind, half)
    if inset:
        picture = picture.crop((inset, inset, picture.width - inset, picture.height - inset))
    codec, decoded = encode(rng, picture)
    return Case(f"clean-{kind}-{seed}", kind, base, decoded, codec, [], picture, [])


def available(half: str) -> tuple[str, ...]:
    """Return the classes of which this machine has pictures in a half."""
    return tuple(
        kind
        for kind in KINDS
        if kind == DRAWN or any(base.half == half for base in real.bases(kind))
    )


def faulty(seed: int, fault: str, half: str, kinds: tuple[str, ...] = KINDS) -> Case:
    """Return art with a fault of a category that can be seen, compressed."""
    rng = random.Random(f"{fault}-{half}-{seed}")
    while True:
        kind = rng.choices(kinds, [WEIGHTS[KINDS.index(one)] for one in kinds])[0]
        base, picture = art(rng, kind, half)
        spoilt, truth = faults.MAKERS[fault](rng, picture)
        # A line that looks like the art beside it is no fault anyone sees: draw again.
        plain = [one for one in truth if one.seen >= FAINTEST]
        if not plain:
            continue
        codec, decoded = encode(rng, spoilt)
        return Case(f"{fault}-{seed}", kind, base, decoded, codec, plain, picture, truth)

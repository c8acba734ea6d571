"""Play an animation within bounds: how many frames, how long, and how it flashes.

Frames come from Pillow, which applies each format's rules of disposal and blending, by stepping
forward; those of GIF and PNG are put together by ``gif_frames`` and ``png_frames``. Nothing is asked for
the number of frames, which a file may state falsely. Transparent parts are seen against a white page.
Frames are not kept: each is sampled on a grid.

Two samplings are kept. The first takes single pixels, so that colors are exact. The second takes
means of the 3 x 3 px around them. A fine pattern that changes in balance is no flash by WCAG 2.2
(squares below 0.1 degree, 3.4 px), and dither and noise are such patterns; the means do not see
them, at least where the squares are single pixels. A flash counts where both samplings see it.

Cost, measured on 2 cores with Pillow 13.0.0 (process time): 8 ns a pixel for flat GIF frames, 19 where
they have see-through parts and what they cover comes back, 8 to 12 for PNG, 2 to 4 for WebP and AVIF, up
to 21 for noise in any of them, and memory of 20 bytes a pixel. From this follows how many frames of which
size are looked at.
"""

from __future__ import annotations

import io
from dataclasses import replace
from math import ceil, sqrt
from typing import TYPE_CHECKING, Final, TypedDict

from PIL import Image

from pytest_webdeliverable.measure.decode import PLUGINS
from pytest_webdeliverable.measure.flash import Film, count_flashes
from pytest_webdeliverable.measure.flash_area import NO_FLASH, QUARTER, FlashFacts
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits
from pytest_webdeliverable.measure.played import StoppedError, on_clear_canvas, play

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.headers.base import Header

FINE_SHARE: Final = 0.95
"""Share of the area that the means must still show: they lose 1 px at each side of a faint flash,
4 % of a strip of 341 x 64 px and less of other shapes; worked out, rounded."""

MOST_CELLS: Final = 350_000
"""Places of the grid: four fields of view, pixel for pixel."""
CELL_STEPS: Final = 5_000_000
"""Places times frames that are kept, 6 bytes each, and times moments followed for flashes."""
MEMORY_PER_PIXEL: Final = 20
"""Bytes for the frame, what is put back, what is drawn and sampled, and the still picture, which is held
meanwhile; measured."""
BUDGET: Final = 2.0
"""Seconds for decoding."""
COSTS: Final = {"gif": (14, 8), "png": (14, 12), "webp": (6, 60), "avif": (7, 80)}
"""Nanoseconds a pixel, and a byte of the file; measured, rounded up, sampling included."""
WORST_PIXEL: Final = 30
"""Nanoseconds a pixel of whatever frame."""


class MotionFacts(TypedDict):
    """An animation; all 0 and ``plays`` 1 for a still picture.

    ``frames`` were found, all of them when ``counted``; ``seconds`` is the length of those looked
    at, once through; ``plays`` is how often it plays, 0 for without end. ``undecided`` says why
    flashes in the part not looked at are not known, None when all was looked at.
    """

    frames: int
    counted: bool
    seconds: float
    plays: int
    general: FlashFacts
    red: FlashFacts
    undecided: str | None


def affordable_frames(header: Header, size: int, limits: Limits) -> int:
    """How many frames may be decoded of a file of ``size`` bytes; 0 when not even one."""
    pixels = header.width * header.height
    if pixels > min(limits.pixels, limits.decode_bytes // MEMORY_PER_PIXEL):
        return 0
    per_pixel, per_byte = COSTS[header.format]
    budget = BUDGET * 1e9
    by_content = (budget - size * per_byte) / (pixels * per_pixel)
    at_worst = budget / (pixels * WORST_PIXEL)
    return min(limits.frames, limits.frame_pixels // pixels, int(max(by_content, at_worst)))


class _Sampler:
    """Takes both samplings of each frame, on one grid for the whole animation."""

    def __init__(self, width: int, height: int, frames: int) -> None:
        self._step = _step(width * height, min(MOST_CELLS, CELL_STEPS // frames))
        self._size = (max(1, width // self._step), max(1, height // self._step))
        self._picture = (width, height)
        self._sharp: list[Image.Image] = []
        self._soft: list[Image.Image] = []
        self._milliseconds: list[int] = []

    def take(self, frame: Image.Image, milliseconds: int) -> None:
        """Sample one frame, which may be of any mode; one like the last only prolongs it."""
        if frame.mode.startswith("I"):  # 16 bits a sample
            frame = frame.point(lambda code: code * (1 / 256)).convert("L")
        if frame.mode != "RGBA" and frame.has_transparency_data:
            frame = frame.convert("RGBA")
        color = frame if frame.mode == "RGB" else frame.convert("RGB")
        sharp, soft = self._single(color), self._mean(color)
        if frame.mode == "RGBA":
            alpha = frame.getchannel("A")
            sharp = _over_white(sharp, self._single(alpha))
            soft = _over_white(soft, self._mean(alpha))
        if self._sharp and sharp == self._sharp[-1] and soft == self._soft[-1]:
            self._milliseconds[-1] += milliseconds
            return
        self._sharp.append(sharp)
        self._soft.append(soft)
        self._milliseconds.append(milliseconds)

    def _single(self, picture: Image.Image) -> Image.Image:
        """Take the pixel in the middle of each cell."""
        middle = self._step // 2 + 0.5
        return self._sampled(picture, middle, middle, Image.Resampling.NEAREST)

    def _mean(self, picture: Image.Image) -> Image.Image:
        """Take the 3 x 3 px around it, weighted 1-2-1, by four means of 2 x 2 px."""
        corner = self._step // 2
        columns = [
            Image.blend(
                self._sampled(picture, corner + dx, corner, Image.Resampling.BILINEAR),
                self._sampled(picture, corner + dx, corner + 1, Image.Resampling.BILINEAR),
                0.5,
            )
            for dx in (0, 1)
        ]
        return Image.blend(columns[0], columns[1], 0.5)

    def _sampled(
        self, picture: Image.Image, x: float, y: float, how: Image.Resampling
    ) -> Image.Image:
        """Take one value per cell, at the place ``x``, ``y`` within it."""
        step = self._step
        matrix = (step, 0, x - step / 2, 0, step, y - step / 2)
        return picture.transform(self._size, Image.Transform.AFFINE, matrix, how)

    def flashes(self, *, endless: bool) -> tuple[FlashFacts, FlashFacts]:
        """Return general and red flashes, each as the sampling has it that sees fewer."""
        if not self._sharp:
            return NO_FLASH, NO_FLASH
        sharp = self._count(self._sharp, QUARTER, endless=endless)
        if not any(facts["flashes_per_second"] for facts in sharp):
            return sharp
        soft = self._count(self._soft, FINE_SHARE * QUARTER, endless=endless)
        general, red = (
            min(pair, key=lambda facts: facts["flashes_per_second"])
            for pair in zip(sharp, soft, strict=True)
        )
        return general, red

    def _count(
        self, frames: list[Image.Image], least: float, *, endless: bool
    ) -> tuple[FlashFacts, FlashFacts]:
        columns, rows = self._size
        film = Film(frames=frames, milliseconds=self._milliseconds, endless=endless)
        thinning = _step(columns * rows, max(1, CELL_STEPS // sum(1 for _ in film.showing())))
        if thinning > 1:
            columns, rows = max(1, columns // thinning), max(1, rows // thinning)
            frames = [frame.resize((columns, rows), Image.Resampling.NEAREST) for frame in frames]
        cell = self._picture[0] / columns, self._picture[1] / rows
        return count_flashes(replace(film, frames=frames, cell=cell, least=least))


def _step(places: int, most: int) -> int:
    """Smallest whole step that leaves at most so many places, stepping in both directions."""
    return max(1, ceil(sqrt(places / most)))


def _over_white(color: Image.Image, alpha: Image.Image) -> Image.Image:
    page = Image.new("RGB", color.size, "white")
    page.paste(color, mask=alpha)
    return page


def _plays(frame: Image.Image) -> int:
    """How often the animation plays, 0 for without end.

    GIF gives repetitions, and none where the extension for it is missing; PNG and WebP give plays;
    browsers repeat AVIF without end.
    """
    loop = frame.info.get("loop")
    if frame.format == "GIF":
        return 1 if loop is None else loop and loop + 1
    return loop or 0


def _still(frames: int, undecided: str | None) -> MotionFacts:
    return {
        "frames": frames,
        "counted": undecided is None,
        "seconds": 0.0,
        "plays": 1,
        "general": NO_FLASH,
        "red": NO_FLASH,
        "undecided": undecided,
    }


def motion_facts(data: bytes, header: Header, limits: Limits = DEFAULT_LIMITS) -> MotionFacts:
    """Play the animation in ``data``, whose header was read before; a damaged one is not played.

    Never raises.
    """
    claimed = header.frames or limits.frames
    if claimed < 2 or header.format not in COSTS:
        return _still(1, None)
    if header.problems:
        return _still(claimed, header.problems[0])
    most = affordable_frames(header, len(data), limits)
    if most == 0:
        return _still(claimed, "the pictures of the animation are too large to be looked at")
    sampler = _Sampler(header.width, header.height, min(most, claimed))
    found = length = 0
    plays = 1
    undecided = None
    try:
        file = io.BytesIO(on_clear_canvas(data) if header.format == "webp" else data)
        with Image.open(file, formats=[PLUGINS[header.format]]) as opened:
            plays = _plays(opened)
            for frame, shown in play(opened, data, header, most, limits):
                sampler.take(frame, shown)
                del frame  # it may be large, and the next one as well
                length += shown
                found += 1
    except StoppedError as stopped:
        undecided = str(stopped)
    except Exception:  # decoders raise anything, even warnings as errors
        undecided = f"the animation cannot be decoded after frame {found}"
    if undecided is None and found == most < claimed:
        undecided = (
            f"only the first {found:,} of {claimed:,} frames were looked at, as many as the limit"
            " for pictures of this size allows"
        )
    general, red = sampler.flashes(endless=plays != 1)
    return {
        "frames": max(found, header.frames or 0),
        "counted": undecided is None,
        "seconds": length / 1000,
        "plays": plays,
        "general": general,
        "red": red,
        "undecided": undecided,
    }

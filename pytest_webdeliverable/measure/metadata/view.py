"""Whether a small preview shows the same view as the picture, or something that was cropped away.

Both are brought to a small grid and compared by correlation, which minds neither brightness nor
contrast, nor strong compression. A preview made before a crop resembles the picture too, so the
question is put as a contest: does the picture fit the whole preview, or does it fit a part of the
preview much better? What was painted over shows as one region that differs more than the rest.

The thresholds were chosen on one half of a pool of photographs and drawn posters. On 26 photographs
and 25 posters of the other half, with previews of 64 to 512 px made by five ways of scaling, JPEG
quality 30 to 92, black bars, eight orientations, bent tones and shifted colors:

=============================================  ==========
preview                                        told right
=============================================  ==========
honest, 64 px and more                         401 of 405
honest, 48 px at quality 30                    47 of 51
from before a crop of 8 to 50 %                501 of 510
from before a crop of 5 %                      98 of 102
of another picture                             50 of 50
from before 10 % of the area was painted over  45 of 51
from before 5 % of the area was painted over   42 of 51
from before 2 % of the area was painted over   31 of 51
=============================================  ==========

Missed crops are mostly those of even textures and plain skies, where the part cut off looked like
the rest. Three faults of the method (bars placed between pixels, tones of flat art, pictures of one
color) were found on that half and mended; no threshold was changed for it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

from PIL import Image, ImageChops

from pytest_webdeliverable.measure.metadata.correlation import LEVELS, Box, Grid, correlation, grid

if TYPE_CHECKING:
    from collections.abc import Iterator

SMALLEST: Final = 96
"""Pixels that the shorter side may be reduced to before the comparison: three per cell."""
_FINE: Final = 32
"""Cells per side of the deciding grid; one cell is 5 px of the usual preview of 160 x 120."""
_COARSE: Final = 16
"""Cells per side of the grid on which parts of the preview are searched."""
_REGIONS: Final = 8
"""Regions per side in which a local difference is looked for."""

_DARK: Final = 48.0
"""Mean level, 0 to 255, of a bar that counts as black; compression beside bright art lightens it."""

_NUDGES: Final = (-0.5, 0.0, 0.5)
"""Pixels by which the edges of a view between bars are moved to find its true place."""
_FLAT: Final = 3.0
"""Standard deviation, in levels, up to which a picture shows nothing that could be compared."""
_FLAT_APART: Final = 64.0
"""Levels between two flat pictures that are no longer another development of the same one."""
_SAME_SHAPE: Final = 0.97
"""Share of a box that another fills when their proportions differ by no more than rounding."""
_SCALES: Final = tuple(0.97 * 0.95**step for step in range(14))
"""Sizes of the part searched for, against the largest that fits: 97 % down to 50 %."""
_STEPS_PER_SIZE: Final = 12
"""Places tried per side length of a part; between them the fine search looks again."""
_STEPS: Final = 24
"""Most places per side that are tried for a part of one size."""
_CANDIDATES: Final = 4
"""Best parts of the coarse search that are looked at again on the fine grid."""

# What decides, chosen on the first half of the pictures.
_WHOLE_AT_LEAST: Final = 0.7
"""Correlation that the whole preview must reach; other pictures stay below 0.6."""
_PART_BETTER: Final = 1.7
"""How many times closer to 1 a part must come to win the contest against the whole."""
_PART_SLACK: Final = 0.005
"""What the whole may lack beside that; near 1 the contest is between rounding errors."""
_PATCH: Final = 0.85
"""Difference of one region, in standard deviations of the picture, that may be another thing."""
_PATCH_USUAL: Final = 4.0
"""How many times the usual difference such a region must reach."""
_USUAL_LEAST: Final = 0.1
"""Usual difference, in standard deviations, that any small preview may have."""

_TURNS: Final = (None, *Image.Transpose)


class ViewMatch(NamedTuple):
    """How well the preview fits.

    ``whole`` and ``part`` are correlations, up to 1: of the picture with the whole preview, and
    with the best part of it. ``patch`` is the largest difference of one region, in standard deviations
    of the picture; ``usual`` is the difference that three of four regions stay below.
    """

    whole: float
    part: float
    patch: float
    usual: float

    @property
    def difference(self) -> float:
        """From 0, the same, to 1."""
        return min(1.0, max(0.0, 1.0 - self.whole))

    @property
    def same(self) -> bool:
        """Whether the preview shows nothing that the picture does not show."""
        crop = 1 - self.whole > _PART_BETTER * (1 - self.part) + _PART_SLACK
        retouch = self.patch > max(_PATCH, _PATCH_USUAL * max(self.usual, _USUAL_LEAST))
        return self.whole >= _WHOLE_AT_LEAST and not crop and not retouch


def _inner_box(outer: tuple[int, int], inner: tuple[int, int]) -> Box:
    # The largest centered box in ``outer`` that has the proportions of ``inner``.
    scale = min(outer[0] / inner[0], outer[1] / inner[1])
    width, height = inner[0] * scale, inner[1] * scale
    return _kept((outer[0] - width) / 2, (outer[1] - height) / 2, width, height, outer)


def _kept(x: float, y: float, width: float, height: float, size: tuple[int, int]) -> Box:
    # The box inside the picture; fractions may reach over its edges by rounding.
    x, y = max(0.0, x), max(0.0, y)
    return x, y, min(float(size[0]), x + width), min(float(size[1]), y + height)


def _has_dark_bars(preview: Image.Image, view: Box) -> bool:
    # Cameras fill a preview of fixed proportions with black beside the view.
    width, height = preview.size
    left, top = math.floor(view[0]), math.floor(view[1])
    right, bottom = math.ceil(view[2]), math.ceil(view[3])
    bars = ((0, 0, left, height), (right, 0, width, height), (0, 0, width, top))
    boxes = (*bars, (0, bottom, width, height))
    real = [box for box in boxes if box[0] < box[2] and box[1] < box[3]]
    for bar in real:
        shade = Grid(preview.crop(bar).convert("L"))
        if shade.sums[0][0] > _DARK * shade.cells:
            return False
    return bool(real)


def _parts(preview: tuple[int, int], picture: tuple[int, int]) -> Iterator[Box]:
    # Boxes of the picture's proportions that lie inside the preview, from large to small.
    largest = min(preview[0] / picture[0], preview[1] / picture[1])
    width, height = picture[0] * largest, picture[1] * largest
    filled = width * height / (preview[0] * preview[1])
    for scale in _SCALES if filled > _SAME_SHAPE else (1.0, *_SCALES):
        w, h = width * scale, height * scale
        for x in _steps(preview[0] - w, w):
            for y in _steps(preview[1] - h, h):
                yield _kept(x, y, w, h, preview)


def _steps(room: float, size: float) -> list[float]:
    # Offsets that fill the room left beside a part.
    if room < 0.5:
        return [room / 2]
    count = min(_STEPS, math.ceil(room / size * _STEPS_PER_SIZE))
    return [room * step / count for step in range(count + 1)]


def _near(box: Box, size: tuple[int, int]) -> Iterator[Box]:
    # The box and its neighbors, half a step away in place and size.
    width, height = box[2] - box[0], box[3] - box[1]
    for scale in (0.975, 1.0, 1.025):
        w, h = min(size[0], width * scale), min(size[1], height * scale)
        for across in (-0.5, 0.0, 0.5):
            for down in (-0.5, 0.0, 0.5):
                x = box[0] + (width - w) / 2 + across * w / _STEPS_PER_SIZE
                y = box[1] + (height - h) / 2 + down * h / _STEPS_PER_SIZE
                x, y = min(x, size[0] - w), min(y, size[1] - h)
                yield _kept(x, y, w, h, size)


def _best_part(picture: Image.Image, view: Image.Image) -> float:
    rough = grid(picture, _COARSE)
    ranked = sorted(
        _parts(view.size, picture.size),
        key=lambda box: correlation(rough, grid(view, _COARSE, box)),
        reverse=True,
    )
    fine = grid(picture, _FINE)
    near = (box for start in ranked[:_CANDIDATES] for box in _near(start, view.size))
    return max((correlation(fine, grid(view, _FINE, box)) for box in near), default=0.0)


def _same_tones(view: Image.Image, picture: Image.Image) -> Image.Image:
    # ``view`` with its levels mapped so that it has as much of each as ``picture`` has.
    source, target = view.histogram(), picture.histogram()
    table = []
    level = passed = reached = 0
    for count in source:
        middle = passed + count / 2
        passed += count
        while level < 255 and reached + target[level] <= middle:
            reached += target[level]
            level += 1
        table.append(level)
    return view.point(table)


def _linear(view: Grid, picture: Grid) -> Image.Image:
    # ``view`` with its contrast and brightness brought to those of ``picture``.
    gain = correlation(picture, view) * picture.deviation / max(view.deviation, 1.0)
    offset = picture.sums[0][0] / picture.cells - gain * view.sums[0][0] / view.cells
    table = [min(255, max(0, round(gain * level + offset))) for level in LEVELS]
    return view.image.point(table)


def _regional(picture: Grid, view: Grid) -> tuple[float, float]:
    # The largest difference of one region, and that which three of four stay below, for the kinder
    # of two ways to undo another development: tone by tone goes wrong where art has few colors,
    # contrast and brightness alone where a curve was bent.
    scale = max(picture.deviation, _FLAT)
    found = []
    for toned in (_same_tones(view.image, picture.image), _linear(view, picture)):
        difference = ImageChops.difference(toned, picture.image)
        regions = difference.resize((_REGIONS, _REGIONS), Image.Resampling.BOX)
        levels = sorted(regions.tobytes())
        found.append((levels[-1] / scale, levels[len(levels) * 3 // 4] / scale))
    return min(found)


def same_view(picture: Image.Image, preview: Image.Image) -> ViewMatch:
    """Compare two small RGB pictures, in all eight orientations, with and without black bars.

    A preview that shows only the middle of the picture fits too: it shows nothing more.
    """
    flat = [_flat(one, other) for one, other in _pairs(picture, preview)]
    alike = max((match for match in flat if match is not None), default=None)
    if alike is not None:
        return ViewMatch(alike, 0.0, 0.0, 0.0)
    best = -1.0
    chosen: tuple[Image.Image, Image.Image] = picture, preview
    for mode in ("L", "RGB"):  # shapes of equal lightness show only in color
        whole, upright = picture.convert(mode), preview.convert(mode)
        for turn in _TURNS:
            view = upright if turn is None else upright.transpose(turn)
            for one, other in _pairs(whole, view):
                found = correlation(grid(one, _FINE), grid(other, _FINE))
                if found > best:
                    best, chosen = found, (one, other)
    one, other = chosen
    patch, usual = _regional(grid(one.convert("L"), _FINE), grid(other.convert("L"), _FINE))
    part = _best_part(one, other) if best > 0.5 else 0.0
    return ViewMatch(best, part, patch, usual)


def _pairs(picture: Image.Image, view: Image.Image) -> Iterator[tuple[Image.Image, Image.Image]]:
    yield picture, view
    inside = _inner_box(view.size, picture.size)
    if min(_whole_pixels(inside)) > 1 and _has_dark_bars(view, inside):
        for box in _nudged(inside, view.size):
            yield picture, view.resize(_whole_pixels(box), Image.Resampling.BOX, box=box)
    middle = _inner_box(picture.size, view.size)
    filled = (middle[2] - middle[0]) * (middle[3] - middle[1]) / (picture.width * picture.height)
    if filled < _SAME_SHAPE:
        yield _cut(picture, middle), view


def _nudged(box: Box, size: tuple[int, int]) -> Iterator[Box]:
    # Writers round the size and place of the view between bars to whole pixels, each in its way.
    left, top, right, bottom = box
    across, down = (1.0, 0.0) if left > top else (0.0, 1.0)
    for shift in _NUDGES:
        for growth in _NUDGES:
            x, y = left + across * (shift - growth), top + down * (shift - growth)
            width = right - left + 2 * across * growth
            yield _kept(x, y, width, bottom - top + 2 * down * growth, size)


def _whole_pixels(box: Box) -> tuple[int, int]:
    return max(1, round(box[2] - box[0])), max(1, round(box[3] - box[1]))


def _cut(image: Image.Image, box: Box) -> Image.Image:
    left, top, right, bottom = (round(edge) for edge in box)
    return image.crop((left, top, max(left + 1, right), max(top + 1, bottom)))


def _flat(picture: Image.Image, preview: Image.Image) -> float | None:
    # Two pictures of next to one color have nothing to correlate: their colors are compared.
    one, other = grid(picture, _FINE), grid(preview, _FINE)
    if max(one.deviation, other.deviation) > _FLAT:
        return None
    sums = zip(one.sums, other.sums, strict=True)
    apart = max(abs(s1 - s2) / one.cells for (s1, _), (s2, _) in sums)
    return max(0.0, 1.0 - (1.0 - _WHOLE_AT_LEAST) * apart / _FLAT_APART)

"""A web copy beside its print original: which part it shows, how it is placed, how its color changed.

The original may be CMYK or carry another profile, so its tones and colors differ from the copy's
even when all is well. Tones are fitted before the pictures are compared; colors are reported, and
never decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypedDict

from pytest_webdeliverable.likeness.differ import detail, differ, mean_difference
from pytest_webdeliverable.likeness.resample import WHOLE, Box, resample
from pytest_webdeliverable.likeness.same import common_grid
from pytest_webdeliverable.likeness.signature import Plane, Signature, planes

if TYPE_CHECKING:
    from collections.abc import Sequence

COARSE: Final = 32
"""Cells along the longer side that the placement is fitted on."""
ROUNDS: Final = 6
"""Steps of the fit; each at least halves what is left of a small displacement."""
MOST_CUT: Final = 0.4
"""Largest share of a side that a fit may cut away before it is given up."""
PLACED: Final = 0.01
"""Cut or shift, as a share of a side, that counts as none: about a cell."""
WORST_ALLOWED: Final = 16.0
"""Difference of 2 x 2 cells beyond the allowance up to which the pictures are the same, code values;
twice the limit of copies, since tones are only fitted."""
LEAST_DETAIL: Final = 0.5
"""Mean difference of neighboring cells below which a placement cannot be told, code values."""


class OriginalFacts(
    TypedDict("Names", {"color change": list[float], "color undecided": str | None})
):
    """A copy compared with its original.

    ``crop``: part of the original the copy shows (left, top, right, bottom as fractions, beyond 0..1
    where the copy shows more). ``cropped`` and ``shifted`` say whether that is more than rounding.
    ``color change``: mean Y, Cb, Cr of the copy less the original's, code values; ``tone``: factor on
    the contrast. ``undecided``: why the placement cannot be told.
    """

    same: bool
    score: float
    crop: list[float]
    cropped: bool
    shifted: bool
    tone: float
    at: list[float]
    undecided: str | None


def compare_original(copy: Signature, original: Signature) -> OriginalFacts:
    """Compare a copy with the original it was exported from.

    Raises ValueError for a damaged signature.
    """
    ours, theirs = planes(copy), planes(original)
    undecided = None
    box, tone = WHOLE, 1.0
    if min(detail(ours[0]), detail(theirs[0])) < LEAST_DETAIL:
        undecided = "too little detail to tell how the copy is placed"
    else:
        box, tone = _fit(ours[0], theirs[0])
    clipped = (max(0.0, box[0]), max(0.0, box[1]), min(1.0, box[2]), min(1.0, box[3]))
    across, down = common_grid(copy["grid"], original["grid"], clipped)
    mine = resample(ours[0], WHOLE, across, down)
    other = resample(theirs[0], clipped, across, down)
    level = mean_difference(mine, other)
    fitted = _toned(other, tone)
    found = differ(mine, fitted, level=mean_difference(mine, fitted))
    excess = found.worst / WORST_ALLOWED
    cut = max(1 - (box[2] - box[0]), 1 - (box[3] - box[1]))
    shift = max(abs(box[0] + box[2] - 1) / 2, abs(box[1] + box[3] - 1) / 2)
    return {
        "same": excess < 1.0,
        "score": round(1 / (1 + excess), 4),
        "crop": [round(value, 4) for value in box],
        "cropped": cut > PLACED,
        "shifted": shift > PLACED,
        "tone": round(tone, 3),
        "at": [round(value, 3) for value in found.at],
        "undecided": undecided,
        "color change": [
            round(level, 2),
            *(
                round(mean_difference(one, resample(two, clipped, one.width, one.height)), 2)
                for one, two in zip(ours[1:], theirs[1:], strict=True)
            ),
        ],
        "color undecided": (
            "the original is CMYK: its colors depend on the profile they are converted with"
            if original["mode"] == "cmyk"
            else None
        ),
    }


def _toned(plane: Plane, tone: float) -> Plane:
    return Plane(rows=[[value * tone for value in row] for row in plane.rows])


def _fit(copy: Plane, original: Plane) -> tuple[Box, float]:
    """Part of the original and contrast factor that fit the copy best, by repeated least squares.

    Unknown are the displacement and the scale along both sides and the contrast; see
    :func:`pytest_webdeliverable.likeness.differ.displacement` for the method.
    """
    scale = COARSE / max(copy.width, copy.height)
    across, down = max(4, round(copy.width * scale)), max(4, round(copy.height * scale))
    mine = resample(copy, WHOLE, across, down)
    box, tone = WHOLE, 1.0
    for _ in range(ROUNDS):
        step = _step(mine, resample(original, box, across, down))
        if step is None:
            return WHOLE, 1.0
        left, right, top, bottom, tone = step
        width, height = box[2] - box[0], box[3] - box[1]
        box = (
            box[0] + left * width,
            box[1] + top * height,
            box[2] + right * width,
            box[3] + bottom * height,
        )
        if min(box[2] - box[0], box[3] - box[1]) < 1 - MOST_CUT:
            return WHOLE, 1.0
    return box, tone


def _step(mine: Plane, other: Plane) -> tuple[float, float, float, float, float] | None:
    """One step of the fit: moves of left, right, top and bottom as fractions, and the contrast."""
    wide, high = other.width, other.height
    normal = [[0.0] * 7 for _ in range(6)]
    rows = other.rows
    for y in range(1, high - 1):
        v = (y + 0.5) / high
        for x in range(1, wide - 1):
            u = (x + 0.5) / wide
            gx = (rows[y][x + 1] - rows[y][x - 1]) / 2 * wide
            gy = (rows[y + 1][x] - rows[y - 1][x]) / 2 * high
            line = ((1 - u) * gx, u * gx, (1 - v) * gy, v * gy, rows[y][x], 1.0)
            value = mine.rows[y][x]
            for i, a in enumerate(line):
                if a:
                    row = normal[i]
                    for j, b in enumerate(line):
                        row[j] += a * b
                    row[6] += a * value
    found = solve(normal)
    if found is None or not 0.2 < found[4] < 5:
        return None
    tone = found[4]
    left, right, top, bottom = (max(-0.1, min(0.1, value / tone)) for value in found[:4])
    return left, right, top, bottom, tone


def solve(rows: Sequence[Sequence[float]]) -> list[float] | None:
    """Solve n linear equations, given as n rows of n factors and the result; None if they are not n."""
    work = [list(row) for row in rows]
    count = len(work)
    for column in range(count):
        pivot = max(range(column, count), key=lambda row: abs(work[row][column]))
        if abs(work[pivot][column]) < 1e-9:
            return None
        work[column], work[pivot] = work[pivot], work[column]
        top = work[column]
        for row in range(count):
            if row != column:
                factor = work[row][column] / top[column]
                work[row] = [a - factor * b for a, b in zip(work[row], top, strict=True)]
    return [work[row][count] / work[row][row] for row in range(count)]

"""What to expect of each piece before anything is exported: sizes, and how the file is to be made.

Pure: pieces of a manifest in, rows and text out. No picture is opened, none needs to exist.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.fit import expected_size, largest_print, print_pixels
from pytest_webdeliverable.report.asked import asked_words
from pytest_webdeliverable.report.words import markdown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pytest_webdeliverable.manifest.model import Manifest, Piece, Print, Spec
    from pytest_webdeliverable.manifest.quantities import Trim

CAUTION: Final = (
    "A web copy is not for printing. The print sizes are the largest at which the pixels still look "
    "sharp from reading distance; for a print go back to the original, by the printer's own guidelines."
)
_COLUMNS: Final = ("piece", "pixels", "ppi", "format", "profile", "weight")


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Pixels to export: the size to aim at, which side binds, what passes, and how large it prints."""

    pixels: str
    why: str
    prints: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One piece of the plan, in words."""

    piece: str
    title: str
    file: str
    name: str
    ppi: str
    format: str
    profile: str
    weight: str
    made: str
    size: Size

    @property
    def cells(self) -> tuple[str, ...]:
        """What stands side by side, as in the columns of the table."""
        return self.piece, self.size.pixels, self.ppi, self.format, self.profile, self.weight


def plan_rows(pieces: Iterable[Piece]) -> list[Row]:
    """Return the plan of some pieces, in their order."""
    return [_row(piece) for piece in pieces]


def _row(piece: Piece) -> Row:
    asked = asked_words(piece)
    made = [
        *(_jpeg_words(asked) if "jpeg" in (piece.spec.formats or ("jpeg",)) else ()),
        asked.get("color-mode", ""),
        f"{asked['bit-depth']} a sample" if "bit-depth" in asked else "",
        "no transparency" if piece.spec.transparency is False else "",
        "one picture, nothing moves" if piece.spec.animation is False else "",
        f"{asked['single-frame']} frames" if asked.get("single-frame", "1") != "1" else "",
        f"flashes {asked['flash']}" if "flash" in asked else "",
    ]
    return Row(
        piece=piece.id,
        title=display_name(piece.title),
        file=display_name(piece.file),
        name=display_name(asked.get("file-name", "")),
        ppi=asked.get("density", "any"),
        format=asked.get("file-format", "any"),
        profile=display_name(asked.get("color-profile", "any")),
        weight=asked.get("file-weight", "any"),
        made=", ".join(part for part in made if part),
        size=_size(piece.spec, piece.trim),
    )


def _jpeg_words(asked: dict[str, str]) -> list[str]:
    return [
        f"{asked['jpeg-process']} JPEG" if "jpeg-process" in asked else "",
        f"quality {asked['jpeg-quality']}" if "jpeg-quality" in asked else "",
        f"chroma {asked['chroma-subsampling']}" if "chroma-subsampling" in asked else "",
    ]


def _size(spec: Spec, trim: Trim | None) -> Size:
    if spec.box is None:
        if spec.print_ is None:
            return Size(pixels="any", why="the spec names no box and no print", prints="")
        return _print_size(spec.print_, trim)
    size = _box_size(spec, trim)
    if spec.print_ is None:
        return size
    more = _print_size(spec.print_, trim)
    return Size(
        pixels=size.pixels,
        why=f"{size.why}; the print asks for {more.pixels}: {more.why}",
        prints=size.prints,
    )


def _box_size(spec: Spec, trim: Trim | None) -> Size:
    assert spec.box is not None, "_size() looked"
    width, height = spec.box
    box = f"box of {width} x {height} px"
    expected = expected_size(spec, trim)
    assert expected is not None, "there is a box"
    if spec.fill == "exact":
        return Size(
            pixels=f"{width} x {height} px",
            why=f"exactly the {box}",
            prints=largest_print(width, height),
        )
    if trim is None:
        largest = largest_print(width, height)
        if spec.fill == "within":
            pixels, why = f"to {width} x {height} px", f"not larger than the {box}"
        else:
            pixels = f"{width} wide or {height} high"
            why = f"one of two, until trim = ... says the shape: {expected}"
        return Size(pixels=pixels, why=why, prints=largest)
    across, down = _fitted(spec.box, trim)
    prints = largest_print(across, down)
    if spec.fill == "within":
        why = f"{trim.text} in a {box}: at most this, in this shape"
        return Size(pixels=f"to {across} x {down} px", why=why, prints=prints)
    binds = "both sides bind" if expected.binds == "both" else f"the {expected.binds} binds"
    why = f"{trim.text} in a {box}: {binds}; {expected} pass"
    return Size(pixels=f"{across} x {down} px", why=why, prints=prints)


def _fitted(box: tuple[int, int], trim: Trim) -> tuple[int, int]:
    """Return the whole pixels nearest to a trim scaled into a box, halves rounded up."""
    scale = min(Fraction(box[0]) / trim.width, Fraction(box[1]) / trim.height)
    across, down = (max(1, floor(side * scale + Fraction(1, 2))) for side in _sides(trim))
    return across, down


def _sides(trim: Trim) -> tuple[Fraction, Fraction]:
    return trim.width, trim.height


def _print_size(wanted: Print, trim: Trim | None) -> Size:
    bleed = f" plus {wanted.bleed.text} bleed on each side" if wanted.bleed else ""
    density = f"{wanted.ppi:g} ppi"
    if trim is None:
        why = f'{density} at trim{bleed}: add the finished size, such as trim = "297 x 420 mm"'
        return Size(pixels="not known", why=why, prints="")
    across, down = print_pixels(wanted, trim)
    return Size(
        pixels=f"{ceil(across)} x {ceil(down)} px",
        why=f"{trim.text}{bleed} at {density}; {floor(across)} x {floor(down)} px or more pass",
        prints=f"{trim.text} at {density}: made for printing",
    )


def plan_text(rows: Iterable[Row]) -> list[str]:
    """Return the plan as lines of a terminal: facts in columns, the reasons below them.

    How the file is made is said once where it is the same for all; there is at least one row.
    """
    listed = list(rows)
    table = [_COLUMNS, *(row.cells for row in listed)]
    widths = [max(len(line[column]) for line in table) for column in range(len(_COLUMNS))]
    same = {row.made for row in listed}
    lines = [_aligned(_COLUMNS, widths)]
    for row in listed:
        lines.append(_aligned(row.cells, widths))
        details = _details(row, row.made if len(same) > 1 else "")
        lines += [f"    {label:<6} {text}" for label, text in details]
    if len(same) == 1 and listed[0].made:
        lines += ["", f"All are made as: {listed[0].made}"]
    return lines


def _aligned(cells: tuple[str, ...], widths: list[int]) -> str:
    return "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip()


def _details(row: Row, made: str) -> list[tuple[str, str]]:
    named = f", named {row.name}" if row.name else ""
    details = [
        ("size", row.size.why),
        ("file", f"{row.file}{named}"),
        ("made", made),
        ("prints", f"to {row.size.prints}" if row.size.prints else ""),
    ]
    return [(label, text) for label, text in details if text]


def plan_markdown(manifests: Iterable[tuple[str, Manifest, list[Row]]]) -> str:
    """Return the plan as a page: one table for each manifest, given with its path."""
    head = ("piece", "pixels", "why", "ppi", "format", "profile", "weight", "file", "prints to")
    parts = ["# What to expect of each piece"]
    for path, manifest, rows in manifests:
        title = manifest.portfolio.title
        parts.append(
            f"## {markdown(title)} ({markdown(path)})" if title else f"## {markdown(path)}"
        )
        lines = [f"| {' | '.join(head)} |", "| --- " * len(head) + "|"]
        lines += [f"| {' | '.join(map(markdown, _page_cells(row)))} |" for row in rows]
        parts.append("\n".join(lines))
    return "\n\n".join([*parts, CAUTION]) + "\n"


def _page_cells(row: Row) -> tuple[str, ...]:
    named = f", named {row.name}" if row.name else ""
    piece, pixels, ppi, kind, profile, weight = row.cells
    made = f"{kind}: {row.made}" if row.made else kind
    title = f"{piece}: {row.title}" if row.title else piece
    file = f"{row.file}{named}"
    return title, pixels, row.size.why, ppi, made, profile, weight, file, row.size.prints

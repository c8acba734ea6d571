"""What a spec asks, rule by rule, in the few words that stand in a table."""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING, Final

from pytest_webdeliverable.fit import expected_size, print_pixels
from pytest_webdeliverable.manifest.model import Animation, Ppi

if TYPE_CHECKING:
    from pytest_webdeliverable.manifest.model import Piece, Spec

MODE_WORDS: Final = {"rgb": "RGB", "gray": "gray", "cmyk": "CMYK", "lab": "Lab"}
_PROFILE_WORDS: Final = {"srgb": "sRGB", "embedded": "any, embedded", "none": "none"}


def asked_words(piece: Piece) -> dict[str, str]:
    """Return what is asked of a piece, by rule; rules that ask for no value are left out."""
    spec = piece.spec
    words = {**_size_words(piece), **_make_words(spec)}
    if spec.color_mode:
        words["color-mode"] = " or ".join(MODE_WORDS.get(mode, mode) for mode in spec.color_mode)
    if spec.bit_depth:
        words["bit-depth"] = f"{spec.bit_depth} bits"
    if spec.profile:
        words["color-profile"] = _PROFILE_WORDS.get(spec.profile, spec.profile)
    if isinstance(spec.animation, Animation):
        if spec.animation.frames:
            words["single-frame"] = f"at most {spec.animation.frames}"
        if spec.animation.flashes is not None:
            words["flash"] = f"at most {spec.animation.flashes:g} a second"
    elif spec.animation is False:
        words["single-frame"] = "1"
    return words


def _size_words(piece: Piece) -> dict[str, str]:
    spec, words = piece.spec, {}
    if spec.box is not None:
        words["pixel-size"] = _box_words(piece, spec.box)
    if spec.ppi is not None:
        words["density"] = (
            f"at least {spec.ppi.min:g} ppi" if isinstance(spec.ppi, Ppi) else f"{spec.ppi:g} ppi"
        )
    if spec.print_ is not None and piece.trim is not None:
        across, down = print_pixels(spec.print_, piece.trim)
        words["print-size"] = f"at least {floor(across)} x {floor(down)} px"
    return words


def _box_words(piece: Piece, box: tuple[int, int]) -> str:
    spec, size = piece.spec, f"{box[0]} x {box[1]} px"
    if spec.fill == "exact":
        return f"exactly {size}"
    if spec.fill == "within":
        return f"within {size}"
    if piece.trim is not None:
        return str(expected_size(spec, piece.trim))
    over = f", at most {spec.overshoot} px over" if spec.overshoot else ""
    return f"one side touches {size}{over}"


def _make_words(spec: Spec) -> dict[str, str]:
    words = {}
    if spec.formats:
        words["file-format"] = " or ".join(one.upper() for one in spec.formats)
    if spec.weight:
        words["file-weight"] = f"at most {weight_words(spec.weight)}"
    if spec.file_name:
        words["file-name"] = spec.file_name
    jpeg = spec.jpeg
    if jpeg is not None:
        if jpeg.process:
            words["jpeg-process"] = jpeg.process
        if jpeg.quality:
            words["jpeg-quality"] = f"{jpeg.quality} or more"
        if jpeg.chroma:
            words["chroma-subsampling"] = " or ".join(jpeg.chroma)
    return words


def weight_words(count: int) -> str:
    """Return bytes as a designer reads them; 1 kB is 1000 bytes."""
    if count < 1000:
        return f"{count} bytes"
    return f"{count / 1e6:.3g} MB" if count >= 1_000_000 else f"{count / 1e3:.3g} kB"

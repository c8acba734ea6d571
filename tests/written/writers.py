"""Picture files by programs other than Pillow: each function gives the bytes of one file.

A writer that is not installed raises MissingWriterError, and the cases that need it are skipped with its
name. Debian has cjpeg and jpegtran in libjpeg-turbo-progs, cwebp, webpmux and img2webp in webp, avifenc in
libavif-bin, exiv2 in exiv2.
"""

from __future__ import annotations

import importlib
import io
import shutil
import struct
import subprocess
import tempfile
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from pictures import srgb

PER_METER = 100 / 2.54
"""Pixels per meter that make one pixel per inch."""


class MissingWriterError(Exception):
    """A writer is not installed; the text names it."""


def module(name: str) -> Any:
    """A library that writes pictures."""
    try:
        return importlib.import_module(name)
    except (ImportError, OSError) as error:  # OSError: the shared library below is not there
        raise MissingWriterError(name) from error


def art(seed: int, width: int = 320, height: int = 240) -> np.ndarray:
    """Art that runs to all edges, 8-bit RGB: waves of many lengths and some grain, unlike any other seed's."""
    random = np.random.default_rng(seed)
    down, across = np.mgrid[0:height, 0:width]
    picture = np.full((height, width, 3), 128.0)
    for length in (400, 300, 230, 170, 120, 90, 60, 40, 27, 18):
        angle, phase = random.uniform(0, 2 * np.pi), random.uniform(0, 2 * np.pi)
        wave = np.cos((across * np.cos(angle) + down * np.sin(angle)) * 2 * np.pi / length + phase)
        picture += wave[..., None] * random.uniform(-1, 1, 3) * length**0.5 * 2.4
    picture += random.normal(0, 7, picture.shape)
    return np.clip(picture, 8, 247).astype(np.uint8)


def run(name: str, suffix: str, *arguments: str, **inputs: bytes) -> bytes:
    """Run a program in a folder with the inputs as files and return its file "out" + suffix.

    An input called ``ppm_a`` becomes the file a.ppm.
    """
    program = shutil.which(name)
    if program is None:
        raise MissingWriterError(name)
    with tempfile.TemporaryDirectory() as folder:
        for key, data in inputs.items():
            kind, _, stem = key.partition("_")
            (Path(folder) / f"{stem}.{kind}").write_bytes(data)
        done = subprocess.run(
            [program, *arguments], cwd=folder, capture_output=True, check=False, timeout=60
        )
        out = Path(folder) / f"out{suffix}"
        assert out.is_file(), (name, arguments, done.stderr)
        return out.read_bytes()


def ppm(pixels: np.ndarray) -> bytes:
    """The plainest file of pixels, for programs to read."""
    height, width = pixels.shape[:2]
    kind = 5 if pixels.ndim == 2 else 6
    return f"P{kind} {width} {height} 255\n".encode() + pixels.tobytes()


def jfif_density(data: bytes, ppi: int) -> bytes:
    """Write a density into the JFIF segment, which cjpeg leaves without a unit (ITU-T T.871, 10.1)."""
    assert data[6:11] == b"JFIF\0"
    return data[:13] + struct.pack(">BHH", 1, ppi, ppi) + data[18:]


def cjpeg(pixels: np.ndarray, *options: str, quality: str = "95", ppi: int | None = 72) -> bytes:
    """libjpeg-turbo's own program; 4:4:4 and with sRGB unless options say otherwise."""
    sampling = () if "-sample" in options or "-grayscale" in options else ("-sample", "1x1")
    profile = () if "-grayscale" in options else ("-icc", "srgb.icc")
    data = run(
        "cjpeg", ".jpg", "-quality", quality, *sampling, *profile, *options,
        "-outfile", "out.jpg", "a.ppm", ppm_a=ppm(pixels), icc_srgb=srgb(),
    )  # fmt: skip
    return data if ppi is None else jfif_density(data, ppi)


def jpegtran(data: bytes, *options: str) -> bytes:
    """Code a JPEG anew without touching its picture."""
    return run(
        "jpegtran", ".jpg", "-copy", "all", *options, "-outfile", "out.jpg", "a.jpg", jpg_a=data
    )


def djpeg(data: bytes) -> np.ndarray:
    """Pixels of a JPEG."""
    raw = run("djpeg", ".ppm", "-ppm", "-outfile", "out.ppm", "a.jpg", jpg_a=data)
    _, size, _, pixels = raw.split(b"\n", 3)
    width, height = map(int, size.split())
    return np.frombuffer(pixels, np.uint8).reshape(height, width, 3)


def vips(pixels: np.ndarray, suffix: str, *, ppi: float | None = 72, **options: Any) -> bytes:
    """libvips; sRGB embedded unless ``profile`` says otherwise."""
    image = vips_image(pixels)
    if ppi is not None:
        image = image.copy(xres=ppi / 25.4, yres=ppi / 25.4)
    options.setdefault("profile", "srgb")
    return bytes(
        image.write_to_buffer(suffix, **{k: v for k, v in options.items() if v is not None})
    )


def vips_image(pixels: np.ndarray) -> Any:
    """The pixels as an image of libvips."""
    return module("pyvips").Image.new_from_array(np.ascontiguousarray(pixels))


def vips_cmyk(pixels: np.ndarray, suffix: str, **options: Any) -> bytes:
    """CMYK through the press profile that libvips carries; that profile is embedded."""
    image = vips_image(pixels).icc_transform("cmyk", input_profile="srgb")
    density = options.pop("ppi", 72) / 25.4
    return bytes(image.copy(xres=density, yres=density).write_to_buffer(suffix, **options))


def opencv(pixels: np.ndarray, suffix: str, *parameters: int) -> bytes:
    """OpenCV: no profile, no density."""
    cv2 = module("cv2")
    _, data = cv2.imencode(suffix, pixels[..., ::-1] if pixels.ndim == 3 else pixels, parameters)
    return bytes(data.tobytes())


def chunk(kind: bytes, payload: bytes) -> bytes:
    """A PNG chunk (W3C PNG 3rd edition, 5.3)."""
    checksum = zlib.crc32(kind + payload)
    return struct.pack(">I", len(payload)) + kind + payload + struct.pack(">I", checksum)


SRGB_CHUNK = chunk(b"sRGB", b"\0")


def iccp(profile: bytes) -> bytes:
    """An iCCP chunk."""
    return chunk(b"iCCP", b"profile\0\0" + zlib.compress(profile))


def pypng(
    pixels: np.ndarray, *, ppi: float | None = 72, color: bytes = SRGB_CHUNK, **options: Any
) -> bytes:
    """PyPNG, with ``color`` chunks put in behind the header."""
    png = module("png")
    options["greyscale"] = pixels.ndim == 2 and "palette" not in options
    if pixels.ndim == 3 and pixels.shape[2] == 4:
        options["alpha"] = True
    if ppi is not None:
        options.update(x_pixels_per_unit=round(ppi * PER_METER), unit_is_meter=True)
        options.setdefault("y_pixels_per_unit", options["x_pixels_per_unit"])
    height, width = pixels.shape[:2]
    file = io.BytesIO()
    rows = pixels.reshape(height, -1)
    wide = pixels.dtype == np.uint16
    png.Writer(width, height, **options).write(
        file, rows.tolist() if wide else map(bytearray, rows)
    )
    data = file.getvalue()
    return data[:33] + color + data[33:]


def tiff(pixels: np.ndarray, *, ppi: float | None = 72, **options: Any) -> bytes:
    """tifffile; sRGB embedded unless ``iccprofile`` says otherwise."""
    tifffile = module("tifffile")
    options.setdefault("iccprofile", srgb())
    options.setdefault("metadata", None)
    big = options.pop("bigtiff", False)
    if ppi is not None:
        options.setdefault("resolution", (ppi, ppi))
        options.setdefault("resolutionunit", "INCH")
    file = io.BytesIO()
    with tifffile.TiffWriter(file, bigtiff=big) as writer:
        writer.write(pixels, **options)
    return file.getvalue()


def webp(pixels: np.ndarray, *options: str) -> bytes:
    """libwebp's own program; the profile comes with the PNG that it reads."""
    source = pypng(pixels, color=iccp(srgb()))
    return run(
        "cwebp", ".webp", "-quiet", "-metadata", "icc", *options, "a.png", "-o", "out.webp",
        png_a=source,
    )  # fmt: skip


def avif(pixels: np.ndarray, *options: str, source: bytes | None = None) -> bytes:
    """libavif's own program; sRGB by nclx unless options say otherwise."""
    nclx = () if "--nclx" in options else ("--nclx", "1/13/6")
    return run(
        "avifenc", ".avif", "-s", "9", "--min", "4", "--max", "12", *nclx, *options,
        "a.png", "out.avif", png_a=source or pypng(pixels, color=b""),
    )  # fmt: skip


def exiv2(data: bytes, suffix: str, *commands: str) -> bytes:
    """Metadata written into a finished file."""
    flags = [part for command in commands for part in ("-M", command)]
    return run("exiv2", suffix, *flags, f"out{suffix}", **{f"{suffix[1:]}_out": data})


def piexif(data: bytes, tags: dict[str, Any]) -> bytes:
    """Exif written into a finished JPEG by piexif."""
    library = module("piexif")
    out = io.BytesIO()
    library.insert(library.dump(tags), data, out)
    return out.getvalue()


def gif_frames(frames: list[np.ndarray], delay: int) -> bytes:
    """A GIF by libvips; ``delay`` in ms for every frame."""
    pyvips = module("pyvips")
    image = vips_image(np.concatenate(frames)).copy()
    image.set_type(pyvips.GValue.gint_type, "page-height", frames[0].shape[0])
    image.set_type(pyvips.GValue.array_int_type, "delay", [delay] * len(frames))
    return bytes(image.write_to_buffer(".gif", effort=1, bitdepth=5))


def webp_frames(frames: list[np.ndarray], delay: int) -> bytes:
    """An animation by libwebp's own program."""
    names = [f"{index}.png" for index in range(len(frames))]
    sources = {f"png_{index}": opencv(frame, ".png") for index, frame in enumerate(frames)}
    listed = [part for name in names for part in ("-d", str(delay), name)]
    return run("img2webp", ".webp", *listed, "-o", "out.webp", **sources)


def avif_frames(frames: list[np.ndarray]) -> bytes:
    """A sequence by libavif's own program."""
    names = [f"{index}.png" for index in range(len(frames))]
    sources = {f"png_{index}": opencv(frame, ".png") for index, frame in enumerate(frames)}
    return run("avifenc", ".avif", "-s", "9", *names, "out.avif", **sources)

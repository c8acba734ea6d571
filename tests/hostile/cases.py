"""Hostile pieces of a portfolio, each made by code: what is on disk, and the one rule that must fail.

``CASES`` holds them by id. ``rule`` is the only rule of the piece that may fail, and must; None means
that the piece is odd but sound, and must pass them all. ``words`` are part of the sentence.
"""

from __future__ import annotations

import io
import json
import os
import socket
import stat
import zipfile
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import pictures
from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

FORMATS = ("jpeg", "png", "webp", "avif", "gif", "tiff")
SUFFIX = {"jpeg": "jpg", "tiff": "tif"}


class Impossible(Exception):
    """The machine, or this user, cannot make the case."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """``make`` puts the file at its path; ``root`` is the run's root, above which lies "secret.jpg"."""

    file: str
    make: Callable[[Path, Path], object]
    rule: str | None = "file-readable"
    words: str = ""
    spec: str = "open"


CASES: dict[str, Case] = {}


def case(
    name: str,
    make: Callable[[], bytes] | Callable[[Path, Path], object],
    *,
    file: str | None = None,
    kind: str = "jpeg",
    rule: str | None = "file-readable",
    words: str = "",
    spec: str = "open",
    data: bool = True,
) -> None:
    """Register a case; ``data`` says that ``make`` gives the bytes of the file."""

    def put(path: Path, root: Path) -> object:
        if not data:
            return make(path, root)
        return path.write_bytes(make())

    assert name not in CASES
    where = file if file is not None else f"images/{name}.{SUFFIX.get(kind, kind)}"
    CASES[name] = Case(file=where, make=put, rule=rule, words=words, spec=spec)


@cache
def sound(kind: str, seed: int = 0, side: int = 96) -> bytes:
    """A sound picture that no other seed resembles; a GIF has as many colors as its own palette."""
    grain = Image.effect_noise((side + seed % 7, side), 40 + seed % 50)
    shapes = Image.effect_mandelbrot(grain.size, (-1.5 + seed / 90, -1.1, 0.3 + seed / 80, 1.0), 50)
    parts = [grain, shapes, Image.blend(grain, shapes, 0.5)]
    turned = [part.rotate(90 * (seed % 4)) for part in parts]
    picture = Image.merge("RGB", (turned[seed % 3], turned[(seed + 1) % 3], turned[(seed + 2) % 3]))
    options: dict[str, object] = {"icc_profile": pictures.srgb()} if kind != "gif" else {}
    if kind == "jpeg":
        options |= {"quality": 95, "subsampling": 0, "dpi": (72, 72)}
    buffer = io.BytesIO()
    picture.save(buffer, kind.upper(), **options)
    return buffer.getvalue()


# Paths


def link(target: str) -> Callable[[Path, Path], object]:
    return lambda path, _root: path.symlink_to(target)


def linked_parent(path: Path, root: Path) -> None:
    path.parent.rmdir()
    path.parent.symlink_to(root.parent, target_is_directory=True)


def inner_link(path: Path, _root: Path) -> None:
    path.with_name("real.jpg").write_bytes(sound("jpeg", 77))
    path.symlink_to("real.jpg")


def loop(path: Path, _root: Path) -> None:
    path.symlink_to("loop-b.jpg")
    path.with_name("loop-b.jpg").symlink_to(path.name)


def device(path: Path, _root: Path) -> None:
    try:
        os.mknod(path, stat.S_IFCHR | 0o666, os.makedev(1, 5))  # /dev/zero, which never ends
    except OSError as error:
        raise Impossible("devices are made by root only") from error


def bound_socket(path: Path, _root: Path) -> None:
    before = os.open(".", os.O_RDONLY)
    try:  # the path of a socket has at most 107 bytes (unix(7))
        os.chdir(path.parent)
        with socket.socket(socket.AF_UNIX) as bound:
            bound.bind(path.name)
    finally:
        os.fchdir(before)
        os.close(before)


def locked(path: Path, _root: Path) -> None:
    path.write_bytes(sound("jpeg", 78))
    path.chmod(0)


def sparse(path: Path, _root: Path) -> None:
    with path.open("wb") as file:
        file.write(sound("jpeg")[:4000])
        try:
            file.truncate(100_000_000_000)
        except OSError as error:
            raise Impossible("the disk takes no file of 100 GB") from error


def deep(path: Path, _root: Path) -> None:
    path.write_bytes(sound("jpeg", 79))


def nothing(_path: Path, _root: Path) -> None:
    """No file at all."""


case("system-link", link("/etc/passwd"), data=False, words="leads out of the root")
case("device-link", link("/dev/zero"), data=False, words="leads out of the root")
case("upward-link", link("../../secret.jpg"), data=False, words="leads out of the root")
case("linked-parent", linked_parent, file="parent/secret.jpg", data=False, words="leads out of")
case("inner-link", inner_link, file="linked/inner.jpg", data=False, rule=None)
case("link-loop", loop, data=False, words="circle")
case("dangling-link", link("gone.jpg"), data=False, rule="file-present")
case("no-file", nothing, data=False, rule="file-present")
case("pipe", lambda path, _: os.mkfifo(path), data=False, words="is a pipe")
case("device", device, data=False, words="is a device")
case("socket", bound_socket, data=False, words="is a socket")
case("folder", lambda path, _: path.mkdir(), data=False, words="is a folder")
case("locked", locked, data=False, words="no permission")
case("linked-folder", link("../images"), file="loop/again", data=False, words="is a folder")
case("sparse", sparse, data=False, words="100,000,000,000 bytes")
case("deep", deep, file="/".join(["d"] * 200 + ["deep.jpg"]), data=False, rule=None)
case("name-of-256", nothing, file=f"images/{'n' * 252}.jpg", data=False, words="too long")
case("path-of-9000", nothing, file="p/" * 4500 + "p.jpg", data=False, words="longer than 1024")

# Names: the file is there wherever the disk takes its name


def named(name: str, file: str, words: str = "cannot be seen", rule: str = "file-readable") -> None:
    def put(path: Path, _root: Path) -> None:
        try:
            path.write_bytes(sound("jpeg", 60))
        except (OSError, ValueError):
            return

    case(name, put, file=file, data=False, words=words, rule=rule)


named("command-name", "images/a\n::error file=x,line=1::owned.jpg")
named("old-command-name", "images/b\r\n##[error]owned.jpg")
named("group-name", "images/c\n##[group]owned\n::stop-commands::x.jpg")
named("escape-name", "images/d\x1b[2J\x1b]0;owned\x07.jpg")
named("turned-name", "images/e\u202egpj.exe.jpg")
named("isolated-name", "images/f\u2066\u2069\u200e.jpg")
named("line-name", "images/g\u2028::warning::x.jpg")
named("next-line-name", "images/h\x85::warning::x.jpg")
named("tag-name", "images/i\U000e0041.jpg")
named("byte-mark-name", "images/j\ufeff.jpg")
case("colon-name", lambda: sound("jpeg", 61), file="images/::error::k.jpg", rule=None)
case("hash-name", lambda: sound("jpeg", 62), file="images/##[error]l.jpg", rule=None)
case("option-name", lambda: sound("jpeg", 63), file="images/--help.jpg", rule=None)
case("markup-name", lambda: sound("jpeg", 64), file="images/<img src=x onerror=a()>.jpg", rule=None)
case("shell-name", lambda: sound("jpeg", 65), file="images/$(touch owned)`id`;.jpg", rule=None)
case(
    "reserved-name",
    lambda: sound("jpeg", 66),
    file="images/CON.jpg",
    rule="file-name",
    spec="named",
)
case("space-name", lambda: sound("jpeg", 67), file="images/a b.jpg", rule="file-name", spec="named")
case("composed", lambda: sound("jpeg", 68), file="images/caf\u00e9.jpg", rule=None)
case("decomposed", lambda: sound("jpeg", 69), file="images/cafe\u0301.jpg", rule=None)
case("small-twin", lambda: sound("jpeg", 70), file="images/twin.jpg", rule=None)
case("capital-twin", lambda: sound("jpeg", 71), file="images/Twin.jpg", rule=None)
case("other-capitals", lambda: sound("jpeg", 72), file="images/other-capitals.jpg", rule=None)

# What is no picture, or another one than its name says


def archive() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        file.writestr("picture.jpg", sound("jpeg"))
    return buffer.getvalue()


POINTER = b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"0" * 64 + b"\nsize 12345\n"
HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(400)
PAGE = b"<!DOCTYPE html><html><script>alert(1)</script>\n::error::x\n</html>"

case("empty", lambda: b"", words="empty")
case("one-byte", lambda: b"\xff")
case("page", lambda: PAGE, words="HTML")
case("archive", archive, words="ZIP")
case("postscript", lambda: b"%!PS-Adobe-3.0 EPSF-3.0\n(pwd) run\n" * 9, words="PostScript")
case("pdf", lambda: b"%PDF-1.7\n" + bytes(999), words="PDF")
case("svg", lambda: b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', words="SVG")
case("program", lambda: b"\x7fELF" + bytes(4000))
case("commands", lambda: b"\n::error::owned\n##[error]owned\n\x1b[31m" * 50)
case("pointer", lambda: POINTER, words="pointer")
case("camera-format", lambda: HEIC, kind="avif", words="HEI")
case("mangled", lambda: sound("png").replace(b"\n", b"\r\n"), kind="png")
case("stripped", lambda: bytes(byte & 0x7F for byte in sound("png")), kind="png")
case("renamed-gif", lambda: sound("gif", 73), rule="file-format", words="GIF")
case("renamed-png", lambda: sound("png", 74), rule="file-format", words="PNG")
case("renamed-jpeg", lambda: sound("jpeg", 75), kind="png", rule="file-format", words="JPEG")
case("json", lambda: json.dumps({"a": [1] * 500}).encode())

# Every format cut at each tenth, and by one byte


def cut(kind: str, tenth: int) -> Callable[[], bytes]:
    return lambda: sound(kind)[: len(sound(kind)) * tenth // 10]


for _kind in FORMATS:
    for _tenth in range(1, 10):
        case(f"{_kind}-at-{_tenth}0-percent", cut(_kind, _tenth), kind=_kind)
    case(f"{_kind}-less-a-byte", lambda kind=_kind: sound(kind)[:-1], kind=_kind)
    case(
        f"{_kind}-and-more",
        lambda kind=_kind: sound(kind) + b"PK\3\4" + bytes(99),
        kind=_kind,
        # TIFF 6.0, section 2: data lie anywhere in the file, nothing says where it ends.
        rule=None if _kind == "tiff" else "file-readable",
    )

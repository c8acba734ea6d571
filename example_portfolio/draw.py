"""Draw the example portfolio and the rejected set; the same files on every run.

    python example_portfolio/draw.py [FOLDER]

Needs Pillow and nothing else. Writes into its own folder unless another one is named.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from studio import banner, collage, export, faults, photograph, posters, print_work, sleeve

if TYPE_CHECKING:
    from collections.abc import Callable

    from PIL import Image

HERE: Final = Path(__file__).parent
NAME: Final = "images/quill-mara-{}.jpg"
COPY: Final = "images/{}/quill-mara-{}.jpg"

PIECES: Final[dict[str, Callable[[], Image.Image]]] = {
    "tide-table": posters.tide_table,
    "night-ferry": posters.night_ferry,
    "low-brass": posters.low_brass,
    "kite-day": banner.kite_day,
    "forms-of-rope": posters.forms_of_rope,
    "loom": posters.loom,
    "salt-notes": print_work.salt_notes,
    "orchard-tea": print_work.orchard_tea,
    "slow-lanterns": sleeve.slow_lanterns,
    "paper-harbour": collage.paper_harbour,
    "fog-jetty": photograph.fog_jetty,
}
THUMBNAIL: Final = (400, 300)  # px, the built-in spec "thumbnail"
ORIGINAL_PPI: Final = 141  # 11 x 17 in at twice the web copy's pixels
SOCIAL_CARD: Final = (1200, 630)  # px, the built-in spec "social-card"


def accepted(folder: Path) -> None:
    """Write the portfolio itself: eleven pieces, two copies of one, the original of another."""
    original = export.tiff(posters.tide_table(2), ORIGINAL_PPI)
    export.write(folder / "originals/tide-table.tif", original)
    for name, draw in PIECES.items():
        picture = draw()
        export.write(folder / NAME.format(name), export.jpeg(picture))
        if name == "kite-day":
            small = export.reduced(picture, THUMBNAIL)
            export.write(folder / COPY.format("thumbs", name), export.jpeg(small))
            card = export.cropped(picture, SOCIAL_CARD)
            export.write(folder / COPY.format("cards", name), export.jpeg(card))


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    accepted(target)
    faults.rejected(target)

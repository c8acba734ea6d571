"""The built-in specs.

Their numbers are common practice, no source: what sites, schools and print buyers usually ask for. A
portfolio changes them with a table of the same name, or derives its own.
"""

from __future__ import annotations

from typing import Any, Final

_SCREEN: Final[dict[str, Any]] = {
    "formats": ["jpeg"],
    "box": [1600, 1200],
    "fill": "touch",
    "overshoot": 1,
    "ppi": 72,
    "color-mode": "rgb",
    "bit-depth": 8,
    "profile": "srgb",
    "jpeg": {"process": "baseline", "quality": 90},
    "edges": {"gap": True},
    "privacy": {"location": False, "device": False, "preview": False},
    "alt": {"required": True, "longest": 250},
}

BUILT_IN: Final[dict[str, dict[str, Any]]] = {
    "screen": _SCREEN,
    "screen-2x": {"from": "screen", "box": [3200, 2400]},
    "thumbnail": {"from": "screen", "box": [400, 300], "fill": "within"},
    "social-card": {"from": "screen", "box": [1200, 630], "fill": "exact"},
    "print-entry": {
        "formats": ["tiff"],
        "color-mode": ["cmyk", "rgb"],
        "ppi": {"min": 300},
        "print": {"ppi": 300},
        "profile": "embedded",
    },
    "motion": {
        "formats": ["gif", "webp", "png", "avif"],
        "animation": {"frames": 300, "flashes": 3},
        "alt": {"required": True, "longest": 250},
    },
}
"""Raw tables as a manifest would write them. 250 characters for a description: IPTC Photo Metadata
Standard, property Alt Text (Accessibility). Three flashes a second: WCAG 2.2, SC 2.3.1."""

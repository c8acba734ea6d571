"""The proof sheet: one HTML file that needs nothing else, made from a report and its pictures.

No network, no inline styles, no handlers: the page's policy names its one style and its one script by
their hashes. Works without the script too, with every sheet open.
"""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.report.page.head import masthead, page_title, toolbar
from pytest_webdeliverable.report.page.sheet import piece_article, whole_section
from pytest_webdeliverable.report.words import markup, untold

if TYPE_CHECKING:
    from pytest_webdeliverable.report.pictures import Album


def build_page(report: dict[str, Any], album: Album) -> str:
    """Return the page; the same for the same report and pictures."""
    style, script = _part("page.css"), _part("page.js")
    policy = (
        f"default-src 'none'; img-src data:; style-src '{_digest(style)}'; "
        f"script-src '{_digest(script)}'; base-uri 'none'; form-action 'none'"
    )
    many = len(report["manifests"]) > 1
    walls = "".join(
        _wall(manifest, number, album, many=many)
        for number, manifest in enumerate(report["manifests"], 1)
    )
    empty = "" if report["manifests"] else '<p class="none">No piece was checked in this run.</p>'
    note = f'<p class="light">{markup(album.left_out)}</p>' if album.left_out else ""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer">'
        f"<title>{_title(report)}</title><style>{style}</style></head>\n<body>"
        '<a class="skip" href="#wall">Skip to the pictures</a>'
        f"{masthead(report)}{toolbar(report)}"
        f'<main id="wall" tabindex="-1">{walls}{empty}{note}</main>\n'
        f"{_part('window.html')}<footer>{_footer(report)}</footer>"
        f"<script>{script}</script></body></html>\n"
    )


def _part(name: str) -> str:
    return files(__name__).joinpath(name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    """Hash of an inline element's text, as Content Security Policy Level 3 writes it."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


def _title(report: dict[str, Any]) -> str:
    failed = report["totals"]["failed"]
    good = "not complete" if untold(report["totals"]) else "nothing to fix"
    result = f"{failed:,} to fix" if failed else good
    return f"{markup(page_title(report))}: proof sheet, {result}"


def _footer(report: dict[str, Any]) -> str:
    tool = report["tool"]
    return (
        f"<p>{markup(tool['name'])} {markup(tool['version'])}. Pictures on this page are small copies "
        "made for looking; no metadata came along.</p>"
    )


def _wall(manifest: dict[str, Any], number: int, album: Album, *, many: bool) -> str:
    pieces, whole = [], ""
    for piece in manifest["pieces"]:
        mark = f"{f'm{number}' if many else 'piece'}-{markup(piece['id'])}"
        if "file" in piece:
            pictures = album.pictures.get((manifest["manifest"], piece["id"]))
            pieces.append(piece_article(piece, pictures, mark))
        else:
            whole = whole_section(piece, mark)
    title = (manifest["title"] or manifest["manifest"]) if many else "Pieces"
    return (
        f'<section class="manifest" aria-labelledby="m{number}">'
        f'<div class="slug"><h2 id="m{number}">{markup(title)}</h2>'
        f"<p><code>{markup(manifest['manifest'])}</code></p></div>"
        f'<div class="pieces">{"".join(pieces)}</div>{whole}</section>'
    )

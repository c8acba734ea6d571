"""One piece: its card on the wall, and the sheet that opens from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from pytest_webdeliverable.report.build import lost_points, score_of
from pytest_webdeliverable.report.page.drawing import (
    ZOOM,
    Sizes,
    edge_strip,
    gap_words,
    size_drawing,
    swatch,
)
from pytest_webdeliverable.report.page.findings import cautions, findings
from pytest_webdeliverable.report.page.table import SUMMARY, check_table, measured_words
from pytest_webdeliverable.report.words import (
    VERDICTS,
    count,
    count_points,
    markup,
    verdict_of,
)

if TYPE_CHECKING:
    from pytest_webdeliverable.report.pictures import EdgeStrip, Pictures, Shown


_NOT_HERE: Final = (
    "No picture: the file is not there, or no longer the one that was measured, or it was left out to "
    "keep this page light."
)


def piece_article(piece: dict[str, Any], pictures: Pictures | None, mark: str) -> str:
    """Return a piece of the wall; ``mark`` is its id in the page."""
    verdict = verdict_of(piece["checks"])
    found = {
        (check["outcome"], check["family"])
        for check in piece["checks"]
        if check["outcome"] != "passed"
    }
    tokens = " ".join(f"{outcome}:{family}" for outcome, family in sorted(found))
    name = piece_name(piece)
    words = f"{name} {piece['id']} {piece.get('file', '')}"
    return (
        f'<article class="piece {verdict}" id="{mark}" data-verdict="{verdict}" '
        f'data-found="{markup(tokens)}" data-words="{markup(words.lower())}">'
        f'<div class="card">{_mount(pictures)}<div class="label">'
        f'<h3><button type="button" class="open" aria-expanded="false" '
        f'aria-controls="{mark}-sheet">{markup(name)}</button></h3>'
        f'<p class="verdict">{_verdict_words(piece, verdict)}</p>'
        f'<p class="facts">{_facts(piece)}</p></div></div>'
        f'<div class="sheet" id="{mark}-sheet"><div class="looking">{_looking(piece, pictures)}</div>'
        f'<div class="reading">{findings(piece)}{_size(piece)}{_alt(piece)}{_score(piece)}'
        f"{cautions(piece)}</div>"
        f'<details class="all"><summary>{SUMMARY}</summary>{check_table(piece)}</details>'
        "</div></article>"
    )


def piece_name(piece: dict[str, Any]) -> str:
    """Return what a reader calls a piece: its title, and which copy of it; else its id."""
    title = piece.get("title")
    if not title:
        return str(piece["id"])
    return f"{title}, {piece['spec']}" if "copy-of" in piece else str(title)


def _mount(pictures: Pictures | None) -> str:
    if pictures is None:
        return '<div class="mount"><p class="blank">No picture to show</p></div>'
    return f'<div class="mount"><span class="trim">{_img(pictures.thumb, "")}</span></div>'


def _img(shown: Shown, alt: str, name: str = "") -> str:
    named = f' class="{name}"' if name else ""
    return (
        f'<img{named} src="{shown.uri}" width="{shown.width}" height="{shown.height}" '
        f'alt="{markup(alt)}" loading="lazy" decoding="async">'
    )


def _verdict_words(piece: dict[str, Any], verdict: str) -> str:
    number = sum(check["outcome"] == verdict for check in piece["checks"])
    text = VERDICTS[verdict]
    if verdict != "passed":
        text += f": {number}"
    return f'<span class="sign" aria-hidden="true"></span>{text}'


def _facts(piece: dict[str, Any]) -> str:
    words = measured_words(piece)
    facts = [words[rule] for rule in ("pixel-size", "file-format", "file-weight") if rule in words]
    named = f"<code>{markup(piece['id'])}</code>" if piece.get("title") else ""
    return f"{named}<span>{markup(', '.join(facts))}</span>"


def _looking(piece: dict[str, Any], pictures: Pictures | None) -> str:
    """Show the picture on its surround, its magnified edges around it where they are."""
    if pictures is None:
        problem = piece["measured"].get("problem", {}).get("text", _NOT_HERE)
        return f'<div class="surround"><p class="blank">{markup(problem)}</p></div>'
    name = piece.get("alt") or f"Picture {piece['id']}"
    shown = pictures.large or pictures.thumb
    strips = {strip.side: strip for strip in pictures.strips}
    gaps = piece["measured"].get("edges", {}).get("gaps")
    header = piece["measured"]["header"]
    picture = f'<span class="trim">{_img(shown, name, "look")}</span>'
    edges = "".join(_edge(strips[side], gaps, header) for side in strips)
    framed = " framed" if strips else ""
    return (
        f'<div class="surround{framed}">{edges}<div class="centre">{picture}</div></div>'
        f'<div class="under"><button type="button" class="full">Full window</button>'
        f"{_gap_list(gaps, magnified=bool(strips))}</div>"
    )


def _edge(strip: EdgeStrip, gaps: list[dict[str, Any]] | None, header: dict[str, Any]) -> str:
    length = header["width"] if strip.side in {"top", "bottom"} else header["height"]
    return edge_strip(strip, gaps, length)


def _gap_list(gaps: list[dict[str, Any]] | None, *, magnified: bool) -> str:
    words = f"Edges enlarged {ZOOM} times, each pixel a square." if magnified else ""
    if not gaps:
        return f"<p>{words}{'' if gaps is None else ' No gap.'}</p>"
    items = "".join(
        f"<li>{swatch(gap['color'])}<b>{markup(gap['side'])}</b> {markup(gap_words(gap))}, color "
        f"difference {gap['delta-e']:g} (CIEDE2000)</li>"
        for gap in gaps
    )
    return f'<div><p>{words}</p><ul class="gaps">{items}</ul></div>'


def _size(piece: dict[str, Any]) -> str:
    header = piece["measured"].get("header")
    if header is None:
        return ""
    check = next(
        (one for one in piece["checks"] if one["rule"] in {"pixel-size", "print-size"}), None
    )
    if check is None or check["outcome"] == "skipped":
        return ""
    actual = header["width"], header["height"]
    box = tuple(piece["box"]) if "box" in piece else None
    sizes = Sizes(
        actual=actual,
        expected=_expected(piece, check),
        box=box,
        fits=check["outcome"] == "passed",
    )
    asked = piece.get("asked", {}).get(check["rule"], "")
    rows = [("Now", "actual", f"{actual[0]} x {actual[1]} px"), ("Asked", "expected", asked)]
    if box:
        rows.append(("Box", "box", f"{box[0]} x {box[1]} px"))
    lines = "".join(
        f'<div class="key {name}"><dt>{word}</dt><dd>{markup(value)}</dd></div>'
        for word, name, value in rows
        if value
    )
    return (
        f'<section class="size {check["outcome"]}"><h4>Size</h4><div class="drawn">{size_drawing(sizes)}'
        f"<dl>{lines}</dl></div></section>"
    )


def _expected(piece: dict[str, Any], check: dict[str, Any]) -> tuple[int, int] | None:
    """Return the least size that would be accepted, where it is one and not a range to choose from."""
    least = check["evidence"].get("least")
    if least:
        return least[0], least[1]
    expected = piece.get("expected", {})
    if "width" in expected and expected["width"][0] > 1:
        return expected["width"][0], expected["height"][0]
    return None


def _alt(piece: dict[str, Any]) -> str:
    alt = piece.get("alt")
    return f'<section class="alt"><h4>Description</h4><p>{markup(alt)}</p></section>' if alt else ""


def _score(piece: dict[str, Any]) -> str:
    earned, most = score_of(piece["checks"])
    if earned is None or most is None:
        return ""
    lost = ", ".join(
        f"<code>{markup(mark['rule'])}</code> {mark['points']:g}"
        for mark in lost_points([(piece["id"], piece["checks"])])
    )
    named = f" Lost: {lost}." if lost else ""
    return (
        f'<section class="points"><h4>Score</h4><p>{earned:g} of {count_points(most)}.{named}</p>'
        "</section>"
    )


def whole_section(portfolio: dict[str, Any], mark: str) -> str:
    """Return what was found about the portfolio as a whole."""
    verdict = verdict_of(portfolio["checks"])
    number = count(len(portfolio["checks"]), "rule", "rules")
    return (
        f'<section class="whole {verdict}" aria-labelledby="{mark}-head">'
        f'<h3 id="{mark}-head">The portfolio as a whole</h3>'
        f'<p class="verdict">{_verdict_words(portfolio, verdict)} <span>({number})</span></p>'
        f"{findings(portfolio)}"
        f'<details class="all"><summary>{SUMMARY}</summary>{check_table(portfolio)}</details></section>'
    )

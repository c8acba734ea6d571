"""Measured against asked, as a table: one row for each rule."""

from __future__ import annotations

from typing import Any, Final

from pytest_webdeliverable.report.asked import MODE_WORDS, weight_words
from pytest_webdeliverable.report.words import VERDICTS, markup


def check_table(piece: dict[str, Any]) -> str:
    """Return the table of a piece's checks, in the order of the rules."""
    measured, asked = measured_words(piece), piece.get("asked", {})
    rows = "".join(_row(check, measured, asked) for check in piece["checks"])
    marks = any("points" in check for check in piece["checks"])
    head = '<th scope="col">Points</th>' if marks else ""
    return (
        '<table><thead><tr><th scope="col">Rule</th><th scope="col">Verdict</th>'
        f'<th scope="col">Measured</th><th scope="col">Asked</th>{head}</tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )


def _row(check: dict[str, Any], measured: dict[str, str], asked: dict[str, str]) -> str:
    rule, outcome = check["rule"], check["outcome"]
    if rule in measured and rule in asked:
        values = f"<td>{markup(measured[rule])}</td><td>{markup(asked[rule])}</td>"
    else:
        values = f'<td colspan="2">{markup(check["message"])}</td>'
    if "points" in check:
        values += f"<td>{check['points']:g}</td>"
    return (
        f'<tr class="{outcome}"><th scope="row">{markup(rule)}</th>'
        f"<td>{VERDICTS[outcome]}</td>{values}</tr>"
    )


def measured_words(piece: dict[str, Any]) -> dict[str, str]:
    """Return what was measured, by rule, in the few words that stand beside what is asked."""
    measured = piece["measured"]
    words: dict[str, str] = {}
    if "file" in measured:
        words["file-weight"] = weight_words(measured["file"]["bytes"])
    header = measured.get("header")
    if header is None:
        return words
    size = f"{header['width']} x {header['height']} px"
    words |= {
        "file-format": header["format"].upper(),
        "pixel-size": size,
        "print-size": size,
        "density": ", ".join(map(_density, header["densities"])) or "none written",
        "color-mode": MODE_WORDS.get(header["mode"], header["mode"]),
        "bit-depth": f"{header['bits']} bits",
        "single-frame": str(header["frames"] or "not known"),
    }
    jpeg = header["jpeg"]
    if jpeg is not None:
        words["jpeg-process"] = jpeg["process"]
        if jpeg["sampling"]:
            words["chroma-subsampling"] = jpeg["sampling"]
        quality = jpeg["quality"]
        if quality:
            words["jpeg-quality"] = f"{'' if quality['exact'] else 'about '}{quality['value']:g}"
    return words


def _density(item: dict[str, Any]) -> str:
    x, y = item["x"], item["y"]
    if not x or not y:
        return f"none in {item['place']}"
    return f"{x:.6g} ppi in {item['place']}" if x == y else f"{x:.6g} x {y:.6g} in {item['place']}"


SUMMARY: Final = "Measured and asked, rule by rule"

"""What a piece needs: to fix, advised, waived, not judged, and the cautions that go with it."""

from __future__ import annotations

from typing import Any, Final

from pytest_webdeliverable.fit import largest_print
from pytest_webdeliverable.report.words import count, count_points, markup

_HEADS: Final = {"failed": "What to do next", "advised": "Advice", "waived": "Waived"}


def findings(piece: dict[str, Any]) -> str:
    """Return the lists of findings, worst first; one sentence where there is nothing to do."""
    checks = piece["checks"]
    parts = [
        _list(outcome, head, [check for check in checks if check["outcome"] == outcome])
        for outcome, head in _HEADS.items()
    ]
    if not any(check["outcome"] == "failed" for check in checks):
        held = sum(check["outcome"] == "passed" for check in checks)
        words = f"Nothing to fix. {count(held, 'rule holds', 'rules hold')}." if held else ""
        parts.insert(0, f'<p class="held">{words}</p>' if words else "")
    return "".join([*parts, _not_judged(checks)])


def _list(outcome: str, head: str, checks: list[dict[str, Any]]) -> str:
    if not checks:
        return ""
    items = "".join(_item(check) for check in checks)
    return f'<section class="found {outcome}"><h4>{head}</h4><ul>{items}</ul></section>'


def _item(check: dict[str, Any]) -> str:
    advice = markup(check["advice"])
    if check["outcome"] == "waived":
        advice = f"Waived: {markup(check.get('reason', ''))}"
    lost = (
        f' <span class="lost">{count_points(check["points"])} lost</span>'
        if check["outcome"] == "failed" and check.get("points")
        else ""
    )
    return (
        f'<li><p class="message">{markup(check["message"])}</p>'
        + (f'<p class="advice">{advice}</p>' if advice else "")
        + f'<p class="rule"><code>{markup(check["rule"])}</code>{lost}</p></li>'
    )


def _not_judged(checks: list[dict[str, Any]]) -> str:
    """Group what was not judged by its reason, since one damaged file gives one reason often."""
    reasons: dict[str, list[str]] = {}
    for check in checks:
        if check["outcome"] == "skipped":
            reason = check["message"].removeprefix("not judged: ")
            reasons.setdefault(reason, []).append(check["rule"])
    if not reasons:
        return ""
    items = "".join(
        f'<li><p class="message">{markup(reason)}</p><p class="rule">{_rules(rules)}</p></li>'
        for reason, rules in reasons.items()
    )
    return f'<section class="found skipped"><h4>Not judged</h4><ul>{items}</ul></section>'


def _rules(rules: list[str]) -> str:
    return ", ".join(f"<code>{markup(rule)}</code>" for rule in rules)


def cautions(piece: dict[str, Any]) -> str:
    """Return the usual cautions: printing a web copy, moving pictures, place data."""
    header = piece["measured"].get("header")
    if header is None:
        return ""
    notes = []
    if "print-size" not in piece.get("asked", {}):
        notes.append(
            "A web copy is not for printing: its pixels make at most "
            f"{largest_print(header['width'], header['height'])}."
        )
    frames = header["frames"]
    if frames is None or frames > 1:
        notes.append(
            "This file moves. Only its first picture is shown here, still, because flashing can cause "
            "seizures."
        )
    if piece["measured"].get("metadata", {}).get("location"):
        notes.append("The file holds place data. They are not shown here.")
    if header["mode"] == "cmyk":
        notes.append("Inks on a screen are only an impression; a proof from the printer decides.")
    return f'<ul class="cautions">{"".join(f"<li>{note}</li>" for note in notes)}</ul>'

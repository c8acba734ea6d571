"""The top of the page: what the run found, its score, and the tools to look with."""

from __future__ import annotations

from typing import Any, Final

from pytest_webdeliverable.report.words import VERDICTS, count, markup, untold, verdict_of

_TALLY: Final = 60
"""Lost points listed at the top; the sheets name every one."""


def pieces_of(report: dict[str, Any]) -> list[dict[str, Any]]:
    """Return all pieces that are pictures, in order."""
    return [
        piece for manifest in report["manifests"] for piece in manifest["pieces"] if "file" in piece
    ]


def page_title(report: dict[str, Any]) -> str:
    """Return the title of the one portfolio, or how many there are."""
    manifests = report["manifests"]
    if len(manifests) == 1:
        return str(manifests[0]["title"] or manifests[0]["manifest"])
    return count(len(manifests), "portfolio")


def masthead(report: dict[str, Any]) -> str:
    """Return title, result and the control strip."""
    pieces = pieces_of(report)
    verdicts = [verdict_of(piece["checks"]) for piece in pieces]
    patches = "".join(f'<i class="{verdict}"></i>' for verdict in verdicts)
    tally = ", ".join(
        f"{verdicts.count(verdict)} {word.lower()}"
        for verdict, word in VERDICTS.items()
        if verdict in verdicts
    )
    strip = (
        f'<div class="strip" role="img" aria-label="Pieces by verdict: {tally}">{patches}</div>'
        if pieces
        else ""
    )
    return (
        f'<header class="masthead"><p class="kind">{_REGISTER}Proof sheet</p><h1>{markup(page_title(report))}</h1>'
        f'<p class="result">{_result(report, verdicts)}</p>{strip}{_score(report)}</header>'
    )


_REGISTER: Final = (
    '<svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true">'
    '<circle cx="11" cy="11" r="6"/><path d="M11 0v22M0 11h22"/></svg>'
)
"""A register mark, as printed sheets carry it."""


def _result(report: dict[str, Any], verdicts: list[str]) -> str:
    totals = report["totals"]
    total = len(verdicts)
    lacks = untold(totals)
    before = f"<b>This report is not complete.</b> {lacks} " if lacks else ""
    if not totals["checks"]:
        return f"{before}Nothing was checked."
    bad = verdicts.count("failed")
    if bad:
        first = f"<b>{bad} of {count(total, 'piece')}</b> {'needs' if bad == 1 else 'need'} work."
    elif totals["failed"]:
        first = "<b>The portfolio as a whole</b> needs work."
    elif "skipped" in verdicts:
        first = f"<b>{verdicts.count('skipped')} of {count(total, 'piece')}</b> could not be judged in full."
    elif lacks:
        first = f"What was checked of {count(total, 'piece')} holds."
    else:
        first = f"<b>{'All' if total > 1 else ''} {count(total, 'piece')}</b> {'hold' if total > 1 else 'holds'}."
    rest = [
        f"{totals[outcome]:,} {words}"
        for outcome, words in (
            ("failed", "to fix"),
            ("advised", "advised"),
            ("waived", "waived"),
            ("skipped", "not judged"),
        )
        if totals[outcome]
    ]
    checks = count(totals["checks"], "check")
    return f"{before}{first} <span>{checks}{': ' if rest else ''}{', '.join(rest)}.</span>"


def _score(report: dict[str, Any]) -> str:
    totals = report["totals"]
    if totals["score"] is None:
        return ""
    lost = [mark for manifest in report["manifests"] for mark in manifest.get("lost", ())]
    items = "".join(
        f"<li><b>{mark['points']:g}</b> <code>{markup(mark['rule'])}</code> of {markup(mark['piece'])}</li>"
        for mark in lost[:_TALLY]
    )
    more = f"<li>and {len(lost) - _TALLY} more</li>" if len(lost) > _TALLY else ""
    body = f"<ul>{items}{more}</ul>" if lost else "<p>No point was lost.</p>"
    return (
        f'<section class="score" aria-labelledby="score"><h2 id="score">Score</h2>'
        f'<p class="sum"><b>{totals["score"]:g}</b> of {totals["score-max"]:g} points</p>'
        f'<div class="lost-points"><h3>Points lost</h3>{body}</div></section>'
    )


def toolbar(report: dict[str, Any]) -> str:
    """Return the filters and the choice of surround."""
    pieces = pieces_of(report)
    verdicts = [verdict_of(piece["checks"]) for piece in pieces]
    families = sorted({check["family"] for piece in pieces for check in piece["checks"]})
    choices = "".join(
        _choice("verdict", verdict, f"{word} <span>{verdicts.count(verdict)}</span>", word)
        for verdict, word in VERDICTS.items()
        if verdict in verdicts
    )
    options = "".join(
        f'<option value="{markup(family)}">{markup(family)}</option>' for family in families
    )
    return (
        '<form class="tools" role="search" aria-label="Pieces">'
        f"<fieldset><legend>Verdict</legend>"
        f"{_choice('verdict', '', f'All <span>{len(pieces)}</span>', 'All', chosen=True)}{choices}"
        "</fieldset>"
        '<label class="field">Family of rules<select id="family"><option value="">All</option>'
        f"{options}</select></label>"
        '<label class="field">Piece<input id="words" type="search" autocomplete="off" '
        'spellcheck="false" placeholder="name or file"></label>'
        f"{surrounds('surround')}"
        '<output id="count" aria-live="polite"></output></form>'
    )


def surrounds(name: str) -> str:
    """Return the choice of what lies around the pictures."""
    words = (("black", "Black"), ("gray", "Middle gray"), ("white", "White"), ("checks", "Checks"))
    choices = "".join(
        f'<label class="swatch {value}"><input type="radio" name="{name}" value="{value}"'
        f"{' checked' if value == 'gray' else ''}><i></i><span>{word}</span></label>"
        for value, word in words
    )
    return f'<fieldset class="surrounds"><legend>Surround</legend>{choices}</fieldset>'


def _choice(name: str, value: str, label: str, word: str, *, chosen: bool = False) -> str:
    checked = " checked" if chosen else ""
    return (
        f'<label class="choice {value}"><input type="radio" name="{name}" value="{value}"{checked} '
        f'aria-label="{word}"><span>{label}</span></label>'
    )

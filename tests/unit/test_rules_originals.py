"""Rules whose answer needs more than one file: an original, a reference profile, an earlier commit."""

from __future__ import annotations

import copy
import io
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import pytest
from pictures import art
from sound_facts import GOOD, PIECE, RULES, SPEC

from pytest_webdeliverable.judge import judge_piece
from pytest_webdeliverable.measure import committed
from pytest_webdeliverable.measure.gitlog import Change, Log, Previous, blob_id
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, HeavyError
from pytest_webdeliverable.rules import color as color_rules
from pytest_webdeliverable.rules import copies, registry
from pytest_webdeliverable.rules.base import Case, PieceRule, Verdict

if TYPE_CHECKING:
    from pathlib import Path

ALIKE: dict[str, Any] = {
    "same": True,
    "score": 0.9,
    "crop": [0.0, 0.0, 1.0, 1.0],
    "cropped": False,
    "shifted": False,
    "tone": 1.0,
    "at": [0.25, 0.5],
    "undecided": None,
    "color change": [1.0, -1.0, 0.0],
    "color undecided": None,
}


def compared(
    monkeypatch: pytest.MonkeyPatch,
    *,
    size: tuple[int, int] = (3200, 2400),
    dates: tuple[str | None, str | None] | None = None,
    original: Any = "there",
    **facts: Any,
) -> Verdict:
    monkeypatch.setattr(
        copies,
        "compare_original",
        lambda *_: ALIKE | {k.replace("_", " "): v for k, v in facts.items()},
    )
    ours, theirs = copy.deepcopy(GOOD) | {"likeness": {}}, copy.deepcopy(GOOD) | {"likeness": {}}
    theirs["header"] |= {"width": size[0], "height": size[1]}
    if dates:
        ours["git"], theirs["git"] = ({"committed": date, "previous": None} for date in dates)
    rule = RULES["matches-original"]
    assert isinstance(rule, PieceRule)
    given: Any = theirs if original == "there" else original
    return rule.check(Case(piece=PIECE, measured=ours, original=given))  # type: ignore[arg-type]


def test_a_copy_that_shows_its_original(monkeypatch: pytest.MonkeyPatch) -> None:
    found = compared(monkeypatch)
    assert found.passed
    assert found.evidence == {"score": 0.9}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"same": False}, "it shows another picture, most clearly 25% from the left and 50% from the top"),
        ({"cropped": True, "crop": [0.1, 0.0, 1.0, 0.9]}, "it shows 10% to 100% of the original's width and 0% to 90% of its height"),
        ({"shifted": True, "crop": [0.1, 0.0, 1.1, 1.0]}, "something beyond its edge (right)"),
        ({"color_change": [0.0, 0.0, -40.0]}, "its colors have shifted"),
        ({"size": (3200, 2300)}, "its shape, 1600 x 1200 px, is not that of the original, 3200 x 2300 px"),
        ({"dates": ("2026-01-01T00", "2026-02-03T00")}, "committed on 2026-01-01, before its original changed on 2026-02-03"),
    ],
)  # fmt: skip
def test_a_copy_that_differs(monkeypatch: pytest.MonkeyPatch, facts: Any, words: str) -> None:
    found = compared(monkeypatch, **facts)
    assert found.passed is False
    assert words in found.message
    assert found.message.count(";") == 0


@pytest.mark.parametrize(
    "facts",
    [
        {"cropped": True, "undecided": "too plain"},
        {"color_change": [0.0, 40.0, 0.0], "color_undecided": "CMYK"},
        {"dates": ("2026-02-03T00", "2026-02-03T00")},
        {"dates": ("2026-02-03T00", "2026-01-01T00")},
        {"dates": (None, "2026-01-01T00")},
        {"dates": ("2026-01-01T00", None)},
    ],
)
def test_what_is_no_difference(monkeypatch: pytest.MonkeyPatch, facts: Any) -> None:
    assert compared(monkeypatch, **facts).passed


@pytest.mark.parametrize(("most", "shifted"), [(8.0, False), (8.01, True)])
def test_eight_code_values_are_what_a_conversion_may_change(
    monkeypatch: pytest.MonkeyPatch, most: float, shifted: bool
) -> None:
    assert (compared(monkeypatch, color_change=[0.5, most, 1.0]).passed is False) == shifted


@pytest.mark.parametrize(("more", "shifted"), [(0.0, False), (0.01, True)])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_least_shift_of_colors(
    monkeypatch: pytest.MonkeyPatch, more: float, sign: int, shifted: bool
) -> None:
    change = sign * (copies.COLOR_CHANGE + more)
    found = compared(monkeypatch, color_change=[0.0, change, 0.0])
    assert (found.passed is False) == shifted


@pytest.mark.parametrize(
    ("original", "words"),
    [
        (None, "cannot be compared: "),
        ({"problem": {"kind": "missing", "text": "it is gone"}}, "it is gone"),
    ],
)
def test_an_original_that_cannot_be_read(
    monkeypatch: pytest.MonkeyPatch, original: Any, words: str
) -> None:
    found = compared(monkeypatch, original=original)
    assert found.passed is None
    assert words in found.message


# A profile that the spec names by its file


@pytest.mark.parametrize(
    ("reference", "embedded", "same", "passed"),
    [(None, {}, True, None), ({}, None, True, False), ({}, {}, True, True), ({}, {}, False, False)],
)
def test_a_profile_by_its_file(
    monkeypatch: pytest.MonkeyPatch, reference: Any, embedded: Any, same: bool, passed: bool | None
) -> None:
    monkeypatch.setattr(color_rules, "same_profile", lambda *_: same)
    measured = copy.deepcopy(GOOD)
    measured["color"]["profile"] = embedded
    piece = replace(PIECE, spec=replace(SPEC, profile="profiles/press.icc"))
    rule = RULES["color-profile"]
    assert isinstance(rule, PieceRule)
    found = rule.check(Case(piece=piece, measured=measured, profile=reference))
    assert found.passed is passed
    assert "press.icc" in found.message


# What git says of one picture


@pytest.mark.parametrize("same", [True, False])
def test_the_date_of_a_commit_counts_for_its_own_bytes(tmp_path: Path, same: bool) -> None:
    data = b"bytes as they are now"
    time = datetime(2026, 3, 1, tzinfo=UTC)
    blob = blob_id(data if same else b"others")
    log = Log(top=tmp_path, changes={"a.jpg": (Change(commit="c", time=time, blob=blob),)}, complete=True)  # fmt: skip
    found = committed.git_facts(tmp_path / "a.jpg", data, log, DEFAULT_LIMITS)
    assert found["committed"] == ("2026-03-01T00:00:00+00:00" if same else None)
    unknown = committed.git_facts(tmp_path / "b.jpg", data, log, DEFAULT_LIMITS)
    assert unknown == {"committed": None, "previous": None}


@pytest.mark.parametrize("damaged", ["none", "now", "before"])
def test_a_picture_is_held_against_its_last_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damaged: str
) -> None:
    buffer = io.BytesIO()
    art(64, 48).save(buffer, "PNG")
    now, before = (b"no picture" if damaged == one else buffer.getvalue() for one in ("now", "before"))  # fmt: skip
    version = Previous(commit="c0ffee", date="2026-01-01", data=before)
    monkeypatch.setattr(
        committed, "previous_versions", lambda _, now: [(one, version) for one in now]
    )
    log = Log(top=tmp_path, changes={}, complete=True)
    found = committed._previous(tmp_path / "a", "blob", now, log, DEFAULT_LIMITS, light_only=False)
    assert (found is not None) == (damaged == "none")
    if found is not None:
        assert (found["commit"], found["same-pixels"]) == ("c0ffee", True)


@pytest.mark.parametrize("heavy", ["", "now", "before"])
def test_what_is_dear_to_decode_is_held_against_its_last_version_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, heavy: str
) -> None:
    """Either may be; the last version is any blob of a history that may be a stranger's."""
    files = {}
    for name, width in (("now", 64), ("before", 60)):
        buffer = io.BytesIO()
        art(width, 48).save(buffer, "PNG")
        files[name] = buffer.getvalue()
    version = Previous(commit="c0ffee", date="2026-01-01", data=files["before"])
    monkeypatch.setattr(
        committed, "previous_versions", lambda _, now: [(one, version) for one in now]
    )
    monkeypatch.setattr(
        committed,
        "is_heavy",
        lambda header, *_: header.width == {"now": 64, "before": 60}.get(heavy),
    )
    time = datetime(2026, 3, 1, tzinfo=UTC)
    change = Change(commit="c", time=time, blob=blob_id(files["now"]))
    log = Log(top=tmp_path, changes={"a.png": (change,)}, complete=True)
    asked = tmp_path / "a.png", files["now"], log, DEFAULT_LIMITS
    facts = committed.git_facts(*asked)
    assert facts["previous"] is not None
    if heavy:
        with pytest.raises(HeavyError):
            committed.git_facts(*asked, light_only=True)
    else:
        assert committed.git_facts(*asked, light_only=True) == facts


# Who may judge what


@pytest.mark.parametrize(
    ("kind", "rule", "result"),
    [
        ("missing", "file-present", "failed"),
        ("missing", "file-readable", "skipped"),
        ("unreadable", "file-readable", "failed"),
        ("unreadable", "pixel-size", "skipped"),
    ],
)
def test_a_file_that_is_bad_is_one_failure(kind: str, rule: str, result: str) -> None:
    measured: Any = {"problem": {"kind": kind, "text": "the reason"}, "file": GOOD["file"]}
    one = RULES[rule]
    assert isinstance(one, PieceRule)
    today = datetime(2026, 1, 1, tzinfo=UTC).date()
    outcome = judge_piece(one, Case(piece=PIECE, measured=measured), today)
    assert outcome.result == result
    assert "the reason" in outcome.message


def test_a_rule_of_others_takes_the_place_of_its_name() -> None:
    mine = RULES["pixel-size"]
    assert registry([mine])["pixel-size"] is mine
    with pytest.raises(TypeError, match="is not a rule"):
        registry([type(mine)])  # type: ignore[list-item]
    names: Any = copy.copy(mine)
    names.name = "Pixel Size"
    with pytest.raises(TypeError, match="is no name of a rule"):
        registry([names])

"""The proof sheet as a document: its policy, its escaping, its sameness."""

from __future__ import annotations

import base64
import hashlib
import re
from typing import TYPE_CHECKING, Any

import pictures
import pytest
from sheets import HOSTILE, Tags, at, check, piece, report_of

from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.report.page import build_page
from pytest_webdeliverable.report.pictures import Album, make_album

if TYPE_CHECKING:
    from pathlib import Path

NO_PICTURES = Album({})


def page_of(root: Path, *pieces: dict[str, Any], **more: Any) -> Tags:
    report = report_of(pieces, **more)
    return Tags(build_page(report, make_album(report, at(root), 1)))


def policy(tags: Tags) -> dict[str, str]:
    content = next(
        meta["content"]
        for meta in tags.all("meta")
        if meta.get("http-equiv") == "Content-Security-Policy"
    )
    return dict(part.strip().partition(" ")[::2] for part in content.split(";"))


@pytest.mark.parametrize("kind", ["style", "script"])
def test_the_policy_allows_just_the_pages_own_style_and_script(tmp_path: Path, kind: str) -> None:
    # Content Security Policy Level 3, 6.7.2.4: base64 of the SHA-256 of the element's text.
    tags = page_of(tmp_path)
    digest = base64.b64encode(hashlib.sha256(tags.inside[kind].encode()).digest()).decode()
    assert policy(tags)[f"{kind}-src"] == f"'sha256-{digest}'"
    assert len(tags.all(kind)) == 1
    assert "src" not in tags.all(kind)[0]


def test_the_policy_denies_all_else(tmp_path: Path) -> None:
    rules = policy(page_of(tmp_path))
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data:"
    assert rules["base-uri"] == rules["form-action"] == "'none'"


def test_nothing_in_the_page_needs_what_the_policy_denies(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    tags = page_of(tmp_path, piece(tmp_path, "a.jpg"))
    names = {name for _, attributes in tags.tags for name in attributes}
    assert "style" not in names
    assert not [name for name in names if name.startswith("on")]
    for tag, attributes in tags.tags:
        for name in ("src", "href", "srcset", "action", "poster", "data"):
            assert re.match(r"data:image/(jpeg|png);base64,|#", attributes.get(name, "#")), tag
    assert not re.search(r"url\(|@import", tags.inside["style"])
    assert not re.search(r"https?:|fetch\(|innerHTML|eval", tags.inside["script"])


def worded(root: Path, words: str) -> Tags:
    """A page in which every string from outside is the same."""
    checks = [
        check(outcome="failed", message=words, advice=words, family=words, rule=words, points=2),
        check(outcome="waived", message=words, reason=words),
        check(outcome="skipped", message=words),
        check("pixel-size", evidence={"least": [10, 10]}),
    ]
    odd = piece(root, "a.jpg", title=words, alt=words, spec=words, checks=checks)
    odd |= {"copy-of": words, "asked": {"pixel-size": words, "density": words}}
    return page_of(root, odd, title=words)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_strings_are_text(tmp_path: Path, hostile: str) -> None:
    pictures.save(tmp_path / "a.jpg")
    plain, tags = worded(tmp_path, "plain"), worded(tmp_path, hostile)
    assert [(tag, list(names)) for tag, names in tags.tags] == [
        (tag, list(names)) for tag, names in plain.tags
    ]
    assert tags.inside == plain.inside
    shown = display_name(hostile, 1200)
    assert tags.text.count(shown) >= plain.text.count("plain")
    for value in (*tags.values(), tags.text.replace("\n", "")):
        assert not re.search(r"[\x00-\x1f\x7f\u202e]", value)


def test_a_page_is_the_same_for_the_same_files(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    pictures.save(tmp_path / "b.jpg", pictures.art(seed=9))
    report = report_of([piece(tmp_path, "a.jpg"), piece(tmp_path, "b.jpg")])
    one = build_page(report, make_album(report, at(tmp_path), 1))
    assert one == build_page(report, make_album(report, at(tmp_path), 4))


def test_what_cannot_be_shown_says_why(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"no picture")
    bad = piece(tmp_path, "a.jpg", checks=[check("file-readable", "failed")])
    gone = piece(tmp_path, "b.jpg", checks=[check("file-present", "failed")])
    tags = page_of(tmp_path, bad, gone)
    assert tags.text.count("No picture to show") == 2
    assert bad["measured"]["problem"]["text"] in tags.text
    assert gone["measured"]["problem"]["text"] in tags.text


def test_a_piece_has_its_worst_verdict(tmp_path: Path) -> None:
    for name in "abcd":
        pictures.save(tmp_path / f"{name}.jpg")
    outcomes = {"a": "failed", "b": "advised", "c": "waived", "d": "skipped"}
    tags = page_of(
        tmp_path,
        *(
            piece(tmp_path, f"{name}.jpg", checks=[check(), check("resaved", outcome)])
            for name, outcome in outcomes.items()
        ),
    )
    verdicts = [one["data-verdict"] for one in tags.all("article")]
    assert verdicts == list(outcomes.values())


def test_lost_points_are_named(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    checks = [check("density", "failed", points=2.5), check("edge-gap", points=4)]
    text = page_of(tmp_path, piece(tmp_path, "a.jpg", checks=checks)).text
    assert "4 of 6.5 points" in text
    assert "Lost: density 2.5." in text


def test_place_data_are_not_shown(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    one = piece(tmp_path, "a.jpg")
    one["measured"]["metadata"] = {
        **one["measured"]["metadata"],
        "location": [{"place": "Exif", "kind": "position", "value": "48.8584 N"}],
    }
    text = build_page(report_of([one]), NO_PICTURES)
    assert "48.8584" not in text
    assert "The file holds place data. They are not shown here." in text


def test_the_portfolio_itself_is_judged_apart(tmp_path: Path) -> None:
    whole = {"id": "portfolio", "measured": {}, "checks": [check("stray-file", "failed")]}
    tags = page_of(tmp_path, whole)
    assert "The portfolio as a whole needs work." in tags.text
    assert not tags.all("article")


def test_a_run_without_checks_has_a_page_too(tmp_path: Path) -> None:
    assert "Nothing was checked." in page_of(tmp_path).text

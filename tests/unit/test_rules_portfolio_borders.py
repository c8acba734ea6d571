"""Rules on all pieces together: borders, groups, and how many of them are named."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest
from photographs import photograph
from sound_facts import GOOD, PIECE, RULES, SPEC

from pytest_webdeliverable.likeness import NearDuplicates
from pytest_webdeliverable.manifest.model import Count, Manifest, Piece, Portfolio
from pytest_webdeliverable.measure.likeness import signature
from pytest_webdeliverable.rules import portfolio
from pytest_webdeliverable.rules.base import PortfolioCase, PortfolioRule, Verdict


def judged(
    rule: str,
    these: list[Piece],
    measured: list[Any],
    files: list[str] | None = None,
    **keys: Any,
) -> Verdict:
    judge = RULES[rule]
    assert isinstance(judge, PortfolioRule)
    manifest = Manifest(
        portfolio=Portfolio(**keys), portfolio_spec=SPEC, line=1, pieces=tuple(these)
    )
    folder: Any = {"files": files, "problem": "there is no folder" if files is None else None}
    return judge.check(PortfolioCase(manifest=manifest, folder=folder, measured=measured))


def piece(name: str, **more: Any) -> Piece:
    return replace(PIECE, id=name, file=f"images/{name}.jpg", **more)


def facts(
    sha256: str = "", digest: str = "", size: int = 1000, likeness: Any = None
) -> dict[str, Any]:
    found = copy.deepcopy(GOOD)
    found["file"] |= {"sha256": sha256, "bytes": size}
    found["pixels"]["digest"] = digest
    return found | ({"likeness": likeness} if likeness else {})


# Files that are there twice


@pytest.mark.parametrize(
    ("known", "words", "groups"),
    [
        ({"a": "1x", "b": "2y"}, "", []),
        ({"a": "1x", "b": "1x"}, "images/a.jpg and images/b.jpg are the same file", ["ab"]),
        ({"a": "1x", "b": "2x"}, "images/a.jpg and images/b.jpg show the same pixels", ["ab"]),
        (
            {"a": "1x", "b": "1x", "c": "3x"},
            "images/a.jpg and images/b.jpg are the same file; images/a.jpg and images/b.jpg and images/c.jpg show the same pixels",
            ["ab", "abc"],
        ),
        (
            {"a": "1x", "b": "1x", "c": "3y", "d": "3y"},
            "images/a.jpg and images/b.jpg are the same file; images/c.jpg and images/d.jpg are the same file",
            ["ab", "cd"],
        ),
    ],
)  # fmt: skip
def test_pictures_that_are_there_twice(
    known: dict[str, str], words: str, groups: list[str]
) -> None:
    """Each picture by the number of its bytes and the letter of its pixels."""
    found = judged(
        "duplicate-file",
        [piece(name) for name in known],
        [facts(sha256=told[0], digest=told[1]) for told in known.values()],
    )
    assert found.passed is not bool(words)
    assert found.message == (words or "no picture is there twice")
    named = [[f"images/{name}.jpg" for name in group] for group in groups]
    assert found.evidence == ({"files": named} if words else {})


def test_one_file_that_two_pieces_name_is_not_there_twice() -> None:
    twice = [piece("a"), replace(piece("a"), id="b")]
    assert judged("duplicate-file", twice, [facts("1", "x")] * 2).passed


def test_a_file_that_is_not_there_is_no_twin() -> None:
    missing: Any = {"problem": {"kind": "missing", "text": "there is no file"}}
    assert judged("duplicate-file", [piece("a"), piece("b")], [missing, missing]).passed
    assert judged("total-weight", [piece("a")], [missing], total_weight=1).passed


def test_five_groups_are_named() -> None:
    pieces = [piece(f"{letter}{at}") for letter in "abcdef" for at in (1, 2)]
    measured = [facts(letter, letter) for letter in "abcdef" for _ in (1, 2)]
    found = judged("duplicate-file", pieces, measured)
    assert found.message.count("are the same file") == 5
    assert len(found.evidence["files"]) == 6


# Names


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (1, "1 image is not listed: images/s0.png"),
        (2, "2 images are not listed: images/s0.png, images/s1.png"),
        (5, "images/s4.png"),
        (6, "images/s4.png and 1 more"),
        (8, "images/s4.png and 3 more"),
    ],
)
def test_five_stray_files_are_named_and_the_others_counted(count: int, words: str) -> None:
    stray = [f"images/s{at}.png" for at in range(count)]
    found = judged("stray-file", [piece("a")], [facts()], ["images/a.jpg", *stray], images="images")
    assert found.message.endswith(words)
    assert found.message.startswith(str(count))
    assert found.evidence == {"files": stray}


def test_what_counts_as_listed() -> None:
    """Originals are listed as well; a path may be written a longer way or in another Unicode form."""
    listed = [
        replace(PIECE, file="images/../images/a.jpg", original="images/a.tif"),
        replace(PIECE, file="images/gru\u0308n.jpg"),
    ]
    found = ["images/a.jpg", "images/a.tif", "images/gr\u00fcn.jpg", "images/read.me", "images/png"]
    assert judged("stray-file", listed, [facts()] * 2, found, images="images").passed


def test_names_that_clash() -> None:
    files = ["images/A.jpg", "images/b.png", "images/B.png", "images/B.PNG", "images/c.png"]
    found = judged("name-clash", [piece("a")], [facts()], files)
    assert found.message == (
        "names that are one name on many systems: images/A.jpg and images/a.jpg; "
        "images/B.PNG and images/B.png and images/b.png"
    )
    assert [len(group) for group in found.evidence["files"]] == [2, 3]
    assert judged("name-clash", [piece("a")], [facts()], None).passed
    same = replace(PIECE, file="images/x/../a.jpg")
    assert judged("name-clash", [piece("a"), same], [facts()] * 2, ["images/a.jpg"]).passed


def test_two_forms_of_an_accent_are_told_apart() -> None:
    composed, apart = "images/\u00fc.jpg", "images/u\u0308.jpg"
    found = judged("name-clash", [replace(PIECE, file=composed)], [facts()], [composed, apart])
    assert found.message.endswith(", in two Unicode forms")
    assert portfolio._together(["a", "b", "a"]) == "a and b"


# Pictures that look alike


def looked_at(monkeypatch: pytest.MonkeyPatch, pieces: list[Piece], measured: list[Any]) -> Any:
    seen: list[Any] = []

    def compared(signatures: Any) -> NearDuplicates:
        seen.extend(name for name, _ in signatures)
        return NearDuplicates([], complete=True)

    monkeypatch.setattr(portfolio, "near_duplicates", compared)
    judged("near-duplicate", pieces, measured)
    return seen


@pytest.mark.parametrize(
    ("known", "seen"),
    [
        ({"a": "1x", "b": "2y"}, ["a", "b"]),
        ({"a": "1x", "b": "1x"}, ["a"]),
        ({"a": "1x", "b": "2x"}, ["a"]),
        ({"a": "1x", "b": "1y", "c": "3y", "d": "4z"}, ["a", "d"]),
    ],
)
def test_the_same_picture_is_compared_once(
    monkeypatch: pytest.MonkeyPatch, known: dict[str, str], seen: list[str]
) -> None:
    """The same bytes or pixels are the affair of another rule, also at one remove."""
    measured = [facts(told[0], told[1], likeness={"any": 1}) for told in known.values()]
    assert looked_at(monkeypatch, [piece(name) for name in known], measured) == seen


def test_copies_and_files_that_cannot_be_read_are_not_compared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pieces = [piece("a"), piece("b", copy_of="a"), piece("c"), piece("d")]
    measured = [facts(one, one, likeness={"any": 1}) for one in "abcd"]
    del measured[2]["likeness"]
    assert looked_at(monkeypatch, pieces, measured) == ["a", "d"]


@pytest.mark.parametrize(
    ("near", "passed", "words"),
    [
        (NearDuplicates([], complete=True), True, "no two pieces look nearly alike"),
        (NearDuplicates([], complete=False), None, "too many pieces look alike"),
        (NearDuplicates([("a", "b")], complete=False), False, "nearly the same picture: a and b"),
    ],
)
def test_what_is_said_of_pictures_alike(
    monkeypatch: pytest.MonkeyPatch, near: NearDuplicates, passed: bool | None, words: str
) -> None:
    monkeypatch.setattr(portfolio, "near_duplicates", lambda _: near)
    found = judged("near-duplicate", [piece("a")], [facts()])
    assert found.passed is passed
    assert found.message.startswith(words)
    assert found.evidence == ({"pairs": [["a", "b"]]} if near.pairs else {})


def test_two_exports_of_one_picture_look_alike() -> None:
    whole = photograph(160, 120)
    pictures = {"a": whole, "b": whole.resize((80, 60)), "c": whole.transpose(0)}  # type: ignore[arg-type]
    measured = [facts(name, name, likeness=signature(one)) for name, one in pictures.items()]
    found = judged("near-duplicate", [piece(name) for name in pictures], measured)
    assert found.message == "nearly the same picture: a and b"


# Sums and counts


@pytest.mark.parametrize(("most", "passed"), [(2500, True), (2499, False)])
def test_the_weight_of_all_files(most: int, passed: bool) -> None:
    """1000 + 1500 bytes; a file that two pieces name counts once."""
    pieces = [piece("a"), piece("b"), replace(piece("b"), id="c")]
    measured = [facts(size=1000), facts(size=1500), facts(size=1500)]
    found = judged("total-weight", pieces, measured, total_weight=most)
    assert found.passed is passed
    assert "in 2 files, at most 2.5 kB" in found.message
    assert found.evidence == {"bytes": 2500, "most": most}


def test_one_file_is_one_file() -> None:
    assert "1.0 kB in 1 file," in judged("total-weight", [piece("a")], [facts()], total_weight=9_999).message  # fmt: skip


@pytest.mark.parametrize(
    ("count", "found", "passed", "message"),
    [
        (Count(min=2), 1, False, "1 piece, the manifest asks for at least 2"),
        (Count(min=2), 2, True, "2 pieces, the manifest asks for at least 2"),
        (Count(max=2), 2, True, "2 pieces, the manifest asks for at most 2"),
        (Count(max=2), 3, False, "3 pieces, the manifest asks for at most 2"),
        (Count(min=1, max=2), 3, False, "3 pieces, the manifest asks for at least 1 and at most 2"),
        (Count(min=0, max=0), 0, True, "0 pieces, the manifest asks for at least 0 and at most 0"),
        (Count(), 3, True, "3 pieces, the manifest asks for any number"),
    ],
)
def test_the_number_of_pieces(count: Count, found: int, passed: bool, message: str) -> None:
    """Copies do not count."""
    pieces = [piece(f"p{at}") for at in range(found)] + [piece("t", copy_of="p0")] * 2
    told = judged("piece-count", pieces, [], pieces=count)
    assert told.passed is passed
    assert told.message == message
    assert told.evidence == {"pieces": found}
    if not passed:
        assert told.advice.startswith("Add" if "asks for at least 2" in message else "Take out")


def test_a_portfolio_that_does_not_say_how_many() -> None:
    assert judged("piece-count", [piece("a")], []).passed is None

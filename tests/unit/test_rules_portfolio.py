"""Rules on all pieces together: near misses on both sides."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest
from sound_facts import GOOD, PIECE, RULES, SPEC

from pytest_webdeliverable.manifest.model import (
    Count,
    Manifest,
    Portfolio,
)
from pytest_webdeliverable.rules.base import PortfolioCase, PortfolioRule, Verdict


def whole(rule: str, portfolio: Portfolio, files: list[str] | None = None, **facts: Any) -> Verdict:
    judge = RULES[rule]
    assert isinstance(judge, PortfolioRule)
    assert judge.applies(portfolio)
    pieces = (PIECE, replace(PIECE, id="b", file=facts.pop("second", "images/b.jpg")))
    other = copy.deepcopy(GOOD)
    other["file"] |= {"sha256": "b" * 64} | facts.pop("file", {})
    other["pixels"] = {"see_through": 0.0, "digest": facts.pop("digest", "y")}
    return judge.check(
        PortfolioCase(
            manifest=Manifest(portfolio=portfolio, portfolio_spec=SPEC, line=1, pieces=pieces),
            folder={"files": files, "problem": None if files is not None else "there is no folder"},
            measured=[GOOD, other],  # type: ignore[list-item]
        )
    )


IMAGES = Portfolio(images="images")
LISTED = ["images/quill-tide.jpg", "images/b.jpg", "images/notes.txt"]


@pytest.mark.parametrize(
    ("rule", "portfolio", "files", "facts", "words"),
    [
        (
            "stray-file",
            IMAGES,
            [*LISTED, "images/c.PNG"],
            {},
            "1 image is not listed: images/c.PNG",
        ),
        ("stray-file", IMAGES, None, {}, "there is no folder"),
        ("duplicate-file", IMAGES, LISTED, {"file": {"sha256": "a" * 64}}, "are the same file"),
        ("duplicate-file", IMAGES, LISTED, {"digest": "x"}, "show the same pixels"),
        (
            "name-clash",
            IMAGES,
            LISTED,
            {"second": "images/Quill-Tide.jpg"},
            "one name on many systems",
        ),
        ("name-clash", IMAGES, [*LISTED, "images/B.JPG"], {}, "images/B.JPG and images/b.jpg"),
        ("total-weight", Portfolio(total_weight=1_999_999), None, {}, "(2000000 bytes) in 2 files"),
        ("piece-count", Portfolio(pieces=Count(min=3)), None, {}, "asks for at least 3"),
        ("piece-count", Portfolio(pieces=Count(max=1)), None, {}, "at most 1"),
    ],
)
def test_portfolios_that_fail(
    rule: str, portfolio: Portfolio, files: list[str] | None, facts: dict[str, Any], words: str
) -> None:
    found = whole(rule, portfolio, files, **facts)
    assert found.passed is False
    assert words in found.message


@pytest.mark.parametrize(
    ("rule", "portfolio"),
    [
        ("stray-file", IMAGES),
        ("duplicate-file", IMAGES),
        ("name-clash", IMAGES),
        ("total-weight", Portfolio(total_weight=2_000_000)),
        ("piece-count", Portfolio(pieces=Count(min=2, max=2))),
    ],
)
def test_portfolios_that_pass(rule: str, portfolio: Portfolio) -> None:
    assert whole(rule, portfolio, LISTED).passed

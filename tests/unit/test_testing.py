"""The helper for authors of rules: it judges as a run does, and says what is wrong with a call."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.testing import draw, judge, judge_portfolio, make_spec, measure, save

if TYPE_CHECKING:
    from pathlib import Path

RULES = registry()
BOX = make_spec(
    {"box": [160, 120], "levels": {"pixel-size": "advise"}, "points": {"pixel-size": 2}}
)


@pytest.mark.parametrize(("width", "result"), [(160, "passed"), (161, "passed"), (162, "advised")])
def test_a_rule_at_its_limit(tmp_path: Path, width: int, result: str) -> None:
    outcome = judge(RULES["pixel-size"], save(tmp_path / "a.jpg", draw(width, 120)), BOX)
    assert (outcome.result, outcome.points) == (result, 2)


def test_facts(tmp_path: Path) -> None:
    picture = save(tmp_path / "a.png", draw(50, 40), "PNG", dpi=(300, 300))
    measured = measure(picture, "pixels")
    assert (measured["header"]["width"], measured["header"]["height"]) == (50, 40)
    # 300 ppi in whole pixels per meter: 300 / 0.0254 = 11811.02, and back 299.9994.
    assert measured["header"]["densities"][0]["x"] == pytest.approx(300, abs=0.01)
    assert measured["pixels"]["see_through"] == 0
    assert "edges" not in measured


def test_options_of_save_make_faults(tmp_path: Path) -> None:
    spec = make_spec({"from": "screen"})
    for rule, fault in {
        "density": {"dpi": None},
        "color-profile": {"icc_profile": None},
        "jpeg-quality": {"quality": 60},
        "jpeg-process": {"progressive": True},
    }.items():
        assert judge(RULES[rule], save(tmp_path / "good.jpg"), spec).result == "passed"
        assert judge(RULES[rule], save(tmp_path / "bad.jpg", **fault), spec).result == "failed"


def test_keys_of_the_piece_and_its_waivers(tmp_path: Path) -> None:
    picture, spec = save(tmp_path / "a.jpg", draw(50, 50)), make_spec({"from": "screen"})
    assert judge(RULES["alt-text"], picture, spec, alt="Soft shapes on grain").result == "passed"
    day = datetime.date(2026, 11, 25)
    waive = [{"rule": "pixel-size", "reason": "small on purpose", "until": day}]
    later = day + datetime.timedelta(1)
    rule = RULES["pixel-size"]
    assert judge(rule, picture, spec, today=day, waive=waive).result == "waived"
    assert judge(rule, picture, spec, today=later, waive=waive).result == "failed"


def test_a_copy_and_its_piece(tmp_path: Path) -> None:
    art = draw(160, 120)
    piece = save(tmp_path / "a.jpg", art)
    small = save(tmp_path / "b.jpg", art.resize((80, 60)))
    other = save(tmp_path / "c.jpg", draw(80, 60, 40).rotate(180))
    assert judge(RULES["matches-piece"], small, source=piece).result == "passed"
    assert judge(RULES["matches-piece"], other, source=piece).result == "failed"


def test_a_rule_on_the_portfolio(tmp_path: Path) -> None:
    rule = RULES["duplicate-file"]
    files = [save(tmp_path / f"{name}.jpg", draw(seed=seed)) for seed, name in enumerate("abc")]
    assert judge_portfolio(rule, files).result == "passed"
    files[2].write_bytes(files[0].read_bytes())
    assert judge_portfolio(rule, files).result == "failed"
    assert judge_portfolio(RULES["total-weight"], files, total_weight="1 kB").result == "failed"


def test_a_file_that_cannot_be_read_is_skipped(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"nothing")
    assert judge(RULES["pixel-size"], tmp_path / "a.jpg", BOX).result == "skipped"
    assert judge(RULES["file-readable"], tmp_path / "a.jpg", BOX).result == "failed"


def test_a_call_that_means_nothing_says_so(tmp_path: Path) -> None:
    picture = save(tmp_path / "a.jpg")
    with pytest.raises(ValueError, match='the rule "pixel-size" is off for this piece and spec'):
        judge(RULES["pixel-size"], picture)
    with pytest.raises(ValueError, match='trm: unknown key; did you mean "trim"'):
        judge(RULES["pixel-size"], picture, BOX, trm="A4")
    with pytest.raises(ValueError, match=r'spec\.trial\.bax: unknown key; did you mean "box"'):
        make_spec({"bax": [1, 1]})
    with pytest.raises(ValueError, match='the rule "piece-count" is off for this portfolio'):
        judge_portfolio(RULES["piece-count"], [picture])

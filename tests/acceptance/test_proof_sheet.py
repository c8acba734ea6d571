"""The report as users get it: three files, once, the same however pytest was run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pictures

if TYPE_CHECKING:
    from portfolios import Portfolio

TWO = """
[portfolio]
title = "<b>Posters</b>"
[spec.screen]
box = [160, 120]
[[piece]]
file = "gap.jpg"
alt = "Soft shapes in violet and green on a grainy ground"
[[piece]]
file = "missing.jpg"
alt = "Soft shapes in violet and green on a grainy ground"
"""


def written(portfolio: Portfolio) -> dict[str, bytes]:
    folder = portfolio.folder / "proof"
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_the_same_three_files_with_and_without_workers(portfolio: Portfolio) -> None:
    portfolio.manifest(TWO)
    art = pictures.art()
    art.paste("white", (0, 0, 2, 120))
    portfolio.picture("gap.jpg", art)
    assert portfolio.run().code == 1
    alone = written(portfolio)
    assert list(alone) == ["index.html", "report.json", "summary.md"]
    portfolio.run("-n", "2", "--dist", "loadscope")
    assert written(portfolio) == alone
    page = alone["index.html"].decode()
    assert page.count("data:image/jpeg") == 2  # one thumbnail, one large view
    assert page.count('class="gap"') == 1
    assert "<b>Posters" not in page


def test_without_the_option_nothing_is_written(portfolio: Portfolio) -> None:
    portfolio.piece()
    before = set(portfolio.folder.iterdir())
    portfolio.run("-p", "no:cacheprovider", report=False)
    assert set(portfolio.folder.iterdir()) == before


def test_pictures_are_found_from_a_folder_below(portfolio: Portfolio) -> None:
    portfolio.manifest(TWO, "work/deliverables.toml")
    portfolio.picture("work/gap.jpg")
    portfolio.run("work")
    assert b"data:image/jpeg" in written(portfolio)["index.html"]


def test_a_manifest_outside_the_root_shows_its_pictures(portfolio: Portfolio) -> None:
    portfolio.manifest(TWO, "other/deliverables.toml")
    portfolio.picture("other/gap.jpg")
    (portfolio.folder / "root").mkdir()
    portfolio.run("--rootdir", "root", "other")
    assert b"data:image/jpeg" in written(portfolio)["index.html"]

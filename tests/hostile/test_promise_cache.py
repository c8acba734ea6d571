"""A cache folder that a stranger brings along: links, files in its place, and nothing of others is touched."""

from __future__ import annotations

import sys

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="links of POSIX systems")


@pytest.mark.parametrize("place", [".pytest_cache/d/webdeliverable", ".pytest_cache/d"])
def test_a_cache_that_is_somebodys_folder_is_not_used(portfolio, tmp_path_factory, place) -> None:
    """The oldest files of the folder behind the link were removed, down to 256 MB of them."""
    home = tmp_path_factory.mktemp("home")
    (home / "letters").mkdir()
    with (home / "letters" / "old.txt").open("wb") as file:
        file.truncate(300_000_000)
    portfolio.piece()
    link = portfolio.folder / place
    link.parent.mkdir(parents=True)
    link.symlink_to(home, target_is_directory=True)
    assert portfolio.run("-q", report=False).code == 0
    assert (home / "letters" / "old.txt").is_file()
    assert not list(home.rglob("*.json"))


@pytest.mark.parametrize(
    "place", [".pytest_cache", ".pytest_cache/d", ".pytest_cache/d/webdeliverable"]
)
def test_a_file_in_place_of_the_cache_costs_only_time(portfolio, place) -> None:
    portfolio.piece()
    (portfolio.folder / place).parent.mkdir(parents=True, exist_ok=True)
    (portfolio.folder / place).write_text("no folder")
    run = portfolio.run("-q", report=False)
    assert run.code == 0
    assert "Traceback" not in run.out

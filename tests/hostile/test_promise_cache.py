"""A cache folder that a stranger brings along: links, files in its place, and nothing of others is touched."""

from __future__ import annotations

import hashlib
import sys
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.measure.own_key import own_key

if TYPE_CHECKING:
    from pathlib import Path

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


@pytest.fixture
def forged(portfolio, monkeypatch):
    """A picture without a profile, beside kept facts that tell of it what is so of a sound one."""

    def forge(cache: Path, key: bytes) -> None:
        portfolio.piece()
        config = f"cache_dir={cache}"
        assert portfolio.run("-o", config, report=False).code == 0
        (kept,) = (path for path in cache.rglob("*.json") if len(path.stem) == 62)
        _, facets, body = kept.read_bytes().split(b"\n", 2)
        portfolio.picture(icc_profile=None)
        new = hashlib.sha256((portfolio.folder / "a.jpg").read_bytes()).hexdigest()
        text = b"\n".join((new.encode(), facets, body))
        mark = hashlib.blake2b(text, digest_size=16, key=key).hexdigest().encode()
        forgery = kept.parents[1] / new[:2] / f"{new[2:]}.json"
        forgery.parent.mkdir(exist_ok=True)
        forgery.write_bytes(b"\n".join((mark, facets, body)))

    return forge


@pytest.mark.parametrize("options", [(), ("-n", "2")])
@pytest.mark.parametrize("key", [b"", b"k" * 32])
def test_kept_facts_of_somebody_else_are_not_believed(portfolio, forged, key, options) -> None:
    """Whoever hands in a portfolio may hand in a cache with it."""
    forged(portfolio.folder / ".pytest_cache", key)
    assert portfolio.run(*options).failed() == ["a::color-profile"]


def test_kept_facts_of_ones_own_are(portfolio, forged) -> None:
    """The same forgery by who has the key: so it is the key that keeps the others out."""
    own = own_key()
    assert own is not None
    forged(portfolio.folder / ".pytest_cache", own)
    assert portfolio.run().code == 0


def test_a_cache_beside_the_root_is_its_owners(portfolio, forged, tmp_path_factory) -> None:
    """Such as the one that a CI job restores: it needs no key, which a new machine would not have."""
    cache = tmp_path_factory.mktemp("cache")
    forged(cache, b"")
    assert portfolio.run("-o", f"cache_dir={cache}").code == 0


def test_without_a_home_every_run_measures_anew(portfolio, forged, tmp_path) -> None:
    forged(portfolio.folder / ".pytest_cache", b"")
    home = str(portfolio.folder / "a.jpg")
    run = portfolio.run(XDG_CACHE_HOME=home, HOME=home)
    assert run.failed() == ["a::color-profile"]
    assert "Traceback" not in run.out

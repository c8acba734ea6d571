"""The key with which kept facts are marked: one for each user, made once, and read by nobody else."""

from __future__ import annotations

import os
import stat
import sys
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.measure.own_key import own_key

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="where it is kept differs")


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "caches"))
    return tmp_path / "caches" / "pytest-webdeliverable" / "cache-key"


def test_it_is_made_once(kept: Path) -> None:
    key = own_key()
    assert key == own_key() == kept.read_bytes()
    assert len(key) == 32
    assert [path.name for path in kept.parent.iterdir()] == ["cache-key"]
    kept.unlink()
    assert own_key() != key


def test_nobody_else_may_read_it(kept: Path) -> None:
    own_key()
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert stat.S_IMODE(kept.parent.stat().st_mode) & 0o077 == 0


@pytest.mark.parametrize("data", [b"", b"k" * 31, b"k" * 33])
def test_one_of_another_length_is_replaced(kept: Path, data: bytes) -> None:
    """A run that was ended while it wrote leaves none of these, but a disk may."""
    kept.parent.mkdir(parents=True)
    kept.write_bytes(data)
    key = own_key()
    assert key != data
    assert key == own_key()


def test_a_home_beside_the_standard_variable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification 0.8: unset, empty and relative values mean ~/.cache."""
    monkeypatch.setenv("HOME", str(tmp_path))
    place = tmp_path / ".cache" / "pytest-webdeliverable" / "cache-key"
    for value in ("", "caches"):
        monkeypatch.setenv("XDG_CACHE_HOME", value)
        assert own_key() == place.read_bytes()
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert own_key() == place.read_bytes()


def test_without_a_place_there_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert own_key() is None
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "caches"))
    place = tmp_path / "caches" / "pytest-webdeliverable"
    (place / "cache-key").mkdir(parents=True)
    assert own_key() is None
    (place / "cache-key").rmdir()
    (place / "cache-key").symlink_to(tmp_path / "file")
    assert own_key() is None
    (place / "cache-key").unlink()
    os.mkfifo(place / "cache-key")
    assert own_key() not in (None, b""), "a pipe is replaced, and not waited for"

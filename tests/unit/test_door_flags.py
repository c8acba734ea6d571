"""How files and folders are opened: no link is followed, nothing waits, nothing is handed on."""

from __future__ import annotations

import os
import sys

import pytest

from pytest_webdeliverable.measure import folders

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="flags of POSIX systems")


@pytest.mark.parametrize("flag", ["O_NONBLOCK", "O_NOFOLLOW", "O_CLOEXEC", "O_NOCTTY"])
def test_a_file_is_opened_safely(flag: str) -> None:
    """POSIX open(): do not wait, do not follow, do not hand on, take no terminal."""
    assert folders._FILE_FLAGS & getattr(os, flag)
    assert folders._FILE_FLAGS & (os.O_WRONLY | os.O_RDWR) == os.O_RDONLY


@pytest.mark.parametrize("flag", ["O_DIRECTORY", "O_NOFOLLOW", "O_CLOEXEC"])
def test_a_folder_is_opened_safely(flag: str) -> None:
    assert folders._FOLDER_FLAGS & getattr(os, flag)
    assert folders._FOLDER_FLAGS & (os.O_WRONLY | os.O_RDWR) == os.O_RDONLY

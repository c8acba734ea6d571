"""A picture and its previous version, both as large as allowed, cost no more than one picture.

The previous version is the stranger's as well: it is any blob of the history.
"""

from __future__ import annotations

import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest
from bounded import bounded
from PIL import Image

if TYPE_CHECKING:
    from pathlib import Path

LOOK = """
from pytest_webdeliverable.measure.gitlog import read_log
from pytest_webdeliverable.measure.image import measure

def measured(data):
    path = Path(sys.argv[1])
    log = read_log(path.parent, [path])
    facts = measure(path.parent, path.parent, path.name, {"git"}, log=log)
    return facts["git"]["previous"]["same-pixels"]
"""


def test_two_large_pictures_are_not_held_at_once(tmp_path: Path) -> None:
    """Of 42 megapixels each: two decodings and their copies took 700 MB."""
    git = shutil.which("git")
    if git is None:
        pytest.skip("needs git")
    picture = Image.new("RGB", (7000, 6000), (250, 240, 230))
    run = (git, "-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgSign=false")
    picture.save(tmp_path / "a.png", compress_level=1)
    for command in (("init", "-q"), ("add", "a.png"), ("commit", "-qm", "first")):
        subprocess.run([*run, *command], cwd=tmp_path, check=True)
    picture.save(tmp_path / "a.png", compress_level=1, dpi=(72, 72))
    assert bounded(LOOK, tmp_path / "a.png") is True

"""Reports on a disk that is full, closed or pulled out: the old one or the new one, and one sentence."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from PIL import Image

from pytest_webdeliverable.atomic import replace_file

NAMES = ("report.json", "summary.md", "index.html")


def plugin(portfolio, text: str) -> tuple[str, ...]:
    """A module that makes the disk fail, and the options that load it."""
    (portfolio.folder / "disk.py").write_text(textwrap.dedent(text))
    return ("-p", "disk")


def test_a_read_only_folder_is_one_sentence_and_the_outcome_stands(portfolio, tmp_path) -> None:
    portfolio.piece()
    (portfolio.folder / "proof").write_text("a file where the folder should be")
    run = portfolio.run()
    assert run.code == 0
    assert run.out.count("the report cannot be written to") == 1
    assert "Traceback" not in run.out
    portfolio.picture(icc_profile=None)
    assert portfolio.run().code == 1


@pytest.mark.parametrize("part", NAMES)
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EIO, errno.EDQUOT])
def test_a_disk_that_fails_leaves_the_old_report(portfolio, part, number) -> None:
    portfolio.piece()
    assert portfolio.run().code == 0
    folder = portfolio.folder / "proof"
    before = {name: (folder / name).read_bytes() for name in NAMES}
    portfolio.picture(icc_profile=None)
    fault = f"""
        import os
        from pathlib import Path
        real = Path.replace
        def replace(self, target):
            if Path(target).name == {part!r}:
                raise OSError({number}, os.strerror({number}))
            return real(self, target)
        Path.replace = replace
    """
    run = portfolio.run(*plugin(portfolio, fault), PYTHONPATH=str(portfolio.folder))
    assert run.code == 1
    assert run.out.count("the report cannot be written to") == 1
    assert os.strerror(number) in run.out
    assert "Traceback" not in run.out
    assert (folder / part).read_bytes() == before[part]
    json.loads((folder / "report.json").read_text())
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)


def test_a_disk_that_is_full_for_real(portfolio, tmp_path_factory) -> None:
    disk = tmp_path_factory.mktemp("disk")
    mount = shutil.which("mount")
    made = mount and subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=8k", "tmpfs", disk], capture_output=True, check=False
    )
    if not made or made.returncode:
        pytest.skip("a small disk is mounted by root only")
    try:
        portfolio.piece()
        run = portfolio.run(f"--deliverable-report={disk}/proof", report=False)
        assert run.code == 0
        assert run.out.count("the report cannot be written to") == 1
        assert os.strerror(errno.ENOSPC) in run.out
        assert "Traceback" not in run.out
        assert not [path.name for path in (disk / "proof").iterdir() if path.name not in NAMES]
    finally:
        subprocess.run(["umount", disk], check=True)


def test_a_process_that_is_killed_while_it_writes(tmp_path) -> None:
    """Ended without warning in the middle: a reader finds the old file or the new one, whole."""
    target = tmp_path / "report.json"
    replace_file(target, b"old")
    program = (
        "import os, sys; from pathlib import Path; from pytest_webdeliverable import atomic\n"
        "real = os.fdopen\n"
        "def fdopen(*args):\n"
        "    file = real(*args)\n"
        "    file.write(b'half'); file.flush(); os.kill(os.getpid(), 9)\n"
        "atomic.os.fdopen = fdopen\n"
        "atomic.replace_file(Path(sys.argv[1]), b'new' * 9)\n"
    )
    root = Path(__file__).parents[2]
    run = subprocess.run([sys.executable, "-c", program, target], cwd=root, check=False)
    assert run.returncode == -signal.SIGKILL
    assert target.read_bytes() == b"old"


@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="Linux only: proc(5)")
def test_pictures_for_the_sheet_take_no_more_than_one_picture_may(portfolio) -> None:
    """Two print masters of 60 megapixels each, looked at by two threads: 512 MB for the run or a process."""
    large = Image.linear_gradient("L").resize((8000, 7500)).convert("RGB")
    spec = '[[piece]]\nid = "{0}"\nfile = "{0}.jpg"\nalt = "A plain gradient from black to white"\n'
    for name in "ab":
        large.save(portfolio.folder / f"{name}.jpg", quality=50)
    portfolio.manifest("".join(map(spec.format, "ab")))
    peaks = """
        import os, resource
        from pathlib import Path
        def pytest_unconfigure():
            status = Path("/proc/self/status").read_text()
            own = int(status.split("VmHWM:")[1].split()[0])
            others = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
            Path("peaks").write_text(f"{own} {others}")
    """
    options = plugin(portfolio, peaks)
    run = portfolio.run(*options, "--deliverable-workers=2", PYTHONPATH=str(portfolio.folder))
    assert run.code == 1, run.out
    own, others = (int(text) * 1024 for text in (portfolio.folder / "peaks").read_text().split())
    assert own < 200_000_000
    assert 250_000_000 < others < 512_000_000, "they were decoded, aside"
    page = (portfolio.folder / "proof" / "index.html").read_text("utf-8")
    assert page.count("data:image/jpeg") == 2 * 2

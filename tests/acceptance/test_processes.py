"""Measuring in processes: the same report as in one, and none of them left, however a run ends.

What is observed of other processes is Linux's (proc(5), pidfd_open(2)).
"""

from __future__ import annotations

import json
import os
import re
import select
import signal
import subprocess
import sys
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pictures
import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from portfolios import Portfolio

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "example_portfolio"
TESTS = str(ROOT / "tests")
FORCED = ("-p", "in_processes", "--deliverable-workers=2")
LONGEST = 60
"""Seconds for a process to end."""

linux_only = pytest.mark.skipif(
    not hasattr(os, "pidfd_open") or not Path("/proc/self/task").is_dir(), reason="Linux only"
)


def aside(least: str) -> tuple[str, ...]:
    """Options that leave pictures to other processes whose decoding takes so many bytes: all of them."""
    return "-p", "in_processes", "-o", f"deliverable_limits=aside_bytes = {least}"


def pytest_here(*options: str) -> list[str]:
    return [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *options]


def surroundings(**env: str) -> dict[str, str]:
    kept = {name: text for name, text in os.environ.items() if not name.startswith("PYTEST")}
    return {**kept, "PYTHONPATH": TESTS, **env}


@pytest.mark.parametrize("manifest", sorted(file.name for file in EXAMPLE.glob("*.toml")))
def test_the_report_is_that_of_one_process(tmp_path: Path, manifest: str) -> None:
    """On all pictures of the project that are sound, and on each fault that a rule finds."""
    if manifest == "rejected-specs.toml":
        pytest.skip("it holds specs only")
    reports = []
    for name, options in (("one", ["--deliverable-workers=1"]), ("many", list(FORCED))):
        command = pytest_here(*options, f"--deliverable-report={tmp_path / name}")
        done = subprocess.run(
            [*command, str(EXAMPLE / manifest)], cwd=ROOT, env=surroundings(), check=False,
            capture_output=True, text=True, timeout=300,
        )  # fmt: skip
        assert done.returncode in {0, 1}, done.stdout + done.stderr
        reports.append((done.returncode, (tmp_path / name / "report.json").read_bytes()))
    told = [json.loads(raw) for _, raw in reports]
    assert told[0] == told[1]  # says where they differ
    assert reports[0] == reports[1]


def pieces(portfolio: Portfolio, *names: str) -> None:
    text = ["[spec.screen]\nbox = [160, 120]\n"]
    for number, name in enumerate(names):
        pictures.save(portfolio.folder / f"{name}.jpg", pictures.art(160, 120, number))
        alt = "Soft shapes in violet and green"
        text.append(f'[[piece]]\nid = "{name}"\nfile = "{name}.jpg"\nalt = "{alt}"\n')
    portfolio.manifest("\n".join(text))


def test_a_deadly_picture_is_one_failing_test(portfolio: Portfolio) -> None:
    pieces(portfolio, "first", "deadly", "odd", "unlucky", "last")
    run = portfolio.run(*FORCED, PYTHONPATH=TESTS, FAULTS="1")
    assert run.failed() == ["deadly::file-readable", "odd::file-readable"]
    says = run.check("deadly::file-readable")["message"]
    assert says.startswith("the picture ended the process that measured it (SIGSEGV), and again")
    assert run.outcomes()["last::edge-gap"] == run.outcomes()["unlucky::edge-gap"] == "passed"
    assert run.outcomes()["deadly::edge-gap"] == "skipped"


@pytest.mark.parametrize("least", ["1", "2"])
@pytest.mark.parametrize(
    "options", [(), ("--deliverable-workers=1",), ("-n", "2"), ("-p", "no:cacheprovider")]
)
def test_a_heavy_picture_is_measured_aside(
    portfolio: Portfolio, options: tuple[str, ...], least: str
) -> None:
    """However few there are: what a decoder does to its process is one failing test."""
    pieces(portfolio, "first", "deadly", "hungry", "last")
    run = portfolio.run(*aside(least), *options, PYTHONPATH=TESTS, FAULTS="1", FEW="1")
    assert run.failed() == ["deadly::file-readable", "hungry::file-readable"]
    assert "SIGSEGV" in run.check("deadly::file-readable")["message"]
    assert run.outcomes()["first::edge-gap"] == run.outcomes()["last::edge-gap"] == "passed"


@pytest.mark.parametrize("least", ["1", "2"])
def test_what_ends_its_process_when_it_is_to_be_shown_is_a_blank(
    portfolio: Portfolio, least: str
) -> None:
    """The proof sheet's pictures are decoded once more: that, too, takes nothing down."""
    pieces(portfolio, "first", "fatal", "last")
    run = portfolio.run(*aside(least), PYTHONPATH=TESTS, FAULTS="1", FEW="1")
    assert run.code == 0
    page = (portfolio.folder / "proof" / "index.html").read_text("utf-8")
    for name, shown in (("first", True), ("fatal", False), ("last", True)):
        piece = re.search(rf'<article [^>]*id="piece-{name}".*?</article>', page, re.DOTALL)
        assert piece, name
        assert ("data:image/" in piece[0]) == shown


def test_the_proof_sheet_is_the_same_wherever_its_pictures_are_made(portfolio: Portfolio) -> None:
    pieces(portfolio, "a", "b", "c")
    art = pictures.art().convert("RGBA")
    art.putalpha(200)
    art.save(portfolio.folder / "b.jpg", "PNG")
    sheets = set()
    for options in ((), aside("1"), aside("2"), ("--deliverable-workers=1",)):
        portfolio.run(*options, PYTHONPATH=TESTS, FEW="1")
        sheets.add((portfolio.folder / "proof" / "index.html").read_bytes())
    (sheet,) = sheets
    assert (
        sheet.count(b"data:image/png") > 4 * 3
    )  # the strips of all three, and the see-through one
    assert sheet.count(b"data:image/jpeg") == 2 * 2


def test_no_process_is_started_for_ordinary_pictures(portfolio: Portfolio) -> None:
    pieces(portfolio, "a", "b", "c")
    (portfolio.folder / "conftest.py").write_text(
        "from pytest_webdeliverable.measure import crew\n"
        "def no(*args, **options): raise AssertionError('started')\n"
        "crew.Crew = no\n"
    )
    assert portfolio.run().code == 0


def test_a_heavy_picture_is_measured_here_where_no_process_can_be_started(
    portfolio: Portfolio,
) -> None:
    pieces(portfolio, "a", "b")
    (portfolio.folder / "conftest.py").write_text("import sys\nsys.executable = ''\n")
    assert portfolio.run(*aside("1"), PYTHONPATH=TESTS, FEW="1").code == 0


def test_nobody_waits_for_them_after_the_first_failure(portfolio: Portfolio) -> None:
    pieces(portfolio, "odd", "endless", "third")
    assert portfolio.run(*FORCED, "-x", PYTHONPATH=TESTS, FAULTS="1").failed() == [
        "odd::file-readable"
    ]


def test_what_they_kept_is_looked_up_by_one(portfolio: Portfolio) -> None:
    pieces(portfolio, "a", "b", "c")
    assert portfolio.run(*FORCED, PYTHONPATH=TESTS).code == 0
    (portfolio.folder / "conftest.py").write_text(
        "from pytest_webdeliverable.measure import crew, content\n"
        "def no(*args, **options): raise AssertionError('measured anew')\n"
        "crew.Crew = content.content_facts = no\n"
    )
    assert portfolio.run(*FORCED, PYTHONPATH=TESTS).code == 0


@pytest.mark.parametrize(
    "options",
    [
        ["--collect-only"],
        ["-m", "deliverable_size"],
        ["deliverables.toml::a::pixel-size"],
        ["--deliverable-plan"],
        ["--deliverable-workers=1"],
    ],
)
def test_none_is_started_where_little_is_decoded(portfolio: Portfolio, options: list[str]) -> None:
    pieces(portfolio, "a", "b", "c")
    (portfolio.folder / "conftest.py").write_text(
        "from pytest_webdeliverable.measure import crew\n"
        "def no(*args, **options): raise AssertionError('started')\n"
        "crew.Crew = no\n"
    )
    assert portfolio.run(*FORCED, *options, report=False, PYTHONPATH=TESTS).code == 0


def test_a_run_that_does_not_begin_ends_those_it_started(portfolio: Portfolio) -> None:
    pieces(portfolio, "a", "b", "c")
    portfolio.manifest("[[piece]]\nfil = 3\n", "below/deliverables.toml")
    run = portfolio.run(*FORCED, report=False, PYTHONPATH=TESTS)
    assert run.code == 2
    assert "below/deliverables.toml:2" in run.out


@contextmanager
def at_work(portfolio: Portfolio) -> Iterator[tuple[subprocess.Popen[bytes], list[int]]]:
    """A run, one of whose processes is at a picture that it will not be done with; their ids."""
    pieces(portfolio, "endless", "second", "third")
    os.mkfifo(portfolio.folder / "begun")
    run = subprocess.Popen(
        pytest_here(*FORCED), cwd=portfolio.folder,
        env=surroundings(FAULTS="1"), start_new_session=True,
        # Whoever started the tests in the background may have it ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # noqa: PLW1509
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    assert run.stdout is not None
    try:
        assert (portfolio.folder / "begun").read_text() == "x"
        threads = Path(f"/proc/{run.pid}/task").iterdir()
        found = " ".join((thread / "children").read_text() for thread in threads)
        yield run, [os.pidfd_open(int(child)) for child in found.split()]
    finally:
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
        run.wait()
        run.stdout.close()


def ends(process: int) -> bool:
    poll = select.poll()
    poll.register(process, select.POLLIN)
    ended = bool(poll.poll(LONGEST * 1000))
    os.close(process)
    return ended


@linux_only
def test_none_is_left_after_an_interruption(portfolio: Portfolio) -> None:
    """Control-C reaches the whole group of processes in a terminal's foreground."""
    with at_work(portfolio) as (run, children):
        os.killpg(run.pid, signal.SIGINT)
        assert [ends(child) for child in children] == [True, True]
        assert run.stdout is not None
        said = run.stdout.read().decode()
        assert run.wait(LONGEST) == 2, said
        assert "KeyboardInterrupt" in said


@linux_only
def test_none_is_left_when_the_run_itself_is_killed(portfolio: Portfolio) -> None:
    """An idle one ends at once, one in the middle of a picture when it is done with that."""
    with at_work(portfolio) as (run, children):
        run.kill()
        run.wait()
        assert [ends(child) for child in children] == [True, True]


@pytest.mark.parametrize("least", ["1", "2"])
def test_the_cache_is_tidied_where_all_is_measured_aside(portfolio: Portfolio, least: str) -> None:
    """Who wrote the entries is another process, but the run has to know that there are new ones."""
    pieces(portfolio, "a", "b")
    (portfolio.folder / "conftest.py").write_text(
        "from pytest_webdeliverable.measure import cache\ncache.MOST_BYTES = 0\n"
    )
    assert portfolio.run(*aside(least), PYTHONPATH=TESTS, FEW="1").code == 0
    kept = portfolio.folder / ".pytest_cache" / "d" / "webdeliverable"
    assert kept.is_dir()
    assert not list(kept.rglob("*.json"))

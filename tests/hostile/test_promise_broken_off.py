"""Runs that end before all is checked: the report says so, and claims nothing of what was not judged.

What a run was to check is counted by pytest's own list of collected tests.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pictures
import pytest

from pytest_webdeliverable.report.build import build_report

ROOT = Path(__file__).parents[2]

CRASH = """
import os
def pytest_runtest_call(item):
    if item.nodeid.endswith("b::density") and "PYTEST_XDIST_WORKER" in os.environ:
        os._exit(3)
"""
INTERRUPTED = """
def pytest_runtest_logreport(report):
    if report.when == "call" and "b::pixel-size" in report.nodeid:
        raise KeyboardInterrupt
"""
WHILE_WRITTEN = """
from pytest_webdeliverable.report import write
def interrupted(*args, **options):
    raise KeyboardInterrupt
write.make_album = interrupted
"""
BROKEN = """
def pytest_runtest_setup(item):
    assert item.name != "density"
"""


@pytest.fixture
def three(portfolio):
    """Three sound pieces."""
    text = ["[spec.screen]\nbox = [160, 120]\n"]
    for number, name in enumerate("abc"):
        pictures.save(portfolio.folder / f"{name}.jpg", pictures.art(160, 120, number))
        text.append(
            f'[[piece]]\nid = "{name}"\nfile = "{name}.jpg"\nalt = "Soft shapes in green"\n'
        )
    portfolio.manifest("\n".join(text))
    return portfolio


def module(portfolio, name: str, text: str) -> dict[str, str]:
    """Write a module beside the pictures; return what lets ``-p`` find it."""
    (portfolio.folder / f"{name}.py").write_text(text)
    return {"PYTHONPATH": f"{portfolio.folder}{os.pathsep}{ROOT}"}


def collected(portfolio) -> set[str]:
    out = portfolio.run("--collect-only", "-q", report=False).out
    return {line.partition("::")[2] for line in out.splitlines() if "::" in line}


def says_that_it_is_not_complete(portfolio, run, lacks: str) -> None:
    """In all three files and on the terminal."""
    assert run.out.count(f"not complete: {lacks}") == 1
    summary = (portfolio.folder / "proof" / "summary.md").read_text()
    assert f"**This report is not complete.** {lacks}" in summary
    page = (portfolio.folder / "proof" / "index.html").read_text()
    assert f"<b>This report is not complete.</b> {lacks}" in page
    assert "nothing to fix" not in page
    assert "<b>All" not in page


def lost(run, all_of_them: set[str]) -> str:
    left = all_of_them - set(run.outcomes())
    assert left
    assert run.report["totals"]["no-result"] == len(left)
    checks = f"{len(left)} {'check has' if len(left) == 1 else 'checks have'}"
    return f"{checks} no result: the run, or a process of it, was broken off."


@pytest.mark.parametrize("dist", ["load", "worksteal"])
def test_a_process_of_xdist_that_ends(three, dist) -> None:
    """It was written that all checks passed, and that all pieces hold; nothing stood at the manifest."""
    names = collected(three)
    env = module(three, "crash", CRASH)
    options = ("-p", "crash", "-n", "2", "--dist", dist, "--deliverable-annotations=github")
    run = three.run(*options, **env)
    assert run.code == 1
    says_that_it_is_not_complete(three, run, lost(run, names))
    assert set(run.outcomes()) == names - {"b::density"}
    notes = [line for line in run.out.splitlines() if line.startswith("::error ")]
    assert len(notes) == 1
    assert "could not be judged" in notes[0]


@pytest.mark.parametrize("options", [(), ("-n", "2")])
def test_a_run_that_stops_at_the_first_failure(three, options) -> None:
    three.picture("b.jpg", pictures.art(200, 150, 9))
    names = collected(three)
    run = three.run("-x", *options)
    assert run.code in {1, 2}
    assert "b::pixel-size" in run.failed()
    lacks = lost(run, names)
    assert f"not complete: {lacks}" in run.out


@pytest.mark.parametrize(("code", "text"), [(2, INTERRUPTED), (1, BROKEN)])
def test_checks_that_are_interrupted_or_hindered(three, code, text) -> None:
    names = collected(three)
    (three.folder / "conftest.py").write_text(text)
    run = three.run()
    assert run.code == code
    says_that_it_is_not_complete(three, run, lost(run, names))


@pytest.mark.parametrize("options", [("--continue-on-collection-errors",), ("-n", "2")])
def test_a_manifest_of_no_use_beside_a_good_one(three, options) -> None:
    """pytest-xdist goes on with what could be collected."""
    three.manifest("[[piece]]\nfil = 3\n", "below/deliverables.toml")
    run = three.run(*options)
    assert run.code == 1
    assert run.report["totals"]["unread"] == 1
    assert run.report["totals"]["passed"] == run.report["totals"]["checks"] > 0
    lacks = "1 manifest could not be used; the output of the run says why."
    says_that_it_is_not_complete(three, run, lacks)


@pytest.mark.parametrize(
    "options",
    [
        ("-k", "pixel-size"),
        ("--deselect", "deliverables.toml::b"),
        ("--deliverable-files", "a.jpg"),
        ("-n", "2", "-m", "deliverable_size"),
    ],
)
def test_what_is_left_out_on_purpose_is_no_gap(three, options) -> None:
    run = three.run(*options)
    assert run.code == 0
    assert "no-result" not in run.report["totals"]
    assert "not complete" not in run.out


def test_a_check_that_is_skipped_by_others_is_no_gap(three) -> None:
    text = "import pytest\ndef pytest_runtest_setup(item):\n    pytest.skip('not today')\n"
    (three.folder / "conftest.py").write_text(text)
    run = three.run()
    assert run.report["totals"]["checks"] == 0
    assert "no-result" not in run.report["totals"]


def test_a_merged_report_says_it_as_well(three) -> None:
    (three.folder / "conftest.py").write_text(INTERRUPTED)
    first = three.run()
    (three.folder / "proof").rename(three.folder / "leg")
    (three.folder / "conftest.py").unlink()
    merged = three.run("leg/report.json")
    assert merged.code == 1
    assert merged.report["totals"] == first.report["totals"]
    says_that_it_is_not_complete(three, merged, lost(first, collected(three)))


@pytest.mark.parametrize(
    "options", [("-n", "2", "--dist", "each"), ("--keep-duplicates", ".", "deliverables.toml")]
)
def test_checks_that_are_made_twice_are_told_once(three, options) -> None:
    three.picture("b.jpg", pictures.art(200, 150, 9))
    assert three.run().code == 1
    once = (three.folder / "proof" / "report.json").read_bytes()
    run = three.run(*options)
    assert run.code == 1
    assert (three.folder / "proof" / "report.json").read_bytes() == once
    lines = [line.split() for line in run.out.splitlines()]
    (found,) = [line for line in lines if line[:1] == ["b"] and "pixel-size:" in line]
    assert found[1] == "1"


@pytest.mark.parametrize("order", [1, -1])
def test_of_a_check_that_is_made_twice_the_worse_outcome_counts(order) -> None:
    """Platforms may differ; the run fails if one of them does."""
    told = [
        {
            "manifest": "m", "title": "", "id": "a", "place": [0, 0],
            "check": {"rule": "density", "outcome": outcome, "points": 2},
        }
        for outcome in ("passed", "failed")
    ]  # fmt: skip
    totals = build_report(told[::order])["totals"]
    assert (totals["checks"], totals["passed"], totals["failed"]) == (1, 0, 1)
    assert (totals["score"], totals["score-max"]) == (0, 2)


@pytest.mark.parametrize("end", ["raise KeyboardInterrupt", "os.kill(os.getpid(), 9)"])
@pytest.mark.parametrize("place", ["make_album", "build_page", "build_summary"])
def test_the_files_of_a_report_belong_together_however_its_making_ends(three, end, place) -> None:
    """report.json and summary.md were those of the new run beside the proof sheet of the old one."""
    assert three.run().code == 0
    folder = three.folder / "proof"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    three.picture("b.jpg", pictures.art(200, 150, 9))
    text = (
        "import os\n"
        "from pytest_webdeliverable.report import write\n"
        f"def ended(*args, **options):\n    {end}\n"
        f"write.{place} = ended\n"
    )
    env = module(three, "ended", text)
    assert three.run("-p", "ended", **env).code in {2, -9}
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_disk_that_gets_full_leaves_the_whole_old_report(three) -> None:
    """It was full when the proof sheet was written, which is the largest."""
    assert three.run().code == 0
    folder = three.folder / "proof"
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    three.picture("b.jpg", pictures.art(200, 150, 9))
    text = (
        "import errno, os, tempfile\n"
        "real = tempfile.mkstemp\n"
        "def mkstemp(prefix='', **options):\n"
        "    if prefix.startswith('.index.html'):\n"
        "        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))\n"
        "    return real(prefix=prefix, **options)\n"
        "tempfile.mkstemp = mkstemp\n"
    )
    run = three.run("-p", "full", **module(three, "full", text))
    assert run.code == 1
    assert run.out.count("the report cannot be written to") == 1
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_an_interruption_while_the_report_is_written_is_one_sentence(three) -> None:
    """It ended in a traceback of pytest's inside, and the summary of the tests was lost."""
    env = module(three, "interrupt", WHILE_WRITTEN)
    run = three.run("-p", "interrupt", **env)
    assert run.code == 2
    assert run.out.count("the report is not written: it was interrupted") == 1
    assert "Traceback" not in run.out
    assert " passed in " in run.out
    assert not [path for path in (three.folder / "proof").iterdir() if path.name.startswith(".")]


@pytest.mark.skipif(sys.platform == "win32", reason="names of POSIX systems")
def test_a_junit_report_is_sound_xml_whatever_the_names_hold(portfolio) -> None:
    names = ["a\x1b[31mb", "]]>&lt;", "\u202eab", "x\ud7ff\ufffe", "a\tb", "<a>\"'", "::error::x"]
    text = "".join(
        f"[[piece]]\nid = 'p{number}'\nfile = {json.dumps(f'{name}.jpg')}\n"
        f"title = {json.dumps(name)}\nalt = {json.dumps(name * 9)}\n"
        for number, name in enumerate(names)
    )
    portfolio.manifest(text)
    for number, name in enumerate(names):
        portfolio.manifest(
            f"[[piece]]\nid = {json.dumps(name)}\nfile = {json.dumps(f'{name}.jpg')}\n"
            f"title = {json.dumps(name)}\n",
            f"f{number}/deliverables.toml",
        )
    run = portfolio.run("--junitxml=junit.xml", "--continue-on-collection-errors", report=False)
    assert "Traceback" not in run.out
    suite = ET.parse(portfolio.folder / "junit.xml").getroot()
    assert len(list(suite.iter("testcase"))) >= len(names)


def test_a_run_whose_collection_ends_twice(three) -> None:
    """pytest-xdist's ``--looponfail`` says so twice; it ended in an internal error, and no test ran."""
    text = (
        "def pytest_collection_finish(session):\n"
        "    if not hasattr(session, 'said'):\n"
        "        session.said = True\n"
        "        session.config.hook.pytest_collection_finish(session=session)\n"
    )
    (three.folder / "conftest.py").write_text(text)
    run = three.run()
    assert run.code == 0, run.out
    assert run.out.count("a ....") == 1

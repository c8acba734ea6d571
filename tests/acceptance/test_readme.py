"""The README is true: its commands run, its manifest loads, its failure is what the terminal shows.

The two commands that set up an environment are run by ``.ci/run``, in a fresh clone, and the first, with
all that a newcomer does after it, on each version of Python by ``test_first_hour.py``.
"""

from __future__ import annotations

import re
import shlex
import shutil
from typing import TYPE_CHECKING

import pictures
import pytest
from shown_files import ROOT

if TYPE_CHECKING:
    from portfolios import Portfolio

README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, re.DOTALL)
SET_UP = re.compile(r"<!-- command: \w+ -->\n```bash\n(.*?)```", re.DOTALL).findall(README)
IN_A_LINE = sorted(set(re.findall(r"`(pytest [^`]+)`", README)))
OPTIONS = sorted(set(re.findall(r"`(-[^`]+)`", README)))


def block(kind: str, word: str = "") -> str:
    """The README's only block of this kind with the word in it."""
    (found,) = [text for name, text in BLOCKS if name == kind and word in text]
    return found


@pytest.fixture
def shown(portfolio: Portfolio) -> Portfolio:
    """The README's manifest, with a sound picture."""
    portfolio.manifest(block("toml"))
    portfolio.picture("images/quill-mara-tide-table.jpg", pictures.art(776, 1200))
    return portfolio


def test_every_command_is_known_to_a_test() -> None:
    """A block, a command in a line or an option that is new in the README must be run here too."""
    assert len(SET_UP) == 2
    assert [name for name, _ in BLOCKS].count("bash") == 4
    assert IN_A_LINE == [
        "pytest --deliverable-plan",
        "pytest --deliverable-report=proof",
        "pytest --deliverable-start",
        "pytest example_portfolio",
        "pytest example_portfolio/rejected.toml",
    ]
    assert set(OPTIONS) == set(RUNS)


def test_the_manifest_is_sound(shown: Portfolio) -> None:
    run = shown.run("-W", "error")
    assert (run.code, run.failed()) == (0, [])
    assert run.outcomes()["quill-mara-tide-table::file-name"] == "passed"


def test_the_failure_is_what_the_terminal_shows(shown: Portfolio) -> None:
    gap = pictures.art(776, 1200)
    gap.paste("white", (0, 0, 2, 1200))
    shown.picture("images/quill-mara-tide-table.jpg", gap)
    (text,) = re.findall(r"\n((?:    .*\n)+)", README[: README.index("## The proof sheet")])
    assert as_read(text) in as_read(shown.run().out)


def as_read(text: str) -> str:
    """Text without line breaks, rules across the page, and the last steps of a color in a JPEG."""
    text = re.sub(r"_{3,}", "", text)
    text = re.sub(r"#(f[0-9a-f]){3}", "nearly white", text)
    return " ".join(text.split())


def test_first_answer_in_two_commands(portfolio: Portfolio) -> None:
    """In a folder with the pictures of the example."""
    shutil.copytree(ROOT / "example_portfolio/images", portfolio.folder / "images")
    start, check = [
        shlex.split(line)[1:] for line in block("bash", "--deliverable-start").splitlines()
    ]
    assert portfolio.run(*start, report=False).code == 0
    for name in ("deliverables.toml", ".github/workflows/deliverables.yml", ".gitignore"):
        assert (portfolio.folder / name).is_file()
    run = portfolio.run(*check)
    assert run.code == 1
    assert any(name.endswith("::alt-text") for name in run.failed())


def test_a_picture_of_each_kind_of_fault(portfolio: Portfolio) -> None:
    shutil.copytree(ROOT / "example_portfolio", portfolio.folder / "example_portfolio")
    command = shlex.split("example_portfolio/rejected.toml")
    run = portfolio.run(*command, "-q", "--tb=no")
    assert run.code == 1
    assert len({name.partition("::")[2] for name in run.failed()}) >= 20


def test_the_proof_sheet(shown: Portfolio) -> None:
    assert shown.run("--deliverable-report=proof", report=False).code == 0
    assert (shown.folder / "proof/index.html").is_file()


def test_the_plan(shown: Portfolio) -> None:
    (shown.folder / "images/quill-mara-tide-table.jpg").unlink()
    run = shown.run("--deliverable-plan", report=False)
    assert run.code == 0
    assert "776 x 1200 px" in run.out


RUNS = {
    "-k": "-k edge-gap",
    "-m deliverable_edges": "-m deliverable_edges",
    "--lf": "--lf",
    "-x": "-x",
    "--junitxml": "--junitxml=junit.xml",
    "-n 2 --dist loadscope": "-n 2 --dist loadscope",
    "-W error::pytest_webdeliverable.DeliverableAdvice": None,
    "--deliverable-report=DIR": "--deliverable-report=DIR",
    "--deliverable-plan": "--deliverable-plan",
    "--deliverable-files": "--deliverable-files images/quill-mara-tide-table.jpg",
    "--deliverable-rules": "--deliverable-rules",
    "--deliverable-schema": "--deliverable-schema",
}
"""How each option of the README is run; None: as it stands."""


@pytest.mark.parametrize("option", sorted(RUNS))
def test_options(shown: Portfolio, option: str) -> None:
    run = shown.run(*shlex.split(RUNS[option] or option), report=False)
    assert run.code == 0, run.out
    written = {"--junitxml": "junit.xml", "--deliverable-report=DIR": "DIR/report.json"}
    if option in written:
        assert (shown.folder / written[option]).is_file()


def test_every_option_is_in_the_readme(portfolio: Portfolio) -> None:
    """Those for a machine to set stand in the page of the action."""
    listed = set(
        re.findall(r"(?m)^  (--deliverable-[a-z]+)", portfolio.run("--help", report=False).out)
    )
    assert len(listed) >= 8
    unnamed = {option for option in listed if option not in README}
    assert unnamed <= {"--deliverable-annotations", "--deliverable-workers"}

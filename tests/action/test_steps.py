"""The parts of the action's Python that no run of it shows."""

from __future__ import annotations

import configparser
import os
import sys

import pytest
from running import ACTION

sys.path.insert(0, str(ACTION / "steps"))

from typing import TYPE_CHECKING

import check as steps_check
import environment
import install
import runner as steps_runner

from pytest_webdeliverable.measure.limits import changed_limits

if TYPE_CHECKING:
    from pathlib import Path

VARIABLES = environment.only(os.environ, environment.SYSTEM)
TOTALS = {"checks": 3, "passed": 3, "failed": 0}


@pytest.mark.parametrize(
    ("code", "totals", "result"),
    [
        (0, TOTALS, "passed"),
        (0, {}, "error"),
        (0, {**TOTALS, "failed": 1}, "error"),
        (0, {**TOTALS, "checks": 0}, "error"),
        (1, {**TOTALS, "failed": 1}, "failed"),
        (1, TOTALS, "error"),
        (1, {}, "error"),
        *((code, TOTALS, "error") for code in (2, 3, 4, 5, 6, -9, 134)),
    ],
)
def test_green_needs_a_code_and_a_report_that_agree(code: int, totals: dict, result: str):
    ending = steps_check.ending_of(code, totals)
    assert ending.result == result
    assert ending.sentence.endswith(".")


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("report", "report"),
        ("albums/spring 2026", "albums-spring 2026"),
        ('a"b:c<d>e|f*g?h\\i\r\nj', "a-b-c-d-e-f-g-h-i--j"),
        ("  ", "deliverable-report"),
    ],
)
def test_names_of_artifacts_are_made_valid(asked: str, name: str):
    """Characters that the upload refuses, by its documentation."""
    assert install.artifact_name(asked) == name


def test_programs_get_no_variable_that_was_not_thought_of():
    given = {"PATH": "/bin", "PYTHONPATH": "/x", "GITHUB_ENV": "/y", "PIP_INDEX_URL": "z"}
    assert environment.only(given, environment.SYSTEM) == {"PATH": "/bin"}
    assert environment.without_orders(given) == {
        name: value for name, value in given.items() if name != "GITHUB_ENV"
    }


def test_pytest_is_told_to_look_nowhere_but_where_it_is_pointed(tmp_path: Path):
    """Each of these alone keeps most traps out; the hostile portfolios meet them all together."""
    inputs = steps_check.Inputs(
        workspace=tmp_path / "checkout",
        portfolio=".",
        merge="",
        annotations=True,
        trust=False,
        work=tmp_path,
        measurements=tmp_path / "measurements",
    )
    command, folder, variables = steps_check.isolated(inputs, [tmp_path / "checkout"])
    assert command[1:3] == ["-I", "-B"]
    assert {"--noconftest", "no:python", "no:doctest", "-c"} <= set(command)
    assert folder == tmp_path, "not the checkout"
    settings = configparser.ConfigParser()
    settings.read(command[command.index("-c") + 1], encoding="utf-8")
    limits = changed_limits(settings["pytest"]["deliverable_limits"].strip().splitlines())
    assert limits.all_aside, "a decoder that crashes ends a process, not the check"
    assert variables["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] == "1"


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("GITHUB_OUTPUT", "GITHUB_STEP_SUMMARY"):
        monkeypatch.setenv(name, str(tmp_path / name))
    return tmp_path


def test_a_summary_is_cut_at_a_line_and_says_so(files: Path):
    steps_runner.summarize("# Head\n" + "é" * 99 + "\n" + ("ü" * 50 + "\n") * 20_000)
    written = (files / "GITHUB_STEP_SUMMARY").read_bytes()
    assert len(written) <= steps_runner.SUMMARY_BYTES
    text = written.decode()
    assert text.endswith("\n\nThe summary is cut here; the report holds all of it.\n")
    assert set(text.split("\n")[2:-4]) == {"ü" * 50}


def test_no_value_ends_its_own_record(files: Path):
    steps_runner.give({"a": "1\nend\nresult=passed", "b": ""})
    lines = (files / "GITHUB_OUTPUT").read_text(encoding="utf-8").split("\n")
    mark = lines[0].removeprefix("a<<")
    assert lines == [f"a<<{mark}", "1", "end", "result=passed", mark, f"b<<{mark}", "", mark, ""]


def test_quoted_output_stands_between_a_word_that_differs_each_time(
    capfdbinary: pytest.CaptureFixture[bytes], tmp_path: Path
):
    words = set()
    for _ in range(2):
        code = "import sys; sys.stdout.buffer.write(b'a\\r::error::b\\n\\xff##[x]\\nlast'); sys.exit(3)"
        assert steps_runner.run_quoted([sys.executable, "-c", code], tmp_path, VARIABLES) == 3
        first, *quoted, last = capfdbinary.readouterr().out.decode().splitlines()
        word = first.removeprefix("::stop-commands::")
        assert last == f"::{word}::"
        assert len(word) == 64
        assert quoted == ["| a ::error::b", "| \\xff##[x]", "| last"]
        words.add(word)
    assert len(words) == 2


def test_reports_below_folders_too_deep_to_walk(tmp_path: Path):
    """Python walks by recursion; without its limit, the system's for one path ends the walk."""
    here = os.open(tmp_path, os.O_RDONLY)
    for _ in range(3000):
        os.mkdir("d", dir_fd=here)
        below = os.open("d", os.O_RDONLY, dir_fd=here)
        os.close(here)
        here = below
    os.close(here)
    inputs = steps_check.Inputs(
        workspace=tmp_path.resolve(), portfolio=".", merge=".", annotations=True, trust=False,
        work=tmp_path, measurements=tmp_path,
    )  # fmt: skip
    try:
        with pytest.raises(steps_check.RefusedError, match=r"too deep|no report"):
            steps_check.reports_in(inputs)
    finally:
        while (tmp_path / "d" / "d").exists():
            (tmp_path / "d" / "d").rename(tmp_path / "e")
            (tmp_path / "d").rmdir()
            (tmp_path / "e").rename(tmp_path / "d")

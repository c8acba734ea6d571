"""Processes that measure: what they tell, and what becomes of one that goes wrong."""

from __future__ import annotations

import os
import signal
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import in_processes
import pictures
import pytest

from pytest_webdeliverable.measure import crew as module
from pytest_webdeliverable.measure import process
from pytest_webdeliverable.measure.cache import FactsCache
from pytest_webdeliverable.measure.crew import Answer, Crew
from pytest_webdeliverable.measure.image import measure
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from pytest_webdeliverable.measure.facts import Facet
    from pytest_webdeliverable.measure.limits import Limits

FACETS: tuple[Facet, ...] = ("pixels", "edges", "history", "previews", "likeness", "motion")
Hire = "Callable[..., Crew]"


@pytest.fixture
def hire() -> Iterator[Callable[..., Crew]]:
    """Start processes, which end with the test."""
    hired = []

    def start(
        size: int = 1, limits: Limits = DEFAULT_LIMITS, cache: FactsCache | None = None
    ) -> Crew:
        hired.append(Crew(size, limits, cache))
        return hired[-1]

    yield start
    for crew in hired:
        crew.stop()
        crew.close()


@pytest.fixture
def faults(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(process, "_PROGRAM", in_processes.with_faults())


def ask(crew: Crew, folder: Path, file: str, facets: tuple[Facet, ...] = FACETS) -> Answer:
    answer = crew.measure(folder, folder, file, facets, None)
    assert answer is not None
    return answer


def text(answer: Answer) -> str:
    return answer.facts["problem"]["text"]


@pytest.mark.parametrize("kind", pictures.KINDS)
def test_the_facts_are_those_of_one_process(tmp_path: Path, hire: Hire, kind: str) -> None:
    name, options = pictures.KINDS[kind]
    file = f"über {kind}"
    (tmp_path / file).write_bytes(pictures.encoded(pictures.art(90, 70, 3), name, **options))
    answer = ask(hire(), tmp_path, file)
    assert answer == (measure(tmp_path, tmp_path, file, FACETS), False)
    assert "problem" not in answer.facts


def test_limits_and_facets_reach_them(tmp_path: Path, hire: Hire) -> None:
    pictures.save(tmp_path / "a.jpg")
    crew = hire(limits=replace(DEFAULT_LIMITS, pixels=10))
    assert "0 are decoded" in text(ask(crew, tmp_path, "a.jpg"))
    assert set(ask(crew, tmp_path, "a.jpg", ()).facts) == {"file", "header", "metadata", "color"}
    few = ask(hire(), tmp_path, "a.jpg", ("edges",)).facts
    assert few == measure(tmp_path, tmp_path, "a.jpg", ("edges",))


def test_they_keep_and_look_up_what_was_measured(tmp_path: Path, hire: Hire) -> None:
    pictures.save(tmp_path / "a.jpg")
    cache = FactsCache(tmp_path / "cache")
    assert not cache.answers
    crew = hire(cache=cache)
    first, second = (ask(crew, tmp_path, "a.jpg") for _ in range(2))
    assert (first.known, second.known) == (False, True)
    assert first.facts == second.facts
    again = FactsCache(tmp_path / "cache")
    assert again.answers
    assert measure(tmp_path, tmp_path, "a.jpg", FACETS, cache=again) == first.facts
    assert again.answers


@pytest.mark.usefixtures("faults")
def test_a_picture_that_ends_its_process_is_told_of_and_the_next_is_measured(
    tmp_path: Path, hire: Hire
) -> None:
    for name in ("deadly.jpg", "sound.jpg"):
        pictures.save(tmp_path / name)
    crew = hire()
    assert text(ask(crew, tmp_path, "deadly.jpg")) == (
        "the picture ended the process that measured it (SIGSEGV), and again in a new one;"
        " please report this file"
    )
    sound = ask(crew, tmp_path, "sound.jpg").facts
    assert sound == measure(tmp_path, tmp_path, "sound.jpg", FACETS)


@pytest.mark.usefixtures("faults")
def test_a_process_that_the_system_ended_once_does_not_count(tmp_path: Path, hire: Hire) -> None:
    pictures.save(tmp_path / "unlucky.jpg")
    facts = ask(hire(), tmp_path, "unlucky.jpg").facts
    assert (tmp_path / "seen").exists()
    assert facts == measure(tmp_path, tmp_path, "unlucky.jpg", FACETS)


@pytest.mark.usefixtures("faults")
def test_an_error_is_named(tmp_path: Path, hire: Hire) -> None:
    pictures.save(tmp_path / "odd.jpg")
    assert text(ask(hire(), tmp_path, "odd.jpg")) == (
        "the picture cannot be measured (ZeroDivisionError); please report this file"
    )


@pytest.mark.usefixtures("faults")
def test_a_process_that_hangs_is_ended(
    tmp_path: Path, hire: Hire, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "LOOK_EVERY", 0.05)
    for name in ("endless.jpg", "sound.jpg"):
        pictures.save(tmp_path / name)
    crew = hire()
    monkeypatch.setattr(crew, "_patience", 0.2)
    assert text(ask(crew, tmp_path, "endless.jpg")) == (
        "the picture was not measured within 0 s; please report this file"
    )
    monkeypatch.setattr(crew, "_patience", 60)
    assert "edges" in ask(crew, tmp_path, "sound.jpg").facts


@pytest.mark.usefixtures("faults")
@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="needs a clock of processor time")
def test_a_picture_that_takes_too_long_is_ended_by_processor_time(
    tmp_path: Path, hire: Hire
) -> None:
    """Twice the limit, whatever the clock says: 24 times the limit is far from up."""
    for name in ("slow.jpg", "sound.jpg"):
        pictures.save(tmp_path / name)
    crew = hire(limits=replace(DEFAULT_LIMITS, seconds=1.5))
    assert text(ask(crew, tmp_path, "slow.jpg")) == (
        "the picture takes more than 3 s of processor time to measure; please report this file"
    )
    assert "edges" in ask(crew, tmp_path, "sound.jpg").facts


@pytest.mark.usefixtures("faults")
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux (setrlimit(2))")
def test_no_process_takes_more_memory_than_pictures_may(tmp_path: Path, hire: Hire) -> None:
    """Four times the limit of a decode are 1.6 GB; 8 are asked for."""
    for name in ("hungry.jpg", "sound.jpg"):
        pictures.save(tmp_path / name)
    crew = hire()
    assert text(ask(crew, tmp_path, "hungry.jpg")) == "the picture needs more memory than there is"
    assert "edges" in ask(crew, tmp_path, "sound.jpg").facts


@pytest.mark.usefixtures("faults")
@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a named pipe")
def test_nobody_waits_for_a_process_once_the_run_is_over(tmp_path: Path, hire: Hire) -> None:
    pictures.save(tmp_path / "endless.jpg")
    os.mkfifo(tmp_path / "begun")
    crew = hire()
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(ask, crew, tmp_path, "endless.jpg")
        assert (tmp_path / "begun").read_text() == "x"
        crew.stop()
        assert "SIGKILL" in text(waiting.result(timeout=30))
    assert not crew.works


@pytest.mark.parametrize("interpreter", ["", "/nowhere/python", sys.prefix])
def test_without_an_interpreter_to_start_there_are_none(
    tmp_path: Path, hire: Hire, monkeypatch: pytest.MonkeyPatch, interpreter: str
) -> None:
    monkeypatch.setattr(sys, "executable", interpreter)
    assert not hire().works


def test_a_program_that_is_no_worker_is_none(
    tmp_path: Path, hire: Hire, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(process, "_PROGRAM", "import sys; sys.exit(3)")
    crew = hire(2)
    assert crew.works
    assert crew.measure(tmp_path, tmp_path, "a.jpg", FACETS, None) is None
    assert not crew.works


def test_a_fork_of_the_run_measures_itself(
    tmp_path: Path, hire: Hire, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Plugins may run each test in a fork; two readers of one pipe would get each other's answers."""
    crew = hire()
    with monkeypatch.context() as context:
        context.setattr(os, "getpid", lambda: 1)
        assert crew.measure(tmp_path, tmp_path, "a.jpg", FACETS, None) is None
    assert crew.works


def test_they_load_nothing_of_the_current_folder_and_no_pytest(
    tmp_path: Path, hire: Hire, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A portfolio may be a stranger's: no module of its folder is run, whatever it is named."""
    for name in ("PIL", "json", "sitecustomize", "usercustomize", "hashlib", "_pytest"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'owned')!r}, 'w')\n")
    pictures.save(tmp_path / "a.jpg")
    check = "import pathlib, sys; assert not {'pytest', '_pytest', 'tomli'} & set(sys.modules)\n"
    monkeypatch.setattr(
        process, "_PROGRAM", process._PROGRAM.replace("\nmain()", f"\n{check}main()")
    )
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr(sys, "path", ["", str(tmp_path), *sys.path])
    assert "edges" in ask(hire(), tmp_path, "a.jpg").facts
    assert not (tmp_path / "owned").exists()

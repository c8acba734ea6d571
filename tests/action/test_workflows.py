"""This repository's own workflows that use the action, run by the harness, and how caches and artifacts fare."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pictures
from running import ACTION, REPOSITORY

if TYPE_CHECKING:
    from running import Done, Runner

SELFTEST = REPOSITORY / ".github" / "workflows" / "selftest.yml"


def test_the_selftest_is_green_on_the_example(action: Runner):
    done = action.run_job(SELFTEST, "green", os="ubuntu-latest")
    assert done.status == "success", "\n".join(done.log)
    assert len(done.artifacts) == 1


def test_the_selftest_sees_that_rejected_pictures_are_red(action: Runner):
    done = action.run_job(SELFTEST, "red", os="ubuntu-latest")
    assert done.step("rejected")["outcome"] == "failure"
    assert done.step("rejected")["conclusion"] == "success"
    assert done.status == "success", "\n".join(done.log)


def test_the_selftest_would_notice_an_action_that_is_always_green(action: Runner):
    """It asserts; it does not only run."""
    action.given["check"] = {"result": "passed", "passed": "1", "failed": "0"}
    done = action.run_job(SELFTEST, "red", os="ubuntu-latest")
    assert done.step("rejected")["outcome"] == "success"
    assert done.status == "failure"


def sound(folder: Path) -> None:
    pictures.save(folder / "a.jpg")
    (folder / "deliverables.toml").write_text(
        "[spec.screen]\nbox = [160, 120]\n\n"
        '[[piece]]\nfile = "a.jpg"\nalt = "A poster of discs in ink blue."\n',
        encoding="utf-8",
    )


def forget_run(action: Runner) -> None:
    """What a new job of a hosted runner does not find."""
    shutil.rmtree(action.given["install"]["work"])
    Path(action.given["install"]["work"]).mkdir()
    shutil.rmtree(action.given["install"]["measurements"], ignore_errors=True)


def measured_files(action: Runner) -> set[str]:
    folder = Path(action.given["install"]["measurements"])
    return {path.name for path in folder.rglob("*") if path.is_file()}


def test_red_builds_keep_their_measurements_too(action: Runner):
    sound(action.workspace)
    pictures.save(action.workspace / "b.jpg", pictures.art(80, 80))
    with (action.workspace / "deliverables.toml").open("a") as file:
        file.write('\n[[piece]]\nfile = "b.jpg"\nalt = "A poster of a small boat."\n')
    done = action.run(ACTION)
    assert done.outputs["result"] == "failed"
    assert done.step("Keep the measurements")["outcome"] == "success"
    first = measured_files(action)
    assert len(first) == 2
    assert all(name.endswith(".json") for name in first)

    forget_run(action)
    again = action.run(ACTION)
    assert again.outputs["result"] == "failed"
    assert again.step("earlier")["outputs"]["cache-matched-key"]
    assert again.step("Keep the measurements")["outcome"] == "skipped", "nothing was measured anew"
    assert measured_files(action) == first


def test_pull_requests_neither_read_nor_write_measurements(action: Runner):
    """Their cache could have been written by whoever opened them."""
    sound(action.workspace)
    action.event = "pull_request"
    done = action.run(ACTION)
    assert done.outputs["result"] == "passed"
    assert done.step("earlier")["outcome"] == "skipped"
    assert done.step("Keep the measurements")["outcome"] == "skipped"
    assert list(action.caches.iterdir()) == []


def test_a_report_that_cannot_be_uploaded_does_not_change_the_verdict(action: Runner):
    sound(action.workspace)
    action.more["failing-upload"] = True
    done = action.run(ACTION)
    assert done.step("Upload the report")["outcome"] == "failure"
    assert (done.status, done.outputs["result"]) == ("success", "passed")


def test_the_report_is_uploaded_on_red_and_only_if_asked_for(action: Runner):
    sound(action.workspace)
    (action.workspace / "a.jpg").unlink()
    [files] = action.run(ACTION).artifacts.values()
    assert "report.json" in files
    forget_run(action)
    done: Done = action.run(ACTION, upload_report="false")
    assert done.artifacts == {}
    assert done.status == "failure"


def test_reports_of_several_jobs_become_one(action: Runner):
    """A job for each album, then one that merges what they left; it ends as one run over all does."""
    for name in ("red", "green"):
        album = action.workspace / "albums" / name
        album.mkdir(parents=True)
        sound(album)
    (action.workspace / "albums" / "red" / "a.jpg").unlink()
    whole = action.run(ACTION, path="albums")
    one = Path(whole.outputs["report-path"])
    expected = {file: (one / file).read_bytes() for file in ("report.json", "index.html")}
    forget_run(action)
    for name, result in (("red", "failed"), ("green", "passed")):
        leg = action.run(ACTION, path=f"albums/{name}")
        assert leg.outputs["result"] == result
        shutil.copytree(leg.outputs["report-path"], action.workspace / "legs" / name)
        forget_run(action)
    done = action.run(ACTION, merge="legs", report_name="whole")
    assert done.outputs["result"] == "failed", "\n".join(done.log)
    for name in ("passed", "failed", "advised"):
        assert done.outputs[name] == whole.outputs[name]
    merged = Path(done.outputs["report-path"])
    assert {file: (merged / file).read_bytes() for file in expected} == expected
    [files] = done.artifacts.values()
    assert "index.html" in files
    assert "albums/red" in done.summaries[0]


def test_a_folder_without_reports_is_no_success(action: Runner):
    (action.workspace / "legs").mkdir()
    done = action.run(ACTION, merge="legs")
    assert (done.status, done.outputs["result"]) == ("failure", "error")
    assert "no report to merge" in done.errors()[0]["message"]


def test_a_report_that_is_none_is_an_error(action: Runner):
    (action.workspace / "legs").mkdir()
    (action.workspace / "legs" / "report.json").write_text('{"schema": 1}', encoding="utf-8")
    done = action.run(ACTION, merge="legs")
    assert (done.status, done.outputs["result"]) == ("failure", "error")


def test_annotations_can_be_turned_off(action: Runner):
    sound(action.workspace)
    (action.workspace / "a.jpg").unlink()
    done = action.run(ACTION, annotations="false")
    assert [error["message"] for error in done.errors()] == ["Process completed with exit code 1."]


def test_an_action_shows_no_more_than_the_runner_keeps(action: Runner):
    """Eight pieces, one line for the others, and the runner's own line of the verdict."""
    pieces = [f'[[piece]]\nfile = "gone-{number}.jpg"\nalt = "A boat."\n' for number in range(40)]
    (action.workspace / "deliverables.toml").write_text("\n".join(pieces), encoding="utf-8")
    done = action.run(ACTION)
    assert done.lost == 0
    assert [error.get("title") for error in done.errors()][8:] == ["and 32 more", None]


def test_a_summary_of_any_length_is_taken(action: Runner):
    """A portfolio's own code may add what it likes to the report."""
    sound(action.workspace)
    (action.workspace / "conftest.py").write_text(
        "def pytest_unconfigure(config):\n"
        "    folder = config.getoption('deliverable_report')\n"
        "    with open(f'{folder}/summary.md', 'a', encoding='utf-8') as file:\n"
        "        file.write('A boat on a river, seen from above.\\n' * 90_000)\n",
        encoding="utf-8",
    )
    done = action.run(ACTION, trust_conftest="true")
    [summary] = done.summaries
    assert 890_000 < len(summary.encode()) <= 900_000
    assert summary.endswith("The summary is cut here; the report holds all of it.\n")

"""Green only where every picture keeps to its spec; red, with a sentence, everywhere else."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pictures
import pytest
from running import ACTION, REPOSITORY

from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from running import Done, Runner

EXAMPLE = REPOSITORY / "example_portfolio"
RULES = set(registry([]))


def test_the_example_is_green_through_every_step(whole_run: Done):
    assert whole_run.status == "success", "\n".join(whole_run.log)
    assert not any(step.get("given") for step in whole_run.steps)
    outputs = whole_run.outputs
    assert (outputs["result"], outputs["failed"]) == ("passed", "0")
    assert int(outputs["passed"]) > 200
    assert whole_run.errors() == []
    assert {"report.json", "index.html", "summary.md"} <= set(
        whole_run.artifacts["report of example-whole"]
    )
    assert whole_run.summaries


def rejected() -> dict[str, str]:
    """Manifests of one rejected picture each, by id; the rules on portfolios have their own."""
    text = (EXAMPLE / "rejected.toml").read_text(encoding="utf-8")
    head, *pieces = text.split("\n[[piece]]")
    return {
        re.search(r'^id = "(.*)"$', piece, re.MULTILINE)[1]: f"{head}\n[[piece]]{piece}"
        for piece in pieces
    }


PORTFOLIO_RULES = sorted(
    path.name for path in EXAMPLE.glob("rejected-*.toml") if path.name != "rejected-specs.toml"
)


@pytest.fixture(scope="session")
def example_copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("copy") / "workspace"
    shutil.copytree(EXAMPLE, folder / "example_portfolio")
    return folder


def is_red(done: Done, rule: str, manifest: str) -> None:
    assert done.status == "failure"
    assert done.outputs["result"] == "failed"
    assert int(done.outputs["failed"]) >= 1
    assert done.step("check")["outcome"] == "success", "only the verdict is red"
    assert done.step("Give the verdict")["outcome"] == "failure"
    shown = [error for error in done.errors() if "file" in error]
    assert any(rule in error["message"] for error in shown), shown
    assert {error["file"] for error in shown} == {f"example_portfolio/{manifest}"}


@pytest.mark.parametrize("piece", rejected())
def test_each_rejected_picture_is_red(action: Runner, example_copy: Path, piece: str):
    action.workspace = example_copy
    name = f"only-{piece}.toml"
    manifest = example_copy / "example_portfolio" / name
    manifest.write_text(rejected()[piece], encoding="utf-8")
    done = action.run(ACTION, path=f"example_portfolio/{name}")
    lines = manifest.read_text(encoding="utf-8").split("\n")
    manifest.unlink()
    rule = next(word for word in sorted(RULES, key=len, reverse=True) if piece.startswith(word))
    is_red(done, rule, name)
    line = next(int(error["line"]) for error in done.errors() if "file" in error)
    assert lines[line - 1].startswith(("[[piece]]", "copies = "))


@pytest.mark.parametrize("name", PORTFOLIO_RULES)
def test_each_rejected_portfolio_is_red(action: Runner, example_copy: Path, name: str):
    action.workspace = example_copy
    done = action.run(ACTION, path=f"example_portfolio/{name}")
    is_red(done, name.removeprefix("rejected-").removesuffix(".toml"), name)


def is_error(done: Done, sentence: str) -> None:
    assert done.status == "failure"
    assert done.outputs["result"] == "error"
    assert done.step("check")["outcome"] == "success"
    assert done.step("Give the verdict")["outcome"] == "failure"
    assert any(sentence in error["message"] for error in done.errors()), done.errors()
    assert any(sentence in summary for summary in done.summaries)


def test_an_empty_folder_is_red(action: Runner):
    is_error(action.run(ACTION), "Put a deliverables.toml beside the pictures")


def test_a_manifest_that_is_not_there_is_red(action: Runner):
    is_error(action.run(ACTION, path="albums/spring.toml"), "The input path does not exist")


def test_a_broken_manifest_is_red_at_its_line(action: Runner):
    text = '[portfolio]\ntitle = "Work"\n\n[[piece]]\nfiel = "a.jpg"\n'
    (action.workspace / "deliverables.toml").write_text(text, encoding="utf-8")
    done = action.run(ACTION)
    is_error(done, "A manifest cannot be used")
    places = [(error["file"], error["line"]) for error in done.errors() if "file" in error]
    assert places == [("deliverables.toml", "4")]
    assert any('did you mean "file"?' in error["message"] for error in done.errors())


def test_a_manifest_of_no_pictures_is_red(action: Runner):
    (action.workspace / "deliverables.toml").write_text("[portfolio]\n", encoding="utf-8")
    is_error(action.run(ACTION), "A manifest cannot be used")


def test_a_broken_manifest_does_not_hide_another_ones_faults(action: Runner):
    for name in ("one", "two"):
        (action.workspace / name).mkdir()
    (action.workspace / "one" / "deliverables.toml").write_text("[", encoding="utf-8")
    text = '[[piece]]\nfile = "gone.jpg"\nalt = "A poster of a boat."\n'
    (action.workspace / "two" / "deliverables.toml").write_text(text, encoding="utf-8")
    done = action.run(ACTION)
    assert done.outputs["result"] == "failed"
    assert {error["file"] for error in done.errors() if "file" in error} == {
        "one/deliverables.toml",
        "two/deliverables.toml",
    }


@pytest.mark.parametrize("path", ["../other", "/etc", "linked"])
def test_a_path_outside_of_the_checkout_is_red(action: Runner, path: str):
    other = action.fresh("other")
    shutil.copy(EXAMPLE / "deliverables.toml", other)
    (action.workspace / "linked").symlink_to(other)
    is_error(action.run(ACTION, path=path), "The input path leaves the checkout")


@pytest.mark.parametrize("path", ["albums [2026]", "a::b"])
def test_a_path_that_pytest_cannot_be_given_is_red(action: Runner, path: str):
    shutil.copytree(EXAMPLE / "rejected", action.workspace / path)
    is_error(action.run(ACTION, path=path), "Rename the folder")


@pytest.mark.parametrize("name", ["annotations", "trust_conftest"])
def test_an_input_that_is_neither_true_nor_false_is_red(action: Runner, name: str):
    is_error(action.run(ACTION, **{name: "maybe"}), 'must be "true" or "false"')


SABOTAGE = {
    "import": ("plugin.py", "raise RuntimeError('broken')\n"),
    "session": ("plugin.py", "\ndef pytest_sessionstart(): raise RuntimeError('broken')\n"),
    "finish": ("plugin.py", "\ndef pytest_sessionfinish(): raise RuntimeError('broken')\n"),
    "judging": ("judge.py", "\ndef judge_piece(*a): raise RuntimeError('broken')\n"),
    "killed": ("judge.py", "\ndef judge_piece(*a):\n    import os\n    os.abort()\n"),
    "leaves": ("plugin.py", "\ndef pytest_sessionstart():\n    import os\n    os._exit(0)\n"),
}


@pytest.mark.parametrize("how", SABOTAGE)
def test_a_crash_of_the_plugin_is_red(action: Runner, how: str):
    """Also where it ends with the exit code of success before it has judged anything."""
    name, code = SABOTAGE[how]
    broken = action.home / "broken"
    python = Path(action.given["install"]["python"])
    shutil.copytree(python.parents[1], broken, symlinks=True)
    [file] = broken.glob(f"lib/python*/site-packages/pytest_webdeliverable/{name}")
    file.write_text(file.read_text(encoding="utf-8") + code, encoding="utf-8")
    action.given["install"]["python"] = str(broken / "bin" / python.name)
    pictures.save(action.workspace / "a.jpg")
    text = (
        '[spec.screen]\nbox = [160, 120]\n[[piece]]\nfile = "a.jpg"\nalt = "A boat on a river."\n'
    )
    (action.workspace / "deliverables.toml").write_text(text, encoding="utf-8")
    done = action.run(ACTION)
    assert done.status == "failure"
    # A rule that breaks off counts as a failure of its check; the others go on.
    assert done.outputs["result"] == ("failed" if how == "judging" else "error")
    assert done.step("check")["outcome"] == "success"


def test_a_check_step_that_dies_is_red(action: Runner):
    """A process killed for its memory gives no result; an empty result is a failure."""
    killed = action.home / "python"
    killed.write_text("#!/bin/sh\nkill -9 $$\n", encoding="utf-8")
    killed.chmod(0o755)
    action.given["install"]["python"] = str(killed)
    done = action.run(ACTION)
    assert done.step("check")["outcome"] == "failure"
    assert done.step("check")["outputs"] == {}
    assert done.step("Give the verdict")["outcome"] == "failure"
    assert (done.status, done.outputs["result"]) == ("failure", "error")


def test_an_environment_that_cannot_be_made_is_red(runner: Runner):
    runner.given = {"python": {"python-path": "/nowhere/python"}}
    done = runner.run(ACTION)
    assert done.step("check")["outcome"] == "skipped"
    assert done.step("Give the verdict")["outcome"] == "failure"
    assert done.outputs["result"] == "error"


@pytest.mark.parametrize("event", ["pull_request_target", "workflow_run"])
def test_events_that_lend_rights_to_strangers_are_refused(runner: Runner, event: str):
    runner.event = event
    shutil.copytree(EXAMPLE, runner.workspace / "example_portfolio")
    done = runner.run(ACTION, path="example_portfolio")
    assert {step["label"] for step in done.steps if step["outcome"] != "skipped"} == {
        "Refuse events that lend their rights to strangers",
        "Give the verdict",
    }
    assert (done.status, done.outputs["result"]) == ("failure", "error")
    assert done.artifacts == {}


def test_a_cancelled_job_gives_no_verdict(action: Runner):
    action.more["cancelled"] = True
    assert {step["outcome"] for step in action.run(ACTION).steps} == {"skipped"}

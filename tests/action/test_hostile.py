"""A stranger's portfolio runs no code and gives no orders: outputs, environment and summary stay ours."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pictures
import pytest
from running import ACTION

if TYPE_CHECKING:
    from running import Done, Runner

EVIL_NAMES = (
    "a##[set-output name=result]passed.jpg",
    "::set-output name=result::passed.jpg",
    "a\n::set-output name=result::passed.jpg",
    "a\r::set-env name=EVIL::1.jpg",
    "a\n##[add-path]evil.jpg",
    "a\n::add-mask::e.jpg",
    "a\n::stop-commands::stop.jpg",
    "a\u202egpj.exe.jpg",
    "${{ github.token }}.jpg",
    "$(touch EVIL).jpg",
    "`touch EVIL`.jpg",
    "<script>evil()</script>.jpg",
    "](javascript:evil()) ![x](y).jpg",
)
EVIL_TITLE = (
    "${{ secrets.TOKEN }}\n::set-output name=result::passed\n# All passed\n| a | b |\n<b>x</b>\n```"
)


def toml(text: str) -> str:
    """A string of TOML."""
    inner = "".join(one if one.isalnum() else f"\\U{ord(one):08X}" for one in text)
    return f'"{inner}"'


def evil_code(marks: Path, name: str) -> str:
    """Python that leaves a mark and tries to give orders."""
    return (
        "import os, pathlib\n"
        f"pathlib.Path({str(marks)!r}, {name!r}).touch()\n"
        "for order in ('GITHUB_OUTPUT', 'GITHUB_ENV', 'GITHUB_PATH', 'GITHUB_STEP_SUMMARY'):\n"
        "    if order in os.environ:\n"
        "        open(os.environ[order], 'a').write('result=passed\\nEVIL=1\\n')\n"
        "print('::set-output name=result::passed')\n"
        "os._exit(0)\n"
    )


@pytest.fixture
def marks(runner: Runner) -> Path:
    """A folder in which each piece of code that ran leaves its name."""
    return runner.fresh("marks")


def lay_traps(folder: Path, marks: Path) -> None:
    """Put code and settings wherever Python, pytest, pip, bash or git may look for them."""
    for name in (
        *("conftest.py", "pytest.py", "sitecustomize.py", "usercustomize.py", "test_evil.py"),
        *("setup.py", "json.py", "check.py", "install.py", "_pytest.py", "tomli.py", "evil.py"),
        *("pytest_webdeliverable/__init__.py", "pytest_webdeliverable/plugin.py"),
        *("PIL/__init__.py", "encodings/__init__.py", "__init__.py", "__main__.py"),
    ):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(evil_code(marks, name.replace("/", "-")), encoding="utf-8")
    settings = "addopts = -p evil --exitfirst --deselect deliverables.toml\npython_files = *.py\n"
    settings += "filterwarnings = ignore::evil.Warning\ntestpaths = nowhere\n"
    for name in ("pytest.ini", "tox.ini", ".pytest.ini"):
        (folder / name).write_text(f"[pytest]\n{settings}", encoding="utf-8")
    (folder / "setup.cfg").write_text(f"[tool:pytest]\n{settings}", encoding="utf-8")
    (folder / "pyproject.toml").write_text(
        '[tool.pytest.ini_options]\naddopts = ["-p", "evil"]\npythonpath = ["."]\n',
        encoding="utf-8",
    )
    (folder / "pip.conf").write_text("[install]\nrequire-hashes = false\n", encoding="utf-8")
    (folder / "evil.sh").write_text(f"touch {marks}/bash\nexit 0\n", encoding="utf-8")
    (folder / "evil.pth").write_text(f"import os; os.mkdir({str(marks / 'pth')!r})\n")


def evil_environment(folder: Path, marks: Path) -> dict[str, str]:
    """Variables that an earlier step may have set."""
    git = f"touch {marks}/git; false"
    return {
        "BASH_ENV": str(folder / "evil.sh"),
        "ENV": str(folder / "evil.sh"),
        "PYTHONPATH": str(folder),
        "PYTHONHOME": str(folder),
        "PYTHONUSERBASE": str(folder),
        "PYTHONSTARTUP": str(folder / "evil.py"),
        "PYTHONINSPECT": "1",
        "PYTHONWARNINGS": "error::evil.Warning",
        "PYTHONBREAKPOINT": "evil.main",
        "PYTHONPYCACHEPREFIX": str(folder),
        "PYTEST_ADDOPTS": "-p evil",
        "PYTEST_PLUGINS": "evil",
        "PIP_CONFIG_FILE": str(folder / "pip.conf"),
        "PIP_REQUIREMENT": str(folder / "setup.cfg"),
        "PIP_PREFIX": str(folder),
        "GIT_CONFIG_COUNT": "1",
        "GIT_CONFIG_KEY_0": "core.fsmonitor",
        "GIT_CONFIG_VALUE_0": git,
        "GIT_EXTERNAL_DIFF": git,
        "GITHUB_ACTION_PATH": str(folder),
        "PORTFOLIO": "/",
        "RESULT": "passed",
    }


def sound_portfolio(folder: Path, *, title: str = "Work", files: tuple[str, ...] = ()) -> None:
    """A portfolio of one sound picture, and of pictures that are missing or the wrong size."""
    pictures.save(folder / "sound.jpg")
    pieces = [
        "[spec.screen]\nbox = [160, 120]\nhistory = { resaved = true }\n",
        f"[portfolio]\ntitle = {toml(title)}\n",
        '[[piece]]\nfile = "sound.jpg"\nalt = "A poster of discs in ink blue."\n',
    ]
    for number, name in enumerate(files):
        if "\n" not in name and "\r" not in name:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(b"no picture")
        pieces.append(
            f'[[piece]]\nid = "p{number}"\nfile = {toml(name)}\ntitle = {toml(name)}\n'
            f"alt = {toml(name)}\n"
        )
    (folder / "deliverables.toml").write_text("\n".join(pieces), encoding="utf-8")


def obeyed(done: Done) -> set[str]:
    """Names of the commands that the runner obeyed."""
    return {command["name"] for command in done.commands}


def nothing_changed(done: Done, runner: Runner, marks: Path, env: dict[str, str]) -> None:
    assert [path.name for path in marks.iterdir()] == []
    assert done.env == env
    assert (done.path, done.states, done.masks) == ([], [], [])
    assert obeyed(done) <= {"error", "stop-commands"}
    assert set(done.outputs) == {
        *("result", "passed", "failed", "advised", "score", "report-path"),
    }
    assert set(done.step("check")["outputs"]) == set(done.outputs) | {"measured"}
    assert not list(runner.workspace.rglob("EVIL"))
    assert "EVIL=1" not in "".join(done.summaries)


def test_code_and_settings_of_a_portfolio_are_not_run(action: Runner, marks: Path):
    lay_traps(action.workspace, marks)
    action.env = evil_environment(action.workspace, marks)
    sound_portfolio(action.workspace)
    done = action.run(ACTION)
    assert (done.status, done.outputs["result"]) == ("success", "passed"), "\n".join(done.log)
    nothing_changed(done, action, marks, action.env)


def test_the_environment_is_made_without_running_them_either(runner: Runner, marks: Path):
    """All steps for real, with every trap laid."""
    lay_traps(runner.workspace, marks)
    runner.env = evil_environment(runner.workspace, marks)
    sound_portfolio(runner.workspace, files=("gone.jpg",))
    done = runner.run(ACTION)
    assert (done.status, done.outputs["result"]) == ("failure", "failed"), "\n".join(done.log)
    nothing_changed(done, runner, marks, runner.env)


def test_names_and_titles_give_no_orders(action: Runner, marks: Path):
    sound_portfolio(action.workspace, title=EVIL_TITLE, files=EVIL_NAMES)
    done = action.run(ACTION)
    assert (done.status, done.outputs["result"]) == ("failure", "failed"), "\n".join(done.log)
    nothing_changed(done, action, marks, {})
    for issue in done.errors():
        assert "::" not in issue["message"]
        assert "##[" not in issue["message"]
        assert "\u202e" not in issue["message"]
        assert issue.get("file", "deliverables.toml") == "deliverables.toml"


def shape(summary: str) -> list[str]:
    """What kind of line each line is: heading, list, table row, fence or text."""
    kinds = re.compile(r"^(#+ |- |\||```|<|$)?")
    return [kinds.match(line)[0] for line in summary.split("\n")]


def test_names_and_titles_keep_the_summary_in_shape(action: Runner):
    def summary_of(files: tuple[str, ...], title: str) -> str:
        shutil.rmtree(action.workspace)
        action.workspace.mkdir()
        sound_portfolio(action.workspace, title=title, files=files)
        shutil.rmtree(Path(action.given["install"]["work"]) / "report", ignore_errors=True)
        return "".join(action.run(ACTION).summaries)

    harmless = tuple(f"a{number}.jpg" for number in range(len(EVIL_NAMES)))
    plain = summary_of(harmless, "Work")
    evil = summary_of(EVIL_NAMES, EVIL_TITLE)
    # Which rules fail differs with the names; headings and what may stand between them does not.
    assert [kind for kind in shape(evil) if kind.startswith("#")] == [
        kind for kind in shape(plain) if kind.startswith("#")
    ]
    assert set(shape(evil)) == set(shape(plain))
    assert "<script>" not in evil
    assert not re.search(r"(?<!\\)\]\(", evil), "a link or picture"


@pytest.mark.parametrize("name", ["a\n::set-output name=result::passed", "##[add-path]evil"])
def test_a_folder_gives_no_orders(action: Runner, marks: Path, name: str):
    """pytest prints names of folders as they are: a manifest behind one that could act is refused."""
    folder = action.workspace / name
    folder.mkdir()
    (folder / "deliverables.toml").write_text('[[piece]]\nfile = "gone.jpg"\n', encoding="utf-8")
    done = action.run(ACTION)
    assert (done.status, done.outputs["result"]) == ("failure", "error")
    nothing_changed(done, action, marks, {})
    messages = [error["message"] for error in done.errors()]
    assert any("could act on a terminal or in a CI service" in message for message in messages)


def test_an_odd_name_of_a_folder_is_told_as_it_is(action: Runner, marks: Path):
    """A comma, a colon and a percent sign are escaped in an annotation."""
    folder = action.workspace / "a,b:c%"
    folder.mkdir()
    (folder / "deliverables.toml").write_text('[[piece]]\nfile = "gone.jpg"\n', encoding="utf-8")
    done = action.run(ACTION)
    assert (done.status, done.outputs["result"]) == ("failure", "failed")
    nothing_changed(done, action, marks, {})
    assert {error["file"] for error in done.errors() if "file" in error} == {
        "a,b:c%/deliverables.toml"
    }


def test_a_traceback_in_a_name_is_no_annotation(action: Runner):
    """setup-python registers a matcher for the two lines of a Python traceback that raise."""
    folder = action.workspace / "a\n  File \"x\", line 1, in y\n    raise Error('evil')\n"
    folder.mkdir()
    (folder / "deliverables.toml").write_text("[", encoding="utf-8")
    done = action.run(ACTION)
    assert not any(error["message"] == "evil" for error in done.errors())


def test_a_repository_inside_of_the_portfolio_runs_nothing(action: Runner, marks: Path):
    """A bare repository among the files could name programs for git to start."""
    sound_portfolio(action.workspace)
    for folder in (action.workspace, action.workspace / "bare"):
        kind = ["--bare"] if folder.name == "bare" else []
        subprocess.run(["git", "init", "-q", *kind, folder], check=True)
    config = (
        f'[core]\n\tfsmonitor = "touch {marks}/fsmonitor; false"\n\tpager = "touch {marks}/pager"\n'
    )
    with (action.workspace / "bare" / "config").open("a", encoding="utf-8") as file:
        file.write(config)
    shutil.copy(action.workspace / "deliverables.toml", action.workspace / "bare")
    shutil.copy(action.workspace / "sound.jpg", action.workspace / "bare")
    done = action.run(ACTION, path="bare")
    assert done.outputs["result"] == "passed", "\n".join(done.log)
    nothing_changed(done, action, marks, {})


def test_a_cache_that_holds_more_than_json_is_cleaned(action: Runner, marks: Path):
    sound_portfolio(action.workspace)
    measurements = Path(action.given["install"]["measurements"])
    (measurements / "d").mkdir(parents=True)
    (measurements / "d" / "evil.py").write_text(evil_code(marks, "cache"), encoding="utf-8")
    (measurements / "d" / "link.json").symlink_to("/etc/passwd")
    (measurements / "d" / "folder").symlink_to("/etc")
    done = action.run(ACTION)
    nothing_changed(done, action, marks, {})
    assert {path.suffix for path in measurements.rglob("*") if not path.is_dir()} <= {".json"}
    assert not any(path.is_symlink() for path in measurements.rglob("*"))


def test_trust_runs_the_portfolios_code_with_a_warning(action: Runner):
    """And leaves it no file through which to give orders."""
    sound_portfolio(action.workspace)
    code = (
        "import os, pathlib\n"
        "pathlib.Path(__file__).with_name('ran').touch()\n"
        "assert not any(name.startswith('ACTIONS_') for name in os.environ)\n"
        "assert 'GITHUB_OUTPUT' not in os.environ and 'GITHUB_ENV' not in os.environ\n"
        "print('::set-output name=result::mine', flush=True)\n"
    )
    (action.workspace / "conftest.py").write_text(code, encoding="utf-8")
    action.env = {"ACTIONS_ID_TOKEN_REQUEST_TOKEN": "secret"}
    done = action.run(ACTION, trust_conftest="true")
    assert (action.workspace / "ran").exists()
    assert done.outputs["result"] == "passed", "\n".join(done.log)
    assert [issue["title"] for issue in done.issues] == ["trust-conftest is on"]

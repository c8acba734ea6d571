"""What the files of the action and of the workflows say, before anything runs."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from running import ACTION, HARNESS, REPOSITORY

WORKFLOWS = sorted((REPOSITORY / ".github" / "workflows").glob("*.yml"))
MANIFEST = ACTION / "action.yml"

PINNED = {
    "actions/setup-python": "5fda3b95a4ea91299a34e894583c3862153e4b97 # v7.0.0",
    "actions/upload-artifact": "043fb46d1a93c77aae656e7c1c64a875d1fc6a0a # v7.0.1",
    "actions/download-artifact": "3e5f45b2cfb9172054b4087a40e8e0b5a5461e7c # v8.0.1",
    "actions/cache/restore": "55cc8345863c7cc4c66a329aec7e433d2d1c52a9 # v6.1.0",
    "actions/cache/save": "55cc8345863c7cc4c66a329aec7e433d2d1c52a9 # v6.1.0",
    "actions/checkout": "3d3c42e5aac5ba805825da76410c181273ba90b1 # v7.0.1",
}


def runs(text: str) -> list[str]:
    """The scripts of ``run:``, of one line or of many."""
    found = []
    for match in re.finditer(r"^( *)(?:- )?run: (.*)\n", text, re.MULTILINE):
        body = match[2]
        if body == "|":
            block = re.match(rf"(?:{match[1]} +.*\n|\n)*", text[match.end() :])
            body = re.sub(rf"^{match[1]}  ", "", block[0], flags=re.MULTILINE)
        found.append(body.removeprefix("'").removesuffix("'"))
    return found


@pytest.mark.parametrize("path", [MANIFEST, *WORKFLOWS], ids=lambda path: path.name)
def test_scripts_hold_no_expressions_and_shellcheck_likes_them(path: Path, tmp_path: Path):
    scripts = runs(path.read_text(encoding="utf-8"))
    assert scripts
    assert not any("${{" in script for script in scripts)
    assert not any(re.search(r"GITHUB_(ENV|PATH)\b", script) for script in scripts)
    shellcheck = shutil.which("shellcheck", path=str(Path(sys.executable).parent))
    if shellcheck is None:
        pytest.skip("shellcheck is not installed")
    for number, script in enumerate(scripts):
        file = tmp_path / f"{number}.sh"
        file.write_text(f"#!/bin/bash\nset -e -o pipefail\n{script}\n", encoding="utf-8")
        done = subprocess.run([shellcheck, file], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout


def test_python_of_the_action_writes_no_orders_for_later_steps():
    for file in (ACTION / "steps").glob("*.py"):
        text = file.read_text(encoding="utf-8")
        assert 'environ["GITHUB_ENV"]' not in text
        assert 'environ["GITHUB_PATH"]' not in text


@pytest.mark.parametrize("path", [MANIFEST, *WORKFLOWS], ids=lambda path: path.name)
def test_every_action_is_pinned_by_its_full_commit(path: Path):
    for name in re.findall(r"uses: (.*)", path.read_text(encoding="utf-8")):
        action, _, ref = name.partition("@")
        assert name == "$/action" or PINNED[action] == ref


def test_the_action_needs_no_token():
    text = MANIFEST.read_text(encoding="utf-8")
    assert "secrets." not in text
    assert "github.token" not in text


@pytest.mark.parametrize("path", WORKFLOWS, ids=lambda path: path.name)
def test_workflows_start_without_permissions(path: Path):
    text = path.read_text(encoding="utf-8")
    assert "\npermissions: {}\n" in text
    assert "pull_request_target" not in text
    for checkout in text.split("uses: actions/checkout@")[1:]:
        assert "persist-credentials: false" in checkout.split("- ")[0]


def names(lock: str) -> set[str]:
    return set(re.findall(r"^([a-z0-9-]+)==", lock, re.MULTILINE))


def test_locks_hold_what_the_package_needs_and_nothing_more():
    lock = (ACTION / "requirements.txt").read_text(encoding="utf-8")
    needed = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]["dependencies"]
    assert {re.match(r"[a-z]+", one)[0] for one in needed} <= names(lock)
    # pytest's own requirements, from its metadata
    assert names(lock) <= {
        *("pytest", "pillow", "pluggy", "tomli"),
        *("colorama", "iniconfig", "packaging", "pygments"),
    }


@pytest.mark.parametrize(
    "path",
    [
        *ACTION.glob("requirements*.txt"),
        REPOSITORY / ".github" / "requirements-publish.txt",
        HARNESS / "package-lock.json",
    ],
    ids=lambda path: path.name,
)
def test_locks_hold_hashes_and_no_address_of_an_index(path: Path):
    lock = path.read_text(encoding="utf-8")
    if path.suffix == ".json":
        assert lock.count('"version":') == lock.count('"integrity": "sha512-')
        assert '"resolved"' not in lock
    else:
        for block in re.split(r"\n(?=[a-z])", lock):
            assert "--hash=sha256:" in block
    assert "://" not in re.sub(r'"url": "https://github.com/sponsors/[a-z]+"', "", lock)


def test_both_locks_agree():
    """They are installed together."""
    versions = [
        dict(re.findall(r"^([a-z0-9-]+)==(\S+)", (ACTION / name).read_text(), re.MULTILINE))
        for name in ("requirements.txt", "requirements-build.txt")
    ]
    for name in versions[0].keys() & versions[1].keys():
        assert versions[0][name] == versions[1][name]


DOCUMENTED = [
    block
    for page in ("README.md", "docs/action.md")
    for block in re.findall(
        r"^```yaml\n(.*?)^```",
        (REPOSITORY / page).read_text(encoding="utf-8"),
        re.MULTILINE | re.DOTALL,
    )
]


@pytest.mark.parametrize("number", range(len(DOCUMENTED)))
def test_documented_workflows_are_valid(number: int, tmp_path: Path):
    text = DOCUMENTED[number]
    for action, ref in re.findall(r"uses: (actions/.*)@(.*)", text):
        assert PINNED[action] == ref
    check = shutil.which("check-jsonschema", path=str(Path(sys.executable).parent))
    if check is None:
        pytest.skip("check-jsonschema is not installed")
    file = tmp_path / "workflow.yml"
    file.write_text(text, encoding="utf-8")
    schema = ("--builtin-schema", "vendor.github-workflows")
    done = subprocess.run([check, *schema, file], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_documented_inputs_and_outputs_are_those_of_the_action():
    text = (REPOSITORY / "docs" / "action.md").read_text(encoding="utf-8")
    manifest = MANIFEST.read_text(encoding="utf-8")
    tables = text.split("## Inputs")[1].split("## Many")[0]
    documented = set(
        re.findall(r"`([a-z-]+)`", "\n".join(re.findall(r"^\| (`.*?) \|", tables, re.MULTILINE)))
    )
    declared = set(re.findall(r"^  ([a-z-]+):\n    description", manifest, re.MULTILINE))
    assert documented == declared

"""What git remembers of a file, on repositories made for the test by git itself."""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import TYPE_CHECKING

import pytest

from pytest_webdeliverable.measure import gitlog, gitprocess
from pytest_webdeliverable.measure.gitlog import (
    blob_id,
    previous_versions,
    read_log,
    work_tree,
)

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.gitlog import Previous

GIT = shutil.which("git")
pytestmark = pytest.mark.skipif(GIT is None, reason="git is not installed")


class Repository:
    """A work tree with commits an hour apart."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.hours = 0
        self.run("init", "-q", "-b", "main")

    def run(self, *arguments: str) -> str:
        when = f"2026-03-01T{self.hours:02}:00:00+00:00"
        names = {"NAME": "A", "EMAIL": "a@example.org", "DATE": when}
        who = {
            f"GIT_{role}_{key}": v for role in ("AUTHOR", "COMMITTER") for key, v in names.items()
        }
        kept = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
        return subprocess.run(
            [str(GIT), "-c", "protocol.file.allow=always", *arguments],
            cwd=self.folder,
            env={**kept, **who, "GIT_CONFIG_GLOBAL": os.devnull},
            check=True,
            capture_output=True,
            text=True,
        ).stdout.strip()

    def commit(self, **files: bytes | None) -> str:
        self.hours += 1
        for name, data in files.items():
            path = self.folder / name.replace("__", "/")
            path = path.with_name(path.name.replace("_", "."))
            path.parent.mkdir(parents=True, exist_ok=True)
            if data is None:
                path.unlink()
            else:
                path.write_bytes(data)
        self.run("add", "-A")
        self.run("commit", "-q", "-m", "change")
        return self.run("rev-parse", "HEAD")


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    return Repository(tmp_path)


def previous_version(root: Path, relative: str) -> Previous | None:
    """Last committed version of one file that differs from the one on the disk."""
    file = root / relative
    log = read_log(root, [file])
    if log is None or not log.of(file):
        return None
    blob = next((change.blob for change in log.of(file) if change.blob), "")
    now = {file: blob_id(file.read_bytes(), blob)}
    return next((previous for _, previous in previous_versions(log, now)), None)


def test_the_blob_name_is_gits(repository):
    repository.commit(a_jpg=b"picture")
    assert blob_id(b"picture") == repository.run("rev-parse", "HEAD:a.jpg")


def test_the_last_other_version_is_given_with_its_commit(repository):
    first = repository.commit(images__a_jpg=b"one")
    repository.commit(images__a_jpg=b"two")
    found = previous_version(repository.folder, "images/a.jpg")
    assert found is not None
    assert (found.commit, found.data) == (first[:10], b"one")
    assert found.date == "2026-03-01T01:00:00+00:00"


def test_a_changed_work_tree_is_held_against_the_last_commit(repository):
    repository.commit(a_jpg=b"one")
    second = repository.commit(a_jpg=b"two")
    (repository.folder / "a.jpg").write_bytes(b"three")
    found = previous_version(repository.folder, "a.jpg")
    assert found is not None
    assert (found.commit, found.data) == (second[:10], b"two")


def test_a_version_that_came_back_is_not_its_own_previous_one(repository):
    repository.commit(a_jpg=b"one")
    second = repository.commit(a_jpg=b"two")
    repository.commit(a_jpg=b"one")
    found = previous_version(repository.folder, "a.jpg")
    assert found is not None
    assert found.commit == second[:10]


def test_a_removed_version_is_skipped(repository):
    repository.commit(a_jpg=b"one")
    repository.commit(a_jpg=None, b_jpg=b"x")
    repository.commit(a_jpg=b"two")
    found = previous_version(repository.folder, "a.jpg")
    assert found is not None
    assert found.data == b"one"


@pytest.mark.parametrize("name", ["a.jpg", "missing.jpg", "../outside.jpg"])
def test_a_file_without_another_version_has_none(repository, name):
    repository.commit(a_jpg=b"one")
    assert previous_version(repository.folder, name) is None


def test_no_work_tree_and_no_commit_are_no_answer(tmp_path):
    (tmp_path / "plain").mkdir()
    assert work_tree(tmp_path / "plain") is None
    assert previous_version(tmp_path / "plain", "a.jpg") is None
    empty = tmp_path / "empty"
    empty.mkdir()
    Repository(empty)
    assert previous_version(empty, "a.jpg") is None


def test_names_with_spaces_accents_newlines_and_magic_are_found(repository):
    for name in ("ä b.jpg", "line\nbreak.jpg", ":(top)*.jpg", "-n.jpg", '"q".jpg'):
        (repository.folder / name).write_bytes(b"one" + os.fsencode(name))
    repository.commit()
    log = read_log(repository.folder, list(repository.folder.glob("*.jpg")))
    assert log is not None
    assert len(log.changes) == 5


def test_five_hundred_files_take_three_processes(repository, monkeypatch):
    files = {f"p{i}_jpg": b"one %d" % i for i in range(500)}
    repository.commit(**files)
    repository.commit(**{name: data + b"!" for name, data in files.items()})
    started = []
    real = subprocess.Popen
    monkeypatch.setattr(
        gitprocess.subprocess, "Popen", lambda *a, **k: started.append(a) or real(*a, **k)
    )
    paths = sorted(repository.folder.glob("*.jpg"))
    log = read_log(repository.folder, paths)
    assert log is not None
    unchanged = {path: blob_id(path.read_bytes()) for path in paths}
    assert len(list(previous_versions(log, unchanged))) == 500
    assert len(started) == 3


def test_a_shallow_clone_is_searched_as_far_as_it_goes(repository, tmp_path):
    repository.commit(a_jpg=b"one")
    repository.commit(a_jpg=b"two")
    clone = tmp_path / "clone"
    repository.run("clone", "-q", "--depth=1", repository.folder.as_uri(), str(clone))
    assert previous_version(clone, "a.jpg") is None
    assert read_log(clone, [clone / "a.jpg"]) is not None


def test_a_large_file_pointer_is_no_picture(repository):
    repository.commit(a_jpg=b"version https://git-lfs.github.com/spec/v1\noid sha256:00\n")
    (repository.folder / "a.jpg").write_bytes(b"the picture")
    assert previous_version(repository.folder, "a.jpg") is None


def test_too_large_a_version_is_left_out(repository, monkeypatch):
    repository.commit(a_jpg=b"x" * 100)
    repository.commit(a_jpg=b"two")
    monkeypatch.setattr(gitlog, "MOST_BLOB_BYTES", 50)
    assert previous_version(repository.folder, "a.jpg") is None


def test_a_cut_log_is_marked(repository, monkeypatch):
    repository.commit(a_jpg=b"one")
    repository.commit(a_jpg=b"two")
    monkeypatch.setattr(gitlog, "MOST_LOG_BYTES", 1)
    log = read_log(repository.folder, [repository.folder / "a.jpg"])
    assert log is None or len(log.of(repository.folder / "a.jpg")) <= 2


def test_without_git_nothing_is_known(repository, monkeypatch):
    repository.commit(a_jpg=b"one")
    monkeypatch.setattr(gitprocess.shutil, "which", lambda name: None)
    assert previous_version(repository.folder, "a.jpg") is None


def test_gits_own_variables_do_not_lead_elsewhere(repository, tmp_path, monkeypatch):
    first = repository.commit(a_jpg=b"one")
    repository.commit(a_jpg=b"two")
    monkeypatch.setenv("GIT_DIR", str(tmp_path / "elsewhere"))
    monkeypatch.setenv("GIT_EXTERNAL_DIFF", "false")
    found = previous_version(repository.folder, "a.jpg")
    assert found is not None
    assert found.commit == first[:10]


TRAPS = {
    "monitor": ["core.fsmonitor", "{trap}"],
    "pager": ["core.pager", "{trap}"],
    "log pager": ["pager.log", "{trap}"],
    "alias": ["alias.log", "!{trap}"],
    "external diff": ["diff.external", "{trap}"],
    "text converter": ["diff.evil.textconv", "{trap}"],
    "diff driver": ["diff.evil.command", "{trap}"],
    "smudge filter": ["filter.evil.smudge", "{trap}"],
    "process filter": ["filter.evil.process", "{trap}"],
    "signature": ["gpg.program", "{trap}"],
    "hooks": ["core.hooksPath", "{hooks}"],
    "editor": ["core.editor", "{trap}"],
    "ssh": ["core.sshCommand", "{trap}"],
}


@pytest.mark.skipif(os.name == "nt", reason="the traps are shell scripts")
@pytest.mark.parametrize("trap", TRAPS)
def test_a_hostile_configuration_runs_nothing(repository, tmp_path_factory, trap):
    outside = tmp_path_factory.mktemp("outside")
    script, sprung = outside / "trap", outside / "sprung"
    script.write_text(f"#!/bin/sh\ntouch '{sprung}'\ncat\n")
    script.chmod(0o755)
    first = repository.commit(a_jpg=b"one", _gitattributes=b"*.jpg diff=evil filter=evil\n")
    repository.commit(a_jpg=b"two")
    key, value = TRAPS[trap]
    repository.run("config", key, value.format(trap=script, hooks=outside))
    repository.run("config", "log.showSignature", "true")
    found = previous_version(repository.folder, "a.jpg")
    assert found is not None
    assert found.commit == first[:10]
    assert not sprung.exists()


@pytest.mark.skipif(os.name == "nt", reason="the traps are shell scripts")
def test_a_partial_clone_does_not_fetch(repository, tmp_path, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside")
    script, sprung = outside / "trap", outside / "sprung"
    script.write_text(f"#!/bin/sh\ntouch '{sprung}'\nexit 1\n")
    script.chmod(0o755)
    repository.commit(a_jpg=b"one")
    blob = repository.run("rev-parse", "HEAD:a.jpg")
    repository.commit(a_jpg=b"two")
    (repository.folder / ".git" / "objects" / blob[:2] / blob[2:]).unlink()
    repository.run("config", "core.repositoryformatversion", "1")
    repository.run("config", "extensions.partialClone", "origin")
    repository.run("config", "remote.origin.url", repository.folder.as_uri())
    repository.run("config", "remote.origin.promisor", "true")
    repository.run("config", "remote.origin.uploadpack", str(script))
    assert previous_version(repository.folder, "a.jpg") is None
    assert not sprung.exists()


def test_a_bare_repository_among_the_files_is_not_entered(repository):
    repository.commit(images__a_jpg=b"one")
    second = repository.commit(images__a_jpg=b"two")
    repository.run("init", "-q", "--bare", "images")
    (repository.folder / "images" / "a.jpg").write_bytes(b"three")
    assert work_tree(repository.folder / "images") == repository.folder.resolve()
    found = previous_version(repository.folder / "images", "a.jpg")
    assert found is not None
    assert found.commit == second[:10]


def test_a_whole_log_is_complete_and_keeps_sixteen_changes(repository):
    commits = [repository.commit(a_jpg=b"%d" % number) for number in range(18)]
    log = read_log(repository.folder, [repository.folder / "a.jpg"])
    assert log.complete
    kept = log.of(repository.folder / "a.jpg")
    assert [change.commit for change in kept] == commits[:1:-1]


@pytest.mark.parametrize(("most", "given"), [(100, True), (99, False)])
def test_a_version_as_large_as_allowed_is_given(repository, monkeypatch, most, given):
    repository.commit(a_jpg=b"x" * 100)
    repository.commit(a_jpg=b"two")
    monkeypatch.setattr(gitlog, "MOST_BLOB_BYTES", most)
    found = previous_version(repository.folder, "a.jpg")
    assert (found is not None and found.data == b"x" * 100) == given


def test_a_version_that_is_not_there_and_one_that_is(repository):
    """A name that git does not have, asked for before one that it has."""
    repository.commit(a_jpg=b"one", b_jpg=b"three")
    (known,) = read_log(repository.folder, [repository.folder / "b.jpg"]).of(
        repository.folder / "b.jpg"
    )
    sizes = gitlog._sizes(repository.folder.resolve(), ["f" * 40, known.blob])
    assert sizes == {"f" * 40: 0, known.blob: 5}


def test_git_is_ended_when_it_takes_too_long(repository, monkeypatch):
    repository.commit(a_jpg=b"one")
    monkeypatch.setattr(gitprocess, "SECONDS", 0.2)
    waits = ("cat-file", "--batch")  # for an answer to nothing
    with gitprocess.git(repository.folder.resolve(), waits, talks=True) as process:
        assert process.wait(timeout=20) != 0

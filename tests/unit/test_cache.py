"""The cache of facts: what is kept, and what is not believed."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pictures
import pytest

from pytest_webdeliverable.measure import cache as module
from pytest_webdeliverable.measure.cache import FactsCache
from pytest_webdeliverable.measure.image import measure

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.facts import Measurements

SHA = "ab" * 32


def facts(digest: str = "x") -> Measurements:
    return {"pixels": {"see_through": 0.25, "digest": digest}}


def entry(folder: Path) -> Path:
    (path,) = folder.rglob("*.json")
    return path


def test_facts_come_back_as_they_were(tmp_path: Path) -> None:
    pictures.save(tmp_path / "a.jpg")
    cache = FactsCache(tmp_path / "cache")
    facets = ("pixels", "edges", "history", "previews", "likeness", "motion")
    cold = measure(tmp_path, tmp_path, "a.jpg", facets, cache=cache)
    assert cold == measure(tmp_path, tmp_path, "a.jpg", facets)
    warm = measure(tmp_path, tmp_path, "a.jpg", facets, cache=FactsCache(tmp_path / "cache"))
    assert warm == cold
    assert "problem" not in warm


def test_a_warm_measurement_decodes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pictures.save(tmp_path / "a.jpg")
    cache = FactsCache(tmp_path / "cache")
    cold = measure(tmp_path, tmp_path, "a.jpg", ("edges",), cache=cache)
    monkeypatch.setattr(
        "pytest_webdeliverable.measure.content.content_facts", lambda *_: pytest.fail("measured")
    )
    assert measure(tmp_path, tmp_path, "a.jpg", ("edges", "git"), cache=cache) == cold
    assert measure(tmp_path, tmp_path, "a.jpg", ("pixels",), cache=cache) is not None


@pytest.mark.parametrize(
    ("kept", "asked", "known"),
    [
        (("edges",), (), True),
        (("edges",), ("edges",), True),
        (("edges",), ("edges", "history"), False),
        (("edges", "git"), ("git", "edges"), True),
    ],
)
def test_facets_must_be_covered(
    tmp_path: Path, kept: tuple[str, ...], asked: tuple[str, ...], known: bool
) -> None:
    cache = FactsCache(tmp_path)
    cache.put(SHA, kept, facts())  # type: ignore[arg-type]
    assert (cache.get(SHA, asked) is not None) is known  # type: ignore[arg-type]


def test_another_content_is_not_known(tmp_path: Path) -> None:
    cache = FactsCache(tmp_path)
    cache.put(SHA, (), facts())
    path = entry(tmp_path)
    other = path.parent / f"{'cd' * 31}.json"
    path.rename(other)
    assert cache.get(SHA[:2] + "cd" * 31, ()) is None


DAMAGE = {
    "empty": b"",
    "cut short": None,
    "other facts": b"no",
    "binary": bytes(range(256)),
    "deep": b"[" * 100_000,
}


@pytest.mark.parametrize("data", DAMAGE.values(), ids=DAMAGE)
def test_damaged_entries_are_measured_anew(tmp_path: Path, data: bytes | None) -> None:
    cache = FactsCache(tmp_path)
    cache.put(SHA, (), facts())
    path = entry(tmp_path)
    path.write_bytes(path.read_bytes()[:-3] if data is None else data)
    assert cache.get(SHA, ()) is None
    cache.put(SHA, (), facts())
    assert cache.get(SHA, ()) == facts()


@pytest.mark.parametrize("body", [b"[]", b'{"edges":3}', b'{"other":{}}', b"[" * 50_000, b"{"])
def test_foreign_shapes_are_not_believed(tmp_path: Path, body: bytes) -> None:
    cache = FactsCache(tmp_path)
    cache.put(SHA, (), facts())
    check = module._check(SHA, b"", body, b"")
    entry(tmp_path).write_bytes(b"\n".join((check, b"", body)))
    assert cache.get(SHA, ()) is None


@pytest.mark.parametrize(
    "text", ["a\n::error::owned", "a\rb", "##[error]x", "\x1b[2J", "a\u202eb", "a\u2028::x"]
)
def test_texts_that_could_act_are_not_believed(tmp_path: Path, text: str) -> None:
    """Who brings a folder of facts along must not speak through it: messages quote them."""
    cache = FactsCache(tmp_path)
    plain: Measurements = {"problem": {"kind": "unreadable", "text": "caf\u00e9 \\n \U0001f5bc"}}
    cache.put(SHA, ("edges",), plain)
    assert cache.get(SHA, ()) == plain
    cache.put(SHA, ("edges",), {"problem": {"kind": "unreadable", "text": text}})
    assert cache.get(SHA, ()) is None


def test_a_problem_of_the_header_alone_is_not_kept(tmp_path: Path) -> None:
    cache = FactsCache(tmp_path)
    problem: Measurements = {"problem": {"kind": "unreadable", "text": "cut short"}}
    cache.put(SHA, (), problem)
    assert cache.get(SHA, ()) is None
    cache.put(SHA, ("edges",), problem)
    assert cache.get(SHA, ("history",)) == problem


def test_a_folder_that_cannot_be_written_to(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    cache = FactsCache(tmp_path / "file")
    cache.put(SHA, (), facts())
    assert cache.get(SHA, ()) is None
    cache.close()


def test_the_oldest_entries_go_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = FactsCache(tmp_path)
    for number in range(5):
        cache.put(f"{number:064x}", (), facts(str(number)))
        os.utime(cache._path(f"{number:064x}"), (number, number))
    size = cache._path(f"{0:064x}").stat().st_size
    monkeypatch.setattr(module, "MOST_BYTES", 3 * size)
    cache.close()
    assert [cache.get(f"{number:064x}", ()) is not None for number in range(5)] == [
        False,
        False,
        True,
        True,
        True,
    ]


def test_nothing_but_entries_is_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the folder is not what it seems, everything in it was "the oldest entries" once."""
    cache = FactsCache(tmp_path)
    cache.put(SHA, (), facts())
    half = cache._path(SHA).with_name(f".{cache._path(SHA).name}.k2j4")
    others = [tmp_path / name for name in ("letter.txt", "a/b/c.json", "ab/cd.json", f"{SHA}.json")]
    for path in (half, *others):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"0" * 999)
    monkeypatch.setattr(module, "MOST_BYTES", 0)
    cache.close()
    assert all(path.exists() for path in others)
    assert not half.exists()
    assert cache.get(SHA, ()) is None


def test_a_pipe_in_place_of_an_entry_is_not_waited_for(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("pipes are files on POSIX systems only")
    cache = FactsCache(tmp_path)
    cache._path(SHA).parent.mkdir(parents=True)
    os.mkfifo(cache._path(SHA))
    assert cache.get(SHA, ()) is None


def test_another_version_of_the_code_knows_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    FactsCache(tmp_path).put(SHA, (), facts())
    monkeypatch.setattr("importlib.metadata.version", lambda _: "14.0.0")
    assert FactsCache(tmp_path).get(SHA, ()) is None

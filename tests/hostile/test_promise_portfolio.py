"""The promise, end to end: one portfolio of all hostile cases, with sound pictures between them.

pytest runs once on it, in a process of its own; then again on the cheap cases in less friendly
surroundings: spread over processes, in an ASCII locale, with warnings as errors.
"""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import re
import resource
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import attacks
import more_attacks  # noqa: F401  # registers its cases
import more_formats  # noqa: F401
import new_attacks  # noqa: F401
import new_costs  # noqa: F401
import pytest
from cases import CASES, Impossible, sound
from gauge import MOST_BYTES, MOST_SECONDS
from jsonschema import Draft202012Validator

ROOT = Path(__file__).parents[2]
KINDS = ("jpeg", "png", "webp", "avif", "tiff", "gif")
SUFFIX = {"jpeg": "jpg", "tiff": "tif"}
ADVICE = "pytest_webdeliverable.DeliverableAdvice"
BETWEEN = 8
"""Hostile pieces after which a sound one stands."""

SPECS = """
[portfolio]
title = "\\u001b[31m::error::title\\n##[error]"
images = "images"

[spec.open]
formats = ["jpeg", "png", "webp", "avif", "gif", "tiff"]
privacy = { location = false, device = false, preview = false }
edges = { gap = true, outline = true, margin = true }
history = { resaved = true, cropped = true, enlarged = true }
animation = { frames = 100000, flashes = 3 }
orientation-flag = false
blank = false
levels = { "edge-gap" = "advise", "edge-outline" = "advise", "near-duplicate" = "advise", "flash" = "advise" }

[spec.single]
from = "open"
animation = false
blank = true

[spec.named]
from = "open"
file-name = "{piece}"

[spec.profiled]
from = "open"
profile = "embedded"

[spec.colored]
from = "open"
color-mode = "rgb"

[spec.opaque]
from = "open"
transparency = false

[spec.dense]
from = "open"
ppi = 72

[spec.credited]
from = "open"
credit = ["creator", "copyright"]
"""


def quoted(text: str) -> str:
    """A basic string of TOML, whatever is in it."""
    plain = {sign for sign in map(chr, range(32, 127)) if sign not in '"\\'}
    return '"' + "".join(c if c in plain else f"\\U{ord(c):08x}" for c in text) + '"'


@dataclass
class Built:
    """A portfolio on disk: which rule fails on which piece, and the sound pieces."""

    folder: Path
    rules: dict[str, str | None]
    left_out: dict[str, str]
    sound: set[str]


def build(folder: Path, names: list[str]) -> Built:
    root = folder / "root"
    (root / "images").mkdir(parents=True)
    (folder / "secret.jpg").write_bytes(sound("jpeg", 99))
    built = Built(root, {}, {}, set())
    text = [SPECS]

    def piece(name: str, file: str, spec: str) -> None:
        text.append(
            f"[[piece]]\nid = {quoted(name)}\nfile = {quoted(file)}\nspec = {quoted(spec)}\n"
            f"title = {quoted('::error::' + file[:300])}\nalt = {quoted('##[error]' + file[-300:])}\n"
        )

    for number, name in enumerate(names):
        if number % BETWEEN == 0:
            kind = KINDS[number // BETWEEN % len(KINDS)]
            whole = f"sound-{number // BETWEEN}"
            file = f"images/{whole}.{SUFFIX.get(kind, kind)}"
            (root / file).write_bytes(sound(kind, 100 + number // BETWEEN))
            built.sound.add(whole)
            piece(whole, file, "open")
        case = CASES[name]
        path = root / case.file
        try:
            if len(case.file) < 4096 and "\0" not in case.file:
                path.parent.mkdir(parents=True, exist_ok=True)
            case.make(path, root)
        except Impossible as reason:
            built.left_out[name] = str(reason)
            continue
        built.rules[name] = case.rule
        piece(name, case.file, case.spec)
    (root / "deliverables.toml").write_text("\n".join(text), encoding="utf-8")
    stray = os.open(
        os.fsencode(root) + b"/images/\xff\xfe\n::error::stray.jpg", os.O_CREAT | os.O_WRONLY
    )
    os.write(stray, sound("jpeg", 98))
    os.close(stray)
    return built


def confined() -> None:
    """In the new process: no reading of what its mode forbids, even for root, and bounded."""
    libc = ctypes.CDLL(None)
    for capability in (1, 2):  # CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH, dropped from the bounds
        libc.prctl(24, capability, 0, 0, 0)
    resource.setrlimit(resource.RLIMIT_CPU, (280, 290))
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


@dataclass
class Done:
    """How a run ended."""

    code: int
    output: bytes
    report: dict[str, Any]
    raw_report: bytes
    costs: list[dict[str, Any]]


def run(built: Built, *options: str, **env: str) -> Done:
    costs = built.folder.parent / "costs.jsonl"
    costs.unlink(missing_ok=True)
    surroundings = {
        name: value
        for name, value in os.environ.items()
        if name not in {"PYTEST_ADDOPTS", "CI", "GITHUB_ACTIONS", "PYTEST_XDIST_WORKER"}
    }
    surroundings |= {"PYTHONPATH": str(Path(__file__).parent), "GAUGE": str(costs)} | env
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-p",
            "gauge",
            "-p",
            "no:cacheprovider",
            "--rootdir=.",
            "-v",
            "--deliverable-report=../proof",
            *options,
        ],
        cwd=built.folder,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        preexec_fn=confined,
        timeout=300,
        check=False,
    )
    report = built.folder.parent / "proof" / "report.json"
    assert report.is_file(), done.stdout.decode("utf-8", "replace")[-4000:]
    raw = report.read_bytes()
    noted = costs.read_text() if costs.exists() else ""
    lines = [json.loads(line) for line in noted.splitlines()]
    return Done(done.returncode, done.stdout, json.loads(raw), raw, lines)


def failures(done: Done) -> dict[str, list[dict[str, Any]]]:
    return {
        piece["id"]: [check for check in piece["checks"] if check["outcome"] == "failed"]
        for manifest in done.report["manifests"]
        for piece in manifest["pieces"]
    }


def keeps_the_promise(
    built: Built, done: Done, *, portfolio: tuple[str, ...] = ("stray-file", "name-clash")
) -> None:
    """All that holds of every run; ``portfolio`` are the rules that fail for all pieces together."""
    output = done.output.decode("utf-8", "strict")
    assert done.code == 1, output[-4000:]
    failed = failures(done)
    assert {"portfolio", *built.rules, *built.sound} == set(failed)
    wrong = {
        name: [(check["rule"], check["message"]) for check in failed[name]]
        for name, rule in {**built.rules, **dict.fromkeys(built.sound)}.items()
        if [check["rule"] for check in failed[name]] != ([rule] if rule else [])
    }
    assert not wrong, json.dumps(wrong, indent=1)
    for name, rule in built.rules.items():
        for check in failed[name] if rule else ():
            message = check["message"]
            assert CASES[name].words in message, (name, message)
            assert 10 < len(message) < 1000, (name, message)
            assert message.isprintable(), (name, message)
            assert not re.search(
                r"Error\b|Exception|Traceback|0x[0-9a-f]{8}|please report", message
            )
    assert tuple(check["rule"] for check in failed["portfolio"]) == portfolio
    says_nothing(output)
    says_nothing(done.raw_report.decode("ascii"), report=True)


def says_nothing(output: str, *, report: bool = False) -> None:
    """Nothing in the text acts, on a terminal or in a CI service."""
    assert "Traceback" not in output
    assert "INTERNALERROR" not in output
    control = re.findall(r"[^\n\x20-\x7e\xa0-\uffff]", output)
    assert not control, set(control)
    assert not re.findall("[\u0080-\u009f\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]", output)
    if not report:
        assert not [line for line in output.splitlines() if line.lstrip().startswith("::")]
        nodes = re.compile(
            r"^[^\s:]+::[A-Za-z0-9_-]+::[a-z-]+(?= |$)|(?<= )\S+\.toml::[A-Za-z0-9_-]+::[a-z-]+"
        )
        rest = "\n".join(nodes.sub("", line) for line in output.splitlines())
        assert not re.findall(r".*::.*", rest)[:5]
        assert "##[" not in output


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> tuple[Built, Done]:
    built = build(tmp_path_factory.mktemp("promise"), list(CASES))
    return built, run(built, "--deliverable-workers=1")  # what it costs is gauged in this process


def test_every_case_fails_alone_and_the_others_are_judged(everything: tuple[Built, Done]) -> None:
    built, done = everything
    assert len(built.rules) >= 300
    assert set(built.left_out) <= {"device", "sparse"}
    keeps_the_promise(built, done)


def test_no_image_costs_more_than_promised(everything: tuple[Built, Done]) -> None:
    built, done = everything
    assert sum("seconds" in line for line in done.costs) >= len(built.rules)
    dear = [
        line
        for line in done.costs
        if line.get("seconds", 0) > MOST_SECONDS or (line.get("bytes") or 0) > MOST_BYTES
    ]
    assert not dear


def test_what_is_dear_fails_as_well_aside(tmp_path: Path) -> None:
    """Not gauged, so that what is heavy goes to a process of its own, as in any run."""
    built = build(tmp_path, list(attacks.COSTS))
    done = run(built, GAUGE="")
    assert not done.costs
    keeps_the_promise(built, done, portfolio=("stray-file",))


def test_the_report_keeps_to_its_schema(everything: tuple[Built, Done]) -> None:
    _, done = everything
    schema = json.loads((ROOT / "pytest_webdeliverable/schemas/report.schema.json").read_text())
    Draft202012Validator(schema).validate(done.report)
    page = (everything[0].folder.parent / "proof" / "index.html").read_text("utf-8")
    assert "<img src=x" not in page
    assert not re.findall(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", page)


def test_nothing_outside_the_root_is_in_the_report(everything: tuple[Built, Done]) -> None:
    built, done = everything
    secret = hashlib.sha256((built.folder.parent / "secret.jpg").read_bytes())
    assert secret.hexdigest().encode() not in done.raw_report
    assert not (built.folder / "owned").exists()


CHEAP = [name for name in CASES if name not in attacks.COSTS]
ASCII = {"LC_ALL": "C", "PYTHONIOENCODING": "ascii"}
SURROUNDINGS = {
    "processes": (["-n", "2"], {}),
    "measured in processes": (["--deliverable-workers=2"], {}),
    # Advice is turned into failures by errors of warnings, so it is left out.
    "ascii": (
        ["-W", "error", "-W", f"default::{ADVICE}", "-rA", "--deliverable-workers=2"],
        ASCII,
    ),
}


@pytest.mark.parametrize("where", SURROUNDINGS)
def test_the_same_in_other_surroundings(tmp_path: Path, where: str) -> None:
    built = build(tmp_path, CHEAP)
    options, env = SURROUNDINGS[where]
    keeps_the_promise(built, run(built, *options, **env))

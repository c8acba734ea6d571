"""Has the pictures of a proof sheet made: by threads, and those that are heavy to decode by a process."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.aside import Aside
from pytest_webdeliverable.measure.limits import HeavyError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from pytest_webdeliverable.measure.limits import Limits
    from pytest_webdeliverable.measure.proof import Proof, Wish


@dataclass(frozen=True, slots=True)
class Job:
    """The pictures wanted of one file: ``key`` is its manifest and piece, ``sha256`` what was measured."""

    key: tuple[str, str]
    root: Path
    folder: Path
    file: str
    sha256: str
    wish: Wish


def make_proofs(jobs: Sequence[Job], workers: int, limits: Limits) -> list[Proof | None]:
    """Return the pictures of each job in their order, None where a file cannot be shown."""
    # Imported here once, so that threads do not queue for the import.
    from pytest_webdeliverable.measure import proof  # noqa: F401

    aside = Aside(limits, workers)
    try:
        with ThreadPoolExecutor(max(1, workers), "deliverable-proof") as pool:
            try:
                return list(pool.map(partial(_made, limits=limits, aside=aside), jobs))
            finally:
                aside.stop()  # before threads are waited for, should the run be interrupted
    finally:
        aside.close()


def _made(job: Job, *, limits: Limits, aside: Aside) -> Proof | None:
    from pytest_webdeliverable.measure.proof import Proof, proof

    where = job.root, job.folder, job.file, job.wish
    here = partial(proof, *where, sha256=job.sha256, limits=limits)
    try:
        return here(light_only=True)
    except HeavyError:
        answer = aside.crew().proof(*where, job.sha256)
        if answer is None:
            return here()
        return None if answer.proof is None else Proof.of_json(answer.proof)

"""Measure one image: read it once through the door, and look its facts up or gather them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.door import RefusedError, read_file
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, Limits

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.facts import Facet, Measurements
    from pytest_webdeliverable.measure.gitlog import Log


def measure(
    root: Path,
    base: Path,
    relative: str,
    facets: Collection[Facet] = (),
    *,
    limits: Limits = DEFAULT_LIMITS,
    log: Log | None = None,
    cache: FactsCache | None = None,
    light_only: bool = False,
) -> Measurements:
    """Measure the image at ``relative`` below ``base``, a folder inside ``root``.

    ``log`` is what git knows of the folder's files, for the facet ``git``; ``cache`` holds the facts of
    bytes that were measured before. Never raises for anything in the file: what cannot be read becomes
    ``problem``. With ``light_only`` raises HeavyError for a picture that is dear to read, or would have to
    be decoded and is dear then.
    """
    try:
        source = read_file(root, relative, base=base, limits=limits, light_only=light_only)
    except RefusedError as refusal:
        return {"problem": {"kind": refusal.kind, "text": refusal.sentence}}
    measured: Measurements = {
        "file": {
            "name": source.name,
            "on_disk": "/".join(source.name_on_disk),
            "bytes": source.bytes,
            "sha256": source.sha256,
        }
    }
    known = cache.get(source.sha256, facets) if cache is not None else None
    if known is None:
        from pytest_webdeliverable.measure.content import content_facts

        known = content_facts(source.data, facets, limits, light_only=light_only)
        if cache is not None:
            cache.put(source.sha256, facets, known)
    measured.update(known)
    if "git" in facets and log is not None and "problem" not in measured:
        from pytest_webdeliverable.measure.committed import git_facts

        where = base / relative
        measured["git"] = git_facts(where, source.data, log, limits, light_only=light_only)
    return measured

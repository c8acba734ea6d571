"""What git says of one picture: when it was committed, and its last version that differs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pytest_webdeliverable.measure.decode import decode, is_heavy
from pytest_webdeliverable.measure.gitlog import blob_id, previous_versions
from pytest_webdeliverable.measure.headers import read_header
from pytest_webdeliverable.measure.headers.base import DamagedError
from pytest_webdeliverable.measure.history.previous import PreviousFacts, Seen, previous_facts, seen
from pytest_webdeliverable.measure.limits import HeavyError

if TYPE_CHECKING:
    from pathlib import Path

    from pytest_webdeliverable.measure.facts import GitFacts
    from pytest_webdeliverable.measure.gitlog import Log
    from pytest_webdeliverable.measure.limits import Limits


def git_facts(
    file: Path, data: bytes, log: Log, limits: Limits, *, light_only: bool = False
) -> GitFacts:
    """Compare the picture in ``data`` with what git holds of its file.

    Never raises; with ``light_only`` HeavyError, where one of both is dear to decode.
    """
    changes = log.of(file)
    if not changes:
        return {"committed": None, "previous": None}
    blob = blob_id(data, next((change.blob for change in changes if change.blob), ""))
    return {
        "committed": changes[0].time.isoformat() if changes[0].blob == blob else None,
        "previous": _previous(file, blob, data, log, limits, light_only=light_only),
    }


def _previous(
    file: Path, blob: str, data: bytes, log: Log, limits: Limits, *, light_only: bool
) -> PreviousFacts | None:
    for _, previous in previous_versions(log, {file: blob}):
        # Both files are in memory now, and one decoding at a time: what one picture may take.
        now = _seen(data, limits, len(previous.data), light_only=light_only)
        before = (
            None if now is None else _seen(previous.data, limits, len(data), light_only=light_only)
        )
        if now is not None and before is not None:
            return previous_facts(now, before, previous)
    return None


def _seen(data: bytes, limits: Limits, beside: int, *, light_only: bool) -> Seen | None:
    """Decode a picture while so many bytes of another are held, and reduce it to what is compared."""
    less = replace(limits, decode_bytes=max(1, limits.decode_bytes - beside))
    try:
        header = read_header(data, less)
    except DamagedError:
        return None
    if light_only and is_heavy(header, len(data), less):
        raise HeavyError
    picture = decode(data, header, less).picture
    return None if picture is None else seen(picture)

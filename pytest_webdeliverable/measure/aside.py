"""A place aside for pictures that are better not decoded in the run: processes, begun once one is needed."""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.crew import Crew
    from pytest_webdeliverable.measure.limits import Limits


class Aside:
    """Gives processes to whoever asks; safe to use from several threads.

    There is one, since what is heavy is to be decoded one at a time, unless every picture goes there.
    """

    def __init__(self, limits: Limits, workers: int, cache: FactsCache | None = None) -> None:
        self._limits = limits
        self._size = workers if limits.all_aside else 1
        self._cache = cache
        self._crew: Crew | None = None
        self._lock = Lock()

    def crew(self) -> Crew:
        """Return the processes, which are begun now if they were not before."""
        with self._lock:
            if self._crew is None:
                from pytest_webdeliverable.measure.crew import Crew

                self._crew = Crew(self._size, self._limits, self._cache)
            return self._crew

    def stop(self) -> None:
        """End what is at work."""
        if self._crew is not None:
            self._crew.stop()

    def close(self) -> None:
        """End every process, once no thread asks any more."""
        if self._crew is not None:
            self._crew.close()
            self._crew = None

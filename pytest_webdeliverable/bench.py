"""The bench of a session: which images to measure, when, and the cases that rules judge.

Knows manifests, measuring and rules, but not pytest. Images are measured ahead of their checks by a few
threads, since decoding runs outside the interpreter's lock; where there are many, each thread has a process
of its own do it, since all else runs under that lock. What waits is bounded by the threads, not by the
number of images.
"""

from __future__ import annotations

import sys
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cache, partial
from threading import Lock
from typing import TYPE_CHECKING, Final, NamedTuple

from pytest_webdeliverable.measure.aside import Aside
from pytest_webdeliverable.measure.limits import DEFAULT_LIMITS, HeavyError, Limits
from pytest_webdeliverable.rules.base import Case, PortfolioCase

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from pytest_webdeliverable.manifest.model import Manifest, Piece
    from pytest_webdeliverable.measure.cache import FactsCache
    from pytest_webdeliverable.measure.crew import Answer, Crew
    from pytest_webdeliverable.measure.facts import Facet, FolderFacts, Measurements
    from pytest_webdeliverable.measure.gitlog import Log
    from pytest_webdeliverable.measure.icc import ProfileFacts
    from pytest_webdeliverable.rules.base import Rule

SWITCH: Final = 0.0005
"""Seconds after which a thread gives way, while some measure ahead: they need the interpreter often, and
briefly. Measured on a busy machine of 2 cores: a cold run is 7 % shorter than with Python's 0.005."""
AHEAD: Final = 3
"""Images measured ahead per thread: enough that a thread never waits for the checks."""
WORTH_PROCESSES: Final = 48
"""Images to decode from which processes measure them; below, they take as long to start as they save."""


@dataclass(frozen=True, slots=True, eq=False)
class Home:
    """Where manifests live: the root that no path may leave, and the folder paths start from.

    Compared as the one object that ``home_at`` gives: paths take long to compare, for each check.
    """

    root: Path
    folder: Path


@cache
def home_at(root: Path, folder: Path) -> Home:
    """Return the home of all manifests in a folder."""
    return Home(root, folder)


class Image(NamedTuple):
    """An image to measure."""

    home: Home
    file: str


@dataclass(frozen=True, slots=True)
class Check:
    """One planned check: a rule on a piece, or on the portfolio where the piece is None."""

    home: Home
    manifest: Manifest
    piece: Piece | None
    rule: Rule


@dataclass(slots=True)
class Bench:
    """Measures images once each and makes cases of them."""

    rules: Mapping[str, Rule]
    workers: int
    cache: FactsCache | None = None
    limits: Limits = DEFAULT_LIMITS
    ahead: bool = True
    """False where other processes run part of the checks, so that looking ahead wastes work."""
    _facets: dict[Image, set[Facet]] = field(default_factory=dict)
    _order: list[Image] = field(default_factory=list)
    _place: dict[Image, int] = field(default_factory=dict)
    _next: int = 0
    _waiting: dict[Image, Future[Measurements]] = field(default_factory=dict)
    _done: dict[Image, Measurements] = field(default_factory=dict)
    _profiles: dict[str, ProfileFacts | None] = field(default_factory=dict)
    _by_id: dict[int, dict[str, Piece]] = field(default_factory=dict)
    """Pieces by id, by manifest."""
    _logs: dict[Home, Log | None] = field(default_factory=dict)
    _log_lock: Lock = field(default_factory=Lock)
    _pool: ThreadPoolExecutor | None = None
    _crew: Crew | None = None
    _aside: Aside = field(init=False)
    """For what is heavy, where the others are measured here."""
    _switch: float = 0.0

    def __post_init__(self) -> None:
        self._aside = Aside(self.limits, self.workers if self.ahead else 1, self.cache)

    def expect(self, images: int) -> None:
        """Start processes for so many images to decode, while pytest still collects; opens none of them."""
        if self._crew is None and self._worth_processes(images):
            if self.cache is not None and self.cache.answers:
                return
            self._start_crew()

    def _worth_processes(self, images: int) -> bool:
        return self.ahead and self.workers > 1 and images >= WORTH_PROCESSES

    def _start_crew(self) -> None:
        from pytest_webdeliverable.measure.crew import Crew

        self._crew = Crew(self.workers, self.limits, self.cache)

    def plan(self, checks: Iterable[Check]) -> None:
        """Note what the selected checks need, in their order."""
        for check in checks:
            needs = check.rule.needs
            if check.piece is None:
                for piece in check.manifest.pieces if needs or check.rule.needs_files else ():
                    self._want(check.home, piece.file, needs)
                continue
            self._want(check.home, check.piece.file, needs)
            if "likeness" in needs:
                for other in self._related(check.manifest, check.piece):
                    self._want(check.home, other, needs)

    def _want(self, home: Home, file: str, needs: Iterable[Facet]) -> None:
        image = Image(home, file)
        if image not in self._facets:
            self._facets[image] = set()
            self._place[image] = len(self._order)
            self._order.append(image)
        self._facets[image].update(needs)

    def _related(self, manifest: Manifest, piece: Piece) -> list[str]:
        source = self._source(manifest, piece)
        files = [] if source is None else [source.file]
        return [*files, piece.original] if piece.original else files

    def _source(self, manifest: Manifest, piece: Piece) -> Piece | None:
        """Return the piece that another is a copy of."""
        if piece.copy_of is None:
            return None
        if id(manifest) not in self._by_id:
            self._by_id[id(manifest)] = {other.id: other for other in manifest.pieces}
        return self._by_id[id(manifest)].get(piece.copy_of)

    def measured(self, home: Home, file: str) -> Measurements:
        """Return the facts of one image, measuring it now if no thread has."""
        image = Image(home, file)
        if image in self._done:
            return self._done[image]
        # While the cache answers there is nothing worth a thread: reading and hashing take a millisecond,
        # and threads that take turns with the checks cost more.
        if self.cache is None or not self.cache.answers:
            self._look_ahead(image)
        waiting = self._waiting.pop(image, None)
        facts = waiting.result() if waiting is not None else self._measure(image)
        self._done[image] = facts
        return facts

    def _look_ahead(self, image: Image) -> None:
        place = self._place.get(image)
        if not self.ahead or place is None:
            return
        if self._pool is None:
            decoded = sum(1 for facets in self._facets.values() if facets)
            if self._crew is None and self._worth_processes(decoded):
                self._start_crew()
            self._pool = ThreadPoolExecutor(self.workers, "deliverable")
            self._switch = sys.getswitchinterval()
            sys.setswitchinterval(min(SWITCH, self._switch))
        end = min(len(self._order), place + 1 + AHEAD * self.workers)
        for index in range(max(self._next, place), end):
            ahead = self._order[index]
            if ahead not in self._done and ahead not in self._waiting:
                self._waiting[ahead] = self._pool.submit(self._measure_ahead, ahead)
        self._next = max(self._next, end)

    def _measure_ahead(self, image: Image) -> Measurements:
        """Measure an image on a thread: in its process, if there are any."""
        facets = self._facets.get(image)
        if self._crew is None or not self._crew.works or not facets:
            return self._measure(image)
        answer = self._crew.measure(
            *(image.home.root, image.home.folder, image.file),
            facets,
            self._log(image.home) if "git" in facets else None,
        )
        return self._measure(image) if answer is None else self._heard(answer)

    def _heard(self, answer: Answer) -> Measurements:
        """Take the facts of another process, which keeps what it measures in the cache."""
        if self.cache is not None:
            self.cache.heard(known=answer.known)
        return answer.facts

    def _measure(self, image: Image) -> Measurements:
        from pytest_webdeliverable.measure.image import measure

        facets = frozenset(self._facets.get(image, ()))
        where = image.home.root, image.home.folder, image.file, facets
        try:
            log = self._log(image.home) if "git" in facets else None
            here = partial(measure, *where, limits=self.limits, log=log, cache=self.cache)
            try:
                return here(light_only=True)
            except HeavyError:
                # Should a decoder crash or hang on it, one test fails and not the run.
                answer = (self._crew or self._aside.crew()).measure(*where, log)
                return self._heard(answer) if answer else here()
        except Exception as error:  # one odd file must not take the others down
            from pytest_webdeliverable.measure.crew import broken_off

            return broken_off(type(error).__name__)

    def _log(self, home: Home) -> Log | None:
        """Return what git knows of a portfolio's files, asked once for all of them."""
        with self._log_lock:
            if home not in self._logs:
                from pytest_webdeliverable.measure.gitlog import read_log

                asked = [
                    home.folder / image.file
                    for image, facets in self._facets.items()
                    if image.home == home and "git" in facets
                ]
                self._logs[home] = read_log(home.folder, asked)
            return self._logs[home]

    def case(self, home: Home, manifest: Manifest, piece: Piece, rule: Rule) -> Case:
        """Return what a rule may know of a piece."""
        measured = self.measured(home, piece.file)
        source = original = None
        if "likeness" in rule.needs:
            other = self._source(manifest, piece)
            source = None if other is None else self.measured(home, other.file)
            if piece.original:
                original = self.measured(home, piece.original)
        profile = (
            self._profile(home.root, piece.spec.profile) if rule.name == "color-profile" else None
        )
        return Case(
            piece=piece, measured=measured, source=source, original=original, profile=profile
        )

    def portfolio_case(self, home: Home, manifest: Manifest, rule: Rule) -> PortfolioCase:
        """Return what a rule may know of the portfolio."""
        needed = bool(rule.needs or rule.needs_files)
        measured = [self.measured(home, piece.file) for piece in manifest.pieces] if needed else []
        return PortfolioCase(
            manifest=manifest, folder=self._folder(home, manifest), measured=measured
        )

    def _folder(self, home: Home, manifest: Manifest) -> FolderFacts:
        from pytest_webdeliverable.measure.door import RefusedError, list_folder

        images = manifest.portfolio.images
        if images is None:
            return {"files": None, "problem": None}
        try:
            return {"files": list_folder(home.root, images, base=home.folder), "problem": None}
        except RefusedError as refusal:
            return {"files": None, "problem": refusal.sentence}

    def _profile(self, root: Path, path: str | None) -> ProfileFacts | None:
        """Facts of a profile that a spec names by its path below the root; None for the words."""
        from pytest_webdeliverable.manifest.specs import PROFILE_WORDS

        if path is None or path in PROFILE_WORDS:
            return None
        if path not in self._profiles:
            from pytest_webdeliverable.measure.reference_profile import reference_profile

            self._profiles[path] = reference_profile(root, path)
        return self._profiles[path]

    def close(self) -> None:
        """Drop what nobody waits for any more, end threads and processes, and tidy the cache."""
        crews = (self._aside,) if self._crew is None else (self._crew, self._aside)
        for crew in crews:
            crew.stop()
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None
            sys.setswitchinterval(self._switch)
        for crew in crews:
            crew.close()
        self._crew = None
        if self.cache is not None:
            self.cache.close()

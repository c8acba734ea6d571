"""The test nodes: a manifest, its pieces, their checks. Each delegates; nothing is decided here."""

from __future__ import annotations

import datetime
import warnings
from dataclasses import replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

import pytest
from _pytest._code.code import (
    ReprEntryNative,
    ReprExceptionInfo,
    ReprFileLocation,
    ReprTraceback,
    TerminalRepr,
)
from _pytest.pathlib import bestrelpath

from pytest_webdeliverable.advice import DeliverableAdvice
from pytest_webdeliverable.bench import Bench, Check, home_at
from pytest_webdeliverable.display import display_name
from pytest_webdeliverable.judge import (
    Outcome,
    broke_off,
    judge_piece,
    judge_portfolio,
    level_of,
)
from pytest_webdeliverable.links import OddlyPlaced, acts
from pytest_webdeliverable.manifest.load import PORTFOLIO_ID, Known, load_manifest
from pytest_webdeliverable.manifest.problems import ManifestError
from pytest_webdeliverable.manifest.specs import problems_of
from pytest_webdeliverable.measure.cache import FactsCache
from pytest_webdeliverable.options import (
    BENCH,
    FAMILIES,
    limits,
    report_folder,
    runs_all,
    workers,
)
from pytest_webdeliverable.report.records import check_record, piece_record
from pytest_webdeliverable.rules import registry
from pytest_webdeliverable.rules.base import PieceRule, PortfolioRule, Rule

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable, Iterator, Mapping
    from pathlib import Path

    from pytest_webdeliverable.bench import Home
    from pytest_webdeliverable.manifest.model import Manifest, Piece, Spec

_MARKS = {family: getattr(pytest.mark, f"deliverable_{family}") for family in FAMILIES}


@cache
def _property(name: str, value: str) -> tuple[str, str]:
    """Return what a JUnit report says of a check beside its name: one object for all checks."""
    return name, value


class CheckFailed(Exception):  # noqa: N818 - named for what the terminal shows of it
    """A check whose picture does not keep to the spec."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(outcome.message)
        self.outcome = outcome


def bench_of(config: pytest.Config) -> Bench:
    """Return the session's bench, made when the first manifest is met."""
    bench = config.stash.get(BENCH, None)
    if bench is None:
        extra = [rule for rules in config.hook.pytest_webdeliverable_rules() for rule in rules]
        try:
            rules = registry(extra)
        except TypeError as error:
            raise pytest.UsageError(f"pytest_webdeliverable_rules: {error}") from None
        bench = Bench(
            rules=rules,
            workers=workers(config),
            limits=limits(config),
            cache=_cache(config),
            ahead=not hasattr(config, "workerinput"),
        )
        config.stash[BENCH] = bench
    return bench


def _cache(config: pytest.Config) -> FactsCache | None:
    """Return the cache of facts in pytest's own cache folder; None where there is none to be used."""
    cache = getattr(config, "cache", None)
    if cache is None:
        return None
    try:
        folder = cache.mkdir("webdeliverable")
    except OSError:  # a read-only disk, or a file in its place
        return None
    if folder.is_symlink() or folder.parent.is_symlink():
        return None  # somebody's folder elsewhere: pytest makes no links there
    key: bytes | None = b""
    if folder.is_relative_to(root := config.rootpath) or folder.resolve().is_relative_to(
        root.resolve()
    ):
        # It may have come along with the portfolio: only what was measured here is believed.
        from pytest_webdeliverable.measure.own_key import own_key

        key = own_key()
    return None if key is None else FactsCache(folder, limits(config), key=key)


def known_names(config: pytest.Config) -> Known:
    """Return the rules and specs that manifests may name, those of other plugins among them."""
    from pytest_webdeliverable.manifest.builtin import BUILT_IN

    rules, specs = bench_of(config).rules, dict(BUILT_IN)
    for more in reversed(config.hook.pytest_webdeliverable_specs()):
        specs.update(more)
    if specs != BUILT_IN and (problems := problems_of(specs, rules)):
        raise pytest.UsageError(f"pytest_webdeliverable_specs: {'; '.join(problems)}")
    return Known(rules=rules, specs=specs)


def manifest_node(path: Path, parent: pytest.Collector) -> pytest.File:
    """Return the node of a manifest: by its path from the root directory, also where that lies beside it.

    pytest itself gives a file that it is told to collect from outside the root directory no name at all.
    """
    root = parent.config.rootpath
    nodeid = None if path.is_relative_to(root) else bestrelpath(root, path)
    manifest = ManifestFile.from_parent(parent, path=path, nodeid=nodeid)
    printed = bestrelpath(parent.config.invocation_params.dir, path)
    if not acts(manifest.nodeid) and not acts(printed):
        return manifest
    return OddlyPlaced.from_parent(parent, path=path, nodeid=display_name(manifest.nodeid))


class ManifestFile(pytest.File):
    """A manifest: collects its pieces and the portfolio."""

    manifest: Manifest

    def collect(self) -> Iterator[CheckGroup]:
        """Yield the pieces in their order, then the portfolio; opens no image."""
        self.add_marker("webdeliverable")
        try:
            self.manifest = load_manifest(self.path, self.home.root, known_names(self.config))
        except (ManifestError, pytest.UsageError) as error:
            raise self.CollectError(str(error)) from None
        if runs_all(self.config):
            bench_of(self.config).expect(len(self.manifest.pieces))
        for place, piece in enumerate(self.manifest.pieces):
            yield CheckGroup.from_parent(self, name=piece.id, piece=piece, place=place)
        yield CheckGroup.from_parent(
            self, name=PORTFOLIO_ID, piece=None, place=len(self.manifest.pieces)
        )

    @cached_property
    def home(self) -> Home:
        """Root and folder; a manifest outside the root directory is a root of its own."""
        folder, root = self.path.parent, self.config.rootpath
        return home_at(root if folder.is_relative_to(root) else folder, folder)

    @cached_property
    def reports(self) -> bool:
        """Whether a report is asked for, of which every outcome is a part."""
        return report_folder(self.config) is not None

    @cached_property
    def shown(self) -> str:
        """Path of the manifest from the root directory; a folder's name may hold ``::``."""
        return self.nodeid


class CheckGroup(pytest.Collector):
    """A piece, or the portfolio itself: collects the rules that its spec switches on."""

    parent: ManifestFile

    def __init__(self, *, piece: Piece | None, place: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.piece = piece
        self.place = place
        self.teller: int | None = None
        """Place of the check that tells the report of the piece; each of them would tell the same."""

    @property
    def manifest(self) -> Manifest:
        """The manifest that lists the piece."""
        return self.parent.manifest

    @property
    def spec(self) -> Spec:
        """Spec of the piece; for the portfolio, the one that its pieces have by default."""
        return self.piece.spec if self.piece else self.manifest.portfolio_spec

    @property
    def line(self) -> int:
        """Line of the piece in the manifest, from 1."""
        return self.piece.line if self.piece else self.manifest.line

    def collect(self) -> Iterator[CheckItem]:
        """Yield one item for each rule that is on."""
        for place, rule in enumerate(bench_of(self.config).rules.values()):
            if self._is_on(rule) and level_of(rule, self.spec) != "off":
                yield CheckItem.from_parent(self, name=rule.name, rule=rule, place=place)

    def _is_on(self, rule: Rule) -> bool:
        if self.piece is not None:
            return isinstance(rule, PieceRule) and rule.applies(self.piece)
        return isinstance(rule, PortfolioRule) and rule.applies(self.manifest.portfolio)


class CheckItem(pytest.Item):
    """One rule on one piece."""

    parent: CheckGroup

    def __init__(self, *, rule: Rule, place: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.rule = rule
        self.place = place
        self.payload: dict[str, Any] | None = None
        self.told_keywords: Mapping[str, Any] | None = None
        """Keywords of its first report, which the others share."""
        mark = _MARKS[rule.family]
        self.own_markers.append(mark.mark)
        self.keywords[mark.name] = mark

    def check(self) -> Check:
        """Return what is to be judged."""
        group = self.parent
        return Check(group.parent.home, group.manifest, group.piece, self.rule)

    def runtest(self) -> None:
        """Judge the rule, and let pytest know the outcome in its own ways."""
        try:
            outcome = self._judge()
        except Exception as error:  # a rule from elsewhere: pytest shows where it broke
            self._keep(broke_off(self.rule, self.parent.spec, error))
            raise
        try:
            self._tell(outcome)
        except CheckFailed as failure:
            outcome = failure.outcome
            raise
        finally:
            self._keep(outcome)
            self.user_properties += [
                _property("rule", outcome.rule),
                _property("family", outcome.family),
                _property("level", outcome.level),
                _property("outcome", outcome.result),
            ]

    def _tell(self, outcome: Outcome) -> None:
        if outcome.result == "failed":
            raise CheckFailed(outcome)
        if outcome.result == "skipped":
            raise pytest.skip.Exception(outcome.message, _use_item_location=True)
        if outcome.result == "waived":
            pytest.xfail(outcome.reason)
            # Only reached with --runxfail, which asks to see waived failures.
            raise CheckFailed(outcome)
        if outcome.result == "advised":
            self._advise(outcome)

    def _judge(self) -> Outcome:
        group = self.parent
        bench = bench_of(self.config)
        home = group.parent.home
        today = datetime.date.today()  # noqa: DTZ011 - a waiver ends on the user's own calendar
        if isinstance(self.rule, PieceRule):
            assert group.piece is not None, "piece rules are collected on pieces"
            case = bench.case(home, group.manifest, group.piece, self.rule)
            return judge_piece(self.rule, case, today)
        assert isinstance(self.rule, PortfolioRule), "rules are of one of the two kinds"
        whole = bench.portfolio_case(home, group.manifest, self.rule)
        return judge_portfolio(self.rule, whole, group.spec, today)

    def _advise(self, outcome: Outcome) -> None:
        text = f"{self.parent.name}: {outcome.rule}: {outcome.message}. {outcome.advice}"
        try:
            warnings.warn_explicit(
                DeliverableAdvice(text.strip()), None, str(self.path), self.parent.line
            )
        except DeliverableAdvice:
            raise CheckFailed(replace(outcome, result="failed")) from None

    def _keep(self, outcome: Outcome) -> None:
        """Keep what is told of the outcome at the end: all of it for a report, else what is found."""
        group = self.parent
        reports = group.parent.reports
        if outcome.result == "passed" and outcome.points is None and not reports:
            return
        self.payload = {
            "manifest": group.parent.shown,
            "title": group.manifest.portfolio.title,
            "id": group.name,
            "line": group.line,
            "place": [group.place, self.place],
            "check": check_record(outcome),
        }
        if reports and group.teller in {None, self.place}:
            # Where the proof sheet reads the pictures from: a node id does not tell it.
            home, piece = group.parent.home, group.piece
            self.payload["home"] = [str(home.root), str(home.folder)]
            measured = None if piece is None else bench_of(self.config).measured(home, piece.file)
            self.payload["piece"] = piece_record(piece, measured)
            group.teller = self.place

    def reportinfo(self) -> tuple[os.PathLike[str] | str, int, str]:
        """Point to the piece in the manifest."""
        return self.path, self.parent.line - 1, f"{self.parent.name}: {self.rule.name}"

    def repr_failure(
        self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None
    ) -> str | TerminalRepr:
        """Write a failure as a short text: measured and asked, what to do, where."""
        error = excinfo.value
        if not isinstance(error, CheckFailed):
            return super().repr_failure(excinfo, style)
        outcome = error.outcome
        where = f"{self.parent.parent.shown}:{self.parent.line}"
        lines = [outcome.message, outcome.advice, f"({where}, rule {outcome.rule})"]
        text = "".join(f"{line}\n" for line in lines if line)
        return ReprExceptionInfo(
            reprcrash=ReprFileLocation(str(self.path), self.parent.line, outcome.message),
            reprtraceback=ReprTraceback([ReprEntryNative([text])], None, style="native"),
        )


def checks_of(items: Iterable[pytest.Item]) -> Iterator[Check]:
    """Yield the checks among a session's items."""
    return (item.check() for item in items if isinstance(item, CheckItem))

"""For authors of rules: draw a picture, measure it, judge it, without a manifest or a run of pytest.

picture = save(tmp_path / "a.jpg", draw(120, 120))
assert judge(GridShape(), picture).result == "failed"
"""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable.bench import Bench, Check, home_at
from pytest_webdeliverable.judge import Outcome
from pytest_webdeliverable.judge import judge_piece as _judge_piece
from pytest_webdeliverable.judge import judge_portfolio as _judge_portfolio
from pytest_webdeliverable.manifest.builtin import BUILT_IN
from pytest_webdeliverable.manifest.kinds import WRONG
from pytest_webdeliverable.manifest.load import safe_id
from pytest_webdeliverable.manifest.model import Manifest, Piece, PieceEntry, Portfolio, Spec
from pytest_webdeliverable.manifest.specs import Specs, problems_of
from pytest_webdeliverable.manifest.tables import read_table
from pytest_webdeliverable.measure.image import measure as _measure
from pytest_webdeliverable.measure.specimen import draw, encode
from pytest_webdeliverable.rules import registry

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from PIL import Image

    from pytest_webdeliverable.measure.facts import Facet, Measurements
    from pytest_webdeliverable.rules.base import PieceRule, PortfolioRule, Rule

__all__ = ["Outcome", "draw", "encode", "judge", "judge_portfolio", "make_spec", "measure", "save"]


def save(
    path: Path, picture: Image.Image | None = None, kind: str = "JPEG", **options: Any
) -> Path:
    """Write a sound web copy, or one with the fault that Pillow's ``options`` make; return its path.

    ``quality=60`` makes a fault of quality, ``dpi=None`` leaves the density out.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(encode(draw() if picture is None else picture, kind, **options))
    return path


def measure(file: Path, *facets: Facet) -> Measurements:
    """Measure a picture; facts of file, header, color and metadata are always there."""
    return _measure(file.parent, file.parent, file.name, facets)


def make_spec(keys: Mapping[str, Any] | None = None, name: str = "trial") -> Spec:
    """Return a spec of the keys that a [spec.NAME] table would hold; what is absent is not checked.

    ``{"from": "screen"}`` derives from a built-in spec. Raises ValueError for what a manifest could
    not say.
    """
    rules = registry()
    tables = {**BUILT_IN, name: dict(keys or {})}
    named = [*tables[name].get("levels", ()), *tables[name].get("points", ())]
    known = {*rules, *named}
    if problems := problems_of(tables, known):
        raise ValueError("; ".join(problems))
    spec = Specs(tables, known).get(name)
    assert spec is not None, "problems_of() looked"
    return spec


def judge(
    rule: PieceRule,
    file: Path,
    spec: Spec | None = None,
    *,
    source: Path | None = None,
    today: datetime.date | None = None,
    **keys: Any,
) -> Outcome:
    """Measure a picture and judge one rule on it, as a run would.

    ``keys`` are those of a [[piece]] table, with ``_`` for ``-``; an ``original`` is relative to the
    picture's folder. With ``source``, a picture in the same folder, the picture is a copy of that one.
    Raises ValueError where the rule is off for this piece and spec, or a key is wrong.
    """
    spec = spec or make_spec()
    entry = _read(PieceEntry, {"file": file.name, **keys})
    piece = entry.as_piece(entry.id or safe_id(file.name), 1, spec)
    if source is not None:
        piece = replace(piece, copy_of="source")
    if not rule.applies(piece):
        raise ValueError(f'the rule "{rule.name}" is off for this piece and spec')
    pieces = [piece]
    if source is not None:
        pieces.append(Piece(id="source", file=source.name, line=1, spec=spec))
    manifest = _manifest(pieces, spec)
    home = home_at(file.parent, file.parent)
    bench = _bench(rule, Check(home, manifest, piece, rule))
    return _judge_piece(rule, bench.case(home, manifest, piece, rule), today or _today())


def judge_portfolio(
    rule: PortfolioRule,
    files: Sequence[Path],
    spec: Spec | None = None,
    *,
    today: datetime.date | None = None,
    **keys: Any,
) -> Outcome:
    """Measure pictures of one folder and judge a rule on all of them together, as a run would.

    ``keys`` are those of the [portfolio] table, with ``_`` for ``-``. Raises ValueError where the rule
    is off, or a key is wrong.
    """
    portfolio = _read(Portfolio, keys)
    if not rule.applies(portfolio):
        raise ValueError(f'the rule "{rule.name}" is off for this portfolio')
    spec = spec or make_spec()
    pieces = [
        Piece(id=f"piece-{number}", file=file.name, line=number, spec=spec)
        for number, file in enumerate(files, 1)
    ]
    manifest = _manifest(pieces, spec, portfolio)
    home = home_at(files[0].parent, files[0].parent)
    bench = _bench(rule, Check(home, manifest, None, rule))
    return _judge_portfolio(
        rule, bench.portfolio_case(home, manifest, rule), spec, today or _today()
    )


def _today() -> datetime.date:
    return datetime.date.today()  # noqa: DTZ011 - a waiver ends on the user's own calendar


def _bench(rule: Rule, check: Check) -> Bench:
    bench = Bench(rules={rule.name: rule}, workers=1, ahead=False)
    bench.plan([check])
    return bench


def _manifest(pieces: Sequence[Piece], spec: Spec, portfolio: Portfolio | None = None) -> Manifest:
    return Manifest(
        portfolio=portfolio or Portfolio(), portfolio_spec=spec, line=1, pieces=tuple(pieces)
    )


def _read(model: type[Any], keys: Mapping[str, Any]) -> Any:
    """Read the keys of a table as a manifest writes them; raises ValueError."""
    problems: list[str] = []
    table = {name.replace("_", "-"): value for name, value in keys.items()}
    read = read_table(
        model, table, (), lambda path, text: problems.append(f"{'.'.join(map(str, path))}: {text}")
    )
    if read is WRONG:
        raise ValueError("; ".join(problems))
    return read

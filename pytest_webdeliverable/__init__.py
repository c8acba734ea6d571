"""Check the web copies of posters, spreads and packaging against their spec, as pytest items.

The public names load on first use, so that a pytest run without a manifest pays for none of them.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from pytest_webdeliverable._version import __version__

if TYPE_CHECKING:
    from pytest_webdeliverable.advice import DeliverableAdvice
    from pytest_webdeliverable.manifest.model import Piece, Spec
    from pytest_webdeliverable.rules.base import (
        Case,
        PieceRule,
        PortfolioCase,
        PortfolioRule,
        Rule,
        Verdict,
        fails,
        holds,
    )

__all__ = [
    "Case",
    "DeliverableAdvice",
    "Piece",
    "PieceRule",
    "PortfolioCase",
    "PortfolioRule",
    "Rule",
    "Spec",
    "Verdict",
    "__version__",
    "fails",
    "holds",
]

_HOME = {
    "DeliverableAdvice": "advice",
    "Piece": "manifest.model",
    "Spec": "manifest.model",
    **dict.fromkeys(
        (
            "Case",
            "PieceRule",
            "PortfolioCase",
            "PortfolioRule",
            "Rule",
            "Verdict",
            "fails",
            "holds",
        ),
        "rules.base",
    ),
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)

"""The warning that carries advice: a finding that lets its test pass."""

from __future__ import annotations

import pytest


class DeliverableAdvice(pytest.PytestWarning):
    """A finding of a rule at level ``advise``; turn it into an error with ``-W error::...``."""

    __module__ = "pytest_webdeliverable"

"""Coverage-guided fuzzing of each parser of this project, with atheris; no part of the test run.

    python tests/hostile/fuzz_parsers.py TARGET [FOLDER ...] [libFuzzer's options]

TARGET is one of ``parser_targets.TARGETS``; FOLDER holds samples to start from, the first one takes what
is found. A finding is an exception other than the parser's own, or an input that takes more than five
seconds. ``python tests/hostile/fuzz_seeds.py FOLDER`` writes samples. DEVELOPERS.md says how to set it up.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import atheris

with atheris.instrument_imports(include=["pytest_webdeliverable"]):
    from parser_targets import TARGETS

if __name__ == "__main__":
    name = sys.argv.pop(1)
    atheris.Setup([*sys.argv, "-timeout=5", "-rss_limit_mb=512"], TARGETS[name])
    atheris.Fuzz()

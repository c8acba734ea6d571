"""The action's steps that are more than a line of shell: ``python -I steps install`` or ``check``.

Only the standard library is used. Python puts this folder, and nothing of the portfolio, on its path.
"""

from __future__ import annotations

import sys

import check
import install

if __name__ == "__main__":
    {"install": install.main, "check": check.main}[sys.argv[1]]()

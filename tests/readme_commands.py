"""Print one of the README's set-up commands, ``example`` or ``tests``, for ``.ci/run`` to run as written."""

from __future__ import annotations

import re
import sys
from pathlib import Path

README = Path(__file__).parents[1] / "README.md"


def command(name: str) -> str:
    """Return the command under the marker of this name."""
    text = README.read_text(encoding="utf-8")
    (found,) = re.findall(rf"<!-- command: {name} -->\n```bash\n(.*?)\n```", text, re.DOTALL)
    return str(found)


if __name__ == "__main__":
    print(command(sys.argv[1]))

"""Which environment variables other programs are started with.

Earlier steps of a job may have set any variable, and many make Python, pip or git run a file. So
programs get the few that they need to find their way, and no more; among those left out are the files
through which a step gives orders to the runner.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Mapping

SYSTEM: Final = frozenset(
    {
        *("PATH", "PATHEXT", "HOME", "USERPROFILE", "HOMEDRIVE", "HOMEPATH", "XDG_CONFIG_HOME"),
        *(
            "SYSTEMROOT",
            "SYSTEMDRIVE",
            "WINDIR",
            "COMSPEC",
            "APPDATA",
            "LOCALAPPDATA",
            "PROGRAMDATA",
        ),
        *("TEMP", "TMP", "TMPDIR", "LANG", "LC_ALL", "LC_CTYPE", "TZ", "NUMBER_OF_PROCESSORS"),
    }
)
"""Where the system's own folders are, and the language and time of messages."""

PACKAGES: Final = frozenset(
    {
        *("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS", "PIP_CERT", "PIP_PROXY"),
        *("PIP_DEFAULT_TIMEOUT", "PIP_TRUSTED_HOST", "SSL_CERT_FILE", "SSL_CERT_DIR"),
        *("REQUESTS_CA_BUNDLE", "HTTP_PROXY", "HTTPS_PROXY", "NO_PROXY"),
        *("http_proxy", "https_proxy", "no_proxy"),
    }
)
"""Where packages come from; what they may hold is locked by their hashes."""

ORDERS: Final = (
    "GITHUB_ENV",
    "GITHUB_PATH",
    "GITHUB_OUTPUT",
    "GITHUB_STATE",
    "GITHUB_STEP_SUMMARY",
)
"""Files through which a step gives orders to the runner."""


def only(environment: Mapping[str, str], names: frozenset[str]) -> dict[str, str]:
    """Return the variables of these names."""
    return {name: value for name, value in environment.items() if name in names}


def without_orders(environment: Mapping[str, str]) -> dict[str, str]:
    """Return all variables but those that would let code of the portfolio speak for the action."""
    return {
        name: value
        for name, value in environment.items()
        if name not in ORDERS and not name.startswith("ACTIONS_")
    }

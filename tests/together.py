"""Which tests stay together where they run on several cores, and which begin.

Tests of one file share what the file sets up; those in the browser share one server and one browser. Groups are handed out
in the order of the collection, so what takes longest goes first: nobody waits at the end for one core.
"""

from __future__ import annotations

from pathlib import PurePosixPath

from xdist.scheduler import LoadScopeScheduling  # type: ignore[import-untyped]

__all__ = ["BROWSER", "Together", "group_of"]

BROWSER = "browser"
SHARED = dict.fromkeys(("test_docs", "test_diagnosis", "test_cli", "test_cli_cases"), "published")
"""Files that score the published cases, and what else asks as the command does: whoever comes second finds them diagnosed."""


def group_of(nodeid: str) -> str:
    """Return the group of a test: its file's name, or what it shares with other files."""
    path = PurePosixPath(nodeid.split("::", maxsplit=1)[0])
    return BROWSER if path.parent.name == BROWSER else SHARED.get(path.stem, path.stem)


class Together(LoadScopeScheduling):  # type: ignore[misc]  # xdist has no types
    """Hands out whole groups.

    xdist's own marks for groups do nothing with pytest 9.2: every test went alone to whoever was free, and each process set up
    everything.
    """

    def _split_scope(self, nodeid: str) -> str:
        return group_of(nodeid)
